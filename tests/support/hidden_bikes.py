"""Bikes whose truth is drawn from their stated tolerances, and what a rider would read off them: readings with known errors."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from support.evidence import SINGLE

from ridesim import reference
from ridesim.buildfile.io import Build, parse, read
from ridesim.buildfile.readings import Reading
from ridesim.evidence.next_reading import measure_next
from ridesim.evidence.predict import KINDS, measured, model_of
from ridesim.units import Measured

DEFAULTS = """
name = "Nothing but defaults (invented)"
masses = {bike = "150 +- 3 kg", rider = "82 +- 1 kg"}
engine = {displacement = "449 cc"}
gearbox = {primary = 2.2, gears = [2.5, 1.8, 1.4, 1.1, 0.95]}
final_drive = {front = 14, rear = 41}
tires = {rear = {size = "130/80-17"}}
chassis = {bike_cg_ahead_of_rear_axle = "0.70 +- 0.02 m", rider_cg_ahead_of_rear_axle = "0.52 +- 0.04 m"}
[tune.stock]
points = [[2500, 24], [4000, 31], [5500, 33], [7000, 29], [8200, 22]]
curve_error = "6 %"
"""
BUILDS = (SINGLE, read(reference.DATA / "demo" / "plateau-single.toml"), parse(DEFAULTS))
# what the rider reads: the kinds of the goal, by their place among the readings that could be taken
SET = ("roll-out", "axle weight", "axle weight", "coast-down", "consumption", "top speed", "timed run")


@dataclass(frozen=True, kw_only=True, eq=False)
class Hidden:
    """A build, its true errors in standard deviations, and the readings of a careful rider."""

    build: Build
    truth: np.ndarray
    readings: tuple[Reading, ...]


def hidden(rng: np.random.Generator) -> Hidden:
    """One bike, its truth drawn from the tolerances of its build."""
    build = BUILDS[int(rng.integers(len(BUILDS)))]
    careful = _careful(build)
    model = model_of(build, careful)
    truth = rng.standard_normal(len(model.tolerances))
    shown = model(truth[None, :])
    readings = []
    for reading, values in zip(careful, shown, strict=True):
        noise = np.linalg.cholesky(measured(reading)[1]) @ rng.standard_normal(values.shape[1])
        readings.append(with_values(reading, values[0] + noise))
    return Hidden(build=build, truth=truth, readings=tuple(readings))


_KNOWN: dict[str, tuple[Reading, ...]] = {}


def _careful(build: Build) -> tuple[Reading, ...]:
    """The readings of SET with their errors, the first of each kind a rider would take."""
    if build.name not in _KNOWN:
        candidates = [one.reading for one in measure_next(build).candidates]
        weights = [r for r in candidates if r.kind == "axle weight" and r.with_ == "rider"]
        runs = [r for r in candidates if r.kind == "timed run" and isinstance(r.gear, int)]
        others = [r for r in candidates if r.kind in SET and r.kind not in ("axle weight", "timed run")]
        _KNOWN[build.name] = (*weights, *runs, *others)
    return _KNOWN[build.name]


def with_values(reading: Reading, values: np.ndarray) -> Reading:
    """The same reading with other figures, its errors as they were."""
    given = zip((value.key for value in KINDS[type(reading)].values), values.tolist(), strict=True)
    return reading.model_copy(update={key: Measured(value, getattr(reading, key).plus_minus) for key, value in given})


def off_by(readings: tuple[Reading, ...], which: int, share: float) -> tuple[Reading, ...]:
    """The readings with one of them off by a share (of a coast-down the drag area)."""
    y = measured(readings[which])[0].copy()
    y[0] *= 1.0 + share
    return (*readings[:which], with_values(readings[which], y), *readings[which + 1 :])
