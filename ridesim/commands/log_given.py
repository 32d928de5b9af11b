"""What the commands about logs have in common: their options, reading files, progress, and an answer made ready to print."""

from __future__ import annotations

import re
import sys
from collections.abc import Callable, Iterator, Mapping, Sequence
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from ridesim.commands.given import demo_or_file, placed
from ridesim.commands.output import Told, columns_of
from ridesim.errors import InputError

if TYPE_CHECKING:
    from ridesim.answers.base import Answer
    from ridesim.bike import Bike
    from ridesim.build import Build
    from ridesim.roadlog import Log, Run

Files = Annotated[list[Path], typer.Argument(help="Logs, CSV or GPX, in the order ridden.", show_default=False)]
LogFile = Annotated[Path, typer.Argument(help="The log, CSV or GPX.", show_default=False)]
BuildOption = Annotated[Path, typer.Option("--build", help="The build as it was ridden, or the name of a demo build.")]
Time = Annotated[str | None, typer.Option("--time", help="Column of the time, where the heading does not tell.")]
Speed = Annotated[str | None, typer.Option("--speed", help="Column of the road speed.")]
EngineColumn = Annotated[str | None, typer.Option("--engine", help="Column of the engine speed.")]
Elevation = Annotated[str | None, typer.Option("--elevation", help="Column of the elevation.")]
Latitude = Annotated[str | None, typer.Option("--latitude", help="Column of the latitude.")]
Longitude = Annotated[str | None, typer.Option("--longitude", help="Column of the longitude.")]
TimeUnit = Annotated[str | None, typer.Option("--time-unit", help="Unit of the time, such as s or ms.")]
SpeedUnit = Annotated[str | None, typer.Option("--speed-unit", help="Unit of the speed, such as km/h.")]
Stretch = Annotated[
    str | None,
    typer.Option("--stretch", help="Only this part of each log, in seconds from its start, such as 30:240."),
]
FromSpeed = Annotated[str | None, typer.Option("--from", help="Speed at which a run begins.", show_default="chosen")]
ToSpeed = Annotated[str | None, typer.Option("--to", help="Speed at which a run ends.", show_default="chosen")]
Ways = Annotated[
    str | None,
    typer.Option("--ways", help="Which way each run went: out,back,out; out alone for all.", show_default="positions"),
]
Altitude = Annotated[
    str | None, typer.Option("--altitude", help="Where it was ridden, such as '250 m'.", show_default="the build's")
]
Temperature = Annotated[
    str | None, typer.Option("--temperature", help="That day, such as '12 degC'.", show_default="the build's")
]
Humidity = Annotated[str | None, typer.Option("--humidity", help="That day.", show_default="the build's")]
Pressure = Annotated[
    str | None, typer.Option("--pressure", help="At the place, not reduced to sea level.", show_default="by altitude")
]
Into = Annotated[
    Path | None, typer.Option("--into", help="Build file to write the result into; comments stay.", show_default=False)
]
Output = Annotated[
    Path | None, typer.Option("--output", "-o", help="Write that build here instead.", show_default=False)
]

ROLES = {
    "time": "--time",
    "speed": "--speed",
    "engine speed": "--engine",
    "elevation": "--elevation",
    "latitude": "--latitude",
    "longitude": "--longitude",
}
PLACES = {
    "ways": "--ways",
    "directions": "--ways",
    "stretch": "--stretch",
    "gear": "--gear",
    "gears": "--gears",
    "speed": "--from",
    "standard": "--standard",
    "tune.standard": "--standard",
    "tune": "--name",
    "one_way_wind_m_s": "--wind",
    "one_way_grade": "--slope",
    "rolling_circumference_m": "--circumference",
    "lugging_rad_s": "--lugging",
    "air.altitude": "--altitude",
    "air.temperature": "--temperature",
    "air.humidity": "--humidity",
    "air.pressure": "--pressure",
}
_UNIT = re.compile(r"""Tell it: units=\{"(\w[\w ]*)": "([^"]+)"\}""")
_COLUMN = re.compile(r"""Choose with columns=\{'(\w[\w ]*)': \.\.\.\}""")


def on_the_line(fix: str) -> str:
    """What to do about it, with the options of the command in place of the library's arguments.

    >>> on_the_line('Tell it: units={"speed": "km/h"}.')
    'Tell it: --speed-unit km/h.'
    """
    fix = _UNIT.sub(lambda m: f"Tell it: {ROLES.get(m[1], m[1])}-unit {m[2]}", fix)
    return _COLUMN.sub(lambda m: f"Choose with {ROLES.get(m[1], m[1])} COLUMN", fix)


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


