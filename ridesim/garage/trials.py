"""A trial: one ride after one change, the air of the day, every setting, the verdict, and how to put it back."""

from __future__ import annotations

import json
from collections.abc import Callable, Iterable, Iterator, Mapping
from dataclasses import asdict, dataclass, field, fields
from datetime import datetime
from types import MappingProxyType
from typing import TYPE_CHECKING, Any, ClassVar, Literal

from ridesim.errors import InputError, InputErrors, each, one, several, word
from ridesim.fueling.jets import LEAST_SIZE, MOST_SIZE, NUMBERINGS, Numbering
from ridesim.fueling.mixture import SCREWS, MixtureScrew
from ridesim.garage.records import LONGEST_NAME, checked_id, checked_name, checked_text, checked_time, new_id

if TYPE_CHECKING:
    from ridesim.environment.air import Air

Says = Literal["lean", "right", "rich", "can't tell"]
MOST_GROOVES = 12  # on a needle
SAYS: tuple[Says, ...] = ("lean", "right", "rich", "can't tell")

STRICT: dict[str, Any] = {"extra": "forbid", "strict": True}  # for a reader that fills these records from a file

# Throttle openings, from closed to full, with their names for a sentence.
OPENINGS: Mapping[str, str] = MappingProxyType(
    {
        "closed_to_eighth": "closed to 1/8 throttle",
        "eighth_to_quarter": "1/8 to 1/4 throttle",
        "quarter_to_three_quarters": "1/4 to 3/4 throttle",
        "three_quarters_to_full": "3/4 to full throttle",
    }
)


Check = Callable[[str, Any], Any]  # of a value, by its place and itself; gives it as it is kept
_SLIP = "Check the figure and its unit."  # outside its bounds a figure is a slip of the pen or of the unit


def _figure(least: float, most: float, unit: str, fix: str = _SLIP) -> Check:
    return lambda where, value: one(where, value, least, most, unit, fix)


def _among(known: tuple[str, ...]) -> Check:
    return lambda where, value: word(where, value, known)


def _by(check: Callable[[Any, str], Any]) -> Check:
    return lambda where, value: check(value, where)


class _Checked:
    """A record that checks its fields, all of them before it says what is wrong; None passes where it is the default."""

    NAME: ClassVar[str]
    CHECKS: ClassVar[Mapping[str, Check]]

    def __post_init__(self) -> None:
        errors: list[InputError] = []
        for name, check in self.CHECKS.items():
            value = getattr(self, name)
            if value is None and getattr(type(self), name, "") is None:
                continue
            try:
                object.__setattr__(self, name, check(f"{self.NAME}.{name}", value))
            except InputError as error:
                errors += each(error)
        errors += self._odd()
        if errors:
            raise errors[0] if len(errors) == 1 else InputErrors(errors)

    def _odd(self) -> Iterator[InputError]:
        """What does not go together."""
        yield from ()


@dataclass(frozen=True, kw_only=True)
class TrialAir(_Checked):
    """The air of the day as it was measured or taken: what a thermometer, a hygrometer, a map and a barometer say.

    altitude_m          above sea level [m]
    temperature_k       in the shade [K]
    humidity            0 to 1 [-]
    pressure_pa         at the place, not reduced to sea level; None: the standard atmosphere's [Pa]
    """

    __pydantic_config__: ClassVar[dict[str, Any]] = STRICT

    altitude_m: float
    temperature_k: float
    humidity: float
    pressure_pa: float | None = None

    NAME = "air"
    CHECKS: ClassVar[Mapping[str, Check]] = {
        "altitude_m": _figure(-1000.0, 11000.0, "m", "Give the height above sea level."),
        "temperature_k": _figure(200.0, 340.0, "K"),
        "humidity": _figure(0.0, 1.0, "", "55 % is 0.55."),
        "pressure_pa": _figure(20e3, 120e3, "Pa"),
    }

    def air(self) -> Air:
        """This air worked out.

        >>> round(TrialAir(altitude_m=250.0, temperature_k=291.15, humidity=0.55).air().density_kg_m3, 4)
        1.1717
        """
        from ridesim.environment.air import air

        return air(
            altitude_m=self.altitude_m,
            temperature_k=self.temperature_k,
            relative_humidity=self.humidity,
            pressure_pa=self.pressure_pa,
        )


