"""The front wheel in motion: closed forms of a sprung body, the equation of motion by scipy, and what every rider knows."""

from __future__ import annotations

from dataclasses import fields, replace

import numpy as np
import pytest
from scipy.integrate import solve_ivp
from support.bikes import random_fields
from support.front_wheel import lanes, made_up, still
from support.small_build import small

from ridesim.answers import front_wheel, solve
from ridesim.answers.front_wheel import UP_M, comes_up
from ridesim.answers.front_wheel import body as fw
from ridesim.answers.front_wheel.springs import springs_of
from ridesim.bike import make_bike
from ridesim.errors import InputError
from ridesim.units import G

pytestmark = pytest.mark.identities


def rung(body, time, start):
    """The body let go from a place, nothing driving it."""
    return solve_ivp(
        lambda t, y: body.rates(y[:, None], np.zeros((6, 1)))[:, 0],
        (0.0, time[-1]),
        start,
        t_eval=time,
        rtol=1e-10,
        atol=1e-12,
    ).y


def free(**changes):
    """A body at rest that nothing drives, its mass midway between the wheels and at axle height, so that heave and pitch part."""
    one = lanes(1, ahead_m=0.7, wheelbase_m=1.4, height_m=0.3, rear_radius_m=0.3, drag_height_m=0.3, **changes)
    return fw._Body(one, still(one)), one


@pytest.mark.parametrize("zeta", [0.2, 0.3, 0.4])
def test_heave_swings_over_by_the_closed_form_and_at_its_natural_frequency(zeta):
    """Handbook forms of a damped oscillator: overshoot exp(-pi zeta/sqrt(1 - zeta^2)), period 1/(f sqrt(1 - zeta^2))."""
    half = 100.0
    rates = {"rate": fw.spring_rate_n_m(half, 2.0), "damping": fw.damping_n_s_m(half, 2.0, zeta)}
    body, _ = free(mass_kg=200.0, **{f"{end}_{k}": v for end in ("front", "rear") for k, v in rates.items()})
    time = np.linspace(0.0, 1.0, 4001)
    heave, pitch, *_ = rung(body, time, [-0.01, 0.0, 0.0, 0.0])
    assert heave.max() / 0.01 == pytest.approx(np.exp(-np.pi * zeta / np.sqrt(1 - zeta**2)), rel=1e-4)
    assert time[heave.argmax()] == pytest.approx(0.5 / (2.0 * np.sqrt(1.0 - zeta**2)), rel=1e-3)
    assert np.abs(pitch).max() < 1e-12


def test_pitch_has_its_natural_frequency():
    """Two springs k at arms b about an inertia I: omega^2 = 2 k b^2 / I."""
    body, one = free(mass_kg=200.0, front_damping=0.0, rear_damping=0.0)
    omega = float(np.sqrt((one.front_rate_n_m + one.rear_rate_n_m) * 0.7**2 / one.pitch_inertia_kg_m2)[0])
    time = np.linspace(0.0, 2.0 * np.pi / omega, 2001)
    _, pitch, *_ = rung(body, time, [0.0, 0.005, 0.0, 0.0])
    np.testing.assert_allclose(pitch, 0.005 * np.cos(omega * time), atol=2e-6)


def test_energy_is_kept_without_damping_and_drive():
    """Kinetic, gravity and springs, while both tires are on the road."""
    one = lanes(1, front_damping=0.0, rear_damping=0.0)
    body = fw._Body(one, still(one))
    y = rung(body, np.linspace(0.0, 3.0, 301), [-0.02, 0.01, 0.0, 0.0])
    heave, pitch, heave_s, pitch_s = y
    down = body.above * (1.0 - np.cos(pitch))
    ends = ((body.ahead, body.front_n, one.front_rate_n_m), (-body.behind, body.rear_n, one.rear_rate_n_m))
    energy = (
        0.5 * one.rows["mass_kg"] * heave_s**2
        + 0.5 * one.pitch_inertia_kg_m2 * pitch_s**2
        + one.rows["mass_kg"] * G * heave
    )
    for arm, load, rate in ends:
        rise = heave + arm * np.sin(pitch) + down
        energy = energy - load * rise + 0.5 * rate * rise**2
    assert np.ptp(energy) < 1e-6 * np.ptp(0.5 * one.rows["mass_kg"] * heave_s**2)


