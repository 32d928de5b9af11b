"""Air: pressure by altitude, saturation pressure of water, density of moist air, and the air of one day as a record."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np

from ridesim.errors import InputError, one, within
from ridesim.statements import Assumption, BothWays
from ridesim.units import G, either

SEA_LEVEL_PRESSURE_PA = 101325.0  # ISO 2533, clause 2
SEA_LEVEL_TEMPERATURE_K = 288.15  # ISO 2533, clause 2
LAPSE_RATE_K_M = 0.0065  # ISO 2533, 0 to 11 km geopotential; the addendum of 1997 carries it down to -5 km
STANDARD_GAS_CONSTANT_J_KG_K = 287.05287  # ISO 2533, clause 2
_EXPONENT = G / (LAPSE_RATE_K_M * STANDARD_GAS_CONSTANT_J_KG_K)  # of the pressure over the temperature, 5.2559
EARTH_RADIUS_M = 6356766.0  # nominal, ISO 2533, clause 2
DRY_AIR_J_KG_K = 287.05  # specific gas constant of dry air
VAPOR_J_KG_K = 461.5  # specific gas constant of water vapor
TRIPLE_POINT_K = 273.16

LOWEST_M, HIGHEST_M = -1000.0, 11000.0
COLDEST_K, HOTTEST_K = 200.0, 340.0  # no ride and no test bench outside
LEAST_PRESSURE_PA, MOST_PRESSURE_PA = 20e3, 120e3

HIGHER = "The standard atmosphere is used up to 11 km; beyond, give the air pressure."
OUTSIDE_AIR = "Give the temperature of outside air."
AS_SHARE = "Write 55 % as 0.55 or '55 %'."
AT_THE_PLACE = "Give the pressure a barometer reads at the place, not reduced to sea level."

ISO_2533 = "ISO 2533:1975"
HYLAND_WEXLER = "Hyland and Wexler 1983, as ASHRAE Handbook Fundamentals 2017, chapter 1, equations 5 and 6"

_ICE = (-5674.5359, 6.3925247, -9.677843e-3, 6.2215701e-7, 2.0747825e-9, -9.484024e-13, 4.1635019)
_WATER = (-5800.2206, 1.3914993, -4.8640239e-2, 4.1764768e-5, -1.4452093e-8, 0.0, 6.5459673)


@dataclass(frozen=True, kw_only=True)
class Air:
    """The air of one place and day.

    pressure_pa            as a barometer there reads it, not reduced to sea level [Pa]
    temperature_k          [K]
    relative_humidity      0 to 1 [-]
    vapor_pressure_pa     share of the pressure that water vapor has [Pa]
    dry_pressure_pa        the rest [Pa]
    density_kg_m3          [kg/m3]
    assumptions            what was taken without being given
    steps                  formulas with the numbers in
    """

    pressure_pa: float
    temperature_k: float
    relative_humidity: float
    vapor_pressure_pa: float
    dry_pressure_pa: float
    density_kg_m3: float
    assumptions: tuple[str, ...]
    steps: tuple[str, ...]

    @property
    def metering_density_kg_m3(self) -> float:
        """The density a carburetor's mixture follows, rho_dry^2 / rho: moist air draws the fuel, only the dry air burns it.

        Fuel goes with d^2 sqrt(rho) and the air that burns with rho_dry, so fuel per air goes with d^2 / sqrt(rho_dry^2 / rho).
        In dry air it is the density. [kg/m3]

        >>> day = air(temperature_k=308.15, relative_humidity=0.95, pressure_pa=101325.0)
        >>> round(day.density_kg_m3, 4), round(day.metering_density_kg_m3, 4)
        (1.1227, 1.0487)
        """
        return (self.dry_pressure_pa / (DRY_AIR_J_KG_K * self.temperature_k)) ** 2 / self.density_kg_m3


def _altitude(geopotential_altitude_m: Any) -> Any:
    return within("air.altitude", geopotential_altitude_m, LOWEST_M, HIGHEST_M, "m", HIGHER)


def standard_temperature_k(geopotential_altitude_m: Any) -> Any:
    """Temperature of the standard atmosphere:  T = 288.15 K - 0.0065 K/m H.

    Parameters
    ----------
    geopotential_altitude_m : float or array
        H, -1000 to 11 000. [m]

    Returns
    -------
    float or array
        [K]

    Raises
    ------
    InputError
        Altitude outside the range.

    Source: ISO 2533:1975, clause 2.

    Examples
    --------
    >>> standard_temperature_k(1000.0)
    281.65
    """
    return SEA_LEVEL_TEMPERATURE_K - LAPSE_RATE_K_M * _altitude(geopotential_altitude_m)


def standard_pressure_pa(geopotential_altitude_m: Any) -> Any:
    """Pressure of the standard atmosphere:  p = p0 (1 - 0.0065 H / T0)^(g / (0.0065 R)).

    Parameters
    ----------
    geopotential_altitude_m : float or array
        H, -1000 to 11 000. [m]

    Returns
    -------
    float or array
        [Pa]

    Raises
    ------
    InputError
        Altitude outside the range.

    Source: ISO 2533:1975, clause 2.

    Examples
    --------
    >>> float(round(standard_pressure_pa(1000.0), 1))
    89874.6
    """
    ratio = standard_temperature_k(geopotential_altitude_m) / SEA_LEVEL_TEMPERATURE_K
    return SEA_LEVEL_PRESSURE_PA * ratio**_EXPONENT


def geopotential_m(geometric_m: Any) -> Any:
    """Geopotential altitude of a height above sea level, on which gravity weakens:  H = r h / (r + h).

    Parameters
    ----------
    geometric_m : float or array
        h, what a map or a satellite receiver says, -1000 to 11 000. [m]

    Returns
    -------
    float or array
        H. [m]

    Raises
    ------
    InputError
        Height outside the range.

    Source: ISO 2533:1975, clause 2, r = 6 356 766 m.

    Examples
    --------
    >>> round(geopotential_m(3000.0), 2)
    2998.58
    """
    height = _altitude(geometric_m)
    return EARTH_RADIUS_M * height / (EARTH_RADIUS_M + height)


def saturation_pressure_pa(temperature_k: Any) -> Any:
    """Pressure of water vapor above ice (below 273.16 K) or water.

    ln p = c0 / T + c1 + c2 T + c3 T^2 + c4 T^3 + c5 T^4 + c6 ln T, with one set of c for ice and one for water.

    Parameters
    ----------
    temperature_k : float or array
        T, 200 to 340. [K]

    Returns
    -------
    float or array
        [Pa]

    Raises
    ------
    InputError
        Temperature outside the range.

    Source: Hyland and Wexler 1983, as ASHRAE Handbook Fundamentals 2017, chapter 1, equations 5 and 6.

    Examples
    --------
    >>> float(round(saturation_pressure_pa(293.15), 1))
    2338.8
    """
    t = within("air.temperature", temperature_k, COLDEST_K, HOTTEST_K, "K", OUTSIDE_AIR)
    cold = np.less(t, TRIPLE_POINT_K)
    c = [np.where(cold, ice, water) for ice, water in zip(_ICE, _WATER, strict=True)]
    pressure = np.exp(c[0] / t + c[1] + t * (c[2] + t * (c[3] + t * (c[4] + t * c[5]))) + c[6] * np.log(t))
    return pressure if np.ndim(t) else float(pressure)


def vapor_pressure_pa(temperature_k: Any, relative_humidity: Any) -> Any:
    """Share of water vapor in the pressure of the air:  p_v = humidity x p_sat(T).

    Parameters
    ----------
    temperature_k : float or array
        T, 200 to 340. [K]
    relative_humidity : float or array
        0 to 1. [-]

    Returns
    -------
    float or array
        [Pa]

    Raises
    ------
    InputError
        Temperature or humidity outside the range.

    Examples
    --------
    >>> float(round(vapor_pressure_pa(293.15, 0.5), 1))
    1169.4
    """
    humidity = within("air.humidity", relative_humidity, 0.0, 1.0, "(0 to 100 %)", AS_SHARE)
    return humidity * saturation_pressure_pa(temperature_k)


def air_density_kg_m3(pressure_pa: Any, temperature_k: Any, relative_humidity: Any) -> Any:
    """Density of moist air, each gas ideal:  rho = p_d / (287.05 T) + p_v / (461.5 T),  p_d = p - p_v.

    Parameters
    ----------
    pressure_pa : float or array
        p, dry air and vapor together, 20 000 to 120 000. [Pa]
    temperature_k : float or array
        T, 200 to 340. [K]
    relative_humidity : float or array
        0 to 1. [-]

    Returns
    -------
    float or array
        [kg/m3]

    Raises
    ------
    InputError
        A figure outside its range, or more vapor than pressure.

    Examples
    --------
    >>> float(round(air_density_kg_m3(101325.0, 293.15, 0.5), 4))
    1.1989
    """
    pressure = within("air.pressure", pressure_pa, LEAST_PRESSURE_PA, MOST_PRESSURE_PA, "Pa", AT_THE_PLACE)
    vapor = vapor_pressure_pa(temperature_k, relative_humidity)
    if not np.all(np.less(vapor, pressure)):
        fix = "Check temperature, pressure and humidity."
        raise InputError("air.humidity", relative_humidity, "would make more vapor than the pressure holds", fix)
    return ((pressure - vapor) / DRY_AIR_J_KG_K + vapor / VAPOR_J_KG_K) / np.asarray(temperature_k)


def air(
    *,
    altitude_m: float = 0.0,
    temperature_k: float | None = None,
    relative_humidity: float,
    pressure_pa: float | None = None,
) -> Air:
    """The air of one place and day.

    Parameters
    ----------
    altitude_m : float
        Taken as geopotential; used only when no pressure is given. [m]
    temperature_k : float or None
        200 to 340; None takes the standard atmosphere's at the pressure, so at the altitude where that is all there is. [K]
    relative_humidity : float
        0 to 1. [-]
    pressure_pa : float or None
        As a barometer reads it at the place; None takes the standard atmosphere at the altitude. [Pa]

    Returns
    -------
    Air
        Pressures, density, assumptions and steps.

    Raises
    ------
    InputError
        A figure outside its range.

    Examples
    --------
    >>> day = air(altitude_m=250.0, temperature_k=291.15, relative_humidity=0.55)
    >>> round(day.pressure_pa), round(day.density_kg_m3, 4)
    (98358, 1.1717)
    >>> round(air(altitude_m=2000.0, relative_humidity=0.0).temperature_k, 2)
    275.15
    """
    altitude = one("air.altitude", altitude_m, LOWEST_M, HIGHEST_M, "m", HIGHER)
    humidity = one("air.humidity", relative_humidity, 0.0, 1.0, "(0 to 100 %)", AS_SHARE)
    assumptions: list[str] = []
    steps = []
    if pressure_pa is None:
        pressure = float(standard_pressure_pa(altitude))
        as_map = BothWays("3,000 m", "10,000 ft") + " a map height gives 0.02 % more)"
        assumptions.append(
            f"air pressure taken as that of the standard atmosphere ({ISO_2533}) at "
            + either("distance", altitude)
            + ", the altitude read as geopotential (at "
            + as_map
            + "; the weather moves it by a few percent"
        )
        steps.append(f"p = 101325 Pa (1 - 0.0065 x {altitude:g} / 288.15)^5.2559 = {pressure:.0f} Pa [{ISO_2533}]")
    else:
        pressure = one("air.pressure", pressure_pa, LEAST_PRESSURE_PA, MOST_PRESSURE_PA, "Pa", AT_THE_PLACE)
        assumptions.append("air pressure taken as the pressure at the place, not reduced to sea level")
    if temperature_k is None:
        temperature_k = SEA_LEVEL_TEMPERATURE_K * (pressure / SEA_LEVEL_PRESSURE_PA) ** (1 / _EXPONENT)
        steps.append(f"T = 288.15 K ({pressure:.0f} / 101325)^(1/5.2559) = {temperature_k:.2f} K [{ISO_2533}]")
        thin, thick = (
            100
            * float(
                air_density_kg_m3(pressure, temperature_k + way, humidity)
                / air_density_kg_m3(pressure, temperature_k, humidity)
                - 1
            )
            for way in (10.0, -10.0)
        )
        told = "air.temperature assumed " + either("temperature", temperature_k)
        told += f", that of the standard atmosphere ({ISO_2533}) at this pressure; " + BothWays("10 °C", "18 °F")
        told += f" more would change the density by {thin:.1f} %, as much less by +{thick:.1f} %"
        assumptions.append(Assumption("air.temperature", told))
    temperature = one("air.temperature", temperature_k, COLDEST_K, HOTTEST_K, "K", OUTSIDE_AIR)
    density = float(air_density_kg_m3(pressure, temperature, humidity))
    saturated = float(saturation_pressure_pa(temperature))
    vapor = humidity * saturated
    dry = pressure - vapor
    kelvin = f"{temperature:.2f}"
    steps += [
        f"p_sat({kelvin} K) = {saturated:.1f} Pa [{HYLAND_WEXLER}]",
        f"p_v = {humidity:g} x {saturated:.1f} = {vapor:.1f} Pa",
        f"p_d = {pressure:.0f} - {vapor:.1f} = {dry:.0f} Pa",
        f"rho = {dry:.0f} / (287.05 x {kelvin}) + {vapor:.1f} / (461.5 x {kelvin}) = {density:.4f} kg/m3",
    ]
    return Air(
        pressure_pa=pressure,
        temperature_k=temperature,
        relative_humidity=humidity,
        vapor_pressure_pa=vapor,
        dry_pressure_pa=dry,
        density_kg_m3=density,
        assumptions=tuple(assumptions),
        steps=tuple(steps),
    )
