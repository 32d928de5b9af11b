"""Where no combination meets every limit: whether another tune, or another tire the rider has, would do it."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import NamedTuple

from ridesim.buildfile.io import Build
from ridesim.components.tire_marking import names_tire, parse_marking
from ridesim.selection.choice import choice_of
from ridesim.selection.crossing import bikes_of, cross
from ridesim.selection.verdict import Verdict, verdict
from ridesim.selection.words import name


class OtherTune(NamedTuple):
    """A tune that is not in the build: what it is called, and the build with it under its name there."""

    told: str
    name: str
    build: Build


def other_ways(
    build: Build, decided: Verdict, tires: Mapping[str, str] | None = None, tunes: Sequence[OtherTune] = ()
) -> tuple[str, ...]:
    """What else would meet every limit, in words: each other tune, each other rear tire, with the pair it takes.

    Parameters
    ----------
    build : Build
        The build of the choice; its own tunes, its tire and those of its [limits] are tried in any case.
    decided : Verdict
        One that says "none"; of any other nothing is asked.
    tires : mapping of str to str, optional
        Markings of rear tires that the rider has, with where they are ("" for nothing to say).
    tunes : sequence of OtherTune
        Tunes that the rider has beside those of the build.

    Returns
    -------
    tuple of str
        Empty where none of them helps; each is held to the same sprockets, ride, limits, wish and certainty.
    """
    if decided.action != "none" or decided.asks:
        return ()
    bikes = decided.choice.crossing.bikes
    own = [OtherTune(f"the tune {tune}", tune, build) for tune in build.record.tune if tune not in bikes.tunes]
    here = dict.fromkeys((build.record.tires.rear.size, *(build.record.limits.rear_tires or ())), "")
    fitted = [bike.rear_tire.marking for bike in bikes.by_tire]
    found = [(one.told, _pair_with(decided, one.build, bikes.tires, (one.name,))) for one in (*own, *tunes)]
    for tire, whose in (here | dict(tires or {})).items():
        if not any(names_tire(parse_marking(tire), on) for on in fitted):
            found.append((f"the rear tire {tire}{whose}", _pair_with(decided, build, (tire,), bikes.tunes)))
    return tuple(f"with {what}, {pair} meets every limit" for what, pair in found if pair)


def _pair_with(decided: Verdict, build: Build, tires: Sequence[str], tunes: Sequence[str]) -> str:
    """The pair that meets every limit with some tires and tunes, or nothing."""
    crossing = decided.choice.crossing
    bikes = bikes_of(build, tires, tunes, crossing.bikes.front_tire)
    pairs = sorted({*crossing.fronts.tolist()}), sorted({*crossing.rears.tolist()})
    choice = choice_of(cross(bikes, *pairs, crossing.ride, crossing.logs), decided.choice.limits)
    found = verdict(choice, wish=decided.wish, sure=decided.sure, on_bike=decided.on_bike)
    return "" if found.action == "none" else name(choice, found.candidate.n)
