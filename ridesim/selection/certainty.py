"""How sure it is that a combination meets a limit, given the tolerances of the bike it is worked out for.

A limit is a margin: how far a figure lies inside it. Every tolerance moves alone to both its ends through the same kernel as
the figures themselves, which gives the margin's slope either way; a stated tolerance is the half-width of a 90 % range, 1.645
standard deviations. One limit alone is then met with the probability of a normal margin above zero, all limits of a
combination together with the share of common draws that leaves every margin above zero. First order in each tolerance; the
tests hold it to draws through the kernel.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import cached_property, lru_cache
from itertools import combinations, permutations
from math import erfc, sqrt
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

from ridesim.answers.tires.motion import AT_SPEED, cruise_share
from ridesim.bike import Bike
from ridesim.bike.figures_to_setups import setups_of
from ridesim.mechanics.kernel import perform
from ridesim.selection.crossing import Crossing, figures_of, fits_of
from ridesim.selection.goals import LIMITED, RIDE_GOALS, limited
from ridesim.selection.held import KEEP, TRAVEL, Held
from ridesim.selection.own_rides import at_ends
from ridesim.uncertainty.tolerances import PER_SD, Tolerance, ends, perturbed, quadrature

if TYPE_CHECKING:
    from ridesim.selection.choice import Choice, Combination

Array = NDArray[np.float64]
DRAWS = 2048
SEED = 7
TIMED = {"time_0_100", "roll_on"}  # figures that take half of the kernel's work
SETTLED = 4.0  # standard errors from which a limit is as good as sure to hold, or not to, and no draw is needed
CRUISE = "cruise_speed"
NODES = np.linspace(-2.4, 2.4, 13)  # of a standard normal error, at which a chain is fitted again
MOST_ROWS = 2000  # that certainties are worked out for
MOST_COMPARED = 12  # of the unbeaten, with each other
_normal = np.vectorize(
    lambda x: erfc(-x / sqrt(2.0)) / 2.0, otypes=[float]
)  # scipy takes longer to load than a choice to make


@dataclass(frozen=True, kw_only=True, eq=False)
class Certainty:
    """How sure every limit is to be met by the rows it was worked out for.

    rows       the rows of the crossing, (R,)
    names      the limits, (L,)
    margins    how far inside its limit each figure lies, in the limit's unit, (L, R); nan for a limit of the chain
    paths      the tolerances, (D,)
    up, down   by how much the margin moves with each tolerance at its upper and its lower end, (L, D, R)
    chain      how sure the limits of the chain are, by name, (R,)

    >>> import ridesim as rs
    >>> from ridesim.selection import choose
    >>> found = certainty_of(choose(rs.demo("coast-single").build, fronts=(15,), rears=(41, 42, 43)))
    >>> found.names
    ('cruise_engine_speed_most', 'first_gear_climb_least', 'top_speed_least', 'within_axle_travel')
    >>> (100 * found.by_limit[0]).round().tolist(), (100 * found.overall).round().tolist()  # [%]
    ([100.0, 94.0, 0.0], [100.0, 94.0, 0.0])
    >>> [(path, round(share, 2)) for path, share in found.shares(0, 1).items() if share > 0.01]
    [('speed at engine speed', 0.88), ('tires.rear.rollout', 0.12)]
    """

    rows: NDArray[np.int64]
    names: tuple[str, ...]
    margins: Array
    paths: tuple[str, ...]
    up: Array
    down: Array
    chain: Mapping[str, Array]

    @cached_property
    def sd(self) -> Array:
        """Standard error of each margin, (L, R):  sqrt(sum ((|up| + |down|) / 2)^2) / 1.645, a tolerance being half of
        a 90 % range.
        """
        half_width = (np.abs(self.up) + np.abs(self.down)) / 2
        return np.asarray(np.sqrt(np.sum(half_width**2, axis=1)) / PER_SD)

    @cached_property
    def by_limit(self) -> Array:
        """How sure each limit is to be met, (L, R): the share of a normal margin that lies above zero,  Phi(margin /
        sd).
        """
        with np.errstate(divide="ignore", invalid="ignore"):
            sure = np.where(self.sd > 0, _normal(self.margins / self.sd), (self.margins >= 0).astype(float))
        for n, name in enumerate(self.names):
            if name in self.chain:
                sure[n] = self.chain[name]
        return np.nan_to_num(sure)

    @cached_property
    def overall(self) -> Array:
        """How sure all limits together are to be met, (R,): 1 where there is none.

        The share of DRAWS common draws that leaves every margin above zero, and no more than the least certain
        limit; limits of the chain, whose errors are their own, multiply.
        """
        if not self.names:
            return np.ones(len(self.rows))
        bounded = self.bounded
        together = self.by_limit[bounded].min(axis=0, initial=1.0)
        wider = np.maximum(np.abs(self.up[bounded]), np.abs(self.down[bounded]))
        far = self.margins[bounded] * PER_SD - SETTLED * np.array([1.0, -1.0])[:, None, None] * np.sqrt(
            np.sum(wider**2, axis=1)
        )
        left = np.nonzero((far[1] >= 0.0).all(axis=0) & (far[0] < 0.0).any(axis=0))[0]
        if left.size:
            inside = np.ones((DRAWS, left.size), bool)
            for n in self.bounded:
                inside &= self.drawn(n, left) >= 0
            together[left] = np.minimum(together[left], inside.mean(axis=0))
        for sure in self.chain.values():
            together = together * sure
        return np.asarray(together)

    @property
    def bounded(self) -> list[int]:
        """The limits of figures, which have margins."""
        return [n for n, name in enumerate(self.names) if name not in self.chain]

    def drawn(self, limit: int, places: Any) -> Array:
        """The margins of some rows in common draws from all tolerances, (DRAWS, rows)."""
        draws = _draws(len(self.paths))
        up, down = self.up[limit][:, places], self.down[limit][:, places]
        # a draw moves by `up` above its middle and by `down` below it: by half their difference, and half their sum of its size
        moved = draws @ ((up - down) / 2) + np.abs(draws) @ ((up + down) / 2)
        return np.asarray(self.margins[limit, places] + moved / PER_SD)

    def place(self, row: int) -> int | None:
        """Where a row of the crossing stands here; None where its certainty was not worked out."""
        found = np.nonzero(self.rows == row)[0]
        return int(found[0]) if found.size else None

    def shares(self, limit: int, place: int) -> dict[str, float]:
        """By tolerance, the share of the variance of a limit's margin that comes from it, largest first."""
        half_width = (np.abs(self.up[limit, :, place]) + np.abs(self.down[limit, :, place])) / 2
        variance = float(np.sum(half_width**2))
        if not variance:
            return {}
        shares = {path: float(width**2) / variance for path, width in zip(self.paths, half_width, strict=True)}
        return dict(sorted(shares.items(), key=lambda item: -item[1]))


