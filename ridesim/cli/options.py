"""Options that several commands have, each written once: records whose fields are options, spelt out by `grouped`."""

from __future__ import annotations

import inspect
from collections.abc import Callable, Mapping
from copy import copy
from dataclasses import MISSING, Field, dataclass, field, fields, is_dataclass
from functools import wraps
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any, ClassVar, Literal, get_args, get_type_hints

import typer
from typer.models import OptionInfo

from ridesim.cli.given import AIR

if TYPE_CHECKING:
    from ridesim.bike import Bike
    from ridesim.buildfile.io import Build
    from ridesim.mechanics.setups import Ride

Units = Literal["metric", "us"]
UnitsOption = Annotated[Units, typer.Option("--units", help="Units to print in.")]
ReplaceOption = Annotated[
    bool, typer.Option("--replace", help="Replace what is there already; the file as it was is kept beside it, dated.")
]
JsonOption = Annotated[
    bool, typer.Option("--json", help="Print one JSON object instead of text; its keys end in their units.")
]
FullOption = Annotated[
    bool, typer.Option("--full", help="Print everything: tables, what does not change, assumptions, notes, cautions.")
]
WorkingOption = Annotated[bool, typer.Option("--working", help="Print the steps: each formula with its numbers in.")]
BuildFile = Annotated[
    Path,
    typer.Argument(
        help="The build file (TOML), or the name of a demo build such as 'coast-single'.", show_default=False
    ),
]


# names that options had before, which go on working
_OLD = {
    "cruise-engine-speed-most": "max-cruise-engine-speed",
    "climb-least": "min-climb",
    "lift-least": "min-lift",
    "walking-speed-most": "max-walking-speed",
    "top-speed-least": "min-top-speed",
    "time-0-100-most": "max-time-0-100",
    "roll-on-most": "max-roll-on",
    "numbered": "numbering",
    "doubt": "density-uncertainty",
    "ways": "directions",
    "before-ways": "before-directions",
    "after-ways": "after-directions",
    "stretch": "time-range",
}


def renamed(option: str) -> str:
    """The name of an option, where the line has the one it had before; other words stay.

    >>> renamed("ways"), renamed("units")
    ('directions', 'units')
    """
    return _OLD.get(option, option)


def dashed(name: str, before: str = "--") -> str:
    """An option on the line, by the name of its parameter or field.

    >>> dashed("main_jets"), dashed("altitude", "--from-")
    ('--main-jets', '--from-altitude')
    """
    return f"{before}{name.replace('_', '-')}"


@dataclass(frozen=True, kw_only=True)
class Spelt:
    """How a record of options is spelt in one command: what stands before each name, what holds for those not given."""

    before: str = ""
    otherwise: str | None = None


def family(text: str) -> typer.Typer:
    """An app of several commands, and what its help says."""
    return typer.Typer(no_args_is_help=True, rich_markup_mode=None, add_completion=False, help=text)


def option(text: str, *names: str, default: Any = None, otherwise: str | bool = True, **how: Any) -> Any:
    """An option, as a field of a record of options or a parameter of a command that is `grouped`.

    Parameters
    ----------
    text : str
        What the help says of it.
    names : str
        How it is spelt, where its name does not say so; a switch always says it, or it has a --no- beside it.
    default : optional
        What holds where it is left out; ... where it must not be.
    otherwise : str or bool
        What the help says of that: the default itself unless given, nothing where False.
    how : optional
        What else typer.Option takes.
    """
    shown = typer.Option(*names, help=text, show_default=otherwise, **how)
    return field(default=MISSING if default is ... else default, metadata={"option": shown})


def grouped(command: Callable[..., Any]) -> Callable[..., Any]:
    """A command with every record among its parameters taken apart into one option a field, and put together when it runs.

    `Annotated[Day, Spelt(before="from_")]` makes --from-altitude of the field `altitude`; so does a parameter that is an `option`.
    """
    hints = get_type_hints(command, include_extras=True)
    records: dict[str, tuple[Any, str]] = {}
    parameters: list[inspect.Parameter] = []
    for name, parameter in inspect.signature(command).parameters.items():
        record, *extras = get_args(hints[name]) if hasattr(hints[name], "__metadata__") else (hints[name],)
        if not (isinstance(record, type) and is_dataclass(record)):
            parameters.append(_keyword(name, hints[name], parameter.default))
            continue
        spelt = next((extra for extra in extras if isinstance(extra, Spelt)), Spelt())
        records[name] = record, spelt.before
        parameters += _spelt_out(record, spelt)

    @wraps(command)
    def taken_apart(**given: Any) -> Any:
        for name, (record, before) in records.items():
            given[name] = record(**{one.name: given.pop(before + one.name) for one in fields(record)})
        return command(**given)

    taken_apart.__signature__ = inspect.Signature(parameters)  # type: ignore[attr-defined]
    taken_apart.__annotations__ = {one.name: one.annotation for one in parameters}
    return taken_apart


