"""The front wheel in motion: bike and rider as one planar body on a fork and a rear spring, driven by the engine or thrown by the rider.

Heave z is counted up and pitch nose up from the steady ride. All of the mass stands in the body, so that the fork carries the wheel's
load, and a wheel leaves the road when its load is 0. The contact's push, drag and the rotors pitch the body as in the kernel; the rear
wheel keeps its place under the swingarm, and what the chain's pull does there is left out. Lanes (N,) are ridden side by side.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from ridesim.mechanics.traction import GearRows
from ridesim.units import G

Array = NDArray[np.float64]
STEP_S = 0.02  # held to scipy's solve_ivp by a test: some mm, and a twentieth of what a clutch throws up
WATCHED_S = 0.8  # after the throttle opens: a soft fork needs half a second to top out
SHUTS_S = 0.1
TECHNIQUES = ("throttle", "off the fork", "tug", "clutch")  # gentlest first
THROTTLE, FORK, TUG, CLUTCH = range(4)
_FADES = 0.05  # of the highest engine speed: over which a clutch stops slipping, and the ignition cuts
TIRE_RATE_N_M = 115e3  # radial, front: model of a road motorcycle (G. D. Wood), as read in its data file


def spring_rate_n_m(mass_kg: Any, natural_frequency_hz: Any) -> Any:
    """Rate of a spring by how fast the mass on it bounces:  k = m (2 pi f)^2.

    Parameters
    ----------
    mass_kg : What the spring carries. [kg]
    natural_frequency_hz : Undamped. [Hz]

    Returns
    -------
    [N/m]

    Examples
    --------
    120 kg that bounce twice a second:

    >>> float(round(spring_rate_n_m(120.0, 2.0), 1))
    18949.6
    """
    return np.multiply(mass_kg, np.square(np.multiply(2.0 * np.pi, natural_frequency_hz)))


def damping_n_s_m(mass_kg: Any, natural_frequency_hz: Any, damping_ratio: Any) -> Any:
    """Damping by its share of the critical:  c = 2 zeta m 2 pi f.

    Parameters
    ----------
    mass_kg : What the spring carries. [kg]
    natural_frequency_hz : Undamped. [Hz]
    damping_ratio : zeta, 1 where a push just no longer swings over. [-]

    Returns
    -------
    [N s/m]

    Examples
    --------
    120 kg at 2 Hz with 0.3 of the critical:

    >>> float(round(damping_n_s_m(120.0, 2.0, 0.3), 1))
    904.8
    """
    return 4.0 * np.pi * np.multiply(damping_ratio, np.multiply(mass_kg, natural_frequency_hz))


def wheel_load_n(rise_m: Any, rise_m_s: Any, steady_n: Any, rate_n_m: Any, damping_n_s_m: Any, top_m: Any) -> Any:
    """Load on a wheel whose spring has extended by x:  N = N0 - k x - c x', never below 0; past full extension only the tire is left.

    A spring that still pushes when it is topped out (preload) gives way to the tire, of TIRE_RATE_N_M.

    Parameters
    ----------
    rise_m, rise_m_s : Extension from the steady ride, and its speed. [m], [m/s]
    steady_n : Load of the steady ride, N0. [N]
    rate_n_m, damping_n_s_m : [N/m], [N s/m]
    top_m : Extension at which the spring is topped out. [m]

    Returns
    -------
    [N]

    Examples
    --------
    1200 N on 20 N/mm, out by 30 mm and still going 0.2 m/s against 900 N s/m; then topped out:

    >>> float(wheel_load_n(0.03, 0.2, 1200.0, 20e3, 900.0, 0.06)), float(wheel_load_n(0.07, 0.2, 1200.0, 20e3, 900.0, 0.06))
    (420.0, 0.0)
    """
    sprung = steady_n - np.multiply(rate_n_m, np.minimum(rise_m, top_m))
    past = np.subtract(rise_m, top_m)
    return np.maximum(sprung - np.where(past > 0.0, TIRE_RATE_N_M * past, np.multiply(damping_n_s_m, rise_m_s)), 0.0)


def tug_m(time_s: Any, distance_m: Any, lasts_s: Any) -> Any:
    """How far the rider has thrown the body back:  x = X (t/T - sin(2 pi t/T) / (2 pi)), at rest before and after.

    Parameters
    ----------
    time_s : Since the start of the tug. [s]
    distance_m, lasts_s : X and T. [m], [s]

    Returns
    -------
    [m]

    Examples
    --------
    Half the way in half the time:

    >>> float(tug_m(0.175, 0.25, 0.35))
    0.125
    """
    share = np.clip(np.divide(time_s, lasts_s), 0.0, 1.0)
    return np.multiply(distance_m, share - np.sin(2.0 * np.pi * share) / (2.0 * np.pi))


def tug_m_s2(time_s: Any, distance_m: Any, lasts_s: Any) -> Any:
    """Acceleration of the thrown body, back counted positive:  x'' = 2 pi X / T^2 sin(2 pi t/T); while it is caught the bars are pulled.

    Parameters
    ----------
    time_s : Since the start of the tug. [s]
    distance_m, lasts_s : As for tug_m. [m], [s]

    Returns
    -------
    [m/s2]

    Examples
    --------
    At a quarter of the time it is greatest, 2 pi X / T^2:

    >>> float(round(tug_m_s2(0.0875, 0.25, 0.35), 3))
    12.823
    """
    share = np.clip(np.divide(time_s, lasts_s), 0.0, 1.0)
    return np.divide(2.0 * np.pi * np.asarray(distance_m), np.square(lasts_s)) * np.sin(2.0 * np.pi * share)


@dataclass(frozen=True, kw_only=True, eq=False)
class Lanes:
    """Gears of a bike, each ridden one way: rows of the kernel, what they stand on and what the rider does, arrays (N,), SI."""

    rows: GearRows
    pitch_inertia_kg_m2: Array
    friction: Array
    front_rate_n_m: Array
    front_damping_n_s_m: Array
    front_preload_n: Array
    rear_rate_n_m: Array
    rear_damping_n_s_m: Array
    technique: NDArray[np.intp]
    start_rad_s: Array
    opening_s: Array  # throttle or clutch
    dive_s: Array  # how long the throttle is shut before, off the fork
    braking_n_m: Array  # of the engine, shut
    thrown_kg: Array
    thrown_height_m: Array
    thrown_m: Array
    tug_s: Array
    clutch_holds_n_m: Array
    clutch_from_rad_s: Array


@dataclass(frozen=True, kw_only=True, eq=False)
class DriveInput:
    """What the engine and the rider do to the body, (M, N) over time_s (M,): counted from when throttle or clutch open."""

    time_s: Array
    contact_n: Array  # push of the road on the rear tire, rolling resistance taken off
    rolling_n: Array
    drag_n: Array
    rotor_n_m: Array  # nose up, by the speeding up of rear wheel and crank
    moved_m: Array  # the combined center of mass, back, by the tug
    thrown_n_m: Array  # nose up, by the catching of the thrown body


@dataclass(frozen=True, kw_only=True, eq=False)
class Motion:
    """How the body moves, (M, N) over time_s (M,). clearance_m is below 0 by what the fork has left to extend."""

    time_s: Array
    heave_m: Array
    pitch_rad: Array
    front_load_n: Array
    clearance_m: Array
    spins: NDArray[np.bool_]  # whether the rear tire was asked for more than its grip


def drive(lanes: Lanes, step_s: float = STEP_S) -> DriveInput:
    """The engine's push and the rider's throw over time, from before the throttle opens to WATCHED_S after.

    The road speed is stepped by the second-order method of Adams and Bashforth; the pitch does not act back on it.
    A clutch that slips gives what it holds, and the crank falls by what that takes; past the rev limit the ignition
    cuts.

    Parameters
    ----------
    lanes : Lanes
    step_s : float
        Shorter ones are for tests. [s]

    Returns
    -------
    DriveInput
    """
    rows, cells, crank_kg_m2 = lanes.rows, lanes.rows.cells, lanes.rows.setups.crank_inertia_kg_m2
    sense, spin = rows.setups.crank_sense, rows.setups.rear_inertia_kg_m2 / rows.setups.rear_radius_m
    mass, meters, pushes, locked = rows.several("mass_kg", "meters_per_radian", "force_per_torque", "lift_mass")
    freed = mass + rows["coasting_mass"] - rows["free_rolling_mass"] - locked  # by a clutch that slips: the crank's
    leads = np.select([lanes.technique == FORK, lanes.technique == TUG], [lanes.dive_s, 0.25 * lanes.tug_s], 0.0)
    lead = np.max(leads, initial=0.0)
    time = np.arange(-int(np.ceil(lead / step_s)), round(WATCHED_S / step_s) + 1) * step_s
    slips, shuts = lanes.technique == CLUTCH, lanes.technique == FORK
    v = meters * lanes.start_rad_s
    crank = np.where(slips, lanes.clutch_from_rad_s, lanes.start_rad_s)
    steady, grade = rows.resistance_n(v), mass * G * np.sin(rows.ride.slope_rad)
    out = np.empty((4, time.size, v.size))
    for n, t in enumerate(time):
        w = v / meters
        crank = np.where(slips, np.maximum(crank, w), w)
        slip = np.minimum((crank - w) / (_FADES * cells.last), 1.0)  # 0 where the clutch holds
        cut = np.clip((1.0 + _FADES - crank / cells.last) / _FADES, 0.0, 1.0)  # past the rev limit
        torque = cut * cells.torque(np.clip(crank, cells.first, cells.last))
        shut = np.minimum(steady / pushes, torque)
        shut -= shuts * np.clip((t + lanes.dive_s) / SHUTS_S, 0.0, 1.0) * (shut + lanes.braking_n_m)
        wanted = torque + slip * np.maximum(lanes.clutch_holds_n_m - torque, 0.0)
        given = shut + np.clip(t / lanes.opening_s, 0.0, 1.0) * (wanted - shut)
        air, road = rows.drag_n(v), rows.road_n(v)
        a = (given * pushes - road - air) / (locked + slip * freed)
        drops = rows.setups.torque_factor * np.minimum(torque - given, 0.0) / np.maximum(crank_kg_m2, 1e-4)
        falls = slip * drops + (1.0 - slip) * a / meters
        out[:, n] = mass * a + air + grade, road - grade, air, spin * a + sense * crank_kg_m2 * falls
        if n == 0:
            a_before, falls_before = a, falls
        v = np.maximum(v + step_s * (1.5 * a - 0.5 * a_before), 0.0)
        crank = crank + step_s * (1.5 * falls - 0.5 * falls_before)
        a_before, falls_before = a, falls
    tugs = np.where(lanes.technique == TUG, lanes.thrown_m, 0.0)
    since = time[:, None] + 0.25 * lanes.tug_s  # the throttle opens while the body gathers speed
    return DriveInput(
        time_s=np.asarray(time),
        contact_n=out[0],
        rolling_n=out[1],
        drag_n=out[2],
        rotor_n_m=out[3],
        moved_m=tug_m(since, tugs, lanes.tug_s) * lanes.thrown_kg / mass,
        thrown_n_m=-lanes.thrown_kg * (lanes.thrown_height_m - rows["height_m"]) * tug_m_s2(since, tugs, lanes.tug_s),
    )


def motion(lanes: Lanes, drive: DriveInput) -> Motion:
    """The body's heave and pitch by Runge-Kutta steps of the fourth order on the drive's times, between which it is
    straight.

    m z'' = N_f + N_r - m g cos th + m x_t p'',  I p'' = N_f (L - b) - N_r b + S h + F_D (h_D - h) + rotors + tug,
    with the wheel loads of `wheel_load_n`; the road pushes no harder than the rear tire's grip, and spins tells
    where it was asked to.

    Parameters
    ----------
    lanes : Lanes
    drive : DriveInput
        Of the same lanes.

    Returns
    -------
    Motion
    """
    body = _Body(lanes, drive)
    inputs = np.stack(
        [drive.contact_n, drive.rolling_n, drive.drag_n, drive.rotor_n_m, drive.moved_m, drive.thrown_n_m]
    )
    middles = 0.5 * (inputs[:, 1:] + inputs[:, :-1])
    states = np.zeros((drive.time_s.size, 4, len(lanes.rows)))
    step = drive.time_s[1] - drive.time_s[0]
    for n in range(drive.time_s.size - 1):
        y, middle = states[n], middles[:, n]
        k1 = body.rates(y, inputs[:, n])
        k2 = body.rates(y + 0.5 * step * k1, middle)
        k3 = body.rates(y + 0.5 * step * k2, middle)
        k4 = body.rates(y + step * k3, inputs[:, n + 1])
        states[n + 1] = y + step / 6.0 * (k1 + 2.0 * (k2 + k3) + k4)
    y = states.transpose(1, 0, 2)
    front, rear, clearance = body.loads(y)
    return Motion(
        time_s=drive.time_s,
        heave_m=y[0],
        pitch_rad=y[1],
        front_load_n=front,
        clearance_m=clearance,
        spins=np.asarray((drive.contact_n + drive.rolling_n > lanes.friction * rear).any(axis=0)),
    )


class _Body:
    """Lanes with what stays the same while they move."""

    def __init__(self, lanes: Lanes, drive: DriveInput) -> None:
        self.lanes = lanes
        self.mass, self.behind, height, wheelbase, high = lanes.rows.several(
            "mass_kg", "load_arm_m", "height_m", "wheelbase_m", "drag_height_m"
        )
        self.axle, self.drag_arm = lanes.rows.setups.rear_radius_m, high - height
        self.weight_n = self.mass * G * np.cos(lanes.rows.ride.slope_rad)
        self.ahead, self.above = wheelbase - self.behind, height - self.axle
        tips = drive.contact_n[0] * height + drive.drag_n[0] * self.drag_arm
        self.front_n = np.clip((self.weight_n * self.behind - tips) / wheelbase, 0.0, self.weight_n)
        self.rear_n = self.weight_n - self.front_n
        self.front_top = np.maximum(self.front_n - lanes.front_preload_n, 0.0) / lanes.front_rate_n_m
        self.fork = self.front_n, lanes.front_rate_n_m, lanes.front_damping_n_s_m, self.front_top
        self.spring = self.rear_n, lanes.rear_rate_n_m, lanes.rear_damping_n_s_m, self.rear_n / lanes.rear_rate_n_m

    def _loads(self, y: Array) -> tuple[Array, ...]:
        heave, pitch, heave_s, pitch_s = y
        sine, cosine = np.sin(pitch), np.cos(pitch)
        down = self.above * (1.0 - cosine)
        front_arm, rear_arm = self.ahead * cosine + self.above * sine, self.behind * cosine - self.above * sine
        rise = heave + self.ahead * sine + down
        front = wheel_load_n(rise, heave_s + front_arm * pitch_s, *self.fork)
        rear = wheel_load_n(heave - self.behind * sine + down, heave_s - rear_arm * pitch_s, *self.spring)
        return front, rear, rise, front_arm, rear_arm, sine, cosine

    def loads(self, y: Array) -> tuple[Array, Array, Array]:
        """Load on the front and the rear wheel, and how far the front tire is above the road."""
        front, rear, rise, *_ = self._loads(y)
        left_n = np.minimum(self.lanes.front_preload_n, self.front_n)
        return front, rear, rise - self.front_top - left_n / TIRE_RATE_N_M

    def rates(self, y: Array, inputs: Array) -> Array:
        """How fast heave, pitch and their speeds change."""
        contact, rolling, drag, rotor, moved, thrown = inputs
        front, rear, _, front_arm, rear_arm, sine, cosine = self._loads(y)
        contact = np.minimum(contact, self.lanes.friction * rear - rolling)
        high = self.axle + self.above * cosine + self.behind * sine
        moment = contact * high + drag * self.drag_arm + rotor + thrown
        moment += front * (front_arm + moved) - rear * (rear_arm - moved)
        pitching = moment / self.lanes.pitch_inertia_kg_m2
        heaving = (front + rear - self.weight_n) / self.mass + moved * pitching
        return np.stack([y[2], y[3], heaving, pitching])
