"""Where nothing meets every limit: which limit to relax, by how much, and which combination then meets all of them."""

from __future__ import annotations

from dataclasses import dataclass
from math import ceil, floor
from statistics import NormalDist
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from ridesim.selection.certainty import Certainty
from ridesim.selection.goals import limited
from ridesim.selection.held import KEEP
from ridesim.units import COUNTED, READINGS, quantity, shown_in

if TYPE_CHECKING:
    from ridesim.selection.choice import Choice

Array = NDArray[np.float64]
Rows = NDArray[np.int64]
NEARLY = 0.01  # of a limit: of combinations that ask about as much of it, the least work is named
LOOKED_AT = 25  # combinations for each limit, the nearest first


@dataclass(frozen=True, kw_only=True)
class Relaxed:
    """A limit that would have to move for a combination, a row of the choice, to meet all of them: from and to in SI.

    Of the fitted chain, which is kept or not, from 1 to 0.

    >>> ends = ("top_speed_least", 35.0, 28.0), (KEEP, 1.0, 0.0)
    >>> [Relaxed(limit=name, start=start, end=end, row=4).share for name, start, end in ends]
    [0.2, inf]
    """

    limit: str
    start: float
    end: float
    row: int

    @property
    def share(self) -> float:
        """By what share of itself the limit moves; a new chain is the last resort."""
        return abs(self.end - self.start) / abs(self.start) if self.start and self.limit != KEEP else float("inf")


def relaxed(choice: Choice, certainty: Certainty, sure: float, works: Rows) -> tuple[Relaxed, ...]:
    """Each limit that alone would have to move, least first; where several must, all those of the nearest combination.

    What one limit has to give is the margin that as many draws as are asked for leave, among those in which the
    others are met, and no less than  z sd - margin  of the normal. Limits are told at the next figure that is read,
    so that what is told is enough.

    Parameters
    ----------
    choice : Choice
    certainty : Certainty
        Of its limits, of which no row holds all.
    sure : float
        How sure all limits together must be. [0.5 to 0.999]
    works : array of int, (N,)
        How much is to be done to get to every row.

    Examples
    --------
    No pair below cruises at 4,400 rev/min and climbs 80 %. 15/39 would where the climb gives a little, 14/39 where the revs do:

    >>> import ridesim as rs
    >>> from ridesim.selection import choose, held_to, verdict
    >>> build = rs.demo("coast-single").build
    >>> limits = held_to(build.record.limits, cruise_engine_speed_most="4400 rev/min", first_gear_climb_least="80 %")
    >>> decided = verdict(choose(build, fronts=(14, 15), rears=(39, 43), limits=limits))
    >>> [(one.limit, round(one.start, 2), round(one.end, 3), one.row) for one in decided.relax]
    [('first_gear_climb_least', 0.8, 0.764, 2), ('cruise_engine_speed_most', 460.77, 490.298, 0)]
    """
    bounded = certainty.bounded
    bounds = np.array([float(getattr(choice.limits, certainty.names[n])) for n in bounded])
    chain = np.prod([np.ones(len(certainty.rows)), *certainty.chain.values()], axis=0)
    alone = [
        found
        for k, n in enumerate(bounded)
        if bounds[k] and (found := _alone(choice, certainty, n, sure, works, chain)) is not None
    ]
    if alone:
        return tuple(sorted(alone, key=lambda one: one.share))
    # each so sure that all together are as sure as is asked, whatever they have in common
    each = NormalDist().inv_cdf(1.0 - (1.0 - sure) / max(len(bounded), 1))
    needed = np.maximum(each * certainty.sd - certainty.margins, 0.0)[bounded]
    with np.errstate(divide="ignore", invalid="ignore"):
        shares = np.where(needed > 0.0, needed / np.abs(np.where(bounds, bounds, np.nan))[:, None], 0.0)
    kept = np.isfinite(shares).all(axis=0) & (chain >= sure)
    if kept.any():
        place = int(np.argmin(np.where(kept, shares.max(axis=0, initial=0.0), np.inf)))
        level = (1.0 - sure) / len(bounded)
        drawn = [-np.quantile(certainty.drawn(n, [place]), level, method="lower") for n in bounded]
        least = np.maximum(needed[:, place], drawn)  # lopsided tolerances leave the draws off the middle
        moved = [_relax(choice, certainty, n, place, least[k]) for k, n in enumerate(bounded) if least[k] > 0.0]
        return tuple(sorted(moved, key=lambda one: one.share))
    return _without_the_chain(certainty, needed, sure, works)


