"""The build file: one bike as it would be ridden, in TOML, read and checked all at once, written back with its comments.

Every quantity is a number in the unit of its field or a string with a unit and perhaps a tolerance
("0.66 +- 0.05 m^2").
"""

from __future__ import annotations

import re
from collections.abc import Callable, Hashable, Mapping
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import Any

from pydantic import BaseModel, ValidationError

from ridesim.buildfile.curve_file import CurveSheet
from ridesim.buildfile.readings import BY_KIND
from ridesim.buildfile.schema import BuildRecord, Quantity, Tune
from ridesim.buildfile.toml_text import LARGEST_FILE, tables_of
from ridesim.buildfile.values import section_in
from ridesim.errors import InputError, InputErrors, did_you_mean
from ridesim.files import decoded, read_plain, save, update
from ridesim.uncertainty.posterior import Posterior

_AMERICAN = re.compile(
    r"(?m)^([ \t]*(?:final_drive\.)?)center(?=_distance[ \t]*=)"
)  # another spelling of centre_distance


@dataclass(frozen=True)
class Build:
    """A checked build: its record in SI, its text with every comment the rider wrote, and what its readings say, once fitted.

    bike tells whose errors it has: a build that is read is a bike of its own, whatever is written in it, and one that is made
    by changing it is the same bike.
    """

    record: BuildRecord
    text: str
    posterior: Posterior | None = None
    bike: Hashable = field(default_factory=object, compare=False, repr=False)

    @property
    def name(self) -> str:
        return self.record.name

    def tune_name(self, wanted: str | None = None) -> str:
        """The wanted tune, the active one, or the first; InputError with near names when there is no such tune.

        >>> import ridesim as rs
        >>> rs.demo("coast-single").build.tune_name()
        'stock'
        """
        tunes = self.record.tune
        if wanted is None:
            return self.record.active.tune if self.record.active else next(iter(tunes))
        if wanted not in tunes:
            raise InputError("tune", wanted, "is not a tune of this build", did_you_mean(wanted, tunes))
        return wanted

    def changed(self, changes: Mapping[str, Any]) -> Build:
        """The build with some values written anew; everything else and all comments stay.

        Parameters
        ----------
        changes : mapping
            By the path of the key; tables that are not there are made, and None takes a key out.

        Raises
        ------
        InputError, InputErrors
            It is no build any more.

        Examples
        --------
        >>> import ridesim as rs
        >>> build = rs.demo("coast-single").build
        >>> other = build.changed({"final_drive.front": 15, "ride.cruise": "62 mph"})
        >>> other.record.final_drive.front, other.bike is build.bike
        (15, True)
        """

        def change(document: Any) -> None:
            for path, value in changes.items():
                *tables, key = path.split(".")
                place = document
                for table in tables:
                    place = place.setdefault(table, {})
                if value is None:
                    place.pop(key, None)
                else:
                    place[key] = value

        return self.edited(change)

    def edited(self, edit: Callable[[Any], object]) -> Build:
        """The build with its tables edited in place; everything else and all comments stay, and lines end as they did."""
        import tomlkit

        document = tomlkit.parse(self.text)
        edit(document)
        text = tomlkit.dumps(document)
        return self.rewritten(text.replace("\r\n", "\n").replace("\n", "\r\n") if "\r\n" in self.text else text)

    def rewritten(self, text: str) -> Build:
        """The same bike by another text; what its readings say stands for as long as they do."""
        new = parse(text)
        posterior = self.posterior if new.record.evidence == self.record.evidence else None
        return replace(new, bike=self.bike, posterior=posterior)

    def save(self, path: str | Path, *, replace: bool = False) -> None:
        """Write the file whole or not at all; one that is there is replaced only if asked, and then stays beside it, dated."""
        save(path, self.text.encode("utf-8"), replace=replace)


def read(path: str | Path) -> Build:
    """The build in a file of at most LARGEST_FILE bytes.

    Raises
    ------
    InputError
        The file cannot be read at all, is no text, or no TOML: it is named.
    InputErrors
        Everything that is wrong in it, each by its path.
    """
    fix = "A build file is a few kilobytes of TOML text; is this the right file?"
    return parse(decoded(read_plain(Path(path), LARGEST_FILE, fix), str(path)), str(path))


def rewrite(path: str | Path, change: Callable[[Build], Build]) -> None:
    """Change the build in a file under its lock: what another program wrote into it a moment ago is kept.

    Parameters
    ----------
    path : str or Path
    change : callable
        Gets the build as it stands in the file now, and returns what is to stand there; what it raises leaves the file alone.
    """

    def changed(before: bytes | None) -> bytes:
        if before is None:
            raise InputError(str(path), None, "is not there", "Check the name of the build file.")
        return change(parse(decoded(before, str(path)), str(path))).text.encode("utf-8")

    change(read(path))  # what will not do is refused, and what it needs is loaded, before anyone has to wait
    update(path, changed)


