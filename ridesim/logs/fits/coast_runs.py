"""Coast-downs both ways along a road in one fit: usable runs, braked ones left out, wind and slope taken out."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import Any

import numpy as np

from ridesim.errors import InputError, within
from ridesim.logs.fits.bike import NORMAL_90
from ridesim.logs.fits.coast import SHARED, CoastDown, CoastFit, band, fit
from ridesim.logs.fits.signal import local_polynomial
from ridesim.logs.log import Array, RoadRun, both_ways, counted
from ridesim.units import G, in_both

WINDY_M_S = 3.0
BRAKED_M_S2, BRAKE_WINDOW_S = 0.4, 2.0  # gusts and noise make 0.25 of it at most, a light brake of 2 s 0.55 and more


def coast_down(
    runs: Sequence[RoadRun],
    *,
    mass_kg: float,
    front_inertia_kg_m2: float,
    front_radius_m: float,
    rear_inertia_kg_m2: float,
    rear_radius_m: float,
    air_density_kg_m3: float,
    one_way_wind_m_s: float | None = None,
    one_way_grade: float | None = None,
    seed: int = 1,
    progress: Callable[[float], None] | None = None,
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
    front_inertia_kg_m2, rear_inertia_kg_m2 : float
        Wheels about their axles. [kg m2]
    front_radius_m, rear_radius_m : float
        Rolling. [m]
    air_density_kg_m3 : float
        Of that day; a Measured carries its tolerance. [kg/m3]
    one_way_wind_m_s, one_way_grade : float, optional
        For runs in one direction only: how strong the wind along the road and how steep it may have been. The band is
        widened by both. [m/s], [-]
    seed : int
        For the drawing of runs.
    progress : callable, optional
        Told the share done.

    Returns
    -------
    CoastDown

    Raises
    ------
    InputError
        One direction only and no word on wind and slope; too few or too short runs; runs that are no coast-downs.

    Examples
    --------
    Four runs without noise on a calm, level road, 44 N and 0.36 N/(m/s)^2:

    >>> from ridesim.logs.fits.coast import coasting_speed_m_s
    >>> t = np.arange(0.0, 30.0)
    >>> runs = [RoadRun(time_s=t, speed_m_s=coasting_speed_m_s(t, 30.0, 44.0, 0.36, 262.0), direction=d) for d in (1, -1, 1, -1)]
    >>> found = coast_down(runs, mass_kg=252.0, front_inertia_kg_m2=0.45, front_radius_m=0.3, rear_inertia_kg_m2=0.45,
    ...                    rear_radius_m=0.3, air_density_kg_m3=1.2)
    >>> round(found.f0_n.value, 3), round(found.drag_area_m2.value, 4)
    (44.0, 0.6)
    """
    mass = float(within("mass_kg", mass_kg, 50.0, 1000.0, "kg"))
    front, rear = (
        float(within(n, j, 0.0, 5.0, "kg m2"))
        for n, j in (("front_inertia_kg_m2", front_inertia_kg_m2), ("rear_inertia_kg_m2", rear_inertia_kg_m2))
    )
    rf, rr = (
        float(within(n, r, 0.1, 0.6, "m"))
        for n, r in (("front_radius_m", front_radius_m), ("rear_radius_m", rear_radius_m))
    )
    density = float(within("air_density_kg_m3", air_density_kg_m3, 0.5, 1.6, "kg/m3"))
    runs = _usable(runs)
    coasting = mass + front / rf**2 + rear / rr**2
    paired = both_ways(runs)
    if not paired and (one_way_wind_m_s is None or one_way_grade is None):
        problem = "cannot tell wind and slope from rolling resistance and drag"
        fix = "Ride the same stretch back as well, or say how strong the wind and how steep the road may have been."
        raise InputError("runs", "one direction", problem, fix)
    found, runs, braked = _unbraked(runs, coasting, mass, SHARED if paired else SHARED[:2], seed, progress)
    extra, notes = (
        (np.zeros(2), ())
        if paired
        else _one_way(found, runs, mass, float(one_way_wind_m_s or 0), float(one_way_grade or 0))
    )
    answer = _fitted(
        found,
        runs,
        extra,
        mass,
        density,
        mass_kg,
        air_density_kg_m3,
        (*notes, *braked, *_remarks(found, runs, paired)),
    )
    if progress:
        progress(1.0)
    return answer


def _usable(runs: Sequence[RoadRun]) -> list[RoadRun]:
    runs = counted(runs, 200, "Five each way is a good set.")
    for run in runs:
        if run.time_s.size < 5 or run.time_s[-1] < 3.0:
            got, problem = f"{run.time_s[-1]:.1f} s, {run.time_s.size} samples", "is too short for a coast-down"
            raise InputError(run.name, got, problem, "Coast for 3 s and five samples at least.")
        fell = run.speed_m_s[0] - run.speed_m_s[-1]
        if fell < 2.0:
            problem = "hardly slows down, so it says nothing of the resistance"
            fix = "Cut the run from closing the throttle to braking."
            raise InputError(run.name, in_both("speed", fell), problem, fix)
    return runs


