"""The commands. Each reads a build, asks the library, and prints the answer; nothing is computed here."""

from __future__ import annotations

import atexit
import gc
import os
import sys
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any, Literal

import typer

from ridesim import cli
from ridesim.cli.given import (
    build_of,
    demo_or_file,
    filled,
    fitted,
    inside,
    of_file,
    own_file,
    placed,
    usable,
    write_into,
)
from ridesim.cli.options import (
    BuildFile,
    Changes,
    FullOption,
    Printing,
    ReplaceOption,
    Riding,
    UnitsOption,
    grouped,
    option,
    renamed,
)
from ridesim.cli.output import Unread, complaint, drop, printable, ready, say, tell_json
from ridesim.errors import InputError

if TYPE_CHECKING:
    from ridesim.answers import Solved
    from ridesim.buildfile.io import Build

SameBike = Annotated[
    bool,
    typer.Option(
        "--same-bike",
        help="Both files are of one bike: tolerances that are written alike in both are of one measurement, and move both.",
    ),
]
app = typer.Typer(
    name="ridesim",
    cls=cli.Families,
    no_args_is_help=True,
    add_completion=False,
    pretty_exceptions_enable=False,
    rich_markup_mode=None,
    context_settings={"token_normalize_func": renamed},
    help="Gearing, performance and tuning figures for the rider who does their own wrenching.",
)


@app.command()
@grouped
def answers(build: BuildFile, changes: Changes, riding: Riding, printing: Printing, full: FullOption = False) -> None:
    """Everything a rider asks of one bike."""
    from ridesim.answers import contract, everything
    from ridesim.report.terminal import print_answers

    solved = _solve(fitted(build), changes, riding, printing)
    if printing.as_json:
        return tell_json(contract(solved))
    return print_answers(everything(solved), solved, printing.units, full=full, working=printing.working)


@app.command()
@grouped
def compare(
    now: BuildFile,
    planned: Annotated[
        Path | None,
        typer.Argument(help="Another build file; without it the options change the first.", show_default=False),
    ] = None,
    *,
    same_bike: SameBike = False,
    changes: Changes,
    riding: Riding,
    printing: Printing,
    full: FullOption = False,
) -> None:
    """What changes between two set-ups: two files, or one file and what the options change of it."""
    from ridesim.answers import compare as compared
    from ridesim.answers import contract
    from ridesim.answers.contract import comparison_object
    from ridesim.report.terminal import print_comparison

    if planned is None and not changes.given():
        fix = "Name a second build file, or give --tune, --front, --rear, --tire or --front-tire."
        raise InputError("compare", None, "has nothing to compare with", fix)
    a, b = _solve_two(now, planned, changes, riding, printing, same_bike=same_bike)
    if printing.as_json:
        return tell_json(comparison_object(compared(a, b), contract(a), contract(b)))
    return print_comparison(a, b, printing.units, full=full, working=printing.working)


@app.command()
@grouped
def sheet(
    now: BuildFile,
    planned: Annotated[
        Path | None,
        typer.Argument(
            help="Another build file; without it and without changes the verdict is planned.", show_default=False
        ),
    ] = None,
    *,
    output: Path | None = option(
        "File to write, .pdf or .html, or a folder.", "--output", "-o", otherwise="bike and date, .pdf"
    ),
    same_bike: SameBike = False,
    changes: Changes,
    riding: Riding,
    paper: Literal["A4", "letter"] = option("Paper size.", default="A4"),
    units: UnitsOption = "metric",
    replace: ReplaceOption = False,
) -> None:
    """The decision on one printable page and all that is behind it on a second one, as PDF or HTML."""
    from ridesim.report.sheet import decision, write
    from ridesim.report.sheet import sheet as made

    decided = None
    if planned is None and not changes.given():
        a = _solve(fitted(now), riding=riding)
        decided, b = decision(a)
    else:
        a, b = _solve_two(now, planned, changes, riding, same_bike=same_bike)
    page = made(a, b, system=units, decided=decided)
    typer.echo(str(write(page, output, paper=paper, replace=replace)))


