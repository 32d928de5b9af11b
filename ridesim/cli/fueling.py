"""Fuel and air on the bench: jets, circuits by throttle opening, mixture screw, another height, the intake."""

from __future__ import annotations

import re
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Literal

import typer

from ridesim.cli.given import air_of_day, fitted, numbers, opening, pair, placed, read_text, share
from ridesim.cli.options import BuildFile, Changes, Day, Printing, Riding, Spelt, family, grouped, option
from ridesim.cli.output import say, tell, tell_json
from ridesim.errors import InputError
from ridesim.units import quantity

if TYPE_CHECKING:
    from ridesim.answers import Solved
    from ridesim.cli.given import AirOfDay
    from ridesim.environment.air import Air
    from ridesim.environment.climb import Climb
    from ridesim.fueling.altitude import JetFitted

jets_app = family("What a jet flows beside another, and the jet for other air.")
NumberingOption = Annotated[
    Literal["bore", "flow"],
    typer.Option("--numbering", help="Stamped by bore (hundredths of a mm) or by flow; makers use both."),
]


# ---- jets


@jets_app.command("change")
@grouped
def jets_change(
    size: Annotated[float, typer.Argument(help="The jet fitted, as stamped.", show_default=False)],
    new_size: Annotated[float, typer.Argument(help="The other jet, as stamped.", show_default=False)],
    numbering: NumberingOption,
    printing: Printing,
    build: Path | None = option("The bike: what it costs in its roll-on."),
) -> None:
    """What another jet does to the fuel, with everything else the same, and what that costs where the first is right."""
    from ridesim.fueling.jet_answers import jet_change

    say(jet_change(size, new_size, numbering=numbering, solved=_solved(build)), printing)


def _solved(build: Path | None, day: AirOfDay | None = None) -> Solved | None:
    """The bike of a build worked out, in the air of a day where one is given; None without a build."""
    if build is None:
        return None
    from ridesim.answers import solve
    from ridesim.bike import make_bike

    bike = make_bike(fitted(build))
    if day is not None:
        from ridesim.fueling.altitude import bike_in

        bike = bike_in(bike, day.air)
    return solve(bike, bands=False)


@jets_app.command("air")
@grouped
def jets_air(
    size: Annotated[float, typer.Argument(help="The jet that was right, as stamped.", show_default=False)],
    numbering: NumberingOption,
    before: Annotated[Day, Spelt(before="from_")],
    after: Annotated[Day, Spelt(before="to_")],
    printing: Printing,
    from_build: Path | None = option("Build whose air it was right in."),
    to_build: Path | None = option("Build whose air it will be ridden in."),
    sizes: str | None = option("Available sizes, such as 115,117.5,120."),
    step: float | None = option("Or the step between the available sizes."),
    density_uncertainty: str = option("How far the ratio of the densities may be off besides.", default="0 %"),
) -> None:
    """The jet that keeps the mixture in other air: --from-... is the air it was right in, --to-... the air of the ride."""
    from ridesim.fueling.jet_answers import jet_air_answer
    from ridesim.fueling.jets import jet_for_air

    was = air_of_day(before.written(), "--from-", from_build)
    will = air_of_day(after.written(), "--to-", to_build)
    places = {"jet.sizes": "--sizes", "jet.step": "--step", "air.density_plus_minus": "--density-uncertainty"}
    with placed(places):
        found = jet_for_air(
            size,
            numbering=numbering,
            metering_density_kg_m3=will.air.metering_density_kg_m3,
            reference_metering_density_kg_m3=was.air.metering_density_kg_m3,
            step=step,
            sizes=None if sizes is None else numbers(sizes, "--sizes", "Write them as 115,117.5,120."),
            density_plus_minus=was.share + will.share + abs(share(density_uncertainty, "--density-uncertainty")),
        )
    assumed = (*was.assumptions, *will.assumptions)
    solved = _solved(to_build or from_build, will)
    say(jet_air_answer(found, was.air, will.air, assumed=assumed, solved=solved), printing)


# ---- circuits


