"""Flow through a hole: ideal gas by 40 CFR 1065.640 to 645, and liquid or slow air without compression."""

from __future__ import annotations

from typing import Any

import numpy as np

from ridesim.errors import InputError, within

GAS_CONSTANT_J_MOL_K = 8.314472  # as the worked examples of 40 CFR 1065.640 print it
DRY_AIR_KG_MOL = 0.02896559  # 40 CFR 1065.640(c)(5)(iv)
WATER_KG_MOL = 0.01801528  # 40 CFR 1065.640(c)(5)(iv)
AIR_GAMMA = 1.399  # ratio of specific heats of air, 40 CFR 1065.640(c)(5)(iii)


def goff_saturation_pressure_pa(temperature_k: Any) -> Any:
    """Pressure of water vapor above water, also supercooled, as 40 CFR 1065.645 has it after Goff.

    log10(p / kPa) = 10.79574 (1 - 273.16/T) - 5.028 log10(T/273.16) + 1.50475e-4 (1 - 10^(-8.2969 (T/273.16 - 1)))
    + 4.2873e-4 (10^(4.76955 (1 - 273.16/T)) - 1) - 0.2138602

    Parameters
    ----------
    temperature_k : float or array
        T, -50 to 100 °C. [K]

    Returns
    -------
    float or array
        [Pa]

    Raises
    ------
    InputError
        Temperature outside the range.

    Source: 40 CFR 1065.645(a)(1); the coefficients second-hand, held to both printed examples.

    Examples
    --------
    >>> float(round(goff_saturation_pressure_pa(282.65), 3))
    1186.581
    """
    t = within("temperature", temperature_k, 223.15, 373.15, "K", "Give the temperature of the intake air.")
    x = 273.16 / t
    exponent = (
        10.79574 * (1 - x)
        + 5.028 * np.log10(x)
        + 1.50475e-4 * (1 - 10 ** (-8.2969 * (1 / x - 1)))
        + 4.2873e-4 * (10 ** (4.76955 * (1 - x)) - 1)
        - 0.2138602
    )
    return 1000.0 * 10**exponent


def water_fraction(vapor_pressure_pa: Any, pressure_pa: Any) -> Any:
    """Moles of water in a mole of moist air:  x = p_v / p.

    Parameters
    ----------
    vapor_pressure_pa : float or array
        p_v: at the dew point, or humidity times saturation. [Pa]
    pressure_pa : float or array
        p, vapor included. [Pa]

    Returns
    -------
    float or array
        [mol/mol]

    Source: 40 CFR 1065.645(b) and (c).

    Examples
    --------
    >>> float(round(water_fraction(1186.581, 99980.0), 6))
    0.011868
    """
    return np.divide(vapor_pressure_pa, pressure_pa)


def moist_air_molar_mass_kg_mol(water_fraction: Any) -> Any:
    """Molar mass of moist air:  M = M_air (1 - x) + M_water x.

    Parameters
    ----------
    water_fraction : float or array
        x, 0 to 1. [mol/mol]

    Returns
    -------
    float or array
        [kg/mol]

    Source: 40 CFR 1065.640(c)(5)(iv).

    Examples
    --------
    >>> float(round(moist_air_molar_mass_kg_mol(0.0169), 7))
    0.0287805
    """
    x = within("water_fraction", water_fraction, 0.0, 1.0, "")
    return DRY_AIR_KG_MOL * (1 - x) + WATER_KG_MOL * x


