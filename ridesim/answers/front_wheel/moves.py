"""What moves the front wheel: tune, tooth, rider, luggage, slope and surface, each changed alone by a stated step."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import replace

import numpy as np

from ridesim.answers.answer import Table, table_of
from ridesim.answers.front_wheel import CODES, NEVER, comes_up
from ridesim.answers.solved import Solved, solve
from ridesim.bike import make_bike
from ridesim.units import either

STEP_KG, STEP_M, STEP_GRADE, STEP_TEETH = 10.0, 0.05, 0.05, 1
BIKE_STEPS = (  # one figure of the bike alone: its key, its step, how it is said
    ("rider_kg", STEP_KG, "rider " + either("mass", STEP_KG) + " heavier"),
    ("rider_ahead_m", -STEP_M, "rider " + either("small length", STEP_M) + " farther back"),
)


def what_moves_it(solved: Solved, gear: int = 1) -> Table:
    """By how much each step moves the front wheel in a gear, by the technique that is the gentlest of the bike as it is.

    Parameters
    ----------
    solved : Solved
        The bike on its ride; tolerances and ranges are left out, everything stands in the middle.
    gear : int
        Counted from 1; the top one where there are fewer.

    Returns
    -------
    Table
        A row each: what was changed, how the front comes up ("no" where by nothing), its height half a second after [m] by the
        technique of the first row, the change of that [m], and whether the rear tire spins.
    """
    k = min(gear, solved.gear_count) - 1
    said, bikes = zip(("as it is", solved), *_changed(solved), strict=True)
    lifts = [comes_up(one, 1, k) for one in bikes]
    gentlest = [int(one.gentlest[0, 0]) for one in lifts]
    way = min(gentlest[0], NEVER - 1)
    height = [float(one.height_m[0, 0, way]) for one in lifts]
    return table_of(
        f"What moves it in gear {k + 1}",
        ("step", "Changed alone", "text", said),
        ("way", "Comes up", "text", [CODES[one] for one in gentlest]),
        ("height", f"High, {CODES[way]}", "small length", height),
        ("change", "Change", "small length", [None, *(one - height[0] for one in height[1:])]),
        ("spins", "Rear spins", "yes or no", [one.spins[0, way] for one in lifts]),
    )


def _changed(solved: Solved) -> Iterator[tuple[str, Solved]]:
    """The bike with one thing changed at a time, solved."""
    bike, ride = solved.bike, solved.ride
    for tune in bike.record.tune:
        if tune != bike.tune:
            yield f"tune {tune}", solve(bike.with_changes(tune=tune), ride, bands=False)
    if bike.teeth is not None:
        fewer = bike.with_changes(front=bike.teeth[0] - STEP_TEETH)
        yield "one tooth fewer in front", solve(fewer, ride, bands=False)
    for key, step, text in BIKE_STEPS:
        raw: Mapping[str, object] = {**bike.raw, key: bike.raw[key] + step}
        yield text, solve(replace(bike, raw=raw), ride, bands=False)
    laden = bike.with_changes(luggage=float(bike.raw["luggage_kg"]) + STEP_KG)
    yield "luggage " + either("mass", STEP_KG) + " more", solve(laden, ride, bands=False)
    steeper = replace(ride, slope_rad=float(np.arctan(np.tan(ride.slope_rad) + STEP_GRADE)))
    yield f"a grade {100 * STEP_GRADE:g} % steeper", solve(bike, steeper, bands=False)
    other = "dry asphalt" if bike.surface == "gravel" else "gravel"
    build = bike.build.changed({"surface.name": other, "surface.friction": None})
    yield f"on {other}", solve(make_bike(build, **bike.changes), ride, bands=False)
