"""The printed sheet: the decision on one page, the rest on a second, both formats, the same figures as the answers."""

from __future__ import annotations

import io

import pytest
from pypdf import PdfReader
from support.commands import answered, refused

from ridesim import reference
from ridesim.answers import contract, everything, solve
from ridesim.bike import make_bike
from ridesim.buildfile.io import parse, read
from ridesim.report.sheet import DECIDES, FIVE, as_html, decision, sheet
from ridesim.report.sheet_pdf import as_pdf
from ridesim.selection import verdict_words as words

DEMO = reference.DATA / "demo"


@pytest.fixture(scope="module")
def two():
    return tuple(solve(make_bike(read(DEMO / f"{name}.toml"))) for name in ("coast-single", "plateau-single"))


@pytest.fixture(scope="module")
def decided():
    now = solve(make_bike(read(DEMO / "coast-single.toml")))
    found, planned = decision(now)
    return now, planned, found


@pytest.mark.parametrize(("paper", "system"), [("A4", "metric"), ("letter", "us")])
def test_the_decision_stands_on_the_first_page_and_the_rest_on_a_second(decided, paper, system):
    now, planned, found = decided
    page = sheet(now, planned, system=system, decided=found)
    reader = PdfReader(io.BytesIO(as_pdf(page, paper)))
    assert len(reader.pages) == 2
    width = float(reader.pages[0].mediabox.width)
    assert width == pytest.approx(595.28 if paper == "A4" else 612.0, abs=0.1)
    first, rest = (" ".join(one.extract_text().split()) for one in reader.pages)
    assert words.sentence(found, system).split(": ")[0] in first and "To order" in first and "Before ordering" in first
    assert len(page.figures) == 5 and all(line.label in first for line in page.figures)
    assert all(text in first for text in page.order) and ("mph" in first) == (system == "us")
    assert "Take care" not in first and "Take care" in rest and "Assumed" in rest


def test_a_planned_pair_is_held_to_the_limits(decided):
    now, planned, found = decided
    assert sheet(now, planned).head == "Order a 39-tooth rear sprocket" == words.sentence(found).split(": ")[0]
    short = solve(make_bike(now.bike.build, rear=44))
    page = sheet(now, short)
    assert page.head.startswith("14/44 does not meet every limit") and page.says.startswith(
        "It would with engine speed"
    )
    assert page.order[:3] == ("rear sprocket, 44 teeth, 520", "chain, 104 links, 520", "master link, 520")


def test_two_bikes_have_no_verdict_in_common(two):
    page = sheet(*two)
    assert page.head == "Planned" and not page.order and not page.why


def test_both_formats_show_the_figures_of_the_answers(two):
    page = sheet(*two)
    rpm = f"{contract(two[1])['cruise'][-1]['engine_rpm']:,.0f} rev/min"
    assert rpm in as_html(page) and "planned" in as_html(page) and "planned" not in as_html(sheet(two[0]))
    pdf = as_pdf(page)
    assert rpm in PdfReader(io.BytesIO(pdf)).pages[1].extract_text()
    assert as_pdf(sheet(*two)) == pdf  # the same decision makes the same bytes


def test_every_figure_of_the_sheet_is_one_of_an_answer():
    bikes = [solve(make_bike(read(file))) for file in DEMO.glob("*.toml")]
    known = {(answer.question, key) for bike in bikes for answer in everything(bike) for key in answer.figures}
    assert {(question, key) for question, keys in DECIDES.items() for key in keys} <= known
    assert {*FIVE} <= {key for keys in DECIDES.values() for key in keys}


def test_text_from_a_build_cannot_become_markup():
    text = (DEMO / "coast-single.toml").read_text(encoding="utf-8")
    name = "<script>alert(1)</script> & <b>"
    solved = solve(make_bike(parse(text.replace("Coast single (invented)", name))))
    page = sheet(solved)
    assert "<script>" not in as_html(page) and "&lt;script&gt;" in as_html(page)
    assert page.file_name.startswith("script-alert-1-script-b-20")
    assert "<script>alert(1)</script>" in PdfReader(io.BytesIO(as_pdf(page))).pages[0].extract_text()


def test_the_command_writes_by_ending_and_refuses_others(tmp_path, capsys):
    for name in ("a.pdf", "a.html"):
        answered(capsys, "sheet", "coast-single", "--front", "16", "-o", tmp_path / name)
        assert (tmp_path / name).stat().st_size > 5000
    told = answered(capsys, "sheet", "coast-single", "-o", tmp_path)
    assert told == f"{next(tmp_path.glob('coast-single-invented-20??-??-??.pdf'))}\n"
    for target in (tmp_path / "a.docx", tmp_path / "no" / "a.pdf"):
        assert "--output" in refused(capsys, "sheet", "coast-single", "--front", "16", "-o", target)
