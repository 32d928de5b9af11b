"""The parts that lie in the garage: rear tires of other bikes and revisions that fit the rim, tunes of the same engine."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any

from ridesim.buildfile.io import Build, parse
from ridesim.components.tire_marking import names_tire, parse_marking
from ridesim.errors import InputError
from ridesim.garage.store import Garage

MOST_REVISIONS = 20  # of each bike, the newest first
MOST_PARTS = 8  # of each kind


@dataclass(frozen=True, kw_only=True)
class PartsKept:
    """What a build could be ridden with: rear tires by their marking, with whose they are; tunes, each in the build, named there."""

    tires: dict[str, str]
    tunes: tuple[tuple[str, str, Build], ...]


def parts_kept(garage: Garage, build: Build) -> PartsKept:
    """The rear tires and tunes in a garage that a build does not have, the newest first.

    A tire must have the rim of the fitted one; a tune must be of an engine with the same displacement, stroke and cylinders, and
    one that has another build's name for the same points counts as known. Builds that are not whole are passed over.

    Parameters
    ----------
    garage : Garage
        Its bikes in use are looked through, the newest MOST_REVISIONS revisions of each.
    build : Build
        The one that is to be ridden.

    Returns
    -------
    PartsKept
        At most MOST_PARTS of each kind.

    Examples
    --------
    >>> import tempfile
    >>> import ridesim as rs
    >>> build = rs.demo("coast-single").build
    >>> other = build.changed({"tires.rear.size": "130/80-17"})
    >>> with tempfile.TemporaryDirectory() as folder, Garage.open(f"{folder}/garage.sqlite3") as garage:
    ...     kept = garage.save("spare", other.text)
    ...     parts_kept(garage, build).tires
    {'130/80-17': ' (spare, revision 1)'}
    """
    fitted = parse_marking(build.record.tires.rear.size)
    known = [fitted]
    tires: dict[str, str] = {}
    tunes: list[tuple[str, str, Build]] = []
    curves = [tune.points for tune in build.record.tune.values()]
    for whose, other in _builds(garage):
        marking = parse_marking(other.record.tires.rear.size)
        if marking.rim_code == fitted.rim_code and not any(names_tire(marking, one) for one in known):
            known.append(marking)
            tires[marking.written] = f" ({whose})"
        for name, tune in other.record.tune.items() if _engine(other) == _engine(build) else ():
            if tune.points not in curves:
                curves.append(tune.points)
                free = _free(name, build)
                tunes.append((f"the tune {name} ({whose})", free, _with_tune_of(build, free, other, name)))
    return PartsKept(tires=dict(list(tires.items())[:MOST_PARTS]), tunes=tuple(tunes[:MOST_PARTS]))


def _builds(garage: Garage) -> Iterator[tuple[str, Build]]:
    """Every whole build that is kept, with where it is."""
    for bike in garage.bikes():
        for revision in garage.history(bike.name)[:MOST_REVISIONS]:
            try:
                yield f"{bike.name}, revision {revision.number}", parse(revision.text)
            except InputError:
                continue


def _engine(build: Build) -> tuple[Any, ...]:
    engine = build.record.engine
    return engine.cycle, engine.displacement, engine.stroke, engine.cylinders


def _free(name: str, build: Build) -> str:
    number, free = 2, name
    while free in build.record.tune:
        number, free = number + 1, f"{name[:100]} {number}"
    return free


def _with_tune_of(build: Build, name: str, other: Build, other_name: str) -> Build:
    import tomlkit

    document = tomlkit.parse(build.text)
    document["tune"][name] = tomlkit.parse(other.text)["tune"][other_name]
    return build.rewritten(tomlkit.dumps(document))