@app.command()
@grouped
def wanted(
    build: BuildFile,
    engine_speed: str = option("Wanted engine speed, such as '4800 rev/min'.", default=...),
    speed: str = option("At this road speed, such as '105 km/h'.", default=...),
    gear: int | None = option("In this gear.", otherwise="top"),
    front: str | None = option("Front sprockets to look among, such as 13:18.", otherwise="near the file's"),
    rear: str | None = option("Rear sprockets to look among, such as 40:50.", otherwise="near the file's"),
    *,
    printing: Printing,
) -> None:
    """Which overall ratio, and which sprockets, give an engine speed at a road speed."""
    from ridesim.answers import wanted_ratio
    from ridesim.report.terminal import print_answers

    solved = _solve(fitted(build))
    with placed({"gear": "--gear"}):
        answer = wanted_ratio(
            solved,
            engine_speed=inside(engine_speed, "engine speed", "rev/min", "--engine-speed", (300, 25000)),
            speed_m_s=inside(speed, "speed", "km/h", "--speed", (1, 430)),
            gear=gear,
            fronts=_range(front, "--front"),
            rears=_range(rear, "--rear"),
        )
    if printing.as_json:
        return tell_json(answer.as_object())
    return print_answers((answer,), solved, printing.units, working=printing.working)


@app.command("tire-swap")
@grouped
def swap_tires(build: BuildFile, changes: Changes, riding: Riding, printing: Printing) -> None:
    """Whether another tire fits, which sprocket puts the gearing back, and what it does to speedometer and steering."""
    from ridesim.answers import tire_swap

    if changes.tire is None and changes.front_tire is None:
        raise InputError("tire-swap", None, "has no tire to try", "Give --tire or --front-tire with a marking.")
    read = fitted(build)
    answer = tire_swap(_solve(read, riding=riding), _solve(read, changes, riding))
    return say(answer, printing, also={"fill_in": answer.series["fill_in"]})


@app.command()
@grouped
def curve(
    csv_file: Annotated[Path, typer.Argument(help="CSV of engine speed and torque or power.", show_default=False)],
    into: Path = option("Build file to add the tune to.", default=...),
    name: str = option("Name of the tune.", default=...),
    unit: str | None = option("Unit of the figures.", otherwise="from the heading"),
    at: Literal["crank", "wheel"] | None = option("Where it was measured.", otherwise="assumed"),
    standard: str | None = option("Correction standard of the sheet.", otherwise="assumed"),
    output: Path | None = option("Write here instead of over the build file.", "--output", "-o", otherwise=False),
    replace: ReplaceOption = False,
) -> None:
    """Bring the points of a power curve from a CSV file into a build, its comments kept."""
    from ridesim.buildfile.curve_file import read_curve_csv
    from ridesim.buildfile.io import refuse_taken, with_tune

    own_file(into, output)
    sheet = read_curve_csv(csv_file, unit=filled(unit, "--unit"))

    def added(build: Any) -> Any:
        refuse_taken(build, name, replace=replace)
        with placed({f"tune.{name}.standard": "--standard", f"tune.{name}.[key]": "--name"}):
            changed = with_tune(build, name, sheet, measured_at=at, standard=standard)
            usable(changed, tune=name)  # a curve or a standard that will not do is told now, not at the next question
        return changed

    write_into(into, output, added, replace=replace)
    typer.echo(f"{output or into}: tune {name!r} with {len(sheet.points)} points in {sheet.unit}")


