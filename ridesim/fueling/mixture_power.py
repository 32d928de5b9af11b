"""What a mixture is worth: torque over the equivalence ratio by published curves, from where the rider says it runs right."""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import cache
from typing import Any

import numpy as np
from numpy.typing import NDArray

from ridesim.answers.answer import Figure, Sentence, ValueOf
from ridesim.answers.solved import ORDINALS, Solved, solve
from ridesim.components.power_curve import evaluate, monotone_cubic
from ridesim.errors import within
from ridesim.reference import cite, read_table

Array = NDArray[np.float64]
OXYGEN_KG_KMOL, NITROGEN_KG_KMOL = 32.0, 28.16  # the nitrogen of the air with its argon and carbon dioxide
NITROGEN_PER_OXYGEN = 3.773  # mol/mol in dry air
CARBON_KG_KMOL, HYDROGEN_KG_KMOL = 12.011, 1.008
GASOLINE = 1.87  # hydrogen per carbon
RIGHT = 0.005  # within this share of the best torque a mixture counts as right: no rider tells them apart
NOTHING = 0.0005  # of the torque: less is no cost
STARTS = 21  # mixtures tried between the ends of what counts as right
_GRID = 2001  # places at which those ends are looked for


def stoichiometric_air_fuel_ratio(hydrogen_per_carbon: Any) -> Any:
    """Air to burn a fuel CH_y completely:  (1 + y/4)(32 + 3.773 x 28.16) / (12.011 + 1.008 y), by mass.

    Parameters
    ----------
    hydrogen_per_carbon : float or array
        y, 0 (coke) to 4 (methane); gasoline is about 1.85 to 1.9. [mol/mol]

    Returns
    -------
    float or array
        [kg/kg]

    Raises
    ------
    InputError
        y outside the range. A fuel with oxygen in it, such as alcohol, needs less air than this says.

    Examples
    --------
    >>> [round(float(stoichiometric_air_fuel_ratio(y)), 2) for y in (1.85, 1.87, 2.0)]
    [14.57, 14.6, 14.78]
    """
    y = within("fuel.hydrogen_per_carbon", hydrogen_per_carbon, 0.0, 4.0, "", "Gasoline is about 1.87.")
    air = (1 + y / 4) * (OXYGEN_KG_KMOL + NITROGEN_PER_OXYGEN * NITROGEN_KG_KMOL)
    return air / (CARBON_KG_KMOL + HYDROGEN_KG_KMOL * y)


@cache
def _printed(key: str) -> tuple[float, str]:
    """A figure of data/reference/carburetor_mixture.csv, and where it stands."""
    row = next(row for row in read_table("carburetor_mixture") if row["id"] == key)
    return float(row["printed"]), cite(row)


def most_power_fuel_air() -> tuple[float, float]:
    """The leanest and the richest fuel-air ratio of most power with gasoline. [kg/kg]

    Source: Sparrow, NACA Report No. 189, conclusions 1 and 2.

    >>> most_power_fuel_air()
    (0.07, 0.08)
    """
    return _printed("power-lean-end")[0], _printed("power-rich-end")[0]


def felt_share() -> float:
    """The least difference of acceleration that drivers told apart, on average. [-]

    Source: arXiv 2606.28055, abstract; a driving simulator, pulling away.

    >>> felt_share()
    0.054
    """
    return _printed("felt")[0]


@dataclass(frozen=True, kw_only=True, eq=False)
class MixtureCurve:
    """Torque over its best against the equivalence ratio (fuel over what the air could just burn), as a monotone cubic.

    right   the ratios between which it is within RIGHT of its best
    """

    name: str
    phi: Array
    torque: Array
    right: tuple[float, float]

    @property
    def best(self) -> float:
        """The equivalence ratio of most torque."""
        return float(self.phi[int(np.argmax(self.torque))])

    def at(self, phi: Any) -> Array:
        """Torque over its best; nan outside the points. [-]"""
        x = np.asarray(phi, dtype=float)
        inside = (x >= self.phi[0]) & (x <= self.phi[-1])
        return np.where(inside, evaluate(self.phi, monotone_cubic(self.phi, self.torque), x), np.nan)


