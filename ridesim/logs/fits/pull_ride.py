"""Full-throttle pulls ridden on paper: from the force at the tire, the bike and the throttle to the true speed of each run."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from ridesim.logs.fits.receiver import Receiver
from ridesim.logs.log import Array, RoadRun
from ridesim.units import G

STEP_S = 0.05
OPENS_S, SHUTS_S, RAMP_SD = 0.25, 0.10, 0.5  # how long a throttle takes, and the standard deviation of its logarithm
BEFORE_S, AFTER_S = 2.25, 2.75  # what belongs to a pull before it opens and after it shuts
KNOTS = 10
# one row a figure of a run: mean and standard deviation of what is thought before the log has spoken
RUN = (
    *(
        (0.0, 10.0),
        (0.0, 0.8),
        (0.0, 0.8),
    ),  # speed as it opens [m/s], when it opens, when it shuts [s], about where they are seen
    *((0.2, 1.2), (0.2, 1.2), (0.1, 1.0), (0.1, 0.8), (0.0, 0.4), (0.0, 0.3)),  # pushes before, PART_S each [m/s2]
    *(
        (-1.2, 1.0),
        (0.0, 0.1),
        (0.0, 0.1),
        (0.0, 1.0),
        (0.0, 1.0),
        (0.0, 1.0),
    ),  # push after, and its bends, a BEND_S apart [m/s2]
    (0.0, 1.0),  # its own wind, in OWN_WIND_M_S
)
PUSHES = BENDS = 6
PART_S, BEND_S = BEFORE_S / PUSHES, 0.5
OWN_WIND_M_S, WIND_M_S, SLOPE = 0.35, 1.5, 0.008  # sd of a run's wind about the day's, of the day's, of the slope
BIKE = 3  # mass and the two of the road load, each in sd
SLOPE_AT, WIND_AT, RAMPS_AT = (BIKE + KNOTS + k for k in range(3))
SHARED, OWN = RAMPS_AT + 2, len(RUN)
TABLE = 400  # speeds at which the push is worked out
NUDGE = 1e-4


@dataclass(frozen=True, kw_only=True)
class PulledBike:
    """What a fit of pulls is told of the bike, and how far each figure may be off.

    Attributes
    ----------
    mass_kg, mass_error_kg : float
        With rider and luggage, and its standard deviation, above 0. [kg]
    rotating_kg : float
        What wheels and engine add in that gear. [kg]
    f0_n, f2_n_s2_m2 : float
        Road load F0 + F2 v^2. [N], [N s2/m2]
    against_root : array (2, 2)
        The root L of the covariance L L' of F0 and F2. [N, N s2/m2]
    """

    mass_kg: float
    mass_error_kg: float
    rotating_kg: float
    f0_n: float
    f2_n_s2_m2: float
    against_root: Array


class Pulls:
    """The pulls of a day: their samples, the unknowns and what is thought of them, and the speeds that follow from them.

    The unknowns x are: the bike (3, in sd), the force at each knot in `scale`, slope, wind, how long the throttle takes to open and
    to shut (logarithms of what is usual), then OWN figures for each run.
    """

    def __init__(self, runs: Sequence[RoadRun], bike: PulledBike) -> None:
        self.bike, self.count = bike, len(runs)
        self.ways = np.array([float(run.direction) for run in runs])
        spans = [run.throttle_s or (0.0, 0.0) for run in runs]
        lengths = [shut - open_ for open_, shut in spans]
        self.steps = int(np.ceil((BEFORE_S + max(lengths) + AFTER_S) / STEP_S)) + 2
        self.time = STEP_S * np.arange(self.steps)
        self.samples = [_samples(run, *span) for run, span in zip(runs, spans, strict=True)]
        begins, ends = (
            np.array([np.interp(span[k], run.time_s, run.speed_m_s) for run, span in zip(runs, spans, strict=True)])
            for k in (0, 1)
        )
        self.lowest, self.highest = float(np.median(begins)) + 0.3, 1.04 * float(ends.max()) + 0.4
        self.knots = np.linspace(self.lowest, self.highest, KNOTS)
        self.table = np.linspace(0.0, 1.25 * self.highest, TABLE)
        self.adds = self.basis(self.table)
        mean_rate = float(np.median((ends - begins) / lengths))
        self.scale = (bike.mass_kg + bike.rotating_kg) * mean_rate + 150.0
        own = np.array([[mean for mean, _ in RUN]] * self.count)
        own[:, 0] += begins - 0.5
        own[:, 1] += BEFORE_S - 0.2
        own[:, 2] += BEFORE_S + np.array(lengths) - 0.2
        self.mean = np.concatenate([np.zeros(BIKE), np.ones(KNOTS), np.zeros(4), own.ravel()])
        each = [sd for _, sd in RUN] * self.count
        self.sd = np.concatenate([np.ones(BIKE), np.ones(KNOTS), [SLOPE, WIND_M_S, RAMP_SD, RAMP_SD], each])

    def basis(self, speed: Array) -> Array:
        """What each knot of a natural cubic spline adds to the force at some speeds."""
        from scipy.interpolate import CubicSpline

        spline = CubicSpline(self.knots, np.eye(KNOTS), bc_type="natural")
        return np.asarray(spline(np.clip(speed, self.lowest, self.highest)))

    def pushes(self, x: Array) -> Array:
        """Acceleration at full throttle at the speeds of the table, for each set of unknowns and run. [m/s2]"""
        bike = self.bike
        mass = bike.mass_kg + bike.mass_error_kg * x[:, 0]
        f0, f2 = (np.array([[bike.f0_n], [bike.f2_n_s2_m2]]) + bike.against_root @ x[:, 1:3].T)[:, :, None, None]
        own = x[:, SHARED:].reshape(len(x), self.count, OWN)
        wind = self.ways * x[:, WIND_AT : WIND_AT + 1] + OWN_WIND_M_S * own[:, :, -1]
        air = self.table + wind[:, :, None]
        slope = (mass * G * x[:, SLOPE_AT])[:, None] * self.ways
        force = self.scale * x[:, BIKE : BIKE + KNOTS] @ self.adds.T
        rolling = f0 * (mass / bike.mass_kg)[:, None, None]
        net = force[:, None] - rolling - slope[:, :, None] - f2 * air * np.abs(air)
        return np.asarray(net / (mass + bike.rotating_kg)[:, None, None])

    def ride(self, x: Array) -> tuple[Array, Array]:
        """True speeds (time, sets of unknowns x runs) by Heun's rule, and how fast they rise at first. [m/s], [m/s2]"""
        flat, inverse = self.pushes(x).ravel(), 1.0 / self.table[1]
        base = np.arange(len(x) * self.count) * TABLE
        own = np.moveaxis(x[:, SHARED:].reshape(len(x) * self.count, OWN), 1, 0)
        ramps = np.exp(np.repeat(x[:, RAMPS_AT : RAMPS_AT + 2], self.count, axis=0).T)
        throttle, side = self._throttle(own, OPENS_S * ramps[0], SHUTS_S * ramps[1])
        speed = np.empty((self.steps, len(x) * self.count))
        speed[0] = own[0] - PART_S * own[3 : 3 + PUSHES].sum(axis=0)
        shut = (1 - throttle) * side

        def rate(k: int, v: Array) -> Array:
            place = np.minimum(np.maximum(v * inverse, 0.0), TABLE - 2.001)
            low = place.astype(np.int64)
            at = base + low
            a = flat[at]
            return np.asarray(throttle[k] * (a + (place - low) * (flat[at + 1] - a)) + shut[k])

        for k in range(self.steps - 1):
            a = rate(k, speed[k])
            speed[k + 1] = speed[k] + STEP_S / 2 * (a + rate(k + 1, speed[k] + STEP_S * a))
        return speed, side[0]

    def _throttle(self, own: Array, opening: Array, shutting: Array) -> tuple[Array, Array]:
        """How far the throttle is open, 0 to 1, and the acceleration while it is shut. [-], [m/s2]"""
        time = self.time[:, None]
        opens, shuts, before, after = own[1], own[2], own[3 : 3 + PUSHES], own[3 + PUSHES : 3 + PUSHES + BENDS]
        throttle = np.clip((time - opens) / opening, 0, 1) * (1 - np.clip((time - shuts) / shutting, 0, 1))
        part = np.minimum((self.time / PART_S).astype(int), PUSHES - 1)
        rolled = after[0] + sum(a * np.clip((time - shuts) / BEND_S - k, 0, 1) for k, a in enumerate(after[1:]))
        return throttle, np.where(time < (opens + shuts) / 2, before[part], rolled)

    def trace(self, x: Array) -> tuple[Array, Array]:
        """True speeds and their slopes to the unknowns, (time, 1 + SHARED + OWN, runs), and the same of how they rise at first.

        What the runs share is moved in a copy of its own, what is a run's own in one copy for all runs.
        """
        copies = np.tile(x, (SHARED + OWN + 1, 1))
        n = np.arange(SHARED)
        copies[n + 1, n] += NUDGE
        for k in range(OWN):
            copies[SHARED + k + 1, SHARED + k :: OWN] += NUDGE
        speed, first = self.ride(copies)
        speed, first = speed.reshape(self.steps, -1, self.count), first.reshape(1, -1, self.count)
        for one in (speed, first):
            one[:, 1:] = (one[:, 1:] - one[:, :1]) / NUDGE
        return speed, first[0]

    def seen(self, trace: tuple[Array, Array], receiver: Receiver) -> list[Array]:
        """For each run what a receiver would show less what was logged, and its slopes: (samples, 1 + SHARED + OWN)."""
        shown = receiver.received(trace[0], STEP_S, trace[1])
        out = []
        for run, (time, speed) in enumerate(self.samples):
            k = np.minimum((time / STEP_S).astype(int), self.steps - 2)
            part = (time / STEP_S - k)[:, None]
            rows = (1 - part) * shown[k, :, run] + part * shown[k + 1, :, run]
            rows[:, 0] -= speed
            out.append(rows)
        return out


def _samples(run: RoadRun, opens_s: float, shuts_s: float) -> tuple[Array, Array]:
    """The samples about a pull, on a clock that starts BEFORE_S before it opens."""
    start = opens_s - BEFORE_S
    near = (run.time_s > start + 0.1) & (run.time_s < shuts_s + AFTER_S)
    return run.time_s[near] - start, run.speed_m_s[near]
