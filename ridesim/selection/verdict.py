"""The verdict on a choice: keep what is fitted, order something, or which limit to relax; with what it rests on.

Limits come first: a combination is considered where all of them hold with the certainty asked for. Of those the wish decides, and
what lies within EQUAL of the best counts as equal, since no rider feels it: among equals the least work wins, then the larger
front sprocket, then teeth and links without a common factor. Where nothing holds, the verdict says which limit to relax.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from math import gcd
from statistics import NormalDist
from typing import Any

import numpy as np
from numpy.typing import NDArray

from ridesim.components.tire import names_tire, parse_marking
from ridesim.errors import InputError, did_you_mean
from ridesim.selection.certainty import Certainty, certainty_of, narrower
from ridesim.selection.choice import Candidate, Choice
from ridesim.selection.goals import GOALS, LIMITED

Array = NDArray[np.float64]
EQUAL = 0.015  # of a wish's figure: too small a difference to feel or to prove
SURE = 0.9
NEARLY = 0.01  # of a limit: of pairs that ask about as much of it, the least work is named
# wish -> the figure that decides
WISHES = {"pull": "first_force", "calm": "cruise_speed", "economy": "fuel", "quick": "time_0_100"}
# why a runner-up is named -> the figure it is best in; the least work has none
RUNNERS_UP = {
    "pulls hardest": "first_force",
    "calmest": "cruise_speed",
    "least work": None,
    "quickest": "time_0_100",
    "thriftiest": "fuel",
}
MOST_RUNNERS_UP = 3
HANGS_ON = 0.5  # the share of the uncertainty from which one input is worth measuring first
CERTAIN = 0.99


@dataclass(frozen=True, kw_only=True)
class OnBike:
    """What is on the bike now: teeth, the marking of the rear tire, the tune."""

    front: int
    rear: int
    rear_tire: str
    tune: str


@dataclass(frozen=True, kw_only=True)
class Part:
    """Something to order: what, its teeth, links or marking, and its price where one is stated."""

    part: str
    teeth: int | None = None
    links: int | None = None
    size: str | None = None
    price: float | None = None


@dataclass(frozen=True, kw_only=True)
class RunnerUp:
    """Another combination that meets the limits, and what it is best at."""

    candidate: Candidate
    why: str


@dataclass(frozen=True, kw_only=True)
class Relaxed:
    """A limit that would have to move for a combination to meet all of them, from and to in SI."""

    limit: str
    start: float
    end: float
    candidate: Candidate

    @property
    def share(self) -> float:
        """By what share of itself the limit moves."""
        return abs(self.end - self.start) / abs(self.start) if self.start else float("inf")


@dataclass(frozen=True, kw_only=True)
class MeasureFirst:
    """The one input that most of a certainty hangs on: its key, the limit, its share, and the certainty a closer reading could give."""

    path: str
    limit: str
    share: float
    certainty: float
    certainty_then: float


@dataclass(frozen=True, kw_only=True, eq=False)
class Verdict:
    """What to do about the sprockets.

    action is "keep", "order" or "none"; candidate is the combination it is about (with "none" the nearest one, or what is fitted
    where no limit is named); on_bike is what is fitted, and fitted its combination, if it is among those considered.
    """

    choice: Choice
    certainty: Certainty
    action: str
    wish: str
    sure: float
    candidate: Candidate
    on_bike: OnBike
    fitted: Candidate | None
    runners_up: tuple[RunnerUp, ...]
    relax: tuple[Relaxed, ...]
    measure_first: MeasureFirst | None

    def __str__(self) -> str:
        from ridesim.selection.verdict_words import sentence

        return sentence(self)

    def __repr__(self) -> str:
        return f"Verdict({self.action!r}, {self.candidate.front}/{self.candidate.rear})"

    def sure_of(self, candidate: Candidate) -> dict[str, float] | None:
        """How sure each limit is for a combination, and all together; None where it was not worked out."""
        place = self.certainty.place(candidate.n)
        if place is None:
            return None
        by_limit = zip(self.certainty.names, self.certainty.by_limit[:, place].tolist(), strict=True)
        return {"all": float(self.certainty.overall[place]), **dict(by_limit)}

    @cached_property
    def to_order(self) -> tuple[Part, ...]:
        """What the rider does not have yet, part by part."""
        return parts(self.candidate, self.on_bike) if self.action == "order" else ()

    @property
    def cost(self) -> float | None:
        """What the parts cost together, in the rider's currency; None where a price is missing."""
        prices = [part.price for part in self.to_order]
        return None if not prices or None in prices else float(sum(price for price in prices if price is not None))


