"""The decision on two printed pages: first the verdict, what to order, five figures and one chart; then everything else.

The same content becomes HTML (for the browser and its print) and PDF.
"""

from __future__ import annotations

import re
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date
from html import escape
from pathlib import Path
from typing import Literal

import numpy as np

from ridesim.answers import Answer, Change, Comparison, Solved, compare, solve
from ridesim.answers.text import change_words, figure_words, sentence, verdict
from ridesim.bike import make_bike
from ridesim.errors import InputError
from ridesim.files import save
from ridesim.selection import CHECKS, OnBike, Verdict, bikes_of, choice_of, choose, cross, verdict_words
from ridesim.selection import verdict as decide
from ridesim.statements import in_units
from ridesim.units import shown_in

Paper = Literal["A4", "letter"]
# the figures of the second page, by question and key; the full answers stand on the other pages
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
# of the first page, as far as they are known
FIVE = ("engine_speed", "range", "first_force", "grade_1", "top", "fuel", "time_1")
MOST_FIGURES, MOST_NOTES = 5, 6


@dataclass(frozen=True, kw_only=True)
class SheetLine:
    """One figure of the sheet, in words: what it is now and as planned, the change, and whether that is for the better."""

    key: str
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
    """What stands on the pages, in words, ready to be set: head, says, why, order, checks and figures on the first."""

    title: str
    bike: str
    made_on: str
    head: str
    says: str
    why: tuple[str, ...]
    order: tuple[str, ...]
    checks: tuple[str, ...]
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

    @property
    def figures(self) -> tuple[SheetLine, ...]:
        """Those of the first page."""
        found = {line.key: line for line in reversed(self.lines) if line.now != "—"}
        return tuple(found[key] for key in FIVE if key in found)[:MOST_FIGURES]

    @property
    def file_name(self) -> str:
        """What to call its file, without the ending: the bike and the date."""
        return named_for(self.bike, self.made_on)


def named_for(bike: str, day: str) -> str:
    """What to call a file of a bike, without the ending.

    >>> named_for("Coast single (invented)", "2026-04-12")
    'coast-single-invented-2026-04-12'
    """
    plain = re.sub(r"[^a-z0-9]+", "-", bike.lower()).strip("-")[:60].strip("-")
    return f"{plain or 'bike'}-{day}"


def decision(now: Solved) -> tuple[Verdict, Solved | None]:
    """The verdict on the sprockets of a bike, and the bike as the verdict has it where something is to be ordered.

    Parameters
    ----------
    now : Solved
        The bike as it is, with its ride; the limits are those of its build.

    Returns
    -------
    Verdict, Solved or None
        None where nothing is to be ordered.
    """
    build = now.bike.build
    decided = decide(choose(build, ride=now.ride))
    if decided.action != "order":
        return decided, None
    one = decided.candidate
    bike = make_bike(build, front=one.front, rear=one.rear, rear_tire=one.rear_tire, tune=one.tune)
    return decided, solve(bike, now.ride)


def verdict_on(now: Solved, planned: Solved) -> Verdict | None:
    """The verdict on one planned set-up of the bike of now; None where it is another bike.

    >>> import ridesim as rs
    >>> from ridesim.answers import solve
    >>> print(verdict_on(solve(rs.demo("coast-single")), solve(rs.demo("plateau-single"))))
    None
    """
    a, b = now.bike, planned.bike
    if a.build.bike != b.build.bike:
        return None
    bikes = bikes_of(b.build, (b.rear_tire.marking.written,), (b.tune,), b.changes.get("front_tire"))
    choice = choice_of(cross(bikes, (b.front_teeth,), (b.rear_teeth,), planned.ride), b.record.limits)
    fitted = OnBike(front=a.front_teeth, rear=a.rear_teeth, rear_tire=a.rear_tire.marking.written, tune=a.tune)
    return decide(choice, on_bike=fitted)


