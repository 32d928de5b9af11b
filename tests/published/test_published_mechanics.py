"""Ratios, effective mass, load transfer, lift and grip against worked examples of textbooks."""

from __future__ import annotations

import numpy as np
import pytest
from support.printed import Printed

from ridesim.mechanics.drivetrain import (
    effective_mass_kg,
    engine_speed_rad_s,
    mean_piston_speed_m_s,
    overall_ratio,
    ratio_for,
    road_speed_m_s,
    wheel_force_n,
)
from ridesim.mechanics.lift import (
    front_load_n,
    lift_acceleration_m_s2,
    traction_acceleration_m_s2,
)
from ridesim.parts.chassis import combined_place_m
from ridesim.units import G, in_unit, quantity, rad_s, rpm

pytestmark = pytest.mark.published

G_981 = 9.81 / G  # the textbooks take 9.81 m/s2; every result here is in proportion to g
G_98 = 9.8 / G
BEDFORD = "Bedford & Fowler, Engineering Mechanics: Dynamics, problem 18.9"
HIBBELER = "Hibbeler & Gupta, Engineering Mechanics, ch. 17"
BEER = "Beer & Johnston, Vector Mechanics for Engineers, 8th ed., problem 16.6"
KHURMI = "Khurmi & Gupta, Theory of Machines, ex. 3.15, p. 52"
BEVAN = "T. Bevan, The Theory of Machines, ch. 2"
DAVIS = 'J. R. Davis, Motorcycle Tips, "Reading Gear Ratios", msgroup.org tip 94'
EXERCISE = (
    "physics exercise on the horizontal acceleration that makes a motorcycle's front wheel rise, printed solution"
)


def lift(wheelbase: float, ahead: float, height: float) -> float:
    return float(lift_acceleration_m_s2(1.0, ahead, height, 0.0, 0.0, 0.0, height)) if wheelbase else 0.0


def hibbeler_17_6() -> float:
    """Least friction for the front wheel of bike and rider to leave the road: a_lift / g, the rear carrying all the weight."""
    masses = (125.0, 75.0)
    ahead = combined_place_m(masses, (0.8, 0.4))
    height = combined_place_m(masses, (0.6, 0.9))
    return float(lift_acceleration_m_s2(200.0, ahead, height, 0.0, 0.0, 0.0, 200.0 * height)) / G


def slipping(mass: float, friction: float, ahead: float, wheelbase: float, height: float) -> float:
    return float(
        traction_acceleration_m_s2(friction, mass, ahead, wheelbase, height, 0.0, 0.0, 0.0, mass * height, mass, 0.0)
    )


def khurmi(acceleration: bool) -> float:
    """1500 kg on four 0.3 m wheels up a slope of sin 0.25 with 300 N of resistance, 200 N m through 22:1 at 0.85."""
    force = wheel_force_n(200.0, 22.0, 0.85, 0.3) - 300.0 - 1500.0 * 9.81 * 0.25
    mass = effective_mass_kg(1500.0, 4.0, 0.3, 4.0, 0.3, 1.0, 22.0, 0.85)
    return float(force / mass) if acceleration else float(mass)


def bevan_11(ratio: float, efficiency: float) -> float:
    """Its tractive force 29.5 eta G lbf on an effective 1648 + 4.54 eta G^2 lb, as our effective mass gives it."""
    radius = 1.0
    mass = effective_mass_kg(1648.0, 0.0, 1.0, 0.0, radius, 4.54, ratio, efficiency)
    return float(32.2 * 29.5 * efficiency * ratio / mass)


