"""Where front wheel and rear tire hold back what the engine could do: the words beside figures that count the engine alone."""

from __future__ import annotations

import numpy as np

from ridesim.answers.solved import ORDINALS, Solved
from ridesim.mechanics.setups import Array
from ridesim.units import either, percent

_LOOKS = 60  # engine speeds of a roll-on that are looked at
FRONT, REAR = "the front wheel would lift", "the rear tire would spin"


def roll_on_notes(solved: Solved) -> tuple[str, ...]:
    """In which gears a roll-on at full throttle asks for more than front or rear allow; looked at over 60 speeds.

    A gear without a time is asked about neither; the note names the gears, and the surface where it is the rear
    tire.
    """
    v1, v2 = solved.ride.roll_on_m_s
    timed = np.isfinite(solved.performance.roll_on_s[0])
    w = np.linspace(v1, v2, _LOOKS) / solved.bike.setups.meters_per_radian[0][:, None]
    engine, front, rear = _three(solved, w)
    lifts, spins = ((engine > limit).any(axis=1) & timed for limit in (front, rear))
    return tuple(
        f"roll-on times are those of the engine alone: in {', '.join(ORDINALS[k] for k in np.nonzero(which)[0])} {what} at full throttle, "
        "so the rider has to hold back"
        for which, what in ((lifts, FRONT), (spins, f"{REAR} on {solved.bike.surface}"))
        if which.any()
    )


def top_speed_notes(solved: Solved) -> tuple[str, ...]:
    """Whether the top speed asks for more than front or rear allow; nothing where they hold, or where no gear holds a
    speed.
    """
    top = solved.performance.gears.top_speed_m_s[0]
    if not np.isfinite(top).any():
        return ()
    k = int(np.nanargmax(top))
    what = _steadily(solved, k, float(top[k]))
    return ("top speed is that of the engine alone: at " + either("speed", top[k]) + f" {what}",) if what else ()


def cruise_notes(solved: Solved) -> tuple[str, ...]:
    """Whether the cruise, or the grade held at it, asks for more than front or rear allow, and where nothing is left
    to end it.

    In first at 20 km/h the coast single's engine would hold a grade on which its front wheel does not stay down:

    >>> import ridesim as rs
    >>> from ridesim.answers.solved import Conditions, solved
    >>> cruise_notes(solved(rs.demo("coast-single"), Conditions(cruise="20 km/h")))
    ('cruise in first: the grade held is that of the engine alone; the front wheel goes light at 83.1 %',)
    """
    c, v = solved.performance.cruise, solved.ride.cruise_m_s
    holding = np.nonzero(c.holds[0])[0]
    if holding.size == 0:
        return ()
    what = _steadily(solved, int(holding[-1]), v)
    at = either("speed", v)
    notes = ["power and fuel are those of the engine alone: at " + at + f" {what}"] if what else []
    if c.needed_w[0, holding[0]] < 0.0:
        notes.append(
            "at " + at + " slope or wind push the bike: the fuel is what the engine takes to turn without load"
        )
    w = np.clip(np.nan_to_num(c.engine_speed_rad_s[0]), solved.cells.first, solved.cells.last)
    _, front, rear = solved.rows.at(w).slopes
    said: dict[str, list[str]] = {}
    for k in holding:
        held, limit = c.slope_held_rad[0, k], min(front[k], rear[k])
        who = "the front wheel goes light" if front[k] <= rear[k] else f"the rear tire lets go on {solved.bike.surface}"
        where = f"{who} at {percent(np.tan(limit)):.1f} %"
        if np.isnan(held):
            said.setdefault(f"the wheel force is above the weight, so no grade uses it up; {where}", []).append(
                ORDINALS[k]
            )
        elif held > limit:
            said.setdefault(f"the grade held is that of the engine alone; {where}", []).append(ORDINALS[k])
        if not np.isfinite(c.headwind_held_m_s[0, k]):
            said.setdefault("the road load has no air drag, so no head wind uses the wheel force up", []).append(
                ORDINALS[k]
            )
    return (*notes, *(f"cruise in {', '.join(gears)}: {what}" for what, gears in said.items()))


def _steadily(solved: Solved, k: int, v: float) -> str:
    """What gives way at a steady speed in a gear, or nothing."""
    meters = solved.bike.setups.meters_per_radian[0]
    _, front, rear = _three(solved, np.full((meters.size, 1), v / meters[k]))
    if front[k, 0] < 0.0:
        return "the front wheel would be light even without any acceleration"
    return f"{REAR} on {solved.bike.surface}" if rear[k, 0] < 0.0 else ""


def _three(solved: Solved, w: Array) -> tuple[Array, Array, Array]:
    """The accelerations of the engine, that lift the front and that spin the rear, at engine speeds (G, N)."""
    inside = solved.rows.at(np.clip(w.T, solved.cells.first, solved.cells.last))
    at = solved.rows.at(w.T)
    engine = (inside.thrust - at.resistance) / solved.rows["effective_mass"]
    return engine.T, at.lift.T, at.spin.T
