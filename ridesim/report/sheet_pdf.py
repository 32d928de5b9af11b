"""The sheet as a PDF of two pages, and its one drawing."""

from __future__ import annotations

import io
from collections.abc import Iterable
from html import escape
from typing import Any

import numpy as np

from ridesim.report.sheet import MOST_NOTES, DecisionSheet, Paper, SheetLine, Trace

INK, GRAY, LINE = "#1f2933", "#8a94a0", "#cbd2d9"
MARGIN, PADDING = 40.0, 6.0  # the second is the library's, around what stands on a page


def drawing(page: DecisionSheet, width: float, height: float) -> Any:
    """Wheel force over road speed, gear by gear: now dashed, planned solid.

    Parameters
    ----------
    page : DecisionSheet
        Its traces, in the units printed.
    width, height : float
        Of the drawing. [pt]

    Returns
    -------
    Drawing
        As reportlab sets or renders it.
    """
    from reportlab.graphics.shapes import Drawing, Line, String
    from reportlab.lib.colors import HexColor

    ink, pale = HexColor(INK), HexColor(LINE)
    left, bottom = 46.0, 34.0
    plot_w, plot_h = width - left - 10, height - bottom - 26
    top_v = _round_up(max(max(t.speed) for t in page.traces))
    top_f = _round_up(max(max(t.force) for t in page.traces))
    art = Drawing(width, height)
    for n in range(6):
        x, y = left + plot_w * n / 5, bottom + plot_h * n / 5
        art.add(Line(left, y, left + plot_w, y, strokeColor=ink if n == 0 else pale, strokeWidth=0.6))
        art.add(String(x, bottom - 12, f"{top_v * n / 5:.0f}", fontSize=8, textAnchor="middle", fillColor=ink))
        art.add(String(left - 5, y - 3, f"{top_f * n / 5:.0f}", fontSize=8, textAnchor="end", fillColor=ink))
    two = any(t.planned for t in page.traces)
    labels = [
        (left + plot_w / 2, 8, f"Road speed [{page.speed_unit}]", "middle"),
        (left, height - 12, f"Force at the rear wheel, by gear [{page.force_unit}]", "start"),
        *([(left + plot_w, height - 12, "gray, dashed: now   black: planned", "end")] if two else []),
    ]
    for x, y, words, anchor in labels:
        art.add(String(x, y, words, fontSize=8.5, textAnchor=anchor, fillColor=ink))
    for trace in page.traces:
        xs = [left + plot_w * v / top_v for v in trace.speed]
        ys = [bottom + plot_h * f / top_f for f in trace.force]
        _stroke(art, trace, xs, ys, faded=two and not trace.planned)
    return art


def _stroke(art: Any, trace: Trace, xs: list[float], ys: list[float], *, faded: bool) -> None:
    """One curve, with the number of its gear where it begins unless it is the one that fades."""
    from reportlab.graphics.shapes import PolyLine, String
    from reportlab.lib.colors import HexColor

    points = [c for both in zip(xs, ys, strict=True) for c in both]
    line = PolyLine(points, strokeColor=HexColor(GRAY if faded else INK), strokeWidth=0.9 if faded else 1.5)
    if faded:
        line.strokeDashArray = [3, 2]
    art.add(line)
    if not faded:
        art.add(String(xs[0] - 2, ys[0] - 9, str(trace.gear), fontSize=8.5, textAnchor="end", fillColor=HexColor(INK)))


def _round_up(value: float) -> float:
    """The next round number, for the end of an axis.

    >>> _round_up(1917.7), _round_up(145.8)
    (2000.0, 150.0)
    """
    step = 10.0 ** np.floor(np.log10(value)) / 2.0
    return float(step * np.ceil(value / step))


def as_pdf(page: DecisionSheet, paper: Paper = "A4") -> bytes:
    """The sheet as a PDF of two pages; what is too long for one is set smaller. The same sheet makes the same bytes.

    Parameters
    ----------
    page : DecisionSheet
        What stands on it.
    paper : str
        "A4" or "letter".
    """
    from reportlab.lib.pagesizes import A4, letter
    from reportlab.platypus import KeepInFrame, PageBreak, SimpleDocTemplate

    size = A4 if paper == "A4" else letter
    width, height = size[0] - 2 * (MARGIN + PADDING), size[1] - 2 * (MARGIN + PADDING)
    out = io.BytesIO()
    sides = dict.fromkeys(("leftMargin", "rightMargin", "topMargin", "bottomMargin"), MARGIN)
    title = _plain(f"{page.title}: {page.now}")
    document = SimpleDocTemplate(out, pagesize=size, title=title, author="ridesim", invariant=True, **sides)
    pages = [_first(page, width), _rest(page, width)]
    first, rest = (KeepInFrame(width, height, story, mode="shrink") for story in pages)
    document.build([first, PageBreak(), rest])
    return out.getvalue()


