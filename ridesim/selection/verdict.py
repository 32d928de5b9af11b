"""The verdict on a choice: keep what is fitted, order something, or which limit to relax; with what it rests on.

Limits come first: a combination is considered where all of them hold with the certainty asked for. Of those the wish decides, and
what lies within EQUAL of the best counts as equal, since no rider feels it: among equals the least work wins, then the larger
front sprocket, then teeth and links without a common factor. Where nothing holds, the verdict says which limit to relax.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from typing import Any

import numpy as np
from numpy.typing import NDArray

from ridesim.components.tire_marking import names_tire, parse_marking
from ridesim.errors import InputError, did_you_mean
from ridesim.selection.certainty import Certainty, certainty_of, narrower
from ridesim.selection.choice import Choice, Combination
from ridesim.selection.goals import Goal, goal
from ridesim.selection.relax import Relaxed, relaxed

Rows = NDArray[np.int64]
EQUAL = 0.015  # of a wish's figure: too small a difference to feel or to prove
SURE = 0.9
# wish -> the figure that decides
WISHES = {"pull": "first_force", "calm": "cruise_speed", "economy": "fuel", "quick": "time_0_100"}
# the same, and one more, where a ride of the rider's own is given
RIDE_WISHES = WISHES | {"calm": "ride_time_above", "economy": "ride_fuel", "shifts": "ride_shifts"}
# why a runner-up is named -> the wish it is best by; the least work has none
RUNNERS_UP = {
    "pulls hardest": "pull",
    "calmest": "calm",
    "least work": None,
    "quickest": "quick",
    "thriftiest": "economy",
    "fewest shifts": "shifts",
}
MOST_RUNNERS_UP = 3
HANGS_ON = 0.5  # the share of the uncertainty from which one input is worth measuring first
CERTAIN = 0.99
PROBABLE = 0.5  # the certainty from which a combination that does not hold is named as one that probably does


@dataclass(frozen=True, kw_only=True)
class OnBike:
    """What is on the bike now: teeth, the marking of the rear tire, the tune."""

    front: int
    rear: int
    rear_tire: str
    tune: str


@dataclass(frozen=True, kw_only=True)
class OrderedPart:
    """Something to order: what, its teeth, links or marking, and its price where one is stated."""

    part: str
    teeth: int | None = None
    links: int | None = None
    size: str | None = None
    price: float | None = None


@dataclass(frozen=True, kw_only=True)
class RunnerUp:
    """Another combination that meets the limits, and what it is best at: a key of RUNNERS_UP."""

    candidate: Combination
    why: str


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
    where no limit is named); on_bike is what is fitted, and fitted its combination, if it is among those considered. With "none"
    probable is the combination that most likely meets every limit, if it is more likely to than not.
    """

    choice: Choice
    certainty: Certainty
    action: str
    wish: str
    sure: float
    candidate: Combination
    on_bike: OnBike
    fitted: Combination | None
    runners_up: tuple[RunnerUp, ...]
    relax: tuple[Relaxed, ...]
    measure_first: MeasureFirst | None
    probable: Combination | None = None

    def __str__(self) -> str:
        from ridesim.selection.verdict_words import sentence

        return sentence(self)

    def __repr__(self) -> str:
        return f"Verdict({self.action!r}, {self.candidate.front}/{self.candidate.rear})"

    def sure_of(self, candidate: Combination) -> dict[str, float] | None:
        """How sure each limit is for a combination, and all together under "all"; None where it was not worked out."""
        place = self.certainty.place(candidate.n)
        if place is None:
            return None
        by_limit = zip(self.certainty.names, self.certainty.by_limit[:, place].tolist(), strict=True)
        return {"all": float(self.certainty.overall[place]), **dict(by_limit)}

    @property
    def asks(self) -> bool:
        """Whether no limit of a figure is named, so that all there is to say is which one to name."""
        return not self.certainty.bounded

    @cached_property
    def to_order(self) -> tuple[OrderedPart, ...]:
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
        A key of WISHES, or of RIDE_WISHES where a ride is given: what decides among the combinations that meet the
        limits.
    sure : float
        How sure all limits must be. [0.5 to 0.999]
    on_bike : OnBike, optional
        What is fitted now; as in the build file unless given.

    Raises
    ------
    InputError
        An unknown wish, or a certainty no one can ask for.

    Examples
    --------
    >>> import ridesim as rs
    >>> from ridesim.selection import choose
    >>> decided = verdict(choose(rs.demo("coast-single").build, fronts=(14, 15), rears=(41, 42)))
    >>> decided, [part.part for part in decided.to_order], round(decided.sure_of(decided.candidate)["all"], 2)
    (Verdict('order', 15/42), ['front sprocket', 'rear sprocket'], 0.94)
    >>> print(decided)
    Order a 15-tooth front sprocket and a 42-tooth rear sprocket: 4,662 rev/min at 95 km/h (limit 4,700 rev/min, 94 % sure), pulls 4 % less in first, the chain stays, the axle moves 8.0 mm forward.
    """
    wish_of(choice, wish)
    if not 0.5 <= sure <= 0.999:
        raise InputError("sure", sure, "must be between 50 and 99.9 %", "90 % is usual.")
    certainty = certainty_of(choice)
    if on_bike is None:
        own = choice.crossing.bikes.own
        tire = own.rear_tire.marking.written
        on_bike = OnBike(front=own.front_teeth, rear=own.rear_teeth, rear_tire=tire, tune=own.tune)
    fitted = choice.find(**vars(on_bike))
    named: dict[str, Any] = {
        "choice": choice, "certainty": certainty, "wish": wish, "sure": sure, "on_bike": on_bike, "fitted": fitted,
    }  # fmt: skip
    works = work(choice, on_bike)
    holding = certainty.rows[certainty.overall >= sure] if certainty.bounded else np.array([], np.int64)
    if not holding.size:
        relax = relaxed(choice, certainty, sure, works) if certainty.bounded else ()
        nearest = choice.candidates[relax[0].row if relax else int(np.argmin(choice.held.worst))]
        near = nearest if certainty.bounded else fitted or nearest
        likeliest = int(np.argmax(certainty.overall))
        likely = certainty.bounded and certainty.overall[likeliest] >= PROBABLE
        probable = choice.candidates[int(certainty.rows[likeliest])] if likely else None
        first = None if probable is None else _measure_first(certainty, probable)
        return Verdict(
            action="none", candidate=near, runners_up=(), relax=relax, measure_first=first, probable=probable, **named
        )
    best = _decided(choice, holding, wish, works)
    action = "keep" if fitted is not None and best.n == fitted.n else "order"
    return Verdict(
        action=action,
        candidate=best,
        runners_up=_runners_up(choice, holding, best, works),
        relax=(),
        measure_first=_measure_first(certainty, best),
        **named,
    )


def wish_of(choice: Choice, wish: str) -> Goal:
    """The figure that decides by a wish; where a ride of the rider's own is given, the ride has it for all but pull and time.

    Raises
    ------
    InputError
        An unknown wish, or one that needs a ride where none is given.
    """
    known = RIDE_WISHES if choice.crossing.logs else WISHES
    if wish in RIDE_WISHES and wish not in known:
        raise InputError("wish", wish, "needs a ride of your own", "Give its log, or wish for something else.")
    if wish not in known:
        raise InputError("wish", wish, "is not one to choose by", did_you_mean(wish, known))
    return goal(known[wish])


def equal_within(goal: Goal, best: float) -> float:
    """By how much a figure may be worse than the best and count as equal: a share of the best, or of all the time of a
    ride.

    >>> round(equal_within(goal("first_force"), 1800.0), 6), equal_within(goal("ride_time_above"), 0.2)
    (27.0, 0.015)
    """
    return EQUAL if goal.key == "ride_time_above" else EQUAL * abs(best)


def _decided(choice: Choice, holding: Rows, wish: str, works: Rows) -> Combination:
    """Of the rows that hold, the least work among those about as good as the best by the wish."""
    goal = wish_of(choice, wish)
    worth = goal.better * np.nan_to_num(choice.figures[goal.key][holding], nan=-goal.better * np.inf)
    best = worth.max()
    equal = holding[worth >= best - equal_within(goal, best)] if np.isfinite(best) else holding
    return _least_work(choice, equal, works)


def _least_work(choice: Choice, rows: Rows, works: Rows) -> Combination:
    """The row of least work; of several the larger front sprocket, then teeth and links without a common factor."""
    crossing = choice.crossing
    pairs = rows % len(crossing.fronts)
    fronts, common = crossing.fronts[pairs], np.zeros(len(rows), np.int64)
    if crossing.chains is not None:  # 1 each where every tooth meets every link
        links = np.nan_to_num(crossing.chains.links_to_order[pairs]).astype(np.int64)
        common = np.where(links > 0, np.gcd(fronts, links) * np.gcd(crossing.rears[pairs], links), 0)
    return choice.candidates[int(rows[np.lexsort((rows, common, -fronts, works[rows]))[0]])]


def work(choice: Choice, on_bike: OnBike) -> Rows:
    """How much is to be done to get to every row, (N,): 0 nothing, 1 one sprocket, 2 both, 3 a new chain; a tire or a
    tune is 4 more.

    >>> import ridesim as rs
    >>> from ridesim.selection import choose
    >>> found = choose(rs.demo("coast-single").build, fronts=(14, 15), rears=(41, 42, 46))
    >>> work(found, OnBike(front=14, rear=41, rear_tire="120/90-17", tune="stock")).tolist()
    [0, 1, 3, 1, 2, 3]
    >>> build, tires = rs.demo("plateau-single").build, ("120/90-17", "130/80-17")
    >>> found = choose(build, fronts=(14, 15), rears=(43,), rear_tires=tires, tunes=("rejetted", "stock"))
    >>> work(found, OnBike(front=14, rear=43, rear_tire="120/90-17", tune="rejetted")).tolist()
    [0, 1, 4, 5, 4, 5, 8, 9]
    """
    crossing, bikes = choice.crossing, choice.crossing.bikes
    teeth = (crossing.fronts != on_bike.front).astype(np.int64) + (crossing.rears != on_bike.rear)
    kept = np.zeros(len(teeth), bool) if crossing.chains is None else crossing.chains.fitted_chain_will_do
    pairs = np.where((teeth > 0) & ~kept, 3, teeth)
    on = parse_marking(on_bike.rear_tire)
    tires = np.array([not names_tire(on, bike.rear_tire.marking) for bike in bikes.by_tire])
    tunes = np.array([tune != on_bike.tune for tune in bikes.tunes])
    return np.asarray((4 * tires[:, None, None] + 4 * tunes[:, None] + pairs).ravel())


def _runners_up(choice: Choice, holding: Rows, best: Combination, works: Rows) -> tuple[RunnerUp, ...]:
    """Other combinations that hold, each best at something the verdict is not."""
    found: dict[int, RunnerUp] = {}
    for why, wish in RUNNERS_UP.items():
        if wish is None:
            one = _least_work(choice, holding, works)
            if works[one.n] >= works[best.n]:
                continue
        elif wish in WISHES or choice.crossing.logs:
            goal = wish_of(choice, wish)
            worth = goal.better * choice.figures[goal.key][holding]
            if not np.isfinite(worth).any():
                continue
            one = choice.candidates[int(holding[int(np.nanargmax(worth))])]
        else:
            continue
        if one.n != best.n and one.n not in found:
            found[one.n] = RunnerUp(candidate=one, why=why)
    return tuple(found.values())[:MOST_RUNNERS_UP]


def _measure_first(certainty: Certainty, best: Combination) -> MeasureFirst | None:
    """The input to measure first, where the least certain limit hangs on one."""
    place = certainty.place(best.n)
    if place is None or not certainty.bounded:
        return None
    limit = min(certainty.bounded, key=lambda n: certainty.by_limit[n, place])
    sure = float(certainty.by_limit[limit, place])
    shares = certainty.shares(limit, place)
    path, share = next(iter(shares.items()), ("", 0.0))
    if sure >= CERTAIN or share < HANGS_ON:
        return None
    then = narrower(certainty, limit, place, path)
    return MeasureFirst(path=path, limit=certainty.names[limit], share=share, certainty=sure, certainty_then=then)


def parts(candidate: Combination, on_bike: OnBike) -> tuple[OrderedPart, ...]:
    """What is to be ordered to go from what is fitted to a combination, with prices where they are stated.

    Sprockets that differ; a chain and its master link where the fitted one will not do; another rear tire. A tune
    is not ordered.

    >>> import ridesim as rs
    >>> from ridesim.selection import choose
    >>> one = choose(rs.demo("coast-single").build, fronts=(16,), rears=(46,)).candidates[0]
    >>> on_bike = OnBike(front=14, rear=41, rear_tire="120/90-17 M/C 64S", tune="stock")
    >>> [(part.part, part.teeth or part.links) for part in parts(one, on_bike)]
    [('front sprocket', 16), ('rear sprocket', 46), ('chain', 106), ('master link', None)]
    """
    own = candidate.choice.crossing.bikes.own
    prices = own.record.prices.model_dump(exclude={"currency"})
    found = []
    for which, teeth, fitted in (
        ("front sprocket", candidate.front, on_bike.front),
        ("rear sprocket", candidate.rear, on_bike.rear),
    ):
        if teeth != fitted:
            size = own.record.final_drive.chain
            found.append(OrderedPart(part=which, teeth=teeth, size=size, price=prices.get(which.replace(" ", "_"))))
    chain = candidate.chain
    if found and chain is not None and not chain["fitted_chain_will_do"] and chain["links_to_order"] is not None:
        size = own.record.final_drive.chain
        found.append(OrderedPart(part="chain", links=chain["links_to_order"], size=size, price=prices.get("chain")))
        found.append(OrderedPart(part="master link", size=size, price=prices.get("master_link")))
    if not names_tire(parse_marking(on_bike.rear_tire), parse_marking(candidate.rear_tire)):
        found.append(OrderedPart(part="rear tire", size=candidate.rear_tire, price=prices.get("rear_tire")))
    return tuple(found)