def flow_coefficient(pressure_ratio: Any, beta: Any = 0.0, gamma: Any = AIR_GAMMA) -> Any:
    """Ideal flow of a venturi or hole, as a share of p A sqrt(M / (R T)).

    Cf = sqrt(2 gamma (r^((gamma-1)/gamma) - 1) / ((gamma - 1) (beta^4 - r^(-2/gamma))))

    Parameters
    ----------
    pressure_ratio : float or array
        r, throat over inlet, absolute, from the critical ratio to 1. [-]
    beta : float or array
        Throat over inlet diameter, 0 for a hole from the open, below 1. [-]
    gamma : float or array
        Ratio of specific heats. [-]

    Returns
    -------
    float or array
        [-]

    Raises
    ------
    InputError
        A ratio below the critical one: the flow is choked, use critical_pressure_ratio.

    Source: 40 CFR 1065.640(c)(3)(ii).

    Examples
    --------
    >>> float(round(flow_coefficient(1 - 2312 / 99132, 0.8), 4))
    0.2744
    """
    r = within("pressure_ratio", pressure_ratio, 0.0, 1.0, "", "Give throat pressure over inlet pressure.")
    if not np.all(r >= critical_pressure_ratio(beta, gamma) * (1 - 1e-9)):
        fix = "Choked flow no longer grows with suction; use the critical ratio."
        raise InputError("pressure_ratio", pressure_ratio, "is below the critical ratio: the flow is choked", fix)
    g = np.asarray(gamma)
    return np.sqrt(2 * g * (1 - r ** ((g - 1) / g)) / ((g - 1) * (r ** (-2 / g) - np.asarray(beta) ** 4)))


def critical_pressure_ratio(beta: Any = 0.0, gamma: Any = AIR_GAMMA) -> Any:
    """Throat over inlet pressure at which the throat runs at the speed of sound.

    The root of  r^((1-gamma)/gamma) + (gamma - 1)/2 beta^4 r^(2/gamma) = (gamma + 1)/2.

    Parameters
    ----------
    beta : float or array
        Throat over inlet diameter, 0 to 0.95. [-]
    gamma : float or array
        Ratio of specific heats, 1.05 to 1.7. [-]

    Returns
    -------
    float or array
        r. [-]

    Raises
    ------
    InputError
        A figure outside its range.

    Source: 40 CFR 1065.640(c)(4)(ii).

    Examples
    --------
    >>> float(round(critical_pressure_ratio(0.0, 1.4), 4))
    0.5283
    """
    b = within("beta", beta, 0.0, 0.95, "", "Give throat over inlet diameter.")
    g = within("gamma", gamma, 1.05, 1.7, "", "Air is 1.399.")
    low = np.broadcast_to(0.3, np.broadcast_shapes(np.shape(b), np.shape(g))).copy()
    high = np.ones_like(low)
    for _ in range(54):  # halving the bracket reaches the last digit of a double
        middle = 0.5 * (low + high)
        above = middle ** ((1 - g) / g) + 0.5 * (g - 1) * b**4 * middle ** (2 / g) > 0.5 * (g + 1)
        low, high = np.where(above, middle, low), np.where(above, high, middle)
    return 0.5 * (low + high)


def molar_flow_mol_s(
    discharge_coefficient: Any,
    flow_coefficient: Any,
    area_m2: Any,
    inlet_pressure_pa: Any,
    molar_mass_kg_mol: Any,
    inlet_temperature_k: Any,
) -> Any:
    """Flow of an ideal gas:  n = Cd Cf A p / sqrt(M R T).  Times M it is the mass flow.

    Parameters
    ----------
    discharge_coefficient : float or array
        Cd: about 0.6 for a sharp hole, 0.98 for a good venturi. [-]
    flow_coefficient : float or array
        Cf. [-]
    area_m2 : float or array
        Throat. [m2]
    inlet_pressure_pa : float or array
        p, absolute. [Pa]
    molar_mass_kg_mol : float or array
        M. [kg/mol]
    inlet_temperature_k : float or array
        T. [K]

    Returns
    -------
    float or array
        [mol/s]

    Source: 40 CFR 1065.640(c)(1), with Z = 1.

    Examples
    --------
    >>> float(round(molar_flow_mol_s(0.985, 0.7219, 0.00456, 98836.0, 0.0287805, 378.15), 3))
    33.69
    """
    through = np.multiply(discharge_coefficient, flow_coefficient) * area_m2 * inlet_pressure_pa
    return through / np.sqrt(np.multiply(molar_mass_kg_mol, GAS_CONSTANT_J_MOL_K) * inlet_temperature_k)


