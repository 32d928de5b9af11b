"""Getting away with the clutch slipping, up to where first gear catches up."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from ridesim.mechanics.forces import Forces
from ridesim.mechanics.motion import lift_terms, tire_terms
from ridesim.mechanics.quadrature import Stretches, crossing_times

Array = NDArray[np.float64]
Index = NDArray[np.intp]


def slipping(forces: Forces, rows: Index, to: Array, launch: float) -> tuple[Index, Stretches]:
    """From rest with the clutch slipping at the launch speed, up to where first gear turns at `to`, for some set-ups: the stretches,
    and which of the set-ups each belongs to (two where a tail wind falls calm on the way).

    The crank's speed does not change, so its inertia is left out.
    """
    everyone = np.array_equal(rows, np.arange(len(forces.setups)))
    s, motion = forces.setups if everyone else forces.setups.take(rows), forces.motion
    metres, steady, held = s.metres_per_radian[:, :1], motion.steady[rows], motion.held[rows]
    mass = s.mass_kg + s.front_inertia_kg_m2 / s.front_radius_m**2 + s.rear_inertia_kg_m2 / s.rear_radius_m**2
    lifts = (s.mass_kg * s.height_m + s.rear_inertia_kg_m2 / s.rear_radius_m)[:, None]
    pitch = lifts + (s.front_inertia_kg_m2 / s.front_radius_m)[:, None]
    thrust = float(forces.pieces.torque(launch)) * s.efficiency * s.torque_factor / metres[:, 0]

    def under(sign: float, low: Array, high: Array) -> Stretches:
        drag = sign * motion.drag[:, rows, :1]
        engine = np.zeros((4, rows.size))
        engine[:3] = -drag[:, :, 0]
        engine[0] += thrust - steady[:, 0]
        engine[1] -= s.f1_n_s_m * metres[:, 0]
        engine /= mass
        lift = lift_terms(s, held, drag, lifts)[:, :, 0]
        tire = tire_terms(s, forces.ride, held, drag, steady, metres, pitch)[:, :, 0]
        return Stretches(
            low=low,
            high=high,
            engine=engine,
            lift=lift,
            traction=tire,
            metres=metres[:, 0],
            start_m_s=np.zeros(rows.size),
        )

    every = np.arange(rows.size)
    if motion.calm is None:
        return every, under(1.0, np.zeros(rows.size), to)
    calm = np.minimum(-forces.ride.headwind_m_s / metres[:, 0], to)
    return np.concatenate([every, every]), _joined(under(-1.0, np.zeros(rows.size), calm), under(1.0, calm, to))


def slip_times(forces: Forces, rows: Index, to: Array, launch: float) -> tuple[Array, Array]:
    """Time and distance of the slip."""
    owner, stretches = slipping(forces, rows, to, launch)
    dt, dx = crossing_times(stretches)
    return sums(owner, dt, rows.size), sums(owner, dx, rows.size)


def sums(owner: Index, values: Array, size: int) -> Array:
    """The values of each owner added up."""
    return np.bincount(owner, weights=values, minlength=size).astype(float)  # of nothing it would be whole numbers


def _joined(a: Stretches, b: Stretches) -> Stretches:
    return Stretches(
        **{n: np.concatenate([getattr(a, n), getattr(b, n)], axis=-1) for n in Stretches.__dataclass_fields__}
    )
