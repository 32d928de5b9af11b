"""Fuel and air on the bench: jets, circuits by throttle opening, mixture screw."""

from __future__ import annotations

import re
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Literal

import typer

from ridesim.commands.given import (
    air_places,
    day_figures,
    day_given,
    numbers,
    opening,
    pair,
    placed,
    read_text,
    share,
)
from ridesim.commands.output import (
    JsonOption,
    Told,
    Units,
    UnitsOption,
    WorkingOption,
    counted,
    figures,
    tell,
    tell_json,
    text,
)
from ridesim.errors import InputError
from ridesim.units import quantity

if TYPE_CHECKING:
    from ridesim.bench.circuits import Diagnosis, Parts
    from ridesim.bench.jets import JetForAir
    from ridesim.bench.mixture import MixtureSetting

jets_app = typer.Typer(
    no_args_is_help=True,
    rich_markup_mode=None,
    add_completion=False,
    help="What a jet flows beside another, and the jet for other air.",
)
circuit_app = typer.Typer(rich_markup_mode=None, add_completion=False)
idle_app = typer.Typer(rich_markup_mode=None, add_completion=False)
Numbered = Annotated[
    Literal["bore", "flow"],
    typer.Option("--numbered", help="Stamped by bore (hundredths of a mm) or by flow; makers use both."),
]


# ---- jets


@jets_app.command("change")
def jets_change(
    size: Annotated[float, typer.Argument(help="The jet fitted, as stamped.", show_default=False)],
    new_size: Annotated[float, typer.Argument(help="The other jet, as stamped.", show_default=False)],
    numbered: Numbered,
    units: UnitsOption = "metric",
    as_json: JsonOption = False,
    working: WorkingOption = False,
) -> None:
    """What another jet does to the fuel, with everything else the same."""
    from ridesim.bench.jets import jet_change

    found = jet_change(size, new_size, numbering=numbered)
    if as_json:
        return tell_json(found)
    told = Told(
        title="What does another jet do?",
        sentence=found.sentence,
        tables=(
            (
                "Fuel at the same suction",
                (
                    counted("Jet", (found.size, found.new_size)),
                    figures("Fuel against now", (0.0, found.flow_ratio - 1), "percent", units, signed=True),
                ),
            ),
        ),
        steps=found.steps,
        assumptions=found.assumptions,
        cautions=found.cautions,
    )
    return tell(told, working=working)


