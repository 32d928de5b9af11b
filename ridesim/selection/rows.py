"""One combination with the keys of the single bike's answer, in short form."""

from __future__ import annotations

from typing import Any

import numpy as np

from ridesim.answers import keys
from ridesim.answers.base import plain
from ridesim.selection.crossing import Crossing


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
        "gears": [keys.gear(setups, p.gears, row, k) for k in range(setups.ratios.shape[1])],
        **keys.top_speed(p, row),
        "cruise": [
            keys.cruise(p.cruise, ride, bike.rev_limit_rad_s, row, int(k)) for k in np.nonzero(p.cruise.holds[row])[0]
        ],
        "acceleration": keys.acceleration(p, ride, row),
        "roll_on": keys.roll_on(p, ride, row),
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
        "centre_distance_m": plain(chains.centre_distance_m[pair]),
        "axle_shift_m": plain(chains.axle_shift_m[pair]),
        "fitted_chain_will_do": bool(chains.fitted_chain_will_do[pair]),
    }
