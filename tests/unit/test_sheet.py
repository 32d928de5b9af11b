"""The printed sheet: one page, both formats, the same figures as the answers."""

from __future__ import annotations

import io

import pytest
from pypdf import PdfReader

from ridesim import reference
from ridesim.answers import contract, solve
from ridesim.bike import make_bike
from ridesim.buildfile.io import parse, read
from ridesim.cli.main import main
from ridesim.report.sheet import as_html, as_pdf, sheet, write

DEMO = reference.DATA / "demo"


@pytest.fixture(scope="module")
def two():
    return tuple(solve(make_bike(read(DEMO / f"{name}.toml"))) for name in ("coast-single", "plateau-single"))


@pytest.mark.parametrize("paper", ["A4", "letter"])
@pytest.mark.parametrize("system", ["metric", "us"])
def test_it_is_one_page_of_the_paper_asked_for(two, paper, system):
    reader = PdfReader(io.BytesIO(as_pdf(sheet(*two, system=system), paper)))
    assert len(reader.pages) == 1
    width = float(reader.pages[0].mediabox.width)
    assert width == pytest.approx(595.28 if paper == "A4" else 612.0, abs=0.1)
    text = reader.pages[0].extract_text()
    assert "Take care" in text and "Assumed" in text and ("mph" in text) == (system == "us")


def test_both_formats_show_the_figures_of_the_answers(two):
    page = sheet(*two)
    rpm = f"{contract(two[1])['cruise'][-1]['engine_rpm']:,.0f} rev/min"
    assert rpm in as_html(page)
    assert rpm in PdfReader(io.BytesIO(as_pdf(page))).pages[0].extract_text()


def test_one_set_up_alone_has_no_second_column(two):
    assert "planned" not in as_html(sheet(two[0])) and "planned" in as_html(sheet(*two))


def test_text_from_a_build_cannot_become_markup():
    text = (DEMO / "coast-single.toml").read_text(encoding="utf-8")
    name = "<script>alert(1)</script> & <b>"
    solved = solve(make_bike(parse(text.replace("Coast single (invented)", name))))
    page = sheet(solved)
    assert "<script>" not in as_html(page) and "&lt;script&gt;" in as_html(page)
    assert "<script>alert(1)</script>" in PdfReader(io.BytesIO(as_pdf(page))).pages[0].extract_text()


def test_the_same_decision_makes_the_same_bytes(two):
    assert as_pdf(sheet(*two)) == as_pdf(sheet(*two))


def test_a_link_goes_on_pointing_to_the_sheet(two, tmp_path):
    (tmp_path / "link.html").symlink_to(tmp_path / "real.html")
    write(sheet(two[0]), tmp_path / "link.html")
    assert (tmp_path / "link.html").is_symlink() and (tmp_path / "real.html").stat().st_size > 5000
    assert {one.name for one in tmp_path.iterdir()} == {"link.html", "real.html", ".real.html.lock"}


def test_the_command_writes_by_ending_and_refuses_others(tmp_path, capsys):
    for name in ("a.pdf", "a.html"):
        with pytest.raises(SystemExit) as done:
            main(["sheet", str(DEMO / "coast-single.toml"), "--front", "16", "-o", str(tmp_path / name)])
        assert done.value.code == 0 and (tmp_path / name).stat().st_size > 5000
    capsys.readouterr()
    for target in (tmp_path / "a.docx", tmp_path / "no" / "a.pdf"):
        with pytest.raises(SystemExit) as done:
            main(["sheet", str(DEMO / "coast-single.toml"), "-o", str(target)])
        out = capsys.readouterr()
        assert done.value.code == 2 and out.out == "" and "--output" in out.err