def sheet(
    now: Solved, planned: Solved | None = None, *, system: str = "metric", decided: Verdict | None = None
) -> DecisionSheet:
    """The content of the pages for one set-up, or for two side by side.

    Parameters
    ----------
    now : Solved
        The bike as it is.
    planned : Solved, optional
        As it might be.
    system : str
        "metric" or "us".
    decided : Verdict, optional
        What stands at the head; that on the planned set-up unless given.

    Returns
    -------
    DecisionSheet
        Figures and sentences are those of the answers, in words.
    """
    both = compare(now, now if planned is None else planned)
    answers = [*both.swaps, *(pair.planned for pair in both.pairs)]
    traces, speed_unit, force_unit = _traces(now, planned, system)
    if decided is None and planned is not None:
        decided = verdict_on(now, planned)
    title = "The set-up" if planned is None and decided is None else "The decision"
    said, order = _decided(decided, both.differs, system)
    head, _, says = said.partition(": ")
    return DecisionSheet(
        title=title,
        bike=now.bike.name,
        made_on=date.today().isoformat(),
        head=head or title,
        says=says[:1].upper() + says[1:],
        why=() if decided is None else verdict_words.reasons(decided, system),
        order=order,
        checks=CHECKS if order else (),
        now=both.now_name,
        planned=both.planned_name if planned is not None else "",
        differs=both.differs,
        sentences=tuple(sentence(answer, system) for answer in answers),
        lines=tuple(_lines(both, system)),
        traces=traces,
        speed_unit=speed_unit,
        force_unit=force_unit,
        notes=_unique((answer.notes for answer in answers), system),
        assumptions=_unique([both.assumptions, *(answer.assumptions for answer in answers)], system),
        cautions=_unique((answer.cautions for answer in answers), system),
    )


def _decided(decided: Verdict | None, differs: tuple[str, ...], system: str) -> tuple[str, tuple[str, ...]]:
    """The sentence at the head of the sheet, and what to order."""
    planned = "; ".join(differs)
    said = f"Planned: {planned}." if planned else ""
    if decided is None:
        return said, ()
    order = verdict_words.order_list(decided.candidate, decided.on_bike, system)
    if decided.asks:
        return said or verdict_words.ASKED, order if said else ()
    if decided.action == "none" and said:  # there is but the planned pair to speak of
        needs = (
            " and ".join(verdict_words.relaxed(decided, one, system) for one in decided.relax) or "no limit that moves"
        )
        pair, sure = f"{decided.candidate.front}/{decided.candidate.rear}", f"{100 * decided.sure:.0f} % certainty"
        return f"{pair} does not meet every limit with {sure}: it would with {needs}.", order
    return verdict_words.sentence(decided, system), order if said else ()


def _unique(groups: Iterable[tuple[str, ...]], system: str) -> tuple[str, ...]:
    return tuple(dict.fromkeys(in_units(text, system) for group in groups for text in group))


