"""The charts of the answers, as plain figures in metric or US units: what is planned beside what is now, where they differ.

A page draws with these, and so do the doors of `ridesim.plots` in a notebook. `now` and `planned` are answers to one question.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from itertools import pairwise
from typing import TYPE_CHECKING, Any

import numpy as np

from ridesim.answers.answer import Answer
from ridesim.answers.frames import converted
from ridesim.answers.text import shown
from ridesim.plots.lines import Line, Mark, lines
from ridesim.plots.maps import change_map
from ridesim.plots.scale import Box, Circle, Dot, Stroke, drawing
from ridesim.plots.scatter import Points, scatter
from ridesim.plots.style import Figure
from ridesim.units import field_text, shown_in, unit_of

if TYPE_CHECKING:
    from ridesim.selection import Choice, Combination

MOST_DRAWN = 300  # combinations that are drawn one by one; of more, one for each place on the chart
ACROSS, UP = 160, 70  # places on the chart: marks of 7 to 10 pixels, 5 to 6 pixels apart
AXLE_BOX_M = 0.012  # half the height of the box that shows how far the axle can go


class Axis:
    """How one kind of figure stands on an axis: its heading with the unit, and SI arrays as numbers to draw.

    >>> Axis("Road speed", "speed", "us").title, Axis("Road speed", "speed", "metric").one(10.0)
    ('Road speed [mph]', 36.0)
    """

    def __init__(self, label: str, reading: str, system: str) -> None:
        self.reading, self.system = reading, system
        self.unit = unit_of(reading, system)
        self.title = f"{label} [{self.unit}]" if self.unit else label

    def __call__(self, si: Any) -> Any:
        """SI as numbers in the unit of this axis."""
        return np.asarray(shown_in(np.asarray(si, dtype=float), self.reading, self.system)[0], dtype=float)

    def one(self, si: float | None) -> Any:
        """One SI figure, or nothing."""
        return converted(si, self.reading, self.system)

    def words(self, si: float | None) -> str:
        """One SI figure in words, with its unit."""
        return shown(si, self.reading, self.system)


def both(now: Answer, planned: Answer | None) -> tuple[tuple[str, Answer], ...]:
    """The answers to draw by whose they are: now alone where the two do not differ.

    >>> import ridesim as rs
    >>> bike = rs.demo("coast-single")
    >>> now, other = rs.speeds(bike), rs.speeds(bike.with_changes(front=15))
    >>> [role for role, _ in both(now, other)], [role for role, _ in both(now, now)]
    (['now', 'planned'], ['now'])
    """
    if planned is None or now.figures == planned.figures:
        return (("now", now),)
    return (("now", now), ("planned", planned))


def _by_gear(xs: Any, ys: Any, role: str, name: str = "Gear") -> list[Line]:
    """A line for each gear, numbered at its end."""
    gears = enumerate(zip(xs, ys, strict=True), start=1)
    return [Line(x=x, y=y, role=role, name=f"{name} {n}", end=str(n)) for n, (x, y) in gears]


def speeds(now: Answer, planned: Answer | None = None, *, units: str, dark: bool) -> Figure:
    """Engine speed over road speed in every gear, the best upshifts, the cruising speed and the rev limit; of
    `ridesim.answers.speeds`.
    """
    x, y = Axis("Road speed", "speed", units), Axis("Engine speed", "engine speed", units)
    rows = []
    for role, answer in both(now, planned):
        s = answer.series
        rows += _by_gear(x(s["speed_m_s"]), [y(s["engine_speed_rad_s"])] * len(s["speed_m_s"]), role)
        for at, top, bottom in zip(s["shift_speed_m_s"], s["shift_from_rad_s"], s["shift_to_rad_s"], strict=True):
            rows.append(Line(x=x([at, at]), y=y([top, bottom]), role=role, name="Best upshift", thin=True))
    cruise, limit = now.series["cruise_m_s"], now.series["limit_rad_s"]
    marks = [
        Mark(axis="x", at=x.one(cruise), text=f"cruise {x.words(cruise)}"),
        Mark(axis="y", at=y.one(limit), text="rev limit", role="warn"),
    ]
    return lines(rows, x_title=x.title, y_title=y.title, dark=dark, marks=marks)


def cruise(now: Answer, planned: Answer | None = None, *, units: str, dark: bool) -> Figure:
    """Power at the wheel in each gear over what road and air take; of answers of `ridesim.answers.cruising`.

    >>> import ridesim as rs
    >>> figure = cruise(rs.cruising(rs.demo("coast-single")), units="us", dark=False)
    >>> [one["name"] for one in figure["data"][:2]], figure["layout"]["yaxis"]["title"]["text"]
    (['Needed, now', 'Now'], 'Power at the wheel [hp]')
    """
    x, y = Axis("Road speed", "speed", units), Axis("Power at the wheel", "power", units)
    needed = x(now.series["speed_m_s"]), y(now.series["needed_by_speed_w"])
    rows = [Line(x=needed[0], y=needed[1], role="road", legend="Needed, now", name="Needed")]
    for role, answer in both(now, planned):
        power = y(answer.series["available_by_speed_w"])
        rows += _by_gear([x(answer.series["speed_m_s"])] * len(power), power, role, "Available in gear")
    at = now.figures["speed"].value
    marks = [Mark(axis="x", at=x.one(at), text=f"cruise {x.words(at)}")]  # type: ignore[arg-type]
    return lines(rows, x_title=x.title, y_title=y.title, dark=dark, marks=marks)


def pull(now: Answer, planned: Answer | None = None, *, units: str, dark: bool) -> Figure:
    """Wheel force by gear beside the resistance on level road and on grades; of answers of `ridesim.answers.pull`."""
    x, y = Axis("Road speed", "speed", units), Axis("Wheel force", "force", units)
    rows = [
        Line(
            x=x(now.series["road_speed_m_s"]),
            y=y(force),
            role="road",
            legend="Resistance, now",
            name=f"Resistance on {shown(grade, 'percent', units)}",
            end=field_text(grade, "percent", units),
            thin=True,
        )
        for grade, force in now.series["resistance_n"].items()
    ]
    for role, answer in both(now, planned):
        rows += _by_gear(x(answer.series["speed_m_s"]), y(answer.series["force_n"]), role)
    return lines(rows, x_title=x.title, y_title=y.title, dark=dark)


def gain(gained: Answer, *, units: str, dark: bool) -> Figure:
    """By how much one set-up pushes more or less than another, over engine speed and gear: from `tune_gain`.

    Where the two curves share no engine speed, or nothing changes, the chart says so.
    """
    x, z = Axis("Engine speed", "engine speed", units), Axis("Change of wheel force", "force", units)
    change = gained.series.get("force_change_n", [[]])
    return change_map(
        x(gained.series.get("engine_speed_rad_s", [])),
        range(1, len(change) + 1),
        z(change),
        x_title=x.title,
        y_title="Gear",
        change_title=z.title,
        dark=dark,
    )


def wheel_power_change(gained: Answer, *, units: str, dark: bool) -> Figure:
    """The change of wheel power over engine speed, with its band beside it where a tolerance moves it: from
    `tune_gain`.

    At zero is no change: where the band lies clear of it, a gain or a loss is proved.
    """
    x, y = Axis("Engine speed", "engine speed", units), Axis("Change of wheel power", "percent", units)
    named = (("change", "Change"), ("change_low", "Within the tolerances"), ("change_high", "Within the tolerances"))
    rows = [
        Line(
            x=x(gained.series["engine_speed_rad_s"]),
            y=y(values),
            role="now",
            name=name,
            legend=name,
            thin=key != "change",
        )
        for key, name in named
        if (values := gained.series.get(key)) is not None
    ]
    return lines(rows, x_title=x.title, y_title=y.title, dark=dark, from_zero="y")


def torque(now: Answer, planned: Answer | None = None, *, units: str, dark: bool) -> Figure:
    """Torque at the crank in the standard air of its sheet, up to the last of its points; of answers of
    `ridesim.answers.power`.
    """
    return _curve(now, planned, Axis("Torque", "torque", units), dark, "torque_n_m")


def power(now: Answer, planned: Answer | None = None, *, units: str, dark: bool) -> Figure:
    """Power at the crank in standard air, and at the wheel on the day."""
    return _curve(now, planned, Axis("Power", "power", units), dark, "power_w", "wheel_power_w")


def _curve(now: Answer, planned: Answer | None, y: Axis, dark: bool, *keys: str) -> Figure:
    x = Axis("Engine speed", "engine speed", y.system)
    rows = [
        Line(
            x=x(answer.series["engine_speed_rad_s"]),
            y=y(answer.series[key]),
            role=role,
            name="At the wheel" if n else "At the crank",
            end="wheel" if n else "",
            thin=bool(n),
        )
        for role, answer in both(now, planned)
        for n, key in enumerate(keys)
    ]
    return lines(rows, x_title=x.title, y_title=y.title, dark=dark, from_zero="y")


def front_lift(now: Answer, planned: Answer | None = None, *, units: str, dark: bool) -> Figure:
    """The lift ratio in every gear over engine speed; at 1 the front comes up. Of answers of
    `ridesim.answers.front_lift`.

    >>> import ridesim as rs
    >>> figure = front_lift(rs.front_lift(rs.demo("coast-single")), units="metric", dark=False)
    >>> [round(max(gear["y"]), 3) for gear in figure["data"][:5]]
    [0.679, 0.495, 0.375, 0.284, 0.214]
    """
    x, y = Axis("Engine speed", "engine speed", units), Axis("Lift ratio", "ratio", units)
    rows = []
    for role, answer in both(now, planned):
        ratio = y(answer.series["lift_ratio"])
        rows += _by_gear([x(answer.series["engine_speed_rad_s"])] * len(ratio), ratio, role)
    marks = [Mark(axis="y", at=1.0, text="the front comes up", role="warn")]
    return lines(rows, x_title=x.title, y_title=y.title, dark=dark, marks=marks, from_zero="y")


def run(now: Answer, planned: Answer | None = None, *, units: str, dark: bool, over: str = "time") -> Figure:
    """Speed from rest over "time" or "distance", each shift with the gear it goes to; of answers of
    `ridesim.answers.standing_run`.

    It is seen up to half as far again as the distance that the run is timed over.
    """
    axes = {
        "time": ("Time", "time", "time_s", "distance_time"),
        "distance": ("Distance", "distance", "distance_m", "distance"),
    }
    label, reading, key, upto = axes[over]
    x, y = Axis(label, reading, units), Axis("Road speed", "speed", units)
    rows = []
    for role, answer in both(now, planned):
        s = answer.series
        rows.append(Line(x=x(s[key]), y=y(s["speed_m_s"]), role=role, name="Speed"))
        for at in (n for n, (before, after) in enumerate(pairwise(s["gear"]), start=1) if after != before):
            one, gear = slice(at, at + 1), int(s["gear"][at])
            place = {"x": x(s[key][one]), "y": y(s["speed_m_s"][one])}
            rows.append(Line(**place, role=role, name=f"Into gear {gear}", end=str(gear), points=True))
    seen = [x.one(one.figures[upto].value) for one in (now, planned) if one is not None]  # type: ignore[arg-type]
    return lines(rows, x_title=x.title, y_title=y.title, dark=dark, x_upto=seen)


def climb(now: Answer, planned: Answer | None = None, *, units: str, dark: bool) -> Figure:
    """The grade each gear climbs steadily at each speed, and where the front goes light in first; of
    `ridesim.answers.climbing`.
    """
    x, y = Axis("Road speed", "speed", units), Axis("Grade", "percent", units)
    rows = []
    for role, answer in both(now, planned):
        rows += _by_gear(x(answer.series["speed_m_s"]), y(answer.series["grade_by_engine"]), role)
    light, s = "Front goes light, first gear", now.series
    rows.append(
        Line(x=x(s["speed_m_s"][0]), y=y(s["grade_by_front"][0]), role="warn", legend=light, name=light, thin=True)
    )
    marks = [Mark(axis="y", at=y.one(1.0), text="as far up as along (45°)")]
    return lines(rows, x_title=x.title, y_title=y.title, dark=dark, marks=marks)


def chain(now: Answer, planned: Answer | None = None, *, units: str, dark: bool) -> Figure:
    """Sprockets and chain to scale, and how far the axle can go; nothing is drawn of a belt or a shaft. Of
    `ridesim.answers.chain`.
    """
    x, y = Axis("Behind the countershaft", "small length", units), Axis("Height over the shaft", "small length", units)
    parts: list[Any] = []
    start = now.series["center_now_m"]
    if start is not None:
        x0, x1 = (x.one(start + end) for end in now.series["travel_m"])
        parts.append(Box(x0=x0, x1=x1, y0=y.one(-AXLE_BOX_M), y1=y.one(AXLE_BOX_M), text="axle travel"))
    for role, answer in both(now, planned):
        parts += _loop(answer.series, role, x)
    return drawing(parts, x_title=x.title, y_title=y.title, dark=dark)


def _loop(s: Mapping[str, Any], role: str, x: Axis) -> list[Any]:
    if s["front_radius_m"] is None:  # a belt or a shaft
        return []
    center = s["center_m"] if s["center_m"] is not None else s["center_now_m"]
    small = Circle(x=0.0, y=0.0, r=x.one(s["front_radius_m"]), role=role)
    if center is None:
        return [small]
    at, large = x.one(center), x.one(s["rear_radius_m"])
    return [
        small,
        Circle(x=at, y=0.0, r=large, role=role),
        *Stroke.tangents(at, small.r, large, role),
        Dot(x=at, y=0.0, text=x.words(center), role=role, below=role == "planned"),
    ]


def tires(swap: Answer, *, units: str, dark: bool) -> Figure:
    """Both wheels to scale on the same ground, with the tires of now and those planned: from `tire_swap`."""
    x, y = Axis("Ahead of the rear axle", "small length", units), Axis("Height", "small length", units)
    base = swap.series["wheelbase_m"]
    parts: list[Any] = [Stroke(x=x([-0.45, base + 0.45]), y=y([0.0, 0.0]), role="road")]
    alike = swap.series["now"] == swap.series["planned"]
    for role in ("now",) if alike else ("now", "planned"):
        for place, wheel in ((0.0, swap.series[role]["rear"]), (base, swap.series[role]["front"])):
            center = {"x": x.one(place), "y": y.one(wheel["loaded_radius_m"])}
            parts.append(Circle(**center, r=x.one(wheel["free_radius_m"]), role=role))
            parts.append(Circle(**center, r=x.one(wheel["rim_radius_m"]), role=role, thin=True))
            parts.append(Dot(**center, text=y.words(wheel["loaded_radius_m"]), role=role, below=role == "planned"))
    return drawing(parts, x_title=x.title, y_title=y.title, dark=dark)


def choices(
    choice: Choice,
    now: Combination | None,
    planned: Combination | None = None,
    *,
    units: str,
    dark: bool,
    picks: Sequence[str] = (),
) -> Figure:
    """Every combination by the two figures that are traded; picks are words by which a point is known to whoever draws
    it.

    Of more than MOST_DRAWN combinations one is drawn for each place on the chart, and told how many lie there.

    >>> import ridesim as rs
    >>> from ridesim.selection import choose
    >>> found = choose(rs.demo("coast-single").build, fronts=(14, 15), rears=(41, 42))
    >>> figure = choices(found, found.candidates[0], units="metric", dark=False)
    >>> [(one["name"], list(one["text"])) for one in figure["data"][2:4]]
    [('Best trade-offs', ['15/41', '15/42']), ('Now', ['14/41'])]
    """
    x, y = (Axis(goal.label_in(units).capitalize(), goal.reading, units) for goal in choice.goals)
    groups = _kinds(
        choice, now, planned, x(choice.figures[choice.goals[0].key]), y(choice.figures[choice.goals[1].key]), picks
    )
    return scatter(groups, x_title=x.title, y_title=y.title, dark=dark)


def _kinds(
    choice: Choice, now: Combination | None, planned: Combination | None, xs: Any, ys: Any, picks: Sequence[str]
) -> list[Points]:
    """The combinations by kind, and the two set-ups."""
    labels, words = labels_of(choice), np.array(picks)
    meets, best = choice.held.meets, choice.best & choice.held.meets
    there = np.isfinite(xs) & np.isfinite(ys)
    groups = {"falls": ~meets, "meets": meets & ~best, "best": best}
    rows_of_kind = {kind: np.nonzero(rows & there)[0] for kind, rows in groups.items()}
    drawn = {
        kind: _apart(rows, xs, ys) if len(xs) > MOST_DRAWN else (rows, None) for kind, rows in rows_of_kind.items()
    }
    for kind, one in (("now", now), ("planned", planned)):
        drawn[kind] = np.array([one.n] if one is not None and there[one.n] else [], dtype=int), None
    return [
        Points(
            kind=kind,
            x=xs[rows].tolist(),
            y=ys[rows].tolist(),
            names=_names(labels[rows], on),
            picks=words[rows].tolist() if words.size else (),
        )
        for kind, (rows, on) in drawn.items()
    ]


def _apart(rows: Any, xs: Any, ys: Any) -> tuple[Any, Any]:
    """One row for each mark that can be seen apart, and how many marks lie there: the browser draws mark by mark."""
    if not rows.size:
        return rows, None
    place = [_place(values, rows, parts) for values, parts in ((xs, ACROSS), (ys, UP))]
    _, first, count = np.unique(place[0] * (UP + 1) + place[1], return_index=True, return_counts=True)
    return rows[first], count


def _place(values: Any, rows: Any, parts: int) -> Any:
    least, most = np.nanmin(values), np.nanmax(values)
    return np.rint((values[rows] - least) * (parts / max(most - least, 1e-300))).astype(int)


def _names(labels: Any, count: Any) -> list[str]:
    """The name at each mark, and how many more lie under it."""
    if count is None:
        return list(labels.tolist())
    return [
        f"{label} and {n - 1} more" if n > 1 else label
        for label, n in zip(labels.tolist(), count.tolist(), strict=True)
    ]


def labels_of(choice: Choice) -> Any:
    """Every combination by its pair, with tire and tune where there are several."""
    crossing = choice.crossing
    pairs = [f"{a}/{b}" for a, b in zip(crossing.fronts.tolist(), crossing.rears.tolist(), strict=True)]
    tires, tunes = crossing.bikes.tires, crossing.bikes.tunes
    ends = [
        "".join(f" {word}" for word, several in ((tire, len(tires) > 1), (tune, len(tunes) > 1)) if several)
        for tire in tires
        for tune in tunes
    ]
    return np.array([pair + end for end in ends for pair in pairs])
