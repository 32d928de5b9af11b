"""From the raw figures of a bike, as they are or perturbed, to the set-ups that the kernel takes."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import numpy as np

from ridesim.components.steering import combined_place_m
from ridesim.environment.road import from_drag_area
from ridesim.mechanics.equations import rolling_offset_m
from ridesim.mechanics.setups import SetUps, broadcast


def setups_of(raw: Mapping[str, Any], cycle: int) -> SetUps:
    """Set-ups from raw figures, any of which may be an array of S: this is where centers of mass are combined and where
    drag area becomes a force.

    Parameters
    ----------
    raw : mapping
        As a Bike's `raw` has them, in SI.
    cycle : int
        Strokes of the engine, 2 or 4.

    Returns
    -------
    SetUps

    Examples
    --------
    >>> import ridesim as rs
    >>> bike = rs.demo("coast-single")
    >>> setups_of({**bike.raw, "rider_kg": np.array([70.0, 90.0])}, bike.cycle).mass_kg
    array([248., 268.])
    """
    values = {k: v for k, v in raw.items() if k in SetUps.__dataclass_fields__}
    values |= combined_masses(raw)
    values["torque_factor"] = values["torque_factor"] * crank_factor(raw)
    if "drag_area_m2" in raw:
        load = from_drag_area(
            raw["drag_area_m2"], raw["rolling_resistance"], values["mass_kg"], raw["air_density_kg_m3"]
        )
        values |= {"f0_n": load.f0_n, "f1_n_s_m": load.f1_n_s_m, "f2_n_s2_m2": load.f2_n_s2_m2}
    if "rolling_offset_m" not in values:
        values["rolling_offset_m"] = rolling_offset_m(values["f0_n"], values["mass_kg"], values["rear_radius_m"])
    return broadcast(values, cycle=cycle)


def crank_factor(raw: Mapping[str, Any]) -> Any:
    """The torque at the crank over that of the sheet as it stands: the error of its curve, and that of the losses where it was
    measured at the wheel, since what was measured there stays what it was, whatever the losses before it."""
    losses = raw["sheet_efficiency"] / np.asarray(raw["efficiency"]) if "sheet_efficiency" in raw else 1.0
    return raw["curve_factor"] * losses


def combined_masses(raw: Mapping[str, Any]) -> dict[str, Any]:
    """All-up mass and its place from those of bike, rider and luggage (scalars or arrays).

    >>> parts = {"bike_kg": 150.0, "rider_kg": 75.0, "luggage_kg": 0.0, "bike_ahead_m": 0.7, "rider_ahead_m": 0.4,
    ...          "luggage_ahead_m": 0.0, "bike_height_m": 0.5, "rider_height_m": 0.9, "luggage_height_m": 0.0}
    >>> {key: round(float(value), 3) for key, value in combined_masses(parts).items()}
    {'mass_kg': 225.0, 'ahead_m': 0.6, 'height_m': 0.633}
    """
    masses, ahead, height = (
        tuple(np.asarray(raw[f"{one}_{what}"], dtype=float) for one in ("bike", "rider", "luggage"))
        for what in ("kg", "ahead_m", "height_m")
    )
    return {
        "mass_kg": sum(masses),
        "ahead_m": combined_place_m(masses, ahead),
        "height_m": combined_place_m(masses, height),
    }
