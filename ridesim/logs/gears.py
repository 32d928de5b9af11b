"""Unknown gear ratios beside a build: what a log holds, which gear of the build each is, and the build with them."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np

from ridesim.answers import Answer, Column, Figure, Figures, Step, Table
from ridesim.answers.answer import Sentence, ValueOf
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

    circumference_m is that of the rear tire and goes before the bike's [m].
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
            key=f"ratio_{gear.gear}",
            label=f"Gear {gear.gear}: crank turns for one wheel turn",
            value=gear.overall_ratio.value,
            reading="ratio",
            low=gear.overall_ratio.low,
            high=gear.overall_ratio.high,
        )
        for gear in found.gears
    ]
    figures.append(Figure(key="gears", label="Gears found", value=count, reading="number"))
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
                formula=f"i{gear.gear} = (omega / v) U / 2 pi, least squares over {gear.samples} samples",
                numbers=f"{gear.overall_ratio.value * TWO_PI / circumference:.3f} x {circumference:.4f} / 2 pi",
                result=f"{gear.overall_ratio.value:.3f} +- {gear.overall_ratio.high - gear.overall_ratio.value:.3f}",
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
    listed = names[0] if len(names) == 1 else f"{', '.join(names[:-1])} and {names[-1]}"
    return f" Ride gear{'s' if len(names) > 1 else ''} {listed} longer."


def _ray(log: Log, found: Ratios, gear: int, ratio: float, circumference: float) -> tuple[Any, Any]:
    """Road speeds from standing to the fastest ridden in a gear, and the engine speeds that go with them."""
    road = np.array([0.0, float(log.speed_m_s[found.gear_at == gear].max())])
    return road, road * ratio * TWO_PI / circumference


def _gear_table(found: Ratios, near: tuple[int | None, ...], build: list[float], bike: Bike | None) -> Table:
    outside = 1.0 if bike is None else bike.primary * bike.final_ratio
    columns = [
        Column(key="gear", label="Gear", reading="number"),
        Column(key="overall", label="Overall ratio", reading="ratio"),
        Column(key="low", label="Low", reading="ratio"),
        Column(key="high", label="High", reading="ratio"),
        Column(key="samples", label="Samples", reading="number"),
        Column(key="longer_s", label="Ride it longer by", reading="time"),
    ]
    if bike is not None:
        columns[4:4] = [
            Column(key="inside", label="In the gearbox", reading="ratio"),
            Column(key="same", label="Gear of the build", reading="number"),
            Column(key="build", label="In the build", reading="ratio"),
            Column(key="off", label="Log against build", reading="percent"),
        ]
    rows = []
    for gear, same in zip(found.gears, near, strict=True):
        band = gear.overall_ratio
        theirs = None if same is None else build[same - 1]
        rows.append(
            {
                "gear": gear.gear,
                "overall": band.value,
                "low": band.low,
                "high": band.high,
                "samples": gear.samples,
                "longer_s": None if gear.settled else gear.longer_s,
                "inside": band.value / outside,
                "same": same,
                "build": theirs,
                "off": None if theirs is None else band.value / theirs - 1.0,
            }
        )
    return Table(title="The gears", columns=tuple(columns), rows=tuple(rows))


def _segment_table(found: Ratios) -> Table:
    return Table(
        title="In which gear each segment was",
        columns=(
            Column(key="from_s", label="From", reading="time"),
            Column(key="to_s", label="To", reading="time"),
            Column(key="gear", label="Gear", reading="number"),
        ),
        rows=tuple(found.segments[:MOST_SEGMENTS]),
    )


def with_gears(build: Build, done: Geared, *, outside: float) -> Build:
    """The build with the gear ratios of a log, where the log showed every gear of it.

    outside is primary drive times sprockets, by which an overall ratio is larger than that of the gearbox [-].
    """
    count, found = len(build.record.gearbox.gears), done.found.gears
    if len(found) != count:
        problem = f"are not the {count} gears of the build"
        raise InputError("gearbox.gears", f"{len(found)} gears in the log", problem, "Ride some seconds in every gear.")
    ratios = [round(gear.overall_ratio.value / outside, 4) for gear in found]
    return build.changed({"gearbox.gears": ratios, "gearbox.ratios_are_a_guess": None})
