"""From a build to a bike: every figure in SI, defaults filled in and told, tires rolled, air and road load worked out."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field, replace
from functools import cached_property
from typing import Any

import numpy as np

from ridesim.bike.air_of_day import air_figures, curve_of, day_of, limited
from ridesim.bike.consumption import fuel_calibrated
from ridesim.bike.defaults import OF_EVERY_BIKE, Taken
from ridesim.bike.figures_to_setups import combined_masses, setups_of
from ridesim.bike.fitted_tires import beside_measured, front_tire_of, ground_of, rear_tolerances, road_load_of, tire_of
from ridesim.buildfile.io import Build
from ridesim.buildfile.schema import BuildRecord
from ridesim.components.chain_geometry import COUNT_TEETH, FRONT_TEETH, REAR_TEETH
from ridesim.components.power_curve import PowerCurve
from ridesim.components.tire import RollingTire
from ridesim.environment.air import Air
from ridesim.environment.power_correction import RideDay
from ridesim.environment.road import RoadLoad
from ridesim.errors import InputError, short, whole
from ridesim.mechanics.drivetrain import overall_ratio
from ridesim.mechanics.fuel import DENSITY_KG_M3
from ridesim.mechanics.setups import Ride, SetUps
from ridesim.statements import Assumption, Note, distinct
from ridesim.uncertainty.posterior import fitted
from ridesim.uncertainty.tolerances import Source, Tolerance, single, through, toleranced

_TAKEN_ELSEWHERE = {  # where the chain's fit, the room for another tire or the front wheel's motion is worked out
    "final_drive.centre_distance",
    "final_drive.chain_wear",
    *(f"tires.{end}.{key}" for end in ("rear", "front") for key in ("rim_width", "room_beside", "room_around")),
    *(f"suspension.{end}.{key}" for end in ("fork", "rear") for key in ("rate", "sag", "travel")),
}
_SENSE = {"forward": 1.0, "backward": -1.0, "lengthwise": 0.0}  # a crank along the bike rolls it, and pitches nothing
REAR_TIRE = "rear tire"  # what a note is about


@dataclass(frozen=True, kw_only=True, eq=False)
class Bike:
    """One bike in one state of tune, with its air and its road, in SI. `raw` holds what the set-up arrays are made from."""

    build: Build
    name: str
    tune: str
    teeth: tuple[int, int] | None  # of the front and the rear sprocket or pulley; None of a shaft
    final_ratio: float  # gearbox turns for one of the wheel
    curve: PowerCurve  # crank, standard air, ended at the rev limit
    whole_curve: PowerCurve  # crank, standard air, all points
    rev_limit_rad_s: float
    ride_day: RideDay
    rear_tire: RollingTire
    front_tire: RollingTire
    air: Air
    road_load: RoadLoad
    surface: str
    friction_range: tuple[float, float]
    raw: Mapping[str, Any]
    primary: float
    gears: tuple[float, ...]
    cycle: int
    has_displacement: bool
    has_tank: bool
    tolerances: tuple[Tolerance, ...]
    assumptions: tuple[Assumption, ...]
    notes: tuple[Note, ...]
    stated: Bike | None = None  # as its file has it, where this one is fitted to readings
    changes: Mapping[str, Any] = field(default_factory=dict)  # what make_bike was asked to change of the build

    def __repr__(self) -> str:
        return f"Bike({short(self.name)!r}, {self.drive}, tune {short(self.tune)!r})"

    @property
    def drive(self) -> str:
        """The final drive in a word: "15/43", "shaft 2.909".

        >>> import ridesim as rs
        >>> rs.demo("coast-single").drive
        '14/41'
        """
        return f"shaft {self.final_ratio:.3f}" if self.teeth is None else f"{self.teeth[0]}/{self.teeth[1]}"

    @property
    def front_teeth(self) -> int:
        """Of the front sprocket; InputError where a shaft drives the wheel."""
        return self._sprockets()[0]

    @property
    def rear_teeth(self) -> int:
        """Of the rear sprocket; InputError where a shaft drives the wheel."""
        return self._sprockets()[1]

    @property
    def has_chain(self) -> bool:
        """Whether a chain drives the wheel, and no belt or shaft."""
        return self.record.final_drive.kind == "chain"

    def _sprockets(self) -> tuple[int, int]:
        if self.teeth is None:
            fix = "Its ratio is that of the rear wheel drive; other tires or another ratio change the gearing."
            raise InputError("final_drive.kind", "shaft", "has no sprockets, so there is nothing to choose", fix)
        return self.teeth

    def with_changes(
        self,
        *,
        front: int | None = None,
        rear: int | None = None,
        rear_tire: str | None = None,
        front_tire: str | None = None,
        tune: str | None = None,
        luggage: str | float | None = None,
    ) -> Bike:
        """The same bike with other teeth, tires, tune or luggage (a text with its unit, or a number) [kg]; what is not named stays.

        >>> import ridesim as rs
        >>> rs.demo("coast-single").with_changes(front=15, luggage="20 kg")
        Bike('Coast single (invented)', 15/41, tune 'stock')
        """
        given = {"front": front, "rear": rear, "rear_tire": rear_tire, "front_tire": front_tire, "tune": tune}
        build = self.build if luggage is None else self.build.changed({"masses.luggage": luggage})
        asked = {key: value for key, value in given.items() if value is not None}
        plain = {
            key: value.item() if isinstance(value, np.generic) else value for key, value in asked.items()
        }  # of a frame
        return make_bike(build, **{**self.changes, **plain})

    @property
    def record(self) -> BuildRecord:
        """What the build says, in SI."""
        return self.build.record

    def source(self, tolerance: Tolerance) -> Source:
        """Where an error of this bike comes from: two tolerances with one source are one error, and move both figures together."""
        return Source(self.build.bike, tolerance.cause)

    @cached_property
    def setups(self) -> SetUps:
        """This bike as a set-up of one, which is what the kernel takes.

        >>> import ridesim as rs
        >>> setups = rs.demo("coast-single").setups
        >>> setups.ratios.shape, float(setups.mass_kg[0])
        ((1, 5), 257.0)
        """
        return setups_of(self.raw, self.cycle)

    def ride(self, **changes: Any) -> Ride:
        """The ride of the build file, with changes.

        Parameters
        ----------
        changes : optional
            Fields of Ride in SI, such as cruise_m_s, slope_rad or headwind_m_s.

        Examples
        --------
        >>> import ridesim as rs
        >>> rs.demo("coast-single").ride(cruise_m_s=25.0).cruise_m_s
        25.0
        """
        wanted = self.record.ride
        base = Ride(
            cruise_m_s=float(wanted.cruise),
            slope_rad=float(np.arctan(wanted.grade)),
            headwind_m_s=float(wanted.headwind),
            rev_limit_rad_s=self.rev_limit_rad_s,
        )
        return replace(base, **changes)


def make_bike(
    build: Build,
    *,
    tune: str | None = None,
    front: int | None = None,
    rear: int | None = None,
    rear_tire: str | None = None,
    front_tire: str | None = None,
    own: Bike | None = None,
) -> Bike:
    """The bike of a build, perhaps with another tune, other sprockets or other tires.

    Parameters
    ----------
    build : Build
        A checked build.
    tune : str, optional
        A tune of the build; the active one unless given.
    front, rear : int, optional
        Teeth.
    rear_tire, front_tire : str, optional
        Markings; a roll-out, deflection or wear measured on the tire in the file does not carry over to another one. One that
        names the fitted tire, as its bare size does, is that tire.
    own : Bike, optional
        The bike of the same build as it is, where it is made already.

    Returns
    -------
    Bike

    Raises
    ------
    InputError
        A tune, tooth count or marking that cannot be.

    Examples
    --------
    >>> import ridesim as rs
    >>> build = rs.demo("coast-single").build
    >>> make_bike(build, front=15, rear_tire="130/80-17")
    Bike('Coast single (invented)', 15/41, tune 'stock')
    >>> make_bike(build, front=0)
    Traceback (most recent call last):
    ridesim.errors.InputError: final_drive.front = 0: must be a number from 6 to 40. Count the teeth.
    """
    record = build.record
    taken = Taken(record)
    name = build.tune_name(tune)
    teeth = _teeth_of(record, front, rear)
    final = record.final_drive.final_ratio if teeth is None else teeth[1] / teeth[0]
    rear_rolls = tire_of(record.tires.rear, rear_tire, "rear")
    front_rolls = front_tire_of(record, front_tire, taken)
    day_figures = air_figures(record, taken)
    efficiency = taken.figure("gearbox.efficiency")
    at, whole = curve_of(record.tune[name], name, efficiency, taken)
    limit, curve, notes = limited(record, whole)
    day = day_of(record, record.tune[name], name, day_figures, taken)
    primary = record.gearbox.primary
    if primary is None:
        primary = 1.0
        taken.assume(
            "gearbox.primary", "gearbox.primary not given: the gear ratios are taken to include the primary drive"
        )
    if record.gearbox.ratios_are_a_guess:
        taken.assume("", "gear ratios are marked as a guess: check them against a road test or the manual")
    gears = record.gearbox.gears
    raw = _raw(record, taken, efficiency) | ({"sheet_efficiency": efficiency} if at == "wheel" else {})
    raw |= {
        "ratios": overall_ratio(primary, np.array(gears), *((1.0, final) if teeth is None else teeth)),
        "rear_radius_m": rear_rolls.rolling_radius_m,
        "front_radius_m": front_rolls.rolling_radius_m,
        "torque_factor": day.ride_day.factor,
        "curve_factor": 1.0,
        "air_density_kg_m3": day.air.density_kg_m3,
    }
    mass = float(combined_masses(raw)["mass_kg"])
    load = road_load_of(record, taken, raw, mass, day.air)
    _center_must_be_between(raw)
    ground = ground_of(record, taken, raw)
    taken.tolerances = [
        *rear_tolerances(record, rear_rolls, rear_tire),
        *taken.tolerances,
        *day.tolerances,
        *_fuel_tolerances(record),
    ]
    error = float(record.tune[name].curve_error)
    if error > 0:
        cause = ("tune.curve_error", record.tune[name].measurement)
        taken.tolerances.append(replace(single(f"tune.{name}.curve_error", "curve_factor", 1.0, error), of=cause))
    assumptions: tuple[str, ...] = (
        *taken.assumptions,
        *rear_rolls.assumptions,
        *front_rolls.assumptions,
        *day.air.assumptions,
        *day.ride_day.assumptions,
        *load.assumptions,
    )
    warning = (day.ride_day.warning,) if day.ride_day.warning else ()
    bike = Bike(
        build=build,
        name=record.name,
        tune=name,
        teeth=teeth,
        final_ratio=final,
        curve=curve,
        whole_curve=whole,
        rev_limit_rad_s=limit,
        ride_day=day.ride_day,
        rear_tire=rear_rolls,
        front_tire=front_rolls,
        air=day.air,
        road_load=load,
        surface=ground.name,
        friction_range=ground.friction_range,
        raw=raw,
        primary=primary,
        gears=gears,
        cycle=record.engine.cycle,
        has_displacement=record.engine.displacement is not None,
        has_tank=record.fuel.tank is not None,
        tolerances=tuple(taken.tolerances),
        assumptions=distinct(Assumption, assumptions),
        notes=distinct(
            Note,
            (
                *notes,
                *warning,
                *([Note(f"tune {name}", note)] if (note := record.tune[name].note) else []),
                *(Note(REAR_TIRE, note) for note in (*rear_rolls.notes, *beside_measured(record, rear_rolls))),
                *(Note("front tire", note) for note in front_rolls.notes),
            ),
        ),
    )
    changes = {"tune": tune, "front": front, "rear": rear, "rear_tire": rear_tire, "front_tire": front_tire}
    changed = any(change is not None for change in changes.values())
    # the rider's consumption figure was taken with what the file says is fitted, whatever is asked now
    own = None if not changed else make_bike(build) if own is None else own
    bike = fuel_calibrated(bike, own and (own.stated or own))
    bike = replace(bike, notes=distinct(Note, (*bike.notes, *_left_out(bike, rear_tire))), changes=changes)
    if build.posterior is not None:
        bike = fitted(bike, build.posterior)
    elif record.evidence:
        unused = "the readings of [[evidence]] are not used here: figures are as they are written"
        bike = replace(bike, notes=(*bike.notes, Note("", unused)))
    return bike


def _left_out(bike: Bike, rear_tire: str | None) -> Iterator[str]:
    """Which tolerances of the file no figure takes up; those of other tunes and of a tire that is off are none of this bike's."""
    of_others = tuple(f"tune.{name}." for name in bike.record.tune if name != bike.tune)
    of_others += ("evidence[", *(() if rear_tire is None else ("tires.rear.",)))
    carried = {tolerance.path for tolerance in bike.tolerances} | _TAKEN_ELSEWHERE
    left = [path for path in toleranced(bike.record) if path not in carried and not path.startswith(of_others)]
    if left:
        yield f"the tolerance of {', '.join(left)} goes into no figure here"


