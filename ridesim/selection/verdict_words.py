"""A verdict in words: one sentence, the reasons, the runners-up, what to order, what to measure first, which limit to relax."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from ridesim.answers.text import listed, shown
from ridesim.selection.choice import Choice, Combination
from ridesim.selection.goals import LIMITED, Goal, limited
from ridesim.selection.held import KEEP
from ridesim.selection.relax import Relaxed
from ridesim.selection.verdict import EQUAL, MeasureFirst, OnBike, OrderedPart, Verdict, parts, wish_of
from ridesim.selection.words import CHECKS, chain_line, moved_axle, name

# by the figure that decides: what the best pair does, what another would do better, how more and less of it is told
_BEST = {
    "first_force": "pulls hardest in first",
    "cruise_speed": "cruises calmest",
    "fuel": "burns least",
    "time_0_100": "is quickest from a standstill",
    "ride_time_above": "spends least of your ride at high engine speed",
    "ride_fuel": "burns least on your ride",
    "ride_shifts": "asks for the fewest shifts on your ride",
}
_BETTER = {
    "first_force": "pulls harder in first",
    "cruise_speed": "cruises calmer",
    "fuel": "burns less",
    "time_0_100": "is quicker from a standstill",
    "ride_time_above": "spends less of your ride at high engine speed",
    "ride_fuel": "burns less on your ride",
    "ride_shifts": "asks for fewer shifts on your ride",
}
_MORE_OR_LESS = {
    "first_force": ("pulls {} more in first", "pulls {} less in first"),
    "cruise_speed": ("turns {} faster", "turns {} slower"),
    "fuel": ("burns {} more", "burns {} less"),
    "time_0_100": ("is {} slower from a standstill", "is {} quicker from a standstill"),
    "ride_fuel": ("burns {} more on your ride", "burns {} less on your ride"),
    "ride_shifts": ("asks for {} more shifts on your ride", "asks for {} fewer shifts on your ride"),
}
# the limit to name in the sentence, if it is set; else the least certain one
_NAMED = ("ride_time_above_most", "cruise_engine_speed_most")
SHARES = (0.60, 0.65, 0.70)  # of the rev limit, at which riders of singles cruise for hours: common practice, no source
ASKED = (
    "What engine speed will you hold for hours at your cruising speed? "
    "Set that limit, and one pair can be named: until then every pair trades pull for revs."
)


def sentence(verdict: Verdict, system: str = "metric") -> str:
    """What to do, in one sentence, in "metric" or "us" units.

    With a pair: what to order, one limit with how sure it is (that of the cruising speed, or of the rider's own
    ride, goes first), what it does to the wish and to the pull, and where the axle goes. Without: which limit to
    relax, or which to name.
    """
    if verdict.action == "none":
        return _no_pair(verdict, system)
    pair = name(verdict.choice, verdict.candidate.n)
    what = f"Keep {pair}" if verdict.action == "keep" else f"Order {listed([_ordered(p) for p in verdict.to_order])}"
    told = [*_limit_in_sentence(verdict, system), *_changes(verdict, system)]
    return f"{what}: {', '.join(told)}." if told else f"{what}."


def _no_pair(verdict: Verdict, system: str) -> str:
    if verdict.asks:
        return ASKED
    nearest = name(verdict.choice, verdict.candidate.n)
    if not verdict.relax:
        return f"No pair considered meets every limit; {nearest} comes nearest."
    sure, first = f"No pair meets every limit with {100 * verdict.sure:.0f} % certainty", verdict.relax[0]
    if verdict.probable is not None:
        likely = (verdict.sure_of(verdict.probable) or {})["all"]
        sure += f", though {name(verdict.choice, verdict.probable.n)} probably does ({percent(likely)} sure)"
    if len(verdict.relax) > 1 and all(one.row == first.row for one in verdict.relax):
        return f"{sure}; {nearest} would with {listed([relaxed(verdict, one, system) for one in verdict.relax])}."
    return f"{sure}: with {relaxed(verdict, first, system)}, {nearest} does."


def relaxed(verdict: Verdict, one: Relaxed, system: str = "metric") -> str:
    """A limit that moves, from and to."""
    if one.limit == KEEP:
        return "a new chain"
    goal = limited(one.limit)
    most = "at most" if goal.better < 0 else "at least"
    end, start = (shown(value, goal.reading, system) for value in (one.end, one.start))
    return f"{verdict.choice.label(goal.key, system)} {most} {end} instead of {start}"


def _ordered(part: OrderedPart) -> str:
    if part.teeth is not None:
        article = "an" if str(part.teeth)[0] == "8" or part.teeth in (11, 18) else "a"
        return f"{article} {part.teeth}-tooth {part.part}"
    if part.links is not None:
        return f"a chain of {part.links} links"
    return f"a {part.part}" + (f" {part.size}" if part.part == "rear tire" else "")


def _limit(verdict: Verdict, system: str, named: tuple[str, ...] = ()) -> tuple[Goal, str, str, str] | None:
    """One limit of the verdict's pair: its figure, the value, the bound and how sure it is; the first of those named, else the
    least certain one."""
    sure = {key: share for key, share in (verdict.sure_of(verdict.candidate) or {}).items() if key in LIMITED}
    if not sure:
        return None
    limit = next((one for one in named if one in sure), min(sure, key=lambda key: sure[key]))
    goal = limited(limit)
    value, bound = verdict.candidate.figures[goal.key], float(getattr(verdict.choice.limits, limit))
    return goal, shown(value, goal.reading, system), shown(bound, goal.reading, system), f"{percent(sure[limit])} sure"


def _limit_in_sentence(verdict: Verdict, system: str) -> Iterator[str]:
    found = _limit(verdict, system, _NAMED)
    if found is not None:
        goal, value, bound, sure = found
        told = f"{verdict.choice.label(goal.key, system)} {value}"
        if goal.key == "ride_time_above":
            told = f"{value} of your ride above {shown(verdict.choice.high_rad_s, 'engine speed', system)}"
        elif goal.key == "cruise_speed":
            told = f"{value} at {shown(verdict.choice.crossing.ride.cruise_m_s, 'speed', system, whole=True)}"
        yield f"{told} (limit {bound}, {sure})"


def percent(share: float) -> str:
    """A certainty in whole percent, never rounded up to certain.

    >>> percent(0.904), percent(0.9996), percent(1.0)
    ('90 %', 'over 99 %', 'over 99 %')
    """
    return "over 99 %" if share > 0.99 else f"{100 * share:.0f} %"


def _changes(verdict: Verdict, system: str) -> Iterator[str]:
    one, fitted, chain = verdict.candidate, verdict.fitted, verdict.candidate.chain
    if verdict.action == "keep":
        better = _BETTER[wish_of(verdict.choice, verdict.wish).key]
        yield f"no other pair that meets the limits {better} by more than {100 * EQUAL:.1f} %"
        return
    if fitted is not None:
        yield from _against(verdict, one, fitted, system)
    if chain is None or chain["axle_shift_m"] is None:
        return
    if chain["fitted_chain_will_do"] and (fitted is None or (one.front, one.rear) != (fitted.front, fitted.rear)):
        yield "the chain stays"
    yield moved_axle(chain["axle_shift_m"], system)


def _against(verdict: Verdict, one: Combination, fitted: Combination, system: str) -> Iterator[str]:
    """The change of the wish's figure from what is fitted; of the pull too, where that is not the wish."""
    for key in dict.fromkeys((wish_of(verdict.choice, verdict.wish).key, "first_force")):
        value, was = one.figures[key], fitted.figures[key]
        if key == "ride_time_above" and value is not None and was is not None:
            if round(100 * (value - was)):
                spent = (
                    f"{100 * value:.0f} % of your ride above {shown(verdict.choice.high_rad_s, 'engine speed', system)}"
                )
                yield f"spends {spent}, it was {100 * was:.0f} %"
        elif value and was and round(100 * (value / was - 1)):
            change = 100 * (value / was - 1)
            yield _MORE_OR_LESS[key][change < 0].format(f"{abs(change):.0f} %")


