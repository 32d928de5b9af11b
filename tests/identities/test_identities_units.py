"""Every pure function keeps its units: with metre, kilogram and second made larger, its result follows the unit in its name.

The names carry the units (house rule), so the test reads them from the signature; a function whose formula holds a figure
with a unit of its own is named below with that figure.
"""

from __future__ import annotations

import importlib
import inspect

import numpy as np
import pytest

pytestmark = pytest.mark.identities

# unit in a name -> exponents of metre, kilogram, second
UNITS = {
    "m": (1, 0, 0), "m2": (2, 0, 0), "m3": (3, 0, 0), "kg": (0, 1, 0), "s": (0, 0, 1), "m_s": (1, 0, -1), "m_s2": (1, 0, -2),
    "rad_s": (0, 0, -1), "rad": (0, 0, 0), "n": (1, 1, -2), "n_m": (2, 1, -2), "n_s_m": (0, 1, -1), "n_s2_m2": (-1, 1, 0),
    "w": (2, 1, -3), "kg_m2": (2, 1, 0), "kg_m": (1, 1, 0), "kg_m3": (-3, 1, 0), "j_kg": (2, 0, -2), "m3_per_m": (2, 0, 0),
    "pa": (-1, 1, -2),
}  # fmt: skip
SCALE = np.array([2.0, 5.0, 3.0])
MODULES = [
    "ridesim.mechanics.drivetrain",
    "ridesim.mechanics.equations",
    "ridesim.mechanics.fuel",
    "ridesim.mechanics.cruise",
    "ridesim.components.steering",
    "ridesim.components.power_curve",
    "ridesim.components.chain_geometry",
    "ridesim.components.tire_dimensions",
    "ridesim.environment.road_forces",
]
LEFT_OUT = {
    "friction_pressure_pa": "a line in bar and 1000 rev/min",
    "friction_power_w": "uses it",
    "fuel_power_w": "uses it",
    "half_up_mm_m": "rounds to whole millimetres",
    "nominal_rim_diameter_m": "rim codes are inches",
    "section_height_m": "rounds to whole millimetres",
    "overall_diameter_m": "sums what was rounded to millimetres",
    "indicated_limits_un_r39": "4 km/h",
    "combined_place_m": "takes masses and places in tuples",
    "rigid_frame": "gives a record",
    "cruise": "takes rows",
}
# parameters and results whose name tells no unit
SPECIAL = {"ratio": "", "resistance_n": "n"}
ANGLES = {"slope_rad": 0.1, "rake_rad": 0.4}
# values a formula can bear, where 0.5 to 2 would not do
BEAR = {
    "efficiency": 0.9, "friction": 0.7, "center_distance_m": 0.6, "pitch_m": 0.015875, "front_teeth": 14,
    "rear_teeth": 43, "teeth": 14, "links": 104, "wheelbase_m": 1.41, "ahead_m": 0.64, "height_m": 0.75,
    "mass_kg": 250.0, "rolling_coefficient": 0.02, "deflection_m": 0.008, "free_radius_m": 0.33,
    "front_radius_m": 0.34, "rear_radius_m": 0.33, "fork_offset_m": 0.04, "overall_diameter_m": 0.65,
    "depth_lost_m": 0.004, "d_front_radius_m": 0.01, "d_rear_radius_m": -0.005, "ahead_of_rear_axle_m": 0.7,
    "speed_from_m_s": 30.0, "speed_to_m_s": 20.0, "v_from_m_s": 30.0, "v_to_m_s": 20.0, "circumference_m": 2.05,
    "drag_n": 20.0, "elongation": 0.01, "crank_sense": 1, "pitch_kg_m": 190.0, "free_rolling_mass_kg": 255.0,
    "turns": 3, "section_height_m": 0.1, "effective_mass_kg": 250.0, "rider_kg": 79.0, "thrust_n": 900.0,
    "steady_resistance_n": 60.0, "f2_n_s2_m2": 0.4,
}  # fmt: skip


def unit_of(name: str) -> tuple[int, int, int]:
    """The unit a name ends in, the longest that fits; nothing for ratios and counts."""
    if name in SPECIAL:
        name = "x_" + SPECIAL[name] if SPECIAL[name] else "x"
    for unit in sorted(UNITS, key=len, reverse=True):
        if name.endswith("_" + unit):
            return UNITS[unit]
    return (0, 0, 0)


def factor(name: str) -> float:
    return float(np.prod(SCALE ** np.array(unit_of(name))))


def functions():
    """Those of which a parameter or the result has a unit."""
    for module_name in MODULES:
        module = importlib.import_module(module_name)
        for name, function in inspect.getmembers(module, inspect.isfunction):
            own = function.__module__ == module_name and not name.startswith("_") and name not in LEFT_OUT
            if own and any(unit_of(one) != (0, 0, 0) for one in (name, *inspect.signature(function).parameters)):
                yield pytest.param(module, function, id=f"{module_name.removeprefix('ridesim.')}.{name}")


@pytest.mark.parametrize(("module", "function"), list(functions()))
def test_the_result_follows_its_unit(module, function, monkeypatch):
    rng = np.random.default_rng(len(function.__name__))
    names = [
        n
        for n, p in inspect.signature(function).parameters.items()
        if p.default is inspect.Parameter.empty or unit_of(n) != (0, 0, 0)
    ]
    values = {n: BEAR.get(n, ANGLES.get(n, float(rng.uniform(0.5, 2.0)))) for n in names}
    before = function(**values)
    if inspect.signature(function).return_annotation != "float":
        table = function(**{n: np.full((2, 1), v) for n, v in values.items()})
        assert np.shape(table) == (2, 1) and np.all(table == before)
    if hasattr(module, "G"):
        monkeypatch.setattr(module, "G", module.G * SCALE[0] / SCALE[2] ** 2)
    after = function(**{n: v * factor(n) if unit_of(n) != (0, 0, 0) else v for n, v in values.items()})
    assert np.isfinite(before) and before != 0.0
    assert after == pytest.approx(before * factor(function.__name__), rel=1e-9)


def test_the_units_in_names_are_read_right():
    read = [unit_of(name) for name in ("drag_n", "f2_n_s2_m2", "mass_kg", "efficiency")]
    assert read == [UNITS["n"], UNITS["n_s2_m2"], UNITS["kg"], (0, 0, 0)]
