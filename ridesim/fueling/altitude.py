"""The jets of today over an altitude: power left, mixture, when to change the jet, and whether the gearing holds the hills."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np

from ridesim.answers.answer import Answer, Figure, Figures, Sentence, Step, Table, ValueOf, plain, table_from, table_of
from ridesim.answers.solved import ORDINALS, Solved, solve
from ridesim.bike import Bike, make_bike
from ridesim.environment.air import LAPSE_RATE_K_M, Air, air
from ridesim.environment.climb import SUSTAINED_M, Climb
from ridesim.errors import InputError, one
from ridesim.fueling import JETTING
from ridesim.fueling.jets import AS_NEAR, LAW, LIMITS, NUMBERED, Numbering, jet_for_air, richness_ratio
from ridesim.fueling.mixture_power import NOTHING, felt_share, torque_change, worth_assumptions
from ridesim.mechanics.setups import Ride
from ridesim.statements import BothWays
from ridesim.units import either, shown_in

STEPS_M = (50.0, 100.0, 200.0, 250.0, 500.0, 1000.0)  # between the rows of the table
MOST_ROWS = 10
SAME = 0.0005  # of the mixture: less is no change
LAPSE = BothWays("6.5 °C a kilometer", "3.6 °F a thousand feet")
FINE_M = 10.0  # steps in which the place to change a jet is looked for


@dataclass(frozen=True, kw_only=True)
class JetFitted:
    """The jet that is right in the air it is judged in, its numbering, and the sizes that can be had: steps or a list."""

    size: float
    numbering: Numbering = "bore"
    step: float | None = 2.5
    sizes: Sequence[float] | None = None


def bike_in(bike: Bike, there: Air) -> Bike:
    """The same bike in other air.

    >>> import ridesim as rs
    >>> from ridesim.environment.air import air
    >>> high = bike_in(rs.demo("coast-single"), air(altitude_m=2000.0, temperature_k=275.15, relative_humidity=0.4))
    >>> round(high.air.density_kg_m3, 3)
    1.005
    """
    changes = {
        "air.pressure": f"{there.pressure_pa:.6f} Pa",
        "air.temperature": f"{there.temperature_k:.6f} K",
        "air.humidity": f"{100 * there.relative_humidity:.6f} %",
    }
    return make_bike(bike.build.changed(changes), **bike.changes)


@dataclass(frozen=True, kw_only=True)
class _Place:
    """What is left at one height: the bike there with the jets of today in, its mixture and what that does to the torque."""

    height_m: float
    solved: Solved
    richness: float
    torque: tuple[float, float, float]  # change by the mixture: middle, least, most
    air_factor: float
    grade: float

    @property
    def can_be_felt(self) -> bool:
        """Whether a rider may feel what the mixture costs."""
        return -self.torque[1] >= felt_share()

    @property
    def gear(self) -> int | None:
        """The highest gear that holds the cruising speed on the grade there, from 1; None where none does."""
        holds = np.flatnonzero(self.solved.performance.cruise.holds[0])
        return int(holds[-1]) + 1 if holds.size else None


def altitude(
    bike: Bike,
    climb: Climb,
    *,
    ride: Ride | None = None,
    right: Air | None = None,
    jet: JetFitted | None = None,
    start_temperature_k: float | None = None,
) -> Answer:
    """A ride up or down with the jets of today: power left, mixture, where another jet is nearer, and the hills held.

    Parameters
    ----------
    bike : Bike
        With the gearing that is planned.
    climb : Climb
        From `stated_climb` or `climb_along`.
    ride : Ride, optional
        Cruising speed and wind; those of the build file unless given.
    right : Air, optional
        The air in which the rider says it runs right; that of the build file unless given.
    jet : JetFitted, optional
        The main jet that is right there.
    start_temperature_k : float, optional
        At the start; that of the build file at its height unless given. It falls 6.5 K a kilometer, as in ISO 2533. [K]

    Returns
    -------
    Answer
        series: "height_m", "power_left", "richness".

    Raises
    ------
    InputError
        A jet or a temperature out of range.

    Examples
    --------
    >>> import ridesim as rs
    >>> from ridesim.environment.climb import stated_climb
    >>> found = altitude(rs.demo("coast-single"), stated_climb(20.0, 2200.0), jet=JetFitted(size=125))
    >>> round(found.figures["power_left"].value, 2), round(found.figures["richness"].value, 2)
    (0.74, 0.11)
    """
    ride = bike.ride() if ride is None else ride
    right = bike.air if right is None else right
    at_sea = _at_sea_k(bike, climb, start_temperature_k)
    heights, grades = _rows_of(climb)

    def place(height: float, grade: float) -> _Place:
        return _place(bike, height, grade, ride, right, at_sea - LAPSE_RATE_K_M * height)

    start = place(climb.start_m, 0.0)
    places = [place(height, grade) for height, grade in zip(heights, grades, strict=True)]
    leanest = min(places, key=lambda one: one.richness)
    top = leanest if leanest.richness < 1.0 - AS_NEAR else places[-1]
    changes = () if jet is None else _jet_changes(places, jet, right)
    base = start.air_factor * (1.0 + start.torque[0])
    left = [tuple(one.air_factor * (1.0 + share) / base for share in one.torque) for one in places]
    hardest = min(places, key=lambda one: (one.gear or 0, -one.grade, -one.height_m))
    return Answer(
        question="What is left at that height?",
        say=(*_power_says(top, jet), *_jet_says(changes, jet, top), *_hill_says(hardest)),
        figures=_figures(start, top, left[places.index(top)], hardest, changes, jet, ride),
        tables=(
            _table(places, left),
            *([_jets_table(changes)] if changes else []),
        ),
        series={
            "height_m": np.array([one.height_m for one in places]),
            "power_left": np.array(left),
            "richness": np.array([one.richness for one in places]),
        },
        assumptions=(
            *(("it is taken to run right in the air of the build file",) if right is bike.air else ()),
            "the temperature falls "
            + LAPSE
            + " (ISO 2533) from that of the "
            + ("build file" if start_temperature_k is None else "start")
            + "; pressure by height, humidity as in the build file",
            *(() if jet is None else (f"jets {NUMBERED[jet.numbering]}, as given",)),
            LAW,
            *LIMITS[:3],
            *worth_assumptions(),
            *(("a hill is a grade that lasts " + either("distance", SUSTAINED_M),) if climb.of_a_road else ()),
            *(
                ()
                if climb.timed
                else ("the track has no times: the speed to hold is the one asked for, not one ridden",)
            ),
        ),
        steps=_steps(start, top, right),
        notes=(LIMITS[3], *(note for note in top.solved.bike.notes if "tire" not in note.about)),
        cautions=(
            "A jet that is right up there runs lean down here: put the larger one back before you ride down.",
            *JETTING,
        ),
    )


def _at_sea_k(bike: Bike, climb: Climb, start_temperature_k: float | None) -> float:
    """The temperature carried down to sea level by the lapse, from the start or from where the build's air is. [K]"""
    if start_temperature_k is None:
        return bike.air.temperature_k + LAPSE_RATE_K_M * float(bike.record.air.altitude)
    fix = "Give the temperature in the shade at the start."
    return one("climb.temperature", start_temperature_k, 233.15, 328.15, "K", fix) + LAPSE_RATE_K_M * climb.start_m


