"""Fuel-air ratios: what a fuel needs, what gives most power, what an elementary carburetor makes of air and intake."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np

from ridesim.errors import InputError, within
from ridesim.reference import cite, read_table
from ridesim.units import G

OXYGEN_KG_KMOL, NITROGEN_KG_KMOL = 32.0, 28.16  # the nitrogen of the air with its argon and carbon dioxide
NITROGEN_PER_OXYGEN = 3.773  # mol/mol in dry air
CARBON_KG_KMOL, HYDROGEN_KG_KMOL = 12.011, 1.008


@dataclass(frozen=True, kw_only=True)
class PowerMixture:
    """The mixtures between which most power was found.

    lean_air_fuel, rich_air_fuel    air per fuel by mass [kg/kg]
    source                          where the figures stand
    """

    lean_air_fuel: float
    rich_air_fuel: float
    source: str


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


def most_power_mixture() -> PowerMixture:
    """Fuel-air 0.07 to 0.08 by mass gave most power with gasoline, over the air pressures and temperatures of flight.

    Returns
    -------
    PowerMixture
        Air-fuel 14.3 to 12.5. [kg/kg]

    Source: Sparrow, NACA Report No. 189, conclusions 1 and 2.

    Examples
    --------
    >>> best = most_power_mixture()
    >>> round(best.lean_air_fuel, 1), round(best.rich_air_fuel, 1)
    (14.3, 12.5)
    """
    rows = {row["id"]: row for row in read_table("carburetor_mixture")}
    lean, rich = rows["power-lean-end"], rows["power-rich-end"]
    return PowerMixture(
        lean_air_fuel=1 / float(lean["printed"]), rich_air_fuel=1 / float(rich["printed"]), source=cite(lean)
    )


def elementary_air_fuel_ratio(
    *,
    throat_diameter_m: Any,
    jet_bore_m: Any,
    air_coefficient: Any,
    fuel_coefficient: Any,
    air_density_kg_m3: Any,
    fuel_density_kg_m3: Any,
    suction_pa: Any = 1e3,
    lip_m: Any = 0.0,
) -> Any:
    """Air per fuel of an elementary carburetor:  (Ca/Cf) (D/d)^2 sqrt(rho_a dp / (rho_f (dp - rho_f g z))).

    Parameters
    ----------
    throat_diameter_m, jet_bore_m : float or array
        D and d. [m]
    air_coefficient, fuel_coefficient : float or array
        Discharge coefficients Ca and Cf. [-]
    air_density_kg_m3, fuel_density_kg_m3 : float or array
        rho_a and rho_f. [kg/m3]
    suction_pa : float or array
        dp at the throat; any number where the lip is 0. [Pa]
    lip_m : float or array
        z, the fuel level below the nozzle's lip. [m]

    Returns
    -------
    float or array
        [kg/kg]

    Raises
    ------
    InputError
        A figure that is not above 0, or too little suction to lift the fuel over the lip.

    Source: R. K. Rajput, A Textbook of Internal Combustion Engines, example 11.9, p. 405.

    Examples
    --------
    >>> round(float(elementary_air_fuel_ratio(
    ...     throat_diameter_m=0.018, jet_bore_m=0.0012, air_coefficient=0.82, fuel_coefficient=0.65,
    ...     air_density_kg_m3=1.2, fuel_density_kg_m3=750.0)), 2)
    11.35
    """
    fix = "Give a number above 0."
    throat = within("throat_diameter", throat_diameter_m, 1e-4, 1.0, "m", fix)
    bore = within("jet_bore", jet_bore_m, 1e-5, 1.0, "m", fix)
    air_c = within("air_coefficient", air_coefficient, 0.01, 1.0, "", fix)
    fuel_c = within("fuel_coefficient", fuel_coefficient, 0.01, 1.0, "", fix)
    air = within("air_density", air_density_kg_m3, 0.05, 10.0, "kg/m3", fix)
    fuel = within("fuel_density", fuel_density_kg_m3, 100.0, 2000.0, "kg/m3", fix)
    suction = within("suction", suction_pa, 1e-6, 2e5, "Pa", fix)
    head = fuel * G * within("lip", lip_m, 0.0, 0.1, "m", "Give the fuel level below the lip, 0 or more.")
    if not np.all(suction > head):
        raise InputError(
            "suction", suction_pa, "does not lift the fuel over the lip", "Give a greater suction or a smaller lip."
        )
    return air_c / fuel_c * np.square(throat / bore) * np.sqrt(air * suction / (fuel * (suction - head)))


def intake_loss_richness_ratio(throat_suction_pa: Any, intake_loss_pa: Any) -> Any:
    """How a loss of pressure before a carburetor whose bowl is open to the outside enriches:  sqrt((dp + loss) / dp).

    Read the other way it says how much leaner the mixture runs when an intake is opened until the loss is gone. A float
    bowl vented to the airbox, or to the intake side of the carburetor, does not feel the loss: the ratio is then 1.

    Parameters
    ----------
    throat_suction_pa : float or array
        dp, the carburetor's own, above 0. [Pa]
    intake_loss_pa : float or array
        Through opening, airbox and filter, 0 or above. [Pa]

    Returns
    -------
    float or array
        1 or above. [-]

    Raises
    ------
    InputError
        A suction that is not above 0, or a loss below 0.

    Source: R. K. Rajput, A Textbook of Internal Combustion Engines, example 11.5, p. 403.

    Examples
    --------
    4 kPa through filter and airbox before a throat that pulls 20 kPa:

    >>> round(float(intake_loss_richness_ratio(20e3, 4e3)), 4)
    1.0954
    """
    suction = within("throat_suction", throat_suction_pa, 1.0, 1e5, "Pa", "Give a suction above 0.")
    loss = within("intake_loss", intake_loss_pa, 0.0, 1e5, "Pa", "Give a loss of 0 or more.")
    return np.sqrt((suction + loss) / suction)
