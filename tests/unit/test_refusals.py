"""What parts, air, road and bench refuse: figures past the bounds that a function has of its own, and what cannot be.

What is no number at all is for the one check of figures to refuse, and tried on it alone.
"""

from __future__ import annotations

import math
import re

import numpy as np
import pytest

from ridesim.components import chain_geometry, speedometer, tire_dimensions
from ridesim.components.chain import chain_pull_n, chain_size, even_wear_turns, share_of_strength, speed_ripple
from ridesim.components.chain_fit import fit_chain, fit_chains
from ridesim.components.steering import rigid_frame, trail_m
from ridesim.components.tire import load_allowed, rolling_tire, speed_allowed
from ridesim.components.tire_marking import parse_marking
from ridesim.environment.air import air, air_density_kg_m3
from ridesim.environment.climb import climb_along, stated_climb
from ridesim.environment.power_correction import STANDARDS, correction_factor, ride_day_factor
from ridesim.environment.road import from_40cfr86_529, from_coast_down, from_drag_area, surface
from ridesim.environment.road_forces import coast_down_time_s
from ridesim.errors import InputError, one, several, whole, within, word
from ridesim.fueling.circuits import circuit_answer, circuit_shares
from ridesim.fueling.intake import HoleSaw, plan_intake
from ridesim.fueling.jet_answers import jet_change
from ridesim.fueling.jets import flow_ratio, jet_bore_m, jet_for_air, richness_ratio, size_ratio_for_air
from ridesim.fueling.mixture import best_mixture_setting
from ridesim.fueling.mixture_power import mixture_worth, stoichiometric_air_fuel_ratio
from ridesim.fueling.needle import Needle, NeedleSeat, needle_change, needle_curve, ring_area_m2, series_area_m2
from ridesim.fueling.openings import Opening, circle, equivalent_diameter_m, opening_area_m2
from ridesim.units import rad_s

NAN, INF = math.nan, math.inf
HOSTILE = (NAN, INF, -INF, -1.0, 1e300, 10**400, None, True, "12", "<b>", b"1", 1j, [], [1.0, NAN], [[1.0], [2.0, 3.0]], {}, object())  # fmt: skip
CHECKS = {
    "within": lambda x: within("x", x, 0.0, 5.0),
    "one": lambda x: one("x", x, 0.0, 5.0),
    "one-list": lambda x: one("x", [x], 0.0, 5.0),
    "whole": lambda x: whole("x", x, 0, 5),
    "several": lambda x: several("x", x, 0.0, 5.0, longest=3, fix=""),
    "several-one": lambda x: several("x", [1.0, x], 0.0, 5.0, longest=3, fix=""),
    "word": lambda x: word("x", x, ("bore", "flow")),
}


@pytest.mark.parametrize("check", CHECKS.values(), ids=CHECKS)
def test_what_is_no_figure_is_refused_in_one_clear_sentence(check):
    for value in HOSTILE:
        with pytest.raises(InputError) as refused:
            check(value)
        text = str(refused.value)
        assert refused.value.where.startswith("x") and refused.value.problem, value
        assert "\n" not in text and len(text) < 400, value


def test_checks_take_numpy_figures_and_name_the_one_that_is_wrong_among_many():
    assert one("x", np.float64(2.5), 0, 5) == 2.5 and whole("n", np.int64(3), 1, 5) == 3
    assert several("x", np.array([1.0, 2.0]), 0, 5, "", longest=3, fix="") == (1.0, 2.0)
    with pytest.raises(InputError) as refused:
        within("x", [1.0] * 500 + [0.0], 1, 5)
    assert refused.value.got == 0.0
    with pytest.raises(InputError, match="whole number"):
        whole("n", 2.5, 1, 5)


def fit(**changes):
    """A 520 chain of 104 links on 14/42, 9 mm forward and 28 mm back to go."""
    own = {"front_teeth": 14, "rear_teeth": 42, "pitch_m": 0.015875, "center_distance_m": 0.5932,
           "travel_rearward_m": (-0.009, 0.028), "fitted_links": 104}  # fmt: skip
    return fit_chain(**own | changes)


