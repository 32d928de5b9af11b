"""Fronts, rears, rear tires and tunes crossed, and what the kernel and the chain say of every combination, in columns.

A tire changes the radius, a tune the curve and what it is scaled by: so each tire and each tune is worked out once, and all
tires of one tune go through the kernel in one call.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import cached_property
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

from ridesim.answers.chain import chain_place
from ridesim.answers.solved import in_highest_gear
from ridesim.bike import REAR_TIRE, Bike, make_bike
from ridesim.bike.figures_to_setups import setups_of
from ridesim.buildfile.io import Build
from ridesim.components.chain_fit import fit_chains
from ridesim.components.chain_geometry import FRONT_TEETH, REAR_TEETH, near
from ridesim.components.chain_words import ChainFit
from ridesim.components.tire_marking import TireMarking, names_tire, parse_marking
from ridesim.errors import InputError, whole
from ridesim.mechanics.kernel import Performance, perform
from ridesim.mechanics.setups import Ride, SetUps
from ridesim.selection.own_rides import Replay, replay
from ridesim.statements import Note

if TYPE_CHECKING:
    from ridesim.logs.log import Log

Array = NDArray[np.float64]
MOST_SET_UPS = 100_000
HUNDRED_M_S = 100 / 3.6


@dataclass(frozen=True, kw_only=True, eq=False)
class Bikes:
    """A build as it is, with each of the rear tires, and with each of the tunes.

    own stands as the build file and the front tire have it; the other bikes share the causes of their errors with
    it, so that differences between them cancel what they have in common.
    """

    own: Bike
    front_tire: str | None
    by_tire: tuple[Bike, ...]
    by_tune: tuple[Bike, ...]

    @property
    def tires(self) -> tuple[str, ...]:
        return tuple(bike.rear_tire.marking.written for bike in self.by_tire)

    @property
    def tunes(self) -> tuple[str, ...]:
        return tuple(bike.tune for bike in self.by_tune)

    @property
    def notes(self) -> tuple[str, ...]:
        """The notes of all of them; where there are several rear tires, each note of one says which it is about."""
        several = len(self.by_tire) > 1
        about = [
            Note(f"{REAR_TIRE} {bike.rear_tire.marking.written}", note.text)
            if several and note.about == REAR_TIRE
            else note
            for bike in self.by_tire
            for note in bike.notes
        ]
        of_tires = {note for note in self.own.notes if note.about == REAR_TIRE}
        return tuple(dict.fromkeys((*about, *(n for bike in self.by_tune for n in bike.notes if n not in of_tires))))

    @property
    def assumptions(self) -> tuple[str, ...]:
        return tuple(dict.fromkeys(text for bike in (*self.by_tire, *self.by_tune) for text in bike.assumptions))


def bikes_of(
    build: Build,
    rear_tires: Sequence[str] | None = None,
    tunes: Sequence[str] | None = None,
    front_tire: str | None = None,
) -> Bikes:
    """The bikes to cross; a tire or tune that is not named is the build's own.

    Parameters
    ----------
    build : Build
    rear_tires, tunes : sequence of str, optional
        Markings and names; a bare size is the fitted tire of that size, and each tire counts once.
    front_tire : str, optional
        On all of them.

    Raises
    ------
    InputError
        A marking or a tune that cannot be, or more than 100,000 of them.

    Examples
    --------
    >>> import ridesim as rs
    >>> bikes = bikes_of(rs.demo("coast-single").build, ("120/90-17", "130/80-17 M/C 65S"))
    >>> bikes.tires, bikes.tunes
    (('120/90-17 M/C 64S', '130/80-17 M/C 65S'), ('stock',))
    """
    as_filed, fitted = make_bike(build), build.record.tires.rear.size.strip()
    own = as_filed if front_tire is None else make_bike(build, front_tire=front_tire, own=as_filed)
    tires = _tires(rear_tires or (fitted,), as_filed)
    names = dict.fromkeys(tunes or (own.tune,))
    _few_enough(len(tires) * len(names))

    def changed(**change: Any) -> Bike:
        return make_bike(build, front_tire=front_tire, own=as_filed, **change)

    return Bikes(
        own=own,
        front_tire=front_tire,
        by_tire=tuple(own if tire.strip() == fitted else changed(rear_tire=tire) for tire in tires),
        by_tune=tuple(own if name == own.tune else changed(tune=name) for name in names),
    )


def _tires(written: Sequence[str], as_filed: Bike) -> tuple[str, ...]:
    """The markings, each tire once: a bare size is the fitted tire of that size, else the one that says most of it in the list."""
    fitted = as_filed.record.tires.rear.size.strip()
    markings = {text: parse_marking(text, "tires.rear.size") for text in written}

    def tire(marking: TireMarking) -> str:
        if names_tire(marking, as_filed.rear_tire.marking):
            return fitted
        return max(
            (text for text, full in markings.items() if names_tire(marking, full)), key=lambda text: markings[text].said
        )

    return tuple(dict.fromkeys(tire(marking) for marking in markings.values()))


@dataclass(frozen=True, kw_only=True, eq=False)
class Crossing:
    """Every combination: row n counts through the tires, within a tire through the tunes, within a tune through the pairs.

    fronts, rears are those of the pairs, (P,), and the fits of the chain are theirs too (None where nothing says where the axle
    is). For each tune there is one performance of all tires and pairs. logs are rides of the rider's own, if any are given.
    """

    bikes: Bikes
    ride: Ride
    fronts: NDArray[np.int64]
    rears: NDArray[np.int64]
    chains: ChainFit | None
    setups: tuple[SetUps, ...]
    performances: tuple[Performance, ...]
    logs: tuple[Log, ...] = ()

    def __len__(self) -> int:
        return len(self.fronts) * len(self.bikes.by_tire) * len(self.bikes.by_tune)

    def place(self, n: int) -> tuple[int, int, int]:
        """Which tire, which tune and which pair row n has."""
        rest, pair = divmod(n, len(self.fronts))
        return (*divmod(rest, len(self.bikes.by_tune)), pair)

    def bike(self, tire: int, tune: int) -> Bike:
        """The bike in one tune on one tire."""
        radius = {"rear_radius_m": self.bikes.by_tire[tire].raw["rear_radius_m"]}
        tuned = self.bikes.by_tune[tune]
        return replace(tuned, raw={**tuned.raw, **radius})

    def of_pairs(self, values: Any) -> Any:
        """What every pair has, for every row."""
        return np.tile(values, len(self) // len(self.fronts))

    def gather(self, columns: Iterable[Array]) -> Array:
        """One column a tune, each of all tires and pairs, as one column of all rows."""
        shape = (len(self.bikes.by_tire), len(self.fronts))
        return np.stack([np.reshape(column, shape) for column in columns], axis=1).ravel()

    @cached_property
    def figures(self) -> Mapping[str, Array]:
        """The figures of GOALS but walking for every row, SI, nan where a thing does not happen."""
        parts = [figures_of(p, self.ride) for p in self.performances]
        return {key: self.gather(part[key] for part in parts) for key in parts[0]}

    @cached_property
    def replays(self) -> tuple[Replay, ...]:
        """The rider's own rides with every pair, tire by tire and within it tune by tune."""
        every = ((tire, tune) for tire in range(len(self.bikes.by_tire)) for tune in range(len(self.bikes.by_tune)))
        return tuple(replay(self.logs, self.bike(*one), self.fronts, self.rears) for one in every if self.logs)

    def on_rides(self, above_rad_s: float) -> dict[str, Array]:
        """The figures of RIDE_GOALS for every row; none without a ride."""
        tank = float(self.bikes.own.raw["tank_m3"])
        parts = [one.figures(above_rad_s, tank) for one in self.replays]
        return {key: np.concatenate([part[key] for part in parts]) for key in (parts[0] if parts else ())}

    @cached_property
    def first_metres(self) -> Array:
        """Road travelled in first for each radian of the crank. [m/rad]"""
        return self.gather(setups.meters_per_radian[:, 0] for setups in self.setups)


