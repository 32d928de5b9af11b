"""Back to stock: what to undo, the latest change first, and the parts it takes."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence

from ridesim.answers.answer import Answer, Figure, Figures, table_from
from ridesim.errors import InputError
from ridesim.garage.changes import area_worded, changes_between, holes_worded, values_of, worded
from ridesim.garage.proposal import CAUTIONS
from ridesim.garage.richness import Stock
from ridesim.garage.trials import Settings, Trial
from ridesim.statements import Note


def back_to_stock(trials: Sequence[Trial], stock: Stock, assumed: tuple[str, ...] = ()) -> Answer:
    """What to undo to be back at stock, in reverse order, and which parts that takes.

    Parameters
    ----------
    trials : sequence of Trial
        Oldest first; the last one holds the settings as they are. [-]
    stock : Stock
        The maker's settings. [-]

    assumed : tuple of str
        What was assumed of stock.

    Returns
    -------
    Answer
        A row for each thing to put back, the latest change first. A note is about each thing that is not written down on both
        sides.

    Raises
    ------
    InputError
        No trial at all.

    Examples
    --------
    >>> from ridesim.garage.trials import TrialAir
    >>> day = TrialAir(altitude_m=250.0, temperature_k=291.15, humidity=0.55)
    >>> ridden = [Trial(ridden_at="2031-05-04T09:30:00Z", air=day, settings=Settings(main_jet=size)) for size in (120, 125)]
    >>> print(back_to_stock(ridden, Stock(settings=Settings(main_jet=120))).tables[0].rows[0]["how"])
    Put the main jet back from 125 to 120.
    """
    if not trials:
        raise InputError("trials", None, "there is none, so nothing is known to be changed", "Give at least one trial.")
    now = trials[-1].settings
    changes, unknown = changes_between(stock.settings, now)
    undo = [
        {
            "thing": change.thing,
            "now": worded(change.thing, change.after),
            "stock": worded(change.thing, change.before),
            "changed_in": _last_moved(trials, change.thing),
            "part": _part(change.thing, stock.settings, now),
            "how": _how(change.thing, stock.settings, now),
        }
        for change in changes
    ]
    undo.sort(key=lambda one: -(one["changed_in"] or 0))  # type: ignore[operator]  # stable: within a trial as in the list
    columns = (
        ("how", "What to do", "text"),
        ("part", "Part needed", "text"),
        ("changed_in", "Changed in trial", "number"),
    )
    return Answer(
        question="What is the way back to stock?",
        say=(_says(len(undo), unknown),),
        figures=Figures(Figure("count", "Things to put back", len(undo), "number")),
        tables=(table_from("The latest change first", undo, *columns),),
        assumptions=assumed,
        notes=tuple(Note(one, "not written down on both sides, so look") for one in unknown),
        cautions=CAUTIONS,
    )


def _says(count: int, unknown: Sequence[str]) -> str:
    """How much there is to put back, and what has to be looked at."""
    said = f"{count} thing{'s' if count != 1 else ''} to put back" if count else "Everything written down is as stock"
    if unknown:
        said += f"; not written down on both sides, so look: {', '.join(unknown)}"
    return f"{said}."


def _last_moved(trials: Sequence[Trial], thing: str) -> int | None:
    """Number of the last trial whose setting of a thing differs from that of the trial before it."""
    for number in range(len(trials), 1, -1):
        if values_of(trials[number - 1].settings, thing) != values_of(trials[number - 2].settings, thing):
            return number
    return None


def _part(thing: str, stock: Settings, now: Settings) -> str | None:
    """The part needed, or None where a hand and a screwdriver do."""
    if thing in ("needle clip", "mixture screw"):
        return None
    if thing == "intake":
        return _plugs(stock, now)
    return f"{thing} {worded(thing, values_of(stock, thing))}"


def _how(thing: str, stock: Settings, now: Settings) -> str:
    if thing == "intake":
        plugs = _plugs(stock, now)
        return (
            f"Close the intake with {plugs}."
            if plugs
            else "Open the intake again as stock: " + worded(thing, values_of(stock, thing)) + "."
        )
    return (
        f"Put the {thing} back from {worded(thing, values_of(now, thing))} to {worded(thing, values_of(stock, thing))}."
    )


def _plugs(stock: Settings, now: Settings) -> str | None:
    """Plugs for the holes drilled since stock, by size; by area where the holes are not written down."""
    if now.intake_holes_m is not None:
        drilled = Counter(now.intake_holes_m) - Counter(stock.intake_holes_m or ())
        if drilled:
            return "plugs for " + holes_worded(tuple(drilled.elements()))
    if now.intake_open_area_m2 is None or stock.intake_open_area_m2 is None:
        return None
    area = now.intake_open_area_m2 - stock.intake_open_area_m2
    return f"plugs for {area_worded(area)} of holes" if area > 0 else None