def chosen(
    time: str | None = None,
    speed: str | None = None,
    engine: str | None = None,
    elevation: str | None = None,
    latitude: str | None = None,
    longitude: str | None = None,
) -> dict[str, str]:
    """The columns chosen by hand."""
    given = zip(ROLES, (time, speed, engine, elevation, latitude, longitude), strict=True)
    return {role: column for role, column in given if column is not None}


def units_of(time_unit: str | None, speed_unit: str | None) -> dict[str, str]:
    """The units given by hand."""
    given = {"time": time_unit, "speed": speed_unit}
    return {role: unit for role, unit in given.items() if unit is not None}


def read_logs(
    files: Sequence[Path], columns: Mapping[str, str], units: Mapping[str, str], stretch: str | None = None
) -> list[Log]:
    """The logs of some files, or the stretch of each that was asked for."""
    from ridesim.roadlog import read_log
    from ridesim.roadtest import part_of

    logs = []
    for path in files:
        with progress(f"Reading {path.name[:60]}") as told:
            try:
                log = read_log(path, columns=columns or None, units=units or None, progress=told)
            except InputError as error:
                raise InputError(error.where, error.got, error.problem, on_the_line(error.fix)) from None
        with placed(PLACES):
            logs.append(part_of(log, *_ends(stretch)))
    return logs


def _ends(stretch: str | None) -> tuple[float | None, float | None]:
    from ridesim.units import quantity

    if stretch is None:
        return None, None
    ends = stretch.split(":")
    if len(ends) != 2 or not any(end.strip() for end in ends):
        raise InputError("--stretch", stretch, "is no stretch", "Write seconds from:to, such as 30:240.")
    low, high = (float(quantity(end, "time", "s", "--stretch")) if end.strip() else None for end in ends)
    return low, high


def day(
    altitude: str | None, temperature: str | None, humidity: str | None, pressure: str | None
) -> dict[str, str | None]:
    """The air of the day as written."""
    return {"altitude": altitude, "temperature": temperature, "humidity": humidity, "pressure": pressure}


def ridden_build(path: Path) -> Build:
    """The build as it was ridden."""
    from ridesim.build import read

    return read(demo_or_file(path))


def bike_on(path: Path, air: Mapping[str, str | None]) -> Bike:
    """The bike of a build in the air of the test."""
    from ridesim.bike import make_bike
    from ridesim.roadtest import with_air

    build = ridden_build(path)
    with placed(PLACES):
        return make_bike(with_air(build, air))


def speed(written: str | None, where: str, otherwise: float) -> float:
    """A speed; a bare number is in km/h. [m/s]"""
    from ridesim.units import quantity

    return otherwise if written is None else float(quantity(written, "speed", "km/h", where))


def find_runs(logs: Sequence[Log], kind: Any, speeds: tuple[float, float], ways: str | None) -> tuple[Run, ...]:
    """The runs of the logs, each with the way it was ridden."""
    from ridesim.roadtest import runs_of, ways_of

    with placed(PLACES):
        told = None if ways is None else ways_of(ways)
        return runs_of(logs, kind, from_m_s=speeds[0], to_m_s=speeds[1], ways=told)


def told_of(answer: Answer, system: str, *, lines: tuple[str, ...] = (), most_rows: int = 60) -> Told:
    """An answer made ready to print."""
    from dataclasses import replace

    from ridesim.answers.words import band_words, figure_words, sentence

    bands = tuple(
        f"  {figure.label}: {figure_words(figure, system)} ({band})"
        for figure in answer.figures
        if (band := band_words(figure, system))
    )
    cut = tuple(
        f"{table.title}: the first {most_rows} of {len(table.rows)} rows; --json gives all"
        for table in answer.tables
        if len(table.rows) > most_rows
    )
    tables = tuple(
        (table.title, columns_of(replace(table, rows=table.rows[:most_rows]), system)) for table in answer.tables
    )
    return Told(
        title=answer.question,
        sentence=sentence(answer, system),
        lines=(*bands, *lines),
        tables=tables,
        steps=answer.steps,
        assumptions=answer.assumptions,
        notes=(*answer.notes, *cut),
        cautions=answer.cautions,
    )


def saved(build: Build, into: Path, output: Path | None, what: str, *, as_json: bool) -> None:
    """Write the build with the result in it, and say so; beside JSON it is said on standard error."""
    target = output or into
    build.save(target)
    typer.echo(f"{target}: {what}", err=as_json)
