"""The whole choice and its verdict as one JSON object; all of it as an answer; one combination with the keys of the single bike's answer."""

from __future__ import annotations

from dataclasses import asdict
from typing import TYPE_CHECKING, Any

import numpy as np

from ridesim.answers.answer import Answer, Column, Figure, Figures, Table, plain
from ridesim.answers.contract import acceleration_keys, cruise_keys, gear_keys, roll_on_keys, top_speed_keys
from ridesim.selection.crossing import Crossing
from ridesim.selection.goals import goal, limited
from ridesim.selection.held import KEEP
from ridesim.statements import BothWays
from ridesim.units import COUNTED, rpm, shown_in

if TYPE_CHECKING:
    from ridesim.selection.choice import Choice, Combination
    from ridesim.selection.verdict import Verdict


def contract(choice: Choice, decided: Verdict) -> dict[str, Any]:
    """The choice and its verdict as one JSON object: the verdict, every candidate with its answers and certainty, and
    the notes.

    Keys end in their unit, as of a single bike's answer; null is what does not happen.

    >>> import ridesim as rs
    >>> from ridesim.selection import choose, verdict
    >>> found = choose(rs.demo("coast-single").build, fronts=(15,), rears=(42,))
    >>> told = contract(found, verdict(found))
    >>> told["verdict"]["action"], told["verdict"]["to_order"][0], told["candidates"][0]["meets_limits"]
    ('order', {'part': 'front sprocket', 'teeth': 15, 'size': '520'}, True)
    """
    from ridesim.selection.words import CHECKS, too_close

    return {
        "name": choice.name,
        "verdict": verdict_object(decided),
        "goals": [goal.key for goal in choice.goals],
        "meeting": len(choice.meeting),
        "candidates": [row(c) | {"certainty": decided.sure_of(c)} for c in choice.candidates],
        "sentence": choice.sentence,
        "check_before_ordering": list(CHECKS),
        "assumptions": list(choice.assumptions),
        "notes": list(choice.notes),
        "not_told_apart": list(too_close(choice)),
    }


def verdict_object(decided: Verdict) -> dict[str, Any]:
    """A verdict with the keys of the contract; limits as plain numbers in the unit of their key in a build file."""
    from ridesim.selection import verdict_words

    one = decided.candidate
    first, choice = decided.measure_first, decided.choice
    return {
        "action": decided.action,
        "front": one.front,
        "rear": one.rear,
        "rear_tire": one.rear_tire,
        "tune": one.tune,
        "wish": decided.wish,
        "sentence": verdict_words.sentence(decided),
        "reasons": list(verdict_words.reasons(decided)),
        "certainty": decided.sure_of(one),
        "to_order": [{k: v for k, v in asdict(part).items() if v is not None} for part in decided.to_order],
        "axle_shift_m": (one.chain or {}).get("axle_shift_m"),
        "cost": decided.cost,
        "runners_up": [
            {"front": up.candidate.front, "rear": up.candidate.rear, "why": up.why} for up in decided.runners_up
        ],
        "measure_first": None if first is None else {"what": first.path, "why": verdict_words.measure_first(first)},
        "relax": [
            {
                "limit": one.limit,
                "from": as_written(one.limit, one.start),
                "to": as_written(one.limit, one.end),
                "front": choice.candidates[one.row].front,
                "rear": choice.candidates[one.row].rear,
            }
            for one in decided.relax
        ],
        **({"ride": _ride(choice, one)} if choice.crossing.logs else {}),
    }


def as_written(limit: str, value: float) -> float | bool:
    """A limit as it stands in a build file: a plain number, or whether the chain is kept.

    >>> as_written("top_speed_least", 25.0), as_written("keep_chain", 1.0)
    (90.0, True)
    """
    if limit == KEEP:
        return bool(value)
    reading = limited(limit).reading
    return value if reading in COUNTED else round(float(shown_in(value, reading, "metric")[0]), 9)


def _ride(choice: Choice, one: Combination) -> dict[str, Any]:
    """The rider's own rides, and what they are with a combination."""
    rides = choice.crossing.replays[0]
    return {
        "logs": [log.name for log in choice.crossing.logs],
        "distance_km": rides.distance_m / 1e3,
        "moving_h": rides.moving_s / 3600.0,
        **on_ride(one),
    }


def on_ride(one: Combination) -> dict[str, Any]:
    """The rides with a combination; the engine speed is that above which time is counted."""
    found = one.figures
    return {
        "above_engine_rpm": float(rpm(one.choice.high_rad_s)),
        "share_of_time_above": found["ride_time_above"],
        "shifts_per_hour": found["ride_shifts"],
        "fuel_l_per_100km": 1e8 * (found["ride_fuel"] or 0.0),
        "range_km": None if found["ride_range"] is None else found["ride_range"] / 1e3,
    }


