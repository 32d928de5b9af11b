"""Answers on a terminal: sentences, tables with their units in the headings, bands, working, assumptions, cautions."""

from __future__ import annotations

import sys
from collections.abc import Iterable
from typing import Any

from rich.console import Console
from rich.table import Table as Grid

from ridesim.answers import Answer, Comparison, Solved, compare
from ridesim.answers.base import Column, Figure, Table, plain
from ridesim.answers.compare import label, of_a_gain
from ridesim.answers.words import band_words, change_words, figure_words, sentence, shown, verdict
from ridesim.units import COUNTED, READINGS, unit_words


class _Output(Console):
    """Standard output, which leaves it to the command what to do when its reader has gone."""

    def on_broken_pipe(self) -> None:
        raise BrokenPipeError


def console() -> Console:
    """Standard output; where it is no terminal, lines are wide enough for every table."""
    return _Output(
        width=None if sys.stdout.isatty() else 160, highlight=False, markup=False, emoji=False, soft_wrap=False
    )


def print_answers(answers: Iterable[Answer], solved: Solved, system: str, *, working: bool = False) -> None:
    """Every answer, then what was assumed, noted and cautioned."""
    out = console()
    out.print(label(solved), style="bold")
    answers = tuple(answers)
    for answer in answers:
        out.print()
        out.print(answer.question, style="bold underline")
        out.print(sentence(answer, system))
        _print_bands(out, answer.figures, system)
        for table in answer.tables:
            _print_table(out, table, system)
        if working:
            for step in answer.steps:
                out.print(f"  {step}")
    _print_lists(out, answers)


def print_comparison(now: Solved, might: Solved, system: str, *, working: bool = False) -> None:
    """Both set-ups, figure by figure, with the change."""
    out = console()
    both = compare(now, might)
    out.print(f"now:      {both.now_name}", style="bold")
    out.print(f"might be: {both.might_name}", style="bold")
    out.print("; ".join(both.differs) if both.differs else "the two do not differ")
    for answer in both.swaps:
        out.print()
        out.print(answer.question, style="bold underline")
        out.print(sentence(answer, system))
        _print_bands(out, answer.figures, system)
        for table in answer.tables:
            _print_table(out, table, system)
    for pair in both.pairs:
        out.print()
        out.print(pair.question, style="bold underline")
        grid = Grid(box=None, pad_edge=False, header_style="dim")
        for heading in ("", "now", "might be", "change", ""):
            grid.add_column(heading, justify="left" if heading == "" else "right", overflow="fold")
        for change in pair.changes:
            grid.add_row(
                change.now.label
                if change.now.label == change.might.label
                else f"{change.now.label} / {change.might.label}",
                figure_words(change.now, system),
                figure_words(change.might, system),
                change_words(change, system),
                verdict(change, system),
            )
        out.print(grid)
        if working:
            for which, answer in (("now", pair.now), ("might be", pair.might)):
                for step in answer.steps:
                    out.print(f"  {which}: {step}")
    answers = [p.now for p in both.pairs] + [p.might for p in both.pairs] + list(both.swaps)
    _print_lists(out, answers, both.assumptions)


def comparison_object(both: Comparison, now: dict[str, Any], might: dict[str, Any]) -> dict[str, Any]:
    """A comparison as one JSON object: both answers whole, and every figure with its change, in SI."""
    return {
        "now": now,
        "might_be": might,
        "differs": list(both.differs),
        "assumptions": list(both.assumptions),
        "gains": [
            {
                "question": answer.question,
                "key": figure.key,
                "label": figure.label,
                "reading": figure.reading,
                "change_si": plain(figure.value),
                "change_low_si": plain(figure.low),
                "change_high_si": plain(figure.high),
                "verdict": verdict(of_a_gain(figure)),
            }
            for answer in both.swaps
            for figure in answer.figures
            if figure.better
        ],
        "changes": [
            {
                "question": pair.question,
                "key": c.now.key,
                "label": c.now.label,
                "reading": c.now.reading,
                "now_si": plain(c.now.value),
                "might_be_si": plain(c.might.value),
                "change_si": plain(c.change),
                "change_low_si": plain(c.low),
                "change_high_si": plain(c.high),
                "certain": c.certain,
                "better": c.better,
                "verdict": verdict(c),
            }
            for pair in both.pairs
            for c in pair.changes
        ],
    }


def heading(column: Column, system: str) -> str:
    """A column's label with the unit its cells are in."""
    if column.reading in COUNTED:
        return column.label
    how = READINGS[column.reading]
    unit = unit_words(how.metric if system == "metric" else how.us)
    return f"{column.label} [{unit}]" if unit else column.label


def _print_table(out: Console, table: Table, system: str) -> None:
    if not table.rows:
        return
    grid = Grid(
        title=table.title, title_justify="left", title_style="italic", box=None, pad_edge=False, header_style="dim"
    )
    for column in table.columns:
        grid.add_column(
            heading(column, system),
            justify="left" if column.reading == "text" else "right",
            overflow="fold",
            min_width=4,
        )
    for row in table.rows:
        grid.add_row(*(shown(row[c.key], c.reading, system, unit=False) for c in table.columns))
    out.print(grid)


def _print_bands(out: Console, figures: tuple[Figure, ...], system: str) -> None:
    for figure in figures:
        band = band_words(figure, system)
        if band:
            out.print(f"  {figure.label}: {figure_words(figure, system)} ({band})", style="dim")


def _print_lists(out: Console, answers: Iterable[Answer], assumptions: Iterable[str] = ()) -> None:
    answers = tuple(answers)
    for title, texts in (
        ("Assumed", [*assumptions, *(t for a in answers for t in a.assumptions)]),
        ("Note", [t for a in answers for t in a.notes]),
        ("Take care", [t for a in answers for t in a.cautions]),
    ):
        unique = list(dict.fromkeys(texts))
        if unique:
            out.print()
            out.print(title, style="bold underline")
            for text in unique:
                out.print(f"- {text}")