def _clip(where: str, position: object) -> object:
    fix = "Count the grooves from the top."
    if type(position) is not int:
        raise InputError(where, position, "is not a whole number", fix)
    one(where, position, 1, MOST_GROOVES, "", fix)
    return position


def _holes(where: str, holes: object) -> tuple[float, ...]:
    if isinstance(holes, tuple | list) and not holes:  # none drilled
        return ()
    return several(where, holes, 0.0005, 0.2, "m", longest=100, fix="Give one diameter a hole.")


def _other(where: str, other: object) -> Mapping[str, str | float]:
    if not isinstance(other, Mapping) or len(other) > 100:
        raise InputError(where, other, "is not a table of at most 100 settings", "Give names with their settings.")
    plain: dict[str, str | float] = {}
    for name, value in other.items():
        checked_name(name, where)
        if isinstance(value, str):
            plain[name] = checked_text(value, f"{where}.{name}", LONGEST_NAME)
        else:
            plain[name] = one(f"{where}.{name}", value, -1e12, 1e12, "", "Give a number or a short text.")
    return MappingProxyType(plain)


_JET = _figure(LEAST_SIZE, MOST_SIZE, "", "Read the number stamped on it.")


@dataclass(frozen=True, kw_only=True)
class Settings(_Checked):
    """Everything that was set on the bike's fuel and air side. None is "not written down", never "none fitted".

    main_jet, pilot_jet           the number stamped on the jet
    main_jet_numbering, ...       "bore": hundredths of a millimeter; "flow": in proportion to the flow
    needle                        its marking
    clip_position                 groove of the clip counted from the top of the needle; 1 is the leanest
    mixture_screw_turns_out       from gently seated
    mixture_screw                 "fuel": out is richer; "air": out is leaner
    slide_cutaway                 the number on the slide; higher is leaner
    intake_open_area_m2           of all openings of the air box together [m2]
    intake_holes_m                diameters of the holes drilled and open, one entry a hole [m]
    exhaust                       what is fitted, in words
    other                         anything else: a name and what it was set to
    """

    __pydantic_config__: ClassVar[dict[str, Any]] = STRICT

    main_jet: float | None = None
    main_jet_numbering: Numbering = "bore"
    pilot_jet: float | None = None
    pilot_jet_numbering: Numbering = "bore"
    needle: str | None = None
    clip_position: int | None = None
    mixture_screw_turns_out: float | None = None
    mixture_screw: MixtureScrew | None = None
    slide_cutaway: float | None = None
    intake_open_area_m2: float | None = None
    intake_holes_m: tuple[float, ...] | None = None
    exhaust: str | None = None
    other: Mapping[str, str | float] = field(default_factory=dict, hash=False)

    NAME = "settings"
    CHECKS: ClassVar[Mapping[str, Check]] = {
        **dict.fromkeys(("main_jet", "pilot_jet"), _JET),
        "mixture_screw_turns_out": _figure(0.0, 20.0, "", "Count the turns from gently seated."),
        "slide_cutaway": _figure(0.0, 20.0, "", "Read the number on the slide."),
        "intake_open_area_m2": _figure(0.0, 0.1, "m2"),
        **dict.fromkeys(("main_jet_numbering", "pilot_jet_numbering"), _among(NUMBERINGS)),
        "mixture_screw": _among(SCREWS),
        **dict.fromkeys(("needle", "exhaust"), _by(checked_name)),
        "clip_position": _clip,
        "intake_holes_m": _holes,
        "other": _other,
    }


@dataclass(frozen=True, kw_only=True)
class RangeVerdict(_Checked):
    """What the engine said in one range of throttle openings; the remark says how it showed (plug, pick-up, sound).

    says is None where no verdict was given; "can't tell" is a verdict: the rider looked.
    """

    __pydantic_config__: ClassVar[dict[str, Any]] = STRICT

    says: Says | None = None
    remark: str = ""

    NAME = "verdict"
    CHECKS: ClassVar[Mapping[str, Check]] = {"says": _among(SAYS), "remark": _by(checked_text)}