def test_a_rigid_bike_lifts_where_the_static_lift_ratio_is_1():
    """On very stiff, well damped springs a slow push lifts the front where a H + F_D h_D = m g b', not below."""
    share = np.array([0.9, 0.97, 1.03, 1.1])
    one = lanes(4, front_hz=16.0, rear_hz=16.0, zeta=0.9)
    calm = still(one, np.arange(0.0, 2.5, 0.001))
    lifting = one.rows["mass_kg"] * G * one.rows["load_arm_m"] / one.rows["height_m"]
    push = share * lifting * np.clip(calm.time_s[:, None] / 2.0, 0.0, 1.0)
    moved = fw.motion(one, replace(calm, contact_n=push))
    assert ((moved.clearance_m.max(axis=0) > 0.0) == (share > 1.0)).all()
    static = (1.0 - share) * one.rows["mass_kg"] * G * one.rows["load_arm_m"] / one.rows["wheelbase_m"]
    np.testing.assert_allclose(moved.front_load_n[-1, :2], static[:2], atol=2.0)


@pytest.mark.parametrize("technique", range(4))
def test_the_steps_are_held_to_solve_ivp(technique):
    """Pitch over the same push by scipy at a tight tolerance; the push itself by steps sixteen times as fine."""
    one = lanes(1, technique=np.array([technique]), torque=1.6)
    fine = fw.drive(one, fw.STEP_S / 16)
    body = fw._Body(one, fine)
    inputs = np.stack([getattr(fine, f.name) for f in fields(fine) if f.name != "time_s"])[:, :, 0]

    def rates(t, y):
        return body.rates(y[:, None], np.array([np.interp(t, fine.time_s, row) for row in inputs])[:, None])[:, 0]

    coarse = fw.motion(one, fw.drive(one))
    time = coarse.time_s[coarse.time_s <= 0.5 + 1e-9]
    start = max(time[0], fine.time_s[0])
    exact = solve_ivp(rates, (start, time[-1]), np.zeros(4), rtol=1e-8, atol=1e-10, max_step=0.002)
    *_, clearance = body.loads(exact.y[:, -1:])
    found = coarse.clearance_m[time.size - 1]
    assert found == pytest.approx(clearance, abs=0.003, rel=0.06 if technique == fw.CLUTCH else 0.02)


def test_weight_moved_back_takes_its_moment_off_the_front():
    """Statics: the front's load falls by m g d / L when the center of mass has moved back by d and all is at rest again."""
    one = lanes(1, front_hz=16.0, rear_hz=16.0, zeta=0.9)
    calm = still(one, np.arange(0.0, 2.5, 0.001))
    moved = fw.motion(one, replace(calm, moved_m=0.05 * np.clip(calm.time_s[:, None], 0.0, 1.0)))
    fallen = moved.front_load_n[0] - moved.front_load_n[-1]
    assert fallen == pytest.approx(one.rows["mass_kg"] * G * 0.05 / one.rows["wheelbase_m"], rel=0.02)


def test_the_push_of_the_road_has_the_height_of_the_center_as_its_arm():
    """Geometry: pitched by p about the rear axle the center stands at r + (h - r) cos p + b sin p."""
    one = lanes(1, friction=9.0)
    body, pitched = fw._Body(one, still(one)), np.array([[0.0], [0.4], [0.0], [0.0]])
    pushed = np.zeros((6, 1))
    pushed[0] = 700.0
    gained = body.rates(pitched, pushed)[3] - body.rates(pitched, np.zeros((6, 1)))[3]
    high = body.axle + (one.rows["height_m"] - body.axle) * np.cos(0.4) + one.rows["load_arm_m"] * np.sin(0.4)
    assert gained * one.pitch_inertia_kg_m2 == pytest.approx(700.0 * high)