def reasons(verdict: Verdict, system: str = "metric") -> tuple[str, ...]:
    """What decided: the best of how many by the wish, the tightest limit, and what the rider's own ride says.

    >>> import ridesim as rs
    >>> from ridesim.selection import choose, verdict
    >>> reasons(verdict(choose(rs.demo("coast-single").build, fronts=(15,), rears=(41, 42))))[0]
    'of 2 pairs that meet every limit with at least 90 % certainty 15/42 pulls hardest in first'
    """
    if verdict.action == "none":
        return _on_your_ride(verdict, system)
    goal = wish_of(verdict.choice, verdict.wish)
    holding = verdict.certainty.rows[verdict.certainty.overall >= verdict.sure]
    worth = goal.better * verdict.choice.figures[goal.key]
    best = _BEST[goal.key]
    if not worth[verdict.candidate.n] >= np.nanmax(worth[holding]):
        best = f"is within {100 * EQUAL:.1f} % of the one that {best}, for less work"
    among = f"of {len(holding)} pairs that meet every limit with at least {100 * verdict.sure:.0f} % certainty"
    told = [f"{among} {name(verdict.choice, verdict.candidate.n)} {best}"]
    tight = _limit(verdict, system)
    if tight is not None:
        of, value, bound, sure = tight
        told.append(f"the tightest limit is {verdict.choice.label(of.key, system)}: {value} against {bound}, {sure}")
    return (*told, *_on_your_ride(verdict, system))


