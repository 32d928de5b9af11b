"""Jets: what a size flows beside another, and the size that keeps the mixture when the air is thinner or thicker."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any, Literal, get_args

import numpy as np

from ridesim.errors import InputError, one, several, within, word

Numbering = Literal["bore", "flow"]
NUMBERINGS: tuple[Numbering, ...] = get_args(Numbering)
NUMBERED = {"bore": "numbered by bore, in hundredths of a millimeter", "flow": "numbered by flow"}

LEAST_SIZE, MOST_SIZE = 5.0, 1000.0  # 0.05 to 10 mm, or that many by flow
STAMPED = (LEAST_SIZE, MOST_SIZE, "", "Read the number off the jet.")
LEAST_DENSITY_KG_M3, MOST_DENSITY_KG_M3 = 0.3, 2.0  # from 11 km up to the coldest air under the highest barometer
MOST_OFFERED = 200
SAME_RICHNESS = 1e-9  # closer than this is the same mixture
AS_NEAR = 0.005  # of the mixture: half a hundredth is no difference a rider can tell

LAW = (
    "richness goes with d^2 sqrt(rho) / rho_dry: the suction with the density of the moist air, the burning with the dry air in "
    "it; derived from incompressible metering, and used so, for dry air, in worked examples of a textbook (R. K. Rajput, A "
    "Textbook of Internal Combustion Engines, examples 11.9 and 11.11)"
)
LIMITS = (
    "fuel and air are metered as if incompressible, with the same discharge coefficients, fuel and float level",
    "the air is drawn through the same carburetor at the same velocity: same engine speed and same throttle opening",
    "a slide carburetor without altitude compensation; one with a compensator needs less change or none",
    "this is about the main jet only: it says nothing of the idle circuit, the needle, or the pulses of a single cylinder",
)


@dataclass(frozen=True, kw_only=True)
class JetSize:
    """An available size, and what it makes of the mixture: 1 keeps it, above 1 is richer."""

    size: float
    richness_ratio: float


@dataclass(frozen=True, kw_only=True)
class JetForAir:
    """The jet that keeps the mixture in other air.

    size, numbering             the jet that was right, as stamped
    unchanged_richness_ratio    what the old jet makes of the mixture in the new air [-]
    exact_size                  keeps the mixture; low_size and high_size with the tolerance of the densities
    nearest                     obtainable and closest in richness (the richer one of two about as close)
    rich_side, lean_side        the closest that is richer, and leaner; None where nothing obtainable is
    offered                     which sizes were chosen from, in words
    """

    size: float
    numbering: Numbering
    unchanged_richness_ratio: float
    exact_size: float
    low_size: float
    high_size: float
    nearest: JetSize
    rich_side: JetSize | None
    lean_side: JetSize | None
    offered: str

    def rows(self) -> tuple[dict[str, Any], ...]:
        """Lean side, nearest, rich side, without repeats, in the order of their sizes."""
        found = {j.size: j for j in (self.lean_side, self.nearest, self.rich_side) if j is not None}
        return tuple({"size": size, "richness_ratio": found[size].richness_ratio} for size in sorted(found))


def jet_bore_m(size: Any) -> Any:
    """Bore of a jet numbered in hundredths of a millimeter:  d = size x 1e-5 m.

    Parameters
    ----------
    size : float or array
        As stamped, 5 to 1000. [-]

    Returns
    -------
    float or array
        [m]

    Raises
    ------
    InputError
        A size outside the range.

    Examples
    --------
    >>> float(jet_bore_m(125))
    0.00125
    """
    return within("jet", size, *STAMPED) * 1e-5


def flow_ratio(size: Any, new_size: Any, *, numbering: Numbering) -> Any:
    """Fuel through a new jet over fuel through the old one at the same suction.

    By bore: (new / old)^2. By flow: new / old.

    Parameters
    ----------
    size, new_size : float or array
        As stamped, 5 to 1000. [-]
    numbering : "bore" or "flow"
        What the numbers mean; makers use both, so it is never guessed.

    Returns
    -------
    float or array
        [-]

    Raises
    ------
    InputError
        A size outside the range, or another numbering.

    Examples
    --------
    >>> round(flow_ratio(120, 126, numbering="bore"), 4), round(flow_ratio(120, 126, numbering="flow"), 4)
    (1.1025, 1.05)
    """
    power = 2.0 if word("jet.numbering", numbering, NUMBERINGS) == "bore" else 1.0
    old = within("jet.size", size, *STAMPED)
    new = within("jet.new_size", new_size, *STAMPED)
    return (new / old) ** power


def richness_ratio(bore_ratio: Any, density_ratio: Any = 1.0) -> Any:
    """Fuel per air, new over old, of a carburetor with another jet bore in other air:  (d1/d0)^2 / sqrt(rho1/rho0).

    Fuel goes with d^2 sqrt(rho_fuel dp) and dp with rho v^2, air goes with rho v; the velocity v is the same. Of moist air only
    the dry part burns fuel: the ratio is then that of rho_dry^2 / rho (Air.metering_density_kg_m3).

    Parameters
    ----------
    bore_ratio : float or array
        d1/d0, 0.05 to 20. [-]
    density_ratio : float or array
        rho1/rho0 of dry air, of moist air that of rho_dry^2 / rho, 0.1 to 10. [-]

    Returns
    -------
    float or array
        Above 1 is richer. [-]

    Raises
    ------
    InputError
        A ratio outside its range.

    Source: R. K. Rajput, A Textbook of Internal Combustion Engines, examples 11.9 and 11.11.

    Examples
    --------
    The same jet at 0.81 of the density is a ninth too rich:

    >>> round(float(richness_ratio(1.0, 0.81)), 4)
    1.1111
    """
    bore = within("bore_ratio", bore_ratio, 0.05, 20.0, "", "Give new bore over old bore.")
    density = within("density_ratio", density_ratio, 0.1, 10.0, "", "Give new density over old density.")
    return np.square(bore) / np.sqrt(density)


def size_ratio_for_air(density_ratio: Any, *, numbering: Numbering) -> Any:
    """Jet size, new over old, that keeps the mixture in other air:  rho^(1/4) by bore, rho^(1/2) by flow.

    Parameters
    ----------
    density_ratio : float or array
        rho1/rho0 of dry air, of moist air that of rho_dry^2 / rho, 0.1 to 10. [-]
    numbering : "bore" or "flow"
        What the numbers mean.

    Returns
    -------
    float or array
        [-]

    Raises
    ------
    InputError
        A ratio outside its range, or another numbering.

    Examples
    --------
    >>> round(float(size_ratio_for_air(0.6561, numbering="bore")), 4)
    0.9
    >>> round(float(size_ratio_for_air(0.81, numbering="flow")), 4)
    0.9
    """
    density = within("density_ratio", density_ratio, 0.1, 10.0, "", "Give new density over old density.")
    return density ** (0.25 if word("jet.numbering", numbering, NUMBERINGS) == "bore" else 0.5)


def jet_for_air(
    size: float,
    *,
    numbering: Numbering,
    metering_density_kg_m3: float,
    reference_metering_density_kg_m3: float,
    step: float | None = None,
    sizes: Sequence[float] | None = None,
    density_plus_minus: float = 0.0,
) -> JetForAir:
    """The jet that keeps the mixture of a jet that was right in the air of another place or day.

    Parameters
    ----------
    size : float
        The jet that was right, as stamped, 5 to 1000. [-]
    numbering : "bore" or "flow"
        What the numbers mean.
    metering_density_kg_m3, reference_metering_density_kg_m3 : float
        rho_dry^2 / rho of the air to come and of the air the jet was right in (Air.metering_density_kg_m3), 0.3 to 2. [kg/m3]
    step : float
        Sizes are sold in such steps, counted from the jet given; either this or `sizes`. [-]
    sizes : sequence of float
        The available sizes. [-]
    density_plus_minus : float
        How well the ratio of the densities is known, as a share, 0 to 0.3. [-]

    Returns
    -------
    JetForAir

    Raises
    ------
    InputError
        A figure outside its range; neither or both of step and sizes.

    Examples
    --------
    >>> up = jet_for_air(120, numbering="bore", metering_density_kg_m3=0.95, reference_metering_density_kg_m3=1.20, step=2.5)
    >>> round(up.exact_size, 1), up.nearest.size, up.rich_side.size, up.lean_side.size
    (113.2, 112.5, 115.0, 112.5)
    >>> round(up.nearest.richness_ratio, 3)
    0.988
    """
    old = one("jet.size", size, *STAMPED)
    fix = "Take the density from the air of the day; it is about 1.2 kg/m3 near sea level."
    bounds = (LEAST_DENSITY_KG_M3, MOST_DENSITY_KG_M3, "kg/m3", fix)
    density = one("air.density", metering_density_kg_m3, *bounds)
    reference = one("air.reference_density", reference_metering_density_kg_m3, *bounds)
    share = one("air.density_plus_minus", density_plus_minus, 0.0, 0.3, "", "Give a share such as 0.02.")
    ratio = density / reference
    exact = old * float(size_ratio_for_air(ratio, numbering=numbering))
    power = 2.0 if numbering == "bore" else 1.0
    offered, offer_said = _offered(old, exact, step, sizes)
    found = [JetSize(size=s, richness_ratio=(s / exact) ** power) for s in offered]
    off = {j: abs(math.log(j.richness_ratio)) for j in found}
    # about as far rich as lean counts as the same distance; then the richer one, which is the safe side
    nearest = max((j for j in found if off[j] <= min(off.values()) + AS_NEAR), key=lambda j: j.richness_ratio)
    rich = min((j for j in found if j.richness_ratio > 1 + SAME_RICHNESS), key=lambda j: j.size, default=None)
    lean = max((j for j in found if j.richness_ratio < 1 - SAME_RICHNESS), key=lambda j: j.size, default=None)
    return JetForAir(
        size=old,
        numbering=numbering,
        unchanged_richness_ratio=float(richness_ratio(1.0, ratio)),
        exact_size=exact,
        low_size=old * float(size_ratio_for_air(ratio * (1 - share), numbering=numbering)),
        high_size=old * float(size_ratio_for_air(ratio * (1 + share), numbering=numbering)),
        nearest=nearest,
        rich_side=rich,
        lean_side=lean,
        offered=offer_said,
    )


def _offered(
    old: float, exact: float, step: float | None, sizes: Sequence[float] | None
) -> tuple[tuple[float, ...], str]:
    """The sizes to choose from: the list, or the steps counted from the jet given on both sides of the exact size."""
    if (step is None) == (sizes is None):
        problem = "either a step or a list of sizes is wanted, and not both"
        raise InputError("jet.sizes", None, problem, "Give step=2.5, or the available sizes.")
    if sizes is not None:
        fix = "List the available sizes."
        listed = several("jet.sizes", sizes, LEAST_SIZE, MOST_SIZE, longest=MOST_OFFERED, fix=fix)
        return tuple(sorted(set(listed))), "obtainable sizes as listed"
    pitch = one("jet.step", step, 0.1, 50.0, "", "Give the step between sizes, such as 2.5.")
    below = math.floor((exact - old) / pitch + 1e-9)
    near = (round(old + pitch * k, 6) for k in range(below - 1, below + 3))
    return tuple(s for s in near if s > 0), f"sizes come in steps of {pitch:g}, counted from {old:g}"
