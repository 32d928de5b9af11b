"""A ride to another height with the jets of today."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Literal

import typer

from ridesim.cli.given import air_of_day, fitted, numbers, placed
from ridesim.cli.options import BuildFile, Changes, Day, Printing, Riding, Spelt, grouped, option
from ridesim.cli.output import say
from ridesim.errors import InputError
from ridesim.units import quantity

if TYPE_CHECKING:
    from ridesim.environment.air import Air
    from ridesim.environment.climb import Climb
    from ridesim.fueling.altitude import JetFitted

app = typer.Typer(rich_markup_mode=None, add_completion=False)
PLACES = {
    "climb.from": "--from",
    "climb.to": "--to",
    "climb": "--to",
    "climb.temperature": "--temperature",
    "jet.size": "--jet",
    "jet.sizes": "--sizes",
    "jet.step": "--step",
}


@app.command()
@grouped
def altitude(
    build: BuildFile,
    start: str | None = option("Height of the start, such as '100 m'.", "--from"),
    end: str | None = option("Height of the end, such as '2200 m'.", "--to"),
    gpx: Path | None = option("Or a track or route with heights: its heights and hills; it may lack times."),
    jet: float | None = option("The main jet that runs right, as stamped."),
    numbering: Literal["bore", "flow"] = option("Stamped by bore or by flow.", default="bore"),
    sizes: str | None = option("Sizes that can be had, such as 115,117.5,120."),
    step: float = option("Or the step between the sizes that can be had.", default=2.5),
    temperature: str | None = option("At the start; it falls from there.", otherwise="by that of the build"),
    *,
    right: Annotated[Day, Spelt(before="right_", otherwise="the build's air")],
    changes: Changes,
    riding: Riding,
    printing: Printing,
) -> None:
    """A ride up or down with today's jets: power left, mixture, when to change the jet, and whether the gearing holds the hills."""
    from ridesim.fueling import altitude as found

    with placed(changes.places() | riding.places()):
        bike = changes.bike(fitted(build))
        ride = riding.ride(bike)
    warm = None if temperature is None else float(quantity(temperature, "temperature", "degC", "--temperature"))
    with placed(PLACES):
        answer = found.altitude(
            bike,
            _climb(start, end, gpx, ride.slope_rad),
            ride=ride,
            right=_right(right),
            jet=_jet(jet, numbering, sizes, step),
            start_temperature_k=warm,
        )
    say(answer, printing)


def _climb(start: str | None, end: str | None, gpx: Path | None, slope_rad: float) -> Climb:
    """The heights of a track, or those of the line."""
    import math

    from ridesim.environment.climb import stated_climb
    from ridesim.logs.reader import read_climb

    if (gpx is None) == (start is None and end is None):
        raise InputError(
            "--gpx", None, "or --from and --to are wanted, and not both", "Write --from '100 m' --to '2200 m'."
        )
    if gpx is not None:
        with placed({"route": "--gpx", "route.height": "--gpx"}):
            return read_climb(gpx)
    if start is None or end is None:
        missing = "--from" if start is None else "--to"
        raise InputError(missing, None, "is not given", "Write both, such as --from '100 m' --to '2200 m'.")
    low, high = (float(quantity(one, "length", "m", where)) for one, where in ((start, "--from"), (end, "--to")))
    return stated_climb(low, high, math.tan(slope_rad))


def _right(day: Day) -> Air | None:
    """The air it runs right in; None where nothing is written."""
    return air_of_day(day.written(), "--right-").air if any(day.written().values()) else None


def _jet(size: float | None, numbering: Literal["bore", "flow"], sizes: str | None, step: float) -> JetFitted | None:
    from ridesim.fueling.altitude import JetFitted

    if size is None:
        return None
    listed = None if sizes is None else numbers(sizes, "--sizes", "Write them as 115,117.5,120.")
    return JetFitted(size=size, numbering=numbering, step=step, sizes=listed)
