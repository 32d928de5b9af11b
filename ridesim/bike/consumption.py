"""What the engine makes of its fuel: an indicated efficiency, assumed or made to fit the rider's own consumption figure."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from ridesim import reference
from ridesim.bike.figures_to_setups import setups_of
from ridesim.mechanics.fuel import HEATING_VALUE_J_KG, friction_power_w
from ridesim.mechanics.setups import Ride
from ridesim.mechanics.torque import cells_of
from ridesim.mechanics.traction import GearRows
from ridesim.statements import Assumption, Note
from ridesim.uncertainty.tolerances import carried_over, ends, merged, perturbed, single, through
from ridesim.units import quantity

if TYPE_CHECKING:
    from ridesim.bike import Bike

_CONSUMPTION, _EFFICIENCY = "fuel.known_consumption[1]", "indicated_efficiency"
_EFFICIENCY_PATH = f"fuel.{_EFFICIENCY}"


def fuel_calibrated(bike: Bike, own: Bike | None) -> Bike:
    """The indicated efficiency that makes the rider's own consumption figure come true, in the highest gear that holds its speed.

    Parameters
    ----------
    bike : Bike
        One that is made but for this; without a displacement it comes back as it is.
    own : Bike or None
        The same bike as the rider took the figure with, where this one has other sprockets, tires or another tune: its efficiency
        is taken over.

    Returns
    -------
    Bike
        Without a figure of the rider's the usual efficiency is assumed, with its tolerance.

    Examples
    --------
    >>> import ridesim as rs
    >>> bike = rs.demo("coast-single")
    >>> text = next(one for one in bike.assumptions if one.path == "fuel.indicated_efficiency")
    >>> print(text)
    indicated efficiency 0.344 from your own consumption figure, in gear 5
    """
    known = bike.record.fuel.known_consumption
    if not bike.has_displacement:
        return bike
    if own is not None and known is not None:
        return replace(
            bike,
            raw={**bike.raw, _EFFICIENCY: own.raw[_EFFICIENCY]},
            tolerances=carried_over(own.tolerances, bike.tolerances, _EFFICIENCY),
            assumptions=(*bike.assumptions, *(a for a in own.assumptions if a.path == _EFFICIENCY_PATH)),
        )
    if known is None:
        return _assumed(bike)
    v = float(known[1])
    w = v / bike.setups.meters_per_radian[0]
    inside = (w >= bike.curve.first_rad_s) & (w <= bike.curve.last_rad_s)
    level = GearRows(bike.setups, cells_of(bike.curve), Ride())
    held = inside & (level.at(np.clip(w, bike.curve.first_rad_s, bike.curve.last_rad_s)).net >= 0)
    if not held.any():
        text = "no gear holds the speed of fuel.known_consumption: it was not used"
        return _assumed(replace(bike, notes=(*bike.notes, Note("", text))))
    k = int(np.nonzero(held)[0].max())
    volumes = _volumes_per_m(bike, v, k)  # at an efficiency of 1
    efficiencies = volumes / float(known[0])
    tolerances = (
        *merged(bike.tolerances, _EFFICIENCY, efficiencies),
        *through(_CONSUMPTION, known[0], lambda volume: {_EFFICIENCY: float(volumes[0]) / volume}),
    )
    efficiency = float(efficiencies[0])
    notes = bike.notes
    if not 0.15 <= efficiency <= 0.5:
        notes = (
            *notes,
            Note(
                "",
                f"the known consumption means an indicated efficiency of {efficiency:.2f}, outside 0.15 to 0.50: check it, "
                "the drag area and the displacement",
            ),
        )
    text = f"indicated efficiency {efficiency:.3f} from your own consumption figure, in gear {k + 1}"
    return replace(
        bike,
        raw={**bike.raw, _EFFICIENCY: efficiency},
        tolerances=tolerances,
        assumptions=(*bike.assumptions, Assumption(_EFFICIENCY_PATH, text)),
        notes=notes,
    )


def _assumed(bike: Bike) -> Bike:
    """The efficiency of defaults.toml, told."""
    default = reference.defaults()[_EFFICIENCY_PATH]
    assumed = quantity(default["value"], "ratio", "", _EFFICIENCY_PATH)
    text = f"indicated efficiency assumed {assumed.written} ({default['why']}); friction by a line made for car engines (from memory)"
    return replace(
        bike,
        raw={**bike.raw, _EFFICIENCY: float(assumed)},
        assumptions=(*bike.assumptions, Assumption(_EFFICIENCY_PATH, text)),
        tolerances=(*bike.tolerances, single(_EFFICIENCY_PATH, _EFFICIENCY, float(assumed), assumed.plus_minus)),
    )


def _volumes_per_m(bike: Bike, v: float, k: int) -> NDArray[np.float64]:
    """Fuel a metre at a steady speed in gear k + 1 if all its heat became work: as the bike is, then with each tolerance at its ends."""
    raw = perturbed(bike.raw, bike.tolerances, ends(len(bike.tolerances)))
    setups = setups_of(raw, bike.cycle)
    needed = GearRows(setups, cells_of(bike.curve), Ride()).resistance_n(v)
    brake = needed.reshape(setups.ratios.shape)[:, 0] * v / raw["efficiency"]
    friction = friction_power_w(raw["displacement_m3"], v / setups.meters_per_radian[:, k], bike.cycle)
    return np.asarray((brake + friction) / (v * raw["fuel_density_kg_m3"] * HEATING_VALUE_J_KG))
