"""Before and after: where two curves of the same bike really differ, and where the difference is within the noise."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

import numpy as np

from ridesim.errors import InputError
from ridesim.logs.fits.coast import NORMAL_90
from ridesim.logs.fits.pull import WheelCurve, drawn_means_w
from ridesim.logs.log import Array, frozen
from ridesim.units import rpm


@dataclass(frozen=True, kw_only=True)
class CurveChange:
    """The change from one curve to another over engine speed, with its 5 to 95 % band and the word on each place.

    low_w and high_w hold at each engine speed by itself. Looked at over the whole curve, one place in ten would lie outside
    by chance alone; sure_low_w and sure_high_w hold for all places at once, nine times in ten. verdict is 1 where the gain
    is real (that wider band is above 0), -1 where the loss is, 0 where it is within the noise.
    """

    engine_speed_rad_s: Array
    change_w: Array
    low_w: Array
    high_w: Array
    sure_low_w: Array
    sure_high_w: Array
    verdict: tuple[int, ...]
    segments: tuple[Mapping[str, Any], ...]
    sentence: str


def change_between(before: WheelCurve, after: WheelCurve) -> CurveChange:
    """The difference of two curves where both were measured; what mass and resistance put on both alike cancels.

    Parameters
    ----------
    before, after : WheelCurve
        Of the same bike with the same resistance, on steps of the same engine speeds, corrected alike.

    Returns
    -------
    CurveChange

    Raises
    ------
    InputError
        Corrected differently, or no engine speeds in common.
    """
    if before.standard != after.standard:
        problem, fix = f"is not that of the curve before ({before.standard})", "Correct both to the same standard."
        raise InputError("standard", after.standard, problem, fix)
    step = float(np.median(np.diff(before.engine_speed_rad_s)))
    here, there = (np.round(c.engine_speed_rad_s / step).astype(int) for c in (before, after))
    same, at, to = np.intersect1d(here, there, return_indices=True)
    if same.size < 3 or not np.allclose(before.engine_speed_rad_s[at], after.engine_speed_rad_s[to], rtol=1e-6):
        problem = "has fewer than three engine speeds in common with the curve before"
        fix = "Pull through the same range in the same steps."
        raise InputError("after", None, problem, fix)
    change = after.power_w[to] - before.power_w[at]
    # an error of mass or resistance lifts both curves by nearly the same: only its difference stays, as does that of the bend
    runs = np.hypot(before.run_share_w[at], after.run_share_w[to])
    shared, bias = (
        after.shared_share_w[to] - before.shared_share_w[at],
        after.smoothing_bias_w[to] - before.smoothing_bias_w[at],
    )
    half = np.hypot(runs, shared) + np.abs(bias)
    sure = np.hypot(_for_all(before, after, at, to) * runs, shared) + np.abs(bias)
    verdict = np.where(change - sure > 0, 1, np.where(change + sure < 0, -1, 0))
    speed = before.engine_speed_rad_s[at]
    segments = _segments(speed, change, verdict)
    return CurveChange(
        engine_speed_rad_s=frozen(speed),
        change_w=frozen(change),
        low_w=frozen(change - half),
        high_w=frozen(change + half),
        sure_low_w=frozen(change - sure),
        sure_high_w=frozen(change + sure),
        verdict=tuple(int(v) for v in verdict),
        segments=segments,
        sentence=_sentence(segments),
    )


def _for_all(before: WheelCurve, after: WheelCurve, at: Any, to: Any) -> float:
    """How much wider the band must be to hold at all places at once: from the drawn runs, else as if independent."""
    from statistics import NormalDist

    a, b = (
        drawn_means_w(c.by_run_w, np.array(c.directions), seed)[:, k]
        for c, k, seed in ((before, at, 1), (after, to, 2))
    )
    if not (a.size and b.size):
        return float(NormalDist().inv_cdf(1 - 0.05 / at.size) / NORMAL_90)
    drawn = b - a
    highest = np.max(np.abs(drawn) / np.maximum(drawn.std(axis=0), 1e-12), axis=1)
    return max(float(np.quantile(highest, 0.9)) / NORMAL_90, 1.0)


def _segments(speed: Array, change: Array, verdict: Array) -> tuple[Mapping[str, Any], ...]:
    ends = np.flatnonzero(np.diff(verdict)) + 1
    return tuple(
        {
            "from_rad_s": float(speed[part[0]]),
            "to_rad_s": float(speed[part[-1]]),
            "verdict": int(verdict[part[0]]),
            "mean_change_w": float(change[part].mean()),
        }
        for part in np.split(np.arange(speed.size), ends)
    )


def _sentence(segments: tuple[Mapping[str, Any], ...]) -> str:
    words = {1: "more power", -1: "less power"}
    real = [f"{words[s['verdict']]} {_between(s['from_rad_s'], s['to_rad_s'])}" for s in segments if s["verdict"]]
    if not real:
        return "No difference that the runs can prove: all of it is within the noise."
    return "Proved: " + "; ".join(real) + ("; the rest is within the noise." if len(real) < len(segments) else ".")


def _between(low_rad_s: float, high_rad_s: float) -> str:
    low, high = f"{rpm(low_rad_s):.0f}", f"{rpm(high_rad_s):.0f}"
    return f"at {low} rev/min" if low == high else f"from {low} to {high} rev/min"
