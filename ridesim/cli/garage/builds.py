"""The garage: builds with their history, kept in one file; nothing kept is ever deleted."""

from __future__ import annotations

import os
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import asdict
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from ridesim.cli.given import demo_or_file, read_text, usable
from ridesim.cli.options import JsonOption, family, grouped, option
from ridesim.cli.output import tell, tell_json
from ridesim.errors import InputError
from ridesim.statements import many

if TYPE_CHECKING:
    from ridesim.garage import Garage
    from ridesim.garage.records import Revision

app = family("Builds with their history, trials and logs, in one file.")

FileOption = Annotated[
    Path | None, typer.Option("--file", help="The garage's file.", show_default="in the user's data folder")
]
BikeName = Annotated[str, typer.Argument(help="Name of the bike in the garage.", show_default=False)]
RevisionName = Annotated[
    str, typer.Argument(help="Number or id of a revision; 'newest' is the newest.", show_default=False)
]
NewPath = Annotated[Path, typer.Argument(help="File to write; it must not be there yet.", show_default=False)]
NoteOption = Annotated[str, typer.Option("--note", help="A few words kept with it.")]
_EMPTY = "Save a build first: ridesim garage save BUILD."


@contextmanager
def opened(file: Path | None, *, make: bool = False) -> Iterator[Garage]:
    """The garage; only a command that saves makes a new one, so that a misspelt path leaves no empty file behind."""
    from ridesim.garage import Garage
    from ridesim.garage.store import default_path

    where = default_path() if file is None else file
    if not make and not os.path.lexists(where):
        raise InputError("--file", str(where), "is not there", f"Check the path. {_EMPTY}")
    if not make and where.is_file() and not where.stat().st_size:
        raise InputError("--file", str(where), "is empty: nothing is kept in it yet", f"Check the path. {_EMPTY}")
    with Garage.open(file) as garage:
        yield garage


def revision_named(garage: Garage, bike: str, name: str, option: str = "revision") -> Revision:
    """A revision of a bike by its number, its id, or "newest"."""
    history = garage.history(bike)
    found = [one for one in history if name in (str(one.number), one.id)]
    if name == "newest" and history:
        found = [history[0]]
    if not found:
        known = f"{bike} has revisions 1 to {history[0].number}." if history else f"{bike} has no revision."
        raise InputError(option, name, "is not a revision of this bike", known)
    return found[0]


@app.command("list")
@grouped
def list_bikes(
    archived: bool = option("Those in the archive.", "--archived", default=False),
    file: FileOption = None,
    as_json: JsonOption = False,
) -> None:
    """The bikes in the garage, with how much is kept about each."""
    with opened(file) as garage:
        bikes = garage.bikes(archived=archived)
        where = garage.path
    if as_json:
        return tell_json({"file": str(where), "bikes": bikes})
    kind = " in the archive" if archived else ""
    columns = (
        ("bike", "Bike", "text", [one.name for one in bikes]),
        ("revisions", "Revisions", "number", [one.revisions for one in bikes]),
        ("trials", "Trials", "number", [one.trials for one in bikes]),
        ("logs", "Logs", "number", [one.logs for one in bikes]),
        ("since", "Since", "text", [one.created_at[:10] for one in bikes]),
    )
    return tell(
        f"Garage {where}", f"{many(len(bikes), 'bike')}{kind}." if bikes else f"No bike{kind}. {_EMPTY}", *columns
    )


