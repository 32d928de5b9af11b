"""The standing start through the gears and the roll-on in each gear, by quadrature over speed with exact break points."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from ridesim.mechanics.lift import pitch_moment_kg_m
from ridesim.mechanics.quadrature import Stretches, crossing_times
from ridesim.mechanics.thrust import Forces, Gears
from ridesim.units import G

Array = NDArray[np.float64]
NEAR_TOP = 1e-6  # closer than this to top speed the rest of the way is ridden at top speed
LAUNCH_SHARE = 0.6  # of the rev limit, at most, while the clutch slips


@dataclass(frozen=True, kw_only=True, eq=False)
class Run:
    """A standing start. Times are nan where the speed is never reached.

    times_s (S, targets); distance_time_s (S,); the trace, stretch by stretch in order (S, Q): time, distance, road speed
    at the end of each, gear of each (1 is first); nan after the end of the run.
    """

    times_s: Array
    distance_time_s: Array
    distance_speed_m_s: Array
    launch_rad_s: float
    trace_time_s: Array
    trace_distance_m: Array
    trace_speed_m_s: Array
    trace_gear: NDArray[np.int64]


def launch_speed_rad_s(forces: Forces) -> float:
    """Engine speed held while the clutch slips: that of peak torque, at most 60 % of the rev limit, inside the curve."""
    pieces = forces.pieces
    peak = float(pieces.grid[int(np.argmax(pieces.grid_torque))])
    limit = forces.ride.rev_limit_rad_s or pieces.last
    return min(max(min(peak, LAUNCH_SHARE * limit), pieces.first), pieces.last)


@dataclass(frozen=True, kw_only=True, eq=False)
class _Plan:
    """Where each gear is entered and left (S, G), the shifts between (S, G), and how the run ends (S,)."""

    enter: Array
    leave: Array
    used: NDArray[np.bool_]
    shift_time: Array
    shift_distance: Array
    lost: NDArray[np.bool_]  # after a shift the engine would turn slower than the curve's first point


def standing_start(forces: Forces, figures: Gears) -> Run:
    """From standstill: slip the clutch, then every gear to its shift point, to the targets and the distance of the ride."""
    launch = launch_speed_rad_s(forces)
    plan = _plan(forces, figures, launch)
    low, high = _breaks(forces, plan, launch)
    s, g, q = low.shape
    crossed = high > low
    where = np.nonzero(crossed)
    stretches = _stretches(forces, where, low[where], high[where], launch, capped=True)
    dt, dx = np.zeros(low.shape), np.zeros(low.shape)
    dt[where], dx[where] = crossing_times(stretches)
    first = np.concatenate([np.ones((s, g, 1), bool), np.zeros((s, g, q - 1), bool)], axis=2)
    dt += np.where(first, plan.shift_time[:, :, None], 0.0)
    dx += np.where(first, plan.shift_distance[:, :, None], 0.0)
    metres = _slip_first(forces.setups.metres_per_radian)
    end_speed = np.where(crossed, metres[:, :, None] * high, 0.0)
    time, distance = np.cumsum(dt.reshape(s, -1), axis=1), np.cumsum(dx.reshape(s, -1), axis=1)
    flat_speed = end_speed.reshape(s, -1)
    reached = np.maximum.accumulate(flat_speed, axis=1)
    times = np.stack([_first_time(reached, time, target) for target in forces.ride.targets_m_s], axis=1)
    # a stretch no acceleration is left on, and a shift out of the curve, end the run
    hopeless = ~np.isfinite(time[:, -1]) | plan.lost
    at_distance, speed_there = _time_to_distance(forces, time, distance, flat_speed, hopeless, stretches, where, (s, g, q), plan)
    gear = np.broadcast_to(np.maximum(np.arange(g), 1)[None, :, None], (s, g, q)).reshape(s, -1)
    shown = crossed.reshape(s, -1)
    return Run(
        times_s=np.where(np.isfinite(times), times, np.nan), distance_time_s=at_distance, distance_speed_m_s=speed_there,
        launch_rad_s=launch, trace_time_s=np.where(shown, time, np.nan), trace_distance_m=np.where(shown, distance, np.nan),
        trace_speed_m_s=np.where(shown, flat_speed, np.nan), trace_gear=gear)


def roll_on_times_s(forces: Forces) -> Array:
    """Time between the two roll-on speeds in each gear, full throttle, no shift: integral of m_k / (F_k - R) dv, (S, G).

    nan where the gear cannot turn at one of the speeds, or never gets there.
    """
    v1, v2 = forces.ride.roll_on_m_s
    pieces, metres = forces.pieces, forces.setups.metres_per_radian
    w1, w2 = v1 / metres, v2 / metres
    slack = 1e-12 * pieces.last
    possible = (w1 >= pieces.first - slack) & (w2 <= pieces.last + slack)
    edges = np.concatenate([np.broadcast_to(pieces.edges, (*metres.shape, pieces.edges.size)), _calm(forces, metres)[..., None]], axis=2)
    edges = np.sort(np.clip(edges, w1[..., None], w2[..., None]), axis=2)
    edges[..., 0], edges[..., -1] = w1, w2
    low, high = edges[..., :-1], edges[..., 1:]
    where = np.nonzero((high > low) & possible[..., None])
    here = (where[0], where[1] + 1, where[2])  # gear 0 is the slipping clutch
    dt = np.zeros(low.shape)
    dt[where], _ = crossing_times(_stretches(forces, here, low[where], high[where], pieces.first, capped=False))
    total = dt.sum(axis=2)
    return np.where(possible & np.isfinite(total), total, np.nan)


def _slip_first(per_gear: Array) -> Array:
    """(S, G) per gear as (S, G+1) with the slipping clutch, first gear's own value, in front."""
    return np.concatenate([per_gear[:, :1], per_gear], axis=1)


