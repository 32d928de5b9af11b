"""Coast-downs both ways along a road: drag area and rolling resistance with their bands, wind and slope taken out."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np

from ridesim.answers import Answer, Figure, Figures, Step, Table
from ridesim.answers.answer import ValueOf, table_from, table_of
from ridesim.bike import Bike
from ridesim.errors import InputError, within
from ridesim.logs.fits.bike import NORMAL_90, air_density, all_up_kg, coasting_kg
from ridesim.logs.fits.coast import Band, CoastDown, CoastFit, Coasts, band
from ridesim.logs.fits.signal import local_polynomial
from ridesim.logs.log import Array, RoadRun, both_ways, counted, notes_of
from ridesim.units import G, either

if TYPE_CHECKING:
    from ridesim.buildfile.io import Build

WINDY_M_S = 3.0
BRAKED_M_S2, BRAKE_WINDOW_S = 0.4, 2.0  # gusts and noise make 0.25 of it at most, a light brake of 2 s 0.55 and more
POINTS = 40
SAY = (
    *("The coast-downs give a drag area of ", ValueOf("drag_area")),
    *(" and a rolling resistance of ", ValueOf("rolling_resistance"), ": at ", ValueOf("speed")),
    *(" the bike is held back by ", ValueOf("force"), "."),
)


def coast_down(
    runs: Sequence[RoadRun],
    *,
    mass_kg: float,
    wheels_kg: float,
    air_density_kg_m3: float,
    one_way_wind_m_s: float | None = None,
    one_way_grade: float | None = None,
    seed: int = 1,
) -> CoastDown:
    """Fit m_c dv/dt = -(F0 + F2 v^2) to all runs of both directions together.

    Runs of direction 1 meet a head wind w and a grade s, runs of direction -1 their opposites; both are fitted and taken
    out. m_c = m + Jf/rf^2 + Jr/r^2: the wheels turn with the road, the crank does not (neutral, or clutch pulled). A
    constant delay of the receiver changes nothing, and smoothing of its own under a second next to nothing, because the
    speed itself is fitted and never differentiated.

    Parameters
    ----------
    runs : sequence of RoadRun
        Cut from closing the throttle to braking, at most 200.
    mass_kg : float
        Bike, rider in gear, luggage. A Measured carries its tolerance into the band. [kg]
    wheels_kg : float
        What the turning wheels add, Jf/rf^2 + Jr/r^2. [kg]
    air_density_kg_m3 : float
        Of that day; a Measured carries its tolerance. [kg/m3]
    one_way_wind_m_s, one_way_grade : float, optional
        For runs in one direction only: how strong the wind along the road and how steep it may have been. The band is
        widened by both. [m/s], [-]
    seed : int
        For the drawing of runs.

    Returns
    -------
    CoastDown

    Raises
    ------
    InputError
        One direction only and no word on wind and slope; too many runs; runs that are no coast-downs.

    Examples
    --------
    Four runs without noise on a calm, level road, 44 N and 0.36 N/(m/s)^2:

    >>> from ridesim.logs.fits.coast import coasting_speed_m_s
    >>> t = np.arange(0.0, 30.0)
    >>> runs = [RoadRun(time_s=t, speed_m_s=coasting_speed_m_s(t, 30.0, 44.0, 0.36, 262.0), direction=d) for d in (1, -1, 1, -1)]
    >>> found = coast_down(runs, mass_kg=252.0, wheels_kg=10.0, air_density_kg_m3=1.2)
    >>> round(found.f0_n.value, 3), round(found.drag_area_m2.value, 4)
    (44.0, 0.6)
    """
    mass, wheels, density = float(mass_kg), float(wheels_kg), float(air_density_kg_m3)
    runs = counted(runs, 200, "Five each way is a good set.")
    paired = both_ways(runs)
    if not paired and (one_way_wind_m_s is None or one_way_grade is None):
        problem = "cannot tell wind and slope from rolling resistance and drag"
        fix = "Ride the same stretch back as well, or say how strong the wind and how steep the road may have been."
        raise InputError("runs", "one direction", problem, fix)
    of, found, braked = _unbraked(runs, mass, wheels, 4 if paired else 2, seed)
    extra, notes = np.zeros(2), braked
    if not paired:
        extra, told = _one_way(of, found, float(one_way_wind_m_s or 0), float(one_way_grade or 0))
        notes = (told, *braked)
    f0, f2, wind, grade = found.shared
    mass_share, density_share = (
        getattr(given, "plus_minus", 0.0) / float(given) / NORMAL_90 for given in (mass_kg, air_density_kg_m3)
    )
    alone = found.covariance[:2, :2] + np.diag(extra**2)
    covariance = alone + mass_share**2 * np.outer((f0, f2), (f0, f2))  # both forces go with the mass
    area, rolling = 2 * f2 / density, f0 / (mass * G)
    e0, e2 = np.sqrt(np.diag(covariance))
    by_run = [float(np.sqrt(np.mean(left**2))) for left in of.by_run(found.residual)]
    return CoastDown(
        f0_n=band(f0, e0, found.factor),
        f2_n_s2_m2=band(f2, e2, found.factor),
        drag_area_m2=band(area, float(np.hypot(2 * e2 / density, area * density_share)), found.factor),
        # the mass cancels in Crr = F0 / (m g)
        rolling_resistance=band(rolling, float(np.sqrt(alone[0, 0]) / (mass * G)), found.factor),
        headwind_m_s=float(wind),
        grade=float(grade),
        covariance=covariance,
        factor=found.factor,
        scatter_m_s=float(np.sqrt(np.mean(found.residual**2))),
        rows=tuple({**run.row(), "scatter_m_s": scatter} for run, scatter in zip(of.runs, by_run, strict=True)),
        assumptions=(
            "rolling resistance taken as the same at every speed; it holds the drag of chain, bearings and gearbox too",
            "wind and slope taken as the same for all runs of the set; gusts go into the band",
            "band from " + found.how + ": 5 to 95 %",
        ),
        notes=(*notes, *_remarks(of.runs, f0, wind, by_run)),
    )


def _unbraked(
    runs: list[RoadRun], mass_kg: float, wheels_kg: float, shared: int, seed: int
) -> tuple[Coasts, CoastFit, tuple[str, ...]]:
    """The fit without the runs in which a brake was touched, one after another, and what is said of them.

    A run stays where without it one way along the road would not be ridden any more; it is named all the same.
    """
    told: list[str] = []
    while True:
        of = Coasts(runs, mass_kg, wheels_kg, shared)
        found = of.fit(seed)
        slowed = [_slowed_more(run, found.shared, of) for run in runs]
        worst = int(np.argmax([more for more, _ in slowed]))
        more, speed = slowed[worst]
        if more < BRAKED_M_S2:
            return of, found, tuple(told)
        what = f"{runs[worst].name} slowed by " + either("acceleration", more) + " more than coasting at "
        what += either("speed", speed) + ": a brake was touched"
        rest = [run for k, run in enumerate(runs) if k != worst]
        if len(rest) < 2 or {run.direction for run in rest} != {run.direction for run in runs}:
            return of, found, (*told, what + ", or something was in the way; ride that way again")
        told.append(what + ", and it is left out")
        runs = rest


def _slowed_more(run: RoadRun, shared: Array, of: Coasts) -> tuple[float, float]:
    """By how much a run slowed more than the fit says, where it did so most, and at which speed. [m/s2], [m/s]"""
    at = np.arange(run.time_s[0] + 1.0, run.time_s[-1] - 1.0, 0.25)
    if run.time_s.size < 8 or not at.size:
        return 0.0, 0.0
    speed, rate = local_polynomial(run.time_s, run.speed_m_s, at, BRAKE_WINDOW_S)
    f0, f2, wind, grade = shared
    air = speed + run.direction * wind
    more = -rate - (f0 + run.direction * of.weight * grade + f2 * air * np.abs(air)) / of.coasting
    k = int(np.argmax(more))
    return float(more[k]), float(speed[k])


def _one_way(of: Coasts, found: CoastFit, wind: float, slope: float) -> tuple[Array, str]:
    """What a wind and a slope that cannot be told apart may hide in F0 and F2, as standard errors."""
    within("one_way_wind_m_s", wind, 0.0, 15.0, "m/s")
    within("one_way_grade", slope, 0.0, 0.08, "")
    f2 = found.shared[1]
    speed = np.concatenate([run.speed_m_s for run in of.runs])
    # 2 F2 w v is read as F0 and F2 by least squares over the speeds that were ridden
    design = np.column_stack([np.ones_like(speed), speed**2])
    hidden, *_ = np.linalg.lstsq(design, 2 * f2 * wind * speed + f2 * wind**2, rcond=None)
    extra = np.array([np.hypot(hidden[0], of.weight * slope), abs(hidden[1])]) / NORMAL_90
    wider = "ridden one way only: the band is widened for a wind of " + either("speed", wind)
    return extra, wider + f" and a grade of {100 * slope:.1f} % either way"


def _remarks(runs: Sequence[RoadRun], f0: float, wind: float, by_run: Sequence[float]) -> tuple[str, ...]:
    notes = []
    if f0 <= 0:
        notes.append("the rolling resistance came out at or below zero: too much wind, or too narrow a range of speeds")
    if abs(wind) > WINDY_M_S:
        blew, most = either("speed", abs(wind)), either("speed", WINDY_M_S)
        notes.append("the wind along the road was " + blew + ": over " + most + " better wait for a calmer day")
    if both_ways(runs) and min(sum(run.direction == way for run in runs) for way in (1, -1)) < 2:
        notes.append(
            "fewer than two runs each way: the band rests on the scatter within the runs and on the gusts of a light wind; "
            "two or more each way show what the wind really did"
        )
    if max(by_run) > 3 * float(np.median(by_run)) and len(runs) > 2:
        worst = runs[int(np.argmax(by_run))].name
        notes.append(
            f"{worst} scatters three times as much as the others: braked, a car ahead, or a gust? Consider leaving it out"
        )
    return tuple(notes)


@dataclass(frozen=True, kw_only=True)
class Coasted:
    """What the coast-downs gave, and the answer in words."""

    found: CoastDown
    answer: Answer


def coasted(
    bike: Bike,
    runs: Sequence[RoadRun],
    *,
    wind_m_s: float | None = None,
    grade: float | None = None,
) -> Coasted:
    """coast_down with what the bike lends it, in the air of that day, and the answer in words.

    Parameters
    ----------
    bike : Bike
        Its masses, wheels and air, each with its tolerance.
    runs : sequence of RoadRun
        Cut from closing the throttle to braking, at most 200; `runs_of` finds them.
    wind_m_s, grade : float, optional
        For runs one way only: how strong the wind along the road and how steep it may have been. [m/s], [-]

    Returns
    -------
    Coasted

    Raises
    ------
    InputError
        As coast_down does.
    """
    density, mass = air_density(bike), all_up_kg(bike)
    found = coast_down(
        runs,
        mass_kg=mass,
        wheels_kg=coasting_kg(bike) - mass,
        air_density_kg_m3=density,
        one_way_wind_m_s=wind_m_s,
        one_way_grade=grade,
    )
    return Coasted(found=found, answer=_answer(bike, runs, found, float(density)))


def _figure(key: str, label: str, reading: str, band: Band, better: int = -1) -> Figure:
    return Figure(key, label, band.value, reading, low=band.low, high=band.high, better=better)


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
                "force",
                "Resistance at the fastest speed coasted from",
                float(force[-1]),
                "force",
                low=float(low[-1]),
                high=float(high[-1]),
                better=-1,
            ),
            Figure("speed", "Fastest speed coasted from", top, "speed"),
            Figure("wind", "Head wind met going out", found.headwind_m_s, "speed"),
            Figure("grade", "Grade met going out", found.grade, "percent"),
            Figure("runs", "Coast-downs used", len(runs), "number"),
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
    v, f, a, b = (values[:: POINTS // 8] for values in (speed, force, low, high))
    return table_of(
        "Resistance by speed, level and without wind",
        ("speed", "Speed", "speed", v),
        ("force", "Resistance", "force", f),
        ("low", "Low", "force", a),
        ("high", "High", "force", b),
        ("power", "Power to hold it", "power", f * v),
    )


def runs_table(title: str, rows: Sequence[Mapping[str, Any]]) -> Table:
    """The runs that were used; how they scatter stands beside them where the rows tell it."""
    columns = (
        ("run", "Run", "text"),
        ("way", "Way", "text"),
        ("from_m_s", "From", "speed"),
        ("to_m_s", "To", "speed"),
        ("lasts_s", "Lasts", "time"),
        ("scatter_m_s", "Scatter about the fit", "speed"),
    )
    told = [{**row, "way": "out" if row["direction"] > 0 else "back"} for row in rows]
    return table_from(title, told, *(column for column in columns if column[0] in told[0]))


def _steps(bike: Bike, found: CoastDown, density: float) -> tuple[Step, ...]:
    mass, f0, f2 = float(all_up_kg(bike)), found.f0_n.value, found.f2_n_s2_m2.value
    s = bike.setups
    front, rear = (
        f"{float(j[0]):g}/{float(r[0]):.4f}^2"
        for j, r in ((s.front_inertia_kg_m2, s.front_radius_m), (s.rear_inertia_kg_m2, s.rear_radius_m))
    )
    return (
        Step("m_c = m + Jf/rf^2 + Jr/r^2", f"{mass:.1f} + {front} + {rear}", f"{coasting_kg(bike):.1f} kg"),
        Step(
            "m_c dv/dt = -(F0 + F2 (v + w)^2) - m g s, fitted to all runs of both ways together",
            f"{len(found.rows)} runs",
            f"F0 {f0:.2f} N, F2 {f2:.4f} N/(m/s)^2, w {found.headwind_m_s:.2f} m/s, s {100 * found.grade:.2f} %",
        ),
        Step("CdA = 2 F2 / rho", f"2 x {f2:.4f} / {density:.4f}", f"{found.drag_area_m2.value:.4f} m2"),
        Step("Crr = F0 / (m g)", f"{f0:.2f} / ({mass:.1f} x {G})", f"{found.rolling_resistance.value:.5f}"),
    )


def with_road_load(build: Build, found: CoastDown) -> Build:
    """The build with the drag area and the rolling resistance of a coast-down, each with its tolerance (5 to 95 %).

    Whatever road load stood there gives way; comments of the file stay.

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
