"""The tires a bike stands on: as the file says they are, or others tried in their place, what is left open of how far they roll,
the ground under them, and what holds the bike back on it."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from functools import partial
from typing import Any

import numpy as np

from ridesim.bike.defaults import Taken
from ridesim.buildfile.schema import BuildRecord
from ridesim.components.tire import RollingTire, rolling_tire
from ridesim.components.tire_marking import names_tire, parse_marking
from ridesim.environment.air import Air
from ridesim.environment.road import RoadLoad, from_40cfr86_529, from_coast_down, from_drag_area, surface
from ridesim.uncertainty.tolerances import Tolerance, single, through
from ridesim.units import either

_SEEN = 0.002  # of a roll-out: what a chalk mark shows


@dataclass(frozen=True, kw_only=True)
class Ground:
    """A surface by name, and between which frictions it may be: the range that is known of it, or the tolerance stated."""

    name: str
    friction_range: tuple[float, float]


def tire_of(fitted: Any, other: str | None, position: Any, **changed: float | None) -> RollingTire:
    """The tire that is fitted, with what was measured on it and perhaps something of that changed, or another one by its marking.

    Parameters
    ----------
    fitted : Tire
        As the build has it.
    other : str or None
        Marking of another one; one that names the fitted tire, as its bare size does, is that tire.
    position : str
        "rear" or "front".
    changed : optional
        rollout_m, deflection_m or worn_m in place of what was measured. [m]

    Examples
    --------
    >>> import ridesim as rs
    >>> fitted = rs.demo("coast-single").record.tires.rear
    >>> tire_of(fitted, "120/90-17", "rear").measured, tire_of(fitted, "130/80-17", "rear").measured
    (True, False)
    """
    where = f"tires.{position}"
    own = parse_marking(fitted.size, f"{where}.size")
    if other is not None and other.strip() != fitted.size.strip():
        marking = parse_marking(other, f"{where}.size")
        if not names_tire(marking, own):
            return rolling_tire(marking, position=position, where=where)
    measured = {
        "rollout_m": fitted.rollout,  # with its own tolerance
        "deflection_m": None if fitted.deflection is None else float(fitted.deflection),
        "worn_m": float(fitted.worn),
    }
    return rolling_tire(own, **(measured | changed), position=position, where=where)


def rear_tolerances(record: BuildRecord, rolls: RollingTire, other: str | None) -> Iterator[Tolerance]:
    """What is left open of how far the rear tire rolls: the roll-out or the model, and how far it is worn and pressed in."""
    fitted = record.tires.rear
    what = "tires.rear.rollout" if rolls.measured else "tires.rear.size"
    up, down = ((end - rolls.circumference_m) / (2 * np.pi) for end in (rolls.high_m, rolls.low_m))
    yield Tolerance(
        path=what,
        value=rolls.circumference_m,
        plus_minus=(rolls.high_m - rolls.low_m) / 2,
        moves={"rear_radius_m": (up, down)},
        of=(what, rolls.marking.written, rolls.circumference_m),
    )

    def read(key: str, value: float) -> dict[str, float]:
        return {"rear_radius_m": tire_of(fitted, other, "rear", **{key: value}).rolling_radius_m}

    for key in ("deflection", "worn"):
        written = getattr(fitted, key)
        cause = (f"tires.rear.{key}", rolls.marking.written, written)
        for tolerance in through(f"tires.rear.{key}", written, partial(read, f"{key}_m"), 0.0, of=cause):
            if any(tolerance.moves["rear_radius_m"]):  # a measured roll-out has both in it
                yield tolerance


def beside_measured(record: BuildRecord, rolls: RollingTire) -> tuple[str, ...]:
    """A word on a tire that is worked out where the fitted one was measured: by how much the model misses the fitted one."""
    fitted = record.tires.rear
    if fitted.rollout is None or rolls.measured:
        return ()
    off = float(fitted.rollout) / tire_of(fitted, None, "rear", rollout_m=None).circumference_m
    if abs(off - 1.0) < _SEEN:
        return ()
    return (
        f"rolls as the chord model has it; the fitted one was measured {abs(100.0 * (off - 1.0)):.1f} % "
        f"{'below' if off < 1.0 else 'above'} that model: if this one is as far off it rolls "
        + either("length", rolls.circumference_m * off)
        + " in one turn",
    )


def front_tire_of(record: BuildRecord, other: str | None, taken: Taken) -> RollingTire:
    """The front tire, assumed where the file has none."""
    if record.tires.front is not None:
        return tire_of(record.tires.front, other, "front")
    size = other if other is not None else taken.word("tires.front", None)
    return rolling_tire(parse_marking(size, "tires.front.size"), position="front", where="tires.front")


def ground_of(record: BuildRecord, taken: Taken, raw: dict[str, Any]) -> Ground:
    """The surface of the file; its friction goes into the raw figures.

    >>> import ridesim as rs
    >>> record, raw = rs.demo("coast-single").record, {}
    >>> ground = ground_of(record, Taken(record), raw)
    >>> ground.friction_range[0] <= raw["friction"] <= ground.friction_range[1]
    True
    """
    given = record.surface
    if given.friction is not None:
        stated, off = taken.figure("surface.friction"), given.friction.plus_minus
        raw["friction"] = stated
        return Ground(name=given.name, friction_range=(max(stated - off, 0.0), stated + off))
    known = surface(given.name)
    raw["friction"] = known.friction
    taken.assume(
        "surface.friction", f"surface.friction of {known.name} taken as {known.friction:g} ({known.where_from})"
    )
    return Ground(name=known.name, friction_range=(known.friction_low, known.friction_high))


def road_load_of(record: BuildRecord, taken: Taken, raw: dict[str, Any], mass: float, day_air: Air) -> RoadLoad:
    """What holds the bike back, in the way the file gives it; its terms go into the raw figures.

    Parameters
    ----------
    record : BuildRecord
        With a drag area and a rolling resistance, the terms of a coast-down, or the standard's load; else the defaults count.
    taken : Taken
        Takes up what is assumed and what has a tolerance.
    raw : dict
        Takes the terms up.
    mass : float
        All-up. [kg]
    day_air : Air
        Its density makes a force of a drag area.
    """
    given = record.road_load
    if given.standard is not None:
        load = from_40cfr86_529(mass)
        raw["rolling_offset_m"] = 0.0  # its constant term is a dynamometer's setting, not rolling resistance
    elif given.coast_down is not None:
        load = from_coast_down(*(float(f) for f in given.coast_down))
        for n, (name, term) in enumerate(
            zip(("f0_n", "f1_n_s_m", "f2_n_s2_m2"), given.coast_down, strict=True), start=1
        ):
            if term.plus_minus:
                taken.tolerances.append(single(f"road_load.coast_down[{n}]", name, float(term), term.plus_minus))
    else:
        raw["drag_area_m2"] = taken.figure("road_load.drag_area")
        raw["rolling_resistance"] = taken.figure("road_load.rolling_resistance")
        return from_drag_area(raw["drag_area_m2"], raw["rolling_resistance"], mass, day_air.density_kg_m3)
    raw |= {"f0_n": load.f0_n, "f1_n_s_m": load.f1_n_s_m, "f2_n_s2_m2": load.f2_n_s2_m2}
    return load
