"""One combination with the keys of the single bike's answer, in short form; and all of them as a frame."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np

from ridesim.answers.answer import Column, Table, plain
from ridesim.answers.contract import acceleration_keys, cruise_keys, gear_keys, roll_on_keys, top_speed_keys
from ridesim.answers.frames import table_frame
from ridesim.selection.crossing import Crossing
from ridesim.selection.goals import goal

if TYPE_CHECKING:
    from pandas import DataFrame

    from ridesim.selection.choice import Choice


def answer(crossing: Crossing, n: int) -> dict[str, Any]:
    """Row n with the keys of the single answer."""
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
    """The chain of a pair."""
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


def frame(choice: Choice, units: str) -> DataFrame:
    """A combination a row: its parts, the figures to choose by, its chain, whether it meets every limit, and those it misses."""
    labels = {key: choice.label(key, units) for key in choice.figures}
    goals = [(key, label[0].upper() + label[1:], goal(key).reading) for key, label in labels.items()]
    told = (*_PARTS, *goals, *_CHAIN, *_SAID, ("misses", "Misses", "text"))
    columns = tuple(Column(key=key, label=label, reading=reading) for key, label, reading in told)
    rows = tuple(
        {
            **{key: getattr(one, key) for key, *_ in (*_PARTS, *_SAID)},
            **one.figures,
            **(one.chain or {}),
            "misses": "; ".join(fall.says for fall in choice.falls(one.n, units)),
        }
        for one in choice.candidates
    )
    return table_frame(Table(title=choice.name, columns=columns, rows=rows), units)
