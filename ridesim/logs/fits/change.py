"""Before and after: where two days of pulls really differ, and where the difference is within the noise."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from itertools import pairwise
from statistics import NormalDist
from typing import Any

import numpy as np
from numpy.typing import NDArray

from ridesim.errors import InputError
from ridesim.logs.fits.bike import NORMAL_90
from ridesim.logs.fits.pull import FittedPulls
from ridesim.logs.fits.pull_fit import DayOfPulls, mixed
from ridesim.logs.log import Array, frozen
from ridesim.units import either, rpm

UNDECLARED_KG = 3.0  # standard deviation of what a bike weighs more or less from day to day: fuel, clothes, a bottle
ERRS = 0.025  # how often each of the two proofs may err where nothing changed: together 1 time in 20
DRAWS = 4000


@dataclass(frozen=True, kw_only=True)
class CurveChange:
    """The change from one day's curve to another's over engine speed, with its 5 to 95 % band and the word on each place.

    low_w and high_w hold at each engine speed by itself; sure_low_w and sure_high_w over the whole curve at once, 39 times in
    40. verdict is 1 where the gain is real (that wider band is above 0), -1 where the loss is, 0 where it is within the
    noise. overall is the mean change as a share of the power, overall_low and overall_high its limits 39 times in 40, and
    overall_verdict the word on it.
    """

    engine_speed_rad_s: Array
    change_w: Array
    low_w: Array
    high_w: Array
    sure_low_w: Array
    sure_high_w: Array
    verdict: tuple[int, ...]
    overall: float
    overall_low: float
    overall_high: float
    overall_verdict: int
    least_share: float
    same_receiver: bool
    segments: tuple[Mapping[str, Any], ...]
    sentence: str
    assumptions: tuple[str, ...]


def change_between(before: FittedPulls, after: FittedPulls, *, same_receiver: bool = False) -> CurveChange:
    """The difference of two days where both were measured; what the bike's figures do to both alike falls out.

    Each pair of receivers that may have been those of the two days has a share; with same_receiver (the same phone in the same
    place) only pairs of the same one count. Up to UNDECLARED_KG of mass may differ between the days (a standard deviation).

    Parameters
    ----------
    before, after : FittedPulls
        Of the same bike in the same gear, corrected alike.
    same_receiver : bool

    Returns
    -------
    CurveChange

    Raises
    ------
    InputError
        Corrected differently, no engine speeds in common, or days that cannot have had one receiver.
    """
    if before.standard != after.standard:
        problem, fix = f"is not that of the curve before ({before.standard})", "Correct both to the same standard."
        raise InputError("standard", after.standard, problem, fix)
    engine = np.array(sorted(set(before.engine_speeds().round(9)) & set(after.engine_speeds().round(9))))
    if engine.size < 3:
        problem = "has fewer than three engine speeds in common with the curve before"
        raise InputError("after", None, problem, "Pull through the same range in the same gear.")
    change, covariance, power = _difference(before, after, engine, same_receiver)
    sd = np.sqrt(np.diag(covariance))
    sure = _over_all(covariance, sd) * sd
    verdict = np.sign(change) * (np.abs(change) > sure)
    weight = power / sd**2
    overall = float(weight @ change / (weight @ power))
    wide = NormalDist().inv_cdf(1 - ERRS / 2) * float(np.sqrt(weight @ covariance @ weight) / (weight @ power))
    said = int(np.sign(overall)) if abs(overall) > wide else 0
    segments = _segments(engine, change, verdict)
    return CurveChange(
        engine_speed_rad_s=frozen(engine),
        change_w=frozen(change),
        low_w=frozen(change - NORMAL_90 * sd),
        high_w=frozen(change + NORMAL_90 * sd),
        sure_low_w=frozen(change - sure),
        sure_high_w=frozen(change + sure),
        verdict=tuple(int(v) for v in verdict),
        overall=overall,
        overall_low=overall - wide,
        overall_high=overall + wide,
        overall_verdict=said,
        least_share=min(wide, float(np.median(sure / power))),
        same_receiver=same_receiver,
        segments=segments,
        sentence=_sentence(segments, said, overall),
        assumptions=(
            "both days had the same receiver in the same place"
            if same_receiver
            else "the receivers of the two days may differ; saying that it was the same phone in the same place proves smaller differences",
            "the mass may differ by " + either("mass", UNDECLARED_KG) + " between the days (one standard deviation)",
        ),
    )


def _difference(
    before: FittedPulls, after: FittedPulls, engine: Array, same_receiver: bool
) -> tuple[Array, Array, Array]:
    """Power after less power before, its covariance, and the power before. [W], [W2], [W]"""
    a, b = before.day, after.day
    if same_receiver:
        step = min(a.step, b.step)
        a.scan(step)
        b.scan(step)
    each_a, alone_a, bike_a = (before.correction * part for part in a.parts(engine / before.per))
    each_b, alone_b, bike_b = (after.correction * part for part in b.parts(engine / after.per))
    alone_a, alone_b = before.correction * alone_a, after.correction * alone_b
    i, j, share = _pairs(a, b, same_receiver)
    change, covariance = mixed(each_b[j] - each_a[i], alone_a[i] + alone_b[j], bike_b[j] - bike_a[i], share)
    by_kg = np.tensordot(share, bike_b[j][:, :, 0], 1) / b.pulls.bike.mass_error_kg
    return change, covariance + UNDECLARED_KG**2 * np.outer(by_kg, by_kg), share @ each_a[i]


def _pairs(a: DayOfPulls, b: DayOfPulls, same_receiver: bool) -> tuple[NDArray[np.int64], NDArray[np.int64], Array]:
    """Which receivers of two days may go together, and how likely each pair is."""
    i, j = np.indices((len(a.receivers), len(b.receivers)), dtype=np.int64).reshape(2, -1)
    share = a.share[i] * b.share[j]
    if same_receiver:
        alike = np.array([a.receivers[m] == b.receivers[n] for m, n in zip(i, j, strict=True)])
        if not alike.any():
            fix = "Leave that out, or look for what was different: another place on the bike, another app."
            raise InputError("same_receiver", None, "does not go with these logs: they are smoothed differently", fix)
        i, j = i[alike], j[alike]
        share = share[alike] / np.exp([a.receivers[m].log_prior for m in i])  # the prior counts once
    return i, j, share / share.sum()


def _over_all(covariance: Array, sd: Array) -> float:
    """How many standard deviations to each side hold over the whole curve at once, but for ERRS: from draws."""
    values, vectors = np.linalg.eigh(covariance / np.outer(sd, sd))
    root = vectors * np.sqrt(np.maximum(values, 0.0))
    drawn = np.random.default_rng(1).standard_normal((DRAWS, sd.size)) @ root.T
    return float(np.quantile(np.abs(drawn).max(axis=1), 1 - ERRS))


def _segments(speed: Array, change: Array, verdict: Array) -> tuple[Mapping[str, Any], ...]:
    ends = [0, *(np.flatnonzero(np.diff(verdict)) + 1), speed.size]
    return tuple(
        {
            "from_rad_s": float(speed[a]),
            "to_rad_s": float(speed[b - 1]),
            "verdict": int(verdict[a]),
            "mean_change_w": float(change[a:b].mean()),
        }
        for a, b in pairwise(ends)
    )


def _sentence(segments: tuple[Mapping[str, Any], ...], overall: int, share: float) -> str:
    words = {1: "more power", -1: "less power"}
    real = [f"{words[s['verdict']]} {_between(s['from_rad_s'], s['to_rad_s'])}" for s in segments if s["verdict"]]
    if real:
        rest = "; the rest is within the noise." if len(real) < len(segments) else "."
        return "Proved: " + "; ".join(real) + rest
    if overall:
        return f"Proved: {words[overall]} over the whole curve, {100 * abs(share):.1f} % in the mean; no single place is proved."
    return "No difference that the runs can prove: all of it is within the noise."


def _between(low_rad_s: float, high_rad_s: float) -> str:
    low, high = f"{rpm(low_rad_s):,.0f}", f"{rpm(high_rad_s):,.0f}"
    return f"at {low} rev/min" if low == high else f"from {low} to {high} rev/min"
