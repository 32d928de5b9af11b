"""From the road to numbers: what a phone's log holds, and what it says of drag, power, gears and sprockets."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any, Literal

from ridesim.cli import log_given as given
from ridesim.cli.given import AIR, inside, placed
from ridesim.cli.log_given import (
    PLACES,
    BuildOption,
    Files,
    LogColumns,
    LogFile,
    RunDay,
    Saving,
    Speeds,
    TimeRange,
    progress,
)
from ridesim.cli.options import JsonOption, Printing, Spelt, UnitsOption, family, grouped, option
from ridesim.cli.output import csv_text, say, tell, tell_json
from ridesim.errors import InputError
from ridesim.report.columns import columns_of

if TYPE_CHECKING:
    from collections.abc import Callable

    from ridesim.buildfile.io import Build
    from ridesim.logs.log import Log
    from ridesim.logs.pull import Pulled

app = family("A phone's speed log: drag, power at the wheel, gear ratios, your own ride.")
BUILDS = "the build's"


@app.command()
@grouped
def show(file: LogFile, columns: LogColumns, *, units: UnitsOption = "metric", as_json: JsonOption = False) -> None:
    """What was found in a log: columns, units, rate, gaps, doubles, speeds."""
    from ridesim.logs.log import CAUTIONS

    log = given.read_logs([file], columns)[0]
    if as_json:
        return tell_json(_shown(log))
    said = _sentence(log, units)
    told = [
        (key, heading, "text", [getattr(one, key) for one in log.found])
        for key, heading in (("what", "What"), ("read_as", "Read as"), ("detail", "Detail"))
    ]
    return tell("What is in the log?", said, *told, over="What was found", notes=log.notes, cautions=CAUTIONS)


def _shown(log: Log) -> dict[str, Any]:
    """A log in a few SI figures, with what was found."""
    return {
        "name": log.name,
        "samples": int(log.time_s.size),
        "lasts_s": float(log.time_s[-1]),
        "rate_hz": log.rate_hz,
        "highest_speed_m_s": float(log.speed_m_s.max()),
        "distance_m": float(log.distance_m[-1]),
        "engine_speed": log.engine_speed_rad_s is not None,
        "elevation": log.elevation_m is not None,
        "positions": log.east_m is not None,
        "found": log.found,
        "notes": log.notes,
    }


def _sentence(log: Log, system: str) -> str:
    from ridesim.answers.text import number, shown

    figures = _shown(log)
    return (
        f"{log.name}: {number(figures['samples'], 0)} samples over {number(figures['lasts_s'], 0)} s at "
        f"{figures['rate_hz']:.3g} Hz, up to {shown(figures['highest_speed_m_s'], 'speed', system)}, "
        f"{shown(figures['distance_m'], 'distance', system)} in all."
    )


@app.command()
@grouped
def coastdown(
    files: Files,
    build: BuildOption,
    wind: str | None = option("For one way only: how strong the wind along the road may have been."),
    slope: str | None = option("For one way only: how steep the road may have been, such as '0.5 %'."),
    *,
    saving: Saving,
    day: Annotated[RunDay, Spelt(otherwise=BUILDS)],
    speeds: Speeds,
    time_range: TimeRange = None,
    columns: LogColumns,
    printing: Printing,
) -> None:
    """Coast-downs both ways along a road into drag area and rolling resistance, with their bands."""
    from ridesim.logs.coast_down import coasted, with_road_load
    from ridesim.logs.runs import coast_speeds

    bike = given.bike_on(build, day)
    logs = given.read_logs(files, columns, time_range)
    runs = given.find_runs(logs, "coast-down", speeds.ends(*coast_speeds(logs)), day.directions)
    with placed(PLACES):
        done = coasted(
            bike,
            runs,
            wind_m_s=None if wind is None else inside(wind, "speed", "m/s", "--wind", (0, 15)),
            grade=None if slope is None else inside(slope, "ratio", "%", "--slope", (0, 8)),
        )

    def taken(was: Build) -> Build:
        said = was.record.road_load.model_dump(exclude_none=True)
        if said and saving.output is None and not saving.replace:
            fix = "Add --replace: the file as it was is kept beside it."
            raise InputError("--into", str(saving.into), f"says its {' and '.join(said)} already", fix)
        return with_road_load(was, done.found)

    saving.save(taken)
    say(done.answer, printing, plain=done.found)
    saving.say("road load from your coast-downs", as_json=printing.as_json)


@dataclass(frozen=True, kw_only=True)
class Pulling:
    """How the pulls were ridden, and what their power is made comparable by."""

    build: BuildOption
    gear: int = option("The gear it was ridden in, from 1.", default=..., otherwise=False)
    standard: Literal["SAE J1349", "ISO 1585", "DIN 70020", "as measured"] = option(
        "What the power is corrected to.", default="SAE J1349"
    )


def _pulled(
    files: list[Path],
    pulling: Pulling,
    day: RunDay,
    speeds: Speeds,
    columns: LogColumns,
    *,
    time_range: str | None = None,
    which: str = "",
) -> Callable[[], Pulled]:
    """The pulls in some files, and what works out their curve; which stands before the options that come twice ("before-")."""
    from ridesim.logs.fits.bike import gear_of
    from ridesim.logs.pull import pull_speeds, pulled

    with placed({f"--{key}": f"--{which}{key}" for key in AIR}):
        bike = given.bike_on(pulling.build, day)
    with placed(PLACES):
        chosen = pull_speeds(bike, gear_of(bike, pulling.gear))
    logs = given.read_logs(files, columns, time_range)
    with placed({"--directions": f"--{which}directions"}):
        runs = given.find_runs(logs, "pull", speeds.ends(*chosen), day.directions)

    def worked_out() -> Pulled:
        with progress("Working out the power") as told, placed(PLACES):
            return pulled(bike, runs, gear=pulling.gear, standard=pulling.standard, progress=told)

    return worked_out


@app.command()
@grouped
def pull(
    files: Files,
    pulling: Pulling,
    name: str | None = option("Name of the tune to save with --into."),
    *,
    saving: Saving,
    day: Annotated[RunDay, Spelt(otherwise=BUILDS)],
    speeds: Speeds,
    time_range: TimeRange = None,
    columns: LogColumns,
    printing: Printing,
) -> None:
    """Full-throttle pulls in one gear into power at the wheel over engine speed, with its band."""
    from ridesim.buildfile.io import refuse_taken
    from ridesim.logs.pull import with_wheel_tune

    if (name is None) != (saving.into is None):
        raise InputError("--name", name, "and --into go together", 'Write --name "re-jetted" --into BUILD.')
    done = _pulled(files, pulling, day, speeds, columns, time_range=time_range)()

    def added(build: Build) -> Build:
        key = str(name).strip()
        refuse_taken(build, key, replace=saving.replace)
        with placed(PLACES):
            return with_wheel_tune(build, key, done)

    saving.save(added)
    say(done.answer, printing, plain=done.found)
    saving.say(f"tune {name!r} from your pulls", as_json=printing.as_json)


@app.command()
@grouped
def compare(
    *,
    before: list[Path] = option("A log from before the change; may be given again.", default=...),
    after: list[Path] = option("A log from after it; may be given again.", default=...),
    pulling: Pulling,
    before_day: Annotated[RunDay, Spelt(before="before_", otherwise=BUILDS)],
    after_day: Annotated[RunDay, Spelt(before="after_", otherwise=BUILDS)],
    same_phone: bool = option("It was the same phone in the same place both times.", "--same-phone", default=False),
    speeds: Speeds,
    columns: LogColumns,
    printing: Printing,
) -> None:
    """Before and after a change: where the gain is real, and where it is within the noise."""
    from ridesim.logs.pull import compared

    was = _pulled(before, pulling, before_day, speeds, columns, which="before-")
    now = _pulled(after, pulling, after_day, speeds, columns, which="after-")
    with placed(PLACES):
        done = compared(was(), now(), same_receiver=same_phone)
    say(done.answer, printing, plain=done.found)


@app.command()
@grouped
def ratios(
    file: LogFile,
    build: Path | None = option("A build to stand beside.", otherwise="none"),
    circumference: str | None = option("Way rolled in one turn, such as '2.03 m'."),
    gears: int | None = option("How many to find.", otherwise="all"),
    time_range: TimeRange = None,
    *,
    columns: LogColumns,
    printing: Printing,
) -> None:
    """Gear ratios from engine speed and road speed, and which gear each stretch was in."""
    from ridesim.logs.gears import geared
    from ridesim.units import quantity

    if build is None and circumference is None:
        raise InputError("--circumference", None, "is not given", "Write it as '2.03 m', or name a --build.")
    bike = None if build is None else given.bike_on(build)
    around = None if circumference is None else float(quantity(circumference, "length", "m", "--circumference"))
    log = given.read_logs([file], columns, time_range)[0]
    with placed(PLACES):
        done = geared(log, bike=bike, circumference_m=around, gears=gears)
    found = done.found
    plain = {
        "gears": found.gears,
        "build_gear": done.build_gear,
        "latency_s": found.latency_s,
        "segments": found.segments,
        "assumptions": found.assumptions,
        "notes": found.notes,
    }
    say(done.answer, printing, plain=plain)


@app.command()
@grouped
def ride(
    file: LogFile,
    build: BuildOption,
    front: str | None = option("Front sprockets, such as 13:18."),
    rear: str | None = option("Rear sprockets, such as 40:50."),
    habit: str = option("Shift up and down at these shares of the range.", default="60 %:25 %"),
    lugging: str | None = option("Pulling below it is lugging.", otherwise="a fifth of the range"),
    csv: Path | None = option("Write the table to this CSV file."),
    time_range: TimeRange = None,
    *,
    columns: LogColumns,
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
            habit=_habit(habit),
            lugging_rad_s=low,
            progress=told,
        )
    lines: tuple[str, ...] = ()
    if csv is not None:
        _write_csv(done.answer, csv, printing.units)
        lines = (f"{csv}: {len(done.pairs)} pairs",)
    say(done.answer, printing, plain=_plain(done), lines=lines, most_rows=400)


def _plain(done: Any) -> dict[str, Any]:
    """The ride with every pair, ready for JSON."""
    found = done.found
    return {
        "pairs": [
            {"pair": f"{f}/{r}", **row, "front": f, "rear": r, "share_of_time": share}
            for row, (f, r), share in zip(found.rows(), done.pairs, found.share_of_time, strict=True)
        ],
        "bins_rad_s": found.bins_rad_s,
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


def _habit(written: str) -> Any:
    """When the rider shifts: two shares with a colon."""
    from ridesim.logs.fits.ride import Habit
    from ridesim.units import quantity

    ends = written.split(":")
    if len(ends) != 2:
        raise InputError("--habit", written, "is no habit", "Write up:down such as '60 %:25 %'.")
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
