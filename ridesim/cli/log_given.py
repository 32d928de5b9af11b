"""What the commands about logs have in common: their options, reading files, progress, and an answer made ready to print."""

from __future__ import annotations

import sys
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass, fields
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from ridesim.cli.given import AIR, build_of, filled, inside, own_file, placed, write_into
from ridesim.cli.options import Day, ReplaceOption, option
from ridesim.errors import InputError

if TYPE_CHECKING:
    from ridesim.bike import Bike
    from ridesim.buildfile.io import Build
    from ridesim.logs.log import Log, RoadRun

Files = Annotated[
    list[Path], typer.Argument(help="Logs (CSV, JSON lines, GPX or TCX) in the order ridden.", show_default=False)
]
LogFile = Annotated[Path, typer.Argument(help="The log: CSV, JSON lines, GPX or TCX.", show_default=False)]
BuildOption = Annotated[Path, typer.Option("--build", help="The build as it was ridden, or the name of a demo build.")]
TimeRange = Annotated[
    str | None,
    typer.Option("--time-range", help="Only this part of each log, in seconds from its start, such as 30:240."),
]
ROLES = {  # what a column holds -> the field of LogColumns it is named in
    "time": "time",
    "speed": "speed",
    "engine speed": "engine",
    "elevation": "elevation",
    "latitude": "latitude",
    "longitude": "longitude",
}


@dataclass(frozen=True, kw_only=True)
class LogColumns:
    """Which columns of a log to take and what they are in, where its heading does not tell."""

    time: str | None = option("Column of the time, where the heading does not tell.")
    speed: str | None = option("Column of the road speed.")
    time_unit: str | None = option("Unit of the time, such as s or ms.")
    speed_unit: str | None = option("Unit of the speed, such as km/h.")
    engine: str | None = option("Column of the engine speed.")
    elevation: str | None = option("Column of the elevation.")
    latitude: str | None = option("Column of the latitude.")
    longitude: str | None = option("Column of the longitude.")

    def __post_init__(self) -> None:
        for one in fields(self):
            filled(getattr(self, one.name), f"--{one.name.replace('_', '-')}")

    def chosen(self) -> dict[str, str]:
        """The columns chosen by hand, by what they hold."""
        return {role: column for role, name in ROLES.items() if (column := getattr(self, name)) is not None}

    def units(self) -> dict[str, str]:
        """The units given by hand."""
        given = {"time": self.time_unit, "speed": self.speed_unit}
        return {role: unit for role, unit in given.items() if unit is not None}


@dataclass(frozen=True, kw_only=True)
class RunDay(Day):
    """A day of runs: its air, and which way each run went."""

    directions: str | None = option("Which way each run went: out,back,out; out alone for all.", otherwise="positions")


@dataclass(frozen=True, kw_only=True)
class Speeds:
    """Where a run begins and ends."""

    from_speed: str | None = option("Speed at which a run begins.", "--from", otherwise="chosen")
    to_speed: str | None = option("Speed at which a run ends.", "--to", otherwise="chosen")

    def ends(self, first_m_s: float, last_m_s: float) -> tuple[float, float]:
        """Both speeds, or what is chosen otherwise; a bare number is in km/h. [m/s]"""
        written = (self.from_speed, "--from", first_m_s), (self.to_speed, "--to", last_m_s)
        begins, ends = (
            chosen if text is None else inside(text, "speed", "km/h", where, (0, 430))
            for text, where, chosen in written
        )
        return begins, ends


@dataclass(frozen=True, kw_only=True)
class Saving:
    """Where the result goes besides the screen."""

    into: Path | None = option("Build file to write the result into; comments stay.", otherwise=False)
    output: Path | None = option("Write that build here instead.", "--output", "-o", otherwise=False)
    replace: ReplaceOption = False

    def __post_init__(self) -> None:
        if self.output is not None and self.into is None:
            raise InputError("--output", str(self.output), "goes with --into", "Name the build to write into.")
        if self.into is not None:
            own_file(self.into, self.output)

    def save(self, change: Callable[[Build], Build]) -> None:
        """Write the build with the result in it, before anything is printed, so that a refusal prints nothing."""
        if self.into is not None:
            write_into(self.into, self.output, change, replace=self.replace)

    def say(self, what: str, *, as_json: bool) -> None:
        """Say what was written, if anything was; beside JSON on standard error."""
        if self.into is not None:
            typer.echo(f"{self.output or self.into}: {what}", err=as_json)