def discharge_coefficient(
    molar_flow_mol_s: Any,
    flow_coefficient: Any,
    area_m2: Any,
    inlet_pressure_pa: Any,
    molar_mass_kg_mol: Any,
    inlet_temperature_k: Any,
) -> Any:
    """Measured over ideal flow:  Cd = n sqrt(M R T) / (Cf A p).

    Parameters
    ----------
    molar_flow_mol_s : float or array
        n, measured. [mol/s]
    flow_coefficient : float or array
        Cf. [-]
    area_m2 : float or array
        Throat. [m2]
    inlet_pressure_pa : float or array
        p, absolute. [Pa]
    molar_mass_kg_mol : float or array
        M. [kg/mol]
    inlet_temperature_k : float or array
        T. [K]

    Returns
    -------
    float or array
        [-]

    Source: 40 CFR 1065.640(c)(2).

    Examples
    --------
    >>> float(round(discharge_coefficient(57.625, 0.274, 0.01824, 99132.0, 0.0287805, 298.15), 3))
    0.982
    """
    root = np.sqrt(np.multiply(molar_mass_kg_mol, GAS_CONSTANT_J_MOL_K) * inlet_temperature_k)
    return np.multiply(molar_flow_mol_s, root) / (np.multiply(flow_coefficient, area_m2) * inlet_pressure_pa)


def equivalent_diameter_m(diameters_m: Any) -> float:
    """One hole with the area of several side by side:  d = sqrt(d1^2 + d2^2 + ...).

    Parameters
    ----------
    diameters_m : sequence of float
        Each above 0. [m]

    Returns
    -------
    float
        [m]

    Raises
    ------
    InputError
        No holes, or one that is not above 0.

    Source: 40 CFR 1065.640(e).

    Examples
    --------
    >>> equivalent_diameter_m([0.030, 0.040])
    0.05
    """
    if not np.size(diameters_m):
        raise InputError("diameters", diameters_m, "has no holes", "List the diameter of each hole.")
    d = within("diameters", diameters_m, 1e-6, 10.0, "m", "List the diameter of each hole.")
    return float(np.sqrt(np.sum(np.square(d))))


def series_area_m2(first_area_m2: Any, second_area_m2: Any) -> Any:
    """One hole that passes what two holes one behind the other pass:  1/A^2 = 1/A1^2 + 1/A2^2.

    The same flow through both, each with drop ~ (flow/A)^2, the drops add: same discharge coefficient, no pressure
    recovered between.

    Parameters
    ----------
    first_area_m2, second_area_m2 : float or array
        A1 and A2, above 0. [m2]

    Returns
    -------
    float or array
        Less than either. [m2]

    Raises
    ------
    InputError
        An area that is not above 0.

    Examples
    --------
    >>> float(round(series_area_m2(3.0, 4.0), 12))
    2.4
    """
    first = within("area", first_area_m2, 1e-12, 1e3, "m2", "Give an area above 0.")
    second = within("area", second_area_m2, 1e-12, 1e3, "m2", "Give an area above 0.")
    return first * second / np.hypot(first, second)


def incompressible_flow_kg_s(
    discharge_coefficient: Any, area_m2: Any, density_kg_m3: Any, pressure_drop_pa: Any, beta: Any = 0.0
) -> Any:
    """Flow of a liquid, or of air at a small suction:  m = Cd A sqrt(2 rho dp / (1 - beta^4)).

    Parameters
    ----------
    discharge_coefficient : float or array
        Cd. [-]
    area_m2 : float or array
        Hole. [m2]
    density_kg_m3 : float or array
        Upstream. [kg/m3]
    pressure_drop_pa : float or array
        dp, 0 or above; for air a few per cent of the pressure at most. [Pa]
    beta : float or array
        Hole over pipe diameter, 0 from the open, to 0.95. [-]

    Returns
    -------
    float or array
        [kg/s]

    Raises
    ------
    InputError
        A pressure drop below 0, or beta out of its range.

    Source: Bernoulli with a discharge coefficient, as ISO 5167 writes it.

    Examples
    --------
    A 1.50 mm hole, gasoline of 745 kg/m3 and 2 kPa of suction:

    >>> float(round(3600 * incompressible_flow_kg_s(0.75, 1.7671e-6, 745.0, 2000.0), 2))
    8.24
    """
    drop = within("pressure_drop", pressure_drop_pa, 0.0, 1e9, "Pa", "Give the higher less the lower pressure.")
    ratio = within("beta", beta, 0.0, 0.95, "", "Give hole over pipe diameter.")
    return np.multiply(discharge_coefficient, area_m2) * np.sqrt(2 * np.multiply(density_kg_m3, drop) / (1 - ratio**4))