def parse(text: str, where: str = "build file") -> Build:
    """The build in a TOML text; `where` names a text that is no TOML.

    Raises
    ------
    InputError
        It is no TOML, or nested deeper than any build.
    InputErrors
        Every problem of it, each by its path.

    Examples
    --------
    >>> try:
    ...     parse("[masses]\\nbike = '140 kilos'\\nrider = 80")
    ... except InputErrors as error:
    ...     print([one.where for one in error.errors])
    ['name', 'masses.bike', 'gearbox', 'final_drive', 'tires', 'tune']
    """
    text = _AMERICAN.sub(r"\1centre", text)
    data = tables_of(text, where)
    try:
        return Build(BuildRecord.model_validate(data), text)
    except ValidationError as errors:
        raise InputErrors((*explained(errors).errors, *_unknown_tune(data))) from None


def _unknown_tune(data: Mapping[str, Any]) -> list[InputError]:
    """The active tune, where the record stopped short of looking for it."""
    name, tunes = _table(data, "active").get("tune"), _table(data, "tune")
    if not isinstance(name, str) or not tunes or name in tunes:
        return []
    return [InputError("active.tune", name, "is not a tune of this build", did_you_mean(name, tunes))]


def _table(data: Mapping[str, Any], name: str) -> Mapping[str, Any]:
    found = data.get(name)
    return found if isinstance(found, Mapping) else {}


def explained(errors: ValidationError) -> InputErrors:
    """What is wrong with a record, each problem in our own words."""
    return InputErrors(mended for error in errors.errors() for mended in _explain(error))


def json_schema() -> dict[str, Any]:
    """The JSON schema of the build file, for editors that complete and check TOML.

    >>> sorted(json_schema()["properties"]["masses"])
    ['$ref']
    """
    schema = BuildRecord.model_json_schema(mode="validation")
    schema["$schema"] = "https://json-schema.org/draft/2020-12/schema"
    schema["title"] = "ridesim build file"
    return schema


def _path(location: tuple[Any, ...]) -> str:
    text = ""
    if location[:1] == ("evidence",):
        location = (*location[:2], *location[3:])  # the kind of the reading is no key
    for part in location:
        text += f"[{part + 1}]" if isinstance(part, int) else f".{part}" if text else str(part)
    return text


def _model_at(location: tuple[Any, ...]) -> type[BaseModel] | None:
    if location[:1] == ("evidence",):
        return BY_KIND.get(location[2]) if len(location) > 2 else None
    model: type[BaseModel] | None = BuildRecord
    for part in (*location[:1], *location[2:]) if location[:1] == ("tune",) else location:  # a tune's name is no key
        found = model.model_fields.get(part) if model else None
        model = section_in(found.annotation) if found else None
    return model


# what pydantic finds -> what is wrong, and the mend
_FOUND = {
    "int_type": ("is not a whole number", "Write it without a point and without quotes."),
    "bool_type": ("is neither true nor false", "Write true or false, without quotes."),
    "greater_than_equal": ("must be at least {ge}", "Count again."),
    "less_than_equal": ("must be at most {le}", "Count again."),
    "tuple_type": ("is not a list", "Write its values in brackets, with commas between them."),
    "too_short": ("must have {min_length} or more in it", "Write all of them down."),
    "too_long": ("must have no more than {max_length} in it", "Leave out what is not needed."),
    "literal_error": ("is not one of {expected}", "Use one of these."),
    "model_type": (
        "is not a table",
        "Write its keys below a heading in brackets, such as [masses], [tires.rear] or [tune.stock].",
    ),
}
_FOUND |= {"dict_type": _FOUND["model_type"], "model_attributes_type": _FOUND["model_type"]}
_SUCH_AS = {
    "name": '"my single"',
    "gears": "[[30, 12], [28, 16]]",
    "front": "14",
    "rear": "43",
    "size": '"120/90-17"',
    "points": "[[3000, 30], [5000, 35]]",
    "tune": '"stock"',
}


def _explain(error: Mapping[str, Any]) -> list[InputError]:
    """A validation error in our own words."""
    location, kind = tuple(error["loc"]), error["type"]
    where, context = _path(location), error.get("ctx", {})
    inner = context.get("error")
    if isinstance(inner, InputErrors):
        return [_placed(one, where) for one in inner.errors]
    if isinstance(inner, InputError):
        return [_placed(inner, where)]
    if kind == "missing":
        return [InputError(where, None, "is missing", _to_add(location))]
    if kind == "extra_forbidden":
        model = _model_at(location[:-1])
        near = did_you_mean(location[-1], model.model_fields if model else [])
        return [InputError(where, error["input"], "is not a key of a build file", near)]
    if kind.startswith("union_tag"):
        given = error["input"].get("kind")
        problem = "is missing" if given is None else "is not a kind of reading"
        return [InputError(f"{where}.kind", given, problem, did_you_mean(given or "", BY_KIND))]
    problem, fix = _FOUND.get(kind, (f"is not usable: {error['msg'].rstrip('.')}", "Check the value."))
    return [InputError(where, error["input"], problem.format(**context), fix)]