def _spelt_out(record: Any, spelt: Spelt) -> list[inspect.Parameter]:
    """A parameter for each field of a record."""
    hints = get_type_hints(record, include_extras=True)
    return [_keyword(spelt.before + one.name, hints[one.name], one, spelt.otherwise) for one in fields(record)]


def _keyword(name: str, hint: Any, default: Any, otherwise: str | None = None) -> inspect.Parameter:
    """A parameter as typer takes it; otherwise is what the help says of its default, where the option does not say it."""
    if isinstance(default, Field):
        if default.metadata:
            hint = Annotated[hint, default.metadata["option"]]
        default = inspect.Parameter.empty if default.default is MISSING else default.default
    if otherwise:
        kind, shown = get_args(hint)
        if isinstance(shown, OptionInfo) and shown.show_default is True:
            shown = copy(shown)
            shown.show_default = otherwise
            hint = Annotated[kind, shown]
    return inspect.Parameter(name, inspect.Parameter.KEYWORD_ONLY, annotation=hint, default=default)


@dataclass(frozen=True, kw_only=True)
class Printing:
    """How an answer is printed."""

    units: UnitsOption = "metric"
    as_json: JsonOption = False
    working: WorkingOption = False


class Given:
    """Options that may all be left out."""

    AT: ClassVar[Mapping[str, str]] = {}  # where the library says that a value will not do, if not at the option's name

    def given(self) -> tuple[str, ...]:
        """The names of those that are not."""
        return tuple(one.name for one in fields(self) if getattr(self, one.name) is not None)  # type: ignore[arg-type]

    def places(self) -> dict[str, str]:
        """Where the library says that a value will not do, and the option it came from."""
        return {self.AT.get(name, name): dashed(name) for name in self.given()}


@dataclass(frozen=True, kw_only=True)
class Changes(Given):
    """What the line changes of a build."""

    AT: ClassVar[Mapping[str, str]] = {
        "front": "final_drive.front",
        "rear": "final_drive.rear",
        "tire": "tires.rear.size",
        "front_tire": "tires.front.size",
    }

    tune: str | None = option("A state of tune of the build.", otherwise="the active one")
    front: int | None = option("Teeth of the front sprocket.", otherwise="the file's")
    rear: int | None = option("Teeth of the rear sprocket.", otherwise="the file's")
    tire: str | None = option("Marking of another rear tire.", otherwise="the file's")
    front_tire: str | None = option("Marking of another front tire.", otherwise="the file's")

    def bike(self, build: Build) -> Bike:
        """The bike of a build with these changes."""
        from ridesim.bike import make_bike

        return make_bike(
            build, tune=self.tune, front=self.front, rear=self.rear, rear_tire=self.tire, front_tire=self.front_tire
        )


@dataclass(frozen=True, kw_only=True)
class Riding(Given):
    """How it is ridden."""

    cruise: str | None = option("Cruising speed, such as '105 km/h'.", otherwise="the file's")
    grade: str | None = option("Grade, such as '5 %'.", otherwise="the file's")
    headwind: str | None = option("Head wind, such as '5 m/s'.", otherwise="the file's")

    def ride(self, bike: Bike, units: str = "metric") -> Ride:
        """The ride of a bike: what is written here, else what its build says, timed over round figures of the units."""
        from ridesim.answers.solved import ride_with

        return ride_with(bike, cruise=self.cruise, grade=self.grade, headwind=self.headwind, units=units)


@dataclass(frozen=True, kw_only=True)
class Day:
    """The air of a day as it is written."""

    altitude: str | None = option("Of the place, such as '250 m'.")
    temperature: str | None = option("In the shade, such as '18 degC'.", otherwise="by altitude")
    humidity: str | None = option("Such as '55 %'.")
    pressure: str | None = option("At the place, not reduced to sea level.", otherwise="by altitude")

    def written(self) -> dict[str, str | None]:
        """By the keys of AIR, None where nothing is written."""
        return {key: getattr(self, key) for key in AIR}
