"""The power sheet of a tune, the air of the ride, what that makes of the sheet, and what the tolerances of both leave open."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from functools import partial
from math import inf
from typing import Any

from ridesim import reference
from ridesim.bike.defaults import Taken
from ridesim.buildfile.schema import BuildRecord, Tune, torque_or_power
from ridesim.components.power_curve import PowerCurve, curve_from_points
from ridesim.environment.air import HIGHEST_M, LOWEST_M, Air, air
from ridesim.environment.power_correction import RideDay, ride_day_factor
from ridesim.errors import InputError
from ridesim.uncertainty.tolerances import Tolerance, through
from ridesim.units import quantity, rpm

_ENDS = {"altitude_m": (LOWEST_M, HIGHEST_M), "relative_humidity": (0.0, 1.0)}  # where an air ends by nature


@dataclass(frozen=True, kw_only=True)
class _Sheet:
    """What a power sheet was carried to, or the air it was measured in."""

    standard: str
    measured: dict[str, float] | None


@dataclass(frozen=True, kw_only=True)
class RideAir:
    """Air, the share of the sheet's power it leaves, and the tolerances about both."""

    air: Air
    ride_day: RideDay
    tolerances: tuple[Tolerance, ...]


def air_figures(record: BuildRecord, taken: Taken) -> dict[str, Any]:
    """What the air of the ride is worked out from, as `air` takes it; a humidity that is not given is assumed, and told.

    >>> import ridesim as rs
    >>> record = rs.demo("plateau-single").record
    >>> air_figures(record, Taken(record))["altitude_m"] > 1500
    True
    """
    given = record.air
    return {
        "altitude_m": float(given.altitude),
        "temperature_k": None if given.temperature is None else float(given.temperature),
        "relative_humidity": float(taken.value("air.humidity", "ratio")),
        "pressure_pa": None if given.pressure is None else float(given.pressure),
    }


def day_of(record: BuildRecord, tune: Tune, name: str, figures: dict[str, Any], taken: Taken) -> RideAir:
    """The day of a ride with a tune.

    Parameters
    ----------
    record : BuildRecord
        Whose air it is.
    tune : Tune
        Whose power sheet is carried to that air.
    name : str
        Of the tune.
    figures : dict
        As air_figures gives them.
    taken : Taken
        Takes up what is assumed.

    Returns
    -------
    RideAir
        With the factor by which the torque of the sheet is multiplied. [-]

    Raises
    ------
    InputError
        No air that can be, or no standard of that name.
    """
    sheet = _sheet(tune, name, taken)
    there = air(**figures)
    return RideAir(
        air=there,
        ride_day=_factor(sheet, name, there),
        tolerances=(*_air_tolerances(record, sheet, name, figures), *_sheet_tolerances(tune, sheet, name, there)),
    )


def _sheet(tune: Tune, name: str, taken: Taken) -> _Sheet:
    standard = taken.word("tune.standard", tune.standard)
    if standard != "as measured" or tune.temperature is None or tune.pressure is None:
        return _Sheet(standard=standard, measured=None)
    humidity = tune.humidity
    if humidity is None:
        usual = reference.defaults()["air.humidity"]
        humidity = quantity(usual["value"], "ratio", "", "air.humidity")
        taken.assume(f"tune.{name}.humidity", f"tune.{name}.humidity assumed {usual['value']} ({usual['why']})")
    measured = {
        "temperature_k": float(tune.temperature),
        "relative_humidity": float(humidity),
        "pressure_pa": float(tune.pressure),
    }
    return _Sheet(standard=standard, measured=measured)


def _factor(sheet: _Sheet, name: str, there: Air, **changed: float) -> RideDay:
    measured = None if sheet.measured is None else air(**(sheet.measured | changed))
    try:
        return ride_day_factor(sheet.standard, there, measured)
    except InputError as error:
        raise InputError(f"tune.{name}.standard", error.got, error.problem, error.fix) from None


def _air_tolerances(record: BuildRecord, sheet: _Sheet, name: str, figures: dict[str, Any]) -> Iterator[Tolerance]:
    """The air moves the drag and what the engine gives, both at once."""

    def read(key: str, value: float) -> dict[str, float]:
        there = air(**(figures | {key: value}))
        return {"air_density_kg_m3": there.density_kg_m3, "torque_factor": _factor(sheet, name, there).factor}

    given = record.air
    height = None if given.pressure is not None else given.altitude  # a barometer's pressure counts alone
    for path, key, written in (
        ("air.altitude", "altitude_m", height),
        ("air.temperature", "temperature_k", given.temperature),
        ("air.humidity", "relative_humidity", given.humidity),
        ("air.pressure", "pressure_pa", given.pressure),
    ):
        yield from through(path, written, partial(read, key), *_ENDS.get(key, ()))


def _sheet_tolerances(tune: Tune, sheet: _Sheet, name: str, there: Air) -> Iterator[Tolerance]:
    """The air a sheet was measured in moves what the engine gives."""
    if sheet.measured is None:
        return

    def read(key: str, value: float) -> dict[str, float]:
        return {"torque_factor": _factor(sheet, name, there, **{key: value}).factor}

    for word, key, written in (
        ("temperature", "temperature_k", tune.temperature),
        ("humidity", "relative_humidity", tune.humidity),
        ("pressure", "pressure_pa", tune.pressure),
    ):
        least, most = _ENDS.get(key, (-inf, inf))
        cause = (f"tune.{word}", tune.measurement)
        yield from through(f"tune.{name}.{word}", written, partial(read, key), least, most, cause)


def curve_of(tune: Tune, name: str, efficiency: float, taken: Taken) -> tuple[str, PowerCurve]:
    """Where the tune was measured, and its curve at the crank.

    Parameters
    ----------
    tune : Tune
        Its points in SI.
    name : str
        Of the tune.
    efficiency : float
        Crank to tire; what was measured at the wheel is divided by it. [-]
    taken : Taken
        Takes up what is assumed.

    Returns
    -------
    str, PowerCurve
        "crank" or "wheel"; the curve at the crank in the air of the sheet.
    """
    at: Any = tune.measured_at or taken.word("tune.measured_at", None)
    kind: Any = torque_or_power(tune.points_are)
    if at == "wheel":
        taken.assume(
            "", f"tune.{name}: wheel figures divided by the driveline efficiency {efficiency:g} to get the crank's"
        )
    return at, curve_from_points(tune.points, kind=kind, measured_at=at, efficiency=efficiency, name=name)


def limited(record: BuildRecord, whole: PowerCurve) -> tuple[float, PowerCurve, tuple[str, ...]]:
    """The rev limit, the curve up to it, and a note where the points end short of it.

    >>> import ridesim as rs
    >>> bike = rs.demo("coast-single")
    >>> limit, curve, notes = limited(bike.record, bike.whole_curve)
    >>> round(rpm(limit)), curve.last_rad_s <= limit, notes
    (7200, True, ())
    """
    given = record.engine.rev_limit
    if given is None:
        note = f"engine.rev_limit not given: the last point of the curve, {rpm(whole.last_rad_s):.0f} rev/min, is taken as the limit"
        return whole.last_rad_s, whole, (note,)
    limit = float(given)
    if limit > whole.last_rad_s * (1 + 1e-9):
        note = (
            f"the curve ends at {rpm(whole.last_rad_s):.0f} rev/min, below the rev limit of {rpm(limit):.0f}: "
            "nothing is computed above its last point"
        )
        return limit, whole, (note,)
    return limit, whole.upto(limit), ()
