"""The build file: one bike as it would be ridden, in TOML, read and checked all at once, written back with its comments.

Every quantity is a number in the unit of its field or a string with a unit and perhaps a tolerance
("0.62 +- 0.06 m^2").
"""

from __future__ import annotations

import os
import tempfile
import tomllib
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any, get_args

from pydantic import BaseModel, ValidationError

from ridesim.errors import InputError, InputErrors, did_you_mean
from ridesim.parts.curve_file import CurveSheet
from ridesim.record import BuildRecord, Quantity, Tune

LARGEST_FILE = 1_000_000  # bytes; a build with a hundred tunes is a tenth of it


@dataclass(frozen=True)
class Build:
    """A checked build: its record in SI, and its text with every comment the rider wrote."""

    record: BuildRecord
    text: str

    @property
    def name(self) -> str:
        return self.record.name

    def tune_name(self, wanted: str | None = None) -> str:
        """The wanted tune, the active one, or the first; InputError with near names when there is no such tune."""
        tunes = self.record.tune
        if wanted is None:
            return self.record.active.tune if self.record.active else next(iter(tunes))
        if wanted not in tunes:
            raise InputError("tune", wanted, "is not a tune of this build", did_you_mean(wanted, tunes))
        return wanted

    def changed(self, changes: Mapping[str, Any]) -> Build:
        """The build with some values written anew ("final_drive.front": 15); comments stay; None takes a key out."""
        import tomlkit

        document = tomlkit.parse(self.text)
        for path, value in changes.items():
            *tables, key = path.split(".")
            place: Any = document
            for table in tables:
                if table not in place:
                    place[table] = tomlkit.table()
                place = place[table]
            if value is None:
                place.pop(key, None)
            else:
                place[key] = value
        return parse(tomlkit.dumps(document))

    def save(self, path: str | Path) -> None:
        """Write the file whole or not at all: the text goes to a temporary name and is then moved into place."""
        target = Path(path)
        try:
            handle, temporary = tempfile.mkstemp(dir=target.parent, prefix=f".{target.name}.", suffix=".part")
            try:
                with os.fdopen(handle, "w", encoding="utf-8", newline="") as out:
                    out.write(self.text)
                    out.flush()
                    os.fsync(out.fileno())
                os.replace(temporary, target)  # noqa: PTH105 - the tests stand in for it
            except BaseException:
                Path(temporary).unlink(missing_ok=True)
                raise
        except OSError as error:
            raise InputError(
                str(target), None, f"cannot be written ({error.strerror})", "Choose another folder."
            ) from None


def read(path: str | Path) -> Build:
    """The build in a file; InputError names the file when it cannot be read at all."""
    where = Path(path)
    try:
        if where.is_dir():
            raise InputError(str(path), None, "is a folder, not a build file", "Name the .toml file inside it.")
        with where.open("rb") as file:
            raw = file.read(LARGEST_FILE + 1)
    except (OSError, ValueError) as error:
        if isinstance(error, InputError):
            raise
        reason = getattr(error, "strerror", None) or "not a usable file name"
        raise InputError(str(path), None, f"cannot be read ({reason})", "Check the name of the build file.") from None
    if len(raw) > LARGEST_FILE:
        raise InputError(
            str(path),
            None,
            "is larger than 1 MB",
            "A build file is a few kilobytes of TOML text; is this the right file?",
        )
    try:
        text = raw.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        raise InputError(
            str(path), None, f"is not UTF-8 text (byte {error.start})", "Save it as UTF-8 in your editor."
        ) from None
    return parse(text)


def parse(text: str) -> Build:
    """The build in a TOML text; every problem of it is reported together (InputErrors)."""
    try:
        data = tomllib.loads(text)
    except (tomllib.TOMLDecodeError, RecursionError, ValueError) as error:
        raise InputError(
            "build file", None, f"is not valid TOML ({str(error)[:120]})", "Mend the line named here."
        ) from None
    try:
        return Build(BuildRecord.model_validate(data), text)
    except ValidationError as errors:
        raise explained(errors) from None


def explained(errors: ValidationError) -> InputErrors:
    """What is wrong with a record, each problem in our own words."""
    return InputErrors(mended for error in errors.errors() for mended in _explain(error))


def json_schema() -> dict[str, Any]:
    """The JSON schema of the build file, for editors that complete and check TOML."""
    schema = BuildRecord.model_json_schema(mode="validation")
    schema["$schema"] = "https://json-schema.org/draft/2020-12/schema"
    schema["title"] = "ridesim build file"
    return schema


def _path(location: tuple[Any, ...]) -> str:
    text = ""
    for part in location:
        text += f"[{part + 1}]" if isinstance(part, int) else f".{part}" if text else str(part)
    return text


def _model_at(location: tuple[Any, ...]) -> type[BaseModel] | None:
    model: Any = BuildRecord
    for part in location:
        if isinstance(model, type) and issubclass(model, BaseModel) and part in model.model_fields:
            annotation = model.model_fields[part].annotation
            choices = [
                a for a in (annotation, *get_args(annotation)) if isinstance(a, type) and issubclass(a, BaseModel)
            ]
            model = choices[0] if choices else None
            if part == "tune":
                model = {"tune": Tune}
        elif isinstance(model, dict):
            model = model["tune"]
        else:
            return None
    return model if isinstance(model, type) else None


def _explain(error: Mapping[str, Any]) -> list[InputError]:
    """A validation error in our own words."""
    location, kind = tuple(error["loc"]), error["type"]
    where = _path(location)
    inner = error.get("ctx", {}).get("error")
    if isinstance(inner, InputErrors):
        return [_placed(one, where) for one in inner.errors]
    if isinstance(inner, InputError):
        return [_placed(inner, where)]
    if kind == "missing":
        model = _model_at(location[:-1])
        found = model.model_fields[location[-1]].metadata if model and location[-1] in model.model_fields else []
        hints = [f"Add it: {one.description}." for one in found if isinstance(one, Quantity)]
        return [InputError(where, None, "is missing", hints[0] if hints else "Add it.")]
    if kind == "extra_forbidden":
        model = _model_at(location[:-1])
        return [
            InputError(
                where,
                error["input"],
                "is not a key of a build file",
                did_you_mean(location[-1], model.model_fields if model else []),
            )
        ]
    if kind == "literal_error":
        return [InputError(where, error["input"], f"is not one of {error['ctx']['expected']}", "Use one of these.")]
    return [InputError(where, error["input"], _plain(error["msg"]), "Check the value.")]


def _placed(error: InputError, where: str) -> InputError:
    inner = error.where
    place = where if not inner else inner if not where or "." in inner else f"{where}.{inner}"
    return InputError(place, error.got, error.problem, error.fix)


def _plain(message: str) -> str:
    return "is not usable: " + message.replace("Input should be", "it should be").replace(
        "valid dictionary", "table"
    ).rstrip(".")


def with_tune(
    build: Build, name: str, sheet: CurveSheet, *, measured_at: str | None = None, standard: str | None = None
) -> Build:
    """The build with a tune added, or written anew, from the points of a sheet; everything else and all comments stay."""
    import tomlkit

    document = tomlkit.parse(build.text)
    table = tomlkit.table()
    if measured_at is not None:
        table["measured_at"] = measured_at
    if standard is not None:
        table["standard"] = standard
    points = tomlkit.array()
    for point in sheet.points:
        points.append(list(point))
    table["points"] = points
    table["points_are"] = sheet.unit
    document["tune"][name] = table
    return parse(tomlkit.dumps(document))
