"""The rider's limits: read as written, held against the columns of a crossing, and told in words where one is missed."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray
from pydantic import ValidationError

from ridesim.answers.text import shown
from ridesim.buildfile.io import explained
from ridesim.buildfile.schema import LimitsSection
from ridesim.errors import InputError
from ridesim.selection.crossing import Crossing
from ridesim.selection.goals import LIMITED, RIDE_LIMITS, Goal, limited

if TYPE_CHECKING:
    from ridesim.selection.choice import Choice

Array = NDArray[np.float64]
EDGE = 1e-9  # a limit met to rounding is met
KEEP, TRAVEL = "keep_chain", "within_axle_travel"


@dataclass(frozen=True, kw_only=True)
class Fall:
    """A limit that a set-up does not meet: which, in words, and by what share of the limit it is missed."""

    limit: str
    says: str
    miss: float


@dataclass(frozen=True, kw_only=True, eq=False)
class Held:
    """Every combination held to every limit that is set.

    names   the limits, L
    misses  by what share of the limit it is missed, (L, N): nan where it is met, inf where the thing never happens
    worst   the largest share of a row, (N,); 0 where all are met
    """

    names: tuple[str, ...]
    misses: Array
    worst: Array

    @property
    def fallen(self) -> NDArray[np.bool_]:
        """Where a limit is missed, (L, N)."""
        return ~np.isnan(self.misses)

    @property
    def meets(self) -> NDArray[np.bool_]:
        """Which rows meet every limit, (N,)."""
        return np.asarray(~self.fallen.any(axis=0))


def hold(crossing: Crossing, figures: Mapping[str, Array], limits: LimitsSection) -> Held:
    """Every row held to the limits that are set; a limit met to rounding is met.

    A limit is missed by the share  |figure - limit| / |limit|; of the chain, links over a hundred and meters
    outside the travel stand for shares. What never happens misses without end.

    Parameters
    ----------
    crossing : Crossing
    figures : mapping of str to array, (N,)
        Those of GOALS, and of RIDE_GOALS where a ride is given.
    limits : LimitsSection

    Examples
    --------
    >>> import ridesim as rs
    >>> from ridesim.selection import choose
    >>> found = choose(rs.demo("coast-single").build, fronts=(14,), rears=(41, 42))
    >>> held = hold(found.crossing, found.figures, held_to(found.limits, cruise_engine_speed_most="4900 rev/min"))
    >>> held.names[0], held.misses[0].round(3).tolist(), held.meets.tolist()
    ('cruise_engine_speed_most', [nan, 0.019], [True, False])
    """
    rows = {
        name: _missed(figures[goal.key], float(getattr(limits, name)), goal)
        for name, goal in ((name, limited(name)) for name in LIMITED)
        if goal.key in figures and getattr(limits, name) is not None
    }
    rows |= {name: crossing.of_pairs(missed) for name, missed in _chain_missed(crossing, limits)}
    misses = np.array(list(rows.values()), dtype=float).reshape(len(rows), len(crossing))
    return Held(names=tuple(rows), misses=misses, worst=np.fmax.reduce(misses, axis=0, initial=0.0))


def _missed(values: Array, limit: float, goal: Goal) -> Array:
    """By what share of the limit each value is beyond it; a limit of nothing is missed beyond all shares."""
    over = (values - limit) if goal.better < 0 else (limit - values)
    share = over / abs(limit) if limit else np.full_like(over, np.inf)
    return np.where(np.isnan(values), np.inf, np.where(over > EDGE * abs(limit), share, np.nan))


def _chain_missed(crossing: Crossing, limits: LimitsSection) -> Iterator[tuple[str, Array]]:
    """The limits of the chain, for every pair: links over a hundred and meters stand for shares."""
    chains = crossing.chains
    if chains is None:
        return
    kept = chains.fitted_chain_will_do if limits.keep_chain else np.ones(len(crossing.fronts), bool)
    if limits.keep_chain:
        over = np.abs(chains.fitted_links_over)
        yield KEEP, np.where(kept, np.nan, np.where(np.isfinite(over), over / 100, np.inf))
    if limits.within_axle_travel:
        fits = np.isfinite(chains.links_to_order)
        far = np.abs(chains.nearest_miss_m)
        yield TRAVEL, np.where(fits | ~kept, np.nan, np.where(np.isfinite(far), far, np.inf))


def says(choice: Choice, name: str, n: int, system: str) -> str:
    """A limit that row n of a choice misses, in words, in "metric" or "us" units: what the figure is, and what the
    limit.
    """
    if name in (KEEP, TRAVEL):
        return _chain_says(choice.crossing, name, n, system)
    goal = limited(name)
    value, bound = float(choice.figures[goal.key][n]), shown(float(getattr(choice.limits, name)), goal.reading, system)
    told = ": does not happen" if np.isnan(value) else f" {shown(value, goal.reading, system)}"
    return f"{choice.label(goal.key, system)}{told}, limit {bound}"


def _chain_says(crossing: Crossing, name: str, n: int, system: str) -> str:
    chains, pair = crossing.chains, crossing.place(n)[2]
    assert chains is not None  # no limit of the chain is held without one
    if name == KEEP:
        over = float(chains.fitted_links_over[pair])
        if not np.isfinite(over) or not over:
            return "the fitted chain will not do"
        return f"the fitted chain is {abs(over):.1f} links too {'long' if over > 0 else 'short'}"
    far = abs(float(chains.nearest_miss_m[pair]))
    if not np.isfinite(far):
        return f"no chain fits: {chains.reason[pair]}"
    return f"no even chain puts the axle within its travel: {shown(far, 'small length', system)} outside"


def held_to(limits: LimitsSection, **changes: Any) -> LimitsSection:
    """The limits with some given anew, as a rider writes them ("4800 rev/min"); an empty text takes one away, None
    leaves it.

    InputError, or InputErrors of several, for a key that is no limit or a value that cannot be read.

    >>> import ridesim as rs
    >>> limits = held_to(rs.demo("coast-single").build.record.limits, top_speed_least="", first_gear_climb_least="60 %")
    >>> limits.top_speed_least, float(limits.first_gear_climb_least), round(float(limits.cruise_engine_speed_most), 1)
    (None, 0.6, 492.2)
    """
    given = {k: v for k, v in changes.items() if v is not None}
    try:
        fresh = LimitsSection.model_validate({k: v for k, v in given.items() if v != ""})
    except ValidationError as errors:
        raise explained(errors) from None
    update = {k: getattr(fresh, k) for k in given if given[k] != ""} | {k: None for k in given if given[k] == ""}
    return limits.model_copy(update=update)


def walking_engine_speed(limits: LimitsSection, idle: float | None, *, needed: bool) -> tuple[float, tuple[str, ...]]:
    """The engine speed of the walking speed [rad/s] and what was assumed of it: as stated, else idle; nan where
    neither is known.

    Raises
    ------
    InputError
        It is needed and nothing says it.

    Examples
    --------
    >>> walking_engine_speed(LimitsSection(), 141.4, needed=True)
    (141.4, ('walking_engine_speed assumed 1,350 rev/min: the engine walks the bike at its idling speed',))
    >>> walking_engine_speed(held_to(LimitsSection(), walking_engine_speed="2700 rev/min"), 141.4, needed=True)
    (282.7433388230814, ())
    >>> walking_engine_speed(LimitsSection(), None, needed=False)
    (nan, ())
    >>> walking_engine_speed(LimitsSection(), None, needed=True)
    Traceback (most recent call last):
    ridesim.errors.InputError: walking_engine_speed: is not given, and a walking speed has an engine speed. Say at which one you walk the bike, such as 1800 rev/min.
    """
    if limits.walking_engine_speed is not None:
        return float(limits.walking_engine_speed), ()
    if idle is not None:
        told = (
            f"walking_engine_speed assumed {shown(idle, 'engine speed')}: the engine walks the bike at its idling speed"
        )
        return float(idle), (told,) if needed else ()
    if needed:
        raise InputError(
            "walking_engine_speed",
            None,
            "is not given, and a walking speed has an engine speed",
            "Say at which one you walk the bike, such as 1800 rev/min.",
        )
    return float("nan"), ()


def limit_label(name: str) -> str:
    """A limit in few words.

    >>> limit_label("top_speed_least"), limit_label("keep_chain")
    ('top speed', 'fitted chain')
    """
    return {KEEP: "fitted chain", TRAVEL: "axle travel"}.get(name) or limited(name).label


def not_held(limits: LimitsSection) -> tuple[str, ...]:
    """Where no ride is given: the limits that need one, told.

    >>> import ridesim as rs
    >>> not_held(held_to(LimitsSection(), ride_fuel_most="4 l/100km"))
    ('ride_fuel_most: not held, as no ride of your own is given',)
    """
    named = [name for name in RIDE_LIMITS if getattr(limits, name) is not None]
    return (f"{', '.join(named)}: not held, as no ride of your own is given",) if named else ()