def _calm(forces: Forces, metres: Array) -> Array:
    """Engine speed at which a tail wind is as fast as the bike, where the drag changes sign. [rad/s]"""
    return np.maximum(-forces.ride.headwind_m_s, 0.0) / metres


def _plan(forces: Forces, figures: Gears, launch: float) -> _Plan:
    setups, pieces = forces.setups, forces.pieces
    metres = setups.metres_per_radian
    s, g = metres.shape
    enter, leave = np.full((s, g), launch), np.full((s, g), launch)
    used = np.zeros((s, g), bool)
    shift_time, shift_distance = np.zeros((s, g + 1)), np.zeros((s, g + 1))
    lost = np.zeros(s, bool)
    top = figures.top_speed_m_s / metres  # nan where the gear holds no speed
    going = forces.net(np.full((s, g), launch))[:, 0] > 0.0
    speed = launch * metres[:, 0]
    for k in range(g):
        entry = speed / metres[:, k] if k else np.full(s, launch)
        below = going & (entry < pieces.first * (1 - 1e-9))
        lost |= below
        going &= ~below
        entry = np.clip(entry, pieces.first, pieces.last)
        enter[:, k] = entry
        pulls = going & (forces.net(np.repeat(entry[:, None], g, axis=1))[:, k] > 0.0)
        used[:, k] = pulls
        shift = figures.upshift_rad_s[:, k] if k + 1 < g else np.full(s, pieces.last)
        ends_here = (top[:, k] < shift) & ~figures.limited_by_revs[:, k]
        leave[:, k] = np.where(pulls, np.maximum(np.where(ends_here, top[:, k] * (1.0 - NEAR_TOP), shift), entry), entry)
        going = pulls & ~ends_here
        if k + 1 < g:
            left = leave[:, k] * metres[:, k]
            speed, gone = _coast(forces, left)
            # a gear that could not pull after the shift is not shifted into: the bike stays at the revs it has
            entry_next = np.clip(speed / metres[:, k + 1], pieces.first, pieces.last)
            pulls_next = forces.net(np.repeat(entry_next[:, None], g, axis=1))[:, k + 1] > 0.0
            going &= pulls_next
            shift_time[:, k + 2] = np.where(going, setups.shift_time_s, 0.0)
            shift_distance[:, k + 2] = np.where(going, gone, 0.0)
    return _Plan(enter=enter, leave=leave, used=used, shift_time=shift_time, shift_distance=shift_distance, lost=lost)


def _coast(forces: Forces, speed: Array) -> tuple[Array, Array]:
    """Speed after, and distance over, a shift with the clutch open: one Runge-Kutta step, the change being slight."""
    setups = forces.setups
    mass = setups.mass_kg + setups.front_inertia_kg_m2 / setups.front_radius_m**2 + setups.rear_inertia_kg_m2 / setups.rear_radius_m**2
    h = setups.shift_time_s

    def change(v: Array) -> Array:
        return -forces.resistance(v, forces.drag(v)) / mass

    k1 = change(speed)
    k2 = change(speed + 0.5 * h * k1)
    k3 = change(speed + 0.5 * h * k2)
    k4 = change(speed + h * k3)
    after = np.maximum(speed + h * (k1 + 2 * k2 + 2 * k3 + k4) / 6.0, 0.0)
    return after, h * speed + h * h * (k1 + k2 + k3) / 6.0


