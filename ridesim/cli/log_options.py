"""The options of the commands about logs, each written once."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, fields
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from ridesim.cli.given import filled, inside, own_file, write_into
from ridesim.cli.options import Day, ReplaceOption
from ridesim.errors import InputError

if TYPE_CHECKING:
    from ridesim.buildfile.io import Build

Files = Annotated[
    list[Path], typer.Argument(help="Logs (CSV, JSON lines, GPX or TCX) in the order ridden.", show_default=False)
]
LogFile = Annotated[Path, typer.Argument(help="The log: CSV, JSON lines, GPX or TCX.", show_default=False)]
BuildOption = Annotated[Path, typer.Option("--build", help="The build as it was ridden, or the name of a demo build.")]
EngineColumn = Annotated[str | None, typer.Option("--engine", help="Column of the engine speed.")]
TimeRange = Annotated[
    str | None,
    typer.Option("--time-range", help="Only this part of each log, in seconds from its start, such as 30:240."),
]
ROLES = {  # what a column holds -> the field of Columns it is named in
    "time": "time",
    "speed": "speed",
    "engine speed": "engine",
    "elevation": "elevation",
    "latitude": "latitude",
    "longitude": "longitude",
}


@dataclass(frozen=True, kw_only=True)
class Columns:
    """Which columns of a log to take and what they are in, where its heading does not tell."""

    time: Annotated[str | None, typer.Option("--time", help="Column of the time, where the heading does not tell.")] = (
        None
    )
    speed: Annotated[str | None, typer.Option("--speed", help="Column of the road speed.")] = None
    time_unit: Annotated[str | None, typer.Option("--time-unit", help="Unit of the time, such as s or ms.")] = None
    speed_unit: Annotated[str | None, typer.Option("--speed-unit", help="Unit of the speed, such as km/h.")] = None

    def __post_init__(self) -> None:
        for one in fields(self):
            filled(getattr(self, one.name), f"--{one.name.replace('_', '-')}")

    def chosen(self) -> dict[str, str]:
        """The columns chosen by hand, by what they hold."""
        return {role: column for role, name in ROLES.items() if (column := getattr(self, name, None)) is not None}

    def units(self) -> dict[str, str]:
        """The units given by hand."""
        given = {"time": self.time_unit, "speed": self.speed_unit}
        return {role: unit for role, unit in given.items() if unit is not None}


@dataclass(frozen=True, kw_only=True)
class GearColumns(Columns):
    """Those from which gears are told."""

    engine: EngineColumn = None


@dataclass(frozen=True, kw_only=True)
class RoadColumns(Columns):
    """Those of a road ridden both ways."""

    latitude: Annotated[str | None, typer.Option("--latitude", help="Column of the latitude.")] = None
    longitude: Annotated[str | None, typer.Option("--longitude", help="Column of the longitude.")] = None


@dataclass(frozen=True, kw_only=True)
class RideColumns(RoadColumns):
    """Those of a ride up hill and down."""

    elevation: Annotated[str | None, typer.Option("--elevation", help="Column of the elevation.")] = None


@dataclass(frozen=True, kw_only=True)
class AllColumns(RideColumns):
    """Everything a log may hold."""

    engine: EngineColumn = None


@dataclass(frozen=True, kw_only=True)
class RunDay(Day):
    """A day of runs: its air, and which way each run went."""

    directions: Annotated[
        str | None,
        typer.Option(help="Which way each run went: out,back,out; out alone for all.", show_default="positions"),
    ] = None


@dataclass(frozen=True, kw_only=True)
class Speeds:
    """Where a run begins and ends."""

    from_speed: Annotated[
        str | None, typer.Option("--from", help="Speed at which a run begins.", show_default="chosen")
    ] = None
    to_speed: Annotated[str | None, typer.Option("--to", help="Speed at which a run ends.", show_default="chosen")] = (
        None
    )

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

    into: Annotated[
        Path | None,
        typer.Option("--into", help="Build file to write the result into; comments stay.", show_default=False),
    ] = None
    output: Annotated[
        Path | None, typer.Option("--output", "-o", help="Write that build here instead.", show_default=False)
    ] = None
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