def row(c: Combination) -> dict[str, Any]:
    """One candidate as a JSON object: its parts, its answers, which limits it misses, and by what share the worst is
    missed.
    """
    return {
        "front": c.front,
        "rear": c.rear,
        "rear_tire": c.rear_tire,
        "tune": c.tune,
        **c.answer,
        **({"ride": on_ride(c)} if c.choice.crossing.logs else {}),
        "meets_limits": c.meets_limits,
        "unbeaten": c.unbeaten,
        "falls": [fall.says for fall in c.falls],
        "miss": c.miss if np.isfinite(c.miss) else None,
    }


def answer(crossing: Crossing, n: int) -> dict[str, Any]:
    """Row n of a crossing with the keys of the single bike's answer, in short form."""
    tire, tune, pair = crossing.place(n)
    row = tire * len(crossing.fronts) + pair
    bike, setups, p, ride = (
        crossing.bikes.by_tune[tune],
        crossing.setups[tune],
        crossing.performances[tune],
        crossing.ride,
    )
    return {
        "rolling_circumference_m": crossing.bikes.by_tire[tire].rear_tire.circumference_m,
        "gears": [gear_keys(setups, p.gears, row, k) for k in range(setups.ratios.shape[1])],
        **top_speed_keys(p, row),
        "cruise": [
            cruise_keys(p.cruise, ride, bike.rev_limit_rad_s, row, int(k)) for k in np.nonzero(p.cruise.holds[row])[0]
        ],
        "acceleration": acceleration_keys(p, ride, row),
        "roll_on": roll_on_keys(p, ride, row),
        "chain": chain(crossing, pair),
    }


def chain(crossing: Crossing, pair: int) -> dict[str, Any] | None:
    """The chain of a pair, counted from 0; None where nothing says where the axle is."""
    chains = crossing.chains
    if chains is None:
        return None
    links = plain(chains.links_to_order[pair])
    return {
        "links_exact": plain(chains.links_exact[pair]),
        "links_to_order": None if links is None else int(links),
        "centre_distance_m": plain(chains.center_distance_m[pair]),
        "axle_shift_m": plain(chains.axle_shift_m[pair]),
        "fitted_chain_will_do": bool(chains.fitted_chain_will_do[pair]),
    }


_PARTS = (
    ("front", "Front", "teeth"),
    ("rear", "Rear", "teeth"),
    ("rear_tire", "Rear tire", "text"),
    ("tune", "Tune", "text"),
)
_CHAIN = (
    ("links_to_order", "Links", "links"),
    ("axle_shift_m", "Axle moves", "small length"),
    ("fitted_chain_will_do", "Fitted chain will do", "yes or no"),
)
_SAID = (("meets_limits", "Meets every limit", "yes or no"), ("unbeaten", "Best trade-off", "yes or no"))


def answer_of(verdict: Verdict) -> Answer:
    """A verdict and all that was chosen from as an answer: the figures are those of the combination it is about."""
    from ridesim.selection.verdict_words import reasons, sentence
    from ridesim.selection.words import CHECKS

    choice = verdict.choice
    return Answer(
        question="Which sprockets?",
        say=(BothWays.of(sentence, verdict),),
        figures=Figures(
            *(
                Figure(
                    key=key,
                    label=BothWays.of(choice.label, key),
                    value=value,
                    reading=goal(key).reading,
                    better=goal(key).better,
                )
                for key, value in verdict.candidate.figures.items()
            )
        ),
        tables=(pairs(choice),),
        assumptions=choice.assumptions,
        steps=reasons(verdict),
        notes=tuple(map(BothWays, choice.notes, choice.notes_in("us"))),
        cautions=CHECKS,
    )


def _heading(choice: Choice, key: str, system: str) -> str:
    label = choice.label(key, system)
    return label[0].upper() + label[1:]


def pairs(choice: Choice) -> Table:
    """A combination a row: its parts, the figures to choose by, its chain, whether it meets every limit, and those it misses."""
    goals = [(key, BothWays.of(_heading, choice, key), goal(key).reading) for key in choice.figures]
    told = (*_PARTS, *goals, *_CHAIN, *_SAID, ("misses", "Misses", "text"))
    columns = tuple(Column(key=key, label=label, reading=reading) for key, label, reading in told)
    rows = tuple(
        {
            **{key: getattr(one, key) for key, *_ in (*_PARTS, *_SAID)},
            **one.figures,
            **(one.chain or {}),
            "misses": BothWays.of(choice.misses, one.n),
        }
        for one in choice.candidates
    )
    return Table(title="Pairs", columns=columns, rows=rows)