def cross(
    bikes: Bikes,
    fronts: Sequence[int] | None = None,
    rears: Sequence[int] | None = None,
    ride: Ride | None = None,
    logs: Sequence[Log] = (),
) -> Crossing:
    """Every combination of the bikes with the sprockets, on a ride.

    Parameters
    ----------
    bikes : Bikes
        From bikes_of.
    fronts, rears : sequence of int, optional
        Teeth; else three either side of the build's front and six either side of its rear.
    ride : Ride, optional
        The build's own unless given.
    logs : sequence of Log, optional
        Rides of the rider's own.

    Returns
    -------
    Crossing

    Raises
    ------
    InputError
        A count no sprocket has, or more than 100,000 pairs.

    Examples
    --------
    >>> import ridesim as rs
    >>> found = cross(bikes_of(rs.demo("coast-single").build), (14, 15), (41, 43))
    >>> found.fronts.tolist(), found.rears.tolist()
    ([14, 14, 15, 15], [41, 43, 41, 43])
    >>> found.figures["first_force"].round(0).tolist(), (found.figures["top_speed"] * 3.6).round(1).tolist()
    ([1889.0, 1981.0, 1763.0, 1849.0], [125.3, 124.5, 125.6, 125.5])
    """
    own = bikes.own
    ride = own.ride() if ride is None else ride
    usual = near(own.front_teeth, own.rear_teeth)
    z1 = _teeth(fronts or usual[0], FRONT_TEETH, "front")
    z2 = _teeth(rears or usual[1], REAR_TEETH, "rear")
    _few_enough(len(z1) * len(z2) * len(bikes.by_tire) * len(bikes.by_tune))
    front, rear = (grid.ravel() for grid in np.meshgrid(z1, z2, indexing="ij"))
    radii = np.array([bike.raw["rear_radius_m"] for bike in bikes.by_tire], dtype=float).ravel()
    setups = tuple(_set_ups(bike, radii, rear / front) for bike in bikes.by_tune)
    return Crossing(
        bikes=bikes,
        ride=ride,
        fronts=front,
        rears=rear,
        chains=fits_of(own, front, rear),
        setups=setups,
        performances=tuple(
            perform(one, bike.curve, ride, trace=False) for one, bike in zip(setups, bikes.by_tune, strict=True)
        ),
        logs=tuple(logs),
    )