def test_a_pull_with_nothing_thrown_lifts_nothing():
    """Inner forces leave the body as it is: a tug of 0 m is no tug."""
    one = lanes(2, technique=np.array([fw.TUG, fw.THROTTLE]), thrown_m=0.0)
    moved = fw.motion(one, fw.drive(one))
    np.testing.assert_array_equal(moved.pitch_rad[:, 0], moved.pitch_rad[:, 1])


def test_the_tug_starts_and_ends_at_rest_and_its_acceleration_is_that_of_its_place():
    t = np.linspace(0.0, 0.35, 2001)
    x = fw.tug_m(t, 0.25, 0.35)
    twice = np.gradient(np.gradient(x, t), t)
    np.testing.assert_allclose(twice[3:-3], fw.tug_m_s2(t, 0.25, 0.35)[3:-3], atol=1e-3)
    assert x[-1] == pytest.approx(0.25) and fw.tug_m(9.0, 0.25, 0.35) == pytest.approx(0.25)


def test_preload_gives_way_to_the_tire():
    """Past full extension a spring that still pushes unloads over the tire's own squash."""
    one = lanes(1, front_preload=115.0)
    body = fw._Body(one, still(one))
    rise = body.front_top[0] + np.array([0.0, 0.0005, 0.0011])
    load = fw.wheel_load_n(rise, 0.0, body.front_n, one.front_rate_n_m, 0.0, body.front_top)
    np.testing.assert_allclose(load, [115.0, 57.5, 0.0], atol=1e-6)


HARDER = [  # common practice, no source: what a rider finds makes the front come up later
    {"chassis.bike_cg_ahead_of_rear_axle": "0.78 m"},
    {"final_drive.rear": 38},
    {"chassis.rider_cg_ahead_of_rear_axle": "0.55 m"},
    {"masses.luggage": "0 kg"},  # nothing on the rack
]


@pytest.mark.parametrize("changes", HARDER, ids=["weight forward", "taller gearing", "rider forward", "no luggage"])
def test_what_riders_know_moves_it_the_right_way(changes):
    """Common practice, no source: weight ahead, taller gearing, a rider who sits forward, an empty rack each lift later, in every
    case of the ranges."""
    given = {"tune.first.points": [[2500, 40], [5000, 52], [7500, 44], [8500, 36]]}
    given |= {"chassis.bike_cg_ahead_of_rear_axle": "0.68 m", "masses.luggage": "15 kg"}
    easy, hard = (comes_up(solve(make_bike(small(given | own)), bands=False)) for own in ({}, changes))
    assert (hard.gentlest >= easy.gentlest).all() and (hard.gentlest > easy.gentlest).any()


def test_cautions_come_with_the_answer():
    told = front_wheel(solve(make_bike(small()), bands=False))
    assert "closed ground" in told.cautions[0] and "full riding gear" in told.cautions[0] and "law" in told.cautions[0]


def test_a_front_that_is_down_again_is_said_to_be():
    """It may come up for a moment and stand on the road half a second after: never "0.0 mm high"."""
    said = [
        front_wheel(solve(make_bike(small({"masses.rider": f"{kg} kg"})), bands=False)) for kg in range(40, 120, 10)
    ]
    texts = [str(one) for one in said if "stays down" not in str(one)]
    assert texts and not any(", 0.0 mm" in text for text in texts)
    assert any("on the road half a second after" in text for text in texts)


def test_random_bikes_move_without_a_nan():
    """Thirty made-up bikes. Common practice, no source: a tug lifts wherever the throttle does, and more."""
    rng = np.random.default_rng(15)
    lifted = []
    for _ in range(30):
        moved = made_up(random_fields(rng))
        assert all(np.isfinite(getattr(moved, f.name)).all() for f in fields(moved))
        lifted.append(moved.clearance_m.max(axis=0) >= UP_M)
    throttle, tug = np.array(lifted)[:, fw.THROTTLE], np.array(lifted)[:, fw.TUG]
    assert not (throttle & ~tug).any() and (tug & ~throttle).any()