def _to_add(location: tuple[Any, ...]) -> str:
    """What to write where something is missing."""
    *tables, key = location
    model = _model_at(tuple(tables))
    found = model.model_fields.get(key) if model else None
    if found is None:
        return "Add it."
    if hints := [one.description for one in found.metadata if isinstance(one, Quantity)]:
        return f"Add it: {hints[0]}."
    section = _model_at(location)
    if section is None or section is model:
        return f"Add it, such as {key} = {_SUCH_AS[key]}." if key in _SUCH_AS else "Add it."
    heading = f"{_path(location)}.NAME" if section is Tune else _path(location)
    needed = [name for name, one in section.model_fields.items() if one.is_required()] or [
        "front",
        "rear",
    ]  # of a chain
    return f"Add the table [{heading}] with {' and '.join(needed)} in it."


def _placed(error: InputError, where: str) -> InputError:
    inner = error.where
    place = where if not inner else inner if not where or "." in inner else f"{where}.{inner}"
    return InputError(place, error.got, error.problem, error.fix)


def refuse_taken(build: Build, name: str, *, replace: bool) -> None:
    """Refuse to write a tune anew that the build has already, unless that is what is asked for.

    >>> import ridesim as rs
    >>> refuse_taken(rs.demo("coast-single").build, "stock", replace=False)
    Traceback (most recent call last):
    ridesim.errors.InputError: --name = 'stock': is a tune of this build already. Choose another name, or add --replace.
    """
    if name in build.record.tune and not replace:
        raise InputError("--name", name, "is a tune of this build already", "Choose another name, or add --replace.")


def with_tune(
    build: Build, name: str, sheet: CurveSheet, *, measured_at: str | None = None, standard: str | None = None
) -> Build:
    """The build with a tune added, or written anew, from the points of a sheet.

    Parameters
    ----------
    build : Build
        What it is added to.
    name : str
        Of the tune; one that is there is written anew.
    sheet : CurveSheet
        Engine speeds in rev/min, with the unit of their values.
    measured_at : str, optional
        "crank" or "wheel".
    standard : str, optional
        The correction standard of the sheet, such as "SAE J1349".

    Raises
    ------
    InputErrors
        Points, a name or a standard that will not do.

    Examples
    --------
    >>> import ridesim as rs
    >>> from ridesim.buildfile.curve_file import parse_curve
    >>> sheet = parse_curve("2000 20\\n4000 26\\n7000 21", unit="N*m")
    >>> list(with_tune(rs.demo("coast-single").build, "open", sheet, measured_at="wheel").record.tune)
    ['stock', 'open']
    """
    told = {"measured_at": measured_at, "standard": standard}
    table = {key: value for key, value in told.items() if value is not None}
    points = {"points": [list(point) for point in sheet.points], "points_are": sheet.unit}
    return build.edited(lambda document: document["tune"].update({name: table | points}))


def with_reading(build: Build, reading: Mapping[str, Any]) -> Build:
    """The build with one more reading at the end of `[[evidence]]`.

    Parameters
    ----------
    build : Build
        What it is added to.
    reading : mapping
        Its kind and its keys, as they are written in a build file.

    Examples
    --------
    >>> import ridesim as rs
    >>> build = rs.demo("coast-single").build
    >>> more = with_reading(build, {"kind": "roll-out", "value": "2.00 +- 0.01 m"})
    >>> len(more.record.evidence) - len(build.record.evidence)
    1
    """
    import tomlkit

    return build.edited(lambda document: document.setdefault("evidence", tomlkit.aot()).append(tomlkit.item(reading)))


def without_reading(build: Build, n: int) -> Build:
    """The build without its reading n, counted from 0; InputError where it has none of that number.

    >>> import ridesim as rs
    >>> build = rs.demo("coast-single").build
    >>> more = with_reading(build, {"kind": "roll-out", "value": "2.00 +- 0.01 m"})
    >>> without_reading(more, len(more.record.evidence) - 1).record.evidence == build.record.evidence
    True
    """
    count = len(build.record.evidence)
    if not 0 <= n < count:
        raise InputError("evidence", n + 1, "is not a reading of this build", "Look at the list again.")
    return build.edited(lambda document: document["evidence"].pop(n) if count > 1 else document.pop("evidence"))
