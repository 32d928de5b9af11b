"""The road: where the coefficients of its resistance come from, and what surfaces hold."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache
from types import MappingProxyType
from typing import Any

import numpy as np

from ridesim.errors import InputError, did_you_mean, one, within
from ridesim.reference import cite, read_table
from ridesim.units import G, either, in_both

REGULATION = "40 CFR 86.529-98"
_KMH_PER_M_S = 3.6  # the table's C is per (km/h)^2; this is part of reading it, not a conversion for display


@dataclass(frozen=True, kw_only=True)
class RoadLoad:
    """Resistance at level and without wind:  R = f0 + f1 v + f2 v^2.

    f0_n           rolling part, on a slope times its cosine [N]
    f1_n_s_m       part that grows with speed [N s/m]
    f2_n_s2_m2     air drag over the square of the air speed [N s2/m2]
    where_from     in words
    assumptions    what was taken without being given
    steps          formulas with the numbers in

    The three figures are arrays when what they were made from is.
    """

    f0_n: Any
    f1_n_s_m: Any
    f2_n_s2_m2: Any
    where_from: str
    assumptions: tuple[str, ...]
    steps: tuple[str, ...]


def from_drag_area(drag_area_m2: Any, rolling_resistance: Any, mass_kg: Any, air_density_kg_m3: Any) -> RoadLoad:
    """Road load from drag area and rolling coefficient:  f0 = Crr m g,  f2 = 0.5 rho CdA.

    Parameters
    ----------
    drag_area_m2 : float or array
        Drag coefficient times frontal area, above 0, at most 5. [m2]
    rolling_resistance : float or array
        Crr, 0 to 0.5. [-]
    mass_kg : float or array
        m, with rider and luggage, 1 to 5000. [kg]
    air_density_kg_m3 : float or array
        rho, 0.2 to 2. [kg/m3]

    Returns
    -------
    RoadLoad
        Arrays broadcast.

    Raises
    ------
    InputError
        A figure outside its range.

    Examples
    --------
    >>> load = from_drag_area(0.60, 0.015, 250.0, 1.2)
    >>> float(round(load.f0_n, 4)), float(round(load.f2_n_s2_m2, 2))
    (36.7749, 0.36)
    """
    area = within("road_load.drag_area", drag_area_m2, 1e-3, 5.0, "m2", "A rider upright is near 0.6 m2.")
    rolling = within("road_load.rolling_resistance", rolling_resistance, 0.0, 0.5, "", "Asphalt is near 0.015.")
    mass = within("masses", mass_kg, 1.0, 5000.0, "kg")
    density = within("air.density", air_density_kg_m3, 0.2, 2.0, "kg/m3")
    f0 = rolling * (mass * G)
    f2 = 0.5 * density * area
    steps: tuple[str, ...] = ()
    if not np.ndim(f0) and not np.ndim(f2):
        steps = (
            f"f0 = Crr m g = {rolling:g} x {mass:g} x {G:g} = {f0:.2f} N",
            f"f2 = 0.5 rho CdA = 0.5 x {density:.4f} x {area:g} = {f2:.4f} N/(m/s)^2",
        )
    return RoadLoad(
        f0_n=f0,
        f1_n_s_m=0.0,
        f2_n_s2_m2=f2,
        where_from="drag area and rolling coefficient",
        steps=steps,
        assumptions=("rolling resistance taken as the same at every speed",),
    )


def from_coast_down(f0_n: float, f1_n_s_m: float, f2_n_s2_m2: float) -> RoadLoad:
    """Road load from the rider's own coast-down:  R = f0 + f1 v + f2 v^2.

    Parameters
    ----------
    f0_n : float
        0 to 5000. [N]
    f1_n_s_m : float
        -100 to 200; may be negative as long as R never is. [N s/m]
    f2_n_s2_m2 : float
        0 to 10. [N s2/m2]

    Returns
    -------
    RoadLoad

    Raises
    ------
    InputError
        A figure outside its range, all zero, or a curve that would push the bike at some speed.

    Examples
    --------
    >>> from_coast_down(95.0, 0.0, 0.39).f2_n_s2_m2
    0.39
    """
    where = "road_load.coast_down"
    f0 = one(f"{where}[1]", f0_n, 0.0, 5000.0, "N")
    f1 = one(f"{where}[2]", f1_n_s_m, -100.0, 200.0, "N/(m/s)")
    f2 = one(f"{where}[3]", f2_n_s2_m2, 0.0, 10.0, "N/(m/s)^2")
    got = f"{f0:g} N, {f1:g} N/(m/s), {f2:g} N/(m/s)^2"
    if not (f0 or f1 or f2):
        raise InputError(where, got, "is no resistance at all", "Write what your coast-down gave.")
    if f1 < 0 and f1 * f1 > 4 * f0 * f2:
        raise InputError(where, got, "would push the bike at some speed", "Fit the coast-down with the middle term 0.")
    return RoadLoad(
        f0_n=f0,
        f1_n_s_m=f1,
        f2_n_s2_m2=f2,
        where_from="coast-down of the rider's own",
        steps=(f"R = {got}",),
        assumptions=("coast-down coefficients hold for the load and the air of that day; they are not rescaled",),
    )


def from_40cfr86_529(mass_kg: float) -> RoadLoad:
    """Road load by loaded mass from the motorcycle table of 40 CFR 86.529-98:  F = A + C V^2, V in km/h.

    Parameters
    ----------
    mass_kg : float
        Bike, rider and luggage; taken to the nearest whole kilogram, 95 to 873. [kg]

    Returns
    -------
    RoadLoad
        f0 = A, f2 = C x 3.6^2.

    Raises
    ------
    InputError
        Mass outside the table.

    Source: 40 CFR 86.529-98, Figure F98-9. A is a dynamometer setting, 0 for the lightest band: A over the weight is
    not a rolling coefficient, and the table is lean on rolling resistance at low speed.

    Examples
    --------
    >>> load = from_40cfr86_529(257.0)
    >>> load.f0_n, round(load.f2_n_s2_m2, 6)
    (13.93, 0.347328)
    """
    bands = read_table("road_load_40cfr86_529")
    least, most = int(bands[0]["mass_least_kg"]), int(bands[-1]["mass_most_kg"])
    whole = int(np.floor(one("masses", mass_kg, 1.0, 5000.0, "kg") + 0.5))
    if not least <= whole <= most:
        problem = f"covers {in_both('mass', least, most)} loaded, not {in_both('mass', whole)}"
        fix = "Give drag_area with rolling_resistance, or your own coast_down."
        raise InputError("road_load.standard", REGULATION, problem, fix)
    row = next(band for band in bands if whole <= int(band["mass_most_kg"]))
    band = float(row["mass_least_kg"]), float(row["mass_most_kg"])
    a, c = float(row["a_n"]), float(row["c_n_per_kmh2"])
    f2 = c * _KMH_PER_M_S**2
    law = f"F = {a:g} N + {c:g} N/(km/h)^2 V^2 [{cite(row)}]"
    return RoadLoad(
        f0_n=a,
        f1_n_s_m=0.0,
        f2_n_s2_m2=f2,
        where_from=cite(row),
        assumptions=(
            f"road load of {REGULATION} for " + either("mass", *band) + ": its constant part is a dynamometer setting, "
            "not rolling resistance, so it is lean at low speed and on steep slow climbs",
            f"the drag of {REGULATION} is that of its own bikes and air; it is not rescaled to the air of the day",
        ),
        steps=(law, f"f0 = {a:g} N, f2 = {c:g} x 3.6^2 = {f2:.4f} N/(m/s)^2"),
    )


@dataclass(frozen=True)
class Surface:
    """What a surface holds, with its range and where that comes from."""

    name: str
    friction: float
    friction_low: float
    friction_high: float
    where_from: str


def _figure(row: Mapping[str, str]) -> tuple[float, float, float, str]:
    low, high = float(row["low"]), float(row["high"])
    spread = f"{low:g} to {high:g}; " if low < high else ""
    return float(row["value"]), low, high, f"{spread}{row['note']}; {cite(row)}"


@cache
def surfaces() -> Mapping[str, Surface]:
    """The surfaces known here, by name; the figures stand in data/reference/friction_rolling.csv.

    >>> list(surfaces())
    ['dry asphalt', 'wet asphalt', 'gravel', 'loose gravel', 'dirt', 'wet grass']
    """
    found = {
        row["surface"]: Surface(row["surface"], *_figure(row))
        for row in read_table("friction_rolling")
        if row["default"] == "yes" and row["quantity"] == "friction"
    }
    return MappingProxyType(found)


def surface(name: str) -> Surface:
    """One surface by name.

    Parameters
    ----------
    name : str
        A key of surfaces().

    Returns
    -------
    Surface

    Raises
    ------
    InputError
        Unknown name, with the nearest known ones.

    Examples
    --------
    >>> surface("dry asphalt").friction
    0.9
    """
    known = surfaces()
    if not isinstance(name, str) or name not in known:
        fix = f"{did_you_mean(name, known)} Or give surface.friction with it."
        raise InputError("surface.name", name, "is not a surface known here", fix)
    return known[name]
