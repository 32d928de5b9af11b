"""The decision on one printed page: what it is now, what is planned, every figure's change, what to order, take care.

The same content becomes HTML (for the browser and its print) and PDF.
"""

from __future__ import annotations

import io
from collections.abc import Iterable
from dataclasses import dataclass
from html import escape
from pathlib import Path
from typing import Any, Literal

import numpy as np

from ridesim.answers import Answer, Change, Comparison, Solved, compare
from ridesim.answers.text import change_words, figure_words, sentence, verdict
from ridesim.errors import InputError
from ridesim.files import save
from ridesim.units import shown_in

Paper = Literal["A4", "letter"]
# the figures that decide, by question and key; the full answers stand on the other pages
DECIDES = {
    "Speed in each gear": ("share",),
    "What does cruising take?": (
        "engine_speed",
        "power_needed",
        "power_in_hand",
        "grade_held",
        "headwind_held",
        "fuel",
        "range",
    ),
    "What does the engine give?": ("power", "torque", "wheel_power"),
    "How hard does it pull?": ("first_force", "roll_on"),
    "How steep a hill does it climb?": ("grade_1",),
    "How easily does the front come up?": ("ratio", "shift"),
    "How quickly does it get going?": ("time_0", "time_1", "distance_time", "top"),
    "What do the tires give and carry?": ("rollout", "indicated", "speedometer_within"),
    "Does the chain fit?": ("links", "shift", "will_do", "pull"),
}
MOST_NOTES = 6


@dataclass(frozen=True, kw_only=True)
class SheetLine:
    """One figure of the sheet, in words."""

    label: str
    now: str
    planned: str
    change: str
    verdict: str


@dataclass(frozen=True, kw_only=True)
class Trace:
    """One curve of the drawing: wheel force over road speed, in the units printed."""

    gear: int
    planned: bool
    speed: tuple[float, ...]
    force: tuple[float, ...]


@dataclass(frozen=True, kw_only=True)
class DecisionSheet:
    """What stands on the page, in words, ready to be set."""

    title: str
    now: str
    planned: str
    differs: tuple[str, ...]
    sentences: tuple[str, ...]
    lines: tuple[SheetLine, ...]
    traces: tuple[Trace, ...]
    speed_unit: str
    force_unit: str
    notes: tuple[str, ...]
    assumptions: tuple[str, ...]
    cautions: tuple[str, ...]


def sheet(now: Solved, planned: Solved | None = None, *, system: str = "metric") -> DecisionSheet:
    """The content of the page for one set-up, or for two side by side."""
    other = now if planned is None else planned
    both = compare(now, other)
    answers = [*both.swaps, *(pair.planned for pair in both.pairs)]
    traces, speed_unit, force_unit = _traces(now, planned, system)
    return DecisionSheet(
        title="The decision" if planned is not None else "The set-up",
        now=both.now_name,
        planned=both.planned_name if planned is not None else "",
        differs=both.differs,
        sentences=tuple(sentence(answer, system) for answer in answers),
        lines=tuple(_lines(both, system)),
        traces=traces,
        speed_unit=speed_unit,
        force_unit=force_unit,
        notes=_unique(answer.notes for answer in answers),
        assumptions=_unique([both.assumptions, *(answer.assumptions for answer in answers)]),
        cautions=_unique(answer.cautions for answer in answers),
    )


def _unique(groups: Iterable[tuple[str, ...]]) -> tuple[str, ...]:
    return tuple(dict.fromkeys(text for group in groups for text in group))


def _lines(both: Comparison, system: str) -> Iterable[SheetLine]:
    for pair in both.pairs:
        changes: dict[str, Change] = {change.now.key: change for change in pair.changes}
        for key in DECIDES.get(pair.question, ()):
            if key in changes:
                change = changes[key]
                yield SheetLine(
                    label=change.planned.label,
                    now=figure_words(change.now, system),
                    planned=figure_words(change.planned, system),
                    change=change_words(change, system),
                    verdict=verdict(change, system),
                )


def _traces(now: Solved, planned: Solved | None, system: str) -> tuple[tuple[Trace, ...], str, str]:
    from ridesim.answers import pull

    traces = []
    units = ("", "")
    for is_planned, solved in ((False, now), (True, planned)):
        if solved is None:
            continue
        answer: Answer = pull(solved)
        for gear, (v, f) in enumerate(zip(answer.series["speed_m_s"], answer.series["force_n"], strict=True), start=1):
            speed, speed_unit, _ = shown_in(np.asarray(v)[::6], "speed", system)
            force, force_unit, _ = shown_in(np.asarray(f)[::6], "force", system)
            units = (speed_unit, force_unit)
            traces.append(
                Trace(gear=gear, planned=is_planned, speed=tuple(map(float, speed)), force=tuple(map(float, force)))
            )
    return tuple(traces), *units


