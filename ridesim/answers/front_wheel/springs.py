"""The springs under the front wheel's motion: the rider's own rate and sag where they are stated, else the range that is assumed."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np

from ridesim.answers.front_wheel.body import spring_rate_n_m
from ridesim.bike import Bike
from ridesim.buildfile.schema import Spring
from ridesim.mechanics.setups import Array
from ridesim.statements import Assumption, Note
from ridesim.units import TWO_PI, G, either

HZ, HZ_OFF = 2.0, 0.5  # natural frequency, and by how much it may be off either way, from memory
RAKE = np.radians(27.0)  # where the file has none
DISAGREE = 1.15  # times the load: rate and sag that hold more than that are not of one bike


@dataclass(frozen=True, kw_only=True)
class SpringInUse:
    """What one wheel stands on, up and down at the axle: rate [N/m], preload [N] and the natural frequency they make [Hz]."""

    rate_n_m: Array
    preload_n: Array
    hz: Array


def springs_of(bike: Bike, on_front_kg: Any, on_rear_kg: Any, turn: Array) -> tuple[SpringInUse, SpringInUse]:
    """Fork and rear spring, with turn from -1 at the soft end of what is known to 1 at the hard end.

    Parameters
    ----------
    bike : Bike
    on_front_kg, on_rear_kg : float or array
        What stands on each wheel. [kg]
    turn : array

    Examples
    --------
    The demo states neither, so that both bounce at 1.5 to 2.5 Hz:

    >>> import ridesim as rs
    >>> fork, _ = springs_of(rs.demo("coast-single"), 110.0, 150.0, np.array([-1.0, 0.0, 1.0]))
    >>> fork.hz.round(1).tolist(), (fork.rate_n_m / 1e3).round(1).tolist()  # [N/mm]
    ([1.5, 2.0, 2.5], [9.8, 17.4, 27.1])
    """
    given = bike.record.suspension
    return spring_in_use(given.fork, on_front_kg, turn, lean_of(bike)), spring_in_use(given.rear, on_rear_kg, turn)


def lean_of(bike: Bike) -> float:
    """Cosine of the angle of the fork's legs from the vertical, that of the rake; of 27 degrees where the file has
    none.

    >>> import ridesim as rs
    >>> round(lean_of(rs.demo("coast-single")), 4)
    0.8949
    """
    rake = bike.record.chassis.rake
    return float(np.cos(RAKE if rake is None else float(rake)))


def spring_in_use(given: Spring, carried_kg: Any, turn: Array, lean: float = 1.0) -> SpringInUse:
    """A wheel's spring from the rider's figures:  k = rate / cos^2 l,  preload = N - k sag cos l, at least 0.

    Parameters
    ----------
    given : Spring
        What is stated of it; the rest is as assumed: 1.5 to 2.5 Hz, and no preload.
    carried_kg : float or array
        What stands on the wheel. [kg]
    turn : array
        -1 to 1, through the tolerance of the rate, or the assumed range.
    lean : float
        Cosine of the angle of the legs from the vertical, along which rate and sag are stated.

    Returns
    -------
    SpringInUse

    Examples
    --------
    A fork that leans 27 degrees and sags by 50 mm on 10 N/mm under 110 kg keeps a preload of 517 N:

    >>> from ridesim.units import Measured
    >>> fork = Spring.model_validate({"rate": "10 N/mm", "sag": "50 mm"})
    >>> one = spring_in_use(fork, 110.0, np.zeros(1), np.cos(np.radians(27.0)))
    >>> one.rate_n_m.round(0).tolist(), one.preload_n.round(0).tolist(), one.hz.round(2).tolist()
    ([12596.0], [518.0], [1.7])
    """
    load = np.broadcast_to(np.multiply(carried_kg, G), turn.shape)
    rate = spring_rate_n_m(carried_kg, HZ + HZ_OFF * turn)
    if given.rate is not None:
        rate = (float(given.rate) + given.rate.plus_minus * turn) / lean**2
    preload = np.zeros(turn.shape)
    if given.sag is not None:
        sag = float(given.sag) * lean
        rate = rate if given.rate is not None else np.minimum(rate, load / sag)
        preload = np.maximum(load - rate * sag, 0.0)
    return SpringInUse(rate_n_m=rate, preload_n=preload, hz=np.sqrt(rate * G / load) / TWO_PI)


def spring_assumptions(bike: Bike) -> tuple[Assumption, ...]:
    """What is assumed of a spring that is not stated, with the key that would settle it."""
    given = bike.record.suspension
    return tuple(
        Assumption(f"suspension.{end}.rate", f"{name} of {HZ - HZ_OFF:g} to {HZ + HZ_OFF:g} Hz (from memory)")
        for end, name, spring in (("fork", "fork springs", given.fork), ("rear", "a rear spring", given.rear))
        if spring.rate is None
    )


def spring_notes(bike: Bike) -> tuple[Note, ...]:
    """Where the rate and the sag that are stated cannot both be of this bike under this load."""
    s, turn = bike.setups, np.zeros(1)
    front = float(s.mass_kg[0] * s.load_arm_m[0] / s.wheelbase_m[0])
    notes = []
    for end, spring, carried in (
        ("fork", bike.record.suspension.fork, front),
        ("rear", bike.record.suspension.rear, float(s.mass_kg[0]) - front),
    ):
        if spring.rate is None or spring.sag is None:
            continue
        lean = 1.0 if end == "rear" else lean_of(bike)
        held = float(spring_in_use(spring, carried, turn, lean).rate_n_m[0]) * float(spring.sag) * lean
        if held > DISAGREE * carried * G:
            text = "rate and sag hold " + either("force", held) + ", and only " + either("force", carried * G)
            text += " rest on that wheel: measure the sag again"
            notes.append(Note(f"suspension.{end}", text))
    return tuple(notes)