def test_the_front_begins_lighter_the_steeper_it_goes_up():
    """Statics: N_f L = m g b cos th - S h, S the steady push; what the throttle then adds to S takes as much off whatever the slope."""
    loads = []
    for grade in ("-12 %", "0 %", "12 %", "25 %"):
        solved = solve(make_bike(small({"ride.grade": grade})), bands=False)
        loads.append(comes_up(solved).ridden.front_load_n[0, fw.THROTTLE])
    assert np.all(np.diff(loads) < -20.0)


@pytest.mark.parametrize(("surface", "friction"), [("wet", 0.5), ("gravel", 0.35), ("ice", 0.06)])
def test_less_grip_never_lifts_more(surface, friction):
    """The road pushes no harder than the grip lets it: in the middle of the ranges and by every technique."""
    given = {"tune.first.points": [[2500, 40], [5000, 52], [7500, 44], [8500, 36]], "surface.name": "dry asphalt"}
    grips, slides = (
        comes_up(solve(make_bike(small(given | {"surface.friction": mu})), bands=False)) for mu in (1.2, friction)
    )
    assert (slides.gentlest[0] >= grips.gentlest[0]).all()
    assert (slides.height_m[0].max(axis=-1) <= grips.height_m[0].max(axis=-1) + 1e-9).all()


SPRINGS = {"suspension.fork.rate": "10 N/mm", "suspension.fork.sag": "50 mm", "suspension.rear.rate": "18 N/mm"}


def test_ones_own_springs_take_the_place_of_the_assumed_ones():
    """Rate along the legs over cos^2 of the rake carries the load with the preload that the sag leaves; statics."""
    bike = make_bike(small(SPRINGS | {"chassis.rake": "30 deg"}))
    fork, rear = springs_of(bike, 100.0, 140.0, np.array([-1.0, 0.0, 1.0]))
    assert fork.rate_n_m == pytest.approx(10e3 / 0.75) and rear.rate_n_m == pytest.approx(18e3)
    assert fork.preload_n + fork.rate_n_m * 0.050 * np.sqrt(0.75) == pytest.approx(100.0 * G)
    assert fork.hz == pytest.approx(np.sqrt(10e3 / 0.75 / 100.0) / (2 * np.pi))
    solved = solve(bike, bands=False)
    assert all("springs" not in comes_up(solved).deciding(k) for k in range(solved.gear_count))
    told = front_wheel(solved)
    assert not any(one.path.startswith("suspension") for one in told.assumptions)
    assert {"suspension.fork.rate", "suspension.rear.rate"} <= {
        one.path for one in front_wheel(solve(make_bike(small()), bands=False)).assumptions
    }


def test_a_sag_alone_holds_the_load_and_a_tolerance_spreads_the_rate():
    turn = np.array([-1.0, 0.0, 1.0])
    soft = springs_of(make_bike(small({"suspension.rear.sag": "150 mm"})), 100.0, 140.0, turn)[1]
    assert soft.rate_n_m * 0.150 + soft.preload_n == pytest.approx(140.0 * G) and (soft.preload_n >= 0.0).all()
    wide = springs_of(make_bike(small({"suspension.rear.rate": "18 +- 2 N/mm"})), 100.0, 140.0, turn)[1]
    assert wide.rate_n_m == pytest.approx([16e3, 18e3, 20e3])


def test_springs_that_cannot_be_are_refused_or_told():
    with pytest.raises(InputError, match=r"suspension\.fork\.sag"):
        small({"suspension.fork.sag": "200 mm", "suspension.fork.travel": "180 mm"})
    odd = front_wheel(solve(make_bike(small({"suspension.rear.rate": "60 N/mm", "suspension.rear.sag": "90 mm"}))))
    assert any("measure the sag again" in note for note in odd.notes)
    short = SPRINGS | {"suspension.fork.travel": "55 mm"}
    assert any("bottoms" in note for note in front_wheel(solve(make_bike(small(short)))).notes)
