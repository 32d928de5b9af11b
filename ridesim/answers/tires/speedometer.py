"""How the speedometer reads, by where its sensor sits and what it was calibrated for."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from ridesim.answers.answer import Figure
from ridesim.answers.standing_run import round_speed
from ridesim.bike import Bike
from ridesim.components.speedometer import (
    SpeedometerDrive,
    indicated_over_true,
    odometer_over_true,
    outside_un_r39_m_s,
)
from ridesim.components.tire import RollingTire, rolling_tire
from ridesim.components.tire_marking import names_tire, parse_marking

HUNDRED_M_S = 100 / 3.6
R39_NOTE = (
    "UN R39 (0 <= V1 - V2 <= 0.1 V2 + 4 km/h) is the limit at type approval, for a new vehicle on the tires it is approved with; what a "
    "bike on the road, altered or not, may show is for local law to say"
)


@dataclass(frozen=True, kw_only=True)
class Speedometer:
    """How a speedometer reads: indicated over true with its band, and where it stands against UN R39 at a true speed.

    The band is what is left open of two tires, the one it was made for and the one it counts; of one tire nothing is.
    within is None where the ends of the band do not agree on it.
    """

    indicated_over_true: float
    low: float
    high: float
    odometer_over_true: float
    within: bool | None
    true_m_s: float
    tire: RollingTire  # the fitted one that it counts


def speedometer(bike: Bike, true_m_s: float = HUNDRED_M_S) -> Speedometer:
    """The speedometer of a bike against the tires and sprockets it was calibrated with (the file's own unless stated).

    indicated / true = (U_cal ratio_now) / (U_now ratio_cal)  times what it reads high by, with U of the wheel, or
    of the rear one, that its sensor counts. Where it was made for the tire that is fitted, when that was new, the
    wear in the file counts too.

    Parameters
    ----------
    bike : Bike
    true_m_s : float
        Where it is held against UN R39,  0 <= V1 - V2 <= 0.1 V2 + 4 km/h. [m/s]

    Returns
    -------
    Speedometer

    Examples
    --------
    It is the front wheel's, so that another front tire moves it and other sprockets do not:

    >>> import ridesim as rs
    >>> bike = rs.demo("coast-single")
    >>> others = bike, bike.with_changes(front_tire="80/100-19 M/C 49M"), bike.with_changes(front=15)
    >>> [round(speedometer(one).indicated_over_true, 4) for one in others]
    [1.0, 1.0031, 1.0]
    """
    given = bike.record.speedometer
    own_rear, own_front = (
        _calibrated_tire(bike, given.calibrated_rear_tire, "rear"),
        _calibrated_tire(bike, given.calibrated_front_tire, "front"),
    )
    final = bike.record.final_drive
    made_for = final.final_ratio
    if final.front and final.rear:
        made_for = (given.calibrated_rear or final.rear) / (given.calibrated_front or final.front)
    calibrated = SpeedometerDrive(
        front_circumference_m=own_front.circumference_m,
        rear_circumference_m=own_rear.circumference_m,
        final_ratio=made_for,
    )
    now = SpeedometerDrive(
        front_circumference_m=bike.front_tire.circumference_m,
        rear_circumference_m=bike.rear_tire.circumference_m,
        final_ratio=bike.final_ratio,
    )
    shows = float(indicated_over_true(given.sensor, calibrated=calibrated, now=now, reads_high=float(given.reads_high)))
    counts = float(odometer_over_true(given.sensor, calibrated=calibrated, now=now))
    own, fitted = (own_front, bike.front_tire) if given.sensor == "front wheel" else (own_rear, bike.rear_tire)
    below, above = _open(own, fitted)
    low, high = shows * (1.0 - below), shows * (1.0 + above)
    return Speedometer(
        indicated_over_true=shows,
        low=low,
        high=high,
        odometer_over_true=counts,
        within=within_limit(true_m_s, low, high),
        true_m_s=true_m_s,
        tire=fitted,
    )


def within_limit(true_m_s: float, low: float, high: float) -> bool | None:
    """Whether indicated over true, between two ends, is within UN R39 at a true speed; None where the ends
    do not agree.

    >>> [within_limit(20.0, low, high) for low, high in ((1.0, 1.02), (0.99, 1.01), (0.97, 0.99))]
    [True, None, False]
    """
    below, above = (float(outside_un_r39_m_s(true_m_s, true_m_s * end)) for end in (low, high))
    return True if below == above == 0.0 else False if below * above > 0.0 else None


def reads(meter: Speedometer) -> str:
    """How the speedometer reads against UN R39, in a word or two."""
    if meter.within:
        return "reads within the limit"
    low = outside_un_r39_m_s(meter.true_m_s, meter.true_m_s * meter.low) < 0.0
    return f"{'may read' if meter.within is None else 'reads'} {'low' if low else 'too high'}"


def limit_words(meter: Speedometer) -> str:
    """How a speedometer that is not surely within UN R39 reads, and what would tell where its band leaves that open."""
    words = f"{reads(meter)}, which UN R39 does not allow at type approval"
    if meter.within is False:
        return words
    if meter.tire.measured:
        return f"{words}; that depends on how far the tire it was made for rolls"
    return f"{words}; measure the roll-out of the {meter.tire.position} tire to know"


def limit_notes(meter: Speedometer) -> tuple[str, ...]:
    """What UN R39 is a limit for, and where the speedometer stands against it where that is not within.

    >>> import ridesim as rs
    >>> len(limit_notes(speedometer(rs.demo("coast-single"))))
    1
    """
    return (*(() if meter.within else (f"the speedometer {limit_words(meter)}",)), R39_NOTE)


def _open(own: RollingTire, now: RollingTire) -> tuple[float, float]:
    """How far U_own / U_now may be below and above, as shares."""
    if names_tire(own.marking, now.marking):
        return 0.0, 0.0
    (own_low, own_high), (low, high) = (
        (one.low_m / one.circumference_m - 1.0, one.high_m / one.circumference_m - 1.0) for one in (own, now)
    )
    return float(np.hypot(own_low, high)), float(np.hypot(own_high, low))


def _calibrated_tire(bike: Bike, marking: str | None, position: Any) -> RollingTire:
    """The tire the speedometer was made for: stated, or the one in the build file."""
    fitted = bike.record.tires.rear if position == "rear" else bike.record.tires.front
    stated = None if marking is None else parse_marking(marking, f"speedometer.calibrated_{position}_tire")
    if fitted is None:
        return bike.front_tire if stated is None else rolling_tire(stated, position=position)
    own = parse_marking(fitted.size, f"tires.{position}.size")
    if stated is not None and not names_tire(stated, own):
        return rolling_tire(stated, position=position)

    def rolls(worn_m: float, rollout_m: float | None = None) -> RollingTire:
        pressed_m = None if fitted.deflection is None else float(fitted.deflection)
        return rolling_tire(own, rollout_m=rollout_m, deflection_m=pressed_m, worn_m=worn_m, position=position)

    worn = float(fitted.worn)
    now = rolls(worn, fitted.rollout)
    if stated is None or not worn:
        return now
    # the tire it was made for, stated, is the fitted one when it was new
    return replace(now, circumference_m=now.circumference_m * rolls(0.0).circumference_m / rolls(worn).circumference_m)


def speedometer_figures(meter: Speedometer) -> tuple[Figure, ...]:
    """What a speedometer shows at a true speed, with its band, and how far odometer and regulation are from that."""
    true, shown = meter.true_m_s, meter.indicated_over_true
    return (
        Figure("true", "True speed", true, "speed"),
        Figure(
            "indicated",
            f"Speedometer at a true {round_speed(true)}",
            true * shown,
            "speed",
            low=true * meter.low,
            high=true * meter.high,
        ),
        Figure("speedometer_error", "Speedometer error", shown - 1, "percent", low=meter.low - 1, high=meter.high - 1),
        Figure("odometer_error", "Odometer error", meter.odometer_over_true - 1, "percent"),
        Figure("speedometer_within", "Within UN R39's limit for type approval", meter.within, "yes or no"),
    )
