"""What `import ridesim as rs` gives: a build read, the questions, two bikes compared, sprockets chosen.

Every question takes a bike and, if need be, conditions, and gives an Answer: its sentence by `print`, its figures in SI with
their bands, its tables as frames, its working, assumptions, notes and cautions.
"""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass, replace
from functools import cache
from pathlib import Path
from typing import TYPE_CHECKING, Any

from ridesim import answers, evidence, reference
from ridesim.answers import Answer, Comparison
from ridesim.answers.solved import Conditions, conditions, solved
from ridesim.bike import Bike, make_bike
from ridesim.buildfile.io import read as read_build
from ridesim.errors import InputError, did_you_mean
from ridesim.evidence.answers import fit_answer, next_answer
from ridesim.units import quantity

if TYPE_CHECKING:
    from ridesim.logs.log import Log
    from ridesim.selection import Choice, Verdict


def read(path: str | Path) -> Bike:
    """The bike in a build file, fitted to its readings where it holds any.

    Raises
    ------
    InputError
        What is wrong with the file, each problem with its place and its mend; InputErrors where there are several.

    >>> import ridesim as rs
    >>> rs.read("no-such-bike.toml")
    Traceback (most recent call last):
    ridesim.errors.InputError: no-such-bike.toml: cannot be read (No such file or directory). Check the name of the file.
    """
    return make_bike(evidence.with_evidence(read_build(path)))


def demos() -> tuple[str, ...]:
    """The names of the invented builds.

    >>> import ridesim as rs
    >>> rs.demos()
    ('coast-single', 'plateau-single', 'road-twin')
    """
    return tuple(sorted(path.stem for path in (reference.DATA / "demo").glob("*.toml")))


def demo(name: str) -> Bike:
    """An invented bike, to try things with.

    >>> import ridesim as rs
    >>> rs.demo("plateau-single")
    Bike('Plateau single (invented)', 14/43, tune 'rejetted')
    >>> rs.demo("plateau")
    Traceback (most recent call last):
    ridesim.errors.InputError: demo = 'plateau': is not a demo build. Did you mean 'plateau-single'?
    """
    if name not in demos():
        raise InputError("demo", name, "is not a demo build", did_you_mean(name, demos()))
    return _demo(name)


@cache
def _demo(name: str) -> Bike:
    return read(reference.DATA / "demo" / f"{name}.toml")


def speeds(bike: Bike, road: Conditions | None = None) -> Answer:
    """What each gear gives: speed for each 1,000 rev/min and at the rev limit, best upshifts.

    >>> import ridesim as rs
    >>> rs.speeds(rs.demo("coast-single")).to_frame()["Speed at the rev limit [km/h]"].round(1).tolist()
    [47.2, 71.5, 93.8, 116.7, 140.3]
    """
    return answers.speeds(solved(bike, road))


def cruising(bike: Bike, road: Conditions | None = None) -> Answer:
    """What cruising takes: engine speed, power in hand, the hill and head wind held without shifting down, fuel and range.

    >>> import ridesim as rs
    >>> rs.cruising(rs.demo("coast-single"), rs.Conditions(cruise="95 km/h")).to_frame("us")["Power in hand [hp]"].round(1).tolist()
    [13.1, 10.9]
    """
    return answers.cruising(solved(bike, road))


def pull(bike: Bike, road: Conditions | None = None) -> Answer:
    """How hard it pulls: wheel force, best acceleration, top speed and roll-on of each gear.

    >>> import ridesim as rs
    >>> rs.pull(rs.demo("coast-single")).to_frame()["Ended by"].tolist()
    ['revs', 'revs', 'revs', 'revs', 'power']
    """
    return answers.pull(solved(bike, road))


def front_lift(bike: Bike, road: Conditions | None = None) -> Answer:
    """How easily the front wheel comes up on the throttle, gear by gear, and whether the rear spins first.

    >>> import ridesim as rs
    >>> rs.front_lift(rs.demo("coast-single")).to_frame()["Highest lift ratio"].round(3).tolist()
    [0.679, 0.495, 0.375, 0.284, 0.214]
    """
    return answers.front_lift(solved(bike, road))


def climbing(bike: Bike, road: Conditions | None = None) -> Answer:
    """The steepest grade each gear climbs steadily, and what ends it: engine, front wheel or rear tire.

    >>> import ridesim as rs
    >>> rs.climbing(rs.demo("coast-single")).to_frame()["Steepest grade [%]"].round(1).tolist()
    [83.3, 51.1, 34.2, 24.4, 17.7]
    """
    return answers.climbing(solved(bike, road))


