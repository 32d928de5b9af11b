"""The sums under a coast-down: the closed form of its speed, and one fit through all runs of both directions."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from ridesim.errors import InputError
from ridesim.logs.fits.signal import student_95
from ridesim.logs.log import CAUTIONS, Array, RoadRun
from ridesim.units import G, either, in_both

STRONGEST_WIND_M_S, STEEPEST = 15.0, 0.08
RESAMPLES = 2000
MOST_STEPS, DAMPED_OUT = 300, 1e12
GUST_M_S, GUST_LASTS_S = 0.4, 8.0  # of a light wind, where the runs are too few to show what gusts do
GUSTY_RIDES = 500


@dataclass(frozen=True, kw_only=True)
class Band:
    """A figure with its standard error and its 5 and 95 % limits, all in the unit of the figure."""

    value: float
    standard_error: float
    low: float
    high: float


@dataclass(frozen=True, kw_only=True)
class CoastDown:
    """What a set of coast-downs says of the bike, and how well.

    Attributes
    ----------
    f0_n, f2_n_s2_m2 : Band
        Resistance at level without wind is F0 + F2 v^2. [N], [N s2/m2]
    drag_area_m2, rolling_resistance : Band
        CdA = 2 F2 / rho and Crr = F0 / (m g). [m2], [-]
    headwind_m_s, grade : float
        What runs of direction 1 met; 0 where the runs went one way only. [m/s], [-]
    covariance : array (2, 2)
        Of F0 and F2. [N, N s2/m2]
    factor : float
        Brings a standard error to half the 5 to 95 % band. [-]
    scatter_m_s : float
        Of the samples about the fit, root mean square. [m/s]
    rows, assumptions, notes, cautions : tuple
        The runs that were used, and what is said of them.
    """

    f0_n: Band
    f2_n_s2_m2: Band
    drag_area_m2: Band
    rolling_resistance: Band
    headwind_m_s: float
    grade: float
    covariance: Array
    factor: float
    scatter_m_s: float
    rows: tuple[Mapping[str, Any], ...]
    assumptions: tuple[str, ...]
    notes: tuple[str, ...]
    cautions: tuple[str, ...] = CAUTIONS

    def resistance_n(self, speed_m_s: Any) -> Any:
        """Force against the motion at level without wind:  R = F0 + F2 v^2,  at speeds in m/s. [N]"""
        return self.f0_n.value + self.f2_n_s2_m2.value * np.square(speed_m_s)

    def resistance_band_n(self, speed_m_s: Any) -> tuple[Any, Any]:
        """(low, high) of it, 5 to 95 %:  F0 + F2 v^2 with both errors and what they have in common. [N]"""
        v, c = np.asarray(speed_m_s, dtype=float), self.covariance
        half = self.factor * np.sqrt(np.maximum(c[0, 0] + 2 * c[0, 1] * v**2 + c[1, 1] * v**4, 0.0))
        value = self.resistance_n(v)
        return value - half, value + half


def band(value: float, error: float, factor: float) -> Band:
    """The limits of a figure from its standard error, and the factor to half the 5 to 95 % band.

    Examples
    --------
    A drag area of 0.66 m2 known within a standard error of 0.01, by the normal law:

    >>> area = band(0.66, 0.01, 1.645)
    >>> round(area.low, 4), round(area.high, 4)
    (0.6436, 0.6764)
    """
    return Band(
        value=float(value),
        standard_error=float(error),
        low=float(value - factor * error),
        high=float(value + factor * error),
    )


def coasting_speed_m_s(
    time_s: Any, start_m_s: Any, f0_n: Any, f2_n_s2_m2: Any, mass_kg: Any, headwind_m_s: Any = 0.0
) -> Any:
    """Speed of a bike left to coast:  m dv/dt = -(F0 + F2 (v + w)^2), so v + w = v_c tan(atan((v0 + w) / v_c) - t / T).

    With v_c = sqrt(F0/F2) and T = m / sqrt(F0 F2), written without either, so that F0 = 0, F2 = 0 and a slope that pushes
    (F0 < 0, where tan becomes tanh) need no case of their own:
    u = (u0 - F0/m t S) / (1 + F2/m u0 t S),  u = v + w,  S = tan(z)/z,  z = t sqrt(F0 F2) / m.

    Parameters
    ----------
    time_s : float or array
        Since the coasting began, 0 or more. [s]
    start_m_s : float or array
        v0. [m/s]
    f0_n : float or array
        Rolling with slope; negative when the slope pushes more than the rolling holds. [N]
    f2_n_s2_m2 : float or array
        0.5 rho CdA, 0 or more. [N s2/m2]
    mass_kg : float or array
        With the inertia of the wheels. [kg]
    headwind_m_s : float or array
        w, less than v from behind: the air must come from ahead. [m/s]

    Returns
    -------
    float or array
        0 once it has stopped. [m/s]

    Examples
    --------
    120 km/h to 60 km/h takes 17.227 s against 36.77 N and 0.36 N/(m/s)^2 at 250 kg:

    >>> float(round(3.6 * coasting_speed_m_s(17.22727233, 120 / 3.6, 36.7749, 0.36, 250.0), 4))
    60.0
    """
    time, f0 = np.asarray(time_s, dtype=float), np.asarray(f0_n, dtype=float)
    air = np.add(start_m_s, headwind_m_s)
    rate = np.sqrt(np.abs(f0) * f2_n_s2_m2) / mass_kg
    z = rate * time
    safe = np.where(z > 1e-6, z, 1.0)
    stopped = (f0 > 0) & (z >= np.pi / 2 * (1 - 1e-9))
    tangent = np.tan(np.where(stopped, 0.0, np.where(f0 > 0, safe, 0.0)))
    shape = np.where(z > 1e-6, np.where(f0 > 0, tangent, np.tanh(safe)) / safe, 1.0 + np.sign(f0) * z**2 / 3)
    through_air = (air - f0 / mass_kg * time * shape) / (1.0 + np.divide(f2_n_s2_m2, mass_kg) * air * time * shape)
    return np.where(stopped, 0.0, np.maximum(through_air - headwind_m_s, 0.0))


@dataclass(frozen=True, kw_only=True)
class CoastFit:
    """What the runs give together.

    Attributes
    ----------
    shared : array (4,)
        F0, F2, head wind and grade of direction 1; 0 where it was not fitted. [N, N s2/m2, m/s, -]
    covariance : array (4, 4)
        Of these.
    factor : float
        Brings a standard error to half the 5 to 95 % band. [-]
    how : str
        What the band was made from.
    residual : array (samples,)
        Speed of the fit less speed logged. [m/s]
    """

    shared: Array
    covariance: Array
    factor: float
    how: str
    residual: Array


class Coasts:
    """All samples of some runs, and the speeds that follow from the shared figures (scaled) and a starting speed a run."""

    def __init__(self, runs: Sequence[RoadRun], mass_kg: float, wheels_kg: float, shared: int) -> None:
        self.runs, self.coasting, self.weight, self.count = runs, mass_kg + wheels_kg, mass_kg * G, shared
        self.time = np.concatenate([run.time_s - run.time_s[0] for run in runs])
        self.run = np.repeat(np.arange(len(runs)), [run.time_s.size for run in runs])
        self.way = np.array([float(run.direction) for run in runs])[self.run]
        self.scale = np.array([self.weight * 0.01, 0.3, 2.0, 0.003])[:shared]

    def shared(self, x: Array) -> Array:
        """F0, F2, head wind and slope; 0 where it is not fitted."""
        return np.pad(x[: self.count] * self.scale, (0, 4 - self.count))

    def speeds(self, x: Array) -> Array:
        """The speed at every sample. [m/s]"""
        f0, f2, wind, grade = self.shared(x)
        start, hold = x[self.count :][self.run], f0 + self.way * self.weight * grade
        return np.asarray(coasting_speed_m_s(self.time, start, hold, f2, self.coasting, self.way * wind))

    def slopes(self, x: Array) -> Array:
        """Central differences; all starting speeds are moved at once, because each touches its own run only."""
        step = 1e-5
        out = np.zeros((self.time.size, x.size))
        for k in range(self.count):
            up, down = x.copy(), x.copy()
            up[k] += step
            down[k] -= step
            if k == 1:  # the drag of the air is never negative
                down[k] = max(down[k], 0.0)
            out[:, k] = (self.speeds(up) - self.speeds(down)) / (up[k] - down[k])
        aside = np.where(np.arange(x.size) < self.count, 0.0, step)
        out[np.arange(self.time.size), self.count + self.run] = (self.speeds(x + aside) - self.speeds(x - aside)) / (
            2 * step
        )
        return out

    def fit(self, seed: int) -> CoastFit:
        """Least squares through every sample of all runs.

        The covariance comes from runs drawn again where there are two or more each way that is ridden and four in all, else
        from the residuals, widened for how long an error lasts, and from gusts of GUST_M_S: a gust leads the whole of a run
        astray together, so that little of it is left in the residuals.
        """
        seen = np.concatenate([run.speed_m_s for run in self.runs])
        starts = [max(float(run.speed_m_s[0]), 0.5) for run in self.runs]
        most = np.array([self.weight * 0.5, 3.0, STRONGEST_WIND_M_S, STEEPEST])[: self.count] / self.scale
        least = np.array([-self.weight * 0.1, 0.0, -STRONGEST_WIND_M_S, -STEEPEST])[: self.count] / self.scale
        x = np.concatenate([(np.arange(self.count) < 2).astype(float), starts])
        x = self._least(x, seen, np.append(least, [0.1] * len(starts)), np.append(most, [250.0] * len(starts)))
        left = self.speeds(x) - seen
        spread, factor, how = _spread(self, x, left, seed)
        covariance = np.zeros((4, 4))
        covariance[: self.count, : self.count] = spread * np.outer(self.scale, self.scale)
        return CoastFit(shared=self.shared(x), covariance=covariance, factor=factor, how=how, residual=left)

    def _least(self, x: Array, seen: Array, least: Array, most: Array) -> Array:
        """The unknowns within their limits for which the squares add up to least, by the rule of Levenberg and Marquardt.

        A step is damped until it gains; an unknown at a limit that it would pass stands still for that step.
        """
        left, damp = self.speeds(x) - seen, 1e-3
        for _ in range(MOST_STEPS):
            rows = self.slopes(x)
            pull = rows.T @ left
            free = ~(((x <= least) & (pull > 0)) | ((x >= most) & (pull < 0)))
            normal = rows[:, free].T @ rows[:, free]
            while damp < DAMPED_OUT:
                tried = x.copy()
                tried[free] -= np.linalg.solve(normal + np.diag(damp * np.diag(normal) + 1e-300), pull[free])
                tried = np.clip(tried, least, most)
                now = self.speeds(tried) - seen
                if now @ now <= left @ left:
                    break
                damp *= 8.0
            else:
                return x
            moved = np.max(np.abs(tried - x) / np.maximum(np.abs(x), 1e-3))
            x, left, damp = tried, now, max(damp / 8.0, 1e-12)
            if moved < 1e-11:
                return x
        problem = "do not let themselves be fitted as coast-downs"
        fix = "Cut each run from closing the throttle to braking, in neutral or with the clutch pulled."
        raise InputError("runs", None, problem, fix)

    def by_run(self, values: Array) -> list[Array]:
        """What is there a sample, run by run."""
        return np.split(values, np.flatnonzero(np.diff(self.run)) + 1)


def _spread(of: Coasts, x: Array, residual: Array, seed: int) -> tuple[Array, float, str]:
    """Covariance of the shared figures (scaled), the factor to a 5 to 95 % band, and how they were found."""
    runs, shared, jacobian = of.runs, of.count, of.slopes(x)
    _, f2, wind, _ = of.shared(x)
    normal, pull, blown = [], [], np.zeros((GUSTY_RIDES, shared))
    rng = np.random.default_rng(seed)
    for k, (run, rows, left) in enumerate(zip(runs, of.by_run(jacobian), of.by_run(residual), strict=True)):
        own = rows[:, shared + k]
        # the starting speed of the run is taken out, so that each run speaks of the shared figures alone
        common = rows[:, :shared] - np.outer(own, own @ rows[:, :shared]) / max(float(own @ own), 1e-300)
        normal.append(common.T @ common)
        pull.append(common.T @ left)
        blown += led_astray_m_s(run, of.coasting, f2, wind, rng) @ common
    normal_all = np.sum(normal, axis=0)
    if np.linalg.matrix_rank(normal_all, tol=1e-9 * np.trace(normal_all)) < shared:
        raise InputError(
            "runs",
            None,
            "do not tell the drag of the air from rolling",
            f"Coast over a wider range of speeds, from as fast as allowed down to about {in_both('speed', 30.0 / 3.6)}.",
        )
    ways = [[k for k, run in enumerate(runs) if run.direction == way] for way in (1, -1)]
    ways = [way for way in ways if way]
    if len(runs) >= 4 and min(map(len, ways)) >= 2:
        # each run drew the fit towards itself; its pull is raised by what it would be with the run left out of the fit
        alone = [
            np.linalg.solve(np.eye(shared) - own @ np.linalg.inv(normal_all) + 1e-9 * np.eye(shared), g)
            for own, g in zip(normal, pull, strict=True)
        ]
        drawn = _drawn_again(np.array(normal), np.array(alone), ways, seed)
        return np.cov(drawn.T), student_95(len(runs) - len(ways)), "runs drawn again"
    free = max(residual.size - shared - len(runs), 1)
    lag = float(np.clip(np.sum(residual[1:] * residual[:-1]) / max(np.sum(residual**2), 1e-300), 0.0, 0.95))
    variance = residual @ residual / free * (1 + lag) / (1 - lag)
    inverse = np.linalg.inv(normal_all)
    return (
        variance * inverse + np.atleast_2d(np.cov((blown @ inverse).T)),
        student_95(max(free * (1 - lag) / (1 + lag), 1.0)),
        "residuals, and gusts of " + either("speed", GUST_M_S) + f" that last {GUST_LASTS_S:g} s",
    )


def led_astray_m_s(
    run: RoadRun, mass_kg: float, f2_n_s2_m2: float, headwind_m_s: float, rng: np.random.Generator
) -> Array:
    """What gusts make of the speeds of a run, a row a ride:  m d(dv)/dt = -2 F2 u (dv + g),  u = v + w.

    The gust g is normal, of GUST_M_S, and forgotten with GUST_LASTS_S.

    Parameters
    ----------
    run : RoadRun
    mass_kg : float
        With the inertia of the wheels. [kg]
    f2_n_s2_m2 : float
        [N s2/m2]
    headwind_m_s : float
        Met by runs of direction 1. [m/s]
    rng : Generator

    Returns
    -------
    array (GUSTY_RIDES, samples)
        [m/s]
    """
    out = np.zeros((GUSTY_RIDES, run.time_s.size))
    gust = GUST_M_S * rng.standard_normal(GUSTY_RIDES)
    holds = 2 * f2_n_s2_m2 / mass_kg * np.maximum(run.speed_m_s + run.direction * headwind_m_s, 0.0)
    for k, step in enumerate(np.diff(run.time_s)):
        stays = np.exp(-holds[k] * step)
        out[:, k + 1] = out[:, k] * stays - gust * (1 - stays)
        keep = np.exp(-step / GUST_LASTS_S)
        gust = keep * gust + GUST_M_S * np.sqrt(1 - keep**2) * rng.standard_normal(GUSTY_RIDES)
    return out


def _drawn_again(normal: Array, pull: Array, ways: Sequence[Sequence[int]], seed: int) -> NDArray[np.float64]:
    """Shared figures of drawn sets of runs, each way by itself, by one Gauss-Newton step from the fit of all."""
    rng = np.random.default_rng(seed)
    counts = np.zeros((RESAMPLES, normal.shape[0]))
    for way in ways:
        picks = rng.integers(0, len(way), (RESAMPLES, len(way)))
        for k, run in enumerate(way):
            counts[:, run] = (picks == k).sum(axis=1)
    matrices = np.einsum("br,rij->bij", counts, normal)
    matrices += 1e-12 * np.trace(normal.sum(axis=0)) * np.eye(normal.shape[1])
    return -np.linalg.solve(matrices, np.einsum("br,ri->bi", counts, pull)[..., None])[..., 0]
