"""How wide every answer is, given what the inputs leave open, and which input to measure first.

Every doubt (a figure with a tolerance) is drawn from a triangle over its tolerance: bounded, as a stated tolerance is, and
likelier near the middle than at the ends, since a rider writes down what they read and how far off they may be. The
draws are a scrambled Sobol sequence with a fixed seed, so the same build gives the same band, and two set-ups asked
together are drawn alike.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from ridesim.answers.base import plain
from ridesim.bike import Bike, setups_of
from ridesim.mechanics.kernel import Performance, perform
from ridesim.mechanics.setups import Ride
from ridesim.uncertainty.tolerances import turned

Array = NDArray[np.float64]
SAMPLES = 4096
SEED = 20
LOW, HIGH = 0.05, 0.95
SHARE_SAMPLES = 256  # for the shares of doubt: that many times (doubts + 2) draws

# figures read off the kernel, (S,): name -> (what it is, how it is read, where it stands)
FIGURES: dict[str, tuple[str, str, Callable[[Performance], Array]]] = {
    "top_speed": ("top speed", "speed", lambda p: p.top_speed_m_s),
    "time_0_60": ("standstill to 60 km/h", "time", lambda p: p.run.times_s[:, 0]),
    "time_0_100": ("standstill to 100 km/h", "time", lambda p: p.run.times_s[:, 1]),
    "distance_time": ("standing 400 m", "time", lambda p: p.run.distance_time_s),
    "roll_on": ("roll-on in top gear", "time", lambda p: p.roll_on_s[:, -1]),
    "first_force": ("highest wheel force in first", "force", lambda p: p.gears.peak_force_n[:, 0]),
    "first_climb": ("steepest grade in first", "percent", lambda p: np.tan(p.gears.steepest_slope_rad[:, 0])),
    "first_lift": ("lift ratio in first", "ratio", lambda p: p.gears.lift_ratio[:, 0]),
    "rider_shift": (
        "shift of the rider that lifts the front in first",
        "small length",
        lambda p: p.gears.rider_shift_m[:, 0],
    ),
    "cruise_speed": (
        "engine speed at cruise in top gear",
        "engine speed",
        lambda p: p.cruise.engine_speed_rad_s[:, -1],
    ),
    "power_in_hand": (
        "power in hand at cruise in top gear",
        "power",
        lambda p: (p.cruise.available_w - p.cruise.needed_w)[:, -1],
    ),
    "grade_held": ("grade held at cruise in top gear", "percent", lambda p: np.tan(p.cruise.slope_held_rad[:, -1])),
    "fuel": ("fuel at cruise in top gear", "consumption", lambda p: p.cruise.fuel_m3_per_m[:, -1]),
}


@dataclass(frozen=True, kw_only=True)
class Spread:
    """One figure's band: 5th, 50th and 95th percentile, the share of draws in which it happens, and whose doubt it is.

    first and total hold the Sobol indices by the doubt's path: the share of the variance a doubt makes on its own, and
    with all it does together with others.
    """

    key: str
    label: str
    reading: str
    low: float | None
    median: float | None
    high: float | None
    happens: float
    first: Mapping[str, float]
    total: Mapping[str, float]

    @property
    def says(self) -> str:
        """Which doubt to mend first, in words."""
        if not self.total:
            return f"nothing that carries a tolerance moves the {self.label}"
        path, share = max(self.total.items(), key=lambda item: item[1])
        return f"{_share(share)} of the uncertainty in the {self.label} is {path}: measure that first"


@dataclass(frozen=True, kw_only=True)
class Bands:
    """The bands of a bike on a ride."""

    spreads: tuple[Spread, ...]
    samples: int
    assumptions: tuple[str, ...]

    def spread(self, key: str) -> Spread:
        """The band of one figure."""
        return next(s for s in self.spreads if s.key == key)


def _share(share: float) -> str:
    """A share in words.

    >>> _share(0.66), _share(0.97), _share(0.31)
    ('two thirds', 'nearly all', '31 %')
    """
    for value, word in ((0.5, "half"), (2 / 3, "two thirds"), (0.75, "three quarters"), (0.8, "four fifths")):
        if abs(share - value) < 0.025:
            return word
    return "nearly all" if share > 0.93 else f"{100 * share:.0f} %"


def triangle(uniform: Array, middle: float, half_width: float) -> Array:
    """Uniform draws in 0..1 as draws from a symmetric triangle, by its inverse.

    >>> triangle(np.array([0.0, 0.125, 0.5, 1.0]), 10.0, 2.0).tolist()
    [8.0, 9.0, 10.0, 12.0]
    """
    left = np.sqrt(2.0 * np.minimum(uniform, 0.5)) - 1.0
    right = 1.0 - np.sqrt(2.0 * np.minimum(1.0 - uniform, 0.5))
    return middle + half_width * np.where(uniform < 0.5, left, right)


def bands(bike: Bike, ride: Ride | None = None, *, samples: int = SAMPLES, shares: bool = True) -> Bands:
    """Low, median and high of every figure, and the shares of its doubt.

    Parameters
    ----------
    bike : Bike
        Its doubts are those of its build file and its tires.
    ride : Ride, optional
        The build's own unless given.
    samples : int
        Sobol draws, a power of two.
    shares : bool
        Whether to work out the Sobol indices as well: (doubts + 2) x 256 draws more.
    """
    from scipy.stats import qmc

    ride = bike.ride() if ride is None else ride
    uniform = qmc.Sobol(len(bike.doubts), rng=np.random.default_rng(SEED)).random(samples)
    performance = _performed(bike, ride, uniform)
    indices = _indices(bike, ride) if shares else {}
    spreads = []
    for key, (label, reading, read) in FIGURES.items():
        values = np.asarray(read(performance), dtype=float)
        found = values[np.isfinite(values)]
        low, median, high = np.quantile(found, [LOW, 0.5, HIGH]) if found.size else (np.nan,) * 3
        first, total = indices.get(key, ({}, {}))
        spreads.append(
            Spread(
                key=key,
                label=label,
                reading=reading,
                low=plain(low),
                median=plain(median),
                high=plain(high),
                happens=found.size / values.size,
                first=first,
                total=total,
            )
        )
    told = "every tolerance taken as a triangle over its range, independent of the others (assumption)"
    return Bands(spreads=tuple(spreads), samples=samples, assumptions=(told,))


def _performed(bike: Bike, ride: Ride, uniform: Array) -> Performance:
    raw = turned(bike.raw, bike.doubts, triangle(uniform, 0.0, 1.0))
    return perform(setups_of(raw, bike.cycle), bike.curve, ride, trace=False)


def shares_of_doubt(figures: Callable[[Array], Array], count: int, n: int = SHARE_SAMPLES) -> tuple[Array, Array]:
    """First-order and total Sobol indices of figures over independent uniform inputs (Saltelli 2010, Jansen).

    Parameters
    ----------
    figures : callable
        Takes (n, count) in 0..1, gives (K, n).
    count : int
        Inputs.
    n : int
        A power of two; n (count + 2) draws are made.

    Returns
    -------
    tuple of two arrays, (K, count)
        nan where a figure does not vary or does not always happen.
    """
    from scipy.stats import sobol_indices, uniform

    with np.errstate(divide="ignore", invalid="ignore"):
        result = sobol_indices(
            func=lambda x: figures(np.clip(x.T, 0.0, 1.0)),
            n=n,
            dists=[uniform()] * count,
            rng=np.random.default_rng(SEED),
        )
    return np.atleast_2d(result.first_order), np.atleast_2d(result.total_order)


def _indices(bike: Bike, ride: Ride) -> dict[str, tuple[dict[str, float], dict[str, float]]]:
    """First-order and total indices by figure and doubt; figures that do not always happen have none."""

    def figures(draws: Array) -> Array:
        performance = _performed(bike, ride, draws)
        return np.array([read(performance) for _, _, read in FIGURES.values()])

    names = [doubt.path for doubt in bike.doubts]
    found = {}
    for key, first, total in zip(FIGURES, *shares_of_doubt(figures, len(names)), strict=True):
        if np.isfinite(total).all() and total.max() > 1e-6:
            found[key] = (_by_path(names, first), _by_path(names, total))
    return found


def _by_path(names: Sequence[str], shares: Array) -> dict[str, float]:
    """Shares by the doubt's path; a tire tried in place of the fitted one leaves two of one path, its own and that in the fuel."""
    told = dict.fromkeys(names, 0.0)
    for name, share in zip(names, np.clip(shares, 0.0, 1.0).tolist(), strict=True):
        told[name] = min(told[name] + share, 1.0)
    return told