def _rows_of(climb: Climb) -> tuple[list[float], list[float]]:
    """Heights of the rows, the ends and round ones between, and the steepest grade of the road near each."""
    low, high = float(climb.height_m.min()), float(climb.height_m.max())
    step = next((one for one in STEPS_M if (high - low) / one <= MOST_ROWS - 1), STEPS_M[-1])
    between = np.arange(np.ceil((low + step / 3) / step), np.floor((high - step / 3) / step) + 1) * step
    heights = [low, *map(float, between), *([high] if high > low else [])]
    nearest = np.argmin(np.abs(climb.height_m[:, None] - np.array(heights)), axis=1)
    steepest = [climb.grade[nearest == k] for k in range(len(heights))]
    level = 0.0 if climb.of_a_road else float(climb.grade[0])
    return heights, [float(one.max()) if one.size else level for one in steepest]


def _place(bike: Bike, height: float, grade: float, ride: Ride, right: Air, temperature_k: float) -> _Place:
    day = air(altitude_m=height, temperature_k=temperature_k, relative_humidity=bike.air.relative_humidity)
    there = bike_in(bike, day)
    richness = float(richness_ratio(1.0, there.air.metering_density_kg_m3 / right.metering_density_kg_m3))
    middle, least, most = (float(share) for share in torque_change(richness))
    if not np.isfinite(middle):
        problem = f"makes a mixture {100 * abs(richness - 1):.0f} % off the right one, which no published curve reaches"
        raise InputError("climb", f"{height:.0f} m", problem, "Say in which air it runs right, or re-jet on the way.")
    raw = {**there.raw, "torque_factor": there.raw["torque_factor"] * (1.0 + middle)}
    slope = float(np.arctan(grade))
    solved = solve(replace(there, raw=raw), replace(ride, slope_rad=slope), bands=False)
    return _Place(
        height_m=height,
        solved=solved,
        richness=richness,
        torque=(middle, least, most),
        air_factor=float(there.raw["torque_factor"]),
        grade=grade,
    )


