"""Coast-downs both ways along a road: drag area and rolling resistance with their bands, wind and slope taken out."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np

from ridesim.answers import Answer, Column, Figure, Figures, Step, Table
from ridesim.answers.answer import ValueOf
from ridesim.bike import Bike
from ridesim.logs.fits.bike import air_density, all_up_kg, coasting_kg
from ridesim.logs.fits.coast import Band, CoastDown
from ridesim.logs.fits.coast_runs import coast_down
from ridesim.logs.log import RoadRun, direction_word, notes_of
from ridesim.units import G

if TYPE_CHECKING:
    from ridesim.buildfile.io import Build

POINTS = 40
SAY = (
    *("The coast-downs give a drag area of ", ValueOf("drag_area")),
    *(" and a rolling resistance of ", ValueOf("rolling_resistance"), ": at ", ValueOf("speed")),
    *(" the bike is held back by ", ValueOf("force"), "."),
)


@dataclass(frozen=True, kw_only=True)
class Coasted:
    """What the coast-downs gave, the runs they came from, and the answer in words."""

    found: CoastDown
    runs: tuple[RoadRun, ...]
    answer: Answer


def coasted(
    bike: Bike,
    runs: Sequence[RoadRun],
    *,
    wind_m_s: float | None = None,
    grade: float | None = None,
    progress: Callable[[float], None] | None = None,
) -> Coasted:
    """coast_down with what the bike lends it, in the air of that day, and the answer in words.

    wind_m_s and grade are how strong the wind along the road and how steep the road may have been, for runs one way only
    [m/s], [-].
    """
    s = bike.setups
    density = air_density(bike)
    found = coast_down(
        runs,
        mass_kg=all_up_kg(bike),
        front_inertia_kg_m2=float(s.front_inertia_kg_m2[0]),
        front_radius_m=float(s.front_radius_m[0]),
        rear_inertia_kg_m2=float(s.rear_inertia_kg_m2[0]),
        rear_radius_m=float(s.rear_radius_m[0]),
        air_density_kg_m3=density,
        one_way_wind_m_s=wind_m_s,
        one_way_grade=grade,
        progress=progress,
    )
    return Coasted(found=found, runs=tuple(runs), answer=_answer(bike, runs, found, float(density)))


def _figure(key: str, label: str, reading: str, band: Band, better: int = -1) -> Figure:
    return Figure(key=key, label=label, reading=reading, value=band.value, low=band.low, high=band.high, better=better)


def _answer(bike: Bike, runs: Sequence[RoadRun], found: CoastDown, density: float) -> Answer:
    top = min(float(run.speed_m_s[0]) for run in runs)
    slow = max(float(run.speed_m_s[-1]) for run in runs)
    speed = np.linspace(slow, top, POINTS)
    low, high = found.resistance_band_n(speed)
    force = found.resistance_n(speed)
    s = bike.setups
    build = (s.f0_n + s.f1_n_s_m * speed + s.f2_n_s2_m2 * speed**2) * np.ones_like(speed)
    return Answer(
        question="What holds the bike back?",
        say=SAY,
        figures=Figures(
            _figure("drag_area", "Drag area", "area", found.drag_area_m2),
            _figure("rolling_resistance", "Rolling resistance", "ratio", found.rolling_resistance),
            Figure(
                key="force",
                label="Resistance at the fastest speed coasted from",
                value=float(force[-1]),
                reading="force",
                low=float(low[-1]),
                high=float(high[-1]),
                better=-1,
            ),
            Figure(key="speed", label="Fastest speed coasted from", value=top, reading="speed"),
            Figure(key="wind", label="Head wind met going out", value=found.headwind_m_s, reading="speed"),
            Figure(key="grade", label="Grade met going out", value=found.grade, reading="percent"),
            Figure(key="runs", label="Coast-downs used", value=len(runs), reading="number"),
        ),
        tables=(_force_table(speed, force, low, high), runs_table("The coast-downs used", found.rows)),
        series={
            "speed_m_s": speed,
            "force_n": force,
            "low_n": low,
            "high_n": high,
            "build_n": build,
            "runs": tuple((run.starts_at_s + run.time_s, run.speed_m_s, run.direction) for run in runs),
        },
        assumptions=(*found.assumptions, *bike.air.assumptions),
        steps=_steps(bike, found, density),
        notes=(*notes_of(runs), *found.notes),
        cautions=found.cautions,
    )


def _force_table(speed: Any, force: Any, low: Any, high: Any) -> Table:
    rows = tuple(
        {"speed": float(v), "force": float(f), "low": float(a), "high": float(b), "power": float(f * v)}
        for v, f, a, b in list(zip(speed, force, low, high, strict=True))[:: POINTS // 8]
    )
    return Table(
        title="Resistance by speed, level and without wind",
        columns=(
            Column(key="speed", label="Speed", reading="speed"),
            Column(key="force", label="Resistance", reading="force"),
            Column(key="low", label="Low", reading="force"),
            Column(key="high", label="High", reading="force"),
            Column(key="power", label="Power to hold it", reading="power"),
        ),
        rows=rows,
    )


def runs_table(title: str, rows: Sequence[Mapping[str, Any]]) -> Table:
    """The runs that were used; how they scatter stands beside them where the rows tell it."""
    columns = [
        Column(key="run", label="Run", reading="text"),
        Column(key="way", label="Way", reading="text"),
        Column(key="from_m_s", label="From", reading="speed"),
        Column(key="to_m_s", label="To", reading="speed"),
        Column(key="lasts_s", label="Lasts", reading="time"),
        Column(key="scatter_m_s", label="Scatter about the fit", reading="speed"),
    ]
    told = tuple({**row, "way": direction_word(int(row["direction"]))} for row in rows)
    return Table(title=title, columns=tuple(c for c in columns if c.key in told[0]), rows=told)


def _steps(bike: Bike, found: CoastDown, density: float) -> tuple[Step, ...]:
    mass, f0, f2 = float(all_up_kg(bike)), found.f0_n.value, found.f2_n_s2_m2.value
    s = bike.setups
    front, rear = (
        f"{float(j[0]):g}/{float(r[0]):.4f}^2"
        for j, r in ((s.front_inertia_kg_m2, s.front_radius_m), (s.rear_inertia_kg_m2, s.rear_radius_m))
    )
    return (
        Step(
            formula="m_c = m + Jf/rf^2 + Jr/r^2",
            numbers=f"{mass:.1f} + {front} + {rear}",
            result=f"{coasting_kg(bike):.1f} kg",
        ),
        Step(
            formula="m_c dv/dt = -(F0 + F2 (v + w)^2) - m g s, fitted to all runs of both ways together",
            numbers=f"{len(found.rows)} runs",
            result=f"F0 {f0:.2f} N, F2 {f2:.4f} N/(m/s)^2, w {found.headwind_m_s:.2f} m/s, s {100 * found.grade:.2f} %",
        ),
        Step(
            formula="CdA = 2 F2 / rho",
            numbers=f"2 x {f2:.4f} / {density:.4f}",
            result=f"{found.drag_area_m2.value:.4f} m2",
        ),
        Step(
            formula="Crr = F0 / (m g)",
            numbers=f"{f0:.2f} / ({mass:.1f} x {G})",
            result=f"{found.rolling_resistance.value:.5f}",
        ),
    )


def with_road_load(build: Build, found: CoastDown) -> Build:
    """The build with the drag area and the rolling resistance of a coast-down, each with its tolerance (5 to 95 %).

    Raises
    ------
    InputError
        Figures that a build cannot hold, such as a rolling resistance below zero.
    """
    area, rolling = found.drag_area_m2, found.rolling_resistance
    return build.changed(
        {
            "road_load.coast_down": None,
            "road_load.standard": None,
            "road_load.drag_area": f"{area.value:.3f} +- {max(area.high - area.value, 0.001):.3f} m^2",
            "road_load.rolling_resistance": f"{rolling.value:.4f} +- {max(rolling.high - rolling.value, 0.0001):.4f}",
        }
    )