@dataclass(frozen=True, kw_only=True)
class Verdicts:
    """The verdict in each range of throttle openings.

    >>> said = Verdicts(three_quarters_to_full=RangeVerdict(says="lean", remark="plug white"))
    >>> said.at("three_quarters_to_full").says, said.at("closed_to_eighth").says
    ('lean', None)
    """

    __pydantic_config__: ClassVar[dict[str, Any]] = STRICT

    closed_to_eighth: RangeVerdict = RangeVerdict()
    eighth_to_quarter: RangeVerdict = RangeVerdict()
    quarter_to_three_quarters: RangeVerdict = RangeVerdict()
    three_quarters_to_full: RangeVerdict = RangeVerdict()

    def at(self, opening: str) -> RangeVerdict:
        """The verdict in a range, by its key in OPENINGS."""
        found: RangeVerdict = getattr(self, opening)
        return found


def _log_ids(where: str, logs: object) -> tuple[str, ...]:
    if not isinstance(logs, tuple | list) or len(logs) > 100:
        raise InputError(where, logs, "is not a list of at most 100 ids", "Give the ids of its logs.")
    return tuple(checked_id(log, f"{where}[{place}]") for place, log in enumerate(logs))


@dataclass(frozen=True, kw_only=True)
class Trial(_Checked):
    """One ride with one state of the settings.

    ridden_at            ISO 8601, UTC
    builds_on            id of the trial it was changed from; None for the first
    fuel_used_m3 over distance_m    both or neither [m3, m]
    tune, revision       the power curve that belongs to it: its name in that revision of the build
    logs                 ids of the logs ridden with it
    put_back             how to undo it, in words
    """

    __pydantic_config__: ClassVar[dict[str, Any]] = STRICT

    id: str = field(default_factory=new_id)
    ridden_at: str
    air: TrialAir
    settings: Settings
    verdicts: Verdicts = Verdicts()
    builds_on: str | None = None
    fuel_used_m3: float | None = None
    distance_m: float | None = None
    tune: str | None = None
    revision: str | None = None
    logs: tuple[str, ...] = ()
    note: str = ""
    put_back: str = ""

    NAME = "trial"
    CHECKS: ClassVar[Mapping[str, Check]] = {
        **dict.fromkeys(("id", "builds_on", "revision"), _by(checked_id)),
        "ridden_at": _by(checked_time),
        "fuel_used_m3": _figure(1e-6, 1.0, "m3"),
        "distance_m": _figure(1.0, 1e7, "m"),
        "tune": _by(checked_name),
        "logs": _log_ids,
        **dict.fromkeys(("note", "put_back"), _by(checked_text)),
    }

    def _odd(self) -> Iterator[InputError]:
        if self.builds_on == self.id:
            fix = "Name the trial before it, or none."
            yield InputError("trial.builds_on", self.builds_on, "is the trial itself", fix)
        if (self.fuel_used_m3 is None) != (self.distance_m is None):
            yield InputError("trial.fuel_used_m3", self.fuel_used_m3, "goes with a distance", "Give both, or neither.")
        if (self.tune is None) != (self.revision is None):
            yield InputError("trial.tune", self.tune, "goes with a revision of the build", "Give both, or neither.")

    def links(self) -> tuple[tuple[str, str], ...]:
        """What it refers to, each as its kind and its id."""
        all_of = (("trial", self.builds_on), ("revision", self.revision), *(("log", log) for log in self.logs))
        return tuple((kind, row_id) for kind, row_id in all_of if row_id is not None)

    def consumption_m3_per_m(self) -> float | None:
        """Fuel used over the distance; None where they are not written down. [m2]"""
        if self.fuel_used_m3 is None or self.distance_m is None:
            return None
        return self.fuel_used_m3 / self.distance_m