CHAIN = [
    (lambda: fit(front_teeth=5), "final_drive.front"),
    (lambda: fit(front_teeth=41), "final_drive.front"),
    (lambda: fit(front_teeth=15.5), "final_drive.front"),
    (lambda: fit(own_teeth=(0, 42)), "final_drive.front"),
    (lambda: fit(rear_teeth=11), "final_drive.rear"),
    (lambda: fit(rear_teeth=101), "final_drive.rear"),
    (lambda: fit(pitch_m=0.07), "chain pitch"),
    (lambda: fit(center_distance_m=0.09), "final_drive.centre_distance"),
    (lambda: fit(center_distance_m=2.1), "final_drive.centre_distance"),
    (lambda: fit(front_teeth=40, rear_teeth=100, center_distance_m=0.3), "final_drive.centre_distance.*side by side"),
    (lambda: fit(travel_rearward_m=(0.03, -0.008)), "final_drive.axle_travel.*forward to rearward"),
    (lambda: fit(travel_rearward_m=(-8, 30)), "final_drive.axle_travel"),
    (lambda: fit(travel_rearward_m=0.03), "final_drive.axle_travel.*two lengths"),
    (lambda: fit(fitted_links=107), "final_drive.links.*even"),
    (lambda: fit(fitted_links=28), "final_drive.links"),
    (lambda: fit(fitted_links=252), "final_drive.links"),
    (lambda: fit(wear=0.11), "final_drive.chain_wear"),
    (lambda: fit_chains(front_teeth=[14, 15, 16], rear_teeth=[44, 45], pitch_m=0.0127, center_distance_m=0.6,
                        travel_rearward_m=(0.0, 0.03)), "does not pair"),
    (lambda: chain_geometry.pitch_radius_m(0.0, 15), "chain pitch"),
    (lambda: chain_geometry.pitch_radius_m(0.0127, 151), "teeth"),
    (lambda: chain_geometry.links_exact([0.6, 0.1], 0.0127, 14, 42), "side by side"),
    (lambda: chain_geometry.links_exact(INF, 0.0127, 14, 42), "must be finite"),
    (lambda: chain_geometry.links_exact("far", 0.0127, 14, 42), "must be a number"),
    (lambda: chain_geometry.center_distance_m(40, 0.0127, 14, 42), "links"),
    (lambda: chain_geometry.center_distance_m(104, 0.0127, 14, 42, outside="zero"), "'raise' or 'nan'"),
    (lambda: chain_geometry.center_distance_handbook_m(20, 0.0127, 14, 42), "links"),
    (lambda: chain_geometry.worn_pitch_m(0.0127, 3.0), "final_drive.chain_wear"),
    (lambda: speed_ripple(2), "teeth"),
    (lambda: even_wear_turns(15, 29), "final_drive.links"),
    (lambda: chain_pull_n(NAN, 2.0, 2.0, 0.04, 0.9), "engine torque"),
    (lambda: chain_pull_n(40.0, 0.0, 2.0, 0.04, 0.9), "gearbox.primary"),
    (lambda: chain_pull_n(40.0, 2.0, 0.0, 0.04, 0.9), "gearbox.gears"),
    (lambda: chain_pull_n(40.0, 2.0, 2.0, 0.0, 0.9), "front sprocket radius"),
    (lambda: chain_pull_n(40.0, 2.0, 2.0, 0.04, 1.2), "gearbox.efficiency"),
    (lambda: share_of_strength(INF, 1.0), "chain pull"),
    (lambda: share_of_strength(1000.0, 0.0), "tensile strength"),
    (lambda: chain_size("52O"), "final_drive.chain.*Did you mean '532' or '525'.*Known here"),
    (lambda: chain_size(None), "final_drive.chain.*Known here: 415"),
]  # fmt: skip

REAR = parse_marking("120/80-18 M/C 62S")
STOCK = speedometer.SpeedometerDrive(front_circumference_m=2.15, rear_circumference_m=2.03, final_ratio=44 / 15)


def drive(**part):
    return speedometer.SpeedometerDrive(
        **{"front_circumference_m": 2.0, "rear_circumference_m": 2.0, "final_ratio": 2.8, **part}
    )


def frame(**part):
    own = {"front_radius_m": 0.3475, "rear_radius_m": 0.320, "new_front_radius_m": 0.3475, "new_rear_radius_m": 0.320,
           "wheelbase_m": 1.450, "rake_rad": 0.47, "fork_offset_m": 0.045}  # fmt: skip
    return rigid_frame(**own | part)