def _breaks(forces: Forces, plan: _Plan, launch: float) -> tuple[Array, Array]:
    """Low and high engine speed of every stretch (S, G+1, Q): curve pieces, targets and the calm point cut each gear's range."""
    metres = forces.setups.metres_per_radian
    s, g = metres.shape
    edges = forces.pieces.edges
    extra = [np.asarray(target) / metres for target in forces.ride.targets_m_s] + [_calm(forces, metres)]
    own = np.stack([*extra, plan.enter, plan.leave], axis=2)
    points = np.concatenate([np.broadcast_to(edges, (s, g, edges.size)), own], axis=2)
    points = np.sort(np.clip(points, plan.enter[..., None], np.where(plan.used, plan.leave, plan.enter)[..., None]), axis=2)
    slip = np.zeros((s, 1, points.shape[2]))
    starts = plan.used[:, 0]
    slip[:, 0, -1] = np.where(starts, launch, 0.0)
    for n, value in enumerate(extra):
        slip[:, 0, n + 1] = np.where(starts, np.minimum(value[:, 0], launch), 0.0)
    points = np.concatenate([np.sort(slip, axis=2), points], axis=1)
    return points[..., :-1], points[..., 1:]


def _stretches(
    forces: Forces, where: tuple[Array, ...], low: Array, high: Array, launch: float, *, capped: bool
) -> Stretches:
    """The accelerations on each stretch as polynomials; `where` is (set-up, gear with 0 for the slipping clutch, number)."""
    s, ride, pieces = forces.setups, forces.ride, forces.pieces
    row, gear = where[0], where[1]
    slips = gear == 0
    gear = np.maximum(gear - 1, 0)
    j = np.clip(np.searchsorted(pieces.edges, 0.5 * (low + high), side="right") - 1, 0, pieces.edges.size - 2)
    edge = np.where(slips, 0.0, pieces.edges[j])
    torque = np.where(slips, np.array([pieces.torque(launch), 0.0, 0.0, 0.0])[:, None], pieces.coefficients[:, j])
    metres, mass, pitch = s.metres_per_radian[row, gear], s.effective_mass[row, gear], s.pitch_moment[row, gear]
    if slips.any():
        mass, pitch = _without_crank(forces, row, gear, slips, mass, pitch)
    cos, sin = np.cos(ride.slope_rad), np.sin(ride.slope_rad)
    m, f2 = s.mass_kg[row], s.f2_n_s2_m2[row]
    start = metres * edge
    against = start + ride.headwind_m_s
    f2 = np.where(against + metres * 0.5 * (low + high - 2 * edge) < 0.0, -f2, f2)
    drag = np.array([f2 * against**2, 2.0 * f2 * against * metres, f2 * metres**2])
    resistance = drag.copy()
    resistance[0] += s.f0_n[row] * cos + m * (G * sin) + s.f1_n_s_m[row] * start
    resistance[1] += s.f1_n_s_m[row] * metres
    engine = torque * (s.efficiency[row] * s.torque_factor[row] / metres)
    engine[:3] -= resistance
    engine /= mass
    if capped:
        lift, traction = _caps(forces, row, drag, resistance, pitch)
    else:
        lift = traction = np.broadcast_to(np.array([[np.inf], [0.0], [0.0]]), drag.shape)
    return Stretches(low=low - edge, high=high - edge, engine=engine, lift=lift, traction=traction, metres=metres, start_m_s=start)


def _without_crank(
    forces: Forces, row: Array, gear: Array, slips: Array, mass: Array, pitch: Array
) -> tuple[Array, Array]:
    """Effective mass and pitch moment where the clutch slips: the crank's speed does not change, so its inertia is left out."""
    s = forces.setups
    crank = s.crank_inertia_kg_m2[row] * s.ratios[row, gear] / s.rear_radius_m[row]
    whole = s.effective_mass[row, gear] - s.efficiency[row] * crank * s.ratios[row, gear] / s.rear_radius_m[row]
    moment = pitch_moment_kg_m(
        s.mass_kg[row], s.height_m[row], s.front_inertia_kg_m2[row], s.front_radius_m[row], s.rear_inertia_kg_m2[row],
        s.rear_radius_m[row], 0.0, s.ratios[row, gear], 1.0)
    return np.where(slips, whole, mass), np.where(slips, moment, pitch)