def drawing(page: DecisionSheet, width: float, height: float) -> Any:
    """Wheel force over road speed, gear by gear: now dashed, planned solid."""
    from reportlab.graphics.shapes import Drawing, PolyLine, String
    from reportlab.graphics.shapes import Line as Stroke
    from reportlab.lib.colors import HexColor

    ink, gray = HexColor("#1f2933"), HexColor("#8a94a0")
    left, bottom = 42.0, 30.0
    plot_w, plot_h = width - left - 8, height - bottom - 10
    top_v = _round_up(max(max(t.speed) for t in page.traces))
    top_f = _round_up(max(max(t.force) for t in page.traces))
    art = Drawing(width, height)
    art.add(Stroke(left, bottom, left + plot_w, bottom, strokeColor=ink, strokeWidth=0.7))
    art.add(Stroke(left, bottom, left, bottom + plot_h, strokeColor=ink, strokeWidth=0.7))
    for n in range(6):
        x, y = left + plot_w * n / 5, bottom + plot_h * n / 5
        art.add(String(x, bottom - 11, f"{top_v * n / 5:.0f}", fontSize=7, textAnchor="middle", fillColor=ink))
        art.add(String(left - 4, y - 2, f"{top_f * n / 5:.0f}", fontSize=7, textAnchor="end", fillColor=ink))
    art.add(
        String(left + plot_w / 2, 4, f"road speed [{page.speed_unit}]", fontSize=7, textAnchor="middle", fillColor=ink)
    )
    art.add(String(left + 4, height - 8, f"wheel force [{page.force_unit}]", fontSize=7, fillColor=ink))
    two = any(t.planned for t in page.traces)
    for trace in page.traces:
        points = [
            c
            for v, f in zip(trace.speed, trace.force, strict=True)
            for c in (left + plot_w * v / top_v, bottom + plot_h * f / top_f)
        ]
        now_of_two = two and not trace.planned
        line = PolyLine(points, strokeColor=gray if now_of_two else ink, strokeWidth=0.9 if now_of_two else 1.3)
        if now_of_two:
            line.strokeDashArray = [3, 2]
        art.add(line)
    if two:
        art.add(
            String(width - 8, height - 8, "dashed: now   solid: planned", fontSize=7, textAnchor="end", fillColor=ink)
        )
    return art


def _round_up(value: float) -> float:
    """The next round number, for the end of an axis.

    >>> _round_up(1917.7), _round_up(145.8)
    (2000.0, 150.0)
    """
    step = 10.0 ** np.floor(np.log10(value)) / 2.0
    return float(step * np.ceil(value / step))


def as_html(page: DecisionSheet, paper: Paper = "A4") -> str:
    """The sheet as one HTML file that needs nothing else."""
    from reportlab.graphics import renderSVG

    svg = renderSVG.drawToString(drawing(page, 500, 170))
    svg = svg[svg.index("<svg") :] if isinstance(svg, str) else svg.decode()[svg.decode().index("<svg") :]
    two = bool(page.planned)
    heads = ("", "now", "planned", "change", "") if two else ("", "")
    rows = "".join(
        f'<tr><th scope="row">{escape(x.label)}</th><td>{escape(x.now)}</td>'
        + (f"<td>{escape(x.planned)}</td><td>{escape(x.change)}</td><td>{escape(x.verdict)}</td>" if two else "")
        + "</tr>"
        for x in page.lines
    )
    head = "".join(f'<th scope="col">{escape(h)}</th>' for h in heads)
    names = f"<p><b>now</b> {escape(page.now)}</p>" + (f"<p><b>planned</b> {escape(page.planned)}</p>" if two else "")
    differs = f"<p>{escape('; '.join(page.differs))}</p>" if page.differs else ""

    def block(title: str, texts: tuple[str, ...]) -> str:
        items = "".join(f"<li>{escape(text)}</li>" for text in texts)
        return f"<section><h2>{title}</h2><ul>{items}</ul></section>" if texts else ""

    return (
        f'<!doctype html><html lang="en"><head><meta charset="utf-8"><meta name="viewport" content="width=device-width">'
        f"<title>{escape(page.title)}: {escape(page.now)}</title><style>{_STYLE.replace('PAPER', paper)}</style></head><body><main>"
        f"<h1>{escape(page.title)}</h1>{names}{differs}<section><h2>In words</h2><ul>"
        + "".join(f"<li>{escape(text)}</li>" for text in page.sentences)
        + f"</ul></section><table><caption>Figures that decide</caption><thead><tr>{head}</tr></thead><tbody>{rows}</tbody></table>"
        f'<figure role="img" aria-label="Wheel force over road speed, gear by gear">{svg}</figure>'
        + block("Note", page.notes[:MOST_NOTES])
        + block("Take care", page.cautions)
        + block("Assumed", page.assumptions)
        + "</main></body></html>\n"
    )


_STYLE = (
    "@page{size:PAPER;margin:12mm}"
    "body{font:10px/1.35 system-ui,sans-serif;color:#1f2933;background:#fff;margin:0}main{max-width:190mm;margin:0 auto;padding:6mm}"
    "h1{font-size:17px;margin:0 0 3px}h2{font-size:11px;margin:8px 0 2px}p{margin:1px 0}ul{margin:0;padding-left:14px}"
    "table{border-collapse:collapse;width:100%;margin-top:6px;font-variant-numeric:tabular-nums}caption{text-align:left;font-weight:bold;font-size:11px}"
    "th,td{padding:1px 6px;border-bottom:1px solid #cbd2d9;text-align:right}th[scope=row],th:first-child{text-align:left;font-weight:normal}"
    "figure{margin:6px 0}svg{max-width:100%;height:auto}@media print{main{padding:0}body{font-size:8px}svg{height:32mm}}"
)