def _few_enough(size: int) -> None:
    if size > MOST_SET_UPS:
        problem, fix = f"are more than {MOST_SET_UPS}", "Name fewer sprockets, tires or tunes."
        raise InputError("choose", f"{size} pairs", problem, fix)


def teeth(text: str, where: str, least: int = FRONT_TEETH[0], most: int = REAR_TEETH[1]) -> tuple[int, ...]:
    """Tooth counts written as least:most ("13:18") or one by one ("14, 15, 16").

    Raises
    ------
    InputError
        Anything else, counts outside `least` to `most`, or a range from more to fewer.

    >>> teeth("13:15", "--front"), teeth(" 13, 16 ", "--front"), teeth("15 15 16", "--front"), teeth("15:15", "--front")
    ((13, 14, 15), (13, 16), (15, 16), (15,))
    """
    fix = "Write least:most, such as 13:18, or counts with commas."
    ends = [end.strip() for end in text.split(":")]
    counts = ends if len(ends) == 2 else text.replace(",", " ").split()
    if not counts or not all(count.isascii() and count.isdigit() and len(count) <= 3 for count in counts):
        raise InputError(where, text, "is not a list of tooth counts", fix)
    numbers = [int(count) for count in counts]
    if not all(least <= number <= most for number in numbers):
        raise InputError(where, text, f"must be whole numbers of teeth from {least} to {most}", fix)
    if len(ends) != 2:
        return tuple(dict.fromkeys(numbers))
    if numbers[0] > numbers[1]:
        raise InputError(where, text, "goes from more to fewer teeth", "Write least:most, such as 13:18.")
    return tuple(range(numbers[0], numbers[1] + 1))