def standing_run(bike: Bike, road: Conditions | None = None) -> Answer:
    """The run from a standstill through the gears at full throttle: times, distance, top speed, shift points.

    >>> import ridesim as rs
    >>> print(rs.standing_run(rs.demo("coast-single")).to_frame(table="figures").loc["distance_time", "Value"].round(2))
    17.27
    """
    return answers.standing_run(solved(bike, road))


def chain(bike: Bike, road: Conditions | None = None) -> Answer:
    """Whether the chain fits: links to order, where the axle ends up, and how hard the chain is pulled.

    >>> import ridesim as rs
    >>> rs.chain(rs.demo("coast-single")).to_frame()["Links"].tolist()
    [98, 100, 102, 104, 106]
    """
    return answers.chain(solved(bike, road))


def tires(bike: Bike, road: Conditions | None = None) -> Answer:
    """What the tires give and carry: roll-out, size, load, speed symbol, what the speedometer shows.

    >>> import ridesim as rs
    >>> rs.tires(rs.demo("coast-single")).to_frame(units="us")["Rolling circumference [in]"].round(1).tolist()
    [78.6, 79.3]
    """
    return answers.tires(solved(bike, road))


def tire_swap(now: Bike, planned: Bike, road: Conditions | None = None) -> Answer:
    """Whether the planned bike's tires fit where those of now are, which sprocket puts the gearing back, and what else they change.

    >>> import ridesim as rs
    >>> bike = rs.demo("coast-single")
    >>> rs.tire_swap(bike, bike.with_changes(rear_tire="120/80-18 M/C 62S")).figures["verdict"].value
    'does not fit'
    """
    return answers.tire_swap(solved(now, road), solved(planned, road))


def power(bike: Bike, road: Conditions | None = None) -> Answer:
    """Peak torque and power of the tune, at the crank in the standard air of its sheet and at the wheel on the day.

    >>> import ridesim as rs
    >>> print(rs.power(rs.demo("coast-single")).to_frame("us", table="figures").loc["power", "Value"].round(1))
    26.4
    """
    return answers.power(solved(bike, road))


def altitude(
    bike: Bike,
    road: Conditions | None = None,
    *,
    start: str | float | None = None,
    end: str | float | None = None,
    log: str | Path | Log | None = None,
    jet: float | None = None,
    sizes: Iterable[float] | None = None,
) -> Answer:
    """What is left at another height with today's jets: power, mixture, when to change the main jet, and the hills held.

    Parameters
    ----------
    bike : Bike
        With the gearing that is planned; it is taken to run right in the air of its build file.
    road : Conditions, optional
        The speed to hold, and the grade where no log has one.
    start, end : str or float, optional
        Heights, "100 m" or in meters; or a log. [m]
    log : path or Log, optional
        A track or route with heights; it may lack times.
    jet : float, optional
        The main jet that runs right, numbered by bore.
    sizes : iterable of float, optional
        Jets that can be had; steps of 2.5 unless given.

    Raises
    ------
    InputError
        Neither heights nor a log, or both; heights no road has; a jet that cannot be.

    >>> import ridesim as rs
    >>> found = rs.altitude(rs.demo("coast-single"), start="20 m", end="2200 m", jet=125)
    >>> round(found.figures["power_left"].value, 2), found.to_frame(table="Which jet is nearest where")["Jet"].tolist()
    (0.74, [125.0, 122.5, 120.0])
    """
    from ridesim.environment.climb import stated_climb
    from ridesim.fueling.altitude import JetFitted
    from ridesim.fueling.altitude import altitude as found
    from ridesim.logs.reader import read_climb

    ride = conditions(road).ride(bike)
    if (log is None) == (start is None or end is None):
        raise InputError(
            "start", start, "goes with an end, or with neither but a log", 'Write start="100 m", end="2200 m".'
        )
    if log is None:
        low, high = (float(quantity(one, "length", "m", where)) for where, one in (("start", start), ("end", end)))
        climb = stated_climb(low, high, math.tan(ride.slope_rad))
    else:
        climb = read_climb(log)
    listed = None if sizes is None else tuple(sizes)
    return found(bike, climb, ride=ride, jet=None if jet is None else JetFitted(size=jet, sizes=listed))


def compare(now: Bike, planned: Bike, road: Conditions | None = None) -> Comparison:
    """Every figure of two bikes on one road, with its change and the band of the change.

    What is uncertain about one bike moves both where the second was made from the first by `with_changes`, and mostly cancels.

    >>> import ridesim as rs
    >>> bike = rs.demo("coast-single")
    >>> both = rs.compare(bike, bike.with_changes(front=15))
    >>> both
    Comparison(front sprocket: 14 -> 15)
    >>> both.to_frame().xs("power_in_hand", level="key")[["Change", "Unit", "Verdict"]].round(2).values.tolist()
    [[-0.93, 'kW', 'worse']]
    """
    return answers.compare(solved(now, road), solved(planned, road))


