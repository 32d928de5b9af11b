"""Figures of chain, gears, masses, lift, road, tires and steering, and of units and sums.

Textbooks take 9.81 m/s2: what is in proportion to g is brought to it.
"""

from __future__ import annotations

import csv
from functools import cache
from pathlib import Path

import numpy as np
from support.ledger.figures import figure

from ridesim.components import chain, chain_geometry, power_curve, speedometer, steering, tire_dimensions, tire_marking
from ridesim.components.steering import combined_place_m
from ridesim.environment import road, road_forces
from ridesim.fueling import idle_curve
from ridesim.logs.reading.positions import EARTH_RADIUS_M, great_circle_m
from ridesim.mechanics import drivetrain, equations
from ridesim.units import TWO_PI, G, in_unit, quantity, rad_s

# --- chain: textbooks use the handbook form of the length, and a mean speed z p n, as on a circle of z p around ---
figure("sprocket pitch diameter", chain_geometry.pitch_radius_m, "length")(
    lambda teeth, pitch: 2.0 * chain_geometry.pitch_radius_m(pitch, int(teeth))
)
figure("pitch of a sprocket", chain_geometry.pitch_radius_m, "length")(
    lambda teeth, diameter: diameter / 2.0 / chain_geometry.pitch_radius_m(1.0, int(teeth))
)


@figure("chain links", chain_geometry.links_handbook)
def _links(front, rear, pitch, center):
    return chain_geometry.links_handbook(center, pitch, int(front), int(rear))


figure("chain length", chain_geometry.links_handbook, "length")(
    lambda front, rear, pitch, center: pitch * _links(front, rear, pitch, center)
)


@figure("center distance", chain_geometry.center_distance_handbook_m, "length")
def _(front, rear, pitch, links=0.0, center=0.0, sag=0.0):
    links = links or _links(front, rear, pitch, center)
    return (1.0 - sag) * chain_geometry.center_distance_handbook_m(links, pitch, int(front), int(rear))


figure("chain speed", drivetrain.road_speed_m_s, "speed")(
    lambda teeth, pitch, n: drivetrain.road_speed_m_s(n, 1.0, teeth * pitch / TWO_PI)
)


@figure("chain pull", chain.chain_pull_n, "force")
def _pull(teeth, pitch, n, power):
    return chain.chain_pull_n(power / n, 1.0, 1.0, teeth * pitch / TWO_PI, 1.0)


figure("factor of safety", chain.share_of_strength)(
    lambda strength, **drive: 1.0 / float(chain.share_of_strength(_pull(**drive), strength))
)

# --- gearing and masses ---
figure("engine speed", drivetrain.engine_speed_rad_s, "engine speed")(
    lambda v, ratio, radius: drivetrain.engine_speed_rad_s(v, ratio, radius)
)
figure("power", power_curve.power_w, "power")(lambda torque, n: power_curve.power_w(n, torque))
figure("revolutions a minute as an angular speed", rad_s)(lambda rpm: rad_s(rpm))


@figure("speed after gears", drivetrain.overall_ratio, "engine speed")
def _(n, first, second, third):
    """Pairs are written driven/driving; the first is a primary drive, the second a gear, the third the chain."""
    pairs = [[float(teeth) for teeth in pair.split("/")] for pair in (first, second, third)]
    (a, b), (c, d), (e, f) = pairs
    return n / drivetrain.overall_ratio(a / b, c / d, f, e)


figure("effective mass", drivetrain.effective_mass_kg)(
    lambda mass, inertia, radius: drivetrain.effective_mass_kg(mass, 0.0, 1.0, inertia, radius, 0.0, 1.0, 1.0)
)
figure("acceleration of a force", drivetrain.effective_mass_kg, "acceleration")(
    lambda force, mass: force / drivetrain.effective_mass_kg(mass, 0.0, 0.3, 0.0, 0.3, 0.0, 1.0, 1.0)
)


@figure("acceleration uphill in gear", drivetrain.wheel_force_n, "acceleration")
def _(torque, ratio, eta, radius, mass, wheels, engine, resistance, sine):
    """Wheels and engine by their inertia; the wheels' stands half in front and half behind."""
    force = drivetrain.wheel_force_n(torque, ratio, eta, radius) - resistance - 9.81 * mass * sine
    return force / drivetrain.effective_mass_kg(mass, wheels / 2, radius, wheels / 2, radius, engine, ratio, eta)


@figure("acceleration in gear, in pounds and feet", drivetrain.effective_mass_kg)
def _(pull, mass, engine, ratio, eta):
    return 32.2 * pull * eta * ratio / drivetrain.effective_mass_kg(mass, 0.0, 1.0, 0.0, 1.0, engine, ratio, eta)


figure("force of an acceleration", drivetrain.effective_mass_kg, "force")(
    lambda mass, fast, time: fast / time * drivetrain.effective_mass_kg(mass, 0.0, 0.3, 0.0, 0.3, 0.0, 1.0, 1.0)
)
figure("speed of a roll", drivetrain.road_speed_m_s, "speed")(
    lambda n, diameter: drivetrain.road_speed_m_s(n, 1.0, diameter / 2)
)
figure("angular acceleration of a wheel", drivetrain.engine_speed_rad_s)(
    lambda v, time, radius: drivetrain.engine_speed_rad_s(v, 1.0, radius) / time
)


# --- lift and grip ---
def _front(acceleration, mass, ahead, height, wheelbase):
    """With 9.81 m/s2: our front load at an acceleration smaller by G/9.81 is in proportion."""
    share = 9.81 / G
    there = equations.front_load_n(acceleration / share, mass, ahead, height, wheelbase, 0.0, 0.0, 0.0, mass * height)
    return share * float(there)


