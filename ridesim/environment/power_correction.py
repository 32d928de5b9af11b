"""Power correction: what the air of a day does to an engine, by the standards its power sheet may be corrected to."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Any

import numpy as np

from ridesim.environment.air import Air
from ridesim.errors import InputError, did_you_mean
from ridesim.statements import BothWays

PRINTED_ZERO_C_K = 273.0  # the standards print T = t + 273 and 298 K for 25 C: kept, or 25 C would not come out as 1
ZERO_C_K = 273.15
SMALLEST, LARGEST = 0.93, 1.07
AS_MEASURED = "as measured"
OWN_AIR_BY = "SAE J1349"  # what carries a raw sheet from its own air to the day's


def _printed_k(temperature_k: Any) -> Any:
    return np.subtract(temperature_k, ZERO_C_K - PRINTED_ZERO_C_K)


def sae_j1349_factor(dry_pressure_pa: Any, temperature_k: Any) -> Any:
    """Factor that brings measured power to 25 C and 99 kPa dry:  cf = 1.18 (99 / p_d) sqrt((t + 273) / 298) - 0.18.

    Parameters
    ----------
    dry_pressure_pa : float or array
        p_d, pressure less that of the vapor. [Pa]
    temperature_k : float or array
        Inlet air. [K]

    Returns
    -------
    float or array
        Meant to hold from 0.93 to 1.07. [-]

    Source: SAE J1349 of June 1990, read second-hand. The form of 2004 has not been read and is not used.

    Examples
    --------
    >>> float(round(sae_j1349_factor(99000.0, 298.15), 6))
    1.0
    """
    return 1.18 * np.divide(99e3, dry_pressure_pa) * np.sqrt(_printed_k(temperature_k) / 298.0) - 0.18


def iso_1585_factor(dry_pressure_pa: Any, temperature_k: Any) -> Any:
    """Factor that brings measured power to 25 C and 99 kPa dry:  cf = (99 / p_d)^1.2 ((t + 273) / 298)^0.6.

    Parameters
    ----------
    dry_pressure_pa : float or array
        p_d, pressure less that of the vapor. [Pa]
    temperature_k : float or array
        Inlet air. [K]

    Returns
    -------
    float or array
        Meant to hold from 0.93 to 1.07. [-]

    Source: ISO 1585 and UN Regulation 85, spark ignition without supercharging; the exponents from memory. Both leave motorcycles
    out; for those ISO 4106 and Regulation (EU) No 134/2014, Annex X, Appendix 2.2, stand in their place, with the same reference air.

    Examples
    --------
    >>> float(round(iso_1585_factor(101325.0, 293.15), 4))
    0.9627
    """
    return np.divide(99e3, dry_pressure_pa) ** 1.2 * (_printed_k(temperature_k) / 298.0) ** 0.6


def din_70020_factor(pressure_pa: Any, temperature_k: Any) -> Any:
    """Factor that brings measured power to 20 C and 101.3 kPa:  cf = (101.3 / p) sqrt((t + 273) / 293).

    Parameters
    ----------
    pressure_pa : float or array
        p, vapor included. [Pa]
    temperature_k : float or array
        Inlet air. [K]

    Returns
    -------
    float or array
        [-]

    Source: DIN 70020, from memory.

    Examples
    --------
    >>> float(round(din_70020_factor(101300.0, 293.15), 6))
    1.0
    """
    return np.divide(101.3e3, pressure_pa) * np.sqrt(_printed_k(temperature_k) / 293.0)


@dataclass(frozen=True, kw_only=True)
class Standard:
    """One way to correct power: its formula as printed, its reference air, and how its text came to us."""

    name: str
    formula: str
    reference: str
    standing: str
    dry: bool  # it counts the pressure of the dry air only
    scope: str = ""  # what it is not made for, and what stands in its place there
    equation: Callable[[Any, Any], Any]

    def pressure_pa(self, air: Air) -> float:
        """The pressure this standard counts."""
        return air.dry_pressure_pa if self.dry else air.pressure_pa

    def factor(self, air: Air) -> float:
        """Standard power over measured power in this air."""
        return float(self.equation(self.pressure_pa(air), air.temperature_k))


STANDARDS: Mapping[str, Standard] = {
    standard.name: standard
    for standard in (
        Standard(
            name="SAE J1349",
            formula="cf = 1.18 (99 / p_d) sqrt((t + 273) / 298) - 0.18",
            reference=BothWays("25 °C, 99 kPa", "77 °F, 29.23 inHg") + " of dry air",
            standing="June 1990 form, read second-hand",
            dry=True,
            equation=sae_j1349_factor,
        ),
        Standard(
            name="ISO 1585",
            formula="cf = (99 / p_d)^1.2 ((t + 273) / 298)^0.6",
            reference=BothWays("25 °C, 99 kPa", "77 °F, 29.23 inHg") + " of dry air",
            standing="exponents from memory",
            dry=True,
            scope="ISO 1585 leaves motorcycles out (from memory); in its place stand ISO 4106 and, in the European Union, Annex X of "
            "Regulation (EU) No 134/2014, with the same reference air and, from memory, the same exponents: the sheet is taken "
            "to be corrected so",
            equation=iso_1585_factor,
        ),
        Standard(
            name="DIN 70020",
            formula="cf = (101.3 / p) sqrt((t + 273) / 293)",
            reference=BothWays("20 °C, 101.3 kPa", "68 °F, 29.91 inHg") + " with its vapor",
            standing="from memory",
            dry=False,
            equation=din_70020_factor,
        ),
    )
}


def _standard(name: object) -> Standard:
    if isinstance(name, str) and name in STANDARDS:
        return STANDARDS[name]
    known = [*STANDARDS, AS_MEASURED]
    raise InputError("tune.standard", name, "is not a standard known here", did_you_mean(name, known))


def correction_factor(standard: str, air: Air) -> float:
    """Standard power over measured power in this air.

    Parameters
    ----------
    standard : str
        A key of STANDARDS.
    air : Air
        The air the engine breathed.

    Returns
    -------
    float
        [-]

    Raises
    ------
    InputError
        Unknown standard.

    Examples
    --------
    >>> from ridesim.environment.air import air
    >>> hill = air(altitude_m=1500.0, temperature_k=303.15, relative_humidity=0.4)
    >>> round(correction_factor("SAE J1349", hill), 4)
    1.2417
    """
    return _standard(standard).factor(air)


def within_range(factor: Any) -> Any:
    """Whether a correction factor is in the range in which the standards mean it to hold.

    Parameters
    ----------
    factor : float or array
        [-]

    Returns
    -------
    bool or array
        True from 0.93 to 1.07.

    Examples
    --------
    >>> bool(within_range(1.0)), bool(within_range(1.2417))
    (True, False)
    """
    return (np.asarray(factor) >= SMALLEST) & (np.asarray(factor) <= LARGEST)


def range_warning(standard: str, factor: float, what: str = "this air") -> str:
    """A sentence for a factor out of range, or nothing.

    >>> range_warning("SAE J1349", 1.05), range_warning("SAE J1349", 1.10)[:55]
    ('', 'the SAE J1349 correction factor for this air is 1.100, ')
    """
    if within_range(factor):
        return ""
    return (
        f"the {standard} correction factor for {what} is {factor:.3f}, outside the {SMALLEST:g} to {LARGEST:g} "
        "in which it is meant to hold: take the power as a guide"
    )


@dataclass(frozen=True, kw_only=True)
class RideDay:
    """What the engine gives on the day, as a share of what its sheet says.

    factor        torque and power of the day over those of the sheet [-]
    warning       a sentence when a correction factor is out of its range, else empty
    assumptions   what was taken without being given
    steps         formulas with the numbers in
    """

    factor: float
    warning: str
    assumptions: tuple[str, ...]
    steps: tuple[str, ...]


def ride_day_factor(standard: str, air_of_day: Air, measured_air: Air | None = None) -> RideDay:
    """Torque of the day over torque of the sheet:  1 / cf(day), or cf(measured) / cf(day) for a raw sheet.

    Parameters
    ----------
    standard : str
        A key of STANDARDS, or "as measured".
    air_of_day : Air
        The air of the ride.
    measured_air : Air or None
        The air of a sheet left as measured; None for a corrected sheet.

    Returns
    -------
    RideDay
        Factor, warning, assumptions and steps.

    Raises
    ------
    InputError
        Unknown standard, "as measured" without its air, or a corrected sheet with one.

    Examples
    --------
    >>> from ridesim.environment.air import air
    >>> hill = air(altitude_m=1500.0, temperature_k=303.15, relative_humidity=0.4)
    >>> round(ride_day_factor("SAE J1349", hill).factor, 4)
    0.8054
    >>> ride_day_factor("as measured", hill, hill).factor
    1.0
    """
    raw = standard == AS_MEASURED
    if raw and measured_air is None:
        fix = "Add temperature and pressure (and humidity) of that day to this tune."
        raise InputError("tune.standard", standard, "needs the air it was measured in", fix)
    if not raw and measured_air is not None:
        fix = "A corrected sheet is already in standard air; for raw figures write 'as measured'."
        raise InputError("tune.standard", standard, "does not go with an air of its own", fix)
    by = _standard(OWN_AIR_BY if raw else standard)
    day = by.factor(air_of_day)
    warnings = [range_warning(by.name, day, "the day")]
    steps = [_step(by, air_of_day, day, "cf(day)")]
    assumptions = [
        f"{by.name}: {by.formula}, reference " + by.reference + f" ({by.standing})",
        *filter(None, [by.scope]),
    ]
    if measured_air is None:
        factor = 1.0 / day
        steps.append(f"torque of the day = standard torque / cf(day) = standard torque x {factor:.4f}")
    else:
        own = by.factor(measured_air)
        factor = own / day
        warnings.append(range_warning(by.name, own, "the air of the sheet"))
        steps += [
            _step(by, measured_air, own, "cf(sheet)"),
            f"torque of the day = sheet torque x cf(sheet) / cf(day) = sheet torque x {factor:.4f}",
        ]
        assumptions.append(f"a sheet left as measured is carried to the air of the day by {by.name}")
    return RideDay(
        factor=factor, warning="; ".join(filter(None, warnings)), assumptions=tuple(assumptions), steps=tuple(steps)
    )


def _step(standard: Standard, air: Air, factor: float, name: str) -> str:
    pressure = f"{'p_d' if standard.dry else 'p'} = {standard.pressure_pa(air) / 1e3:.2f} kPa"
    kelvin = f"t + 273 = {_printed_k(air.temperature_k):.2f} K"
    return f"{name}: {standard.formula}, {pressure}, {kelvin}, cf = {factor:.4f} [{standard.name}, {standard.standing}]"