def verdict(choice: Choice, *, wish: str = "pull", sure: float = SURE, on_bike: OnBike | None = None) -> Verdict:
    """Keep, order, or which limit to relax.

    Parameters
    ----------
    choice : Choice
        Its limits are those that must hold.
    wish : str
        A key of WISHES: what decides among the combinations that meet the limits.
    sure : float
        How sure all limits must be. [0.5 to 0.999]
    on_bike : OnBike, optional
        What is fitted now; as in the build file unless given.

    Raises
    ------
    InputError
        An unknown wish, or a certainty no one can ask for.
    """
    if wish not in WISHES:
        raise InputError("wish", wish, "is not one to choose by", did_you_mean(wish, WISHES))
    if not 0.5 <= sure <= 0.999:
        raise InputError("sure", sure, "must be between 50 and 99.9 %", "90 % is usual.")
    certainty = certainty_of(choice.crossing, choice.limits, choice.held, choice.figures, choice.walking_rad_s)
    on_bike = _as_filed(choice) if on_bike is None else on_bike
    fitted = choice.find(**vars(on_bike))
    named: dict[str, Any] = {
        "choice": choice, "certainty": certainty, "wish": wish, "sure": sure, "on_bike": on_bike, "fitted": fitted,
    }  # fmt: skip
    holding = (
        certainty.rows[certainty.overall >= sure] if any(n in LIMITED for n in certainty.names) else np.array([], int)
    )
    if not holding.size:
        relax = _relaxed(choice, certainty, sure, on_bike)
        nearest = relax[0].candidate if relax else fitted or choice.candidates[int(np.argmin(choice.held.worst))]
        return Verdict(action="none", candidate=nearest, runners_up=(), relax=relax, measure_first=None, **named)
    best = _decided(choice, holding, wish, on_bike)
    action = "keep" if fitted is not None and best.n == fitted.n else "order"
    return Verdict(
        action=action,
        candidate=best,
        runners_up=_runners_up(choice, holding, best, on_bike),
        relax=(),
        measure_first=_measure_first(certainty, best),
        **named,
    )


def _as_filed(choice: Choice) -> OnBike:
    own = choice.crossing.bikes.own
    return OnBike(front=own.front_teeth, rear=own.rear_teeth, rear_tire=own.rear_tire.marking.written, tune=own.tune)


def _decided(choice: Choice, holding: NDArray[np.int64], wish: str, on_bike: OnBike) -> Candidate:
    """Of the rows that hold, the least work among those about as good as the best by the wish."""
    goal = GOALS[WISHES[wish]]
    worth = goal.better * np.nan_to_num(choice.figures[goal.key][holding], nan=-goal.better * np.inf)
    best = worth.max()
    equal = holding[worth >= best - EQUAL * abs(best)] if np.isfinite(best) else holding
    candidates: list[Candidate] = [choice.candidates[n] for n in equal]
    return min(candidates, key=lambda one: (work(one, on_bike), -one.front, _common(one), one.n))


def work(candidate: Candidate, on_bike: OnBike) -> int:
    """How much is to be done to get there: 0 nothing, 1 one sprocket, 2 both, 3 a new chain; a tire or a tune comes on top."""
    changed = (candidate.front != on_bike.front) + (candidate.rear != on_bike.rear)
    chain = candidate.chain
    if changed and (chain is None or not chain["fitted_chain_will_do"]):
        changed = 3
    return changed + 4 * _other_tire(candidate, on_bike) + 4 * (candidate.tune != on_bike.tune)


def _other_tire(candidate: Candidate, on_bike: OnBike) -> bool:
    return not names_tire(parse_marking(on_bike.rear_tire), parse_marking(candidate.rear_tire))


def _common(candidate: Candidate) -> int:
    """The common factors of links and teeth: 1 each where every tooth meets every link."""
    links = (candidate.chain or {}).get("links_to_order")
    return 0 if links is None else gcd(candidate.front, links) * gcd(candidate.rear, links)


def _runners_up(choice: Choice, holding: NDArray[np.int64], best: Candidate, on_bike: OnBike) -> tuple[RunnerUp, ...]:
    """Other combinations that hold, each best at something the verdict is not."""
    found: dict[int, RunnerUp] = {}
    for why, key in RUNNERS_UP.items():
        if key is None:
            one = min((choice.candidates[n] for n in holding), key=lambda c: (work(c, on_bike), -c.front, c.n))
            if work(one, on_bike) >= work(best, on_bike):
                continue
        else:
            worth = GOALS[key].better * choice.figures[key][holding]
            if not np.isfinite(worth).any():
                continue
            one = choice.candidates[int(holding[int(np.nanargmax(worth))])]
        if one.n != best.n and one.n not in found:
            found[one.n] = RunnerUp(candidate=one, why=why)
    return tuple(found.values())[:MOST_RUNNERS_UP]


