"""One's own ride through pairs of sprockets: the command, its table as CSV, and the habits it knows."""

from __future__ import annotations

from functools import partial
from pathlib import Path
from typing import Annotated, Any

import typer

from ridesim.cli import log_given as given
from ridesim.cli.given import placed
from ridesim.cli.log_given import PLACES, progress
from ridesim.cli.log_options import BuildOption, LogFile, RideColumns, TimeRange
from ridesim.cli.options import Printing, grouped
from ridesim.cli.output import csv_text, say
from ridesim.errors import InputError
from ridesim.report.columns import columns_of


@grouped
def ride(
    file: LogFile,
    build: BuildOption,
    front: Annotated[str | None, typer.Option("--front", help="Front sprockets, such as 13:18.")] = None,
    rear: Annotated[str | None, typer.Option("--rear", help="Rear sprockets, such as 40:50.")] = None,
    habit: Annotated[
        str, typer.Option("--habit", help="Shift up and down at these shares of the range, or 'regulation'.")
    ] = "60 %:25 %",
    lugging: Annotated[
        str | None,
        typer.Option("--lugging", help="Pulling below it is lugging.", show_default="a fifth of the range"),
    ] = None,
    csv: Annotated[Path | None, typer.Option("--csv", help="Write the table to this CSV file.")] = None,
    time_range: TimeRange = None,
    *,
    columns: RideColumns,
    printing: Printing,
) -> None:
    """Your own ride through every pair of sprockets: engine speeds, shifts, time at the limit or lugging, fuel."""
    from ridesim.logs.ride import ridden
    from ridesim.units import quantity

    bike = given.bike_on(build)
    fronts, rears = _teeth(front, "--front", bike.front_teeth), _teeth(rear, "--rear", bike.rear_teeth)
    low = None if lugging is None else float(quantity(lugging, "engine speed", "rev/min", "--lugging"))
    log = given.read_logs([file], columns, time_range)[0]
    with progress("Riding it again") as told, placed(PLACES):
        done = ridden(
            bike,
            log,
            pairs=[(f, r) for f in fronts for r in rears],
            habit=_habit(habit, bike),
            lugging_rad_s=low,
            progress=told,
        )
    lines: tuple[str, ...] = ()
    if csv is not None:
        _write_csv(done.answer, csv, printing.units)
        lines = (f"{csv}: {len(done.pairs)} pairs",)
    say(_plain(done), partial(given.told_of, done.answer, lines=lines, most_rows=400), printing)


def _plain(done: Any) -> dict[str, Any]:
    """The ride with every pair, ready for JSON."""
    found = done.found
    return {
        "pairs": [{**row, "front": f, "rear": r} for row, (f, r) in zip(found.rows(), done.pairs, strict=True)],
        "moving_s": found.moving_s,
        "distance_m": found.distance_m,
        "lugging_rad_s": done.lugging_rad_s,
        "assumptions": found.assumptions,
        "notes": found.notes,
    }


def _teeth(written: str | None, where: str, own: int) -> tuple[int, ...]:
    """The sprockets named, or the build's own."""
    from ridesim.selection import teeth

    return (own,) if written is None else teeth(written, where)


def _habit(written: str, bike: Any) -> Any:
    """When the rider shifts: two shares with a colon, or the regulation's rule."""
    from ridesim.logs.fits.shifting import Habit
    from ridesim.logs.ride import rule_of
    from ridesim.units import quantity

    if written.strip().lower() == "regulation":
        return rule_of(bike)
    ends = written.split(":")
    if len(ends) != 2:
        raise InputError("--habit", written, "is no habit", "Write up:down such as '60 %:25 %', or regulation.")
    up, down = (float(quantity(end, "ratio", "", "--habit")) for end in ends)
    with placed({"habit.up_share": "--habit", "habit.down_share": "--habit"}):
        return Habit(up_share=up, down_share=down)


def _write_csv(answer: Any, path: Path, system: Any) -> None:
    """The table of the pairs as CSV, in the units shown."""
    from ridesim.files import save

    columns = columns_of(answer.tables[0], system)
    rows = zip(*(column.cells for column in columns), strict=True)
    plain = ([cell.replace(",", "").replace("−", "-") for cell in row] for row in rows)
    save(path, csv_text([[column.heading for column in columns], *plain]).encode("utf-8"), where="--csv")