WHEELS = [
    (lambda: rolling_tire(REAR, deflection_m=-0.001), "tires.rear.deflection"),
    (lambda: rolling_tire(REAR, deflection_m=0.096), "tires.rear.deflection"),
    (lambda: rolling_tire(REAR, worn_m=-0.001, where="choose.rear_tires"), "choose.rear_tires.worn"),
    (lambda: rolling_tire(REAR, worn_m=0.096), "tires.rear.worn"),
    (lambda: rolling_tire(REAR, worn_m=0.060, deflection_m=0.050), "tires.rear.deflection"),
    (lambda: rolling_tire(REAR, rollout_m=-2.0), "tires.rear.rollout"),
    (lambda: rolling_tire(REAR, rollout_m=4.15), "tires.rear.rollout"),
    (lambda: rolling_tire(REAR, rollout_m=NAN), "tires.rear.rollout"),
    (lambda: rolling_tire(REAR, position="middle"), "position"),
    (lambda: tire_dimensions.chord_rolling_circumference_m(0.3, [0.01, -0.01]), "between nothing and"),
    (lambda: tire_dimensions.worn_diameter_m(0.6, 0.3), "between nothing and"),
    (lambda: tire_dimensions.roll_out_circumference_m(0.0, 5), "distance_m"),
    (lambda: tire_dimensions.roll_out_circumference_m(10.0, 0), "turns"),
    (lambda: tire_dimensions.gearing_change(0.0, 2.0), "u_old_m"),
    (lambda: tire_dimensions.gearing_change(2.0, NAN), "u_new_m"),
    (lambda: tire_dimensions.equivalent_rear_teeth(0, 2.0, 2.0), "rear_teeth"),
    (lambda: load_allowed(REAR, 0.0), "load_kg"),
    (lambda: speed_allowed(REAR, INF), "top_speed_m_s"),
    (lambda: drive(front_circumference_m=0.0), "speedometer.front_circumference_m"),
    (lambda: drive(rear_circumference_m=-1.0), "speedometer.rear_circumference_m"),
    (lambda: drive(final_ratio=[2.0, INF]), "speedometer.final_ratio"),
    (
        lambda: speedometer.odometer_over_true("rear whel", calibrated=STOCK, now=STOCK),
        "speedometer.sensor.*'rear wheel'",
    ),
    (lambda: speedometer.indicated_over_true("rear wheel", calibrated=STOCK, now=STOCK, reads_high=-1.0), "reads_high"),
    (lambda: speedometer.indicated_limits_un_r39(-0.1), "is not a speed"),
    (lambda: speedometer.outside_un_r39_m_s(20.0, -0.1), "is not a speed"),
    (lambda: trail_m(0.0, 0.4, 0.04), "front_radius_m"),
    (lambda: trail_m(0.3, math.pi / 2, 0.04), "rake_rad"),
    (lambda: frame(rake_rad=-0.1), "rake_rad"),
    (lambda: frame(wheelbase_m=0.0), "wheelbase_m"),
    (lambda: frame(new_rear_radius_m=-0.3), "new_rear_radius_m"),
    (lambda: frame(new_front_radius_m=-0.3), "new_front_radius_m"),
    (lambda: frame(new_front_radius_m=3.0), "new_front_radius_m"),
]

DAY = {"altitude_m": 250.0, "temperature_k": 291.15, "relative_humidity": 0.55}
TODAY = air(**DAY)


def day(**part):
    return air(**DAY | part)