@grouped
def circuit(
    at: str = option("Throttle opening: 1/2, 50 %, closed, full.", "--opening", default=...),
    verdict: Literal["lean", "rich", "right"] | None = option(
        "What the engine says there; without it, the parts that act there."
    ),
    *,
    printing: Printing,
) -> None:
    """Which part sets the mixture at a throttle opening, and what to try first when it is lean or rich there."""
    from ridesim.fueling.circuits import circuit_answer

    say(circuit_answer(opening(at, "--opening"), verdict), printing)


# ---- idle


@grouped
def idle(
    readings: Annotated[
        list[str] | None,
        typer.Argument(
            help="A CSV file of turns out and engine speed in rev/min, or pairs on the line such as 1.5:1160.",
            show_default=False,
        ),
    ] = None,
    procedure: bool = option("Print how to take the readings.", "--procedure", default=False),
    screw: Literal["fuel", "air"] = option(
        "A fuel screw richens outwards, an air screw leans outwards.", default="fuel"
    ),
    useful: str = option("Ends of the useful range in turns out.", default="0.5:3"),
    coverage: str = option("Of the limits of the best setting.", default="95 %"),
    reading_step: str = option("Smallest step of the instrument.", default="0 rev/min"),
    *,
    printing: Printing,
) -> None:
    """The best setting of the mixture screw from idle speeds read at several turns out, with its spread."""
    from ridesim.fueling.mixture import best_mixture_setting, idle_answer

    if procedure:
        return _tell_procedure(readings, as_json=printing.as_json)
    if not readings:
        raise InputError(
            "readings", None, "are missing", "Name a CSV file, or write pairs such as 1.5:1160; see --procedure."
        )
    pairs = _readings(readings)
    places = {"mixture.useful_turns": "--useful", "coverage": "--coverage", "readings.step": "--reading-step"}
    with placed(places):
        found = best_mixture_setting(
            [turns for turns, _ in pairs],
            [speed for _, speed in pairs],
            screw=screw,
            coverage=float(share(coverage, "--coverage")),
            useful_turns=pair(useful, "--useful", "0.5:3"),
            reading_step_rad_s=float(quantity(reading_step, "engine speed", "rev/min", "--reading-step")),
        )
    return say(idle_answer(found), printing)


def _tell_procedure(readings: list[str] | None, *, as_json: bool) -> None:
    """How to take the readings."""
    from ridesim.fueling.mixture import CAUTIONS, PROCEDURE

    if readings:
        raise InputError("--procedure", None, "goes without readings", "Leave out one of the two.")
    if as_json:
        return tell_json({"procedure": PROCEDURE, "cautions": CAUTIONS})
    first, *lines = (f"{number}. {line}" for number, line in enumerate(PROCEDURE, start=1))
    return tell("How to find the mixture-screw setting", first, lines=lines, cautions=CAUTIONS)


def _readings(written: list[str]) -> list[tuple[float, float]]:
    """Pairs of turns and engine speed [rad/s], from the line or from one file."""
    if len(written) == 1 and not re.match(r"\s*[\d.]+\s*:", written[0]):
        return _readings_of(written[0])
    pairs = []
    for place, one in enumerate(written, start=1):
        turns, colon, speed = one.partition(":")
        if not colon:
            raise InputError(f"reading {place}", one, "is not a pair", "Write turns:engine speed, such as 1.5:1160.")
        pairs.append(_reading(turns, speed, f"reading {place}"))
    return pairs


def _reading(turns: str, speed: str, where: str) -> tuple[float, float]:
    return float(quantity(turns.strip(), "ratio", "", where)), float(
        quantity(speed.strip(), "engine speed", "rev/min", where)
    )