CASES = [
    Printed(
        id="bedford-18.9-front",
        quantity="front wheel load",
        given="160 kg, a 2.5 m/s2, b 0.66, h 0.66, wheelbase 1.5 m, g 9.81",
        printed="514.6",
        unit="N",
        source=BEDFORD,
        compute=lambda: (
            float(front_load_n(2.5, 160.0, 0.66, 0.66, 1.5, 0.0, 0.0, 0.0, 160.0 * 0.66))
            + 160.0 * (9.81 - G) * 0.66 / 1.5
        ),
    ),
    Printed(
        id="bedford-18.9-rear",
        quantity="rear wheel load",
        given="the same",
        printed="1055",
        unit="N",
        source=BEDFORD,
        compute=lambda: (
            160.0 * 9.81
            - (
                float(front_load_n(2.5, 160.0, 0.66, 0.66, 1.5, 0.0, 0.0, 0.0, 160.0 * 0.66))
                + 160.0 * (9.81 - G) * 0.66 / 1.5
            )
        ),
    ),
    Printed(
        id="bedford-18.9-a",
        quantity="acceleration",
        given="400 N on 160 kg, wheels neglected",
        printed="2.5",
        unit="m/s2",
        source=BEDFORD,
        compute=lambda: 400.0 / float(effective_mass_kg(160.0, 0.0, 0.3, 0.0, 0.3, 0.0, 1.0, 1.0)),
    ),
    Printed(
        id="hibbeler-17.6",
        quantity="least friction to lift the front wheel",
        given="bike 125 kg at 0.8/0.6 m, rider 75 kg at 0.4/0.9 m",
        printed="0.912",
        unit="-",
        source=f"{HIBBELER}, ex. 17.6, p. 734",
        compute=hibbeler_17_6,
    ),
    Printed(
        id="lift-1.46",
        quantity="acceleration at which the front wheel rises",
        given="wheelbase 1.46 m, centre of mass midway, 0.785 m high, g 9.81",
        printed="9.12267515924",
        unit="m/s2",
        source=f"{EXERCISE}, first set of numbers",
        compute=lambda: lift(1.46, 0.73, 0.785) * G_981,
    ),
    Printed(
        id="lift-1.56",
        quantity="acceleration at which the front wheel rises",
        given="wheelbase 1.56 m, centre of mass midway, 0.775 m high, g 9.8",
        printed="9.86",
        unit="m/s2",
        source=f"{EXERCISE}, second set of numbers (qammunity.org/11889238)",
        compute=lambda: lift(1.56, 0.78, 0.775) * G_98,
    ),
    Printed(
        id="hibbeler-17.5-a",
        quantity="acceleration with slipping rear wheels",
        given="2000 kg car, mu 0.25, b 0.75, wheelbase 2.0, h 0.3 m, g 9.81",
        printed="1.59",
        unit="m/s2",
        source=f"{HIBBELER}, ex. 17.5, p. 733",
        compute=lambda: slipping(2000.0, 0.25, 0.75, 2.0, 0.3) * G_981,
    ),
    Printed(
        id="hibbeler-17.5-front",
        quantity="front axle load",
        given="the same",
        printed="6.88",
        unit="kN",
        source=f"{HIBBELER}, ex. 17.5, p. 733",
        compute=lambda: (
            float(front_load_n(slipping(2000.0, 0.25, 0.75, 2.0, 0.3), 2000.0, 0.75, 0.3, 2.0, 0.0, 0.0, 0.0, 600.0))
            * G_981
            / 1e3
        ),
    ),
    Printed(
        id="hibbeler-17.5-rear",
        quantity="rear axle load",
        given="the same",
        printed="12.74",
        unit="kN",
        source=f"{HIBBELER}, ex. 17.5, p. 733",
        compute=lambda: (
            (
                2000.0 * G
                - float(
                    front_load_n(slipping(2000.0, 0.25, 0.75, 2.0, 0.3), 2000.0, 0.75, 0.3, 2.0, 0.0, 0.0, 0.0, 600.0)
                )
            )
            * G_981
            / 1e3
        ),
    ),
    Printed(
        id="beer-16.6b",
        quantity="acceleration, rear-wheel drive, wheels slipping",
        given="mu 0.80, wheelbase 2.5 m, b 1.5 m, h 0.5 m, g 9.81",
        printed="3.74",
        unit="m/s2",
        source=BEER,
        compute=lambda: slipping(1.0, 0.80, 1.5, 2.5, 0.5) * G_981,
    ),
    Printed(
        id="khurmi-3.15-a",
        quantity="acceleration with rotating masses",
        given="1500 kg, wheels 8 kg m2, engine 1 kg m2, 22:1, eta 0.85, sin 0.25",
        printed="1.38",
        unit="m/s2",
        source=KHURMI,
        compute=lambda: khurmi(True),
    ),
    Printed(
        id="khurmi-3.15-w",
        quantity="engine speed",
        given="6.67 m/s, 0.3 m, 22:1",
        printed="489",
        unit="rad/s",
        source=KHURMI,
        compute=lambda: float(engine_speed_rad_s(6.67, 22.0, 0.3)),
    ),
    Printed(
        id="khurmi-3.15-p",
        quantity="engine power",
        given="200 N m at that speed",
        printed="97.8",
        unit="kW",
        source=KHURMI,
        compute=lambda: 200.0 * float(engine_speed_rad_s(6.67, 22.0, 0.3)) / 1e3,
    ),
    *(
        Printed(
            id=f"bevan-2.11-gear{n}",
            quantity="acceleration with the engine's inertia",
            given=f"29.5 eta G lbf on 1648 + 4.54 eta G^2 lb, G {ratio}, eta {eta}",
            printed=printed,
            unit="ft/s2",
            source=f"{BEVAN}, ex. 11, p. 49",
            compute=lambda r=ratio, e=eta: bevan_11(r, e),
        )
        for n, (ratio, eta, printed) in enumerate(
            [(22.5, 0.82, "4.96"), (12.5, 0.82, "4.37"), (7.3, 0.82, "3.08"), (5.4, 0.90, "2.61")], start=1
        )
    ),
    Printed(
        id="bevan-2.9",
        quantity="effective mass of a vehicle with its wheels",
        given="10 ton, wheels and axles 2 x 1000 lb, k 15 in, r 21 in",
        printed="10.46",
        unit="ton",
        source=f"{BEVAN}, ex. 9, p. 46",
        compute=lambda: float(effective_mass_kg(10.0, 0.0, 1.0, 2000.0 / 2240.0 * 15.0**2, 21.0, 0.0, 1.0, 1.0)),
    ),
    Printed(
        id="davis-input",
        quantity="speed at the gearbox input",
        given="2000 rev/min, primary 1.708 x secondary 0.973",
        printed="1203",
        unit="rev/min",
        source=DAVIS,
        compute=lambda: 2000.0 / float(overall_ratio(1.708, 0.973, 1, 1)),
    ),
    Printed(
        id="davis-output",
        quantity="speed at the gearbox output",
        given="third gear 1.250",
        printed="963",
        unit="rev/min",
        source=DAVIS,
        compute=lambda: 2000.0 / float(overall_ratio(1.708 * 0.973, 1.250, 1, 1)),
    ),
    Printed(
        id="davis-wheel",
        quantity="speed of the rear wheel",
        given="final drive 2.833",
        printed="340",
        unit="rev/min",
        source=f"{DAVIS} ('about 340')",
        compute=lambda: 2000.0 / float(overall_ratio(1.708 * 0.973, 1.250, 1.0, 2.833)),
    ),
    Printed(
        id="twin-ratio",
        quantity="overall ratio in third",
        given="primary 1.741, third 1.545, final 2.388",
        printed="6.423",
        unit="-",
        source="worked example of a road twin with a 130/80-17 tire, 4000 rev/min in third",
        compute=lambda: float(overall_ratio(1.741, 1.545, 1.0, 2.388)),
    ),
    Printed(
        id="twin-wheel",
        quantity="wheel speed in third at 4000 rev/min",
        given="the ratio as printed, 6.423",
        printed="622.76",
        unit="rev/min",
        source="the same worked example",
        compute=lambda: float(rpm(road_speed_m_s(rad_s(4000.0), 6.423, 1.0))),
    ),
    Printed(
        id="car-110-ratio",
        quantity="overall ratio for 110 km/h at 3000 rev/min",
        given="wheel diameter 0.7 m",
        printed="3.59",
        unit="-",
        source="worked car exercise: 110 km/h at 3000 rev/min on 0.7 m wheels, 180 N + 1000 N, eta 0.9",
        compute=lambda: float(ratio_for(rad_s(3000.0), 110 / 3.6, 0.35)),
        tolerance=0.01,
        reason="the source cuts 3.5986 to 3.59 instead of rounding it",
    ),
    Printed(
        id="rule-336",
        quantity="engine speed at 65 mile/h",
        given="ratio 3.08, 30 in tire: rev/min = mph x ratio x 336 / diameter",
        printed="2242",
        unit="rev/min",
        source="trade rule of 336, docslib.org/doc/13816045",
        compute=lambda: float(rpm(engine_speed_rad_s(quantity("65 mph", "speed", "mph", "x"), 3.08, 15 * 0.0254))),
        tolerance=1.5,
        reason="the rule's constant 336 is rounded: the exact one is 336.135, 0.04 % more",
    ),
    Printed(
        id="piston-4000",
        quantity="piston speed of the trade's limit in SI",
        given="4000 ft/min",
        printed="20.3",
        unit="m/s",
        source="trade handbook figure for motorcycle engines, 1973, as quoted",
        compute=lambda: float(quantity("4000 ft/min", "speed", "m/s", "x")),
    ),
    Printed(
        id="piston-0.166",
        quantity="Cm (ft/min) = 0.166 L (in) N, for 3 in and 6000 rev/min",
        given="rule as printed: 0.166 x 3 x 6000",
        printed="2988",
        unit="ft/min",
        source="the same handbook rule",
        compute=lambda: float(in_unit(mean_piston_speed_m_s(3 * 0.0254, rad_s(6000.0)), "ft/min", "speed")),
        tolerance=12.1,
        reason="the rule's 0.166 stands for 1/6: 0.4 % less",
    ),
]


@pytest.mark.parametrize("case", CASES, ids=str)
def test_matches_the_printed_figure(case, beside):
    beside(case)


def test_no_id_is_used_twice():
    assert len({case.id for case in CASES}) == len(CASES)
    assert np.isfinite([case.compute() for case in CASES]).all()
