"""No text of a rider is a template, a markup or a key: what is said of a build holds it as it was written."""

from __future__ import annotations

import io
from dataclasses import asdict
from functools import cache
from html import escape

import pytest
from pypdf import PdfReader
from support.commands import answered
from support.own_texts import HOSTILE, UNPRINTABLE, accepted, paths, refusals, same_but_for, word, written

from ridesim import reference
from ridesim.answers import contract, everything, solve, tire_swap, tune_gain
from ridesim.answers.text import sentence
from ridesim.bike import make_bike
from ridesim.buildfile.io import parse
from ridesim.errors import InputError, did_you_mean
from ridesim.report.sheet import as_html, sheet
from ridesim.report.sheet_pdf import as_pdf
from ridesim.report.terminal import print_answers, print_comparison

PAIRED = tuple(
    HOSTILE[one] + HOSTILE[other] for one, other in ((0, 4), (1, 5), (2, 3))
)  # braces that close, and none that do
FREE = {"name", "surface.name", "tune.*", "tune.stock.note"}


@cache
def two_of(text):
    """The bike of a build, and the same bike on other sprockets, another tire and the tune that is there."""
    build = parse(text)
    another = {"front": 16, "rear_tire": "130/90-17", "tune": next(iter(build.record.tune))}
    return solve(make_bike(build)), solve(make_bike(build, **another))


def test_the_schema_knows_every_place_of_a_text():
    found = set(paths())
    assert FREE | {"tires.rear.size", "final_drive.chain", "limits.rear_tires[]", "tune.stock.points_are"} <= found
    assert all(set(accepted(text)) >= FREE for text in (*HOSTILE, *PAIRED))


@pytest.mark.parametrize("hostile", PAIRED)
def test_answers_hold_it_as_it_was_written(hostile):
    def told(build):
        one, two = two_of(build.text)
        answers = [*everything(one), tire_swap(one, two), tune_gain(one, two)]
        said = [sentence(a, system) for a in answers for system in ("metric", "us")]
        more = [[a.assumptions, a.notes, list(map(str, a.steps))] for a in answers]
        return [said, more, [[t.title, list(t.rows)] for a in answers for t in a.tables], contract(one)]

    assert same_but_for(told, hostile) > 10


@pytest.mark.parametrize("hostile", PAIRED[:1])  # with the marks of a terminal
def test_the_terminal_prints_it_as_it_was_written(hostile, capsys):
    def told(build):
        one, two = two_of(build.text)
        print_answers(everything(one), one, "metric", working=True)
        print_comparison(one, two, "us", working=True)
        return "".join(capsys.readouterr().out.split())  # a long title is broken over lines

    assert same_but_for(told, hostile) > 3


@pytest.mark.parametrize("hostile", PAIRED[1:2])  # with those of a page
def test_the_sheet_holds_it_as_it_was_written(hostile):
    page = cache(lambda text: sheet(*two_of(text)))
    assert same_but_for(lambda build: asdict(page(build.text)), hostile) > 3
    assert same_but_for(lambda build: as_html(page(build.text)), hostile, escape) > 3

    def printed(build):
        text = "".join(one.extract_text() for one in PdfReader(io.BytesIO(as_pdf(page(build.text)))).pages)
        return "".join(text.split())

    assert same_but_for(printed, hostile) > 3


@pytest.mark.parametrize("text", [*UNPRINTABLE, "X" * 10_000, *HOSTILE])
def test_what_is_refused_is_refused_in_few_printable_words(text):
    told = refusals(text)
    assert text in HOSTILE or set(told) == set(paths())
    for said in (str(one) for errors in told.values() for one in errors):
        assert said.replace("\n", "").isprintable() and "Traceback" not in said
        assert all(line.count("X") <= 300 for line in said.splitlines())


def test_a_message_that_is_of_the_riders_words_alone_has_300_characters_of_them():
    text = "X" * 10_000
    for known in ([text], ["X" * 40] * 24):
        said = str(InputError(text, text, "is none", did_you_mean("needle", known)))
        assert 200 < said.count("X") <= 300
    place = "folder/" * 25 + "bike.toml: rear"
    assert str(InputError(place, 900, "is too many", "Count again.")).startswith(f"{place} = 900: ")


@pytest.mark.parametrize("hostile", PAIRED[:1])
def test_a_choice_holds_it_as_it_was_written(hostile, capsys, tmp_path):
    def told(build):
        file, tune = tmp_path / "bike.toml", next(iter(build.record.tune))
        file.write_text(build.text, encoding="utf-8")
        out = answered(capsys, "choose", file, "--front", "15:16", "--rear", "44:45", "--tune", tune, "--tune", tune)
        return "".join(out.split())

    assert same_but_for(told, hostile)


@pytest.mark.parametrize("hostile", PAIRED[1:])
def test_a_garage_keeps_it_as_it_was_written(hostile, capsys, tmp_path):
    build = written(accepted(hostile))
    file, kept = tmp_path / "bike.toml", ("--file", tmp_path / "garage.sqlite3")
    file.write_text(build.text, encoding="utf-8")
    air = ("--altitude", "250 m", "--temperature", "18 degC", "--humidity", "55 %")
    parts = ("--main-jet", "120", "--needle", hostile, "--note", hostile)
    for words in (
        ("garage", "save", file, "--note", hostile),
        ("garage", "list"),
        ("garage", "history", hostile),
        ("garage", "show", hostile),
        ("trial", "list", hostile),
        ("trial", "trend", hostile),
        ("trial", "next", hostile),
        ("trial", "undo", hostile),
    ):
        out = answered(capsys, *words, *kept)
        if words[1] not in ("trend", "next", "undo"):  # which speak of jets, air and openings alone
            assert hostile in (out if words[1] != "show" else parse(out).name) or hostile in "".join(out.split())
        if words[1] == "show":
            answered(capsys, "trial", "add", hostile, *parts, *air, *kept)


@pytest.mark.parametrize("hostile", HOSTILE[3:])
def test_a_log_may_have_any_name_and_any_heading(hostile, capsys, tmp_path):
    log = (reference.DATA / "demo" / "logs" / "coast-down.csv").read_text(encoding="utf-8")
    said = []
    for text in (hostile, word(hostile)):
        name = text.replace("/", "|")
        file = tmp_path / f"{name}.csv"
        cells = [line + (f',"{text}"' if n == 1 else ",1" if n > 1 else "") for n, line in enumerate(log.splitlines())]
        file.write_text("\n".join(cells), encoding="utf-8")
        out = answered(capsys, "log", "show", file) + answered(
            capsys, "log", "coastdown", file, "--build", "coast-single"
        )
        out = "".join(out.split())
        for shown in (name, text, text[:40]):  # a heading is cut short where columns are listed
            out = out.replace(shown, word(shown))
        said.append(out)
    assert said[0] == said[1]
