"""Charts and drawings, the same in a notebook and in the app.

Each name here takes one bike, or two (now and planned), and perhaps conditions, and gives a plotly figure:
`rs.plots.pull(bike, new)`. An answer may stand for a bike, which saves asking again. `units` is "metric" or "us".
Underneath, `charts` makes plain figures of answers, and the other files draw plain numbers; plotly is loaded with the first figure.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, TypedDict, Unpack

if TYPE_CHECKING:
    from plotly.graph_objects import Figure

    from ridesim.answers.answer import Answer
    from ridesim.answers.solved import Conditions
    from ridesim.bike import Bike
    from ridesim.public import Selection

    Drawn = Bike | Answer

__all__ = [
    "chain",
    "choices",
    "climb",
    "cruise",
    "front_lift",
    "front_motion",
    "front_still",
    "gain",
    "masses",
    "power",
    "pull",
    "run",
    "speeds",
    "tires",
    "torque",
    "wheel_power_change",
]


class Look(TypedDict, total=False):
    """How a chart looks: units "metric" or "us", dark for a dark page; metric and light unless given."""

    units: str
    dark: bool


def speeds(now: Drawn, planned: Drawn | None = None, road: Conditions | None = None, **look: Unpack[Look]) -> Figure:
    """Engine speed over road speed in every gear, the best upshifts, the cruising speed and the rev limit.

    >>> import ridesim as rs
    >>> rs.plots.speeds(rs.demo("coast-single")).layout.yaxis.title.text
    'Engine speed [rev/min]'
    """
    return _asked("speeds", "speeds", (now, planned), road, **look)


def cruise(now: Drawn, planned: Drawn | None = None, road: Conditions | None = None, **look: Unpack[Look]) -> Figure:
    """Power at the wheel in each gear over what road and air take.

    >>> import ridesim as rs
    >>> rs.plots.cruise(rs.demo("coast-single")).layout.yaxis.title.text
    'Power at the wheel [kW]'
    """
    return _asked("cruise", "cruising", (now, planned), road, **look)


def pull(now: Drawn, planned: Drawn | None = None, road: Conditions | None = None, **look: Unpack[Look]) -> Figure:
    """Wheel force in every gear beside the resistance on level road and on three grades.

    >>> import ridesim as rs
    >>> rs.plots.pull(rs.demo("coast-single")).layout.yaxis.title.text
    'Wheel force [N]'
    """
    return _asked("pull", "pull", (now, planned), road, **look)


def torque(now: Drawn, planned: Drawn | None = None, road: Conditions | None = None, **look: Unpack[Look]) -> Figure:
    """Torque at the crank in the standard air of its sheet.

    >>> import ridesim as rs
    >>> rs.plots.torque(rs.demo("coast-single")).layout.yaxis.title.text
    'Torque [N·m]'
    """
    return _asked("torque", "power", (now, planned), road, **look)


def power(now: Drawn, planned: Drawn | None = None, road: Conditions | None = None, **look: Unpack[Look]) -> Figure:
    """Power at the crank in standard air (thick) and at the wheel on the day (thin).

    >>> import ridesim as rs
    >>> rs.plots.power(rs.demo("coast-single")).layout.yaxis.title.text
    'Power [kW]'
    """
    return _asked("power", "power", (now, planned), road, **look)


def front_lift(
    now: Drawn, planned: Drawn | None = None, road: Conditions | None = None, **look: Unpack[Look]
) -> Figure:
    """The lift ratio in every gear over engine speed; at 1 the front comes up.

    >>> import ridesim as rs
    >>> rs.plots.front_lift(rs.demo("coast-single")).layout.yaxis.title.text
    'Lift ratio'
    """
    return _asked("front_lift", "front_lift", (now, planned), road, **look)


def climb(now: Drawn, planned: Drawn | None = None, road: Conditions | None = None, **look: Unpack[Look]) -> Figure:
    """The grade each gear climbs steadily at each speed, and where the front goes light in first.

    >>> import ridesim as rs
    >>> rs.plots.climb(rs.demo("coast-single")).layout.yaxis.title.text
    'Grade [%]'
    """
    return _asked("climb", "climbing", (now, planned), road, **look)


def chain(now: Drawn, planned: Drawn | None = None, road: Conditions | None = None, **look: Unpack[Look]) -> Figure:
    """Sprockets and chain to scale, and how far the axle can go.

    >>> import ridesim as rs
    >>> rs.plots.chain(rs.demo("coast-single")).layout.yaxis.title.text
    'Height over the shaft [mm]'
    """
    return _asked("chain", "chain", (now, planned), road, **look)


def run(
    now: Drawn,
    planned: Drawn | None = None,
    road: Conditions | None = None,
    *,
    over: str = "time",
    **look: Unpack[Look],
) -> Figure:
    """Speed from rest at full throttle over "time" or "distance", each shift with the gear it goes to.

    >>> import ridesim as rs
    >>> rs.plots.run(rs.demo("coast-single"), over="distance", units="us").layout.xaxis.title.text
    'Distance [ft]'
    """
    from ridesim.errors import InputError

    if over not in ("time", "distance"):
        raise InputError("over", over, "is not what a run is drawn over", 'Write "time" or "distance".')
    return _asked("run", "standing_run", (now, planned), road, over=over, **look)


def masses(bike: Drawn, **look: Unpack[Look]) -> Figure:
    """The bike to scale with the centers of mass of bike, rider and luggage, and the one of all together.

    >>> import ridesim as rs
    >>> rs.plots.masses(rs.demo("coast-single")).layout.xaxis.title.text
    'Ahead of the rear axle [mm]'
    """
    return _asked("masses", "front_lift", (bike, None), None, of="side_view", **look)


def front_motion(
    now: Drawn,
    planned: Drawn | None = None,
    road: Conditions | None = None,
    *,
    over: str = "height",
    gear: int = 1,
    **look: Unpack[Look],
) -> Figure:
    """The front tire's "height", its "load" or the bike's "pitch" over time, by the gentlest technique that brings the front up.

    >>> import ridesim as rs
    >>> rs.plots.front_motion(rs.demo("coast-single"), over="load").layout.yaxis.title.text
    'Front wheel load [N]'
    """
    from ridesim.errors import InputError

    if over not in ("height", "load", "pitch"):
        raise InputError("over", over, "is not what is drawn over time", 'Write "height", "load" or "pitch".')
    return _asked(
        "front_motion", "front_wheel", (now, planned), road, of="side_view", over=over, gear=_gear(gear), **look
    )


def front_still(
    now: Drawn, planned: Drawn | None = None, road: Conditions | None = None, *, gear: int = 1, **look: Unpack[Look]
) -> Figure:
    """Bike and rider to scale where the front is highest in a gear, by the gentlest technique that brings it up.

    >>> import ridesim as rs
    >>> rs.plots.front_still(rs.demo("coast-single")).layout.yaxis.scaleanchor
    'x'
    """
    return _asked("front_still", "front_wheel", (now, planned), road, of="side_view", gear=_gear(gear), **look)


def _gear(gear: int) -> int:
    """A gear that is one; the top one is drawn where there are fewer."""
    from ridesim.errors import InputError

    if isinstance(gear, bool) or not isinstance(gear, int) or gear < 1:
        raise InputError("gear", gear, "is not a gear", "Count gears from first, which is 1.")
    return gear


def gain(now: Bike, planned: Bike, road: Conditions | None = None, **look: Unpack[Look]) -> Figure:
    """By how much the planned bike pushes more or less than that of now, over engine speed and gear.

    >>> import ridesim as rs
    >>> bike = rs.demo("coast-single")
    >>> rs.plots.gain(bike, bike.with_changes(rear=43)).data[0].type
    'heatmap'
    """
    return _of_two("gain", "tune_gain", now, planned, road, **look)


def wheel_power_change(now: Bike, planned: Bike, road: Conditions | None = None, **look: Unpack[Look]) -> Figure:
    """By how much the planned tune has more or less power at the wheel, over engine speed, with the band of that.

    >>> import ridesim as rs
    >>> bike = rs.demo("plateau-single")
    >>> [line.name for line in rs.plots.wheel_power_change(bike, bike.with_changes(tune="stock")).data][:3]
    ['Change', 'Within the tolerances', 'Within the tolerances']
    """
    return _of_two("wheel_power_change", "tune_gain", now, planned, road, **look)


def tires(now: Bike, planned: Bike | None = None, **look: Unpack[Look]) -> Figure:
    """Both wheels to scale on the same ground: outer line the tire, inner line the rim.

    >>> import ridesim as rs
    >>> bike = rs.demo("coast-single")
    >>> len(rs.plots.tires(bike, bike.with_changes(rear_tire="130/90-17")).data) > len(rs.plots.tires(bike).data)
    True
    """
    return _of_two("tires", "tire_swap", now, planned or now, None, **look)


def choices(selection: Selection, **look: Unpack[Look]) -> Figure:
    """Every pair of `rs.choose` by the two figures that are traded, what is fitted now and what the verdict names marked.

    >>> import ridesim as rs
    >>> choice = rs.choose(rs.demo("coast-single"), front=range(13, 16), rear=range(39, 44))
    >>> rs.plots.choices(choice).layout.yaxis.title.text
    'Wheel force in first [N]'
    """
    from ridesim.plots import charts

    decided = selection.verdict
    planned = decided.candidate if decided.action == "order" else None
    return _drawn(charts.choices(selection.choice, decided.fitted, planned, **_as_drawn(look)))


def _asked(
    chart: str,
    question: str,
    bikes: tuple[Drawn, Drawn | None],
    road: Conditions | None,
    *,
    of: str = "charts",
    over: str | None = None,
    gear: int | None = None,
    **look: Unpack[Look],
) -> Figure:
    """A chart of the answers to a question, drawn by a file of this folder."""
    from importlib import import_module

    from ridesim import answers
    from ridesim.answers.solved import solved
    from ridesim.errors import InputError

    ask, more = getattr(answers, question), {"over": over, "gear": gear}
    how = _as_drawn(look) | {name: value for name, value in more.items() if value is not None}
    drawn = [one if isinstance(one, answers.Answer) else ask(solved(one, road)) for one in bikes if one is not None]
    try:
        return _drawn(getattr(import_module(f"{__name__}.{of}"), chart)(*drawn, **how))
    except KeyError as missing:
        raise InputError(
            f"plots.{chart}", None, f"has no {missing} to draw", f"Give bikes, or answers of rs.{question}."
        ) from None


def _of_two(
    chart: str, question: str, now: Bike, planned: Bike, road: Conditions | None, **look: Unpack[Look]
) -> Figure:
    """A chart of an answer about two bikes."""
    from ridesim import answers
    from ridesim.answers.solved import solved
    from ridesim.plots import charts

    answer = getattr(answers, question)(solved(now, road), solved(planned, road))
    return _drawn(getattr(charts, chart)(answer, **_as_drawn(look)))


def _as_drawn(look: Look) -> dict[str, Any]:
    """How a chart is drawn, with what was not said."""
    from ridesim.answers.frames import system_of

    return {"units": system_of(look.get("units", "metric")), "dark": look.get("dark", False)}


def _drawn(figure: dict[str, Any]) -> Figure:
    """A plain figure as a plotly one, which checks every part of it."""
    from plotly import graph_objects

    return graph_objects.Figure(figure)