def _lines(both: Comparison, system: str) -> Iterable[SheetLine]:
    for pair in both.pairs:
        changes: dict[str, Change] = {change.now.key: change for change in pair.changes}
        for key in DECIDES.get(pair.question, ()):
            if key in changes:
                change = changes[key]
                yield SheetLine(
                    key=key,
                    label=change.planned.label,
                    now=figure_words(change.now, system),
                    planned=figure_words(change.planned, system),
                    change=change_words(change, system),
                    verdict=verdict(change),
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


def as_html(page: DecisionSheet, paper: Paper = "A4") -> str:
    """The sheet as one HTML file that needs nothing else; texts of the build stand in it as they were written, never as markup."""
    from reportlab.graphics import renderSVG

    from ridesim.report.sheet_pdf import drawing

    drawn = renderSVG.drawToString(drawing(page, 520, 230))
    svg = drawn[drawn.index("<svg") :]
    names = "".join(
        f"<p><b>{which}</b> {escape(name)}</p>"
        for which, name in (("now", page.now), ("planned", page.planned))
        if name
    )
    first = (
        f'<h1>{escape(page.head)}</h1><p class="says">{escape(page.says)}</p><p class="of">{escape(page.bike)}, {page.made_on}</p>'
        f"{names}{_listed('Why', page.why)}{_listed('To order', page.order, 'order')}"
        f"{_table(page, page.figures, 'Five figures')}"
        f'<figure role="img" aria-label="Wheel force over road speed, gear by gear">{svg}</figure>'
        f"{_listed('Before ordering', page.checks)}"
    )
    rest = (
        f"{_listed('What differs', page.differs)}{_listed('In words', page.sentences)}{_table(page, page.lines, 'Every figure that decides')}"
        f"{_listed('Note', page.notes[:MOST_NOTES])}{_listed('Take care', page.cautions)}{_listed('Assumed', page.assumptions)}"
    )
    return (
        '<!doctype html><html lang="en"><head><meta charset="utf-8"><meta name="viewport" content="width=device-width">'
        f"<title>{escape(page.title)}: {escape(page.now)}</title><style>{_STYLE.replace('PAPER', paper)}</style></head>"
        f'<body><main>{first}<div class="rest">{rest}</div></main></body></html>\n'
    )


def _listed(title: str, texts: Iterable[str], kind: str = "") -> str:
    items = "".join(f"<li>{escape(text)}</li>" for text in texts)
    return f'<section class="{kind}"><h2>{title}</h2><ul>{items}</ul></section>' if items else ""


def _table(page: DecisionSheet, lines: Iterable[SheetLine], title: str) -> str:
    """Figures, of one set-up or of two."""
    heads = ("", "now", "planned", "change", "") if page.planned else ("", "")
    body = ""
    for x in lines:
        cells = (x.now, x.planned, x.change, x.verdict) if page.planned else (x.now,)
        body += (
            f'<tr><th scope="row">{escape(x.label)}</th>{"".join(f"<td>{escape(cell)}</td>" for cell in cells)}</tr>'
        )
    head = "".join(f'<th scope="col">{one}</th>' for one in heads)
    return f"<table><caption>{title}</caption><thead><tr>{head}</tr></thead><tbody>{body}</tbody></table>"


_STYLE = (
    "@page{size:PAPER;margin:14mm}"
    "body{font:14px/1.45 system-ui,sans-serif;color:#1f2933;background:#fff;margin:0}main{max-width:190mm;margin:0 auto;padding:6mm}"
    "h1{font-size:22px;line-height:1.25;margin:0 0 4px}h2{font-size:15px;margin:12px 0 2px}p{margin:2px 0}.of{color:#52606d}.says{font-size:1.15em}"
    "ul{margin:0;padding-left:18px}.order ul{list-style:none;padding-left:0}.order li::before{content:'\\2610';margin-right:8px}"
    "table{border-collapse:collapse;width:100%;margin-top:12px;font-variant-numeric:tabular-nums}caption{text-align:left;font-weight:bold;font-size:15px}"
    "th,td{padding:2px 6px;border-bottom:1px solid #cbd2d9;text-align:right}th[scope=row],th:first-child{text-align:left;font-weight:normal}"
    "figure{margin:12px 0}svg{max-width:100%;height:auto}.rest{break-before:page;font-size:12px}.rest caption,.rest h2{font-size:13px}"
    "@media print{main{padding:0;max-width:none}body{font-size:11px}h1{font-size:18px}.rest{font-size:7px;line-height:1.25}.rest caption,.rest h2{font-size:8px}"
    ".rest th,.rest td{padding:0 6px}.rest table,.rest h2{margin-top:4px}}"
)


def write(page: DecisionSheet, path: str | Path | None = None, *, paper: Paper = "A4", replace: bool = False) -> Path:
    """Write the sheet as PDF or HTML, by the file's ending, and say where.

    Parameters
    ----------
    page : DecisionSheet
        What stands on it.
    path : str or Path, optional
        A file, or a folder; without one, or with a folder, it is a PDF named after the bike and the day.
    paper : str
        "A4" or "letter".
    replace : bool
        Whether a file that is there gives way; it is kept beside the new one.

    Raises
    ------
    InputError
        Another ending, a file that is there, or a place that may not be written to.
    """
    from ridesim.report.sheet_pdf import as_pdf

    target = Path(f"{page.file_name}.pdf") if path is None else Path(path)
    if path is not None and target.is_dir():
        target = target / f"{page.file_name}.pdf"
    ending = target.suffix.lower()
    if ending not in (".pdf", ".html", ".htm"):
        raise InputError(
            "--output", str(path), "is neither a .pdf nor an .html file", "Name it sheet.pdf or sheet.html."
        )
    content = as_pdf(page, paper) if ending == ".pdf" else as_html(page, paper).encode("utf-8")
    save(target, content, replace=replace, where="--output")
    return target