def _teeth_of(record: BuildRecord, front: int | None, rear: int | None) -> tuple[int, int] | None:
    """The sprockets asked for, else those of the file; a shaft has none."""
    own = record.final_drive.teeth
    if own is not None:
        first = whole("final_drive.front", own[0] if front is None else front, *FRONT_TEETH, COUNT_TEETH)
        return first, whole("final_drive.rear", own[1] if rear is None else rear, *REAR_TEETH, COUNT_TEETH)
    for key, wanted in (("front", front), ("rear", rear)):
        if wanted is not None:
            fix = "Leave it out, or mend final_drive.kind."
            raise InputError(f"final_drive.{key}", wanted, "is a sprocket, and a shaft drives this wheel", fix)
    return None


def _raw(record: BuildRecord, taken: Taken, efficiency: float) -> dict[str, Any]:
    taken.wheelbase = taken.figure("chassis.wheelbase")
    raw: dict[str, Any] = {
        "wheelbase_m": taken.wheelbase,
        **{name: taken.figure(path) for path, (name, _) in OF_EVERY_BIKE.items()},
        "crank_sense": _SENSE[taken.word("inertia.crank_turns", record.inertia.crank_turns)],
        "efficiency": efficiency,
        "displacement_m3": np.nan if record.engine.displacement is None else float(record.engine.displacement),
        "fuel_density_kg_m3": DENSITY_KG_M3 if record.fuel.density is None else 1000.0 * float(record.fuel.density),
        "tank_m3": np.nan if record.fuel.tank is None else float(record.fuel.tank),
        "indicated_efficiency": np.nan,  # settled with the finished bike, where it has a displacement
    }
    for name, key in (("luggage_ahead_m", "luggage_cg_ahead_of_rear_axle"), ("luggage_height_m", "luggage_cg_height")):
        raw[name] = taken.figure(f"chassis.{key}") if raw["luggage_kg"] else 0.0
    return raw


def _fuel_tolerances(record: BuildRecord) -> Iterator[Tolerance]:
    yield from through("engine.displacement", record.engine.displacement, lambda volume: {"displacement_m3": volume})
    yield from through("fuel.density", record.fuel.density, lambda share: {"fuel_density_kg_m3": 1000.0 * share})
    yield from through("fuel.tank", record.fuel.tank, lambda volume: {"tank_m3": volume})


def _center_must_be_between(raw: Mapping[str, Any]) -> None:
    place = float(combined_masses(raw)["ahead_m"])
    if not 0.0 < place < raw["wheelbase_m"]:
        raise InputError(
            "chassis",
            f"{place:.3f} m",
            "puts the combined center of mass outside the wheelbase: the bike would tip over as it stands",
            "Check the distances ahead of the rear axle.",
        )