def _style(size: float, **more: Any) -> Any:
    from reportlab.lib.styles import ParagraphStyle

    return ParagraphStyle(f"of {size}", **{"fontName": "Helvetica", "fontSize": size, "leading": 1.3 * size} | more)


def _section(title: str, texts: Iterable[str], size: float, mark: str = "•") -> list[Any]:
    """A heading with its lines, which hang behind their mark; nothing without a line."""
    from reportlab.platypus import Paragraph

    hang = 1.1 * size if mark == "•" else 1.9 * size
    style = _style(size, leftIndent=hang, bulletIndent=0, spaceAfter=0.15 * size)
    lines = [Paragraph(_printable(text), style, bulletText=mark) for text in texts]
    head = _style(1.12 * size, fontName="Helvetica-Bold", spaceBefore=0.8 * size, spaceAfter=0.2 * size)
    return [Paragraph(title, head), *lines] if lines else []


def _first(page: DecisionSheet, width: float) -> list[Any]:
    """The verdict, what to order, five figures and one chart."""
    from reportlab.platypus import Paragraph, Spacer

    names = [("Now", page.now), *([("Planned", page.planned)] if page.planned else [])]
    return [
        Paragraph(_printable(f"{page.bike}, {page.made_on}"), _style(9, textColor=GRAY)),
        Paragraph(_printable(page.head), _style(18, fontName="Helvetica-Bold", spaceAfter=4)),
        Paragraph(_printable(page.says), _style(11, spaceAfter=6)),
        *(Paragraph(f"<b>{which}</b> {_printable(name)}", _style(9)) for which, name in names),
        *_section("Why", page.why, 10),
        *_section("To order", page.order, 11, "[  ]"),
        Spacer(1, 10),
        _cells(page, page.figures, width, 10),
        Spacer(1, 10),
        drawing(page, width, 240),
        *_section("Before ordering", page.checks, 9),
    ]


def _rest(page: DecisionSheet, width: float) -> list[Any]:
    """Everything else."""
    from reportlab.platypus import Spacer

    return [
        *_section("What differs", page.differs, 8),
        *_section("In words", page.sentences, 8),
        Spacer(1, 6),
        _cells(page, page.lines, width, 7.5),
        *_section("Note", page.notes[:MOST_NOTES], 7),
        *_section("Take care", page.cautions, 7),
        *_section("Assumed", page.assumptions, 7),
    ]


def _cells(page: DecisionSheet, lines: Iterable[SheetLine], width: float, size: float) -> Any:
    """Figures as a table."""
    from reportlab.lib.colors import HexColor
    from reportlab.platypus import Table

    two = bool(page.planned)
    rows = [(x.label, x.now, *((x.planned, x.change, x.verdict) if two else ())) for x in lines]
    heads = ("", "Now", "Planned", "Change", "") if two else ("", "")
    shares = (0.31, 0.16, 0.16, 0.17, 0.20) if two else (0.6, 0.4)
    cells = [[_plain(cell) for cell in row] for row in (heads, *rows)]
    table = Table(cells, colWidths=[width * share for share in shares], rowHeights=1.55 * size)
    table.setStyle(
        [
            ("FONT", (0, 0), (-1, -1), "Helvetica", size),
            ("FONT", (0, 0), (-1, 0), "Helvetica-Bold", size),
            ("ALIGN", (1, 0), (-1, -1), "RIGHT"),
            ("VALIGN", (0, 0), (-1, -1), "MIDDLE"),
            ("LINEBELOW", (0, 0), (-1, -1), 0.25, HexColor(LINE)),
            ("TOPPADDING", (0, 0), (-1, -1), 1),
            ("BOTTOMPADDING", (0, 0), (-1, -1), 1),
            ("LEFTPADDING", (0, 0), (0, -1), 0),
        ]
    )
    return table


def _plain(text: str) -> str:
    """Text in the characters of the PDF's built-in fonts."""
    swaps = {"−": "–", "—": "-", "·": "·", "→": "->"}
    return "".join(swaps.get(c, c) for c in text).encode("cp1252", "replace").decode("cp1252")


def _printable(text: str) -> str:
    return escape(_plain(text), quote=False)
