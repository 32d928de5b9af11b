"""What the commands about logs have in common: reading files, progress, and an answer made ready to print."""

from __future__ import annotations

import sys
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING, Any

from ridesim.cli.given import demo_or_file, filled, placed
from ridesim.cli.log_options import ROLES, Columns
from ridesim.cli.options import Day
from ridesim.errors import InputError
from ridesim.report.columns import Told, columns_of

if TYPE_CHECKING:
    from ridesim.answers.base import Answer
    from ridesim.bike import Bike
    from ridesim.buildfile.io import Build
    from ridesim.logs.log import Log, Run

PLACES = {
    "directions": "--directions",
    "stretch": "--time-range",
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


def of_options(error: InputError, columns: Columns) -> InputError:
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


def read_logs(files: Sequence[Path], columns: Columns, time_range: str | None = None) -> list[Log]:
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


def ridden_build(path: Path) -> Build:
    """The build as it was ridden."""
    from ridesim.buildfile.io import read

    return read(demo_or_file(path))


def bike_on(path: Path, day: Day | None = None) -> Bike:
    """The bike of a build in the air of the test, or in its own."""
    from ridesim.bike import make_bike
    from ridesim.logs.fits.bike import with_air

    build = ridden_build(path)
    for key, text in ({} if day is None else day.written()).items():
        filled(text, f"--{key}")
    with placed(PLACES):
        return make_bike(build if day is None else with_air(build, day.written()))


def find_runs(logs: Sequence[Log], kind: Any, speeds: tuple[float, float], directions: str | None) -> tuple[Run, ...]:
    """The runs of the logs, each with the way it was ridden."""
    from ridesim.logs.log import directions_of, runs_of

    with placed(PLACES):
        told = None if directions is None else directions_of(directions)
        return runs_of(logs, kind, from_m_s=speeds[0], to_m_s=speeds[1], directions=told)


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