@app.command()
@grouped
def save(
    build: Annotated[Path, typer.Argument(help="The build file, or the name of a demo build.", show_default=False)],
    bike: str | None = option("Name in the garage.", otherwise="the build's"),
    note: NoteOption = "",
    unfinished: bool = option("Keep a build that is not whole yet; it needs --bike.", "--unfinished", default=False),
    file: FileOption = None,
    as_json: JsonOption = False,
) -> None:
    """Keep a build as a new revision; a bike not yet known is added."""
    if unfinished:
        if bike is None:
            raise InputError("--bike", None, "is needed for an unfinished build", "Name the bike it is of.")
        name, content = bike, read_text(demo_or_file(build))
    else:
        from ridesim.buildfile.io import read

        whole = read(demo_or_file(build))
        usable(whole)  # a build that cannot be answered is told now, not at the next question
        name, content = whole.name if bike is None else bike, whole.text
    if _is_new(file):
        _rehearse(lambda garage: garage.save(name, content, note=note))
    with opened(file, make=True) as garage:
        before = next((garage.newest(name) for one in garage.bikes() if one.name == name and one.revisions), None)
        if before is not None and before.text == content and not note:
            kept, said = before, "is as it was kept before; nothing was added"
        else:
            kept = garage.save(name, content, note=note)
            said = f"kept as revision {kept.number}"
    if as_json:
        return tell_json(kept)
    return typer.echo(f"{name}: {said}")


@app.command()
def history(bike: BikeName, file: FileOption = None, as_json: JsonOption = False) -> None:
    """Every revision of a bike, newest first."""
    with opened(file) as garage:
        revisions = garage.history(bike)
    number = {one.id: one.number for one in revisions}
    if as_json:
        return tell_json({"bike": bike, "revisions": [_without_text(one) for one in revisions]})
    columns = (
        ("revision", "Revision", "number", [one.number for one in revisions]),
        ("saved", "Saved", "text", [one.saved_at[:19].replace("T", " ") + " UTC" for one in revisions]),
        ("parent", "Edited from", "number", [number.get(one.parent or "") for one in revisions]),
        ("note", "Note", "text", [_note(one, number) for one in revisions]),
        ("id", "Id", "text", [one.id for one in revisions]),
    )
    return tell(f"History of {bike}", f"{many(len(revisions), 'revision')}, the newest first.", *columns)


def _note(one: Revision, number: dict[str, int]) -> str:
    told = [one.note] if one.note else []
    if one.restores is not None:
        told.append(f"brings back revision {number[one.restores]}")
    if one.passed_over:
        passed = ", ".join(str(number[passed]) for passed in one.passed_over)
        told.append(f"made without knowing of revision {passed}, which was kept as well")
    return "; ".join(told)


def _without_text(one: Revision) -> dict[str, Any]:
    return {name: value for name, value in asdict(one).items() if name != "text"}


@app.command()
def show(
    bike: BikeName,
    revision: Annotated[str, typer.Argument(help="Number or id of a revision.")] = "newest",
    file: FileOption = None,
    as_json: JsonOption = False,
) -> None:
    """The build text of a revision, comments and all, ready to be written to a file."""
    with opened(file) as garage:
        found = revision_named(garage, bike, revision)
    if as_json:
        return tell_json(found)
    return typer.echo(found.text, nl=not found.text.endswith("\n"))


@app.command()
def diff(
    bike: BikeName,
    old: Annotated[str | None, typer.Argument(help="Number or id.", show_default="the one before")] = None,
    new: Annotated[str, typer.Argument(help="Number or id.")] = "newest",
    file: FileOption = None,
    as_json: JsonOption = False,
) -> None:
    """What differs between two revisions, key by key."""
    from ridesim.garage.changes import ABSENT

    with opened(file) as garage:
        after = revision_named(garage, bike, new)
        before = _before(garage, after) if old is None else revision_named(garage, bike, old)
        found = garage.diff(before.id, after.id)
    changes = found.rows()
    if as_json:
        plain = [{key: None if value is ABSENT else value for key, value in vars(one).items()} for one in found.changes]
        told = {"changes": plain, "only_wording": found.only_wording}
        return tell_json({"old": before.number, "new": after.number, **told})
    same = "only comments, order or spelling differ" if found.only_wording else "nothing differs"
    columns = [
        (key, heading, "text", [one[key] for one in changes])
        for key, heading in (("path", "Key"), ("old", "Before"), ("new", "After"))
    ]
    sentence = f"{many(len(changes), 'value')} changed." if changes else f"{same.capitalize()}."
    return tell(f"{bike}: revision {before.number} to {after.number}", sentence, *columns)