def _draws(count: int) -> Array:
    """Standard normal errors, (DRAWS, count), every one with its mirror image."""
    half = np.random.default_rng(SEED).standard_normal((DRAWS // 2, count))
    return np.concatenate([half, -half])


def certainty_of(choice: Choice) -> Certainty:
    """How sure every limit of a choice is, for the rows nearest to meeting them (all where there are at most
    MOST_ROWS).

    A thing that no longer happens at an end of a tolerance does not meet its limit there.
    """
    held, limits = choice.held, choice.limits
    rows = np.sort(np.argsort(held.worst, kind="stable")[:MOST_ROWS])
    bounded = [name for name in held.names if name in LIMITED]
    goals = [limited(name) for name in bounded]
    keys = [goal.key for goal in goals]
    values, paths, up, down = _moves(choice, rows, keys)
    paths, up, down = _in_motion(choice.crossing, keys, values, paths, up, down)
    signs = np.array([goal.better for goal in goals], dtype=float)
    bounds = np.array([float(getattr(limits, name)) for name in bounded])
    margins = signs[:, None] * (values - bounds[:, None])
    up, down = signs[:, None, None] * up, signs[:, None, None] * down
    gone = -2.0 * np.abs(margins)[:, None, :]  # a thing that no longer happens at an end does not meet its limit there
    up, down = np.where(np.isnan(up), gone, up), np.where(np.isnan(down), gone, down)
    chain = {name: sure[rows % len(sure)] for name, sure in _chain(choice.crossing, held).items()}
    pad = [name for name in held.names if name not in LIMITED]
    shape = (len(pad), len(paths), len(rows))
    return Certainty(
        rows=rows,
        names=(*bounded, *pad),
        margins=np.concatenate([np.where(np.isnan(margins), -np.inf, margins), np.full((len(pad), len(rows)), np.nan)]),
        paths=paths,
        up=np.concatenate([np.nan_to_num(up), np.zeros(shape)]),
        down=np.concatenate([np.nan_to_num(down), np.zeros(shape)]),
        chain=chain,
    )


def _moves(choice: Choice, rows: NDArray[np.int64], keys: Sequence[str]) -> tuple[Array, tuple[str, ...], Array, Array]:
    """The figures of the rows, (K, R), the tolerances, and by how much each moves them at its ends, (K, D, R)."""
    values = np.array([choice.figures[key][rows] for key in keys]).reshape(len(keys), len(rows))
    blocks = tuple(blocks_of(choice, rows, keys))
    paths = tuple(dict.fromkeys(tolerance.path for block in blocks for tolerance in block.tolerances))
    column = {path: n for n, path in enumerate(paths)}
    up, down = (np.zeros((len(keys), len(paths), len(rows))) for _ in range(2))
    for block in blocks:
        for n, tolerance in enumerate(block.tolerances):  # two of one path, as a tried tire has, add
            up[:, column[tolerance.path], block.where] += block.moves[:, 2 * n]
            down[:, column[tolerance.path], block.where] += block.moves[:, 2 * n + 1]
    return values, paths, up, down


def _in_motion(
    crossing: Crossing, keys: Sequence[str], values: Array, paths: tuple[str, ...], up: Array, down: Array
) -> tuple[tuple[str, ...], Array, Array]:
    """The same with what the growth and slip of the tire leave open of the engine speed at the cruising speed.

    Half the width of their range counts; that it lies above the plain figure is told by a note of the choice. A tire known by its
    marking alone has a band wide enough for both, taken from circumferences at 60 km/h.
    """
    span = cruise_share(crossing.bikes.own, crossing.ride)
    if span is None or CRUISE not in keys or not crossing.bikes.own.rear_tire.measured:
        return paths, up, down
    moved = np.zeros((len(keys), 1, values.shape[1]))
    moved[keys.index(CRUISE), 0] = values[keys.index(CRUISE)] * (span.high - span.low) / 2
    return (*paths, AT_SPEED), np.concatenate([up, moved], axis=1), np.concatenate([down, -moved], axis=1)


@dataclass(frozen=True, kw_only=True, eq=False)
class Block:
    """Rows of one tire and tune: their places among the rows asked for, (P,), their tolerances, (D,), and by how much each alone
    moves the figures at its upper and at its lower end, (K, 2 D, P)."""

    where: NDArray[np.int64]
    tolerances: tuple[Tolerance, ...]
    moves: Array


def blocks_of(choice: Choice, rows: NDArray[np.int64], keys: Sequence[str]) -> Iterator[Block]:
    """Some rows of a choice, tire by tire and tune by tune, with what their tolerances do to their figures."""
    crossing = choice.crossing
    places = [crossing.place(int(row)) for row in rows]
    for tire, tune in dict.fromkeys(place[:2] for place in places):
        where = np.array([n for n, place in enumerate(places) if place[:2] == (tire, tune)])
        own = _tolerances(crossing, tire, tune)
        found = _perturbed(choice, crossing.bike(tire, tune), own, rows[where] % len(crossing.fronts), keys)
        yield Block(where=where, tolerances=own, moves=found[:, 1:] - found[:, :1])


def _tolerances(crossing: Crossing, tire: int, tune: int) -> tuple[Tolerance, ...]:
    """The tolerances of a tune on a tire: the tire's own, and all of the tune's bike that do not lie in a tire.

    One cause is one tolerance: the roll-out of the fitted tire moves its radius and what a fill-up says of the engine together.
    """
    radius, bikes = "rear_radius_m", crossing.bikes
    by_cause: dict[Any, Tolerance] = {}
    for bike, of_tire in ((bikes.by_tire[tire], True), (bikes.by_tune[tune], False)):
        for tolerance in bike.tolerances:
            moves = {raw: ends for raw, ends in tolerance.moves.items() if (raw == radius) == of_tire}
            if moves:
                known = by_cause.get(tolerance.cause)
                by_cause[tolerance.cause] = replace(tolerance, moves={**(known.moves if known else {}), **moves})
    return tuple(by_cause.values())


def _perturbed(
    choice: Choice, bike: Bike, tolerances: Sequence[Tolerance], pairs: NDArray[np.int64], keys: Sequence[str]
) -> Array:
    """Figures of one tire and tune with each tolerance alone at its ends, (K, 1 + 2 D, P)."""
    crossing, turns = choice.crossing, 1 + 2 * len(tolerances)
    fronts, rears = crossing.fronts[pairs], crossing.rears[pairs]
    found: dict[str, Array] = {}
    if not RIDE_GOALS.keys() >= set(keys):
        spread = {
            name: np.repeat(value, len(pairs)) if np.shape(value) == (turns,) and name != "ratios" else value
            for name, value in perturbed(bike.raw, tolerances, ends(len(tolerances))).items()
        }
        ratios = bike.primary * np.array(bike.gears) * (rears / fronts)[:, None]
        timed = not TIMED.isdisjoint(keys)
        setups = setups_of({**spread, "ratios": np.tile(ratios, (turns, 1))}, bike.cycle)
        found = figures_of(perform(setups, bike.curve, crossing.ride, trace=False, timed=timed), crossing.ride)
        found["walking"] = setups.meters_per_radian[:, 0] * choice.walking_rad_s
    if RIDE_GOALS.keys() & set(keys):
        found |= at_ends(crossing.logs, bike, tolerances, fronts, rears, choice.high_rad_s)
    return np.array([found[key].reshape(turns, len(pairs)) for key in keys]).reshape(len(keys), turns, len(pairs))


def _chain(crossing: Crossing, held: Held) -> dict[str, Array]:
    """How sure each limit of the chain is for every pair: the share of the errors of axle and wear at which it is met."""
    names = [name for name in held.names if name in (KEEP, TRAVEL)]
    if not names:
        return {}
    given = crossing.bikes.own.record.final_drive
    weight = np.exp(-(NODES**2) / 2)
    sure = {name: np.ones(len(crossing.fronts)) for name in names}
    own = fits_of(crossing.bikes.own, crossing.fronts, crossing.rears)
    assert own is not None  # no limit of the chain is held without one
    center = given.centre_distance.plus_minus if given.centre_distance is not None else 0.0
    wear = given.chain_wear.plus_minus
    for width, key in ((center, "center_off_m"), (wear, "wear_off")):
        met: dict[str, list[Array]] = {name: [] for name in names}
        for node in NODES if width else (0.0,):
            fits = fits_of(crossing.bikes.own, crossing.fronts, crossing.rears, **{key: node * width / PER_SD})
            assert fits is not None
            for name in names:
                met[name].append(
                    np.asarray(
                        fits.fitted_chain_will_do if name == KEEP else np.isfinite(fits.links_to_order), dtype=float
                    )
                )
        share = weight / weight.sum() if width else np.ones(1)
        for name in names:
            sure[name] = sure[name] * (share @ np.array(met[name]))
    return sure


def narrower(certainty: Certainty, limit: int, place: int, path: str, part: float = 0.25) -> float:
    """How sure a limit would be if one tolerance were a quarter of what it is.

    The margin stays where it is, which is what the rider expects of a measurement before it is made.

    Parameters
    ----------
    certainty : Certainty
    limit, place : int
        Which limit, and which of the rows.
    path : str
        The tolerance, one of the paths.
    part : float
        What is left of it. [-]

    Examples
    --------
    What the tire grows and slips leaves most of the engine speed of 15/42 open:

    >>> import ridesim as rs
    >>> from ridesim.selection import choose
    >>> found = certainty_of(choose(rs.demo("coast-single").build, fronts=(15,), rears=(42,)))
    >>> round(float(found.by_limit[0, 0]), 3), round(narrower(found, 0, 0, AT_SPEED), 3)
    (0.938, 1.0)
    """
    n = certainty.paths.index(path)
    scaled = replace(certainty, up=certainty.up.copy(), down=certainty.down.copy())
    scaled.up[:, n] *= part
    scaled.down[:, n] *= part
    return float(scaled.by_limit[limit, place])


@lru_cache(maxsize=4)  # a table, a card and a sentence ask for those of one choice
def indistinguishable(choice: Choice) -> tuple[tuple[Combination, Combination], ...]:
    """The pairs among the first dozen of the unbeaten that differ in none of the goals by more than the inputs leave open.

    The band of a difference is that of a comparison: an error that both share moves both and mostly cancels, one that only
    one of them has, as the size of its tire, does not.
    """
    some = choice.unbeaten[:MOST_COMPARED]
    rows, keys = np.array([one.n for one in some], dtype=int), [goal.key for goal in choice.goals]
    values = np.array([choice.figures[key][rows] for key in keys])
    moves: list[dict[Any, Array]] = [{} for _ in some]
    for block in blocks_of(choice, rows, keys):
        for n, tolerance in enumerate(block.tolerances):
            for at, both in zip(block.where, block.moves[:, 2 * n : 2 * n + 2].T, strict=False):
                moves[at][tolerance.cause] = both.T
    return tuple(
        (some[a], some[b])
        for a, b in combinations(range(len(some)), 2)
        if not any(
            _differs(
                float(values[k, b] - values[k, a]), *({of: ends[k] for of, ends in moves[n].items()} for n in (a, b))
            )
            for k in range(len(keys))
        )
    )


def grouped(choice: Choice, ranked: Sequence[int]) -> dict[int, int]:
    """The rows in order, but those that cannot be told apart from one right below it: each with the first of its
    group.

    >>> import ridesim as rs
    >>> from ridesim.selection import choose
    >>> found = choose(rs.demo("coast-single").build, fronts=(15, 18), rears=(40, 48))
    >>> [(one.n, one.front, one.rear) for one in found.unbeaten], grouped(found, [one.n for one in found.unbeaten])
    ([(0, 15, 40), (3, 18, 48)], {0: 0, 3: 0})
    """
    partners: dict[int, set[int]] = {}
    for one, other in (way for pair in indistinguishable(choice) for way in permutations(pair)):
        partners.setdefault(one.n, set()).add(other.n)
    place, firsts = {row: n for n, row in enumerate(ranked)}, dict[int, int]()
    for row in ranked:
        if row not in firsts:
            same = (partners.get(row, set()) & place.keys()) - firsts.keys()
            firsts |= {row: row, **dict.fromkeys(sorted(same, key=place.__getitem__), row)}
    return firsts


def _differs(difference: float, one: Mapping[Any, Any], other: Mapping[Any, Any]) -> bool:
    """Whether the band of a difference leaves out zero; one that has no end does not."""
    nothing = np.zeros(2)
    moves = {of: tuple(other.get(of, nothing) - one.get(of, nothing)) for of in dict.fromkeys((*one, *other))}
    down, up = quadrature(moves)
    return difference + down > 0.0 or difference + up < 0.0
