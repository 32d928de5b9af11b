"""What is written on the line, read: files, lists, shares, throttle openings, the air of a day."""

from __future__ import annotations

import os
from collections.abc import Callable, Iterator, Mapping
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from ridesim.errors import InputError, InputErrors, did_you_mean, each, near_names
from ridesim.errors import placed as placed
from ridesim.units import Measured, quantity
from ridesim.units.table import AIR as AIR

if TYPE_CHECKING:
    from ridesim.bike import Bike
    from ridesim.buildfile.io import Build
    from ridesim.environment.air import Air

LARGEST_TEXT = 1_000_000  # bytes


def demo_or_file(path: Path) -> Path:
    """The file, or the demo file of that name where there is no such file."""
    from ridesim.reference import DATA

    if path.suffix or path.name != str(path) or os.path.lexists(path):
        return path
    demos = {one.stem: one for folder in ("demo", "demo/garage") for one in sorted((DATA / folder).glob("*.toml"))}
    if path.name not in demos and near_names(path.name, demos):
        raise InputError(str(path), None, "is neither a file here nor a demo", did_you_mean(path.name, demos))
    return demos.get(path.name, path)


def build_of(path: Path) -> Build:
    """The build in a file or of a demo, as it is written."""
    from ridesim.buildfile.io import read

    return read(demo_or_file(path))


def fitted(path: Path) -> Build:
    """The same, fitted to its readings where it holds any."""
    from ridesim.evidence import with_evidence

    return with_evidence(build_of(path))


def own_file(path: Path, output: Path | None) -> None:
    """Refuse to write into a demo build, which has no file of its own, where no output is named."""
    if output is None and demo_or_file(path) != path:
        raise InputError(
            "--into", str(path), "is a demo build", "Copy it to a file of yours, or name one with --output."
        )


def write_into(into: Path, output: Path | None, change: Callable[[Build], Build], *, replace: bool) -> None:
    """Change the build in a file where it stands, or write it changed to another file."""
    from ridesim.buildfile.io import rewrite

    if output is None:
        rewrite(into, change)
    else:
        change(build_of(into)).save(output, replace=replace)


def usable(build: Build, tune: str | None = None) -> Bike:
    """The bike of a build for which every question has an answer; InputError where one cannot be asked."""
    from ridesim.answers import contract, solve
    from ridesim.bike import make_bike

    bike = make_bike(build, tune=tune)
    contract(solve(bike))
    return bike


@contextmanager
def of_file(path: Path) -> Iterator[None]:
    """Name the file in what is wrong with it, where a command reads several."""
    try:
        yield
    except InputError as error:
        own = (str(path), "--")
        raise InputErrors(
            one if one.where.startswith(own) else InputError(f"{path}: {one.where}", one.got, one.problem, one.fix)
            for one in each(error)
        ) from None


def read_text(path: Path) -> str:
    """The text of a small file; InputError names it when it cannot be read."""
    from ridesim.files import decoded, read_plain

    return decoded(read_plain(path, LARGEST_TEXT), str(path), "Save it as UTF-8.")


def numbers(written: str, where: str, fix: str) -> tuple[float, ...]:
    """Plain numbers with commas between them.

    >>> numbers("115, 117.5,120", "--sizes", "")
    (115.0, 117.5, 120.0)
    """
    return tuple(float(quantity(one, "ratio", "", where)) for one in listed(written, where, fix))


def listed(written: str, where: str, fix: str, most: int = 200) -> list[str]:
    """The pieces between commas."""
    pieces = [one.strip() for one in written.split(",", most)]
    if len(pieces) > most or not all(pieces):
        raise InputError(where, written, f"is not a list of 1 to {most} values with commas between them", fix)
    return pieces


def share(written: str, where: str, *, unit: str = "") -> Measured:
    """A share, such as "3 %" or 0.03.

    >>> float(share("3 %", "--tolerance"))
    0.03
    """
    return quantity(written, "ratio", unit, where)


def inside(written: str, kind: str, unit: str, where: str, ends: tuple[float, float]) -> float:
    """A quantity that must lie between two ends, which are in the unit of a bare number. [SI]

    >>> inside("90 km/h", "speed", "km/h", "--speed", (1, 430))
    25.0
    """
    value = float(quantity(written, kind, unit, where))
    least, most = (float(quantity(end, kind, unit, where)) for end in ends)
    if not least <= value <= most:
        problem = f"must be between {ends[0]:g} and {ends[1]:g} {unit}"
        raise InputError(where, written, problem, "Check the figure and its unit.")
    return value