figure("front wheel load", equations.front_load_n, "force")(lambda a, **bike: _front(a, **bike))
figure("rear wheel load", equations.front_load_n, "force")(lambda a, **bike: 9.81 * bike["mass"] - _front(a, **bike))


@figure("acceleration with slipping rear wheels", equations.traction_acceleration_m_s2, "acceleration")
def _slipping(friction, mass, ahead, height, wheelbase):
    bare = (friction, mass, ahead, wheelbase, height, 0.0, 0.0, 0.0, mass * height, mass, 0.0)
    return 9.81 / G * equations.traction_acceleration_m_s2(*bare)


figure("front wheel load, rear wheels slipping", equations.front_load_n, "force")(
    lambda friction, **car: _front(_slipping(friction, **car), **car)
)
figure("rear wheel load, rear wheels slipping", equations.front_load_n, "force")(
    lambda friction, **car: 9.81 * car["mass"] - _front(_slipping(friction, **car), **car)
)


@figure("least friction to lift the front", equations.lift_acceleration_m_s2)
def _(bike, bike_ahead, bike_height, rider, rider_ahead, rider_height):
    masses = (bike, rider)
    places = (bike_ahead, rider_ahead), (bike_height, rider_height)
    ahead, height = (combined_place_m(masses, place) for place in places)
    mass = bike + rider
    return equations.lift_acceleration_m_s2(mass, ahead, height, 0.0, 0.0, 0.0, mass * height) / G


# --- road ---
@figure("force on the road", road.from_40cfr86_529, "force")
def _(mass, v):
    load = road.from_40cfr86_529(mass)
    return road_forces.resistance_n(v, load.f0_n, load.f1_n_s_m, load.f2_n_s2_m2, mass, 0.0, 0.0)


@figure("coast-down time", road_forces.coast_down_time_s, "time")
def _(mass, fast, slow):
    load = road.from_40cfr86_529(mass)
    return road_forces.coast_down_time_s(fast, slow, load.f0_n, load.f2_n_s2_m2, mass)


figure("force of a coast-down", road_forces.coast_down_time_s, "force")(
    lambda mass, fast, slow, time: road_forces.coast_down_time_s(fast, slow, 1.0, 0.0, mass) / time
)
figure("speed at which drag holds the weight", road.from_drag_area, "speed")(
    lambda mass, area, density: float((9.80 * mass / road.from_drag_area(area, 0.0, mass, density).f2_n_s2_m2) ** 0.5)
)

# --- tires, steering, speedometer ---
figure("speed of a symbol", tire_marking.parse_marking, "speed")(
    lambda symbol: tire_marking.parse_marking(f"120/80-18 62{symbol}").speed_limit_m_s
)
figure("load of an index", tire_marking.parse_marking, "mass")(
    lambda index: tire_marking.parse_marking(f"120/80-18 {int(index)}S").load_capacity_kg
)
figure("section height", tire_marking.parse_marking, "length")(
    lambda size: tire_marking.parse_marking(size).section_height_m
)
figure("overall diameter", tire_dimensions.overall_diameter_m, "length")(
    lambda width, aspect, rim: tire_dimensions.overall_diameter_m(rim, width * aspect)
)
figure("rolling radius by roll-out", tire_dimensions.roll_out_circumference_m, "length")(
    lambda way, turns: tire_dimensions.roll_out_circumference_m(way, turns) / TWO_PI
)


@figure("trail", steering.trail_m, "length")
def _(rake, offset, radius=0.0, way=0.0, turns=1.0):
    return steering.trail_m(radius or tire_dimensions.roll_out_circumference_m(way, turns) / TWO_PI, rake, offset)


figure("highest reading allowed", speedometer.indicated_limits_un_r39, "speed")(
    lambda v: speedometer.indicated_limits_un_r39(v)[1]
)


@figure("reading over true speed", speedometer.indicated_over_true)
def _(calibrated, now):
    drives = [
        speedometer.SpeedometerDrive(front_circumference_m=1.0, rear_circumference_m=size, final_ratio=1.0)
        for size in (calibrated, now)
    ]
    return speedometer.indicated_over_true("rear wheel", calibrated=drives[0], now=drives[1])


# --- units, constants, sums ---
figure("a unit in SI", quantity)(lambda unit, kind: quantity(1.0, kind, unit, "unit"))
figure("a quantity in another unit", in_unit)(
    lambda of, kind, unit, number=1.0: in_unit(quantity(number, kind, of, "unit"), unit, kind)
)
figure("standard gravity", "ridesim.units.G")(lambda of: G)


@cache
def _pontius():
    with (Path(__file__).parents[1] / "open_data" / "nist_pontius.csv").open(encoding="utf-8", newline="") as lines:
        x, y = zip(*((float(row["load"]), float(row["deflection"])) for row in csv.DictReader(lines)), strict=True)
    return idle_curve.fit_idle_curve(x, y, 2)


@figure("parabola by least squares", idle_curve.fit_idle_curve)
def _(what):
    """Intercept, slope there, half the change of slope, and the scatter of the readings."""
    curve = _pontius()
    bend = (float(curve.slope(1e6)) - float(curve.slope(0.0))) / 2e6
    return {"B0": float(curve.at(0.0)), "B1": float(curve.slope(0.0)), "B2": bend, "scatter": curve.scatter}[what]


@figure("angle of a great circle", great_circle_m)
def _(**places):
    """Places as degrees and minutes, north and west."""
    degrees = [
        [float(part.split("d")[0]) + float(part.split("d")[1]) / 60 for part in place.split()]
        for place in places.values()
    ]
    north, west = np.array(degrees).T
    return float(great_circle_m(north, -west)[0] / EARTH_RADIUS_M)
