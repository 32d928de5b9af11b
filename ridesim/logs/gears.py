"""Unknown gear ratios beside a build: what a log holds, which gear of the build each is, and the build with them."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np

from ridesim.answers import Answer, Figure, Figures, Step, Table
from ridesim.answers.answer import Sentence, ValueOf, table_from, table_of
from ridesim.answers.text import listed
from ridesim.bike import Bike
from ridesim.errors import InputError
from ridesim.logs.fits.ratios import Ratios, find_ratios
from ridesim.logs.log import Log
from ridesim.units import TWO_PI

if TYPE_CHECKING:
    from ridesim.buildfile.io import Build

MOST_SEGMENTS = 400
BUILD_NEAR = 0.05  # a gear of the build further off than this is another gear


@dataclass(frozen=True, kw_only=True)
class Geared:
    """The gears of a log, each beside the nearest of the build (None where none is near), and the answer in words."""

    found: Ratios
    build_gear: tuple[int | None, ...]
    answer: Answer


def geared(
    log: Log,
    *,
    bike: Bike | None = None,
    circumference_m: float | None = None,
    gears: int | None = None,
) -> Geared:
    """find_ratios with what a bike lends it, its own ratios beside what was found, and the answer in words.

    Parameters
    ----------
    log : Log
        With engine speed.
    bike : Bike, optional
        Whose gears stand beside those of the log.
    circumference_m : float, optional
        Way that the rear tire rolls in one turn; it goes before the bike's, and is needed without one. [m]
    gears : int, optional
        How many to find, 1 to 8; all that are there when not given.

    Returns
    -------
    Geared

    Raises
    ------
    InputError
        As find_ratios does.
    """
    if circumference_m is None:
        if bike is None:
            raise ValueError("either a bike or a circumference")
        circumference_m = float(bike.rear_tire.circumference_m)
    found = find_ratios(log, rolling_circumference_m=circumference_m, gears=gears)
    build = [] if bike is None else [float(r) for r in bike.setups.ratios[0]]
    near = tuple(_nearest(gear.overall_ratio.value, build) for gear in found.gears)
    return Geared(found=found, build_gear=near, answer=_answer(log, found, near, build, circumference_m, bike))


def _nearest(ratio: float, build: list[float]) -> int | None:
    if not build:
        return None
    off, gear = min((abs(one / ratio - 1.0), n) for n, one in enumerate(build, start=1))
    return gear if off <= BUILD_NEAR else None


def _answer(
    log: Log, found: Ratios, near: tuple[int | None, ...], build: list[float], circumference: float, bike: Bike | None
) -> Answer:
    count = len(found.gears)
    figures = [
        Figure(
            f"ratio_{gear.gear}",
            f"Gear {gear.gear}: crank turns for one wheel turn",
            gear.overall_ratio.value,
            "ratio",
            low=gear.overall_ratio.low,
            high=gear.overall_ratio.high,
        )
        for gear in found.gears
    ]
    figures.append(Figure("gears", "Gears found", count, "number"))
    ends: Sentence = (
        f"{'the only one' if count == 1 else 'the shortest'} turns the crank ",
        *(ValueOf("ratio_1"), " times for one turn of the wheel"),
        *(() if count == 1 else (", the tallest ", ValueOf(f"ratio_{count}"), " times")),
    )
    return Answer(
        question="Which gears are in there?",
        say=("The log shows ", ValueOf("gears"), " gears: " if count > 1 else " gear: ", *ends, f".{_open(found)}"),
        figures=Figures(*figures),
        tables=(_gear_table(found, near, build, bike), _segment_table(found)),
        series={
            "time_s": log.time_s,
            "speed_m_s": log.speed_m_s,
            "engine_speed_rad_s": log.engine_speed_rad_s,
            "gear_at": found.gear_at,
            "rays": tuple(_ray(log, found, gear.gear, gear.overall_ratio.value, circumference) for gear in found.gears),
        },
        assumptions=found.assumptions,
        steps=tuple(
            Step(
                f"i{gear.gear} = (omega / v) U / 2 pi, least squares over {gear.samples} samples",
                f"{gear.overall_ratio.value * TWO_PI / circumference:.3f} x {circumference:.4f} / 2 pi",
                f"{gear.overall_ratio.value:.3f} +- {gear.overall_ratio.high - gear.overall_ratio.value:.3f}",
            )
            for gear in found.gears
        ),
        notes=(*log.notes, *found.notes),
        cautions=found.cautions,
    )


def _open(found: Ratios) -> str:
    """Which gears are not yet surely within half a per cent, as a sentence of its own; empty when all are."""
    names = [str(gear.gear) for gear in found.gears if not gear.settled]
    if not names:
        return ""
    return f" Ride gear{'s' if len(names) > 1 else ''} {listed(names)} longer."


def _ray(log: Log, found: Ratios, gear: int, ratio: float, circumference: float) -> tuple[Any, Any]:
    """Road speeds from standing to the fastest ridden in a gear, and the engine speeds that go with them."""
    road = np.array([0.0, float(log.speed_m_s[found.gear_at == gear].max())])
    return road, road * ratio * TWO_PI / circumference


def _gear_table(found: Ratios, near: tuple[int | None, ...], build: list[float], bike: Bike | None) -> Table:
    outside = 1.0 if bike is None else bike.primary * bike.final_ratio
    bands = [gear.overall_ratio for gear in found.gears]
    theirs = [None if same is None else build[same - 1] for same in near]
    off = [None if own is None else band.value / own - 1.0 for band, own in zip(bands, theirs, strict=True)]
    beside = (
        ("inside", "In the gearbox", "ratio", [band.value / outside for band in bands]),
        ("same", "Gear of the build", "number", near),
        ("build", "In the build", "ratio", theirs),
        ("off", "Log against build", "percent", off),
    )
    return table_of(
        "The gears",
        ("gear", "Gear", "number", [gear.gear for gear in found.gears]),
        ("overall", "Overall ratio", "ratio", [band.value for band in bands]),
        ("low", "Low", "ratio", [band.low for band in bands]),
        ("high", "High", "ratio", [band.high for band in bands]),
        *(beside if bike is not None else ()),
        ("samples", "Samples", "number", [gear.samples for gear in found.gears]),
        ("longer_s", "Ride it longer by", "time", [None if one.settled else one.longer_s for one in found.gears]),
    )


def _segment_table(found: Ratios) -> Table:
    columns = (("from_s", "From", "time"), ("to_s", "To", "time"), ("gear", "Gear", "number"))
    return table_from("In which gear each segment was", found.segments[:MOST_SEGMENTS], *columns)


def with_gears(build: Build, done: Geared, *, outside: float) -> Build:
    """The build with the gear ratios of a log, where the log showed every gear of it.

    Parameters
    ----------
    build : Build
    done : Geared
    outside : float
        Primary drive times sprockets, by which an overall ratio is larger than that of the gearbox. [-]

    Raises
    ------
    InputError
        More or fewer gears in the log than in the build.
    """
    count, found = len(build.record.gearbox.gears), done.found.gears
    if len(found) != count:
        problem = f"are not the {count} gears of the build"
        raise InputError("gearbox.gears", f"{len(found)} gears in the log", problem, "Ride some seconds in every gear.")
    ratios = [round(gear.overall_ratio.value / outside, 4) for gear in found]
    return build.changed({"gearbox.gears": ratios, "gearbox.ratios_are_a_guess": None})
