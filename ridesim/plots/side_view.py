"""A bike and its rider from the side, as simple shapes on the wheels of the build: the shape is ours, the measures are the build's.

Standing with its centers of mass, and with the front wheel up as the answer has it, beside the motion over time that leads there.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from ridesim.answers.answer import Answer
from ridesim.plots.charts import Axis, both
from ridesim.plots.lines import Line, Mark, lines
from ridesim.plots.scale import Circle, Dot, Stroke, drawing
from ridesim.plots.style import Figure

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
    """A part in other units of length, `unit` of them to the meter.

    >>> scaled(Circle(x=0.0, y=0.3, r=0.3), 1e3).r
    300.0
    """
    if isinstance(part, Circle):
        return replace(part, x=part.x * unit, y=part.y * unit, r=part.r * unit)
    return replace(part, x=[one * unit for one in part.x], y=[one * unit for one in part.y])


def masses(seated: Answer, moved: Answer | None = None, *, units: str, dark: bool) -> Figure:
    """The bike to scale with its centers of mass; `moved` is the front-lift answer with the rider farther back.

    >>> import ridesim as rs
    >>> figure = masses(rs.front_lift(rs.demo("coast-single")), units="metric", dark=False)
    >>> [one["text"] for one in figure["layout"]["annotations"]]
    ['bike', 'rider', 'all, seated', 'luggage']
    """
    x, y = Axis("Ahead of the rear axle", "small length", units), Axis("Height", "small length", units)
    g, m = (one.series["geometry"] for one in (seated, moved or seated))
    base = g["wheelbase_m"]
    back = m["ahead_m"] != g["ahead_m"]
    role, legend = ("planned", "Rider moved back") if back else ("now", "Seated")
    shapes = [*bike(g), *rider(m, role, legend)]
    parts: list[Any] = [
        Stroke(x=x([-0.5, base + 0.45]), y=y([0.0, 0.0]), role="road"),
        *(scaled(one, x.one(1.0)) for one in shapes),
        Dot(x=x.one(g["bike_ahead_m"]), y=y.one(g["bike_height_m"]), text="bike", role="road", below=True),
        Dot(x=x.one(m["rider_ahead_m"]), y=y.one(m["rider_height_m"]), text="rider", role="road"),
        Dot(x=x.one(g["ahead_m"]), y=y.one(g["height_m"]), text="all, seated", large=True),
    ]
    if g["luggage_kg"]:
        parts.append(Dot(x=x.one(g["luggage_ahead_m"]), y=y.one(g["luggage_height_m"]), text="luggage", role="road"))
    if back:
        place = {"x": x.one(m["ahead_m"]), "y": y.one(m["height_m"])}
        parts.append(Dot(**place, text="all, moved", role="planned", large=True, below=True))
        parts.append(_plumb(m, x, y, "planned", "Rider moved back"))
    parts.append(_plumb(g, x, y, "now", "Seated"))
    return drawing(parts, x_title=x.title, y_title=y.title, dark=dark)


def _plumb(places: Mapping[str, float], x: Axis, y: Axis, role: str, legend: str) -> Stroke:
    """The line from a center of mass to the ground."""
    return Stroke(x=x([places["ahead_m"]] * 2), y=y([0.0, places["height_m"]]), role=role, thin=True, legend=legend)


@dataclass(frozen=True, kw_only=True)
class Pose:
    """A body turned about its center of mass and raised, then moved along so that its rear axle stands at 0 [m], [rad]."""

    ahead_m: float
    height_m: float
    axle_height_m: float
    pitch_rad: float
    heave_m: float

    def at(self, x: Any, y: Any) -> tuple[Any, Any]:
        """Where a place of the body stands.

        A place 1 m ahead of the center, with the nose up by 90 degrees:

        >>> pose = Pose(ahead_m=0.7, height_m=0.6, axle_height_m=0.3, pitch_rad=np.pi / 2, heave_m=0.0)
        >>> [float(one) for one in np.round(pose.at(1.7, 0.6), 6)]
        [-0.3, 1.6]
        """
        sine, cosine = np.sin(self.pitch_rad), np.cos(self.pitch_rad)
        along = np.multiply(x, cosine) - np.subtract(y, self.axle_height_m) * sine
        up = np.subtract(x, self.ahead_m) * sine + np.subtract(y, self.height_m) * cosine
        return along, self.height_m + self.heave_m + up


def _put(part: Circle | Stroke, x: Any, y: Any) -> Circle | Stroke:
    """A part at other places."""
    return replace(part, x=float(x), y=float(y)) if isinstance(part, Circle) else replace(part, x=list(x), y=list(y))


def _posed(part: Circle | Stroke, pose: Pose, start: tuple[float, float] | None = None) -> Circle | Stroke:
    """A part of the body in a pose; a stroke that holds a wheel starts at its axle."""
    x, y = pose.at(part.x, part.y)
    return _put(part, x, y) if start is None else _put(part, [start[0], *x[1:]], [start[1], *y[1:]])


def thrown(geometry: Mapping[str, float], back_m: float) -> dict[str, float]:
    """The places of a bike whose rider has moved back, and with the rider the center of all.

    >>> g = {"bike_kg": 150.0, "rider_kg": 50.0, "luggage_kg": 0.0, "ahead_m": 0.7, "rider_ahead_m": 0.5}
    >>> moved = thrown(g, 0.1)
    >>> round(moved["rider_ahead_m"], 3), round(moved["ahead_m"], 3)
    (0.4, 0.675)
    """
    share = geometry["rider_kg"] / sum(geometry[f"{one}_kg"] for one in ("bike", "rider", "luggage"))
    places = {"rider_ahead_m": geometry["rider_ahead_m"] - back_m, "ahead_m": geometry["ahead_m"] - back_m * share}
    return {**geometry, **places}


def lifted(geometry: Mapping[str, float], pose: Pose, clearance_m: float, role: str) -> list[Circle | Stroke]:
    """Bike and rider in a pose: the wheels stand under the body, the rear one on the road, the front one by its clearance above it.

    >>> g = {"wheelbase_m": 1.4, "rear_radius_m": 0.32, "front_radius_m": 0.33, "rider_ahead_m": 0.5, "rider_height_m": 1.0}
    >>> parts = lifted(g, Pose(ahead_m=0.7, height_m=0.6, axle_height_m=0.32, pitch_rad=0.1, heave_m=0.05), 0.04, "now")
    >>> round(parts[2].y, 3), round(parts[0].y, 3)  # the axles
    (0.37, 0.32)
    """
    rear, rear_rim, front, front_rim, frame, fork, swingarm, *rest = bike(geometry)
    rear_at = float(pose.at(rear.x, geometry["rear_radius_m"])[0]), geometry["rear_radius_m"]
    front_x = float(pose.at(front.x, geometry["front_radius_m"])[0])
    front_at = front_x, geometry["front_radius_m"] + max(clearance_m, 0.0)
    parts = [
        *(_put(wheel, *rear_at) for wheel in (rear, rear_rim)),
        *(_put(wheel, *front_at) for wheel in (front, front_rim)),
        _posed(fork, pose, front_at),
        _posed(swingarm, pose, rear_at),
        *(_posed(part, pose) for part in (frame, *rest, *rider(geometry, role, ""))),
    ]
    return parts if role == "now" else [replace(part, role=role, solid=False, thin=True) for part in parts]


MOTIONS = {  # what is drawn over time: its label, its reading, its series
    "height": ("Front tire above the road", "small length", "height_m"),
    "pitch": ("Nose up by", "angle", "pitch_rad"),
    "load": ("Front wheel load", "force", "front_load_n"),
}


def shown_lane(answer: Answer, gear: int, technique: int | None) -> tuple[int, int]:
    """The gear, counted from 0, and the technique that are drawn: the top one where there are fewer, its gentlest
    where none is named.

    gear is counted from 1, technique from 0 in `body.TECHNIQUES`.
    """
    k = min(gear, len(answer.series["shown"])) - 1
    return k, int(answer.series["shown"][k]) if technique is None else technique


def front_motion(
    now: Answer,
    planned: Answer | None = None,
    *,
    units: str,
    dark: bool,
    over: str = "height",
    gear: int = 1,
    technique: int | None = None,
) -> Figure:
    """The front wheel's height or load, or the pitch, over time in a gear; below the road is what the fork has left to extend."""
    label, reading, key = MOTIONS[over]
    x, y = Axis("Since throttle or clutch open", "time", units), Axis(label, reading, units)
    rows = []
    for role, answer in both(now, planned):
        s, lane = answer.series, shown_lane(answer, gear, technique)
        rows.append(Line(x=x(s["time_s"]), y=y(s[key][lane]), role=role, name=label))
    marks = [Mark(axis="y", at=0.0, text="off the road above this", role="warn")] if over == "height" else []
    return lines(
        rows, x_title=x.title, y_title=y.title, dark=dark, marks=marks, from_zero="" if over == "height" else "y"
    )


