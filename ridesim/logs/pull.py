"""Pulls in one gear beside a build: the curve at the wheel with its band, and what changed from one day to another."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np

from ridesim.answers import Answer, Figure, Figures, Step, Table
from ridesim.answers.answer import ValueOf, table_from, table_of
from ridesim.answers.solved import ORDINALS
from ridesim.bike import Bike
from ridesim.environment.power_correction import AS_MEASURED, correction_factor
from ridesim.errors import InputError
from ridesim.logs.coast_down import runs_table
from ridesim.logs.fits.bike import NORMAL_90, HeldBack, all_up_kg, gear_of, resistance_of
from ridesim.logs.fits.change import CurveChange, change_between
from ridesim.logs.fits.pull import FittedPulls, WheelCurve, fitted_pulls, wheel_curve
from ridesim.logs.fits.pull_ride import PulledBike
from ridesim.logs.log import Array, RoadRun, notes_of
from ridesim.units import rpm

if TYPE_CHECKING:
    from ridesim.buildfile.io import Build

PULL_FROM, PULL_TO = 0.42, 0.90  # of the rev limit
STANDARD = "SAE J1349"
LEAST_MASS_ERROR_KG = 0.1  # so that a build without tolerances can still be asked what a kilogram does
VERDICTS = {1: "more, proved", 0: "within the noise", -1: "less, proved"}


@dataclass(frozen=True, kw_only=True)
class Pulled:
    """Some pulls of one day, worked out.

    Attributes
    ----------
    found : WheelCurve
        Power at the wheel over engine speed, with its band.
    fitted : FittedPulls
        The fit behind it, which a comparison takes up again.
    runs : tuple of RoadRun
    bike : Bike
        As it was ridden, in the air of that day.
    answer : Answer
    """

    found: WheelCurve
    fitted: FittedPulls
    runs: tuple[RoadRun, ...]
    bike: Bike
    answer: Answer


@dataclass(frozen=True, kw_only=True)
class Compared:
    """What changed between two curves, and the answer in words."""

    found: CurveChange
    answer: Answer


def pull_speeds(bike: Bike, gear: int) -> tuple[float, float]:
    """(from, to) to begin with: 42 to 90 % of the rev limit in a gear counted from 1,  v = omega r / i. [m/s]

    Examples
    --------
    Third gear of an invented single, in km/h:

    >>> import ridesim as rs
    >>> [round(3.6 * speed, 1) for speed in pull_speeds(rs.demo("coast-single"), 3)]
    [39.4, 84.4]
    """
    per = float(bike.setups.meters_per_radian[0, gear - 1]) * bike.rev_limit_rad_s
    return PULL_FROM * per, PULL_TO * per


def pulled(
    bike: Bike,
    runs: Sequence[RoadRun],
    *,
    gear: int,
    standard: str = STANDARD,
    progress: Callable[[float], None] | None = None,
) -> Pulled:
    """Power at the wheel from full-throttle pulls in one gear.

    Parameters
    ----------
    bike : Bike
        As it was ridden, in the air of that day.
    runs : sequence of RoadRun
    gear : int
        From 1.
    standard : str
        What the power is corrected to: SAE J1349, ISO 1585, DIN 70020, or "as measured".
    progress : callable, optional
        Told the share done, 0 to 1.

    Returns
    -------
    Pulled

    Raises
    ------
    InputError
        A gear that the build has not, or runs that are no pulls.
    """
    gear_of(bike, gear)
    factor = 1.0 if standard == AS_MEASURED else float(correction_factor(standard, bike.air))
    held = resistance_of(bike)
    fitted = fitted_pulls(
        runs,
        pulled_bike(bike, gear, held),
        per_rad_m=1.0 / float(bike.setups.meters_per_radian[0, gear - 1]),
        correction=factor,
        standard=standard,
        progress=progress,
    )
    found = wheel_curve(fitted, runs)
    answer = _answer(bike, runs, gear, found, held)
    return Pulled(found=found, fitted=fitted, runs=tuple(runs), bike=bike, answer=answer)


def pulled_bike(bike: Bike, gear: int, held: HeldBack) -> PulledBike:
    """What the build lends to the fit of its pulls in a gear counted from 1, each with what it may be off.

    Examples
    --------
    In first the turning engine adds far more than in fifth [kg]:

    >>> import ridesim as rs
    >>> bike = rs.demo("coast-single")
    >>> [round(pulled_bike(bike, gear, resistance_of(bike)).rotating_kg, 1) for gear in (1, 5)]
    [82.5, 17.8]
    """
    mass = all_up_kg(bike)
    return PulledBike(
        mass_kg=float(mass),
        mass_error_kg=max(mass.plus_minus / NORMAL_90, LEAST_MASS_ERROR_KG),
        rotating_kg=float(bike.setups.effective_mass[0, gear - 1]) - float(mass),
        f0_n=held.f0_n,
        f2_n_s2_m2=held.f2_n_s2_m2,
        against_root=np.sqrt(held.covariance),  # independent: a diagonal
    )


def _answer(bike: Bike, runs: Sequence[RoadRun], gear: int, found: WheelCurve, held: HeldBack) -> Answer:
    engine, power = found.engine_speed_rad_s, np.array([found.power_w, found.low_w, found.high_w])
    peak, twist = int(np.argmax(found.power_w)), int(np.argmax(found.torque_n_m))
    corrected = "as measured" if found.standard == AS_MEASURED else f"corrected to {found.standard}"
    return Answer(
        question="What reaches the rear wheel?",
        say=(
            *(f"In {ORDINALS[gear - 1]} the rear wheel gets up to ", ValueOf("power")),
            *(" at ", ValueOf("power_at"), f", {corrected}."),
        ),
        figures=Figures(
            _best("power", "Highest power at the wheel", "power", power, peak),
            _at("power_at", "Engine speed there", float(engine[peak])),
            _best("torque", "Highest torque, at the wheel but referred to the crank", "torque", power / engine, twist),
            _at("torque_at", "Engine speed there", float(engine[twist])),
            _at("from", "Measured from", float(engine[0])),
            _at("to", "Measured to", float(engine[-1])),
            Figure(
                "smoothing",
                "The receiver smooths over",
                found.smoothing_s,
                "time",
                low=found.smoothing_low_s,
                high=found.smoothing_high_s,
            ),
            Figure("runs", "Pulls used", len(runs), "number"),
        ),
        tables=(_curve_table(found), runs_table("The pulls used", [run.row() for run in runs])),
        series={
            "engine_speed_rad_s": engine,
            "power_w": power[0],
            "low_w": power[1],
            "high_w": power[2],
            "runs": tuple((run.starts_at_s + run.time_s, run.speed_m_s, run.direction) for run in runs),
        },
        assumptions=(*found.assumptions, *held.assumptions, *bike.air.assumptions),
        steps=_steps(bike, gear, found, held),
        notes=(*notes_of(runs), *found.notes),
        cautions=found.cautions,
    )


def _best(key: str, label: str, reading: str, banded: Array, place: int) -> Figure:
    """The figure at a place of a curve with its band, a row each."""
    value, low, high = (float(v) for v in banded[:, place])
    return Figure(key, label, value, reading, low=low, high=high, better=1)


def _at(key: str, label: str, value: float) -> Figure:
    return Figure(key, label, value, "engine speed")


def _curve_table(found: WheelCurve) -> Table:
    return table_from(
        "Power at the wheel by engine speed",
        found.rows,
        ("engine_speed_rad_s", "Engine speed", "engine speed"),
        ("speed_m_s", "Road speed", "speed"),
        ("power_w", "Power at the wheel", "power"),
        ("low_w", "Low", "power"),
        ("high_w", "High", "power"),
        ("torque_n_m", "Torque", "torque"),
    )


def _steps(bike: Bike, gear: int, found: WheelCurve, held: HeldBack) -> tuple[Step, ...]:
    ratio, radius = float(bike.setups.ratios[0, gear - 1]), float(bike.setups.rear_radius_m[0])
    mass = float(bike.setups.effective_mass[0, gear - 1])
    return (
        Step("omega / v = i / r", f"{ratio:.3f} / {radius:.4f}", f"{ratio / radius:.3f} rad/m"),
        Step(
            "m_k dv/dt = F(v) - m g s - F0 - F2 (v + w)^2, ridden forwards, smoothed as by the receiver, fitted to all speeds logged",
            f"m_k {mass:.1f} kg, F0 {held.f0_n:.1f} N, F2 {held.f2_n_s2_m2:.4f} N/(m/s)^2, {len(found.rows)} places",
            f"smoothed over {found.smoothing_s:.2f} s",
        ),
        Step(
            "P = F v",
            "F at its knots, the mean of all receivers that may have been it",
            f"up to {float(np.max(found.power_w)) / found.correction:.0f} W on the day",
        ),
        Step(
            "standard power = power of the day x cf",
            f"cf {found.correction:.4f} ({found.standard})",
            f"up to {float(np.max(found.power_w)):.0f} W",
        ),
    )


def compared(before: Pulled, after: Pulled, *, same_receiver: bool = False) -> Compared:
    """Where the power changed between two days of pulls in the same gear, corrected alike, and where it is within the noise.

    Parameters
    ----------
    before, after : Pulled
    same_receiver : bool
        That it was the same phone in the same place both times: what its smoothing leaves open falls out of the difference.

    Returns
    -------
    Compared

    Raises
    ------
    InputError
        Corrected differently, or no engine speeds in common; days that cannot have had one receiver.
    """
    found = change_between(before.fitted, after.fitted, same_receiver=same_receiver)
    return Compared(found=found, answer=_change_answer(before, after, found))


def _change_answer(before: Pulled, after: Pulled, found: CurveChange) -> Answer:
    most = int(np.argmax(np.abs(found.change_w)))
    shared = (*before.answer.notes, *after.answer.notes, *_least_told(found))
    return Answer(
        question="Did the change do anything?",
        say=(
            *(f"{found.sentence} The largest difference is ", ValueOf("change")),
            *(" at ", ValueOf("change_at"), "."),
        ),
        figures=Figures(
            _best("change", "Largest difference", "power", np.array([found.change_w, found.low_w, found.high_w]), most),
            _at("change_at", "Engine speed there", float(found.engine_speed_rad_s[most])),
            Figure(
                "mean",
                "Mean difference over the curve, proved where its band keeps off zero",
                found.overall,
                "percent",
                low=found.overall_low,
                high=found.overall_high,
                better=1,
            ),
        ),
        tables=(_segment_table(found), _change_table(found)),
        series={
            "engine_speed_rad_s": found.engine_speed_rad_s,
            "change_w": found.change_w,
            "low_w": found.sure_low_w,
            "high_w": found.sure_high_w,
        },
        assumptions=tuple(dict.fromkeys((*found.assumptions, *before.answer.assumptions, *after.answer.assumptions))),
        steps=(
            Step(
                "change = power after - power before over all pairs of receivers, proved where its band keeps off zero",
                f"{len(before.runs)} pulls before, {len(after.runs)} after",
                f"{sum(v != 0 for v in found.verdict)} of {len(found.verdict)} places proved",
            ),
        ),
        notes=tuple(dict.fromkeys(shared)),
        cautions=after.found.cautions,
    )


def _least_told(found: CurveChange) -> tuple[str, ...]:
    """How small a difference these pulls can prove, where they leave something open."""
    if all(found.verdict):
        return ()
    return (
        f"these pulls prove differences from about {100 * (found.least_share):.0f} % of the power on; more pulls each way prove smaller ones",
    )


def _segment_table(found: CurveChange) -> Table:
    return table_from(
        "Segment by segment",
        [{**row, "word": VERDICTS[int(row["verdict"])]} for row in found.segments],
        ("from_rad_s", "From", "engine speed"),
        ("to_rad_s", "To", "engine speed"),
        ("mean_change_w", "Mean difference", "power"),
        ("word", "Verdict", "text"),
    )


def _change_table(found: CurveChange) -> Table:
    return table_of(
        "The difference by engine speed, with a band that holds for all of them at once",
        ("speed", "Engine speed", "engine speed", found.engine_speed_rad_s),
        ("change", "Difference", "power", found.change_w),
        ("low", "Low", "power", found.sure_low_w),
        ("high", "High", "power", found.sure_high_w),
        ("word", "Verdict", "text", [VERDICTS[v] for v in found.verdict]),
    )


def with_wheel_tune(build: Build, name: str, done: Pulled) -> Build:
    """The build with the curve of some pulls as a tune, measured at the wheel; a tune of that name is written anew.

    A curve that was not corrected takes along the air it was ridden in. Its error is the widest half band, 30 % at most.

    Raises
    ------
    InputError
        A name that is not 1 to 40 letters, digits, - and _.
    """
    import tomlkit

    key, curve, air = name.strip(), done.found, done.bike.air
    if not key or len(key) > 40 or any(not (c.isalnum() or c in "_-") for c in key) or not key.isascii():
        raise InputError("tune", name, "is not a usable name", "Use letters, digits, - and _.")
    error = float(np.max((curve.high_w - curve.low_w) / (2 * curve.power_w)))
    tune: dict[str, Any] = {"measured_at": "wheel", "standard": curve.standard}
    if curve.standard == AS_MEASURED:
        tune |= {"temperature": f"{air.temperature_k:.2f} K", "pressure": f"{air.pressure_pa:.0f} Pa"}
        tune |= {"humidity": round(100 * air.relative_humidity)}
    pairs = zip(rpm(curve.engine_speed_rad_s), curve.torque_n_m, strict=True)
    tune |= {
        "curve_error": f"{min(100 * error, 30.0):.1f} %",
        "points": [[round(float(speed)), round(float(torque), 2)] for speed, torque in pairs],
        "points_are": "N*m",
    }
    document: Any = tomlkit.parse(build.text)
    table = tomlkit.item(tune)
    table.add(tomlkit.nl())
    document["tune"][key] = table
    return build.rewritten(tomlkit.dumps(document))