def _jet_changes(places: Sequence[_Place], jet: JetFitted, right: Air) -> tuple[dict[str, float], ...]:
    """Which size is the nearest where, from the lowest height up."""
    at = np.array([one.height_m for one in places])
    density = np.log([one.solved.bike.air.metering_density_kg_m3 for one in places])
    fine = np.append(np.arange(at[0], at[-1], FINE_M), at[-1])
    nearest = [
        jet_for_air(
            jet.size,
            numbering=jet.numbering,
            metering_density_kg_m3=float(np.exp(rho)),
            reference_metering_density_kg_m3=right.metering_density_kg_m3,
            step=None if jet.sizes is not None else jet.step,
            sizes=jet.sizes,
        ).nearest.size
        for rho in np.interp(fine, at, density)
    ]
    turns = [0, *(k for k in range(1, len(nearest)) if nearest[k] != nearest[k - 1])]
    ends = [*turns[1:], len(fine) - 1]
    return tuple(
        {"size": nearest[k], "from_m": float(fine[k]), "to_m": float(fine[end])}
        for k, end in zip(turns, ends, strict=True)
    )


def _power_says(top: _Place, jet: JetFitted | None) -> Sentence:
    """How much is left, and what of that the mixture takes."""
    kept = "today's jets" if jet is None else f"{jet.size:g} left in"
    told: Sentence = ("From ", ValueOf("start"), " to ", ValueOf("top"), f", with {kept}, ", ValueOf("power_left"))
    told += (" of the power is left. ",)
    if abs(top.richness - 1.0) < SAME:
        return (*told, "The mixture stays as it is. ")
    rich = top.richness >= 1
    told += ("There it runs ", ValueOf("richness", size=True), f" {'rich' if rich else 'lean'}, which costs ")
    told += (ValueOf("least_cost"), " to ") if -top.torque[2] >= NOTHING else ("up to ",)
    told += (ValueOf("most_cost"), ": ", "you may feel that" if top.can_be_felt else "too small to feel")
    return (*told, ". " if rich else ", but lean runs hot. ")


def _jet_says(changes: Sequence[Mapping[str, float]], jet: JetFitted | None, top: _Place) -> Sentence:
    """Where another jet is nearer, and whether that is worth the change."""
    if jet is None:
        return ()
    others = [one for one in changes if one["size"] != jet.size]
    if not others:
        return (f"{jet.size:g} stays the nearest jet all the way. ",)
    if len(changes) == 1:
        told: Sentence = (f"{others[0]['size']:g} is nearer all the way",)
    else:
        told = ()
        for other in others:
            word = "above" if other["size"] < jet.size else "below"
            told += (
                f", {other['size']:g} {word} " if told else f"{other['size']:g} is nearer {word} ",
                BothWays.of(_about, float(other["from_m" if other["size"] < jet.size else "to_m"])),
            )
    if top.richness < 1:
        return (*told, ": fit it before you ride there. ")
    return (*told, ". " if top.can_be_felt else ", but the change can wait. ")


def _about(height_m: float, system: str) -> str:
    """A height to ten meters or a hundred feet: where another jet is due is known no better."""
    value, unit, _ = shown_in(height_m, "distance", system)
    return f"{round(value, -1 if system == 'metric' else -2):,.0f} {unit}"


def _key(one: Mapping[str, float]) -> str:
    return f"jet_{one['size']:g}"