def _alone(choice: Choice, certainty: Certainty, limit: int, sure: float, works: Rows, chain: Array) -> Relaxed | None:
    """The least by which one limit alone must move, and the combination that then holds; of about as much, the least work."""
    others = [n for n in certainty.bounded if n != limit]
    near = certainty.by_limit[others].min(axis=0, initial=1.0) * (chain >= sure) >= sure
    near &= np.isfinite(certainty.margins[limit])
    z = NormalDist().inv_cdf(sure)
    apart = np.where(near, z * certainty.sd[limit] - certainty.margins[limit], np.inf)
    places = np.argsort(apart, kind="stable")[:LOOKED_AT]
    places = places[np.isfinite(apart[places])]
    if not places.size:
        return None
    inside = np.ones((len(certainty.drawn(limit, places)), len(places)), bool)
    for n in others:
        inside &= certainty.drawn(n, places) >= 0.0
    # the margin that as many draws as are asked for leave, among those in which the others are met
    left = np.sort(np.where(inside, certainty.drawn(limit, places), -np.inf), axis=0)[::-1]
    count = np.ceil(np.minimum(sure / chain[places], 1.0) * len(left) - 1e-9).astype(int) - 1
    needed = np.maximum(-left[count, np.arange(len(places))], apart[places])
    if not np.isfinite(needed).any():
        return None
    bound = abs(float(getattr(choice.limits, certainty.names[limit])))
    best = np.nonzero(needed <= needed.min() + NEARLY * bound)[0]
    one = best[np.argmin(works[certainty.rows[places[best]]])]
    return _relax(choice, certainty, limit, int(places[one]), float(needed[one]))


def _relax(choice: Choice, certainty: Certainty, limit: int, place: int, needed: float) -> Relaxed:
    name = certainty.names[limit]
    start = float(getattr(choice.limits, name))
    end = rounded_out(start - limited(name).better * needed, limited(name).reading, -limited(name).better)
    return Relaxed(limit=name, start=start, end=end, row=int(certainty.rows[place]))


def rounded_out(value: float, reading: str, way: int) -> float:
    """A limit at the next figure that is read in metric units, up (1) or down (-1), so that what is told is enough.

    >>> round(rounded_out(36.411, "speed", -1) * 3.6, 9), rounded_out(0.3012, "percent", 1)
    (131.0, 0.302)
    """
    outward = ceil if way > 0 else floor
    if reading in COUNTED:
        return float(outward(value))
    read, unit, decimals = shown_in(value, reading, "metric")
    told = outward(round(float(read) * 10**decimals, 6)) / 10**decimals
    return float(quantity(told, READINGS[reading].kind, unit, ""))


def _without_the_chain(certainty: Certainty, needed: Array, sure: float, works: Rows) -> tuple[Relaxed, ...]:
    """Where only the fitted chain stands in the way: a new one."""
    others = [chain for name, chain in certainty.chain.items() if name != KEEP]
    fits = np.array([np.ones(len(certainty.rows), bool), *(one >= sure for one in others)]).all(axis=0)
    holds = np.nonzero(fits & (needed == 0.0).all(axis=0))[0]
    if KEEP not in certainty.chain or not holds.size:
        return ()
    row = certainty.rows[holds[np.argmin(works[certainty.rows[holds]])]]
    return (Relaxed(limit=KEEP, start=1.0, end=0.0, row=int(row)),)
