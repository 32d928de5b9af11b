"""A bike and its rider from the side, as simple shapes on the wheels of the build: the shape is ours, the measures are the build's."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace

from ridesim.plots.scale import Circle, Stroke

SHAPE_BASE = 1.42  # the wheelbase that the frame below is drawn for [m]
# lengths ahead of the rear axle and above the ground [m]
FRAME = ((1.06, 0.93), (0.93, 0.36), (0.52, 0.33), (0.47, 0.80), (1.06, 0.93))
TANK = ((1.04, 0.95), (0.98, 1.03), (0.76, 1.02), (0.58, 0.86), (0.96, 0.84), (1.04, 0.95))
SEAT = ((0.60, 0.86), (0.40, 0.83), (0.02, 0.88), (-0.20, 0.93), (0.05, 0.82), (0.47, 0.80))
PIVOT, HEAD, BAR, PEG = (0.50, 0.40), (1.10, 1.02), (0.98, 1.12), (0.55, 0.34)
ENGINE, ENGINE_R = (0.72, 0.48), 0.12
RIM = 0.72  # of the radius of the tire
# from the rider's center of mass
HIP, SHOULDER, HELMET, HELMET_R = (-0.08, -0.19), (0.05, 0.27), (0.12, 0.45), 0.12
KNEE = (0.30, 0.10)  # from the hip, forward and down


def _stroke(points: tuple[tuple[float, float], ...], stretch: float, role: str, *, thin: bool = False) -> Stroke:
    return Stroke(
        x=[x * stretch for x, _ in points], y=[y for _, y in points], role=role, thin=thin, solid=role == "road"
    )


def bike(geometry: Mapping[str, float]) -> list[Circle | Stroke]:
    """Wheels, fork, frame, tank, seat and engine [m].

    >>> parts = bike({"wheelbase_m": 1.4, "rear_radius_m": 0.32, "front_radius_m": 0.33})
    >>> parts[2].x, parts[2].r  # the front tire
    (1.4, 0.33)
    """
    base, rear, front = (geometry[key] for key in ("wheelbase_m", "rear_radius_m", "front_radius_m"))
    stretch = base / SHAPE_BASE
    wheels = [
        Circle(x=x, y=r, r=r * share, role="road", thin=share < 1, solid=True)
        for x, r in ((0.0, rear), (base, front))
        for share in (1.0, RIM)
    ]
    fork = ((base / stretch, front), HEAD, BAR)
    return [
        *wheels,
        *(_stroke(points, stretch, "road") for points in (FRAME, fork, ((0.0, rear), PIVOT))),
        *(_stroke(points, stretch, "road", thin=True) for points in (TANK, SEAT)),
        Circle(x=ENGINE[0] * stretch, y=ENGINE[1], r=ENGINE_R, role="road", thin=True, solid=True),
    ]


def rider(geometry: Mapping[str, float], role: str, legend: str) -> list[Circle | Stroke]:
    """A rider about the center of mass that a geometry has, hands on the bar and feet on the pegs [m]."""
    stretch = geometry["wheelbase_m"] / SHAPE_BASE
    ahead, height = geometry["rider_ahead_m"], geometry["rider_height_m"]

    def at(offset: tuple[float, float]) -> tuple[float, float]:
        return ahead + offset[0], height + offset[1]

    hip, shoulder, helmet = at(HIP), at(SHOULDER), at(HELMET)
    knee = (hip[0] + KNEE[0], hip[1] - KNEE[1])
    peg, bar = ((x * stretch, y) for x, y in (PEG, BAR))
    return [
        replace(_stroke((peg, knee, hip, shoulder, bar), 1.0, role), legend=legend),
        Circle(x=helmet[0], y=helmet[1], r=HELMET_R, role=role, legend=legend),
    ]


def scaled(part: Circle | Stroke, unit: float) -> Circle | Stroke:
    """A part in other units of length, `unit` of them to the meter."""
    if isinstance(part, Circle):
        return replace(part, x=part.x * unit, y=part.y * unit, r=part.r * unit)
    return replace(part, x=[one * unit for one in part.x], y=[one * unit for one in part.y])
