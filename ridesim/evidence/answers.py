"""A fit, and what to measure next, as answers: the same record as every other question gives."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from ridesim.answers.answer import Answer, Column, Figure, Figures, Table
from ridesim.answers.text import number
from ridesim.evidence import report
from ridesim.evidence.amounts import amount, field_at, in_words
from ridesim.evidence.fit import FittedErrors
from ridesim.evidence.next_reading import Measurement, Next
from ridesim.statements import BothWays, Note, in_units
from ridesim.units import READINGS

WORTHWHILE = 0.01  # of the band: what narrows it by less is not told
SHOWN = 3  # readings that are told how to take


def _table(title: str, headings: Mapping[str, str], rows: tuple[Mapping[str, Any], ...]) -> Table:
    """Rows of words and of amounts that bring their units and errors along; what a row is about stands first, in words."""
    columns = (
        Column(key, head, "text" if head in ("Figure", "Reading") else "number") for key, head in headings.items()
    )
    return Table(title=title, columns=tuple(columns), rows=rows)


def sentence(fit: FittedErrors, system: str = "metric") -> str:
    """How many readings are in the figures, and which are left out, in "metric" or "us" units.

    >>> import ridesim as rs
    >>> from ridesim.evidence.fit import fit
    >>> sentence(fit(rs.demo("coast-single").build))
    'Nothing was measured yet: the figures stand as they are written.'
    """
    count, used, n = len(fit.readings), len(fit.used), len(fit.conflicts)
    if not count:
        return "Nothing was measured yet: the figures stand as they are written."
    told = "One reading is" if used == count == 1 else f"All {count} readings are"
    told = f"{told if used == count else f'{used} of {count} readings are'} in the figures."
    if n:
        names = " and ".join(f"{n + 1} ({report.label(fit.readings[n], system)})" for n in fit.conflicts)
        rest = "the others" if used else "the figures as written"
        told += f" {'Reading' if n == 1 else 'Readings'} {names} {'does' if n == 1 else 'do'} not fit {rest}: left out."
    return told


def fit_answer(fit: FittedErrors) -> Answer:
    r"""Every figure as written and fitted, every reading beside what the fitted bike would show, and those that
    conflict.

    The figures are by their paths in the build file, in SI, with what is left of their tolerances; a reading's
    distance from all the others is in standard deviations.

    A roll-out of 2.000 m within 4 mm, where 1.996 m within 6 mm is written:

    >>> import ridesim as rs
    >>> from ridesim.buildfile.io import parse
    >>> from ridesim.evidence.fit import fit
    >>> read = '\n[[evidence]]\nkind = "roll-out"\nvalue = "2.0 +- 0.004 m"\n'
    >>> found = fit_answer(fit(parse(rs.demo("coast-single").build.text + read)))
    >>> print(found)
    One reading is in the figures.
    >>> found.to_frame().query("Figure == 'tires.rear.rollout'").values.tolist()
    [['tires.rear.rollout', '1.9960 ± 0.0060 m', '1.9988 ± 0.0033 m']]
    """
    count, figures = len(fit.readings), report.parameters(fit)
    words = (zip(one.words(), one.words("us"), strict=True) for one in figures)
    written = tuple(
        {"path": one.path, "before": BothWays(*before), "after": BothWays(*after)}
        for one, (before, after) in zip(figures, words, strict=True)
    )
    fitted = {"path": "Figure", "before": "as written", "after": "fitted"}
    read = {"n": "", "reading": "Reading", "measured": "measured", "fit": "fit", "off": "off the others"}
    return Answer(
        question=f"What do the readings of {fit.model.build.name} say?",
        say=(BothWays.of(sentence, fit),),
        figures=Figures(*filter(None, map(_figure, figures))),
        tables=(
            _table("Figures", fitted, written),
            _table("Readings", read, tuple(_reading_row(fit, n) for n in range(count))),
        ),
        notes=tuple(map(BothWays, report.notes(fit), report.notes(fit, "us"))),
    )


def _figure(one: report.Parameter) -> Figure | None:
    """A fitted figure with its band; None where no answer has one of its kind."""
    field, off = field_at(one.path), one.after_plus_minus
    alike = sorted((how.metric != field.unit, name) for name, how in READINGS.items() if how.kind == field.kind)
    if not alike:
        return None
    return Figure(one.path, one.path, one.after, alike[0][1], low=one.after - off, high=one.after + off)


def _reading_row(fit: FittedErrors, n: int) -> dict[str, Any]:
    z, sides = fit.z[n], zip(report.shown(fit, n), report.shown(fit, n, "us"), strict=True)
    measured, shows = (BothWays(*(side.replace("; ", "\n") for side in both)) for both in sides)
    off = (
        "not used"
        if z is None
        else f"{'+' if z > 0 else ''}{number(z, 1)} sd{', conflict' if n in fit.conflicts else ''}"
    )
    return {
        "n": n + 1,
        "reading": BothWays.of(report.label, fit.readings[n]),
        "measured": measured,
        "fit": shows,
        "off": off,
    }


def next_answer(found: Next) -> Answer:
    """The readings that would narrow a figure, best first, and how the first are taken.

    What narrows by less than 1 % is not told; the assumptions say how closely each would be taken.

    >>> import ridesim as rs
    >>> from ridesim.evidence.next_reading import measure_next
    >>> found = next_answer(measure_next(rs.demo("coast-single").build, "cruise_speed"))
    >>> print(found)
    Engine speed at cruise in top gear: 4,876 ± 15 rev/min.
    >>> found.to_frame().values.tolist()[0]
    ['roll-out', '4,876.1 ± 8.1 rev/min', '45 %']
    """
    how, best = READINGS[found.shown_as], [one for one in found.candidates if one.share_narrower >= WORTHWHILE]

    def words(plus_minus: float, system: str) -> str:
        return in_words(amount(found.value, plus_minus, how.kind, how.metric, system))

    name = BothWays.of(_name, found)
    sure = "" if found.certainty is None else f", its limit {100 * found.certainty:.1f} % sure"
    none = "" if best else " None of the readings known here would make it narrower."
    low, high = found.value - found.plus_minus, found.value + found.plus_minus
    rows = tuple(
        {
            "reading": BothWays.of(report.label, one.reading),
            "then": BothWays.of(words, one.plus_minus_then),
            "narrower": f"{100 * one.share_narrower:.0f} %",
        }
        for one in best
    )
    return Answer(
        question="What to measure next?",
        say=(name, ": ", BothWays.of(words, found.plus_minus), f"{sure}.{none}"),
        figures=Figures(Figure(found.figure, name, found.value, found.shown_as, low=low, high=high)),
        tables=(_table("Readings", {"reading": "Reading", "then": "would leave", "narrower": "narrower by"}, rows),),
        assumptions=tuple(BothWays.of(_within, one) for one in best),
        notes=tuple(Note(BothWays.of(report.label, one.reading), one.how) for one in best[:SHOWN]),
        cautions=tuple(dict.fromkeys(one.caution for one in best[:SHOWN] if one.caution)),
    )


def _name(found: Next, system: str) -> str:
    """What the figure is called, with a capital first."""
    label = in_units(found.label, system)
    return label[0].upper() + label[1:]


def _within(one: Measurement, system: str) -> str:
    return f"{report.label(one.reading, system)} within {report.error_words(one.reading, system)}"