def _unbraked(
    runs: list[RoadRun],
    coasting: float,
    mass: float,
    free: Sequence[str],
    seed: int,
    progress: Callable[[float], None] | None,
) -> tuple[CoastFit, list[RoadRun], tuple[str, ...]]:
    """The fit without the runs in which a brake was touched, one after another, and what is said of them.

    A run stays where without it one way along the road would not be ridden any more; it is named all the same.
    """
    told: list[str] = []
    while True:
        found = fit(runs, coasting, mass, free=free, seed=seed, progress=progress)
        slowed = [_slowed_more(run, found.shared, coasting, mass) for run in runs]
        worst = int(np.argmax([more for more, _ in slowed]))
        more, speed = slowed[worst]
        if more < BRAKED_M_S2:
            return found, runs, tuple(told)
        what = f"{runs[worst].name} slowed by {more:.1f} m/s2 more than coasting at {in_both('speed', speed)}: a brake was touched"
        rest = [run for k, run in enumerate(runs) if k != worst]
        if len(rest) < 2 or {run.direction for run in rest} != {run.direction for run in runs}:
            return found, runs, (*told, f"{what}, or something was in the way; ride that way again")
        told.append(f"{what}, and it is left out")
        runs = rest


def _slowed_more(run: RoadRun, shared: Array, coasting: float, mass: float) -> tuple[float, float]:
    """By how much a run slowed more than the fit says, where it did so most, and at which speed. [m/s2], [m/s]"""
    at = np.arange(run.time_s[0] + 1.0, run.time_s[-1] - 1.0, 0.25)
    if run.time_s.size < 8 or not at.size:
        return 0.0, 0.0
    speed, rate = local_polynomial(run.time_s, run.speed_m_s, at, BRAKE_WINDOW_S)
    f0, f2, wind, grade = shared
    air = speed + run.direction * wind
    more = -rate - (f0 + run.direction * mass * G * grade + f2 * air * np.abs(air)) / coasting
    k = int(np.argmax(more))
    return float(more[k]), float(speed[k])


def _one_way(
    found: CoastFit, runs: Sequence[RoadRun], mass: float, wind: float, slope: float
) -> tuple[Array, tuple[str, ...]]:
    """What a wind and a slope that cannot be told apart may hide in F0 and F2, as standard errors."""
    within("one_way_wind_m_s", wind, 0.0, 15.0, "m/s")
    within("one_way_grade", slope, 0.0, 0.08, "")
    f2 = found.shared[1]
    speed = np.concatenate([run.speed_m_s for run in runs])
    # 2 F2 w v is read as F0 and F2 by least squares over the speeds that were ridden
    design = np.column_stack([np.ones_like(speed), speed**2])
    hidden, *_ = np.linalg.lstsq(design, 2 * f2 * wind * speed + f2 * wind**2, rcond=None)
    extra = np.array([np.hypot(hidden[0], mass * G * slope), abs(hidden[1])]) / NORMAL_90
    return extra, (
        f"ridden one way only: the band is widened for a wind of {in_both('speed', wind)} and a grade of {slope:.1%} either way",
    )


def _fitted(
    found: CoastFit,
    runs: Sequence[RoadRun],
    extra: Array,
    mass: float,
    density: float,
    mass_given: Any,
    density_given: Any,
    notes: tuple[str, ...],
) -> CoastDown:
    f0, f2 = found.shared[:2]
    covariance = found.covariance[:2, :2] + np.diag(extra**2)
    mass_share, density_share = (
        getattr(given, "plus_minus", 0.0) / float(given) / NORMAL_90 for given in (mass_given, density_given)
    )
    covariance = covariance + mass_share**2 * np.outer((f0, f2), (f0, f2))  # both forces go with the mass
    area, rolling = 2 * f2 / density, f0 / (mass * G)
    e0, e2 = np.sqrt(np.diag(covariance))
    alone = np.sqrt(max(covariance[0, 0] - (mass_share * f0) ** 2, 0.0))  # the mass cancels in Crr = F0 / (m g)
    factor = found.factor
    rows = tuple({**run.row(), "scatter_m_s": scatter} for run, scatter in zip(runs, found.by_run_m_s, strict=True))
    return CoastDown(
        f0_n=band(f0, e0, factor),
        f2_n_s2_m2=band(f2, e2, factor),
        drag_area_m2=band(area, float(np.hypot(2 * e2 / density, area * density_share)), factor),
        rolling_resistance=band(rolling, float(alone / (mass * G)), factor),
        headwind_m_s=float(found.shared[2]),
        grade=float(found.shared[3]),
        covariance=covariance,
        factor=factor,
        scatter_m_s=found.scatter_m_s,
        rows=rows,
        assumptions=(
            "rolling resistance taken as the same at every speed; it holds the drag of chain, bearings and gearbox too",
            "wind and slope taken as the same for all runs of the set; gusts go into the band",
            f"band from {found.how}: 5 to 95 %",
        ),
        notes=notes,
    )


def _remarks(found: CoastFit, runs: Sequence[RoadRun], paired: bool) -> tuple[str, ...]:
    notes = []
    if found.shared[0] <= 0:
        notes.append("the rolling resistance came out at or below zero: too much wind, or too narrow a range of speeds")
    if abs(found.shared[2]) > WINDY_M_S:
        notes.append(
            f"the wind along the road was {in_both('speed', abs(found.shared[2]))}: over {in_both('speed', WINDY_M_S)} better wait "
            "for a calmer day"
        )
    if paired and min(sum(run.direction == way for run in runs) for way in (1, -1)) < 2:
        notes.append(
            "fewer than two runs each way: the band rests on the scatter within the runs and on the gusts of a light wind; "
            "two or more each way show what the wind really did"
        )
    if max(found.by_run_m_s) > 3 * float(np.median(found.by_run_m_s)) and len(runs) > 2:
        worst = runs[int(np.argmax(found.by_run_m_s))].name
        notes.append(
            f"{worst} scatters three times as much as the others: braked, a car ahead, or a gust? Consider leaving it out"
        )
    return tuple(notes)
