"""Full-throttle pulls in one gear: wheel power over engine speed with its band, from the fit of all of them at once."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from ridesim.answers.answer import rows_of
from ridesim.environment.power_correction import LARGEST, SMALLEST
from ridesim.errors import InputError
from ridesim.logs.fits.bike import NORMAL_90
from ridesim.logs.fits.pull_fit import DayOfPulls, mixed
from ridesim.logs.fits.pull_ride import SLOPE, WIND_M_S, PulledBike, Pulls
from ridesim.logs.log import CAUTIONS, Array, RoadRun, both_ways, counted, frozen
from ridesim.units import either, in_both, rad_s

STEP_RAD_S = float(rad_s(250.0))
FEWEST, LEAST_RISE_M_S = 5, 2.0
WIDEST_SHARE = 0.10  # of the power: a wider half band is told


@dataclass(frozen=True, kw_only=True)
class WheelCurve:
    """Power at the wheel over engine speed, corrected as told, with its 5 to 95 % band.

    Attributes
    ----------
    engine_speed_rad_s, speed_m_s : array (n,)
        Every 250 rev/min, and the road speed there. [rad/s], [m/s]
    power_w, low_w, high_w : array (n,)
        [W]
    torque_n_m : array (n,)
        Power over engine speed, the wheel's torque referred to the crank. [N m]
    smoothing_s, smoothing_low_s, smoothing_high_s : float
        Width of what the receiver smooths over, as the fit found it, with its limits. [s]
    left_out : int
        Samples far from what all others say.
    correction, standard : float, str
        Standard power over that of the day [-], and the name of the standard.
    rows, assumptions, notes, cautions : tuple
        The curve row by row, and what is said of it.
    """

    engine_speed_rad_s: Array
    speed_m_s: Array
    power_w: Array
    low_w: Array
    high_w: Array
    torque_n_m: Array
    smoothing_s: float
    smoothing_low_s: float
    smoothing_high_s: float
    left_out: int
    correction: float
    standard: str
    rows: tuple[Mapping[str, Any], ...]
    assumptions: tuple[str, ...]
    notes: tuple[str, ...]
    cautions: tuple[str, ...] = CAUTIONS


@dataclass(frozen=True, kw_only=True)
class FittedPulls:
    """The fit behind a curve: what a comparison takes up again. per brings road speed to engine speed. [rad/m]"""

    day: DayOfPulls
    per: float
    correction: float
    standard: str

    def engine_speeds(self) -> Array:
        """Every 250 rev/min between the opened throttle and where it shuts. [rad/s]"""
        low, high = (end * self.per / STEP_RAD_S for end in self.day.span())
        grid = STEP_RAD_S * np.arange(np.ceil(low), np.floor(high) + 1)
        if grid.size < 3:
            problem = "go through too little of the range of engine speeds"
            fix = "Start every pull from the same low engine speed and hold it to the same high one."
            raise InputError("runs", None, problem, fix)
        return grid


def fitted_pulls(
    runs: Sequence[RoadRun],
    bike: PulledBike,
    *,
    per_rad_m: float,
    correction: float = 1.0,
    standard: str,
    progress: Callable[[float], None] | None = None,
) -> FittedPulls:
    """Fit all pulls of a day forwards: force at knots, bike, throttle and receiver against the speeds that were logged.

    Parameters
    ----------
    runs : sequence of RoadRun
        Full throttle in one gear with what surrounds it, at most 100; see `runs_of`.
    bike : PulledBike
        Masses and road load in that gear and air, with what each may be off.
    per_rad_m : float
        i / r, crank turns per road. [rad/m]
    correction : float
        Standard power over that of the day. [-]
    standard : str
        Its name.
    progress : callable, optional
        Told the share done.

    Returns
    -------
    FittedPulls

    Raises
    ------
    InputError
        Too few samples, or runs that are no pulls.
    """
    runs = counted(runs, 100, "Four each way is a good set.")
    for run in runs:
        opens, shuts = run.throttle_s or (float(run.time_s[0]), float(run.time_s[-1]))
        count = int(np.sum((run.time_s >= opens) & (run.time_s <= shuts + 0.5)))
        if count < FEWEST:
            problem = f"are too few for a pull: {FEWEST} or more are needed"
            fix = "Take a higher gear, or a receiver that logs more often."
            raise InputError(run.name, f"{count} samples", problem, fix)
        begin, end = np.interp((opens, shuts), run.time_s, run.speed_m_s)
        if end - begin < LEAST_RISE_M_S:
            problem = "hardly gathers speed, so it is no pull"
            fix = "Cut the run from opening the throttle to closing it."
            raise InputError(run.name, in_both("speed", float(end - begin)), problem, fix)
    day = DayOfPulls(Pulls(runs, bike), progress)
    return FittedPulls(day=day, per=per_rad_m, correction=correction, standard=standard)


def wheel_curve(fitted: FittedPulls, runs: Sequence[RoadRun]) -> WheelCurve:
    """The curve that the fit of some runs gives, averaged over all receivers that may have been it.

    What the smoothing leaves open, gusts, slope, wind, mass and road load are in the band.
    """
    day, factor = fitted.day, fitted.correction
    engine = fitted.engine_speeds()
    speed = engine / fitted.per
    power, covariance = mixed(*day.parts(speed), day.share)
    power, half = factor * power, factor * NORMAL_90 * np.sqrt(np.diag(covariance))
    low, middle, high = day.widths_s()
    curve = {"engine_speed_rad_s": engine, "speed_m_s": speed, "power_w": power}
    curve |= {"low_w": power - half, "high_w": power + half, "torque_n_m": power / engine}
    kept: dict[str, Any] = {name: frozen(values) for name, values in curve.items()}
    return WheelCurve(
        **kept,
        smoothing_s=middle,
        smoothing_low_s=low,
        smoothing_high_s=high,
        left_out=day.left_out,
        correction=factor,
        standard=fitted.standard,
        rows=rows_of(curve),
        assumptions=(
            f"the receiver smooths the speed over {middle:.2f} s ({low:.2f} to {high:.2f} s), fitted with the force from how "
            "sharply the throttle opens and shuts",
            "band from the fit: noise, gusts, wind, slope, smoothing, and what the build says of masses and road load; 5 to 95 %",
            "no slip of the tire on the road is taken off",
        ),
        notes=_notes(fitted, runs, half / power),
    )


def _notes(fitted: FittedPulls, runs: Sequence[RoadRun], half: Array) -> tuple[str, ...]:
    notes: list[str] = []
    if not both_ways(runs):
        notes.append(
            "ridden one way only: wind (" + either("speed", WIND_M_S) + f") and slope ({100 * SLOPE:.1f} %, each one "
            "standard deviation) are in the band; ride back the same stretch as well"
        )
    if not SMALLEST <= fitted.correction <= LARGEST:
        notes.append(
            f"the correction of {fitted.correction:.3f} ({fitted.standard}) is outside the {SMALLEST:g} to {LARGEST:g} it is meant "
            "for: take the power as a guide"
        )
    if fitted.day.left_out:
        notes.append(
            f"{fitted.day.left_out} of {fitted.day.samples} samples lie far from what all others say and are left out"
        )
    bare = [run.name for run in runs if not run.surrounded]
    if bare:
        notes.append(
            f"{', '.join(bare)}: the log lacks what goes before the throttle opens or after it shuts, which tells most about the "
            "receiver; let it run on"
        )
    if (widest := float(np.max(half))) > WIDEST_SHARE:
        notes.append(
            f"the band is up to {100 * widest:.0f} % of the power to each side: more pulls each way, or a faster receiver"
        )
    return tuple(notes)
