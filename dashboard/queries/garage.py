"""The door to the garage for its own page: what is kept, saving, opening, comparing, bringing back, carrying."""

from __future__ import annotations

import tempfile
from collections.abc import Mapping
from dataclasses import dataclass, replace
from pathlib import Path

from dashboard import queries, uploads
from dashboard.url_state import SetUp, State, garage_text
from ridesim.errors import InputError
from ridesim.garage import Garage
from ridesim.garage.changes import Difference, difference
from ridesim.garage.records import GarageBike, Revision
from ridesim.garage.transfer import Imported

LARGEST_UPLOAD = 1_400_000  # bytes: what a request may carry, less its wrapping
PATHS = {  # what stands under Now -> its place in the build file
    "front": "final_drive.front",
    "rear": "final_drive.rear",
    "rear_tire": "tires.rear.size",
    "front_tire": "tires.front.size",
    "tune": "active.tune",
    "luggage": "masses.luggage",
}


@dataclass(frozen=True, kw_only=True)
class Shelf:
    """What the garage holds, and how the build that is open stands to it.

    newest      the newest revision of each bike in use, by the bike's name
    revision    the one that is open, or was edited; None when the open build is from elsewhere
    edited      whether the open build, with what stands under Now, differs from it
    meanwhile   revisions of its bike that are newer: another window saved them
    """

    bikes: tuple[GarageBike, ...]
    newest: Mapping[str, Revision]
    archived: tuple[GarageBike, ...]
    history: tuple[Revision, ...]
    revision: Revision | None
    edited: bool
    meanwhile: tuple[Revision, ...]


def shelf(state: State) -> Shelf:
    """Everything the garage page shows."""
    with garage_text.opened() as garage:
        revision = garage.revision(state.revision) if state.revision else None
        history = garage.history(revision.bike) if revision else ()
        bikes, archived = garage.bikes(), garage.bikes(archived=True)
        newest = {bike.name: garage.newest(bike.name) for bike in bikes}
    return Shelf(
        bikes=bikes,
        newest=newest,
        archived=archived,
        history=history,
        revision=revision,
        edited=revision is None or open_text(state) != revision.text,
        meanwhile=tuple(one for one in history if revision and one.number > revision.number),
    )


def open_text(state: State) -> str:
    """The build file that is open, with what stands under Now written into it."""
    build = queries.build(state)
    changes = {PATHS[key]: value for key, value in vars(state.now).items() if value is not None}
    return build.changed(changes).text if changes else str(build.text)


def save(state: State, name: str | None, note: str | None) -> tuple[Revision, State]:
    """Keep the open build: as the next revision of its bike, or as a new bike under a name; and the state that shows it."""
    text = open_text(state)
    with garage_text.opened() as garage:
        if state.revision:
            was = garage.revision(state.revision)
            if text == was.text:
                raise InputError(
                    "note", None, f"has nothing new: the build is as in revision {was.number}", "Change it first."
                )
            saved = garage.save(was.bike, text, note=note or "", parent=was.id)
        else:
            _refuse_taken(garage, name or "")
            saved = garage.save((name or "").strip(), text, note=note or "")
    return saved, shows(state, saved)


def _refuse_taken(garage: Garage, name: str) -> None:
    if name.strip() in {bike.name for bike in (*garage.bikes(), *garage.bikes(archived=True))}:
        raise InputError(
            "bike",
            name,
            "is in the garage already",
            "Open it there to save another revision of it, or choose a new name.",
        )


def shows(state: State, revision: Revision) -> State:
    """The state with a revision open; what stands under Now is in it."""
    return replace(state, own=garage_text.KeptText(revision.text, revision.id), now=SetUp())


def restore(state: State, revision: str) -> tuple[Revision, State]:
    """Make an older revision the newest again."""
    with garage_text.opened() as garage:
        saved = garage.restore(revision)
    kept = garage_text.KeptText(saved.text, saved.id)
    return saved, State(own=kept, units=state.units, fields=state.fields)


def compared(old: str, new: str) -> tuple[Revision, Revision, Difference]:
    """Two revisions and what differs between them."""
    with garage_text.opened() as garage:
        one, other = garage.revision(old), garage.revision(new)
    return one, other, difference(one.text, other.text)


def set_archived(bike: str, *, away: bool) -> str:
    """Put a bike in the archive, or bring it back; by its id. Its name is returned."""
    with garage_text.opened() as garage:
        found = next((one for one in (*garage.bikes(), *garage.bikes(archived=True)) if one.id == bike), None)
        if found is None:
            raise InputError("bike", None, "is not in this garage", "Look at the list again.")
        (garage.archive if away else garage.bring_back)(found.name)
    return found.name


def take_in(contents: str | None, name: str | None) -> Imported:
    """Take in an uploaded file with one bike; its size and name are looked at before anything reads it."""
    where, fix = uploads.named(name), "Carry larger ones with the command line."
    if not where.lower().endswith(".json"):
        raise InputError(where, None, "is not a file with a bike", "Choose a .json file that the garage handed out.")
    data = uploads.raw_of(contents, where, LARGEST_UPLOAD, smaller=fix, missing=fix)
    with tempfile.TemporaryDirectory() as folder, garage_text.opened() as garage:
        path = Path(folder) / "bike.json"
        path.write_bytes(data)
        return garage.import_(path)