@jets_app.command("air")
def jets_air(
    size: Annotated[float, typer.Argument(help="The jet that was right, as stamped.", show_default=False)],
    numbered: Numbered,
    from_altitude: Annotated[str | None, typer.Option(help="Where it was right, such as '250 m'.")] = None,
    from_temperature: Annotated[str | None, typer.Option(help="There and then, such as '18 degC'.")] = None,
    from_humidity: Annotated[str | None, typer.Option(help="There and then, such as '55 %'.")] = None,
    from_pressure: Annotated[str | None, typer.Option(help="At the place, not reduced to sea level.")] = None,
    from_build: Annotated[Path | None, typer.Option(help="Build whose air it was right in.")] = None,
    to_altitude: Annotated[str | None, typer.Option(help="Where it will be ridden.")] = None,
    to_temperature: Annotated[str | None, typer.Option(help="There and then.")] = None,
    to_humidity: Annotated[str | None, typer.Option(help="There and then.")] = None,
    to_pressure: Annotated[str | None, typer.Option(help="At the place, not reduced to sea level.")] = None,
    to_build: Annotated[Path | None, typer.Option(help="Build whose air it will be ridden in.")] = None,
    sizes: Annotated[str | None, typer.Option(help="Sizes that can be had, such as 130,132.5,135.")] = None,
    step: Annotated[float | None, typer.Option(help="Or the step between the sizes that can be had.")] = None,
    doubt: Annotated[str, typer.Option(help="How far the ratio of the densities may be off besides.")] = "0 %",
    units: UnitsOption = "metric",
    as_json: JsonOption = False,
    working: WorkingOption = False,
) -> None:
    """The jet that keeps the mixture when the air is thinner or thicker."""
    from ridesim.bench.jets import jet_for_air
    from ridesim.surroundings.air import air

    before = {
        "altitude": from_altitude,
        "temperature": from_temperature,
        "humidity": from_humidity,
        "pressure": from_pressure,
    }
    after = {"altitude": to_altitude, "temperature": to_temperature, "humidity": to_humidity, "pressure": to_pressure}
    was, will = day_given(before, "--from-", from_build), day_given(after, "--to-", to_build)
    with placed(air_places("--from-")):
        old_air, old_share = air(**day_figures(was)), was.density_share()
    with placed(air_places("--to-")):
        new_air, new_share = air(**day_figures(will)), will.density_share()
    places = {"jet.sizes": "--sizes", "jet.step": "--step", "air.density_plus_minus": "--doubt"}
    with placed(places):
        found = jet_for_air(
            size,
            numbering=numbered,
            density_kg_m3=new_air.density_kg_m3,
            reference_density_kg_m3=old_air.density_kg_m3,
            step=step,
            sizes=None if sizes is None else numbers(sizes, "--sizes", "Write them as 130,132.5,135."),
            density_plus_minus=old_share + new_share + abs(share(doubt, "--doubt")),
        )
    if as_json:
        return tell_json(found)
    airs = (("was right in", old_air), ("will run in", new_air))
    told = Told(
        title="Which jet keeps the mixture in other air?",
        sentence=found.sentence,
        lines=_band(found),
        tables=(
            (
                "Air",
                (
                    text("", (name for name, _ in airs)),
                    figures("Pressure", (one.pressure_pa for _, one in airs), "pressure", units),
                    figures("Temperature", (one.temperature_k for _, one in airs), "temperature", units),
                    figures("Humidity", (one.relative_humidity for _, one in airs), "percent", units),
                    figures("Density", (one.density_kg_m3 for _, one in airs), "density", units),
                ),
            ),
            (
                "Jets that can be had",
                (
                    counted("Jet", (row["size"] for row in found.rows())),
                    figures(
                        "Mixture, + is richer",
                        (row["richness_ratio"] - 1 for row in found.rows()),
                        "percent",
                        units,
                        signed=True,
                    ),
                ),
            ),
        ),
        steps=(*old_air.steps, *new_air.steps, *found.steps),
        assumptions=(
            *was.assumptions,
            *will.assumptions,
            *old_air.assumptions,
            *new_air.assumptions,
            *found.assumptions,
        ),
        cautions=found.cautions,
    )
    return tell(told, working=working)


def _band(found: JetForAir) -> tuple[str, ...]:
    if found.low_size == found.high_size:
        return ()
    return (
        f"  keeps the mixture: {found.exact_size:.1f} ({found.low_size:.1f} to {found.high_size:.1f} by what is known of the air)",
    )


# ---- circuits


@circuit_app.command()
def circuit(
    at: Annotated[str, typer.Option("--opening", help="Throttle opening: 1/2, 50 %, closed, full.")],
    verdict: Annotated[
        Literal["lean", "rich", "right"] | None,
        typer.Option("--verdict", help="What the engine says there; without it, the parts that act there."),
    ] = None,
    units: UnitsOption = "metric",
    as_json: JsonOption = False,
    working: WorkingOption = False,
) -> None:
    """Which part sets the mixture at a throttle opening, and what to try first when it is lean or rich there."""
    from ridesim.bench.circuits import diagnose, parts_for

    where = opening(at, "--opening")
    found = parts_for(where)
    judged = None if verdict is None else diagnose(where, verdict)
    if as_json:
        return tell_json(found if judged is None else judged)
    return tell(_circuit_told(found, judged, units), working=working)