def told_apart(one: Bike, other: Bike, key: str, ride: Ride | None = None, *, samples: int = 1024) -> bool:
    """Whether a figure of two set-ups differs by more than what is left open: the 5 to 95 % band of the difference, drawn
    alike for both, leaves out zero."""
    return bool(all_told_apart((one, other), key, ride, samples=samples)[0, 1])


def all_told_apart(
    bikes: Sequence[Bike], key: str | Sequence[str], ride: Ride | None = None, *, samples: int = 1024
) -> NDArray[np.bool_]:
    """Which of several set-ups differ in a figure, or in one of several, by more than what is left open, (n, n).

    The error of one source is drawn once: what moves both alike, as the rider's weight on one bike does, does not blur their
    difference. What only one of them has, as the size of its tire or the error of its tune's curve, is drawn for that one alone.
    """
    from scipy.stats import qmc

    ride = bikes[0].ride() if ride is None else ride
    reads = [FIGURES[one][2] for one in ([key] if isinstance(key, str) else key)]
    names = [[bike.source(doubt) for doubt in bike.doubts] for bike in bikes]
    column = {name: n for n, name in enumerate(dict.fromkeys(name for own in names for name in own))}
    uniform = qmc.Sobol(len(column), rng=np.random.default_rng(SEED)).random(samples)
    drawn_alike = (
        _performed(bike, ride, uniform[:, [column[name] for name in own]])
        for bike, own in zip(bikes, names, strict=True)
    )
    values = np.array([[read(performance) for read in reads] for performance in drawn_alike])
    apart = np.zeros((len(bikes), len(bikes)), bool)
    for n, own in enumerate(values):
        for m in range(n):
            apart[n, m] = apart[m, n] = any(_differ(one) for one in own - values[m])
    return apart


def _differ(difference: Array) -> bool:
    """Whether the 5 to 95 % band of a difference leaves out zero."""
    found = difference[np.isfinite(difference)]
    if not found.size:
        return False
    low, high = np.quantile(found, [LOW, HIGH])
    return bool(low > 0 or high < 0)