@app.command("app")
@grouped
def open_app(
    build: Annotated[
        Path | None, typer.Argument(help="Build file to open with.", show_default="the demo 'coast-single'")
    ] = None,
    port: int = option("Port to serve on.", default=8050, min=1, max=65535),
    host: str = option("Address to serve on; any but this machine's own needs an access key.", default="127.0.0.1"),
    key_file: Path | None = option(
        "File with an access key of your choice, 12 characters or more; RIDESIM_KEY may hold it instead.",
        otherwise=False,
    ),
    key: Annotated[str | None, typer.Option(hidden=True)] = None,
    garage: Path | None = option("Garage file.", otherwise="your own, on this machine's address only"),
    phone: bool = option(
        "Let your phone in too: print an address and a QR code that work once, for the local network.",
        "--phone",
        default=False,
    ),
    browser: bool = option("Open the browser.", "--browser/--no-browser", default=True),
) -> None:
    """Open the app: two set-ups side by side on every screen, on this machine only unless told otherwise."""
    from dashboard.app import serve
    from dashboard.security.access_key import never_on_the_line

    gc.enable()  # this one stays
    never_on_the_line(key)
    text = None if build is None else build_of(build).text
    serve(host, port, key_file, text, open_browser=browser, garage=garage, phone=phone)


@app.command()
def check(build: BuildFile) -> None:
    """Read a build file and say whether it will do; every problem is told."""
    bike = usable(build_of(build))
    typer.echo(f"{build}: {bike.name}, {len(bike.gears)} gears, tunes {', '.join(bike.record.tune)}: usable")
    for text in (*bike.assumptions, *bike.notes):
        typer.echo(f"  {text}")


@app.command()
def schema() -> None:
    """Print the JSON schema of the build file."""
    from ridesim.buildfile.io import json_schema

    tell_json(json_schema())


def _solve(
    build: Build,
    changes: Changes | None = None,
    riding: Riding | None = None,
    printing: Printing | None = None,
) -> Solved:
    """A build with what the line changes of it and of how it is ridden, worked out; timed over miles where those are read."""
    from ridesim.answers import solve

    changes, riding = changes or Changes(), riding or Riding()
    with placed(changes.places() | riding.places()):
        bike = changes.bike(build)
        miles = printing is not None and printing.units == "us" and not printing.as_json
        return solve(bike, riding.ride(bike, "us" if miles else "metric"))


def _solve_two(
    now: Path,
    planned: Path | None,
    changes: Changes,
    riding: Riding,
    printing: Printing | None = None,
    *,
    same_bike: bool,
) -> tuple[Solved, Solved]:
    """A build as it is, and it or another with what the line changes; of two files the one with a fault is named.

    Two files are two bikes unless they are said to be one; one file is one bike however often it is named.
    """
    if planned is None:
        build = fitted(now)
        return _solve(build, None, riding, printing), _solve(build, changes, riding, printing)
    with of_file(now):
        build = fitted(now)
        first = _solve(build, None, riding, printing)
    with of_file(planned):
        other = fitted(planned)
        if same_bike or demo_or_file(planned).resolve() == demo_or_file(now).resolve():
            other = replace(other, bike=build.bike)
        return first, _solve(other, changes, riding, printing)


def _range(text: str | None, where: str) -> tuple[int, int] | None:
    """Least and most of the tooth counts of a range."""
    from ridesim.selection import teeth

    if text is None:
        return None
    counts = teeth(text, where)
    if list(counts) != list(range(counts[0], counts[-1] + 1)):
        raise InputError(where, text, "is not one range of teeth", "Write least:most, such as 13:18, or one number.")
    return counts[0], counts[-1]


def main(arguments: list[str] | None = None) -> None:
    """Run a command: exit 0 with an answer, 2 when the input is refused, 1 when the program is at fault."""
    run: Callable[..., Any] = app
    # a command lives for half a second: looking for garbage, also at its end, or for plugins would take a tenth each
    gc.disable()
    atexit.register(gc.freeze)
    os.environ.setdefault("PYDANTIC_DISABLE_PLUGINS", "1")
    ready()
    try:
        try:
            run(arguments, standalone_mode=True)
        finally:
            gc.enable()
            sys.stdout.flush()
    except InputError as error:
        print(printable(str(error)), file=sys.stderr)
        raise SystemExit(2) from None
    except (Unread, BrokenPipeError):
        drop()
        raise SystemExit(0) from None
    except OSError as error:
        if (told := complaint(error)) is None:
            raise
        drop()
        print(told, file=sys.stderr)
        raise SystemExit(1) from None


if __name__ == "__main__":
    main()