def as_pdf(page: DecisionSheet, paper: Paper = "A4") -> bytes:
    """The sheet as a PDF of one page."""
    from reportlab.lib.pagesizes import A4, letter
    from reportlab.platypus import KeepInFrame, SimpleDocTemplate

    size = A4 if paper == "A4" else letter
    margin = 34.0
    width, height = size[0] - 2 * margin, size[1] - 2 * margin - 14
    out = io.BytesIO()
    document = SimpleDocTemplate(
        out,
        pagesize=size,
        leftMargin=margin,
        rightMargin=margin,
        topMargin=margin,
        bottomMargin=margin,
        title=_plain(f"{page.title}: {page.now}"),
        author="ridesim",
        invariant=True,
    )
    document.build([KeepInFrame(width, height, _story(page, width), mode="shrink")])
    return out.getvalue()


def _story(page: DecisionSheet, width: float) -> list[Any]:
    """What stands on the page, from top to bottom."""
    from reportlab.lib.styles import ParagraphStyle
    from reportlab.platypus import Paragraph, Spacer

    body = ParagraphStyle("body", fontName="Helvetica", fontSize=8, leading=10)
    small = ParagraphStyle("small", parent=body, fontSize=6.8, leading=8.4)
    title = ParagraphStyle("title", parent=body, fontName="Helvetica-Bold", fontSize=14, leading=17)
    part = ParagraphStyle("part", parent=body, fontName="Helvetica-Bold", fontSize=9, leading=12, spaceBefore=4)

    def lines(texts: Iterable[str], style: Any) -> list[Any]:
        return [Paragraph("• " + _printable(text), style) for text in texts]

    story: list[Any] = [Paragraph(_printable(page.title), title), Paragraph("<b>now</b> " + _printable(page.now), body)]
    if page.planned:
        story.append(Paragraph("<b>planned</b> " + _printable(page.planned), body))
    if page.differs:
        story.append(Paragraph(_printable("; ".join(page.differs)), body))
    story += [Paragraph("In words", part), *lines(page.sentences, body), Spacer(1, 4)]
    story += [_cells(page, width), Spacer(1, 4), drawing(page, width, 130)]
    for heading, texts in (
        ("Note", page.notes[:MOST_NOTES]),
        ("Take care", page.cautions),
        ("Assumed", page.assumptions),
    ):
        if texts:
            story += [Paragraph(heading, part), *lines(texts, small)]
    return story


def _cells(page: DecisionSheet, width: float) -> Any:
    """The figures that decide, as a table."""
    from reportlab.lib import colors
    from reportlab.platypus import Table

    two = bool(page.planned)
    cells = [["", "now", "planned", "change", ""] if two else ["", ""]]
    cells += [
        [_plain(x.label), _plain(x.now), *([_plain(x.planned), _plain(x.change), _plain(x.verdict)] if two else [])]
        for x in page.lines
    ]
    shares = (0.40, 0.16, 0.16, 0.14, 0.14) if two else (0.6, 0.4)
    table = Table(cells, colWidths=[width * s for s in shares], rowHeights=10.5)
    table.setStyle(
        [
            ("FONT", (0, 0), (-1, -1), "Helvetica", 7.5),
            ("FONT", (0, 0), (-1, 0), "Helvetica-Bold", 7.5),
            ("ALIGN", (1, 0), (-1, -1), "RIGHT"),
            ("LINEBELOW", (0, 0), (-1, -1), 0.25, colors.HexColor("#cbd2d9")),
            ("TOPPADDING", (0, 0), (-1, -1), 1),
            ("BOTTOMPADDING", (0, 0), (-1, -1), 1),
        ]
    )
    return table


def _plain(text: str) -> str:
    """Text in the characters of the PDF's built-in fonts."""
    swaps = {"−": "-", "—": "-", "·": "·", "→": "->"}
    return "".join(swaps.get(c, c) for c in text).encode("cp1252", "replace").decode("cp1252")


def _printable(text: str) -> str:
    return escape(_plain(text), quote=False)


def write(page: DecisionSheet, path: str | Path, *, paper: Paper = "A4", replace: bool = False) -> None:
    """Write the sheet as PDF or HTML, by the file's ending; one that is there is replaced only if asked, and kept beside it."""
    ending = Path(path).suffix.lower()
    if ending not in (".pdf", ".html", ".htm"):
        raise InputError(
            "--output", str(path), "is neither a .pdf nor an .html file", "Name it sheet.pdf or sheet.html."
        )
    content = as_pdf(page, paper) if ending == ".pdf" else as_html(page, paper).encode("utf-8")
    save(path, content, replace=replace, where="--output")