AIR_AND_ROAD = [
    (lambda: day(temperature_k=500.0), "air.temperature"),
    (lambda: day(temperature_k=18.0), "air.temperature"),
    (lambda: day(relative_humidity=1.01), "air.humidity"),
    (lambda: day(relative_humidity=-0.01), "air.humidity"),
    (lambda: day(pressure_pa=1013.0), "air.pressure"),
    (lambda: day(altitude_m=11001.0), "air.altitude"),
    (lambda: day(altitude_m=-1001.0), "air.altitude"),
    (lambda: day(altitude_m=20000.0, pressure_pa=95e3), "air.altitude"),
    (lambda: day(temperature_k=339.0, relative_humidity=1.0, pressure_pa=21e3), "air.humidity"),
    (lambda: air_density_kg_m3(np.array([101325.0, 25e3]), 340.0, 1.0), "more vapor"),
    (lambda: correction_factor("SAE J1439", TODAY), "tune.standard.*Did you mean 'SAE J1349'"),
    (lambda: ride_day_factor(None, TODAY), f"tune.standard.*{'|'.join(STANDARDS)}"),
    (lambda: ride_day_factor("as measured", TODAY), "tune.standard.*needs the air"),
    (lambda: ride_day_factor("ISO 1585", TODAY, TODAY), "tune.standard.*does not go with"),
    (lambda: from_drag_area(0.0, 0.018, 250.0, 1.2), "road_load.drag_area"),
    (lambda: from_drag_area(0.64, -0.1, 250.0, 1.2), "road_load.rolling_resistance"),
    (lambda: from_drag_area(0.64, 0.017, 0.0, 1.2), "masses"),
    (lambda: from_drag_area(0.64, 0.017, 250.0, 0.1), "air.density"),
    (lambda: from_coast_down(-1, 0, 0.4), r"road_load.coast_down\[1\]"),
    (lambda: from_coast_down(95, INF, 0.4), r"road_load.coast_down\[2\]"),
    (lambda: from_coast_down(95, 0, -0.1), r"road_load.coast_down\[3\]"),
    (lambda: from_coast_down(0, 0, 0), "no resistance at all"),
    (lambda: from_coast_down(95, -13, 0.4), "would push the bike"),
    (lambda: from_40cfr86_529(94.4), "95 to 873"),
    (lambda: from_40cfr86_529(873.6), "95 to 873"),
    (lambda: from_40cfr86_529(0.0), "masses"),
    (lambda: coast_down_time_s(10.0, 20.0, 30.0, 0.4, 250.0), "speed_to.*Swap"),
    (lambda: coast_down_time_s(10.0, 0.0, 0.0, 0.4, 250.0), "speed_to.*never reached"),
    (lambda: coast_down_time_s(NAN, 0.0, 30.0, 0.4, 250.0), "speed_from"),
    (lambda: coast_down_time_s(10.0, 0.0, -30.0, 0.4, 250.0), "f0"),
    (lambda: coast_down_time_s(10.0, 0.0, 30.0, 0.4, 0.0), "effective_mass"),
    (lambda: surface("dry asphlt"), "surface.name.*'dry asphalt'"),
    (lambda: surface(None), "surface.name.*gravel"),
    (lambda: stated_climb(NAN, 100.0), "climb.from"),
    (lambda: stated_climb(0.0, 12000.0), "climb.to"),
    (lambda: climb_along([0.0, 100.0], [1.0, 2.0]), "route"),
    (lambda: climb_along([5000.0, 5100.0], [1.0, 2.0]), "route"),
    (lambda: climb_along([0.0, 1000.0], [NAN, NAN]), "holds no heights"),
    (lambda: climb_along([0.0, 1000.0], [0.0, 1e9]), "route.height"),
]

NEEDLE = Needle(straight_diameter_m=2.5e-3, taper_start_m=0.030, length_m=0.070, end_diameter_m=1.5e-3)
SEAT = NeedleSeat(needle_jet_bore_m=2.6e-3, main_jet_bore_m=1.25e-3, seat_to_jet_m=0.026, full_lift_m=0.036)
TURNS = [0.5, 1.0, 1.5, 2.0, 2.5, 3.0]
QUARTERS = [1.0, 1.25, 1.5, 1.75, 2.0, 2.25]
SPEEDS = [rad_s(n) for n in (1040, 1110, 1150, 1160, 1130, 1070)]
THICK_SAW = HoleSaw(diameter_m=0.03, most=1)
EIGHT_SAWS = [HoleSaw(diameter_m=0.02 + k / 1e3, most=50) for k in range(8)]


def jet(size=125, **given):
    densities = {"metering_density_kg_m3": 1.0, "reference_metering_density_kg_m3": 1.2}
    return jet_for_air(size, **{"numbering": "bore", **densities, **given})


def needle(**given):
    own = {"straight_diameter_m": 2e-3, "taper_start_m": 0.03, "length_m": 0.07, "end_diameter_m": 1e-3}
    return Needle(**own | given)


