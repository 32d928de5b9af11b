"""From the road to numbers: what a phone's log holds, and what it says of drag, power, gears and sprockets."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any, Literal

import typer

from ridesim.commands import log_given as given
from ridesim.commands.given import AIR, placed
from ridesim.commands.log_given import PLACES, progress
from ridesim.commands.log_ride import ride
from ridesim.commands.output import JsonOption, Told, UnitsOption, WorkingOption, tell, tell_json, text
from ridesim.errors import InputError

if TYPE_CHECKING:
    from ridesim.roadlog import Log
    from ridesim.roadtest import Pulled

app = typer.Typer(
    no_args_is_help=True, help="A phone's speed log: drag, power at the wheel, gear ratios, your own ride."
)
Standard = Annotated[
    Literal["SAE J1349", "ISO 1585", "DIN 70020", "as measured"],
    typer.Option("--standard", help="What the power is corrected to."),
]
Day = Annotated[str | None, typer.Option(help="The air of that day.", show_default="the build's")]
Gear = Annotated[int, typer.Option("--gear", help="The gear it was ridden in, from 1.", show_default=False)]


@app.command()
def show(
    file: given.LogFile,
    time: given.Time = None,
    speed: given.Speed = None,
    engine: given.EngineColumn = None,
    elevation: given.Elevation = None,
    latitude: given.Latitude = None,
    longitude: given.Longitude = None,
    time_unit: given.TimeUnit = None,
    speed_unit: given.SpeedUnit = None,
    units: UnitsOption = "metric",
    as_json: JsonOption = False,
) -> None:
    """What was found in a log: columns, units, rate, gaps, doubles, speeds."""
    from ridesim.roadlog import CAUTIONS

    columns = given.chosen(time, speed, engine, elevation, latitude, longitude)
    log = given.read_logs([file], columns, given.units_of(time_unit, speed_unit))[0]
    if as_json:
        return tell_json(_shown(log))
    told = Told(
        title="What is in the log?",
        sentence=_sentence(log, units),
        tables=(
            (
                "What was found",
                (
                    text("What", (row["what"] for row in log.found)),
                    text("Taken for", (row["taken_for"] for row in log.found)),
                    text("Detail", (row["detail"] for row in log.found)),
                ),
            ),
        ),
        notes=log.notes,
        cautions=CAUTIONS,
    )
    return tell(told)


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
    from ridesim.answers.words import number, shown

    figures = _shown(log)
    return (
        f"{log.name}: {number(figures['samples'], 0)} samples over {number(figures['lasts_s'], 0)} s at "
        f"{figures['rate_hz']:.3g} Hz, up to {shown(figures['highest_speed_m_s'], 'speed', system)}, "
        f"{shown(figures['distance_m'], 'distance', system)} in all."
    )


@app.command()
def coastdown(
    files: given.Files,
    build: given.BuildOption,
    wind: Annotated[
        str | None, typer.Option("--wind", help="For one way only: how strong the wind along the road may have been.")
    ] = None,
    slope: Annotated[
        str | None, typer.Option("--slope", help="For one way only: how steep the road may have been, such as '0.5 %'.")
    ] = None,
    into: given.Into = None,
    output: given.Output = None,
    altitude: given.Altitude = None,
    temperature: given.Temperature = None,
    humidity: given.Humidity = None,
    pressure: given.Pressure = None,
    from_speed: given.FromSpeed = None,
    to_speed: given.ToSpeed = None,
    ways: given.Ways = None,
    stretch: given.Stretch = None,
    time: given.Time = None,
    speed: given.Speed = None,
    latitude: given.Latitude = None,
    longitude: given.Longitude = None,
    time_unit: given.TimeUnit = None,
    speed_unit: given.SpeedUnit = None,
    units: UnitsOption = "metric",
    as_json: JsonOption = False,
    working: WorkingOption = False,
) -> None:
    """Coast-downs both ways along a road into drag area and rolling resistance, with their bands."""
    from ridesim.roadtest import coast_speeds, coasted, with_road_load
    from ridesim.units import quantity

    _needs_into(output, into)
    bike = given.bike_on(build, given.day(altitude, temperature, humidity, pressure))
    columns = given.chosen(time, speed, None, None, latitude, longitude)
    logs = given.read_logs(files, columns, given.units_of(time_unit, speed_unit), stretch)
    fast, slow = coast_speeds(logs)
    speeds = (given.speed(from_speed, "--from", fast), given.speed(to_speed, "--to", slow))
    runs = given.find_runs(logs, "coast-down", speeds, ways)
    with progress("Fitting") as told, placed(PLACES):
        done = coasted(
            bike,
            runs,
            wind_m_s=None if wind is None else float(quantity(wind, "speed", "m/s", "--wind")),
            grade=None if slope is None else float(quantity(slope, "ratio", "%", "--slope")),
            progress=told,
        )
    kept = None if into is None else with_road_load(given.ridden_build(into), done.found)
    if as_json:
        tell_json(done.found)
    else:
        tell(given.told_of(done.answer, units), working=working)
    if kept is not None and into is not None:
        given.saved(kept, into, output, "road load from your coast-downs", as_json=as_json)


def _needs_into(output: Path | None, into: Path | None) -> None:
    if output is not None and into is None:
        raise InputError("--output", str(output), "goes with --into", "Name the build to write into.")


def _pulled(
    files: list[Path],
    bike_file: Path,
    gear: int,
    standard: str,
    air: dict[str, str | None],
    speeds: tuple[str | None, str | None],
    ways: str | None,
    stretch: str | None,
    columns: dict[str, str],
    column_units: dict[str, str],
    *,
    which: str = "",
) -> Pulled:
    """The curve of the pulls in some files; which stands before the options that come twice ("before-")."""
    from ridesim.roadtest import pull_speeds, pulled
    from ridesim.roadtest.given import gear_of

    with placed({f"--{key}": f"--{which}{key}" for key in AIR}):
        bike = given.bike_on(bike_file, air)
    with placed(PLACES):
        low, high = pull_speeds(bike, gear_of(bike, gear))
    logs = given.read_logs(files, columns, column_units, stretch)
    ends = (given.speed(speeds[0], "--from", low), given.speed(speeds[1], "--to", high))
    with placed({"--ways": f"--{which}ways"}):
        runs = given.find_runs(logs, "pull", ends, ways)
    with progress("Working out the power") as told, placed(PLACES):
        return pulled(bike, runs, gear=gear, standard=standard, progress=told)


@app.command()
def pull(
    files: given.Files,
    build: given.BuildOption,
    gear: Gear,
    standard: Standard = "SAE J1349",
    name: Annotated[str | None, typer.Option("--name", help="Name of the tune to save with --into.")] = None,
    into: given.Into = None,
    output: given.Output = None,
    altitude: given.Altitude = None,
    temperature: given.Temperature = None,
    humidity: given.Humidity = None,
    pressure: given.Pressure = None,
    from_speed: given.FromSpeed = None,
    to_speed: given.ToSpeed = None,
    ways: given.Ways = None,
    stretch: given.Stretch = None,
    time: given.Time = None,
    speed: given.Speed = None,
    latitude: given.Latitude = None,
    longitude: given.Longitude = None,
    time_unit: given.TimeUnit = None,
    speed_unit: given.SpeedUnit = None,
    units: UnitsOption = "metric",
    as_json: JsonOption = False,
    working: WorkingOption = False,
) -> None:
    """Full-throttle pulls in one gear into power at the wheel over engine speed, with its band."""
    from ridesim.roadtest import with_wheel_tune

    _needs_into(output, into)
    if (name is None) != (into is None):
        raise InputError("--name", name, "and --into go together", 'Write --name "re-jetted" --into BUILD.')
    columns = given.chosen(time, speed, None, None, latitude, longitude)
    air = given.day(altitude, temperature, humidity, pressure)
    column_units = given.units_of(time_unit, speed_unit)
    done = _pulled(files, build, gear, standard, air, (from_speed, to_speed), ways, stretch, columns, column_units)
    kept = None
    if into is not None and name is not None:
        with placed(PLACES):
            kept = with_wheel_tune(given.ridden_build(into), name, done)
    if as_json:
        tell_json(done.found)
    else:
        tell(given.told_of(done.answer, units), working=working)
    if kept is not None and into is not None:
        given.saved(kept, into, output, f"tune {name!r} from your pulls", as_json=as_json)


@app.command()
def compare(
    before: Annotated[list[Path], typer.Option("--before", help="A log from before the change; may be given again.")],
    after: Annotated[list[Path], typer.Option("--after", help="A log from after it; may be given again.")],
    build: given.BuildOption,
    gear: Gear,
    standard: Standard = "SAE J1349",
    before_altitude: Day = None,
    before_temperature: Day = None,
    before_humidity: Day = None,
    before_pressure: Day = None,
    after_altitude: Day = None,
    after_temperature: Day = None,
    after_humidity: Day = None,
    after_pressure: Day = None,
    from_speed: given.FromSpeed = None,
    to_speed: given.ToSpeed = None,
    before_ways: Annotated[
        str | None, typer.Option("--before-ways", help="out,back,out", show_default="positions")
    ] = None,
    after_ways: Annotated[
        str | None, typer.Option("--after-ways", help="out,back,out", show_default="positions")
    ] = None,
    time: given.Time = None,
    speed: given.Speed = None,
    latitude: given.Latitude = None,
    longitude: given.Longitude = None,
    time_unit: given.TimeUnit = None,
    speed_unit: given.SpeedUnit = None,
    units: UnitsOption = "metric",
    as_json: JsonOption = False,
    working: WorkingOption = False,
) -> None:
    """Before and after a change: where the gain is real, and where it is within the noise."""
    from ridesim.roadtest import compared

    columns = given.chosen(time, speed, None, None, latitude, longitude)
    column_units = given.units_of(time_unit, speed_unit)
    airs = (
        given.day(before_altitude, before_temperature, before_humidity, before_pressure),
        given.day(after_altitude, after_temperature, after_humidity, after_pressure),
    )
    curves = [
        _pulled(
            files, build, gear, standard, air, (from_speed, to_speed), ways, None, columns, column_units, which=which
        )
        for which, files, air, ways in (
            ("before-", before, airs[0], before_ways),
            ("after-", after, airs[1], after_ways),
        )
    ]
    with placed(PLACES):
        done = compared(*curves)
    if as_json:
        return tell_json(done.found)
    return tell(given.told_of(done.answer, units), working=working)


@app.command()
def ratios(
    file: given.LogFile,
    build: Annotated[Path | None, typer.Option("--build", help="A build to stand beside.", show_default="none")] = None,
    circumference: Annotated[
        str | None, typer.Option("--circumference", help="Way rolled in one turn, such as '2.075 m'.")
    ] = None,
    gears: Annotated[int | None, typer.Option("--gears", help="How many to find.", show_default="all")] = None,
    stretch: given.Stretch = None,
    time: given.Time = None,
    speed: given.Speed = None,
    engine: given.EngineColumn = None,
    time_unit: given.TimeUnit = None,
    speed_unit: given.SpeedUnit = None,
    units: UnitsOption = "metric",
    as_json: JsonOption = False,
    working: WorkingOption = False,
) -> None:
    """Gear ratios from engine speed and road speed, and which gear each stretch was in."""
    from ridesim.roadtest import geared
    from ridesim.units import quantity

    if build is None and circumference is None:
        raise InputError("--circumference", None, "is not given", "Write it as '2.075 m', or name a --build.")
    columns = given.chosen(time, speed, engine, None, None, None)
    bike = None if build is None else given.bike_on(build, {})
    around = None if circumference is None else float(quantity(circumference, "length", "m", "--circumference"))
    log = given.read_logs([file], columns, given.units_of(time_unit, speed_unit), stretch)[0]
    with progress("Sorting the gears") as told, placed(PLACES):
        done = geared(log, bike=bike, circumference_m=around, gears=gears, progress=told)
    if as_json:
        found = done.found
        return tell_json(
            {"gears": found.gears, "build_gear": done.build_gear, "latency_s": found.latency_s}
            | {"stretches": found.stretches, "assumptions": found.assumptions, "notes": found.notes}
        )
    return tell(given.told_of(done.answer, units), working=working)


app.command()(ride)
