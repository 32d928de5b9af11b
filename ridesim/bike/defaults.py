"""Figures taken from a record: the default where the rider gave none, told as an assumption; tolerances gathered on the way."""

from __future__ import annotations

from ridesim import reference
from ridesim.buildfile.schema import BuildRecord
from ridesim.statements import Assumption, BothWays
from ridesim.uncertainty.tolerances import Tolerance, single
from ridesim.units import KINDS, Measured, quantity, written_us

# raw figures of every bike, by the name they have here and the kind of quantity, in the order they are read
OF_EVERY_BIKE = {
    "masses.bike": ("bike_kg", "mass"),
    "masses.rider": ("rider_kg", "mass"),
    "masses.luggage": ("luggage_kg", "mass"),
    "chassis.bike_cg_ahead_of_rear_axle": ("bike_ahead_m", "length"),
    "chassis.bike_cg_height": ("bike_height_m", "length"),
    "chassis.rider_cg_ahead_of_rear_axle": ("rider_ahead_m", "length"),
    "chassis.rider_cg_height": ("rider_height_m", "length"),
    "chassis.drag_height": ("drag_height_m", "length"),
    "inertia.front_wheel": ("front_inertia_kg_m2", "inertia"),
    "inertia.rear_wheel": ("rear_inertia_kg_m2", "inertia"),
    "inertia.crank": ("crank_inertia_kg_m2", "inertia"),
    "gearbox.shift_time": ("shift_time_s", "time"),
}
# and those that are read where they are needed; a tolerance of the file goes with either
_FIGURES = OF_EVERY_BIKE | {
    "chassis.wheelbase": ("wheelbase_m", "length"),
    "chassis.luggage_cg_ahead_of_rear_axle": ("luggage_ahead_m", "length"),
    "chassis.luggage_cg_height": ("luggage_height_m", "length"),
    "gearbox.efficiency": ("efficiency", "ratio"),
    "road_load.drag_area": ("drag_area_m2", "area"),
    "road_load.rolling_resistance": ("rolling_resistance", "ratio"),
    "surface.friction": ("friction", "ratio"),
}


class Taken:
    """Reads figures of a record, takes the default where there is none, and remembers what was assumed.

    >>> from ridesim.buildfile.first import first_build
    >>> known = {"bike": 140, "rider": "80 +- 2 kg", "tire": "110/90-17", "front": 14, "rear": 44, "torque": 26, "torque_at": 5000}
    >>> taken = Taken(first_build(known).record)
    >>> taken.figure("masses.rider"), [one.plus_minus for one in taken.tolerances]
    (80.0, [2.0])
    >>> taken.figure("gearbox.efficiency"), taken.assumptions[0].path
    (0.93, 'gearbox.efficiency')
    """

    def __init__(self, record: BuildRecord) -> None:
        self.record = record
        self.assumptions: list[Assumption] = []
        self.tolerances: list[Tolerance] = []
        self.wheelbase = 1.0

    def value(self, path: str, kind: str) -> Measured:
        """A value of the record in SI with its tolerance, else its default."""
        section, key = path.split(".")
        value: Measured | None = getattr(getattr(self.record, section), key)
        if value is None:
            default = reference.defaults()[path]
            written = str(default["value"])
            if default.get("unit") == "wheelbase":
                value = Measured(float(written) * self.wheelbase, 0.0, f"{written} of the wheelbase")
            else:
                value = quantity(default["value"], kind, KINDS[kind].si, path)
            reading = {"length": "length", "area": "area"}.get(kind if default.get("unit") is None else "")
            said = value.written if reading is None else BothWays(value.written, written_us(value, reading))
            self.assume(path, f"{path} assumed " + said + f" ({default['why']})")
        return value

    def figure(self, path: str) -> float:
        """A raw figure in SI; its tolerance is gathered."""
        name, kind = _FIGURES[path]
        value = self.value(path, kind)
        if value.plus_minus > 0:
            self.tolerances.append(single(path, name, float(value), value.plus_minus))
        return float(value)

    def assume(self, path: str, text: str) -> None:
        """Remember what was assumed of a key of the build file."""
        self.assumptions.append(Assumption("tires.front.size" if path == "tires.front" else path, text))

    def word(self, path: str, value: str | None) -> str:
        """A word of the record, else its default."""
        if value is not None:
            return value
        default = reference.defaults()[path]
        self.assume(path, f"{path} assumed {default['value']} ({default['why']})")
        return str(default["value"])
