"""Made-up set-ups for tests, and an independent way to ride them: the equation of motion stepped through time."""

from __future__ import annotations

from typing import Any

import numpy as np
from scipy.integrate import solve_ivp
from support.from_scratch import cubic

from ridesim.components.power_curve import PowerCurve
from ridesim.mechanics.setups import Ride, SetUps, broadcast
from ridesim.units import G, rad_s

POINTS_RPM = np.array([2000.0, 3000.0, 4000.0, 5000.0, 6000.0, 7000.0, 7600.0])
POINTS_N_M = np.array([33.0, 37.5, 41.0, 40.5, 37.0, 31.0, 26.5])


def single_curve() -> PowerCurve:
    return PowerCurve(engine_speed_rad_s=rad_s(POINTS_RPM), torque_n_m=POINTS_N_M)


def single(**changes: Any) -> dict[str, Any]:
    """Fields of SetUps for a made-up trail single."""
    gears = np.array([32 / 13, 27 / 15, 25 / 18, 23 / 20, 21 / 22])
    fields: dict[str, Any] = {
        "ratios": 68 / 30 * gears * 45 / 16,
        "mass_kg": 249.0,
        "rider_kg": 88.0,
        "ahead_m": 0.6396,
        "height_m": 0.7547,
        "wheelbase_m": 1.462,
        "drag_height_m": 0.95,
        "front_inertia_kg_m2": 0.5,
        "rear_inertia_kg_m2": 0.65,
        "crank_inertia_kg_m2": 0.03,
        "crank_sense": 1.0,
        "rolling_offset_m": 0.006,
        "front_radius_m": 0.34,
        "rear_radius_m": 2.075 / (2 * np.pi),
        "efficiency": 0.93,
        "torque_factor": 1.0,
        "f0_n": 44.0,
        "f1_n_s_m": 0.0,
        "f2_n_s2_m2": 0.372,
        "friction": 0.9,
        "shift_time_s": 0.25,
        "displacement_m3": 541e-6,
        "indicated_efficiency": 0.36,
        "fuel_density_kg_m3": 745.0,
        "tank_m3": 0.012,
    }
    return fields | changes


def one(**changes: Any) -> SetUps:
    return broadcast(single(**changes))


def random_fields(rng: np.random.Generator) -> dict[str, Any]:
    """A made-up bike drawn at random, from a light single to a strong twin, on roads from gravel to asphalt."""
    first = rng.uniform(2.2, 3.2)
    count = int(rng.integers(4, 7))
    ratios = first * np.geomspace(1.0, rng.uniform(0.3, 0.42), count) * rng.uniform(1.7, 2.5) * rng.uniform(2.2, 3.4)
    return single(
        ratios=ratios,
        mass_kg=rng.uniform(180, 340),
        ahead_m=rng.uniform(0.5, 0.75),
        height_m=rng.uniform(0.55, 0.95),
        wheelbase_m=rng.uniform(1.35, 1.6),
        crank_inertia_kg_m2=rng.uniform(0.0, 0.06),
        crank_sense=float(rng.choice([-1.0, 1.0])),
        efficiency=rng.uniform(0.85, 0.98),
        torque_factor=rng.uniform(0.5, 2.2),
        f0_n=rng.uniform(10, 90),
        f1_n_s_m=rng.uniform(0, 2),
        f2_n_s2_m2=rng.uniform(0.2, 0.6),
        friction=rng.uniform(0.3, 1.2),
        shift_time_s=rng.uniform(0.0, 0.5),
        rolling_offset_m=rng.uniform(0.0, 0.012),
    )


