"""The whole choice and its verdict as one JSON object."""

from __future__ import annotations

from dataclasses import asdict
from typing import TYPE_CHECKING, Any

import numpy as np

from ridesim.selection import verdict_words
from ridesim.selection.goals import GOALS, LIMITED
from ridesim.selection.words import CHECKS
from ridesim.units import shown_in

if TYPE_CHECKING:
    from ridesim.selection.choice import Candidate, Choice
    from ridesim.selection.verdict import Verdict


def contract(choice: Choice, decided: Verdict) -> dict[str, Any]:
    """The choice and its verdict as one JSON object."""
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
    }


def verdict_object(decided: Verdict) -> dict[str, Any]:
    """A verdict with the keys of the contract; limits as plain numbers in the unit of their key in a build file."""
    one = decided.candidate
    measure = verdict_words.measure_first(decided)
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
        "measure_first": None if measure is None else {"what": measure[0], "why": measure[1]},
        "relax": [
            {
                "limit": r.limit,
                "from": as_written(r.limit, r.start),
                "to": as_written(r.limit, r.end),
                "front": r.candidate.front,
                "rear": r.candidate.rear,
            }
            for r in decided.relax
        ],
    }


def as_written(limit: str, value: float) -> float:
    """A limit as a plain number of a build file.

    >>> as_written("top_speed_least", 25.0)
    90.0
    """
    return round(float(shown_in(value, GOALS[LIMITED[limit]].reading, "metric")[0]), 9)


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