def _on_your_ride(verdict: Verdict, system: str) -> tuple[str, ...]:
    """The rider's own ride with the pair of the verdict, and with what is fitted."""
    choice, one, fitted = verdict.choice, verdict.candidate, verdict.fitted
    if not choice.crossing.logs:
        return ()
    count, way = len(choice.crossing.logs), choice.crossing.replays[0].distance_m
    figures = [
        (f"% of the time above {shown(choice.high_rad_s, 'engine speed', system)}", "ride_time_above", "percent")
    ]
    figures += [("shifts an hour", "ride_shifts", "number"), ("", "ride_fuel", "consumption")]
    if one.figures["ride_range"] is not None:
        figures.append(("on a tank", "ride_range", "journey"))

    def ridden(of: Combination) -> str:
        told = []
        for after, key, reading in figures:
            value = of.figures[key]
            text = shown(round(value) if reading == "number" and value is not None else value, reading, system)
            told.append(f"{text.removesuffix(' %') if reading == 'percent' else text} {after}".strip())
        return ", ".join(told)

    rides = "your ride" if count == 1 else f"your {count} rides"
    now = (
        ""
        if fitted is None or fitted.n == one.n
        else f"; {name(verdict.choice, fitted.n)}, which is fitted: {ridden(fitted)}"
    )
    return (f"on {rides} ({shown(way, 'journey', system)}) {name(verdict.choice, one.n)} has {ridden(one)}{now}",)


def runners_up(verdict: Verdict, system: str = "metric") -> tuple[str, ...]:
    """Each runner-up with what it is best at."""
    told = []
    for one in verdict.runners_up:
        speed = shown(one.candidate.figures["cruise_speed"], "engine speed", system)
        force = shown(one.candidate.figures["first_force"], "force", system)
        told.append(
            f"{name(verdict.choice, one.candidate.n)}: {one.why} ({speed} at the cruising speed, {force} in first)"
        )
    return tuple(told)


