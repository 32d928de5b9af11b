"""A verdict in words: one sentence, the reasons, the runners-up, what to order, what to measure first, which limit to relax."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from ridesim.answers.text import shown
from ridesim.selection.choice import Candidate, Choice
from ridesim.selection.goals import GOALS, LIMITED
from ridesim.selection.held import limit_label
from ridesim.selection.verdict import EQUAL, WISHES, Part, Relaxed, Verdict
from ridesim.selection.words import moved_axle, name

# wish -> what the best pair does, and the figure in which the change from the fitted pair is told
_BEST = {
    "pull": "pulls hardest in first",
    "calm": "cruises calmest",
    "economy": "burns least",
    "quick": "is quickest to 100 km/h",
}
_BETTER = {
    "pull": "pulls harder in first",
    "calm": "cruises calmer",
    "economy": "burns less",
    "quick": "is quicker to 100 km/h",
}
_MORE_OR_LESS = {
    "pull": ("pulls {} more in first", "pulls {} less in first"),
    "calm": ("turns {} faster", "turns {} slower"),
    "economy": ("burns {} more", "burns {} less"),
    "quick": ("is {} slower to 100 km/h", "is {} quicker to 100 km/h"),
}
SHARES = (0.60, 0.65, 0.70)  # of the rev limit, at which riders of singles cruise for hours: common practice, no source


def sentence(verdict: Verdict, system: str = "metric") -> str:
    """What to do, in one sentence."""
    one = verdict.candidate
    if verdict.action == "none":
        return _no_pair(verdict, system)
    what = (
        f"Keep {_pair(one)}"
        if verdict.action == "keep"
        else f"Order {_listed([_ordered(p) for p in verdict.to_order])}"
    )
    told = [*_limit_told(verdict, system), *_changes(verdict, system)]
    return f"{what}: {', '.join(told)}." if told else f"{what}."


def _no_pair(verdict: Verdict, system: str) -> str:
    if not verdict.certainty.names or not any(limit in LIMITED for limit in verdict.certainty.names):
        return (
            "What engine speed will you hold for hours at your cruising speed? "
            "Set that limit, and one pair can be named: until then every pair trades pull for revs."
        )
    if not verdict.relax:
        return f"No pair considered meets every limit; {_pair(verdict.candidate)} comes nearest."
    sure = f"{100 * verdict.sure:.0f} % certainty"
    first = verdict.relax[0]
    if all(one.candidate.n == first.candidate.n for one in verdict.relax) and len(verdict.relax) > 1:
        moved = _listed([f"{limit_label(r.limit)} {_bound(r, system)}" for r in verdict.relax])
        return f"No pair meets every limit with {sure}; {_pair(first.candidate)} would with {moved}."
    return (
        f"No pair meets every limit with {sure}: "
        f"with {limit_label(first.limit)} {_bound(first, system)}, {_pair(first.candidate)} does."
    )


def _bound(relaxed: Relaxed, system: str) -> str:
    goal = GOALS[LIMITED[relaxed.limit]]
    most = "at most" if goal.better < 0 else "at least"
    end, start = (shown(value, goal.reading, system) for value in (relaxed.end, relaxed.start))
    return f"{most} {end} instead of {start}"


def _pair(candidate: Candidate) -> str:
    return name(candidate.choice, candidate.n)


def _ordered(part: Part) -> str:
    if part.teeth is not None:
        article = "an" if str(part.teeth)[0] == "8" or part.teeth in (11, 18) else "a"
        return f"{article} {part.teeth}-tooth {part.part}"
    if part.links is not None:
        return f"a chain of {part.links} links"
    return f"a {part.part}" + (f" {part.size}" if part.part == "rear tire" else "")


def _listed(words: list[str]) -> str:
    return words[0] if len(words) == 1 else f"{', '.join(words[:-1])} and {words[-1]}"


def _limit_told(verdict: Verdict, system: str) -> Iterator[str]:
    """The limit to name: engine speed at the cruising speed where it is set, else the least certain one."""
    sure = verdict.sure_of(verdict.candidate) or {}
    limits = [limit for limit in sure if limit in LIMITED]
    if not limits:
        return
    limit = "cruise_engine_speed_most" if "cruise_engine_speed_most" in limits else min(limits, key=lambda n: sure[n])
    goal = GOALS[LIMITED[limit]]
    choice = verdict.choice
    value = shown(verdict.candidate.figures[goal.key], goal.reading, system)
    bound = shown(float(getattr(choice.limits, limit)), goal.reading, system)
    where = f" at {shown(choice.crossing.ride.cruise_m_s, 'speed', system)}" if goal.key == "cruise_speed" else ""
    label = "" if goal.key == "cruise_speed" else f"{goal.label} "
    yield f"{label}{value}{where} (limit {bound}, {percent(sure[limit])} sure)"


def percent(share: float) -> str:
    """A certainty in whole percent, never rounded up to certain.

    >>> percent(0.904), percent(0.9996), percent(1.0)
    ('90 %', 'over 99 %', 'over 99 %')
    """
    return "over 99 %" if share > 0.99 else f"{100 * share:.0f} %"


def _changes(verdict: Verdict, system: str) -> Iterator[str]:
    one, fitted = verdict.candidate, verdict.fitted
    if verdict.action == "keep":
        yield f"no other pair that meets the limits {_BETTER[verdict.wish]} by more than {100 * EQUAL:.1f} %"
        return
    if fitted is not None:
        yield from _against(verdict.wish, one, fitted)
    chain = one.chain
    if chain is None or chain["axle_shift_m"] is None:
        return
    changes_teeth = fitted is None or (one.front, one.rear) != (fitted.front, fitted.rear)
    if chain["fitted_chain_will_do"] and changes_teeth:
        yield "the chain stays"
    yield moved_axle(chain["axle_shift_m"], system)


def _against(wish: str, one: Candidate, fitted: Candidate) -> Iterator[str]:
    """The change of the wish's figure from what is fitted; of the pull too, where that is not the wish."""
    for key in dict.fromkeys((wish, "pull")):
        value, was = one.figures[WISHES[key]], fitted.figures[WISHES[key]]
        if value and was and round(100 * (value / was - 1)):
            change = 100 * (value / was - 1)
            yield _MORE_OR_LESS[key][change < 0].format(f"{abs(change):.0f} %")


