"""What a build lends to the fits: its mass, its air, its resistance, each with its tolerance."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from ridesim.bike import Bike
from ridesim.buildfile.io import Build
from ridesim.errors import InputError
from ridesim.units import Measured, either

NORMAL_90 = 1.6448536269514722  # half the width of a 5 to 95 % band over the standard deviation, normal law
RIDDEN_M_S = (3.0, 45.0)
AIR_KEYS = ("altitude", "temperature", "humidity", "pressure")


def with_air(build: Build, day: Mapping[str, str | None]) -> Build:
    """The build in the air of the test; what is left open stays as in the file, but another altitude has its own temperature.

    Parameters
    ----------
    build : Build
    day : mapping
        altitude, temperature, humidity and pressure, as a rider writes them: {"altitude": "250 m", "temperature": "12 degC"};
        None or absent where it is left open.

    Raises
    ------
    InputError
        A figure that cannot be read, or that no air has.
    """
    changes: dict[str, str | None] = {f"air.{key}": day[key] for key in AIR_KEYS if day.get(key)}
    if "air.altitude" in changes:  # barometer and thermometer of the file stood elsewhere
        for key in ("pressure", "temperature"):
            if f"air.{key}" not in changes and getattr(build.record.air, key) is not None:
                changes[f"air.{key}"] = None
    return build.changed(changes) if changes else build


def all_up_kg(bike: Bike) -> Measured:
    """Bike, rider and luggage, with the tolerances of the three in quadrature. [kg]

    Examples
    --------
    A bike of 172 kg within 2, a rider of 79 kg, and 6 kg of tools, both without a tolerance:

    >>> import ridesim as rs
    >>> mass = all_up_kg(rs.demo("coast-single"))
    >>> float(mass), round(mass.plus_minus, 2)
    (257.0, 2.0)
    """
    parts = (bike.record.masses.bike, bike.record.masses.rider, bike.record.masses.luggage)
    return Measured(float(sum(parts)), float(np.hypot.reduce([part.plus_minus for part in parts])))


def coasting_kg(bike: Bike) -> float:
    """The mass that coasts,  m_c = m + Jf/rf^2 + Jr/r^2:  the wheels turn with the road, the crank does not. [kg]

    Examples
    --------
    The wheels of an invented single act like 10 kg more on board:

    >>> import ridesim as rs
    >>> round(coasting_kg(rs.demo("coast-single")), 1)
    266.5
    """
    s = bike.setups
    wheels = s.front_inertia_kg_m2 / s.front_radius_m**2 + s.rear_inertia_kg_m2 / s.rear_radius_m**2
    return float((s.mass_kg + wheels)[0])


def air_density(bike: Bike) -> Measured:
    """The density of the build's air, with what its tolerances leave open. [kg/m3]"""
    raw = "air_density_kg_m3"
    half = [np.ptp(one.moves[raw]) / 2 for one in bike.tolerances if raw in one.moves]
    return Measured(bike.air.density_kg_m3, float(np.hypot.reduce(half)) if half else 0.0)


@dataclass(frozen=True, kw_only=True)
class HeldBack:
    """The road load of a build, F0 + F2 v^2 at level without wind.

    Attributes
    ----------
    f0_n, f2_n_s2_m2 : float
        [N], [N s2/m2]
    covariance : array (2, 2)
        Of the two, from the tolerances of the build. [N, N s2/m2]
    assumptions : tuple of str
    """

    f0_n: float
    f2_n_s2_m2: float
    covariance: NDArray[np.float64]
    assumptions: tuple[str, ...]


def resistance_of(bike: Bike) -> HeldBack:
    """The road load of the build with its tolerances, so that they go into what follows.

    A road load with a middle term, F1 v, is laid on F0 + F2 v^2 by least squares over RIDDEN_M_S, and how far the two part
    stands among the assumptions.
    """
    s = bike.setups
    f0, f1, f2 = (float(a[0]) for a in (s.f0_n, s.f1_n_s_m, s.f2_n_s2_m2))
    told: tuple[str, ...] = ()
    if f1:
        f0, f2, off = without_middle(f0, f1, f2)
        told = (
            f"the middle term of the road load is laid on {f0:.1f} N + {f2:.4f} v^2, within "
            + either("force", off)
            + " of it from "
            + either("speed", *RIDDEN_M_S),
        )
    return HeldBack(
        f0_n=f0,
        f2_n_s2_m2=f2,
        covariance=np.diag(np.square(_errors(bike, f0, f2))),
        assumptions=(f"resistance as in the build: {bike.road_load.where_from}", *told),
    )


def without_middle(f0_n: float, f1_n_s_m: float, f2_n_s2_m2: float) -> tuple[float, float, float]:
    """F0 and F2 of the curve without a middle term that lies nearest to F0 + F1 v + F2 v^2, and how far it parts.

    Nearest by least squares over 3 to 45 m/s.

    Parameters
    ----------
    f0_n, f1_n_s_m, f2_n_s2_m2 : float
        [N], [N s/m], [N s2/m2]

    Returns
    -------
    tuple of float
        F0, F2, and the largest difference anywhere in that range. [N], [N s2/m2], [N]

    Examples
    --------
    A curve without a middle term stays as it is; one of 0.8 N s/m goes into both of the others, within 6 N, of 805 N at the end:

    >>> [round(x, 3) for x in without_middle(50.0, 0.0, 0.4)]
    [50.0, 0.4, 0.0]
    >>> [round(x, 3) for x in without_middle(80.0, 0.8, 0.34)]
    [87.699, 0.356, 5.442]
    """
    v = np.linspace(*RIDDEN_M_S, 100)
    force = f0_n + f1_n_s_m * v + f2_n_s2_m2 * v**2
    design = np.column_stack([np.ones_like(v), v**2])
    (f0, f2), *_ = np.linalg.lstsq(design, force, rcond=None)
    off = float(np.max(np.abs(design @ (f0, f2) - force)))
    return float(f0), float(f2), off


def _errors(bike: Bike, f0: float, f2: float) -> tuple[float, float]:
    """Standard errors of F0 and F2 from the tolerances of the file."""
    written = bike.record.road_load.coast_down
    if written is not None:
        return written[0].plus_minus / NORMAL_90, written[2].plus_minus / NORMAL_90
    tolerances = {raw: one.plus_minus for one in bike.tolerances for raw in one.moves}
    shares = (
        tolerances.get(name, 0.0) / max(float(bike.raw.get(name, 1.0)), 1e-9)
        for name in ("rolling_resistance", "drag_area_m2")
    )
    rolling, area = shares
    return f0 * rolling / NORMAL_90, f2 * area / NORMAL_90


def gear_of(bike: Bike, gear: int) -> int:
    """The gear, if the build has it, counted from 1.

    Raises
    ------
    InputError
        A gear it has not, or no whole number.
    """
    count = len(bike.gears)
    if isinstance(gear, bool) or not isinstance(gear, int) or not 1 <= gear <= count:
        raise InputError("gear", gear, f"is not one of the {count} gears of the build", "Count them from first.")
    return gear
