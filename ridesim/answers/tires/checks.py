"""What decides whether another tire fits where one is fitted: wheel, rim, room, load and speed, each with its reason."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from ridesim.answers.solved import Solved
from ridesim.buildfile.schema import Tire
from ridesim.components.tire import RollingTire, load_allowed, speed_allowed
from ridesim.components.tire_fit import (
    LEAST_GAP_M,
    Fit,
    permitted_rims,
    rim_fit,
    room_fit,
    room_left_m,
    tallest_radius_m,
    widest_m,
)
from ridesim.units import Measured, either


@dataclass(frozen=True, kw_only=True)
class FitCheck:
    """One thing that decides whether a tire fits: what, the tire, how it stands, why, and the key that would settle it."""

    what: str
    tire: str
    fit: Fit
    why: str
    path: str = ""


def fit_checks(now: Solved, planned: Solved) -> Iterator[FitCheck]:
    """Everything that decides whether the tires that differ fit: wheel, rim, room, load, speed; nothing of a tire that
    stays.

    Parameters
    ----------
    now : Solved
        Its build file tells of rims and room; of what it does not tell, the key is named that would settle it.
    planned : Solved
        Its tires, load and top speed are asked about.

    Examples
    --------
    >>> import ridesim as rs
    >>> from ridesim.answers.solved import solved
    >>> bike = rs.demo("coast-single")
    >>> other = solved(bike.with_changes(rear_tire="130/80-17 M/C 65S"))
    >>> {one.what: one.fit for one in fit_checks(solved(bike), other)}
    {'rim width': 'measure first', 'room beside': 'measure first', 'room around': 'fits', 'load': 'fits', 'speed': 'fits'}
    """
    a, b, s = now.bike, planned.bike, planned.bike.setups
    on_front = float(s.ahead_m[0] / s.wheelbase_m[0])
    top = float(planned.performance.top_speed_m_s[0])
    ends = (
        (a.record.tires.rear, a.rear_tire, b.rear_tire, 1.0 - on_front),
        (a.record.tires.front, a.front_tire, b.front_tire, on_front),
    )
    for fitted, old, new, share in ends:
        if old.marking == new.marking:
            continue
        yield from _wheel_and_rim(fitted, old, new)
        yield from _room(fitted, old, new)
        yield _load(new, float(s.mass_kg[0]) * share)
        yield _speed(new, top)


def _wheel_and_rim(fitted: Tire | None, old: RollingTire, new: RollingTire) -> Iterator[FitCheck]:
    of, marking = new.position, new.marking
    if marking.rim_code != old.marking.rim_code:
        why = f"it is made for rims of {marking.rim_code:g} inches, and the wheel has {old.marking.rim_code:g}"
        yield FitCheck(what="wheel", tire=of, fit="does not fit", why=why)
        return
    rim = None if fitted is None else fitted.rim_width
    path, rims = f"tires.{of}.rim_width", permitted_rims(marking)
    if rims is None:
        why = "the table of permitted rims has no such size: ask the tire's maker"
        yield FitCheck(what="rim width", tire=of, fit="measure first", why=why)
    elif rim is None:
        why = "takes " + either("small length", rims.least_m, rims.most_m) + "; the rim's width is not given"
        yield FitCheck(what="rim width", tire=of, fit="measure first", why=why, path=path)
    else:
        fit = rim_fit(float(rim), rims)
        asks = "; the list of the tire's maker decides" if fit == "measure first" else ""
        why = "rim " + either("small length", float(rim)) + ", permitted "
        why += either("small length", rims.least_m, rims.most_m) + f" ({rims.source}){asks}"
        yield FitCheck(what="rim width", tire=of, fit=fit, why=why)


def _room(fitted: Tire | None, old: RollingTire, new: RollingTire) -> Iterator[FitCheck]:
    """The gap beside and around the tire: by the marking, and with the widest and tallest tire so marked."""
    if new.marking.rim_code != old.marking.rim_code:
        return
    sizes = (
        ("room beside", "room_beside", old.section_width_m / 2, new.section_width_m / 2, widest_m(new.marking) / 2),
        ("room around", "room_around", old.free_radius_m, new.free_radius_m, tallest_radius_m(new.marking)),
    )
    for what, key, was, is_now, most in sizes:
        room: Measured | None = getattr(fitted, key, None)
        path = f"tires.{new.position}.{key}"
        grows = either("small length", is_now - was)
        if room is not None:
            left = float(room_left_m(float(room), was, is_now))
            least = float(room_left_m(float(room) - room.plus_minus, was, most))
            why = either("small length", left) + " left by the marking, " + either("small length", least)
            why += " with the largest tire so marked; " + either("small length", LEAST_GAP_M) + " wanted"
            yield FitCheck(what=what, tire=new.position, fit=room_fit(left, least), why=why)
        elif is_now <= was + 1e-6:
            yield FitCheck(
                what=what, tire=new.position, fit="fits", why="no larger than the fitted tire by its marking"
            )
        else:
            why = grows + " more; the gap is not given"
            yield FitCheck(what=what, tire=new.position, fit="measure first", why=why, path=path)


def _load(tire: RollingTire, load_kg: float) -> FitCheck:
    capacity, on_it = tire.marking.load_capacity_kg, either("mass", load_kg) + " on it"
    if capacity is None:
        why = on_it + "; no load index in the marking: look on the sidewall"
        return FitCheck(what="load", tire=tire.position, fit="measure first", why=why)
    why = on_it + f", load index {tire.marking.load_index} carries " + either("mass", capacity)
    fit: Fit = "fits" if load_allowed(tire.marking, load_kg) else "does not fit"
    return FitCheck(what="load", tire=tire.position, fit=fit, why=why)


def _speed(tire: RollingTire, top_m_s: float) -> FitCheck:
    symbol, limit = tire.marking.speed_symbol, tire.marking.speed_limit_m_s
    if not np.isfinite(top_m_s) or top_m_s <= 0.0:
        return FitCheck(what="speed", tire=tire.position, fit="fits", why="the bike holds no speed on this road")
    within = speed_allowed(tire.marking, top_m_s)
    why = "top speed " + either("speed", top_m_s)
    if limit is None:
        why += "; no speed symbol in the marking: look on the sidewall"
    else:
        why += f", {symbol or 'Z'} allows " + either("speed", limit)
        why += "; for more ask its maker" if within is None else ""
    fit: Fit = "measure first" if within is None else "fits" if within else "does not fit"
    return FitCheck(what="speed", tire=tire.position, fit=fit, why=why)
