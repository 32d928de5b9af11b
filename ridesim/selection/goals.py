"""The figures to choose by: their names, which way each is better, which limit bounds which, and what nothing else beats."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from ridesim.errors import InputError, did_you_mean
from ridesim.statements import BothWays, in_units

Array = NDArray[np.float64]


@dataclass(frozen=True, kw_only=True)
class Goal:
    """A figure to choose by: its name, how it is read, and whether more (+1) or less (-1) of it is better."""

    key: str
    label: str
    reading: str
    better: int

    def label_in(self, system: str) -> str:
        """What it is called in metric or US units: the figure stays that of 100 km/h, 62 mph.

        >>> GOALS["time_0_100"].label_in("us")
        'standstill to 62 mph (100 km/h)'
        """
        return in_units(self.label, system)


GOALS = {  # what every bike has
    goal.key: goal
    for goal in (
        Goal(key="cruise_speed", label="engine speed at the cruising speed", reading="engine speed", better=-1),
        Goal(key="first_force", label="wheel force in first", reading="force", better=1),
        Goal(key="first_climb", label="grade climbed in first", reading="percent", better=1),
        Goal(key="first_lift", label="lift ratio in first", reading="ratio", better=1),
        Goal(key="walking", label="walking speed in first", reading="speed", better=-1),
        Goal(key="top_speed", label="top speed", reading="speed", better=1),
        Goal(
            key="time_0_100",
            label="standstill to " + BothWays("100 km/h", "62 mph (100 km/h)"),
            reading="time",
            better=-1,
        ),
        Goal(key="roll_on", label="roll-on in top gear", reading="time", better=-1),
        Goal(key="fuel", label="fuel at the cruising speed", reading="consumption", better=-1),
    )
}
RIDE_GOALS = {  # what a ride of the rider's own has, where one is given
    goal.key: goal
    for goal in (
        Goal(key="ride_time_above", label="time at high engine speed on your ride", reading="percent", better=-1),
        Goal(key="ride_shifts", label="shifts an hour on your ride", reading="number", better=-1),
        Goal(key="ride_fuel", label="fuel on your ride", reading="consumption", better=-1),
        Goal(key="ride_range", label="range on your ride", reading="journey", better=1),
    )
}
EVERY_GOAL = GOALS | RIDE_GOALS
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
    "ride_time_above_most": "ride_time_above",
    "ride_shifts_per_hour_most": "ride_shifts",
    "ride_fuel_most": "ride_fuel",
    "ride_range_least": "ride_range",
}
RIDE_LIMITS = tuple(name for name, key in LIMITED.items() if key in RIDE_GOALS)


def goal(key: str) -> Goal:
    """The goal of a name; InputError with the near ones for any other.

    >>> goal("fuel").label, goal("fuel").better
    ('fuel at the cruising speed', -1)
    >>> goal("full")
    Traceback (most recent call last):
    ridesim.errors.InputError: goal = 'full': is not a goal known here. Did you mean 'fuel'?
    """
    if key not in EVERY_GOAL:
        raise InputError("goal", key, "is not a goal known here", did_you_mean(key, EVERY_GOAL))
    return EVERY_GOAL[key]


def limited(limit: str) -> Goal:
    """The figure that a limit of the build file bounds.

    >>> limited("top_speed_least").key
    'top_speed'
    """
    return goal(LIMITED[limit])


def unbeaten(values: Array) -> NDArray[np.bool_]:
    """Which rows nothing beats, where less is better in every column: no other row is at most as large in all and smaller in one.

    nan is worse than any number. Equal rows stand or fall together.

    >>> unbeaten(np.array([[1.0, 5.0], [2.0, 3.0], [2.0, 4.0], [2.0, 3.0]])).tolist()
    [True, True, False, True]
    """
    if not values.size:
        return np.ones(len(values), bool)
    values = np.where(np.isnan(values), np.inf, values)
    order = np.lexsort(
        values.T[::-1]
    )  # by the first column, then the second, ...: whatever beats a row stands before it
    rows = values[order]
    fresh = np.append(True, (rows[1:] != rows[:-1]).any(axis=1))
    rows, group = rows[fresh], np.cumsum(fresh) - 1
    kept = np.empty(len(values), bool)
    kept[order] = (_lowest(rows) if values.shape[1] == 2 else _sieved(rows))[group]
    return kept


def _lowest(rows: Array) -> NDArray[np.bool_]:
    """Of sorted rows of two figures, those below every row before them in the second."""
    before = np.append(np.inf, np.minimum.accumulate(rows[:-1, 1]))
    return np.asarray((rows[:, 1] < before) | (np.arange(len(rows)) == 0))


def _sieved(rows: Array) -> NDArray[np.bool_]:
    """Of sorted rows of any number of figures: the first that is left stands, and takes out all it beats."""
    kept = np.zeros(len(rows), bool)
    left = np.arange(len(rows))
    while left.size:
        first, left = left[0], left[1:]
        kept[first] = True
        left = left[(rows[left] < rows[first]).any(axis=1)]
    return kept