def in_order(trials: Iterable[Trial]) -> tuple[Trial, ...]:
    """Trials in the order they were ridden; one never stands before the trial it builds on, whatever a wrong clock wrote.

    Trials of the same time stay in the order they come in.

    >>> air = TrialAir(altitude_m=250.0, temperature_k=291.15, humidity=0.55)
    >>> first = Trial(ridden_at="2031-05-04T09:30:00Z", air=air, settings=Settings(main_jet=120))
    >>> later = Trial(ridden_at="2031-05-04T09:45:00Z", air=air, settings=Settings(main_jet=130))
    >>> wrong_clock = Trial(ridden_at="2031-05-04T08:30:00Z", air=air, settings=Settings(main_jet=125), builds_on=first.id)
    >>> [one.settings.main_jet for one in in_order([later, first, wrong_clock])]
    [120.0, 125.0, 130.0]
    """
    known = {trial.id: trial for trial in trials}
    moments: dict[str, datetime] = {}
    for trial in known.values():
        chain_of: list[Trial] = []
        above: Trial | None = trial
        while above is not None and above.id not in moments and above not in chain_of:
            chain_of.append(above)
            above = known.get(above.builds_on or "")
        for one_of in reversed(chain_of):
            own, base = datetime.fromisoformat(one_of.ridden_at), moments.get(one_of.builds_on or "")
            moments[one_of.id] = own if base is None else max(own, base)
    return tuple(sorted(known.values(), key=lambda one_of: moments[one_of.id]))


def ridden_before(trials: Iterable[Trial], ridden_at: object, *, strictly: bool = False) -> Trial | None:
    """The latest of some trials that was ridden no later than a time; None where none was, or it is no time.

    Parameters
    ----------
    trials : iterable of Trial
        In any order.
    ridden_at : object
        An ISO 8601 time in UTC, as a trial has it; anything else is left to the trial's own check.
    strictly : bool
        Whether one of that very time is passed over.

    Examples
    --------
    >>> air = TrialAir(altitude_m=250.0, temperature_k=291.15, humidity=0.55)
    >>> ridden = Trial(ridden_at="2031-05-04T09:30:00Z", air=air, settings=Settings())
    >>> ridden_before([ridden], "2031-05-04T09:30:00Z") == ridden
    True
    >>> print(ridden_before([ridden], "2031-05-04T09:30:00Z", strictly=True), ridden_before([ridden], "yesterday"))
    None None
    """
    try:
        moment = datetime.fromisoformat(str(ridden_at))
        rides = [(trial, datetime.fromisoformat(trial.ridden_at)) for trial in in_order(trials)]
        earlier = [trial for trial, then in rides if then < moment or (then == moment and not strictly)]
    except (ValueError, TypeError):  # the trial's own check says what is wrong with it
        return None
    return earlier[-1] if earlier else None


def to_plain(trial: Trial) -> dict[str, Any]:
    """A trial as tables, lists, texts and numbers, ready for JSON."""
    settings = {one.name: getattr(trial.settings, one.name) for one in fields(Settings)}
    settings["other"] = dict(trial.settings.other)
    plain = {one.name: getattr(trial, one.name) for one in fields(Trial)}
    return plain | {"air": asdict(trial.air), "settings": settings, "verdicts": asdict(trial.verdicts)}


def from_plain(plain: Mapping[str, Any]) -> Trial:
    """The trial that to_plain wrote; names that are missing take their defaults."""
    verdicts = {opening: RangeVerdict(**verdict) for opening, verdict in plain["verdicts"].items()}
    air, settings = TrialAir(**plain["air"]), Settings(**plain["settings"])
    return Trial(**(dict(plain) | {"air": air, "settings": settings, "verdicts": Verdicts(**verdicts)}))


def to_json(trial: Trial) -> str:
    """A trial as JSON text; every float comes back to the last bit."""
    return json.dumps(to_plain(trial), allow_nan=False, ensure_ascii=False)


def from_json(text: str) -> Trial:
    """The trial of a JSON text that to_json wrote.

    >>> air = TrialAir(altitude_m=250.0, temperature_k=291.15, humidity=0.55)
    >>> ridden = Trial(ridden_at="2031-05-04T09:30:00Z", air=air, settings=Settings(main_jet=120, other={"plug": "grade 8"}))
    >>> from_json(to_json(ridden)) == ridden
    True
    """
    return from_plain(json.loads(text))
