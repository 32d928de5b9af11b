"""No text of a rider is a template, a markup or a key: what is said of a build holds it as it was written."""

from __future__ import annotations

import io
from dataclasses import asdict
from html import escape, unescape

import pytest
from pypdf import PdfReader
from support.own_texts import HOSTILE, UNPRINTABLE, accepted, paths, same_but_for, strings, word, written

from ridesim.answers import compare, contract, everything, solve, tire_swap, tune_gain
from ridesim.answers.words import sentence
from ridesim.bike import make_bike
from ridesim.errors import InputError
from ridesim.printing import print_answers, print_comparison
from ridesim.sheet import as_html, as_pdf, sheet

FREE = {"name", "surface.name", "tune.*", "tune.stock.note"}


def solved(build, **changes):
    return solve(make_bike(build, **changes))


def other(build):
    """The same bike on other sprockets, another tire and the tune that is there."""
    return solved(build, front=16, rear_tire="130/80-18", tune=next(iter(build.record.tune)))


def test_the_schema_knows_every_place_of_a_text():
    found = set(paths())
    assert FREE | {"tires.rear.size", "final_drive.chain", "limits.rear_tires[]", "tune.stock.points_are"} <= found
    assert set(accepted(HOSTILE[0])) >= FREE


@pytest.mark.parametrize("hostile", HOSTILE)
def test_answers_hold_it_as_it_was_written(hostile):
    def told(build):
        one, two = solved(build), other(build)
        answers = [*everything(one), tire_swap(one, two), tune_gain(one, two)]
        said = [sentence(a, system) for a in answers for system in ("metric", "us")]
        more = [
            [a.assumptions, a.notes, [str(s) for s in a.steps], [t.title for t in a.tables], [list(t.rows) for t in a.tables]]
            for a in answers
        ]
        return [said, more, contract(one)]

    assert same_but_for(told, hostile) > 10


@pytest.mark.parametrize("hostile", HOSTILE)
def test_the_terminal_prints_it_as_it_was_written(hostile, capsys):
    def told(build):
        one, two = solved(build), other(build)
        print_answers(everything(one), one, "metric", working=True)
        print_comparison(one, two, "us", working=True)
        return "".join(capsys.readouterr().out.split())  # a long title is broken over lines

    assert same_but_for(told, hostile) > 3


@pytest.mark.parametrize("hostile", HOSTILE)
def test_the_sheet_holds_it_as_it_was_written(hostile):
    def page(build):
        return sheet(solved(build), other(build))

    assert same_but_for(lambda build: asdict(page(build)), hostile) > 3
    assert same_but_for(lambda build: as_html(page(build)), hostile, escape) > 3

    def printed(build):
        text = PdfReader(io.BytesIO(as_pdf(page(build)))).pages[0].extract_text()
        return "".join(text.split())

    assert same_but_for(printed, hostile) > 3


@pytest.mark.parametrize("path", dict.fromkeys(paths()))
@pytest.mark.parametrize("text", [*UNPRINTABLE, "X" * 10_000, *HOSTILE])
def test_what_is_refused_is_refused_in_few_printable_words(path, text):
    try:
        build = written({path: text})
        make_bike(build)
    except InputError as error:
        said = str(error)
        assert said.replace("\n", "").isprintable() and "Traceback" not in said
        assert all(line.count("X") <= 300 for line in said.splitlines())
    else:
        assert text in HOSTILE