def front_still(
    now: Answer, planned: Answer | None = None, *, units: str, dark: bool, gear: int = 1, technique: int | None = None
) -> Figure:
    """Bike and rider to scale where the front tire is highest, or lightest on the road, with their centers of mass.

    The body is turned by the pitch about its center of mass and raised by the heave of that moment; a tug has moved
    the rider back.
    """
    x, y = Axis("Ahead of the rear axle", "small length", units), Axis("Height", "small length", units)
    unit = x.one(1.0)
    parts: list[Any] = []
    for role, answer in both(now, planned):
        s, lane = answer.series, shown_lane(answer, gear, technique)
        g, at = s["geometry"], int(np.argmax(s["height_m"][lane]))
        pitch, heave, clearance = (float(s[key][lane][at]) for key in ("pitch_rad", "heave_m", "height_m"))
        pose = Pose(
            ahead_m=g["ahead_m"],
            height_m=g["height_m"],
            axle_height_m=g["rear_radius_m"],
            pitch_rad=pitch,
            heave_m=heave,
        )
        g = thrown(g, float(s["rider_back_m"][lane][at]))
        parts += [scaled(part, unit) for part in lifted(g, pose, clearance, role)]
        told = [("ahead_m", "height_m", "all", True)]
        if role == "now":
            told += [
                ("bike_ahead_m", "bike_height_m", "bike", False),
                ("rider_ahead_m", "rider_height_m", "rider", False),
            ]
        for ahead, height, text, large in told:
            there = [float(one) * unit for one in pose.at(g[ahead], g[height])]
            parts.append(
                Dot(x=there[0], y=there[1], text=text, role=role if large else "road", large=large, below=role != "now")
            )
    base = now.series["geometry"]["wheelbase_m"]
    road: list[Any] = [Stroke(x=x([-0.5, base + 0.45]), y=y([0.0, 0.0]), role="road")]
    return drawing([*road, *parts], x_title=x.title, y_title=y.title, dark=dark)
