"""The choice in columns for the table: numbers as they are read, words only where few things differ."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from typing import Any

import numpy as np

from dashboard import display
from dashboard.queries import selection
from ridesim.answers import Column
from ridesim.selection import Choice, Combination, Goal, grouped, limit_label
from ridesim.selection.goals import GOALS, RIDE_GOALS

VERDICTS = {"best": "best trade-off", "meets": "meets all", "falls": "misses a limit"}
MOST_TOLD = 12  # of the unbeaten, as a plain table


def heads(choice: Choice, system: str) -> list[dict[str, Any]]:
    """The columns of the table."""
    bikes = choice.crossing.bikes
    number = {"type": "numericColumn", "width": 132}
    return [
        {"field": "pair", "headerName": "Pair", "pinned": "left", "width": 84},
        {"field": "alike", "headerName": "Too close to call", "width": 112},
        {"field": "tire", "headerName": "Rear tire", "width": 150, "hide": len(bikes.tires) < 2},
        {"field": "tune", "headerName": "Tune", "width": 110, "hide": len(bikes.tunes) < 2},
        {"field": "verdict", "headerName": "Verdict", "width": 165},
        {"field": "miss", "headerName": "Worst miss [%]", **number, "width": 100},
        *({"field": goal.key, "headerName": head(goal, choice, system), **number} for goal in _goals(choice)),
        {"field": "links", "headerName": "Links", **number, "width": 88},
        {"field": "kept", "headerName": "Fitted chain", "width": 150},
        {"field": "axle", "headerName": f"Axle moves [{display.unit_of('small length', system)}]", **number},
        {"field": "misses", "headerName": "Misses", "width": 360},
    ]


def head(goal: Goal, choice: Choice, system: str) -> str:
    """The heading of a figure, with its unit."""
    unit = "" if goal.reading == "number" else display.unit_of(goal.reading, system)
    at = f" at {display.shown(choice.walking_rad_s, 'engine speed', system)}" if goal.key == "walking" else ""
    return goal.label_in(system).capitalize() + at + (f" [{unit}]" if unit else "")


def _goals(choice: Choice) -> list[Goal]:
    """The figures of the table: walking only where its engine speed is known, those of a ride only with one."""
    known = GOALS | (RIDE_GOALS if choice.crossing.logs else {})
    return [g for g in known.values() if g.key != "walking" or np.isfinite(choice.walking_rad_s)]


def rows(choice: Choice, system: str, *, misses: bool) -> list[dict[str, Any]]:
    """Combinations as rows of numbers as they are read: the unbeaten, then those that meet the limits, and the nearest misses if they
    are asked for or nothing else is left; those that cannot be told apart stand together, as a group."""
    held, crossing = choice.held, choice.crossing
    best = choice.best & held.meets
    first = choice.figures[choice.goals[0].key]
    order = np.lexsort((first, held.worst, ~held.meets, ~best))
    firsts = grouped(choice, order.tolist())
    groups = {n: f"group {k}" for k, n in enumerate((n for n, size in Counter(firsts.values()).items() if size > 1), 1)}
    order = np.array(list(firsts))
    order = order if misses or not held.meets.any() else order[: held.meets.sum()]
    tires, tunes, count = crossing.bikes.tires, crossing.bikes.tunes, len(crossing.fronts)
    pairs = np.array([f"{a}/{b}" for a, b in zip(crossing.fronts.tolist(), crossing.rears.tolist(), strict=True)])
    columns: dict[str, Any] = {
        "id": np.array(selection.names(choice)),
        "pair": crossing.of_pairs(pairs),
        "alike": np.array([groups.get(firsts[n], "") for n in range(len(crossing))]),
        "tire": np.repeat(tires, len(tunes) * count),
        "tune": np.tile(np.repeat(tunes, count), len(tires)),
        "verdict": np.where(best, VERDICTS["best"], np.where(held.meets, VERDICTS["meets"], VERDICTS["falls"])),
        "miss": np.round(100 * held.worst, 1),
        **{goal.key: display.rounded(choice.figures[goal.key], goal.reading, system) for goal in _goals(choice)},
        **_chain(choice, system),
        "misses": _misses(choice),
    }
    plain = [_listed(np.asarray(column)[order]) for column in columns.values()]
    return [dict(zip(columns, cells, strict=True)) for cells in zip(*plain, strict=True)]


def _listed(column: Any) -> list[Any]:
    """Python's own values; nothing where there is no number."""
    if column.dtype.kind != "f":
        return list(column.tolist())
    return [value if -1e300 < value < 1e300 else None for value in column.tolist()]


def _chain(choice: Choice, system: str) -> dict[str, Any]:
    crossing = choice.crossing
    if crossing.chains is None:
        nothing = np.full(len(crossing), np.nan)
        return {"links": nothing, "kept": np.full(len(crossing), "not known"), "axle": nothing}
    kept = np.where(crossing.chains.fitted_chain_will_do, "will do", "too long or short")
    kept = np.where(np.isfinite(crossing.chains.links_to_order), kept, "no chain fits")
    return {
        "links": crossing.of_pairs(crossing.chains.links_to_order),
        "kept": crossing.of_pairs(kept),
        "axle": crossing.of_pairs(display.rounded(crossing.chains.axle_shift_m, "small length", system)),
    }


def _misses(choice: Choice) -> Any:
    """Which limits each row misses: as many texts as there are sets of limits missed together."""
    fallen = choice.held.fallen
    sets = (1 << np.arange(len(fallen))) @ fallen if len(fallen) else np.zeros(len(choice.crossing), int)
    different, which = np.unique(sets, return_inverse=True)
    labels = [limit_label(name) for name in choice.held.names]
    texts = [", ".join(label for n, label in enumerate(labels) if int(one) >> n & 1) for one in different]
    return np.array(texts)[which]


def best_table(choice: Choice, system: str) -> tuple[list[Column], list[dict[str, Any]]]:
    """The first of the best trade-offs, as a plain table."""
    bikes = choice.crossing.bikes
    columns = [
        Column(key="pair", label="Pair", reading="text"),
        *([Column(key="tire", label="Rear tire", reading="text")] if len(bikes.tires) > 1 else []),
        *([Column(key="tune", label="Tune", reading="text")] if len(bikes.tunes) > 1 else []),
        *(
            Column(key=goal.key, label=goal.label_in(system).capitalize(), reading=goal.reading)
            for goal in choice.goals
        ),
        Column(key="links", label="Links", reading="links"),
        Column(key="axle", label="Axle moves", reading="small length"),
    ]
    return columns, [_best_row(one, choice.goals) for one in choice.unbeaten[:MOST_TOLD]]


def _best_row(one: Combination, goals: Sequence[Goal]) -> dict[str, Any]:
    chain = one.chain or {}
    return {
        "pair": f"{one.front}/{one.rear}",
        "tire": one.rear_tire,
        "tune": one.tune,
        **{goal.key: one.figures[goal.key] for goal in goals},
        "links": chain.get("links_to_order"),
        "axle": chain.get("axle_shift_m"),
    }
