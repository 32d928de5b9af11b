"""What a receiver makes of the speed before it is logged: smoothed over a width that nobody states, and late."""

from __future__ import annotations

import itertools
from dataclasses import dataclass

import numpy as np

from ridesim.logs.log import Array

LIKELIEST_S, FACTOR = 0.45, 2.2  # of the width of the smoothing, before a log has spoken: a factor either way is one sd
NARROWEST_S, STEP, STEPS = 0.05, 1.14, 28
LONGEST_MEAN_S = 2.3


@dataclass(frozen=True)
class Smoothing:
    """A kind of smoothing of rms width 1: some lags one after another, then a moving mean.

    A lag of tau has an rms width of tau, a mean over T one of T / sqrt(12); widths add as squares.

    Examples
    --------
    >>> [(name, round(one.lags * one.lag**2 + one.mean**2 / 12, 9), round(one.delay, 3)) for name, one in SHAPES.items()]
    [('a lag', 1.0, 1.0), ('two lags', 1.0, 1.414), ('a lag and a moving mean', 1.0, 1.932), ('a moving mean', 1.0, 1.732)]
    """

    lags: int
    lag: float
    mean: float

    @property
    def delay(self) -> float:
        """By how much it is late: the lags and half the mean, in rms widths. [-]"""
        return self.lags * self.lag + self.mean / 2


SHAPES = {
    "a lag": Smoothing(1, 1.0, 0.0),
    "two lags": Smoothing(2, 0.5**0.5, 0.0),
    "a lag and a moving mean": Smoothing(1, 0.5**0.5, 6**0.5),
    "a moving mean": Smoothing(0, 0.0, 12**0.5),
}


@dataclass(frozen=True)
class Receiver:
    """One step of the ladder of receivers: a shape of SHAPES with a width, 0.05 s at step 0 and 14 % more each step.

    Examples
    --------
    >>> one = Receiver("a lag", 10.0)
    >>> round(one.width_s, 3), one.exists, Receiver("a lag", 29.0).exists
    (0.185, True, False)
    """

    shape: str
    step: float

    @property
    def width_s(self) -> float:
        """Root mean square width of the smoothing. [s]"""
        return float(NARROWEST_S * STEP**self.step)

    @property
    def log_prior(self) -> float:
        """How likely this width is before a log has spoken, but for a constant."""
        return float(-((np.log(self.width_s / LIKELIEST_S) / np.log(FACTOR)) ** 2) / 2)

    @property
    def exists(self) -> bool:
        """Whether the ladder has this step."""
        mean = self.width_s * SHAPES[self.shape].mean
        return 0 <= self.step <= STEPS and mean <= LONGEST_MEAN_S

    def received(self, speed: Array, step_s: float, first: Array) -> Array:
        """What this receiver shows of true speeds on steps of step_s that rose by `first` before, see `smoothed`. [m/s]"""
        shape = SHAPES[self.shape]
        return smoothed(speed, step_s, first, shape.lags, shape.lag * self.width_s, shape.mean * self.width_s)


def smoothed(speed: Array, step_s: float, first: Array, lags: int, lag_s: float, mean_s: float) -> Array:
    """The mean over the last mean_s, then so many lags of lag_s, of speeds that are straight between the steps.

    The first is exact; each that follows takes its answer as straight between the steps, good to 1 mm/s on steps of 0.05 s.
    tau dy/dt = x - y over a straight step x0 to x1 is  y1 = e y0 + (w - e) x0 + (1 - w) x1,  e = exp(-dt/tau),
    w = (1 - e) tau / dt.

    Parameters
    ----------
    speed : array (n, ...)
        On equal steps. [m/s]
    step_s : float
        [s]
    first : array (...)
        How fast the speed rose before the first step, for as long as it is remembered. [m/s2]
    lags : int
    lag_s, mean_s : float
        tau of a lag, and what the mean is taken over. [s]

    Returns
    -------
    array (n, ...)
        [m/s]

    Examples
    --------
    A speed that rises steadily is shown late by lag and half the mean:

    >>> rising = 2.0 * np.arange(0.0, 3.0, 0.5)
    >>> smoothed(rising, 0.5, np.array(2.0), 1, 0.7, 0.6).round(9).tolist()
    [-2.0, -1.0, 0.0, 1.0, 2.0, 3.0]
    """
    time = step_s * np.arange(len(speed)).reshape(-1, *[1] * (speed.ndim - 1))
    line = speed[0] + first * time
    rest = speed - line  # starts at nothing, so that there is nothing to remember
    if mean_s > 0:
        way = np.concatenate([0 * rest[:1], np.cumsum((rest[1:] + rest[:-1]) * step_s / 2, axis=0)])
        back = np.maximum(np.arange(len(speed)) - mean_s / step_s, 0.0)
        whole = np.minimum(back.astype(int), len(speed) - 2)
        part = (back - whole).reshape(time.shape)
        # the way within a step is a parabola
        bend = (rest[whole + 1] - rest[whole]) * step_s * part * (1 - part) / 2
        rest = (way - (1 - part) * way[whole] - part * way[whole + 1] + bend) / mean_s
    for _ in range(lags):
        e = np.exp(-step_s / lag_s)
        w = (1 - e) * lag_s / step_s
        kick = np.concatenate([0 * rest[:1], (w - e) * rest[:-1] + (1 - w) * rest[1:]])
        rest = _remembered(kick, e)
    return np.asarray(line - (lags * lag_s + mean_s / 2) * first + rest)


def _remembered(kicks: Array, keeps: float) -> Array:
    """y_k = keeps y_k-1 + kick_k from nothing: in blocks side by side, then what each hands to the next.

    >>> _remembered(np.array([1.0, 0.0, 0.0, 0.0, 8.0]), 0.5).tolist()
    [1.0, 0.5, 0.25, 0.125, 8.0625]
    """
    size = int(np.sqrt(len(kicks))) + 1
    blocks = np.zeros((-(-len(kicks) // size) * size, *kicks.shape[1:]))
    blocks[: len(kicks)] = kicks
    blocks = blocks.reshape(-1, size, *kicks.shape[1:])
    for k in range(1, size):
        blocks[:, k] += keeps * blocks[:, k - 1]
    fades = keeps ** np.arange(1.0, size + 1).reshape(-1, *[1] * (kicks.ndim - 1))
    for before, block in itertools.pairwise(blocks):
        block += fades * before[-1]
    return np.asarray(blocks.reshape(-1, *kicks.shape[1:])[: len(kicks)])