def order_list(candidate: Combination, on_bike: OnBike, system: str = "metric") -> tuple[str, ...]:
    """What to order for a combination, part by part with the price where one is stated, and what else is to be done
    for it.

    >>> import ridesim as rs
    >>> from ridesim.selection import choose
    >>> one = choose(rs.demo("coast-single").build, fronts=(16,), rears=(46,)).candidates[0]
    >>> on_bike = OnBike(front=14, rear=41, rear_tire="120/90-17 M/C 64S", tune="stock")
    >>> order_list(one, on_bike, "us")
    ('front sprocket, 16 teeth, 520', 'rear sprocket, 46 teeth, 520', 'chain, 106 links, 520', 'master link, 520', 'the axle moves 0.02 in forward')
    """
    currency = candidate.choice.crossing.bikes.own.record.prices.currency
    money = f" {currency}" if currency else ""
    told, wanted = [], parts(candidate, on_bike)
    for part in wanted:
        counted = (("teeth", part.teeth), ("links", part.links))
        said = [part.part, *(f"{count} {what}" for what, count in counted if count), *filter(None, [part.size])]
        told.append(", ".join(said) + ("" if part.price is None else f": {part.price:g}{money}"))
    prices = [part.price for part in wanted if part.price is not None]
    if len(told) > 1 and len(prices) == len(wanted):
        told.append(f"together {sum(prices):g}{money}")
    if any(part.teeth for part in wanted):
        told.extend(chain_line(candidate, system))
    if candidate.tune != on_bike.tune:
        told.append(f"tune: {candidate.tune} instead of {on_bike.tune}")
    return tuple(told)


def measure_first(first: MeasureFirst) -> str:
    """Why to measure an input before ordering.

    >>> measure_first(MeasureFirst(path="", limit="top_speed_least", share=0.8, certainty=0.92, certainty_then=0.995))
    '80 % of the uncertainty in top speed comes from it: measured four times as closely, the limit would be over 99 % sure instead of 92 %, if it reads the same'
    """
    return (
        f"{percent(first.share)} of the uncertainty in {limited(first.limit).label} comes from it: "
        f"measured four times as closely, the limit would be {percent(first.certainty_then)} sure "
        f"instead of {percent(first.certainty)}, if it reads the same"
    )


def behind(
    verdict: Verdict, system: str = "metric", other_ways: tuple[str, ...] = ()
) -> tuple[tuple[str, tuple[str, ...]], ...]:
    """What stands behind the sentence, under its headings, in the order in which it is read; a heading may have no line."""
    first = verdict.measure_first
    relax = tuple(
        f"{relaxed(verdict, one, system)}: {name(verdict.choice, one.row)} meets every limit" for one in verdict.relax
    )
    several = len({one.row for one in verdict.relax}) > 1
    return (
        ("Why", reasons(verdict, system)),
        ("Runners-up", runners_up(verdict, system)),
        ("What would have to give", relax if several else ()),
        ("Another way", other_ways),
        ("To order", order_list(verdict.candidate, verdict.on_bike, system) if verdict.action == "order" else ()),
        ("Before ordering", CHECKS if any(part.teeth for part in verdict.to_order) else ()),
        ("Measure first", () if first is None else (f"{first.path}: {measure_first(first)}",)),
        (
            "For three shares of the rev limit (common practice)",
            common_limits(verdict.choice, system) if verdict.asks else (),
        ),
    )


def common_limits(choice: Choice, system: str = "metric") -> tuple[str, ...]:
    """Where no limit is named: the pair that pulls hardest for three common shares of the rev limit, and what a ride
    would be like with it.
    """
    told = []
    speed, force, above = (choice.figures.get(key) for key in ("cruise_speed", "first_force", "ride_time_above"))
    assert speed is not None and force is not None
    for share in SHARES:
        limit = share * choice.crossing.bikes.own.rev_limit_rad_s
        inside = np.nonzero(speed <= limit)[0]
        bound = f"{100 * share:.0f} % of the rev limit ({shown(limit, 'engine speed', system)})"
        if inside.size:
            best = int(inside[np.argmax(force[inside])])
            high = shown(choice.high_rad_s, "engine speed", system)
            ride = "" if above is None else f"; {shown(above[best], 'percent', system)} of your ride above {high}"
            told.append(f"{bound}: {name(choice, best)}, {shown(speed[best], 'engine speed', system)}{ride}")
        else:
            told.append(f"{bound}: no pair considered turns that slowly")
    return tuple(told)