@cache
def curves() -> tuple[MixtureCurve, ...]:
    """The published curves of data/reference/mixture_power.csv.

    "power" is power as printed. "burnt" is the heat set free by a mass of air, the ratio times the share of the fuel that
    burns as printed: the torque where nothing else about the burning changes.

    >>> [(one.name, one.best) for one in curves()]
    [('burnt', 1.05), ('power', 1.1308)]
    """
    made = []
    for name in ("burnt", "power"):
        rows = [row for row in read_table("mixture_power") if row["curve"] == name]
        phi, printed = (np.array([float(row[key]) for row in rows]) for key in ("phi", "printed"))
        torque = printed * phi if name == "burnt" else printed
        curve = MixtureCurve(name=name, phi=phi, torque=torque / torque.max(), right=(phi[0], phi[-1]))
        near = np.linspace(phi[0], phi[-1], _GRID)
        near = near[curve.at(near) >= 1.0 - RIGHT]
        made.append(replace(curve, right=(float(near[0]), float(near[-1]))))
    return tuple(made)


def torque_change(richness_ratio: Any) -> tuple[Array, Array, Array]:
    """Torque at full throttle, as a share more or less, of a mixture that is richer or leaner than the one that runs right.

    T(phi r) / T(phi) - 1: the middle from each curve's best, the ends over all curves and all mixtures within half a per cent
    of their best. Only where every curve reaches for all of these; beyond, the change is nan.

    Parameters
    ----------
    richness_ratio : float or array
        r, fuel per air over that of the mixture that runs right, 0.3 to 3. [-]

    Returns
    -------
    tuple of array
        Middle, least and most. [-]

    Raises
    ------
    InputError
        A ratio outside its range.

    Source: data/reference/mixture_power.csv.

    Examples
    --------
    >>> [round(100 * float(share), 1) for share in torque_change(1.07)]
    [-1.4, -2.4, 0.3]
    """
    ratio = np.asarray(within("richness_ratio", richness_ratio, 0.3, 3.0, "", "Give new richness over the right one."))
    starts = [np.append(np.linspace(*curve.right, STARTS), curve.best) for curve in curves()]
    changes = np.stack(
        [
            curve.at(start * ratio[..., None]) / curve.at(start) - 1.0
            for curve, start in zip(curves(), starts, strict=True)
        ]
    )
    return changes[..., -1].mean(axis=0), changes.min(axis=(0, -1)), changes.max(axis=(0, -1))


@dataclass(frozen=True, kw_only=True)
class MixtureWorth:
    """What a mixture off the right one costs, at full throttle.

    torque      change of the torque as a share: middle, least, most; None past the ends of every curve [-]
    roll_on     change of the roll-on time of a bike: middle, least, most; None without one, or where it can't be done [s]
    roll_on_s   the roll-on with the mixture right [s]
    gear        the gear of the roll-on, as a rider says it
    between     the speeds of the roll-on [m/s]
    """

    torque: tuple[float, float, float] | None
    roll_on: tuple[float, float, float] | None = None
    roll_on_s: float | None = None
    gear: str = ""
    between: tuple[float, float] | None = None

    @property
    def can_be_felt(self) -> bool:
        """Whether a rider may feel it: in the roll-on where there is one, else in the torque."""
        if self.roll_on is not None and self.roll_on_s:
            return max(map(abs, self.roll_on)) / self.roll_on_s >= felt_share()
        return self.torque is None or max(map(abs, self.torque)) >= felt_share()

    def figures(self, which: str = "") -> tuple[Figure, ...]:
        """The change of the torque and of the roll-on, with their ranges; `which` says of what, such as ", 120 left in"."""
        found = []
        for key, label, reading, band, better in (
            ("torque_change", f"Change of the torque at full throttle{which}", "percent", self.torque, 1),
            ("roll_on_change", f"Change of the roll-on in {self.gear}{which}", "time", self.roll_on, -1),
        ):
            if band is not None:
                middle, low, high = band
                found.append(Figure(key, label, middle, reading, low=low, high=high, better=better))
        if self.torque is not None:
            cost, most = max(-self.torque[2], 0.0), max(-self.torque[1], 0.0)
            if cost >= NOTHING:
                found += [Figure("least_cost", f"Torque it costs{which}, least", cost, "percent")]
            found += [Figure("most_cost", f"Torque it costs{which}, most", most, "percent")]
        if self.roll_on is not None and self.between is not None:
            found += [
                Figure("roll_from", "Roll-on from", self.between[0], "speed"),
                Figure("roll_to", "Roll-on to", self.between[1], "speed"),
                Figure("most_time", f"Time it costs{which}, most", max(self.roll_on[2], 0.0), "time"),
            ]
        return tuple(found)

    def say(self, lead: str) -> Sentence:
        """What it costs, in pieces, after words such as "Left in, 120 ": then "costs ... of the torque"."""
        if self.torque is None:
            return (lead, "is further off than any published curve reaches.")
        told: Sentence = (lead, "costs ")
        told += (ValueOf("least_cost"), " to ") if -self.torque[2] >= NOTHING else ("up to ",)
        told += (ValueOf("most_cost"), " of the torque at full throttle")
        if self.roll_on is not None:
            told += (", up to ", ValueOf("most_time"), " from ", ValueOf("roll_from"), " to ", ValueOf("roll_to"))
            told += (f" in {self.gear}",)
        return (*told, ": you may feel that." if self.can_be_felt else ": too small to feel.")