def _teeth(wanted: Sequence[int], bounds: tuple[int, int], which: str) -> tuple[int, ...]:
    return tuple(dict.fromkeys(whole(which, count, *bounds, "Name sprockets you can get.") for count in wanted))


def _set_ups(bike: Bike, radii: Array, final: Array) -> SetUps:
    """One tune with every tire and every pair."""
    ratios = bike.primary * np.array(bike.gears) * np.tile(final, len(radii))[:, None]
    return setups_of({**bike.raw, "rear_radius_m": np.repeat(radii, len(final)), "ratios": ratios}, bike.cycle)


def fits_of(
    own: Bike, front: NDArray[np.int64], rear: NDArray[np.int64], *, center_off_m: float = 0.0, wear_off: float = 0.0
) -> ChainFit | None:
    """How the chain fits every pair, perhaps with the axle's place and the wear off by an error; None where nothing
    says where the axle is.

    Parameters
    ----------
    own : Bike
        Its file tells of chain, axle, travel, links and wear.
    front, rear : array of int, (P,)
        Teeth.
    center_off_m, wear_off : float
        Errors. [m], [-]

    Examples
    --------
    >>> import ridesim as rs
    >>> fits = fits_of(rs.demo("coast-single"), np.array([14, 15, 15]), np.array([41, 42, 46]))
    >>> fits.links_to_order.tolist(), fits.fitted_chain_will_do.tolist(), (1e3 * fits.axle_shift_m).round(1).tolist()
    ([102.0, 102.0, 106.0], [True, True, False], [0.0, -8.0, 3.2])
    """
    place = chain_place(own) if own.has_chain else None
    if place is None or place.center_now_m is None:
        return None
    return fit_chains(
        front_teeth=front,
        rear_teeth=rear,
        pitch_m=place.size.pitch_m,
        center_distance_m=place.center_now_m + center_off_m,
        travel_rearward_m=place.travel_m,
        fitted_links=own.record.final_drive.links,
        wear=max(float(own.record.final_drive.chain_wear) + wear_off, 0.0),
    )


def figures_of(p: Performance, ride: Ride) -> dict[str, Array]:
    """The figures of GOALS but walking for every set-up of a performance, SI, nan where a thing does not happen.

    Engine speed and fuel are those of the highest gear that holds the cruising speed. InputError where 100 km/h is
    none of the ride's targets.

    >>> import ridesim as rs
    >>> from ridesim.answers.solved import solved
    >>> one = solved(rs.demo("coast-single"))
    >>> found = figures_of(one.performance, one.ride)
    >>> {key: round(float(found[key][0]), 3) for key in ("first_climb", "first_lift", "time_0_100", "roll_on")}
    {'first_climb': 0.833, 'first_lift': 0.679, 'time_0_100': 10.296, 'roll_on': 8.206}
    """
    g, c = p.gears, p.cruise
    return {
        "cruise_speed": in_highest_gear(c, c.engine_speed_rad_s),
        "first_force": g.peak_force_n[:, 0],
        "first_climb": np.tan(g.steepest_slope_rad[:, 0]),
        "first_lift": g.lift_ratio[:, 0],
        "top_speed": p.top_speed_m_s,
        "time_0_100": p.run.times_s[:, _hundred(ride)],
        "roll_on": p.roll_on_s[:, -1],
        "fuel": in_highest_gear(c, c.fuel_m3_per_m),
    }


def _hundred(ride: Ride) -> int:
    """Which of the ride's targets is 100 km/h."""
    for n, speed in enumerate(ride.targets_m_s):
        if abs(speed - HUNDRED_M_S) < 1e-9:
            return n
    raise InputError(
        "ride.targets_m_s", ride.targets_m_s, "do not include 100 km/h, which a pair is chosen by", "Add it."
    )