def _circuit_told(found: Parts, judged: Diagnosis | None, units: Units) -> Told:
    from ridesim.bench.circuits import SIGNS

    lines: list[str] = []
    if judged is None:
        lines = [f"Signs of {name}: {'; '.join(signs)}." for name, signs in SIGNS.items()]
    elif judged.key is not None:
        lines = [
            found.sentence,
            f"Change: {judged.change}.",
            f"How to tell: {judged.how_to_tell}.",
            f"If that does not cure it: {judged.then or 'look for another cause (ignition, valves, float level, air leak)'}.",
            f"Leave alone, it has no say there: {', '.join(judged.leave_alone) or 'none of the parts'}.",
            f"It shows as {judged.verdict} when it: {'; '.join(SIGNS[judged.verdict])}.",
        ]
    source = found if judged is None else judged
    return Told(
        title="Which part, which way, what first?",
        sentence=source.sentence,
        lines=tuple(lines),
        tables=(
            (
                "Who sets the mixture there",
                (
                    text("Part", (one.name for one in found.shares)),
                    figures("Share", (one.share for one in found.shares), "percent", units),
                ),
            ),
        ),
        steps=source.steps,
        assumptions=source.assumptions,
        cautions=source.cautions,
    )


# ---- idle


@idle_app.command()
def idle(
    readings: Annotated[
        list[str] | None,
        typer.Argument(
            help="A CSV file of turns out and engine speed in rev/min, or pairs on the line such as 1.5:1160.",
            show_default=False,
        ),
    ] = None,
    procedure: Annotated[bool, typer.Option("--procedure", help="Print how to take the readings.")] = False,
    screw: Annotated[
        Literal["fuel", "air"],
        typer.Option("--screw", help="A fuel screw richens outwards, an air screw leans outwards."),
    ] = "fuel",
    useful: Annotated[str, typer.Option("--useful", help="Ends of the useful range in turns out.")] = "0.5:3",
    coverage: Annotated[str, typer.Option("--coverage", help="Of the limits of the best setting.")] = "95 %",
    reading_step: Annotated[str, typer.Option("--reading-step", help="Smallest step of the instrument.")] = "0 rev/min",
    units: UnitsOption = "metric",
    as_json: JsonOption = False,
    working: WorkingOption = False,
) -> None:
    """The best setting of the mixture screw from idle speeds read at several turns out, with its spread."""
    from ridesim.bench.mixture import CAUTIONS, PROCEDURE, best_mixture_setting

    if procedure:
        if readings:
            raise InputError("--procedure", None, "goes without readings", "Leave out one of the two.")
        if as_json:
            return tell_json({"procedure": PROCEDURE, "cautions": CAUTIONS})
        steps = tuple(f"{number}. {line}" for number, line in enumerate(PROCEDURE, start=1))
        return tell(
            Told(title="How to find the mixture-screw setting", sentence=steps[0], lines=steps[1:], cautions=CAUTIONS)
        )
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
    if as_json:
        return tell_json(found)
    return tell(_idle_told(found, units), working=working)


def _idle_told(found: MixtureSetting, units: Units) -> Told:
    rows = found.rows()
    return Told(
        title="Where does the mixture screw belong?",
        sentence=found.sentence,
        tables=(
            (
                "Readings",
                (
                    counted("Turns out", (row["turns"] for row in rows)),
                    figures("Engine speed", (row["engine_speed_rad_s"] for row in rows), "engine speed", units),
                    text("", ("" if row["used"] else "left out" for row in rows)),
                ),
            ),
        ),
        steps=found.steps,
        assumptions=found.assumptions,
        cautions=found.cautions,
    )


def _readings(written: list[str]) -> list[tuple[float, float]]:
    """Pairs of turns and engine speed [rad/s], from the line or from one file."""
    if len(written) == 1 and not re.fullmatch(r"[\d.\s]+:[\d.\s]+(rev/min|rpm)?", written[0]):
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
    content = read_text(path, "readings")
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