def mixture_worth(richness_ratio: float, solved: Solved | None = None) -> MixtureWorth:
    """What it costs at the wheel that a mixture is richer or leaner than the one that runs right.

    Parameters
    ----------
    richness_ratio : float
        Fuel per air over that of the mixture that runs right, 0.3 to 3. [-]
    solved : Solved, optional
        A bike whose torque curve is the one with the mixture right: the roll-on of its ride, in its highest gear that does it.

    Returns
    -------
    MixtureWorth

    Raises
    ------
    InputError
        A ratio outside its range.

    Examples
    --------
    >>> found = mixture_worth(1.07)
    >>> round(found.torque[1], 3), found.roll_on, found.can_be_felt
    (-0.024, None, False)
    """
    band = tuple(float(share) for share in torque_change(richness_ratio))
    torque = None if not np.isfinite(band).all() else (band[0], band[1], band[2])
    worth = MixtureWorth(torque=torque)
    if solved is None or torque is None:
        return worth
    right = solved.performance.roll_on_s[0]
    timed = np.flatnonzero(np.isfinite(right))
    if not timed.size:
        return worth
    k = int(timed[-1])
    middle, slow, fast = (_roll_on_s(solved, 1.0 + share, k) - float(right[k]) for share in torque)
    if not np.isfinite([middle, slow, fast]).all():
        return worth
    return replace(
        worth,
        roll_on=(middle, fast, slow),
        roll_on_s=float(right[k]),
        gear=ORDINALS[k],
        between=solved.ride.roll_on_m_s,
    )


def _roll_on_s(solved: Solved, share: float, k: int) -> float:
    """The roll-on in a gear with another share of the torque. [s]"""
    raw = {**solved.bike.raw, "torque_factor": solved.bike.raw["torque_factor"] * share}
    return float(solve(replace(solved.bike, raw=raw), solved.ride, bands=False).performance.roll_on_s[0, k])


@cache
def worth_assumptions() -> tuple[str, ...]:
    """Where the mixture starts from, which curves say what it is worth, and what a rider feels.

    >>> "an equivalence ratio of 1.0" in worth_assumptions()[0]  # rich of 1
    True
    """
    burn = float(stoichiometric_air_fuel_ratio(GASOLINE))
    lean, rich = min(one.right[0] for one in curves()), max(one.right[1] for one in curves())
    ends = most_power_fuel_air()
    return (
        "what the mixture is in itself is not known: it is taken to run right within half a percent of its best torque, which "
        f"by the curves is an equivalence ratio of {lean:.2f} to {rich:.2f} (fuel-air {ends[0]:g} to {ends[1]:g} found for most "
        f"power is {ends[0] * burn:.2f} to {ends[1] * burn:.2f}: {_printed('power-lean-end')[1]})",
        "torque over mixture by two curves, each from its best: "
        + "; ".join(dict.fromkeys(cite(row).rpartition(",")[0] for row in read_table("mixture_power")))
        + " (both second-hand); at full throttle, the same at every engine speed, ignition as it is",
        f"a difference of less than {100 * felt_share():.1f} % in the pull is taken as too small to feel "
        f"({_printed('felt')[1]}; drivers in a simulator, not riders)",
    )
