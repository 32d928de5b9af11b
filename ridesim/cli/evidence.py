"""`ridesim fit` and `ridesim measure-next`: the readings of a build joined into one bike, and which to take next."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from ridesim.cli.given import build_of, demo_or_file, fitted
from ridesim.cli.options import BuildFile, JsonOption, ReplaceOption, Units, UnitsOption
from ridesim.cli.output import tell_json
from ridesim.errors import InputError

if TYPE_CHECKING:
    from ridesim.evidence import FittedErrors, Next

fit_app = typer.Typer(add_completion=False, pretty_exceptions_enable=False, rich_markup_mode=None)

next_app = typer.Typer(add_completion=False, pretty_exceptions_enable=False, rich_markup_mode=None)
WORTHWHILE = 0.01  # of the band: what narrows it by less is not printed
SHOWN = 3  # readings that are told how to take


@fit_app.command(help="Join all readings of a build into the most probable bike, and name those that conflict.")
def fit(
    build: BuildFile,
    as_json: JsonOption = False,
    into: Annotated[
        Path | None,
        typer.Option(
            "--into", help="Write the fitted bike, its tolerances and no readings, to this file.", show_default=False
        ),
    ] = None,
    units: UnitsOption = "metric",
    replace: ReplaceOption = False,
) -> None:
    from ridesim import evidence

    filed = build_of(build)
    if into is not None and into.resolve() == demo_or_file(build).resolve():
        fix = "Name another file: the fitted bike has its readings in its figures."
        raise InputError("--into", str(into), "is the build itself, whose readings would be lost", fix)
    found = evidence.fit(filed)
    if into is not None:
        evidence.into_build(found).save(into, replace=replace)
    if as_json:
        return tell_json(evidence.fit_object(found))
    _print_fit(found, units)
    if into is not None:
        typer.echo(f"\n{into}: written")
    return None


@next_app.command(help="What to measure next: each reading you could take, by how much narrower a figure would get.")
def measure_next(
    build: BuildFile,
    figure: Annotated[
        str, typer.Option("--for", help="The figure that matters, such as power_in_hand or top_speed, or verdict.")
    ] = "power_in_hand",
    as_json: JsonOption = False,
    units: UnitsOption = "metric",
) -> None:
    from ridesim import evidence

    found = evidence.measure_next(fitted(build), figure)
    if as_json:
        return tell_json(evidence.next_object(found))
    return _print_next(found, units)


def _print_next(found: Next, units: Units) -> None:
    from ridesim.evidence import report
    from ridesim.evidence.amounts import amount, in_words
    from ridesim.evidence.next_reading import FIGURES, figure_label
    from ridesim.report.terminal import console
    from ridesim.units import READINGS

    out = console()
    how = READINGS[found.shown_as]

    def words(value: float, plus_minus: float) -> str:
        return in_words(amount(value, plus_minus, how.kind, how.metric, units))

    sure = "" if found.certainty is None else f", its limit {100 * found.certainty:.1f} % sure"
    label = figure_label(found.figure, units) if found.figure in FIGURES else found.label
    out.print(f"{label}: {words(found.value, found.plus_minus)}{sure}", style="bold")
    best = [one for one in found.candidates if one.share_narrower >= WORTHWHILE]
    if not best:
        out.print("None of the readings known here would make it narrower.")
        return
    rows = [
        (report.label(one.reading, units), words(found.value, one.plus_minus_then), f"{100 * one.share_narrower:.0f} %")
        for one in best
    ]
    out.print(_grid(("Reading", "would leave", "narrower by"), rows))
    out.print("\nHow to take them", style="bold underline")
    for one in best[:SHOWN]:
        out.print(f"- {report.label(one.reading, units)}: {one.how}")
    out.print("\nAssumed", style="bold underline")
    for one in best:
        out.print(f"- {report.label(one.reading, units)} within {report.error_words(one.reading, units)}")
    cautions = dict.fromkeys(one.caution for one in best[:SHOWN] if one.caution)
    if cautions:
        out.print("\nTake care", style="bold underline")
        for text in cautions:
            out.print(f"- {text}")


def _print_fit(found: FittedErrors, units: Units) -> None:
    from ridesim.answers.text import number
    from ridesim.evidence import report
    from ridesim.report.terminal import console

    out = console()
    out.print(found.model.build.name, style="bold")
    figures = report.parameters(found)
    out.print(_grid(("Figure", "as written", "fitted"), [(one.path, *one.words(units)) for one in figures]))
    out.print()
    rows = []
    for n, reading in enumerate(found.readings):
        z = found.z[n]
        off = (
            "not used"
            if z is None
            else f"{'+' if z > 0 else ''}{number(z, 1)} sd{', conflict' if n in found.conflicts else ''}"
        )
        both = (side.replace("; ", "\n") for side in report.shown(found, n, units))
        rows.append((str(n + 1), report.label(reading, units), *both, off))
    if rows:
        out.print(_grid(("", "Reading", "measured", "fit", "off the others"), rows))
    told = report.notes(found, units)
    if told:
        out.print("\nNote", style="bold underline")
        for text in told:
            out.print(f"- {text}")


def _grid(headings: tuple[str, ...], rows: list[tuple[Any, ...]]) -> Any:
    from rich.table import Table

    grid = Table(box=None, pad_edge=False, header_style="dim")
    for heading in headings:
        left = heading in ("Figure", "Reading", "")
        grid.add_column(heading, justify="left" if left else "right", overflow="fold", no_wrap=not left)
    for row in rows:
        grid.add_row(*row)
    return grid
