"""Where no pair meets every limit: whether another tune of the build, or another tire the rider has, would do it."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from ridesim.buildfile.io import Build
from ridesim.selection.choice import choice_of
from ridesim.selection.crossing import bikes_of, cross
from ridesim.selection.verdict import Verdict, verdict
from ridesim.selection.words import name


def other_ways(build: Build, decided: Verdict, tires: Sequence[str] = ()) -> tuple[str, ...]:
    """What else would meet every limit, in words: each other tune of the build, each other tire, with the pair it takes.

    Parameters
    ----------
    build : Build
        The build of the choice.
    decided : Verdict
        One that says "none"; of any other nothing is asked.
    tires : sequence of str
        Markings of rear tires the rider has.
    """
    if decided.action != "none" or not decided.relax:
        return ()
    crossing = decided.choice.crossing
    fitted = crossing.bikes.tires
    others: Iterable[tuple[str, Sequence[str], Sequence[str]]] = (
        *((f"the tune {tune}", fitted, (tune,)) for tune in build.record.tune if tune not in crossing.bikes.tunes),
        *((f"the rear tire {tire}", (tire,), crossing.bikes.tunes) for tire in tires if tire not in fitted),
    )
    told = []
    for what, rear_tires, tunes in others:
        bikes = bikes_of(build, rear_tires, tunes, crossing.bikes.front_tire)
        again = cross(bikes, sorted({*crossing.fronts.tolist()}), sorted({*crossing.rears.tolist()}), crossing.ride)
        found = verdict(
            choice_of(again, decided.choice.limits), wish=decided.wish, sure=decided.sure, on_bike=decided.on_bike
        )
        if found.action != "none":
            told.append(f"with {what}, {name(found.choice, found.candidate.n)} meets every limit")
    return tuple(told)