def fit(bike: Bike) -> Answer:
    """What the readings of a bike's build file say together: every figure fitted, and which readings conflict.

    >>> import ridesim as rs
    >>> print(rs.fit(rs.demo("coast-single")))
    Nothing was measured yet: the figures stand as they are written.
    """
    return fit_answer(evidence.fit(replace(bike.build, posterior=None)))


def measure_next(bike: Bike, figure: str = "power_in_hand") -> Answer:
    """Which reading would narrow a figure most, and how it is taken; "verdict" asks it of the choice of sprockets.

    >>> import ridesim as rs
    >>> print(rs.measure_next(rs.demo("coast-single"), "top_speed").figures["top_speed"].low < 38)
    True
    """
    return next_answer(evidence.measure_next(bike.build, figure))


@dataclass(frozen=True, kw_only=True, repr=False)
class Selection(Answer):
    """Every pair that was gone through, as an answer: its sentence is that of the verdict."""

    choice: Choice
    verdict: Verdict

    def __repr__(self) -> str:
        return f"Selection({len(self.choice.crossing)} pairs, {len(self.choice.meeting)} meet every limit)"


def choose(
    bike: Bike,
    road: Conditions | None = None,
    *,
    front: int | Iterable[int] | None = None,
    rear: int | Iterable[int] | None = None,
    rear_tires: str | Iterable[str] | None = None,
    tunes: str | Iterable[str] | None = None,
    wish: str = "pull",
    sure: float = 0.9,
    log: str | Path | Log | Iterable[str | Path | Log] | None = None,
    **limits: Any,
) -> Selection:
    """Every sprocket pair at once, held to limits, and which to order.

    Parameters
    ----------
    bike : Bike
        What is fitted now is what its build file says; its tire and tune are considered unless others are named.
    road : Conditions, optional
    front, rear : int or iterable of int, optional
        Available teeth, such as range(13, 18); near the fitted ones unless given.
    rear_tires, tunes : str or iterable of str, optional
        Markings and names of tunes to consider.
    wish : str
        What decides among those that meet the limits: "pull", "calm", "economy" or "quick"; with a log also "shifts".
    sure : float
        How sure every limit must be. [0.5 to 0.999]
    log : path, Log or several of them, optional
        Rides of your own: what each pair would have made of them can be limited (ride_time_above_most) and wished for.
    **limits
        Limits by their keys in the build file's [limits], in place of those there: cruise_engine_speed_most="4800 rev/min".

    Raises
    ------
    InputError
        A tire, tune, wish or limit that cannot be.

    >>> import ridesim as rs
    >>> choice = rs.choose(rs.demo("coast-single"), front=range(13, 17), rear=range(38, 46))
    >>> choice
    Selection(32 pairs, 15 meet every limit)
    >>> print(choice)  # and choice.verdict, with all that it rests on
    Order a 39-tooth rear sprocket: 4,638 rev/min at 95 km/h (limit 4,700 rev/min, over 99 % sure), pulls 5 % less in first, the chain stays, the axle moves 8.6 mm back.
    """
    from ridesim import selection
    from ridesim.selection.contract import answer_of

    build, changes = bike.build, bike.changes
    held = selection.held_to(build.record.limits, **limits)
    bikes = selection.bikes_of(
        build,
        _several("rear_tires", rear_tires) or held.rear_tires or _several("rear_tires", changes.get("rear_tire")),
        _several("tunes", tunes) or held.tunes or _several("tunes", changes.get("tune")),
        changes.get("front_tire"),
    )
    fronts, rears = _several("front", front) or held.fronts, _several("rear", rear) or held.rears
    crossing = selection.cross(bikes, fronts, rears, conditions(road).ride(bike), _logs(log))
    choice = selection.choice_of(crossing, held)
    decided = selection.verdict(choice, wish=wish, sure=sure)
    return Selection(**vars(answer_of(decided)), choice=choice, verdict=decided)


def _logs(given: Any) -> tuple[Log, ...]:
    """One ride or several, read where they are files."""
    if given is None:
        return ()
    from ridesim.logs.log import Log
    from ridesim.logs.reader import read_log

    listed = (given,) if isinstance(given, str | Path | Log) else tuple(given)
    return tuple(one if isinstance(one, Log) else read_log(one) for one in listed)


def _several(where: str, given: Any) -> tuple[Any, ...] | None:
    """What is given, one or several; None where nothing is, and InputError where it is an empty list."""
    if given is None:
        return None
    listed = (given,) if isinstance(given, int | str) else given
    several = tuple(one.item() if hasattr(one, "item") else one for one in listed)  # teeth of a frame are numpy's
    if not several:
        raise InputError(where, None, "names none", "Name one at least, or leave it out.")
    return several