def _before(garage: Garage, after: Revision) -> Revision:
    older = [one for one in garage.history(after.bike) if one.number < after.number]
    if not older:
        raise InputError("old", None, f"there is no revision before {after.number}", "Name two revisions.")
    return older[0]


@app.command()
def restore(
    bike: BikeName, revision: RevisionName, note: NoteOption = "", file: FileOption = None, as_json: JsonOption = False
) -> None:
    """Make an older revision the newest again, as a new revision; nothing in between is lost."""
    with opened(file) as garage:
        old = revision_named(garage, bike, revision)
        kept = garage.restore(old.id, note=note)
    if as_json:
        return tell_json(kept)
    return typer.echo(f"{bike}: revision {old.number} brought back as revision {kept.number}")


@app.command()
def archive(bike: BikeName, file: FileOption = None) -> None:
    """Put a bike out of sight with all its history; bring-back undoes it."""
    with opened(file) as garage:
        garage.archive(bike)
    typer.echo(f"{bike}: in the archive; bring it back with: ridesim garage bring-back")


@app.command("bring-back")
def bring_back(bike: BikeName, file: FileOption = None) -> None:
    """Take a bike out of the archive."""
    with opened(file) as garage:
        garage.bring_back(bike)
    typer.echo(f"{bike}: back in the garage")


@app.command()
def export(bike: BikeName, path: NewPath, file: FileOption = None) -> None:
    """Write one bike, with all its revisions, trials and logs, to a new JSON file."""
    with opened(file) as garage:
        garage.export(bike, path)
    typer.echo(str(path))


@app.command("import")
def import_bike(
    path: Annotated[Path, typer.Argument(help="A file that export wrote.", show_default=False)],
    file: FileOption = None,
    as_json: JsonOption = False,
) -> None:
    """Take in a bike that export wrote; what is in the garage already is not taken twice."""
    if _is_new(file):
        _rehearse(lambda garage: garage.import_(path))
    with opened(file, make=True) as garage:
        taken = garage.import_(path)
    if as_json:
        return tell_json(taken)
    revisions, trials, logs = many(taken.revisions, "revision"), many(taken.trials, "trial"), many(taken.logs, "log")
    counts = f"{revisions}, {trials} and {logs}"
    typer.echo(f"{taken.bike}: {counts} taken in{', a new bike' if taken.new_bike else ''}")
    for note in taken.notes:
        typer.echo(f"  {note}")
    return None


def _is_new(file: Path | None) -> bool:
    from ridesim.garage.store import default_path

    return not os.path.lexists(default_path() if file is None else file)


def _rehearse(change: Callable[[Garage], object]) -> None:
    """Try it in a garage that is thrown away, so that what is refused makes no new garage."""
    from tempfile import TemporaryDirectory

    from ridesim.garage import Garage

    with TemporaryDirectory() as folder, Garage.open(Path(folder) / "rehearsal.sqlite3") as garage:
        change(garage)


@app.command()
def backup(path: NewPath, file: FileOption = None) -> None:
    """Copy the whole garage, as it is at this moment, to a new file, and check the copy."""
    with opened(file) as garage:
        garage.backup(path)
    typer.echo(str(path))


@app.command()
def check(file: FileOption = None, as_json: JsonOption = False) -> None:
    """Go through the whole garage and say whether anything in it is damaged."""
    with opened(file) as garage:
        garage.check()
        where, bikes = garage.path, garage.bikes() + garage.bikes(archived=True)
    if as_json:
        return tell_json({"file": str(where), "sound": True, "bikes": len(bikes)})
    told = f"{many(len(bikes), 'bike')}, {many(sum(one.revisions for one in bikes), 'revision')}"
    return typer.echo(f"{where}: sound; {told}")
