"""Figures taken from a record: the default where the rider gave none, told as an assumption; tolerances gathered on the way."""

from __future__ import annotations

from ridesim import reference
from ridesim.buildfile.schema import BuildRecord
from ridesim.statements import Assumption
from ridesim.uncertainty.tolerances import Tolerance, single
from ridesim.units import KINDS, Measured, quantity

# raw figures of a bike that carry a tolerance of their own in the file, by the name they have here
_TOLERANCES = {
    "masses.bike": "bike_kg",
    "masses.rider": "rider_kg",
    "masses.luggage": "luggage_kg",
    "chassis.wheelbase": "wheelbase_m",
    "chassis.bike_cg_ahead_of_rear_axle": "bike_ahead_m",
    "chassis.bike_cg_height": "bike_height_m",
    "chassis.rider_cg_ahead_of_rear_axle": "rider_ahead_m",
    "chassis.rider_cg_height": "rider_height_m",
    "chassis.luggage_cg_ahead_of_rear_axle": "luggage_ahead_m",
    "chassis.luggage_cg_height": "luggage_height_m",
    "chassis.drag_height": "drag_height_m",
    "inertia.front_wheel": "front_inertia_kg_m2",
    "inertia.rear_wheel": "rear_inertia_kg_m2",
    "inertia.crank": "crank_inertia_kg_m2",
    "gearbox.efficiency": "efficiency",
    "gearbox.shift_time": "shift_time_s",
    "road_load.drag_area": "drag_area_m2",
    "road_load.rolling_resistance": "rolling_resistance",
    "surface.friction": "friction",
}


class Taken:
    """Reads figures of a record, takes the default where there is none, and remembers what was assumed."""

    def __init__(self, record: BuildRecord) -> None:
        self.record = record
        self.assumptions: list[Assumption] = []
        self.tolerances: list[Tolerance] = []
        self.wheelbase = 1.0

    def figure(self, path: str, kind: str) -> float:
        section, key = path.split(".")
        value = getattr(getattr(self.record, section), key)
        if value is None:
            default = reference.defaults()[path]
            if default.get("unit") == "wheelbase":
                value = Measured(
                    float(str(default["value"])) * self.wheelbase, 0.0, f"{default['value']} of the wheelbase"
                )
            else:
                value = quantity(default["value"], kind, KINDS[kind].si, path)
            self.assume(path, f"{path} assumed {value.written} ({default['why']})")
        if value.plus_minus > 0 and path in _TOLERANCES:
            self.tolerances.append(single(path, _TOLERANCES[path], float(value), value.plus_minus))
        return float(value)

    def assume(self, path: str, text: str) -> None:
        self.assumptions.append(Assumption("tires.front.size" if path == "tires.front" else path, text))

    def word(self, path: str, value: str | None) -> str:
        if value is not None:
            return value
        default = reference.defaults()[path]
        self.assume(path, f"{path} assumed {default['value']} ({default['why']})")
        return str(default["value"])