PLACES = {name: f"--{name}" for name in ("directions", "gear", "gears", "standard")} | {
    "stretch": "--time-range",
    "speed": "--from",
    "tune.standard": "--standard",
    "tune": "--name",
    "same_receiver": "--same-phone",
    "one_way_wind_m_s": "--wind",
    "one_way_grade": "--slope",
    "rolling_circumference_m": "--circumference",
    "lugging_rad_s": "--lugging",
    **{f"air.{key}": f"--{key}" for key in AIR},
}


def of_options(error: InputError, columns: LogColumns) -> InputError:
    """What a log could not be read for, in the options of the command: "units.speed" is --speed-unit."""
    from ridesim.logs.reading.shape import HeadingError

    what, _, role = error.where.partition(".")
    where, got, fix = error.where, error.got, error.fix
    if what == "columns" and role in ROLES:
        where, got = _option(role), columns.chosen().get(role, got)
    if what == "units" and role in columns.units():
        fix = f"Write one such as {'km/h, mph or m/s' if role == 'speed' else 's, ms or min'}."
        return InputError(f"{_option(role)}-unit", columns.units()[role], f"is not a unit of {role}", fix)
    if isinstance(error, HeadingError):
        example = {"speed": "km/h", "time": "s"}.get(error.role, "")
        among = ", ".join(repr(name[:40]) for name in error.headings[:30])
        fix = (
            f"Say it, such as {_option(error.role)}-unit {example}."
            if error.asks == "unit"
            else f"Choose with {_option(error.role)} COLUMN among {among}."
        )
    return InputError(where, got, error.problem, fix)


def _option(role: str) -> str:
    return f"--{ROLES[role]}" if role in ROLES else role


@contextmanager
def progress(what: str) -> Iterator[Callable[[float], None] | None]:
    """A bar on standard error while it is a terminal; None, which costs nothing, where it is not."""
    if not sys.stderr.isatty():
        yield None
        return
    from rich.console import Console
    from rich.progress import Progress

    with Progress(console=Console(stderr=True), transient=True) as bar:
        task = bar.add_task(what, total=1.0)
        yield lambda share: bar.update(task, completed=share)


def read_logs(files: Sequence[Path], columns: LogColumns, time_range: str | None = None) -> list[Log]:
    """The logs of some files, or the stretch of each that was asked for."""
    from ridesim.logs.log import part_of
    from ridesim.logs.reader import read_log

    logs = []
    for path in files:
        with progress(f"Reading {path.name[:60]}") as told:
            try:
                log = read_log(path, columns=columns.chosen() or None, units=columns.units() or None, progress=told)
            except InputError as error:
                raise of_options(error, columns) from None
        with placed(PLACES):
            logs.append(part_of(log, *_ends(time_range)))
    return logs


def _ends(time_range: str | None) -> tuple[float | None, float | None]:
    from ridesim.units import quantity

    if time_range is None:
        return None, None
    ends = time_range.split(":")
    if len(ends) != 2 or not any(end.strip() for end in ends):
        raise InputError("--time-range", time_range, "is no time range", "Write seconds from:to, such as 30:240.")
    low, high = (float(quantity(end, "time", "s", "--time-range")) if end.strip() else None for end in ends)
    return low, high


def bike_on(path: Path, day: Day | None = None) -> Bike:
    """The bike of a build in the air of the test, or in its own."""
    from ridesim.bike import make_bike
    from ridesim.logs.fits.bike import with_air

    build = build_of(path)
    for key, text in ({} if day is None else day.written()).items():
        filled(text, f"--{key}")
    with placed(PLACES):
        return make_bike(build if day is None else with_air(build, day.written()))


def find_runs(
    logs: Sequence[Log], kind: Any, speeds: tuple[float, float], directions: str | None
) -> tuple[RoadRun, ...]:
    """The runs of the logs, each with the way it was ridden."""
    from ridesim.logs.log import directions_of
    from ridesim.logs.runs import runs_of

    with placed(PLACES):
        told = None if directions is None else directions_of(directions)
        return runs_of(logs, kind, from_m_s=speeds[0], to_m_s=speeds[1], directions=told)