def reasons(verdict: Verdict, system: str = "metric") -> tuple[str, ...]:
    """The two reasons that decided."""
    if verdict.action == "none":
        return ()
    holding = int((verdict.certainty.overall >= verdict.sure).sum())
    among = f"of {holding} pairs that meet every limit with at least {100 * verdict.sure:.0f} % certainty"
    one = verdict.candidate
    best = (
        _BEST[verdict.wish]
        if _leads(verdict)
        else f"is within {100 * EQUAL:.1f} % of the one that {_BEST[verdict.wish]}, for less work"
    )
    tight = next(iter(_tightest(verdict, system)), "")
    return tuple(filter(None, (f"{among} {_pair(one)} {best}", tight)))


def _leads(verdict: Verdict) -> bool:
    """Whether the pair of the verdict is the best by the wish, not only about as good for less work."""
    holding = verdict.certainty.rows[verdict.certainty.overall >= verdict.sure]
    goal = GOALS[WISHES[verdict.wish]]
    worth = goal.better * verdict.choice.figures[goal.key]
    return bool(worth[verdict.candidate.n] >= np.nanmax(worth[holding]))


def _tightest(verdict: Verdict, system: str) -> Iterator[str]:
    sure = {k: v for k, v in (verdict.sure_of(verdict.candidate) or {}).items() if k in LIMITED}
    if sure:
        limit = min(sure, key=lambda n: sure[n])
        goal = GOALS[LIMITED[limit]]
        value = shown(verdict.candidate.figures[goal.key], goal.reading, system)
        bound = shown(float(getattr(verdict.choice.limits, limit)), goal.reading, system)
        yield f"the tightest limit is {goal.label}: {value} against {bound}, {percent(sure[limit])} sure"


def runners_up(verdict: Verdict, system: str = "metric") -> tuple[str, ...]:
    """Each runner-up with what it is best at."""
    told = []
    for one in verdict.runners_up:
        speed = shown(one.candidate.figures["cruise_speed"], "engine speed", system)
        force = shown(one.candidate.figures["first_force"], "force", system)
        told.append(f"{_pair(one.candidate)}: {one.why} ({speed} at the cruising speed, {force} in first)")
    return tuple(told)


def order_list(verdict: Verdict) -> tuple[str, ...]:
    """What to order, part by part, with its price where one is stated, and what they cost together."""
    prices = verdict.choice.crossing.bikes.own.record.prices
    money = f" {prices.currency}" if prices.currency else ""
    told = []
    for part in verdict.to_order:
        what = (
            part.part
            + (f", {part.teeth} teeth" if part.teeth else "")
            + (f", {part.links} links" if part.links else "")
        )
        size = f", {part.size}" if part.size else ""
        told.append(what + size + ("" if part.price is None else f": {part.price:g}{money}"))
    if len(told) > 1 and verdict.cost is not None:
        told.append(f"together {verdict.cost:g}{money}")
    return tuple(told)


def measure_first(verdict: Verdict) -> tuple[str, str] | None:
    """The input to measure before ordering, and why."""
    first = verdict.measure_first
    if first is None:
        return None
    why = (
        f"{percent(first.share)} of the uncertainty in {GOALS[LIMITED[first.limit]].label} comes from it: "
        f"measured four times as closely, the limit would be {percent(first.certainty_then)} sure "
        f"instead of {percent(first.certainty)}, if it reads the same"
    )
    return first.path, why


def behind(
    verdict: Verdict, system: str = "metric", other_ways: tuple[str, ...] = ()
) -> tuple[tuple[str, tuple[str, ...]], ...]:
    """What stands behind the sentence, under its headings, in the order in which it is read; a heading may have no line."""
    measure = measure_first(verdict)
    return (
        ("Why", reasons(verdict, system)),
        ("Runners-up", runners_up(verdict, system)),
        ("Another way", other_ways),
        ("To order", order_list(verdict)),
        ("Measure first", () if measure is None else (f"{measure[0]}: {measure[1]}",)),
    )


def common_limits(choice: Choice, system: str = "metric") -> tuple[str, ...]:
    """Where no limit is named: the pair for three common shares of the rev limit."""
    told = []
    own = choice.crossing.bikes.own
    speed = choice.figures["cruise_speed"]
    force = choice.figures["first_force"]
    for share in SHARES:
        limit = share * own.rev_limit_rad_s
        inside = [n for n in range(len(speed)) if speed[n] <= limit]
        bound = f"{100 * share:.0f} % of the rev limit ({shown(limit, 'engine speed', system)})"
        if inside:
            best = max(inside, key=lambda n: force[n])
            told.append(f"{bound}: {name(choice, best)}, {shown(speed[best], 'engine speed', system)}")
        else:
            told.append(f"{bound}: no pair considered turns that slowly")
    return tuple(told)
