"""The logs of rides that the garage keeps beside a bike: added, listed, taken out as they came."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from ridesim.cli.garage.builds import BikeName, FileOption, NewPath, NoteOption, app, opened
from ridesim.cli.options import JsonOption, family, grouped, option
from ridesim.cli.output import tell, tell_json
from ridesim.errors import InputError
from ridesim.statements import many

if TYPE_CHECKING:
    from ridesim.garage import Garage
    from ridesim.garage.records import GarageLog

logs = family("Logs of rides kept with a bike.")
app.add_typer(logs, name="log")

LogName = Annotated[str, typer.Argument(metavar="log", help="Number in the list, or id.", show_default=False)]


def log_named(garage: Garage, bike: str, name: str, *, archived: bool = False) -> GarageLog:
    """A log by its number in the list that is meant, or by its id."""
    kept = garage.logs(bike, archived=archived)
    for number, log in enumerate(kept, start=1):
        if name in (str(number), log.id):
            return log
    place = " in the archive" if archived else ""
    known = f"{bike} has logs 1 to {len(kept)}{place}." if kept else f"{bike} has no log{place}."
    raise InputError("log", name, f"is not a log of this bike{place}", known)


@logs.command()
def add(
    bike: BikeName,
    log: Annotated[Path, typer.Argument(help="CSV or GPX file of a ride.", show_default=False)],
    note: NoteOption = "",
    file: FileOption = None,
    as_json: JsonOption = False,
) -> None:
    """Keep the log of a ride with a bike, byte for byte."""
    with opened(file) as garage:
        name = log.absolute().name
        same = any(one.name == name for one in garage.logs(bike))
        kept = garage.add_log(bike, name, log, log.suffix.lstrip(".").lower() or "log", note=note)
    if as_json:
        return tell_json(kept)
    twice = "; there is another log of that name" if same else ""
    return typer.echo(f"{bike}: {kept.name} kept, {kept.size_bytes} bytes{twice}")


@logs.command("list")
@grouped
def list_logs(
    bike: BikeName,
    archived: bool = option("Those in the archive.", "--archived", default=False),
    file: FileOption = None,
    as_json: JsonOption = False,
) -> None:
    """The logs of a bike, in the order they were added."""
    with opened(file) as garage:
        kept = garage.logs(bike, archived=archived)
    if as_json:
        return tell_json({"bike": bike, "logs": kept})
    columns = (
        ("log", "Log", "number", range(1, len(kept) + 1)),
        ("name", "Name", "text", [one.name for one in kept]),
        ("bytes", "Bytes", "number", [one.size_bytes for one in kept]),
        ("added", "Added", "text", [one.added_at[:10] for one in kept]),
        ("note", "Note", "text", [one.note for one in kept]),
        ("id", "Id", "text", [one.id for one in kept]),
    )
    return tell(f"Logs of {bike}", f"{many(len(kept), 'log')}{' in the archive' if archived else ''}.", *columns)


@logs.command("take-out")
def take_out(bike: BikeName, log: LogName, path: NewPath, file: FileOption = None) -> None:
    """Write a log to a new file, as it was added; it stays in the garage."""
    from ridesim.files import create

    with opened(file) as garage:
        content = garage.log_content(log_named(garage, bike, log).id)
    create(path, lambda part: part.write_bytes(content))
    typer.echo(str(path))


@logs.command()
def archive(bike: BikeName, log: LogName, file: FileOption = None) -> None:
    """Put a log out of sight; bring-back undoes it."""
    with opened(file) as garage:
        found = log_named(garage, bike, log)
        garage.archive_row("log", found.id)
    typer.echo(f"{bike}: {found.name} in the archive; bring it back with: ridesim garage log bring-back")


@logs.command("bring-back")
def bring_back(bike: BikeName, log: LogName, file: FileOption = None) -> None:
    """Take a log out of the archive; its number is that of list --archived."""
    with opened(file) as garage:
        found = log_named(garage, bike, log, archived=True)
        garage.bring_back_row("log", found.id)
    typer.echo(f"{bike}: {found.name} back in the garage")