def seat(**given):
    own = {"needle_jet_bore_m": 2e-3, "main_jet_bore_m": 1e-3, "seat_to_jet_m": 0.02, "full_lift_m": 0.03}
    return NeedleSeat(**own | given)


def plan(saws=(THICK_SAW,), **given):
    return plan_intake([circle(diameter_m=0.04)], saws, **(given or {"wanted_over_stock": 1.5}))


def screw(turns=TURNS, speeds=SPEEDS, **given):
    return best_mixture_setting(turns, speeds, **given)


def read(turns, *rev_min):
    return best_mixture_setting(turns, [rad_s(n) for n in rev_min])


BENCH = [
    (lambda: jet_change(0, 120, numbering="bore"), "jet.size"),
    (lambda: jet_change(120, 0, numbering="bore"), "jet.new_size"),
    (lambda: jet_change(120, 125, numbering="boar"), r"jet.numbering = 'boar': is not one of 'bore', 'flow'. Did you mean 'bore'\?"),
    (lambda: jet_bore_m(4), "jet = 4: must be a number from 5 to 1000. Read the number off the jet."),
    (lambda: flow_ratio([120, 0], 125, numbering="bore"), "jet.size"),
    (lambda: richness_ratio(0.01, 1.0), "bore_ratio"),
    (lambda: richness_ratio(1.0, 0.0), "density_ratio"),
    (lambda: size_ratio_for_air(-1, numbering="bore"), "density_ratio"),
    (lambda: jet(0, step=2.5), "jet.size"),
    (lambda: jet(step=2.5, metering_density_kg_m3=0.2), "air.density"),
    (lambda: jet(step=2.5, reference_metering_density_kg_m3=2.1), "air.reference_density"),
    (lambda: jet(step=2.5, density_plus_minus=0.4), "air.density_plus_minus"),
    (lambda: jet(step=0.0), "jet.step"),
    (lambda: jet(sizes=[0.0]), "jet.sizes"),
    (lambda: jet(sizes=range(100, 900)), "has 800 entries"),
    (lambda: jet(), "either a step or a list of sizes"),
    (lambda: jet(step=2.5, sizes=[125]), "and not both"),
    (lambda: stoichiometric_air_fuel_ratio(4.1), "fuel.hydrogen_per_carbon"),
    (lambda: mixture_worth(0.0), "richness_ratio"),
    (lambda: circuit_answer(75), "Write half throttle as 0.5."),
    (lambda: circuit_shares([0.2, 1.1]), "throttle_opening"),
    (lambda: circuit_answer(0.5, "reach"), r"is not one of 'lean', 'right', 'rich'. Did you mean 'rich'\?"),
    (lambda: needle(straight_diameter_m=0.0), "needle.straight_diameter"),
    (lambda: needle(taper_start_m=-1.0), "needle.taper_start"),
    (lambda: needle(length_m=0.0), "needle.length"),
    (lambda: needle(length_m=0.03), "past where the taper starts"),
    (lambda: needle(clip_pitch_m=0.0), "needle.clip_pitch"),
    (lambda: needle(clips=0), "needle.clips"),
    (lambda: needle(end_diameter_m=-1e-3), "needle.end_diameter"),
    (lambda: needle(end_diameter_m=2.1e-3), "thinner towards"),
    (lambda: needle(end_diameter_m=None), "either the end diameter or the taper angle"),
    (lambda: needle(end_diameter_m=None, taper_angle_rad=0.6), "needle.taper_angle"),
    (lambda: needle(end_diameter_m=None, taper_angle_rad=0.2), "runs to a point"),
    (lambda: seat(needle_jet_bore_m=0.0), "needle_jet.bore"),
    (lambda: seat(main_jet_bore_m=0.0), "main_jet.bore"),
    (lambda: seat(seat_to_jet_m=0.0), "needle_jet.seat_to_jet"),
    (lambda: seat(full_lift_m=0.0), "slide.full_lift"),
    (lambda: ring_area_m2(2.5e-3, 2.5e-3), "as thick as the bore of the needle jet, or thicker"),
    (lambda: series_area_m2(0.0, 1e-6), "above 0"),
    (lambda: series_area_m2(1e-6, 0.0), "above 0"),
    (lambda: needle_curve(NEEDLE, seat(needle_jet_bore_m=2.4e-3, seat_to_jet_m=0.026), clip=3), "as thick as the bore"),
    (lambda: needle_curve(NEEDLE, SEAT, clip=3, lifts_m=[0.0, 0.04]), "The slide goes from 0 to its full lift"),
    (lambda: needle_curve(needle(straight_diameter_m=2.5e-3, length_m=0.05), SEAT, clip=3), "out of its jet"),
    (lambda: needle_change(NEEDLE, SEAT, clip=3, new_clip=6), r"grooves 1 \(top\) to 5"),
    (lambda: Opening(shape="slot", length_m=0.0, width_m=0.02), "1 mm to 0.5 m across"),
    (lambda: Opening(shape="rectangle", length_m=0.02, width_m=0.0), "1 mm to 0.5 m across"),
    (lambda: Opening(shape="slot", length_m=0.02, width_m=0.03), "more than the length over all"),
    (lambda: circle(diameter_m=0.03, count=0), "count"),
    (lambda: opening_area_m2([]), "list of 1 to 50 openings"),
    (lambda: equivalent_diameter_m([0.03, 0.0]), "diameters"),
    (lambda: HoleSaw(diameter_m=0.0, most=2), "1 mm to 0.5 m across"),
    (lambda: HoleSaw(diameter_m=0.02, most=0), "intake.saw.most"),
    (lambda: plan(wanted_over_stock=21.0), "intake.wanted_over_stock"),
    (lambda: plan(wanted_area_m2=2.0), "intake.wanted_area"),
    (lambda: plan(wanted_over_stock=1.0), "Holes only add"),
    (lambda: plan(wanted_over_stock=None), "either an area or a share of stock"),
    (lambda: plan(wanted_over_stock=1.5, tolerance=0.6), "intake.tolerance"),
    (lambda: plan(wanted_over_stock=1.5, show=0), "intake.show"),
    (lambda: plan(wanted_over_stock=1.5, stock_coefficients=(0.0, 0.6)), "A sharp hole has"),
    (lambda: plan(wanted_over_stock=1.5, stock_coefficients=(0.7, 0.6)), "the most before the least"),
    (lambda: plan(saws=[]), "1 to 10 hole saws"),
    (lambda: plan(saws=[THICK_SAW] * 2), "twice"),
    (lambda: plan(saws=EIGHT_SAWS, wanted_over_stock=3.0), "make 45,767,944,570,401 sets, more than the 2,000,000"),
    (lambda: screw([-1, *TURNS[1:]]), "readings.turns"),
    (lambda: screw(speeds=[0.0, *SPEEDS[1:]]), "readings"),
    (lambda: screw(screw="wood"), "mixture.screw"),
    (lambda: screw(coverage=0.4), "coverage"),
    (lambda: screw(reading_step_rad_s=-1.0), "readings.step"),
    (lambda: screw(useful_turns=(3.0, 0.5)), "the inner end before the outer end"),
    (lambda: screw(TURNS[:4], SPEEDS[:4]), r"are too few \(4, at 4 settings\)"),
    (lambda: screw([1.0, 1.0, 2.0, 2.0, 2.5, 2.5]), r"are too few \(6, at 3 settings\)"),
    (lambda: screw([1.0, 1.1, 1.2, 1.3, 1.4, 1.5]), "span 0.5 turns and must span 1 or more"),
    (lambda: screw(speeds=SPEEDS[:-1]), "have 6 turns and 5 engine speeds"),
    (lambda: read(TURNS, 1160, 1110, 1080, 1080, 1105, 1150), "show no top"),
    (lambda: read(TURNS, 1060, 1040, 1050, 1090, 1150, 1230), "show no top"),
    (lambda: read(QUARTERS, 1000, 1030, 1061, 1089, 1120, 1151), "Take more readings outwards"),
    (lambda: read(QUARTERS, 1151, 1120, 1089, 1061, 1030, 1000), "Take more readings inwards"),
]  # fmt: skip


@pytest.mark.parametrize(("call", "words"), [*CHAIN, *WHEELS, *AIR_AND_ROAD, *BENCH])
def test_what_cannot_be_is_refused_where_it_stands(call, words):
    with pytest.raises(InputError) as refused:
        call()
    text = str(refused.value)
    assert re.search(words, text), text
    assert refused.value.where and refused.value.problem and "\n" not in text
