"""`ridesim fit` and `ridesim measure-next`: the readings of a build joined into one bike, and which to take next."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from ridesim.commands.given import demo_or_file
from ridesim.commands.options import BuildFile, JsonOption, ReplaceOption, Units, UnitsOption
from ridesim.commands.output import tell_json
from ridesim.errors import InputError

if TYPE_CHECKING:
    from ridesim.evidence import Fit

fit_app = typer.Typer(add_completion=False, pretty_exceptions_enable=False, rich_markup_mode=None)


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
    from ridesim.build import read

    source = demo_or_file(build)
    filed = read(source)
    if not filed.record.evidence:
        fix = 'Add readings, such as [[evidence]] with kind = "roll-out" and value = "2.071 +- 0.004 m".'
        raise InputError("evidence", None, "is missing: the file holds no readings to fit", fix)
    if into is not None and into.resolve() == source.resolve():
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


def _print_fit(found: Fit, units: Units) -> None:
    from ridesim.evidence import report
    from ridesim.printing import console

    out = console()
    out.print(found.model.build.name, style="bold")
    figures = report.parameters(found)
    out.print(_grid(("Figure", "as written", "fitted"), [(one.path, *one.words(units)) for one in figures]))
    out.print()
    rows = []
    for n, reading in enumerate(found.readings):
        z = found.z[n]
        off = "" if z is None else f"{z:+.1f} sd"
        mark = "conflict" if n in found.conflicts else "" if n in found.used else "not used"
        rows.append((str(n + 1), report.label(reading, units), *report.shown(found, n, units), off, mark))
    out.print(_grid(("", "Reading", "measured", "fit", "off the others", ""), rows))
    for title, texts in (("Note", report.notes(found, units)),):
        if texts:
            out.print(f"\n{title}", style="bold underline")
            for text in texts:
                out.print(f"- {text}")


def _grid(headings: tuple[str, ...], rows: list[tuple[Any, ...]]) -> Any:
    from rich.table import Table

    grid = Table(box=None, pad_edge=False, header_style="dim")
    for heading in headings:
        left = heading in ("Figure", "Reading", "")
        grid.add_column(heading, justify="left" if left else "right", overflow="fold")
    for row in rows:
        grid.add_row(*row)
    return grid