def _caps(forces: Forces, row: Array, drag: Array, resistance: Array, pitch: Array) -> tuple[Array, Array]:
    """The accelerations that lift the front and that spin the rear, as quadratics."""
    s, ride = forces.setups, forces.ride
    cos, sin = np.cos(ride.slope_rad), np.sin(ride.slope_rad)
    m, base, mu = s.mass_kg[row], s.wheelbase_m[row], s.friction[row]
    held = -s.drag_height_m[row] * drag  # moment that keeps the front down, less what the air takes
    held[0] += m * G * (s.ahead_m[row] * cos - s.height_m[row] * sin)
    lift = held / pitch
    push = -mu / base * held - resistance
    push[0] += mu * m * G * cos
    inertia = m + s.front_inertia_kg_m2[row] / s.front_radius_m[row] ** 2 - mu * pitch / base
    grips = inertia <= 0.0  # the load thrown back grows faster than the force needed: the rear never spins
    traction = push / np.where(grips, 1.0, inertia)
    traction[:, grips] = np.array([[np.inf], [0.0], [0.0]])
    return lift, traction


def _first_time(reached: Array, time: Array, target: float) -> Array:
    there = reached >= target * (1.0 - 1e-12)
    k = np.argmax(there, axis=1)
    found = np.take_along_axis(time, k[:, None], axis=1)[:, 0]
    return np.where(there.any(axis=1), found, np.inf)


def _time_to_distance(
    forces: Forces, time: Array, distance: Array, speed: Array, hopeless: Array, stretches: Stretches,
    where: tuple[Array, ...], shape: tuple[int, int, int], plan: _Plan,
) -> tuple[Array, Array]:
    """Time to, and speed at, the ride's distance: inside a stretch, inside a shift, or at the speed the run ends with."""
    s, g, q = shape
    goal = forces.ride.distance_m
    there = distance >= goal
    k = np.where(there.any(axis=1), np.argmax(there, axis=1), g * q - 1)
    rows = np.arange(s)
    ended = ~there.any(axis=1) & np.isfinite(distance[:, -1])
    before_t = np.where(k > 0, time[rows, k - 1], 0.0)
    before_x = np.where(k > 0, distance[rows, k - 1], 0.0)
    last_speed = speed.max(axis=1)
    gear, number = np.divmod(k, q)
    first = number == 0
    shift_t, shift_x = (np.where(first, a[rows, gear], 0.0) for a in (plan.shift_time, plan.shift_distance))
    left = goal - before_x
    in_shift = ~ended & (left < shift_x)
    index = np.full(shape, -1)
    index[where] = np.arange(where[0].size)
    own = index.reshape(s, -1)[rows, k]
    result, final = np.full(s, np.nan), np.full(s, np.nan)
    usable = ~ended & ~in_shift & (own >= 0) & np.isfinite(before_t)
    if usable.any():
        inside = stretches.take(own[usable])
        dt, end = _into_stretch(inside, (left - shift_x)[usable])
        result[usable] = before_t[usable] + shift_t[usable] + dt
        final[usable] = inside.start_m_s + inside.metres * end
    if in_shift.any():
        mean = (shift_x / np.where(shift_t > 0, shift_t, 1.0))[in_shift]
        result[in_shift] = before_t[in_shift] + left[in_shift] / mean
        final[in_shift] = mean
    steady = ended & ~hopeless & (last_speed > 0)
    result[steady] = time[steady, -1] + (goal - distance[steady, -1]) / last_speed[steady]
    final[steady] = last_speed[steady]
    return result, final


def _into_stretch(s: Stretches, goal_m: Array) -> tuple[Array, Array]:
    """Time to cover a distance that ends inside each stretch, and the x where it ends: Newton on the distance."""
    low, high = s.low.copy(), s.high.copy()
    x = 0.5 * (low + high)
    dt = np.zeros_like(x)
    open_ones = np.arange(x.size)  # each is left alone once it has arrived, whatever the others still need
    for _ in range(60):
        part = s.take(open_ones)
        dt[open_ones], dx = crossing_times(part.between(part.low, x[open_ones]))
        miss = dx - goal_m[open_ones]
        going = np.abs(miss) > 1e-10 * np.maximum(goal_m[open_ones], 1.0)
        if not going.any():
            break
        part, miss, open_ones = part.take(going), miss[going], open_ones[going]
        here = x[open_ones]
        low[open_ones] = np.where(miss < 0, here, low[open_ones])
        high[open_ones] = np.where(miss < 0, high[open_ones], here)
        a = part.three(here[:, None]).min(axis=0)[:, 0]
        with np.errstate(invalid="ignore", divide="ignore"):  # past a place that is never reached the miss is infinite
            newton = here - miss * a / (part.metres * (part.start_m_s + part.metres * here))
        inside = (newton > low[open_ones]) & (newton < high[open_ones])
        x[open_ones] = np.where(inside, newton, 0.5 * (low[open_ones] + high[open_ones]))
    return dt, x