def _readings_of(name: str) -> list[tuple[float, float]]:
    """The two columns of a CSV file; one heading line is passed over."""
    import csv
    from io import StringIO

    path = Path(name)
    content = read_text(path)
    delimiter = "\t" if "\t" in content else ";" if ";" in content else ","
    pairs: list[tuple[float, float]] = []
    try:
        lines = list(csv.reader(StringIO(content, newline=""), delimiter=delimiter, strict=True))
    except csv.Error as error:
        raise InputError(path.name, None, f"is not CSV ({error})", "Save it again as CSV.") from None
    filled = [(number, cells) for number, cells in enumerate(lines, start=1) if any(cell.strip() for cell in cells)]
    for place, (number, cells) in enumerate(filled):
        where = f"{path.name}, line {number}"
        if len(cells) != 2:
            raise InputError(
                where, delimiter.join(cells), "has not two cells", "Each line needs turns out and engine speed."
            )
        plain = [cell if delimiter == "," else cell.replace(",", ".") for cell in cells]
        heading = place == 0 and not any(re.match(r"\s*[\d.+-]", cell) for cell in plain)
        if not heading:
            pairs.append(_reading(plain[0], plain[1], where))
    return pairs


# ---- another height


CLIMB_PLACES = {
    "climb.from": "--from",
    "climb.to": "--to",
    "climb": "--to",
    "climb.temperature": "--temperature",
    "jet.size": "--jet",
    "jet.sizes": "--sizes",
    "jet.step": "--step",
}


@grouped
def altitude(
    build: BuildFile,
    start: str | None = option("Height of the start, such as '100 m'.", "--from"),
    end: str | None = option("Height of the end, such as '2200 m'.", "--to"),
    gpx: Path | None = option("Or a track or route with heights: its heights and hills; it may lack times."),
    jet: float | None = option("The main jet that runs right, as stamped."),
    numbering: Literal["bore", "flow"] = option("Stamped by bore or by flow.", default="bore"),
    sizes: str | None = option("Available sizes, such as 115,117.5,120."),
    step: float = option("Or the step between the available sizes.", default=2.5),
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
    with placed(CLIMB_PLACES):
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


# ---- intake


SIDES = ("diameter", "length", "width", "count")
OPENING_PLACES = {f"intake.{shape}.{side}": "--stock" for shape in ("circle", "slot", "rectangle") for side in SIDES}
INTAKE_PLACES = {
    "intake.stock": "--stock",
    "intake.wanted": "--wanted",
    "intake.wanted_over_stock": "--wanted",
    "intake.wanted_area": "--wanted",
    "intake.saws": "--saws",
    "intake.tolerance": "--tolerance",
    "intake.stock_coefficients": "--stock-coefficient",
    "intake.show": "--show",
}


@grouped
def intake(
    stock: list[str] = option(
        "The opening as it is: 'circle 40 mm', '2 slots 60 x 18 mm', 'rectangle 38 x 50 mm', '1250 mm^2'; may be repeated.",
        default=...,
    ),
    wanted: str = option("'+40 %' more than stock, '140 %' of stock, or '1800 mm^2' in all.", default=...),
    saws: str = option("Hole saws at hand in mm or with a unit, such as 25,32,38 or '1 in,1.25 in'.", default=...),
    most: int = option("How many holes of each saw fit at most.", default=6),
    tolerance: str = option("How near to the wanted area a set must come.", default="3 %"),
    stock_coefficient: str | None = option(
        "Discharge coefficient of the stock opening, least:most.", otherwise="a sharp hole's"
    ),
    show: int = option("Sets to print.", default=10),
    *,
    printing: Printing,
) -> None:
    """Which holes make a wanted intake opening, and which to plug for each step back."""
    from ridesim.fueling.intake import plan_intake, saws_of, wanted_of
    from ridesim.fueling.intake_answers import intake_answer
    from ridesim.fueling.openings import SHARP_HOLE, openings_of

    with placed(OPENING_PLACES):
        openings = [opening for one in stock for opening in openings_of(one, "--stock")]
    band = SHARP_HOLE if stock_coefficient is None else pair(stock_coefficient, "--stock-coefficient", "0.60:0.65")
    with placed({"intake.saw.diameter": "--saws", "intake.saw.most": "--most"}):
        at_hand = saws_of(saws, "--saws", most)
    with placed(INTAKE_PLACES):
        plan = plan_intake(
            openings,
            at_hand,
            **wanted_of(wanted, "--wanted"),
            tolerance=float(share(tolerance, "--tolerance")),
            stock_coefficients=band,
            show=show,
        )
    also = {"found": plan.found, "within": plan.within, "sets": plan.sets, "plugging": plan.plugging}
    say(intake_answer(plan), printing, also=also)
