"""A smooth curve through idle readings: its fit, its top, the limits of the top, and a reading that does not belong."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np

WILD = 0.01  # one fair set of readings in a hundred is suspected without cause
GRID = 400  # steps in which a top is looked for before it is closed in on
LOOKS = 49  # places at which a top is tried before its limits are closed in on
SHARE = 0.6  # of t: a curve free to bend moves its top at so much less cost, measured on even and lopsided idles


@dataclass(frozen=True, kw_only=True)
class IdleCurve:
    """A polynomial by least squares in u = (x - x0) / width.

    coefficients        of 1, u, u^2, (u^3, u^4)
    unit_covariance     of the coefficients, for a scatter of 1
    scatter             of the readings about it
    readings            how many were fitted
    """

    x0: float
    width: float
    coefficients: Any
    unit_covariance: Any
    scatter: float
    readings: int

    @property
    def freedom(self) -> int:
        """Readings less coefficients."""
        return self.readings - len(self.coefficients)

    def at(self, x: Any) -> Any:
        """The fitted value."""
        return np.polynomial.polynomial.polyval((np.asarray(x, dtype=float) - self.x0) / self.width, self.coefficients)

    def slope(self, x: Any) -> Any:
        """The fitted slope."""
        return self._slopes(x) @ self.coefficients

    def slope_error(self, x: Any) -> Any:
        """Standard error of the slope."""
        rows = self._slopes(x)
        return self.scatter * np.sqrt(np.einsum("...i,ij,...j->...", rows, self.unit_covariance, rows))

    def _slopes(self, x: Any) -> Any:
        u = np.asarray((np.asarray(x, dtype=float) - self.x0) / self.width)[..., None]
        powers = np.arange(1, len(self.coefficients))
        return np.concatenate([np.zeros_like(u), powers * u ** (powers - 1)], axis=-1) / self.width


@dataclass(frozen=True, kw_only=True)
class TurnLimits:
    """Limits of a setting; None where it may lie past the readings. [unit of x]"""

    low: float | None
    high: float | None


def fit_idle_curve(x: Any, y: Any, degree: int) -> IdleCurve:
    """Least squares polynomial through readings.

    Parameters
    ----------
    x, y : array of shape (n,)
        n at least degree + 2, x with at least degree + 1 different values. [any]
    degree : int
        2 to 4.

    Returns
    -------
    IdleCurve

    Examples
    --------
    >>> found = fit_idle_curve([0.0, 1.0, 2.0, 3.0], [1.0, 4.0, 5.0, 4.0], 2)
    >>> round(float(found.at(2.0)), 9), round(float(abs(found.slope(2.0))), 9)
    (5.0, 0.0)
    """
    xs, ys = np.asarray(x, dtype=float), np.asarray(y, dtype=float)
    x0 = float(xs.mean())
    width = float(np.abs(xs - x0).max())
    columns = np.vander((xs - x0) / width, degree + 1, increasing=True)
    inverse = np.linalg.pinv(columns)
    found = inverse @ ys
    left = ys - columns @ found
    return IdleCurve(
        x0=x0,
        width=width,
        coefficients=found,
        unit_covariance=inverse @ inverse.T,
        scatter=float((left @ left / (xs.size - degree - 1)) ** 0.5),
        readings=xs.size,
    )


def top_of(curve: IdleCurve, low: float, high: float) -> float | None:
    """The highest place between low and high where the curve goes from rising to falling; None where there is none.

    Parameters
    ----------
    curve : IdleCurve
    low, high : float
        Where to look. [unit of x]

    Returns
    -------
    float or None
        [unit of x]

    Examples
    --------
    >>> round(top_of(fit_idle_curve([0.0, 1.0, 2.0, 3.0], [1.0, 4.0, 5.0, 4.0], 2), 0.0, 3.0), 9)
    2.0
    """
    from scipy.optimize import brentq

    at = np.linspace(low, high, GRID + 1)
    slope = curve.slope(at)
    tops = [
        float(brentq(curve.slope, at[i], at[i + 1], xtol=1e-12))
        for i in np.flatnonzero((slope[:-1] > 0) & (slope[1:] <= 0))
    ]
    return max(tops, key=lambda x: float(curve.at(x)), default=None)


def concave_misfit(x: Any, y: Any, top: float) -> float:
    """Least sum of squares of any curve that rises to `top`, falls beyond it and bends downwards all the way.

    Such a curve through the settings is a sum of ramps, sum b (k - x)+ down from the left of k <= top and sum c (x - k)+ to the right of
    k >= top, with b, c >= 0: least squares with signs (scipy.optimize.nnls).

    Parameters
    ----------
    x, y : array of shape (n,)
        Readings. [any]
    top : float
        Where the top is to be. [unit of x]

    Returns
    -------
    float
        [unit of y, squared]

    Examples
    --------
    Readings that bend so with a top at 1 miss no such curve; with the top at 3 the best is level, 2/3 off the first, 1/3 off the others:

    >>> round(concave_misfit([0.0, 1.0, 2.0], [1.0, 2.0, 1.0], 1.0), 9), round(concave_misfit([0.0, 1.0, 2.0], [2.0, 1.0, 1.0], 3.0), 9)
    (0.0, 0.666666667)
    """
    from scipy.optimize import nnls

    settings, which, count = np.unique(np.asarray(x, dtype=float), return_inverse=True, return_counts=True)
    values = np.asarray(y, dtype=float)
    means = np.bincount(which, values) / count
    before, after = np.append(settings[settings < top], top), np.append(settings[settings > top], top)
    at = settings[:, None]
    ramps = np.concatenate([np.ones_like(at), -np.maximum(before - at, 0.0), -np.maximum(at - after, 0.0)], axis=1)
    width = float(np.ptp(values)) or 1.0
    weight = np.sqrt(count)
    misfit = float(nnls(ramps * weight[:, None], (means - values.min() + width) / width * weight)[1]) * width
    return misfit**2 + float(np.sum((values - means[which]) ** 2))


def top_limits(x: Any, y: Any, curve: IdleCurve, coverage: float) -> TurnLimits | None:
    """All settings at which a curve that bends downwards may have its top:  misfit <= least misfit + (SHARE t scatter)^2.

    The curve's shape is left open but for its bend, so that the limits hold on lopsided idles as on even ones; what they hold is
    measured (tests/bench/test_bench_mixture.py). t is Student's, the scatter is that about the smooth curve.

    Parameters
    ----------
    x, y : array of shape (n,)
        Readings. [any]
    curve : IdleCurve
        Fitted through them.
    coverage : float
        At least so often they hold the top, 0.5 to 0.999. [-]

    Returns
    -------
    TurnLimits or None
        An end is None where the top may lie past the readings; None where it may do so on both sides.

    Examples
    --------
    >>> x, y = [0.0, 1.0, 2.0, 3.0, 4.0], [1.1, 4.0, 4.9, 4.0, 1.1]
    >>> found = top_limits(x, y, fit_idle_curve(x, y, 2), 0.95)
    >>> round(found.low, 1), round(found.high, 1)
    (1.3, 2.7)
    """
    from scipy.optimize import brentq
    from scipy.special import stdtrit

    settings = np.unique(np.asarray(x, dtype=float))
    at = np.linspace(settings[0], settings[-1], max(LOOKS, settings.size))
    misfits = np.array([concave_misfit(x, y, top) for top in at])
    allowed = float(misfits.min()) + (SHARE * float(stdtrit(curve.freedom, 0.5 + coverage / 2)) * curve.scatter) ** 2
    inside = np.flatnonzero(misfits <= allowed)

    def past(top: float) -> float:
        return concave_misfit(x, y, top) - allowed

    first, last = int(inside[0]), int(inside[-1])
    low = None if first == 0 else float(brentq(past, at[first - 1], at[first], xtol=1e-4))
    high = None if last == at.size - 1 else float(brentq(past, at[last], at[last + 1], xtol=1e-4))
    return None if low is None and high is None else TurnLimits(low=low, high=high)


def wild_reading(x: Any, y: Any, degree: int) -> int | None:
    """The place of the one reading that lies too far off the curve through the others; None where none does.

    Its distance from that curve, over its standard error, is beyond Student's t at 1 % shared among the readings
    (Bonferroni). With fewer than degree + 5 readings none is called wild. Leaving one out costs the limits of the top
    less than one per cent of their coverage.

    Parameters
    ----------
    x, y : array of shape (n,)
        Readings. [any]
    degree : int
        2 to 4.

    Returns
    -------
    int or None

    Examples
    --------
    >>> wild_reading(np.arange(8.0), np.array([0.1, 1.0, 4.1, 9.0, 90.0, 25.1, 36.0, 49.1]), 2)
    4
    """
    from scipy.special import stdtrit

    freedom = x.size - degree - 2
    if freedom < 3:
        return None
    columns = np.vander((x - x.mean()) / np.ptp(x), degree + 1, increasing=True)
    lever = np.maximum(1 - np.einsum("ij,ji->i", columns, np.linalg.pinv(columns)), 1e-9)
    left = y - fit_idle_curve(x, y, degree).at(x)
    other = np.maximum(left @ left - left**2 / lever, 0.0) / freedom  # scatter of the others about their own curve
    least = (1e-9 * np.abs(y).max()) ** 2  # a fit without scatter has no wild reading
    score = np.abs(left) / np.sqrt(np.maximum(other, least) * lever)
    worst = int(np.argmax(score))
    return worst if score[worst] > stdtrit(freedom, 1 - WILD / (2 * x.size)) else None
