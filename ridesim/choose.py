"""Every sprocket pair at once: which meet the rider's limits, which nothing else beats, why each other one falls.

Fronts, rears, rear tires and tunes are crossed and go through the one kernel together; the chain of every pair is fitted in
the same way. A choice is made between figures, so each figure here has a name, a direction and a reading.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from functools import cached_property, partial
from typing import Any

import numpy as np
from numpy.typing import NDArray
from pydantic import ValidationError

from ridesim.answers.base import plain
from ridesim.answers.chain import chain_place
from ridesim.answers.words import shown
from ridesim.bike import Bike, make_bike, setups_of
from ridesim.build import Build, explained
from ridesim.errors import InputError, did_you_mean
from ridesim.mechanics.kernel import Performance, perform
from ridesim.mechanics.setups import Ride, SetUps
from ridesim.parts.chain import fit_chains
from ridesim.parts.chain_fit import ChainFits
from ridesim.record import Limits
from ridesim.units import kmh, kw, percent, rpm

Array = NDArray[np.float64]
MOST_SET_UPS = 100_000
MOST_TOLD = 12  # of the unbeaten, held against each other
EDGE = 1e-9  # a limit met to rounding is met
CHECKS = (
    "measure the axle's place, the slack under the rider and the clearance to swingarm, guard and case before the chain is cut",
    "count the links of the fitted chain and measure its wear over 20 pitches",
    "check that the sprockets' pitch and width suit the chain, and that the front one clears its cover",
)


@dataclass(frozen=True, kw_only=True)
class Goal:
    """A figure to choose by: its name, how it is read, and whether more (+1) or less (-1) of it is better."""

    key: str
    label: str
    reading: str
    better: int


GOALS = {
    goal.key: goal
    for goal in (
        Goal(key="cruise_speed", label="engine speed at the cruising speed", reading="engine speed", better=-1),
        Goal(key="first_force", label="wheel force in first", reading="force", better=1),
        Goal(key="first_climb", label="grade climbed in first", reading="percent", better=1),
        Goal(key="first_lift", label="lift ratio in first", reading="ratio", better=1),
        Goal(key="walking", label="walking speed in first", reading="speed", better=-1),
        Goal(key="top_speed", label="top speed", reading="speed", better=1),
        Goal(key="time_0_100", label="standstill to 100 km/h", reading="time", better=-1),
        Goal(key="roll_on", label="roll-on in top gear", reading="time", better=-1),
        Goal(key="fuel", label="fuel at the cruising speed", reading="consumption", better=-1),
    )
}
DEFAULT_GOALS = ("cruise_speed", "first_force")
# a limit of the build file -> the figure it bounds; "most" bounds from above
LIMITED = {
    "cruise_engine_speed_most": "cruise_speed",
    "first_gear_climb_least": "first_climb",
    "first_gear_lift_ratio_least": "first_lift",
    "walking_speed_most": "walking",
    "top_speed_least": "top_speed",
    "time_0_100_most": "time_0_100",
    "roll_on_60_100_most": "roll_on",
}


@dataclass(frozen=True, kw_only=True)
class Fall:
    """A limit that a set-up does not meet: which, in words, and by what share of the limit it is missed."""

    limit: str
    says: str
    miss: float


@dataclass(frozen=True, kw_only=True)
class Candidate:
    """One combination of front, rear, rear tire and tune. figures holds the SI figures by the keys of GOALS (None: never)."""

    front: int
    rear: int
    rear_tire: str
    tune: str
    figures: Mapping[str, float | None]
    falls: tuple[Fall, ...]
    unbeaten: bool
    read: Callable[[], dict[str, Any]] = field(repr=False, compare=False)

    @cached_property
    def answer(self) -> dict[str, Any]:
        """The answers with the keys of the single bike's, in short form; read off the kernel's arrays when asked for."""
        return self.read()

    @property
    def meets_limits(self) -> bool:
        return not self.falls

    @property
    def miss(self) -> float:
        """By what share the worst-missed limit is missed; 0 where all are met."""
        return max((fall.miss for fall in self.falls), default=0.0)


@dataclass(frozen=True, kw_only=True)
class Choice:
    """Every candidate, in the order asked for, and what follows from them."""

    name: str
    goals: tuple[Goal, ...]
    limits: Limits
    candidates: tuple[Candidate, ...]
    sentence: str
    assumptions: tuple[str, ...]
    notes: tuple[str, ...]

    @property
    def meeting(self) -> tuple[Candidate, ...]:
        return tuple(c for c in self.candidates if c.meets_limits)

    @property
    def unbeaten(self) -> tuple[Candidate, ...]:
        """Those nothing else beats, by rising first goal."""
        best = [c for c in self.candidates if c.unbeaten]
        key = self.goals[0].key
        return tuple(sorted(best, key=lambda c: (c.figures[key] is None, c.figures[key])))


def choose(
    build: Build,
    *,
    fronts: Sequence[int] | None = None,
    rears: Sequence[int] | None = None,
    rear_tires: Sequence[str] | None = None,
    tunes: Sequence[str] | None = None,
    ride: Ride | None = None,
    limits: Limits | None = None,
    goals: Sequence[str] = DEFAULT_GOALS,
) -> Choice:
    """Every combination, held to the limits.

    Parameters
    ----------
    build : Build
        What is not named below is as in the build; its [limits] stand unless `limits` is given.
    fronts, rears : sequence of int, optional
        Teeth; else those of the limits, else three either side of the front and six either side of the rear.
    rear_tires, tunes : sequence of str, optional
        Markings and tune names; else those of the limits, else the build's own.
    ride : Ride, optional
        The build's own unless given.
    limits : Limits, optional
    goals : sequence of str
        Keys of GOALS; the unbeaten are those to which no other is at least as good in all of them and better in one.

    Returns
    -------
    Choice

    Raises
    ------
    InputError
        An unknown tune, tire or goal, or more than 100,000 combinations.
    """
    own = make_bike(build)
    limits = build.record.limits if limits is None else limits
    chosen = tuple(_goal(key) for key in goals)
    z1 = _teeth(fronts or limits.fronts, range(max(6, own.front_teeth - 3), own.front_teeth + 4), (6, 40), "front")
    z2 = _teeth(rears or limits.rears, range(max(12, own.rear_teeth - 6), own.rear_teeth + 7), (12, 100), "rear")
    tire_list = tuple(dict.fromkeys(rear_tires or limits.rear_tires or (own.rear_tire.marking.written,)))
    tune_list = tuple(dict.fromkeys(tunes or limits.tunes or (own.tune,)))
    size = len(z1) * len(z2) * len(tire_list) * len(tune_list)
    if size > MOST_SET_UPS:
        raise InputError(
            "choose", f"{size} combinations", f"are more than {MOST_SET_UPS}", "Name fewer sprockets, tires or tunes."
        )
    ride = own.ride() if ride is None else ride
    front, rear = (a.ravel() for a in np.meshgrid(z1, z2, indexing="ij"))
    bikes = [make_bike(build, tune=tune, rear_tire=tire) for tire in tire_list for tune in tune_list]
    groups = [_group(bike, front, rear) for bike in bikes]
    performances = [perform(setups, bike.curve, ride, trace=False) for bike, setups in zip(bikes, groups, strict=True)]
    chains = _chains(own, front, rear)
    candidates: list[Candidate] = []
    for bike, setups, performance in zip(bikes, groups, performances, strict=True):
        candidates += _candidates(bike, setups, performance, ride, limits, front, rear, chains)
    candidates = _marked(candidates, chosen)
    notes = dict.fromkeys(note for bike in bikes for note in bike.notes)
    assumptions = dict.fromkeys(text for bike in bikes for text in bike.assumptions)
    return Choice(
        name=own.name,
        goals=chosen,
        limits=limits,
        candidates=tuple(candidates),
        sentence=_sentence(candidates, chosen),
        assumptions=tuple(assumptions),
        notes=(*notes, *_nearest(candidates)),
    )


def unbeaten(values: Array) -> NDArray[np.bool_]:
    """Which rows nothing beats, where less is better in every column: no other row is at most as large in all and smaller in one.

    nan is worse than any number. Equal rows stand or fall together.

    >>> unbeaten(np.array([[1.0, 5.0], [2.0, 3.0], [2.0, 4.0], [2.0, 3.0]])).tolist()
    [True, True, False, True]
    """
    values = np.where(np.isnan(values), np.inf, values)
    rows, inverse = np.unique(values, axis=0, return_inverse=True)
    kept = np.ones(len(rows), bool)
    for n, row in enumerate(rows):  # rows come sorted by their first column: whatever beats a row stands before it
        rivals = rows[:n][kept[:n]]
        kept[n] = not (rivals <= row).all(axis=1).any()
    return np.asarray(kept[inverse.ravel()])


def _goal(key: str) -> Goal:
    if key not in GOALS:
        raise InputError("goal", key, "is not a goal known here", did_you_mean(key, GOALS))
    return GOALS[key]


def _teeth(wanted: Sequence[int] | None, usual: Iterable[int], bounds: tuple[int, int], which: str) -> tuple[int, ...]:
    teeth = tuple(dict.fromkeys(wanted if wanted is not None else usual))
    for count in teeth:
        if isinstance(count, bool) or not isinstance(count, int) or not bounds[0] <= count <= bounds[1]:
            raise InputError(
                which,
                count,
                f"must be a whole number of teeth from {bounds[0]} to {bounds[1]}",
                "Name sprockets that can be had.",
            )
    return teeth


def _group(bike: Bike, front: Array, rear: Array) -> SetUps:
    ratios = bike.primary * np.array(bike.gears) * (rear / front)[:, None]
    return setups_of({**bike.raw, "ratios": ratios}, bike.cycle)


def _chains(own: Bike, front: Array, rear: Array) -> ChainFits | None:
    place = chain_place(own)
    if place.centre_now_m is None:
        return None
    return fit_chains(
        front_teeth=front,
        rear_teeth=rear,
        pitch_m=place.size.pitch_m,
        centre_distance_m=place.centre_now_m,
        travel_rearward_m=place.travel_m,
        fitted_links=own.record.final_drive.links,
        wear=float(own.record.final_drive.chain_wear),
    )


def _figures(bike: Bike, setups: SetUps, p: Performance, limits: Limits) -> dict[str, Array]:
    """The figures of GOALS for every set-up, (S,), nan where a thing does not happen."""
    g, c = p.gears, p.cruise
    held = np.where(c.holds, np.arange(1, c.holds.shape[1] + 1), 0).max(axis=1) - 1
    rows = np.arange(len(held))

    def cruising(values: Array) -> Array:
        return np.where(held >= 0, values[rows, held], np.nan)

    walk = np.nan if limits.walking_engine_speed is None else float(limits.walking_engine_speed)
    hundred = next(n for n, v in enumerate(Ride().targets_m_s) if abs(v - 100 / 3.6) < 1e-9)
    return {
        "cruise_speed": cruising(c.engine_speed_rad_s),
        "first_force": g.peak_force_n[:, 0],
        "first_climb": np.tan(g.steepest_slope_rad[:, 0]),
        "first_lift": g.lift_ratio[:, 0],
        "walking": setups.metres_per_radian[:, 0] * walk,
        "top_speed": p.top_speed_m_s,
        "time_0_100": p.run.times_s[:, hundred],
        "roll_on": p.roll_on_s[:, -1],
        "fuel": cruising(c.fuel_m3_per_m),
    }


def _candidates(
    bike: Bike,
    setups: SetUps,
    p: Performance,
    ride: Ride,
    limits: Limits,
    front: Array,
    rear: Array,
    chains: ChainFits | None,
) -> list[Candidate]:
    figures = _figures(bike, setups, p, limits)
    made = []
    for n in range(len(front)):
        own = {key: plain(values[n]) for key, values in figures.items()}
        made.append(
            Candidate(
                front=int(front[n]),
                rear=int(rear[n]),
                rear_tire=bike.rear_tire.marking.written,
                tune=bike.tune,
                figures=own,
                falls=(*_misses(own, limits), *_chain_misses(n, chains, limits)),
                unbeaten=False,
                read=partial(_short, bike, setups, p, ride, n, chains),
            )
        )
    return made


def _misses(figures: Mapping[str, float | None], limits: Limits) -> Iterable[Fall]:
    for name, key in LIMITED.items():
        limit = getattr(limits, name)
        if limit is None:
            continue
        goal, value = GOALS[key], figures[key]
        if value is None:
            yield Fall(
                limit=name,
                says=f"{goal.label}: does not happen, limit {shown(float(limit), goal.reading)}",
                miss=np.inf,
            )
            continue
        over = (value - limit) if goal.better < 0 else (limit - value)
        if over > EDGE * abs(limit):
            says = f"{goal.label} {shown(value, goal.reading)}, limit {shown(float(limit), goal.reading)}"
            yield Fall(limit=name, says=says, miss=float(over / abs(limit)))


def _chain_misses(n: int, chains: ChainFits | None, limits: Limits) -> Iterable[Fall]:
    if chains is None:
        return
    over = float(chains.fitted_links_over[n])
    if limits.keep_chain and not chains.fitted_chain_will_do[n]:
        word = "long" if over > 0 else "short"
        says = (
            f"the fitted chain is {abs(over):.1f} links too {word}"
            if np.isfinite(over)
            else "the fitted chain will not do"
        )
        yield Fall(limit="keep_chain", says=says, miss=abs(over) / 100 if np.isfinite(over) else np.inf)
    elif limits.within_axle_travel and not np.isfinite(chains.links_to_order[n]):
        far = 1e3 * abs(float(chains.nearest_miss_m[n]))
        yield Fall(
            limit="within_axle_travel",
            says=f"no even chain puts the axle within its travel: {far:.1f} mm outside",
            miss=far / 1e3,
        )


def _short(bike: Bike, setups: SetUps, p: Performance, ride: Ride, n: int, chains: ChainFits | None) -> dict[str, Any]:
    """One set-up with the keys of the single answer, in short form."""
    g, c = p.gears, p.cruise
    gears = [
        {
            "gear": k + 1,
            "overall_ratio": plain(setups.ratios[n, k]),
            "top_speed_kmh": plain(kmh(g.top_speed_m_s[n, k])),
            "peak_wheel_force_n": plain(g.peak_force_n[n, k]),
            "steepest_grade_percent": plain(percent(np.tan(g.steepest_slope_rad[n, k]))),
            "lift_ratio": plain(g.lift_ratio[n, k]),
            "best_upshift_rpm": plain(rpm(g.upshift_rad_s[n, k])),
        }
        for k in range(setups.ratios.shape[1])
    ]
    cruise = [
        {
            "gear": int(k) + 1,
            "speed_kmh": plain(kmh(ride.cruise_m_s)),
            "engine_rpm": plain(rpm(c.engine_speed_rad_s[n, k])),
            "share_of_rev_limit": plain(c.engine_speed_rad_s[n, k] / bike.rev_limit_rad_s),
            "power_needed_kw": plain(kw(c.needed_w[n, k])),
            "power_available_kw": plain(kw(c.available_w[n, k])),
            "grade_held_percent": plain(percent(np.tan(c.slope_held_rad[n, k]))),
            "fuel_l_per_100km": plain(c.fuel_m3_per_m[n, k] * 1e8),
        }
        for k in np.nonzero(c.holds[n])[0]
    ]
    top = p.top_speed_m_s[n]
    acceleration = {f"0_{kmh(v):.0f}_kmh_s": plain(p.run.times_s[n, i]) for i, v in enumerate(ride.targets_m_s)}
    low, high = (kmh(v) for v in ride.roll_on_m_s)
    chain = None
    if chains is not None:
        links = plain(chains.links_to_order[n])
        chain = {
            "links_exact": plain(chains.links_exact[n]),
            "links_to_order": None if links is None else int(links),
            "centre_distance_m": plain(chains.centre_distance_m[n]),
            "axle_shift_m": plain(chains.axle_shift_m[n]),
            "fitted_chain_will_do": bool(chains.fitted_chain_will_do[n]),
        }
    return {
        "rolling_circumference_m": bike.rear_tire.circumference_m,
        "gears": gears,
        "top_speed_kmh": plain(kmh(top)),
        "top_speed_gear": int(p.top_speed_gear[n]) if np.isfinite(top) else None,
        "cruise": cruise,
        "acceleration": acceleration | {f"{ride.distance_m:.0f}_m_s": plain(p.run.distance_time_s[n])},
        "roll_on": [{"gear": k + 1, f"{low:.0f}_{high:.0f}_kmh_s": plain(t)} for k, t in enumerate(p.roll_on_s[n])],
        "chain": chain,
    }


def _marked(candidates: list[Candidate], goals: tuple[Goal, ...]) -> list[Candidate]:
    """The unbeaten marked: among those that meet every limit, or among all where none does."""
    pool = [n for n, c in enumerate(candidates) if c.meets_limits] or list(range(len(candidates)))
    table = np.array(
        [[np.nan if (v := candidates[n].figures[g.key]) is None else -g.better * v for g in goals] for n in pool],
        dtype=float,
    ).reshape(len(pool), len(goals))
    best = {n for n, keep in zip(pool, unbeaten(table), strict=True) if keep}
    return [replace(c, unbeaten=True) if n in best else c for n, c in enumerate(candidates)]


def _sentence(candidates: list[Candidate], goals: tuple[Goal, ...]) -> str:
    meeting = sum(c.meets_limits for c in candidates)
    best = [c for c in candidates if c.unbeaten]
    by = " and ".join(g.label for g in goals)
    what = f"{len(candidates)} combinations"
    if meeting == 0:
        return f"None of {what} meets every limit; the nearest misses are listed first."
    pairs = ", ".join(f"{c.front}/{c.rear}" for c in best[:5]) + (" ..." if len(best) > 5 else "")
    return f"{meeting} of {what} meet every limit; {len(best)} of them nothing else beats in {by}: {pairs}."


def _nearest(candidates: list[Candidate]) -> tuple[str, ...]:
    """Where nothing meets the limits: the nearest miss, and which limit to relax."""
    if not candidates or any(c.meets_limits for c in candidates):
        return ()
    near = min(candidates, key=lambda c: (c.miss, len(c.falls)))
    worst = max(near.falls, key=lambda fall: fall.miss)
    return (
        f"nearest is {near.front}/{near.rear}: {'; '.join(fall.says for fall in near.falls)}; relax {worst.limit} first",
    )


def not_told_apart(choice: Choice, build: Build, ride: Ride | None = None) -> tuple[str, ...]:
    """Which of the unbeaten the inputs leave too open to tell apart, by the goals: the first dozen, drawn alike."""
    from ridesim.bands import FIGURES, all_told_apart

    some = choice.unbeaten[:MOST_TOLD]
    if len(some) < 2:
        return ()
    bikes = [make_bike(build, front=c.front, rear=c.rear, rear_tire=c.rear_tire, tune=c.tune) for c in some]
    apart = np.zeros((len(some), len(some)), bool)
    for goal in choice.goals:
        if goal.key in FIGURES:
            apart |= all_told_apart(bikes, goal.key, ride)
    names = [f"{c.front}/{c.rear} {c.rear_tire} {c.tune}" for c in some]
    return tuple(
        f"{names[a]} and {names[b]} cannot be told apart by {' or '.join(g.label for g in choice.goals)} within what the inputs leave open"
        for a in range(len(some))
        for b in range(a + 1, len(some))
        if not apart[a, b]
    )


def contract(choice: Choice) -> dict[str, Any]:
    """The choice as one JSON object."""
    return {
        "name": choice.name,
        "goals": [goal.key for goal in choice.goals],
        "meeting": len(choice.meeting),
        "candidates": [row(c) for c in choice.candidates],
        "sentence": choice.sentence,
        "check_before_ordering": list(CHECKS),
        "assumptions": list(choice.assumptions),
        "notes": list(choice.notes),
    }


def row(c: Candidate) -> dict[str, Any]:
    """One candidate as a JSON object."""
    return {
        "front": c.front,
        "rear": c.rear,
        "rear_tire": c.rear_tire,
        "tune": c.tune,
        **c.answer,
        "meets_limits": c.meets_limits,
        "unbeaten": c.unbeaten,
        "falls": [fall.says for fall in c.falls],
        "miss": c.miss if np.isfinite(c.miss) else None,
    }


def held_to(limits: Limits, **changes: Any) -> Limits:
    """The limits with some given anew, as a rider writes them ("4800 rev/min"); an empty text takes one away."""
    given = {k: v for k, v in changes.items() if v is not None}
    try:
        fresh = Limits.model_validate({k: v for k, v in given.items() if v != ""})
    except ValidationError as errors:
        raise explained(errors) from None
    update = {k: getattr(fresh, k) for k in given if given[k] != ""} | {k: None for k in given if given[k] == ""}
    return limits.model_copy(update=update)