def _measure_first(certainty: Certainty, best: Candidate) -> MeasureFirst | None:
    """The input to measure first, where the least certain limit hangs on one."""
    place = certainty.place(best.n)
    bent = [n for n, name in enumerate(certainty.names) if name not in certainty.chain]
    if place is None or not bent:
        return None
    limit = min(bent, key=lambda n: certainty.by_limit[n, place])
    sure = float(certainty.by_limit[limit, place])
    shares = certainty.shares(limit, place)
    path, share = next(iter(shares.items()), ("", 0.0))
    if sure >= CERTAIN or share < HANGS_ON:
        return None
    then = narrower(certainty, limit, place, path)
    return MeasureFirst(path=path, limit=certainty.names[limit], share=share, certainty=sure, certainty_then=then)


def _relaxed(choice: Choice, certainty: Certainty, sure: float, on_bike: OnBike) -> tuple[Relaxed, ...]:
    """Each limit that would have to move for the nearest combination that misses only it, least first; where every combination
    misses several, all that the nearest one misses."""
    limits = [n for n, name in enumerate(certainty.names) if name in LIMITED]
    if not limits:
        return ()
    needed = (
        NormalDist().inv_cdf(sure) * certainty.sd - certainty.margins
    )  # by how much each limit must give way, (L, R)
    bounds = np.array([float(getattr(choice.limits, certainty.names[n])) for n in limits])
    shares = np.maximum(needed[limits], 0.0) / np.abs(np.where(bounds, bounds, np.nan))[:, None]
    reachable = np.isfinite(shares)
    for met in certainty.chain.values():
        reachable = reachable & (met >= sure)
    shares = np.where(reachable, shares, np.inf)
    singles = []
    for k, n in enumerate(limits):
        only = np.where(np.delete(shares, k, axis=0).max(axis=0, initial=0.0) == 0, shares[k], np.inf)
        if np.isfinite(only.min()):
            near = np.nonzero(only <= only.min() + NEARLY)[0]
            place = min(near, key=lambda one: work(choice.candidates[int(certainty.rows[one])], on_bike))
            singles.append(_relax(choice, certainty, n, int(place), needed))
    if singles:
        return tuple(sorted(singles, key=lambda one: one.share))
    nearest = int(np.argmin(shares.max(axis=0)))
    missed = [n for place, n in enumerate(limits) if 0 < shares[place, nearest] < np.inf]
    return tuple(sorted((_relax(choice, certainty, n, nearest, needed) for n in missed), key=lambda one: one.share))


def _relax(choice: Choice, certainty: Certainty, limit: int, place: int, needed: Array) -> Relaxed:
    name = certainty.names[limit]
    start = float(getattr(choice.limits, name))
    end = start - GOALS[LIMITED[name]].better * float(needed[limit, place])
    return Relaxed(limit=name, start=start, end=end, candidate=choice.candidates[int(certainty.rows[place])])


def parts(candidate: Candidate, on_bike: OnBike) -> tuple[Part, ...]:
    """What is to be ordered to go from what is fitted to a combination, with prices where they are stated."""
    own = candidate.choice.crossing.bikes.own
    prices = own.record.prices.model_dump(exclude={"currency"})
    found = []
    for which, teeth, fitted in (
        ("front sprocket", candidate.front, on_bike.front),
        ("rear sprocket", candidate.rear, on_bike.rear),
    ):
        if teeth != fitted:
            size = own.record.final_drive.chain
            found.append(Part(part=which, teeth=teeth, size=size, price=prices.get(which.replace(" ", "_"))))
    chain = candidate.chain
    if found and chain is not None and not chain["fitted_chain_will_do"] and chain["links_to_order"] is not None:
        size = own.record.final_drive.chain
        found.append(Part(part="chain", links=chain["links_to_order"], size=size, price=prices.get("chain")))
        found.append(Part(part="master link", size=size, price=prices.get("master_link")))
    if _other_tire(candidate, on_bike):
        found.append(Part(part="rear tire", size=candidate.rear_tire, price=prices.get("rear_tire")))
    return tuple(found)