def ride_by_stepping(
    fields: dict[str, Any], curve: PowerCurve, ride: Ride, upshift_rad_s: np.ndarray, launch_rad_s: float
) -> dict[str, float]:
    """Times to the targets and the distance by stepping dv/dt through time (DOP853, rtol 1e-10), gear by gear."""
    f = {k: float(v) for k, v in fields.items() if k != "ratios"}
    ratios, r = np.asarray(fields["ratios"]), f["rear_radius_m"]
    th, wind = ride.slope_rad, ride.headwind_m_s
    m, wheels = (
        f["mass_kg"],
        f["front_inertia_kg_m2"] / f["front_radius_m"] ** 2 + f["rear_inertia_kg_m2"] / f["rear_radius_m"] ** 2,
    )

    torque_at = cubic(curve.engine_speed_rad_s, curve.torque_n_m)

    def drag(v: float) -> float:
        return f["f2_n_s2_m2"] * (v + wind) * abs(v + wind)

    def resistance(v: float) -> float:
        return f["f0_n"] * np.cos(th) + m * G * np.sin(th) + f["f1_n_s_m"] * v + drag(v)

    def acceleration(v: float, k: int, slips: bool) -> float:
        i = ratios[k]
        crank = 0.0 if slips else f["crank_inertia_kg_m2"]
        omega = launch_rad_s if slips else min(max(v * i / r, curve.first_rad_s), curve.last_rad_s)
        force = torque_at(omega) * f["torque_factor"] * i * f["efficiency"] / r
        engine = (force - resistance(v)) / (m + wheels + f["efficiency"] * crank * (i / r) ** 2)
        pitch = (
            m * f["height_m"]
            + f["front_inertia_kg_m2"] / f["front_radius_m"]
            + f["rear_inertia_kg_m2"] / r
            + f["crank_sense"] * crank * i / r
        )
        lifts = pitch - f["front_inertia_kg_m2"] / f["front_radius_m"]  # the front wheel is spun no more as it lifts
        held = (
            m * G * ((f["ahead_m"] - f["rolling_offset_m"]) * np.cos(th) - f["height_m"] * np.sin(th))
            - drag(v) * f["drag_height_m"]
        )
        inertia = m + f["front_inertia_kg_m2"] / f["front_radius_m"] ** 2 - f["friction"] * pitch / f["wheelbase_m"]
        grip = f["friction"] * (m * G * np.cos(th) - held / f["wheelbase_m"]) - resistance(v)
        return min(engine, held / lifts, grip / inertia if inertia > 0 else np.inf)

    found: dict[str, float] = {}
    state = np.array([0.0, 0.0])
    t = 0.0

    def phase(change: Any, stop: Any, longest: float) -> None:
        nonlocal state, t
        events = [stop] + [lambda _, y, v=v: y[0] - v for v in ride.targets_m_s] + [lambda _, y: y[1] - ride.distance_m]
        for event in events:
            event.terminal = event is stop
        events[0].direction = 1.0
        done = solve_ivp(
            change, (t, t + longest), state, method="DOP853", rtol=1e-10, atol=1e-10, events=events, max_step=0.5
        )
        for name, times in zip(
            [*(f"v{n}" for n in range(len(ride.targets_m_s))), "distance"], done.t_events[1:], strict=True
        ):
            if times.size and name not in found:
                found[name] = float(times[0])
        state, t = done.y[:, -1], float(done.t[-1])

    goal = launch_rad_s * r / ratios[0]
    phase(lambda _, y: [acceleration(y[0], 0, True), y[0]], lambda _, y: y[0] - goal, 200.0)
    for k in range(len(ratios)):
        last = k + 1 == len(ratios)
        leave = (curve.last_rad_s if last else upshift_rad_s[k]) * r / ratios[k]
        if state[0] < leave * (1 - 1e-12):
            phase(
                lambda _, y, k=k: [acceleration(y[0], k, False), y[0]],
                lambda _, y, leave=leave: y[0] - leave * (1 - 1e-13),
                250.0,
            )
        if last or state[0] < leave * (1 - 1e-6):
            break
        before, tb = state.copy(), t
        stop = lambda _, y: 1.0  # noqa: E731
        phase(lambda _, y: [-resistance(y[0]) / (m + wheels), y[0]], stop, max(f["shift_time_s"], 1e-12))
        entry = min(max(state[0] * ratios[k + 1] / r, curve.first_rad_s), curve.last_rad_s)
        if acceleration(entry * r / ratios[k + 1], k + 1, False) <= 0:
            state, t = before, tb
            break
    if "distance" not in found:
        found["distance"] = t + (ride.distance_m - state[1]) / state[0]
    return found