def filled(written: str | None, where: str) -> str | None:
    """What is written, if anything is; an option that is given with nothing in it is no option."""
    if written is not None and not written.strip():
        raise InputError(where, written, "is empty", "Write its value, or leave the option out.")
    return written


def meters(written: str, where: str) -> float:
    """A length; a bare number is in millimeters. [m]"""
    return float(quantity(written, "length", "mm", where))


def pair(written: str, where: str, example: str) -> tuple[float, float]:
    """Two numbers with a colon between them."""
    ends = written.split(":")
    if len(ends) != 2:
        raise InputError(where, written, "is not a pair", f"Write both ends with a colon between, such as {example}.")
    low, high = (float(quantity(one, "ratio", "", where)) for one in ends)
    return low, high


def opening(written: str, where: str) -> float:
    """A throttle opening: "1/2", "50 %", "0.5", "closed" or "full".

    >>> [opening(one, "--opening") for one in ("1/2", "62.5 %", "0.3", "full", "closed")]
    [0.5, 0.625, 0.3, 1.0, 0.0]
    """
    fix = "Write it as 1/2, 50 %, 0.5, closed or full."
    plain = written.strip().lower()
    words = {"closed": 0.0, "shut": 0.0, "full": 1.0, "open": 1.0}
    if plain in words:
        return words[plain]
    try:
        over, slash, under = plain.partition("/")
        value = int(over) / int(under) if slash else float(share(plain, where))
    except (ValueError, ArithmeticError):  # an InputError is a ValueError
        raise InputError(where, written, "is not a throttle opening", fix) from None
    if not 0.0 <= value <= 1.0:
        raise InputError(where, written, "must lie between closed (0) and full (1)", fix)
    return value


@dataclass(frozen=True, kw_only=True)
class AirOfDay:
    """The air of a day as it was written, how far its metering density may be off as a share, and what was assumed."""

    air: Air
    share: float
    assumptions: tuple[str, ...]


def air_of_day(written: Mapping[str, str | None], before: str, build: Path | None = None) -> AirOfDay:
    """The air of a day: what is on the line, else what the build says, else the usual assumption.

    written has the keys of AIR; before is what stands before them in the option ("--from-"). The share is half of what lies
    between the air with every tolerance that thins it and the air with every one that thickens it.
    """
    from ridesim.environment.air import air
    from ridesim.reference import defaults

    given = {} if build is None else _air_of_build(build)
    if written.get("altitude") is not None:  # the build's barometer and thermometer stood elsewhere
        given = {key: one for key, one in given.items() if key == "humidity"}
    for key, (_, kind, unit) in AIR.items():
        if (text := written.get(key)) is not None:
            given[key] = quantity(text, kind, unit, f"{before}{key}")
    if "altitude" not in given and "pressure" not in given:
        fix = f'Write {before}altitude "250 m", or {before}pressure, or a build.'
        raise InputError(f"{before}altitude", None, "is not given", fix)
    told: tuple[str, ...] = ()
    if "humidity" not in given:
        default = defaults()["air.humidity"]
        given["humidity"] = quantity(default["value"], "ratio", "%", f"{before}humidity")
        told = (f"{before}humidity assumed {default['value']} ({default['why']})",)

    def there(way: float) -> Air:
        """The air at the middle, or with every tolerance at the end that thins it (+1) or thickens it (-1)."""
        figures = {
            name: float(given[key]) + way * given[key].plus_minus * (-1.0 if key == "pressure" else 1.0)
            for key, (name, *_) in AIR.items()
            if key in given
        }
        humidity = figures.pop("humidity")
        return air(relative_humidity=min(max(humidity, 0.0), 1.0) if way else humidity, **figures)

    with placed({f"air.{end}": f"{before}{key}" for key, (name, *_) in AIR.items() for end in (key, name)}):
        middle = there(0.0)
        thin, thick = (there(way) for way in ((1.0, -1.0) if any(one.plus_minus for one in given.values()) else (0, 0)))
    share = abs(thin.metering_density_kg_m3 - thick.metering_density_kg_m3) / (2 * middle.metering_density_kg_m3)
    return AirOfDay(air=middle, share=share, assumptions=told)


def air_written(build: Build) -> dict[str, Measured]:
    """What a build says of its air, by the keys of AIR."""
    return {key: value for key in AIR if (value := getattr(build.record.air, key)) is not None}


def _air_of_build(build: Path) -> dict[str, Measured]:
    """What a build says of its air; a barometer counts before a height."""
    given = air_written(build_of(build))
    return {key: one for key, one in given.items() if key != "altitude" or "pressure" not in given}