def _hill_says(hardest: _Place) -> Sentence:
    """Whether the speed is held everywhere, and what it takes where it is hardest."""
    hill: Sentence = ("on the level",) if hardest.grade <= 0 else ("on a grade of ", ValueOf("hill"))
    if hardest.gear is None:
        told: Sentence = ("At ", ValueOf("hill_at"), " no gear holds ", ValueOf("cruise"), " ", *hill)
        held = np.isfinite(hardest.solved.performance.top_speed_m_s[0])
        return (*told, ": it does ", ValueOf("does"), " there.") if held else (*told, ", nor any other speed.")
    told = ("The gearing holds ", ValueOf("cruise"), f" all the way: {ORDINALS[hardest.gear - 1]} at ")
    return (*told, ValueOf("hill_at"), " ", *hill, ".")


def _figures(
    start: _Place,
    top: _Place,
    left: Sequence[float],
    hardest: _Place,
    changes: Sequence[Mapping[str, float]],
    jet: JetFitted | None,
    ride: Ride,
) -> Figures:
    top_speed = plain(hardest.solved.performance.top_speed_m_s[0])
    heights = [
        Figure(
            _key(one),
            f"Jet {one['size']:g} is nearest {'above' if one['size'] < jet.size else 'below'}",
            one["from_m" if one["size"] < jet.size else "to_m"],
            "distance",
        )
        for one in changes
        if jet is not None and one["size"] != jet.size and len(changes) > 1
    ]
    return Figures(
        Figure("start", "Start", start.height_m, "distance"),
        Figure("top", "Furthest off the right mixture at" if top.richness < 1 else "Highest", top.height_m, "distance"),
        Figure("power_left", "Power left there", left[0], "percent", low=left[1], high=left[2]),
        Figure("air_left", "Power left by the air alone", top.air_factor / start.air_factor, "percent"),
        Figure("richness", "Mixture richer than right", top.richness - 1, "percent"),
        Figure("least_cost", "Torque the mixture costs, least", max(-top.torque[2], 0.0), "percent"),
        Figure("most_cost", "Torque the mixture costs, most", max(-top.torque[1], 0.0), "percent"),
        *heights,
        Figure("cruise", "Speed to hold", ride.cruise_m_s, "speed"),
        Figure("hill_at", "Hardest at", hardest.height_m, "distance"),
        Figure("hill", "Grade there", hardest.grade, "percent"),
        Figure("does", "Top speed there", top_speed, "speed"),
    )


def _jets_table(changes: Sequence[Mapping[str, float]]) -> Table:
    columns = (("size", "Jet", "number"), ("from_m", "Nearest from", "distance"), ("to_m", "to", "distance"))
    return table_from("Which jet is nearest where", changes, *columns)


def _table(places: Sequence[_Place], left: Sequence[Sequence[float]]) -> Table:
    rides = [one.solved.performance for one in places]
    return table_of(
        "What is left, height by height",
        ("height", "Height", "distance", [one.height_m for one in places]),
        ("left", "Power left", "percent", [share[0] for share in left]),
        ("richness", "Richer by", "percent", [one.richness - 1 for one in places]),
        ("cost", "Costs, at worst", "percent", [one.torque[1] for one in places]),
        ("hill", "Grade", "percent", [one.grade for one in places]),
        ("gear", "Gear for it", "gear", [one.gear for one in places]),
        ("held", "Steepest held at it", "percent", [np.fmax.reduce(np.tan(r.cruise.slope_held_rad[0])) for r in rides]),
        ("does", "Top speed", "speed", [one.top_speed_m_s[0] for one in rides]),
    )


def _steps(start: _Place, top: _Place, right: Air) -> tuple[Step, ...]:
    rho = top.solved.bike.air.metering_density_kg_m3
    return (
        Step(
            "richness = (rho1/rho0)^(-1/2), rho = rho_dry^2/rho_moist",
            f"({rho:.4f}/{right.metering_density_kg_m3:.4f})^(-1/2)",
            f"{top.richness:.4f}",
            LAW,
        ),
        Step(
            "power left = factor of the air there / at the start x (1 + change by the mixture)",
            f"{top.air_factor:.4f} / {start.air_factor:.4f} x (1 {top.torque[0]:+.4f}) / (1 {start.torque[0]:+.4f})",
            f"{top.air_factor / start.air_factor * (1 + top.torque[0]) / (1 + start.torque[0]):.4f}",
        ),
    )
