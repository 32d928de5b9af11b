"""The power curve as it is typed: text, grid and file are three hands on the same points."""

from __future__ import annotations

import tomllib
from collections.abc import Mapping
from dataclasses import asdict, dataclass, replace
from itertools import zip_longest
from typing import Any

from dash import html, no_update

from dashboard import components, queries, uploads
from dashboard.display import unit_name
from dashboard.forms import form
from dashboard.url_state import State
from ridesim.bike import make_bike
from ridesim.buildfile.curve_file import CurveSheet, parse_curve
from ridesim.buildfile.io import Build, with_tune
from ridesim.buildfile.schema import torque_or_power
from ridesim.errors import InputError
from ridesim.plots.lines import Line, lines

SPARE_ROWS = 2
MOST_ROWS = 60


@dataclass(frozen=True, kw_only=True)
class Sheet:
    """A tune as it stands in the file."""

    name: str
    text: str
    unit: str
    measured_at: str
    standard: str | None


def of(state: State) -> Sheet:
    """The tune of now."""
    return _sheet(queries.build(state), queries.now(state).bike.tune)


def stands(build: Build, laid: Mapping[str, str | None]) -> bool:
    """Whether a sheet that was laid out is still what the build says of that tune."""
    name = laid.get("name")
    return name in build.record.tune and asdict(_sheet(build, name)) == laid


def _sheet(build: Build, name: str) -> Sheet:
    tune = tomllib.loads(build.text)["tune"][name]
    text = "\n".join(f"{point[0]}\t{point[1]}" for point in tune["points"])
    return Sheet(
        name=name,
        text=text,
        unit=str(tune.get("points_are", "N*m")),
        measured_at=tune.get("measured_at", "crank"),
        standard=tune.get("standard"),
    )


def cells_of(text: str) -> list[str]:
    """The cells of the points, row by row, as typed."""
    rows = [_cells(line) for line in text.strip().splitlines()]
    return [cell.strip() for row in rows for cell in ([*row, "", ""])[:2]]


def _cells(line: str) -> list[str]:
    """One line divided by tabs, semicolons, spaces or commas: where it is not by commas, they are decimal signs."""
    divider = next((one for one in ("\t", ";") if one in line), None)
    words = line.split(divider)
    return words if divider or (len(words) == 2 and not words[0].endswith(",")) else line.split(",")


def text_of(cells: list[Any]) -> str:
    """The points of the cells, a line each; empty rows fall away."""
    words = ["" if cell is None else str(cell).strip() for cell in cells]
    rows = zip_longest(words[0::2], words[1::2], fillvalue="")
    return "\n".join(f"{speed}\t{value}" for speed, value in rows if speed or value)


def grid(text: str) -> Any:
    """The points as rows of two fields, with empty ones to go on in."""
    cells = cells_of(text)[: 2 * MOST_ROWS] + [""] * (2 * SPARE_ROWS)
    rows = [
        html.Tr([html.Td(_cell(n, column, cells[2 * n + column])) for column in (0, 1)]) for n in range(len(cells) // 2)
    ]
    head = html.Tr([html.Th("Engine speed [rev/min]", scope="col"), html.Th("Value", scope="col")])
    return html.Div(html.Table([html.Thead(head), html.Tbody(rows)], className="table cells"), className="cells-box")


def _cell(row: int, column: int, value: str) -> Any:
    what = ("Engine speed", "Value")[column]
    name, said = {"kind": "point", "row": row, "column": column}, {"aria-label": f"{what} of point {row + 1}"}
    return form.text_field(name, None, value, size="xs", debounce=300, **said)


def drawn(text: str, unit: str | None, dark: bool, cells: list[Any]) -> dict[str, Any]:
    """The curve as typed; when it cannot be read the last good drawing stays and the reason stands at the text."""
    same = text_of(cells) == text_of(cells_of(text))
    kept = {"grid": no_update if same else grid(text)}
    try:
        sheet = parse_curve(text, unit=unit)
        kind = torque_or_power(sheet.unit)
    except InputError as error:
        return components.chart_kept() | {"error": str(error)} | kept
    speed, value = zip(*sheet.points, strict=True)
    title = f"{kind.capitalize()} [{unit_name(sheet.unit)}]"
    figure = lines(
        [Line(x=speed, y=value, name=kind, points=True, legend="As typed")],
        x_title="Engine speed [rev/min]",
        y_title=title,
        dark=dark,
        from_zero="y",
    )
    caption = f"{len(sheet.points)} points of {kind} as typed, in {unit_name(sheet.unit)}."
    return {"figure": figure, "caption": caption, "table": _table(sheet, title), "error": None} | kept


def _table(sheet: CurveSheet, title: str) -> Any:
    rows = [(f"{speed:g}", f"{value:g}") for speed, value in sheet.points]
    return components.row_table("The points", ("Engine speed [rev/min]", title), rows, numbers=(0, 1))


def filled(contents: str | None, name: str | None, cells: list[Any], text: str) -> tuple[str, str]:
    """The text that the grid or a file asks for, and why a file cannot be used."""
    if contents is not None and text_of(cells) == text_of(cells_of(text)):
        try:
            sheet = uploads.text_of(contents, name)
        except InputError as error:
            return text, str(error)
        return sheet, ""
    told = text_of(cells)
    return (text if told == text_of(cells_of(text)) else told), ""


def put(state: State, given: dict[str, Any]) -> tuple[State, str]:
    """The state with the curve in its build and planned, unless it is the tune of now; or why it cannot be."""
    try:
        name = str(given["tune"] or "").strip()
        sheet = parse_curve(given["points"] or "", unit=given["unit"])
        build = with_tune(queries.build(state), name, sheet, measured_at=given["at"], standard=given["standard"])
        make_bike(build, tune=name)
    except InputError as error:
        return state, str(error)
    here = name == queries.now(state).bike.tune
    planned = replace(state.planned, tune=None if here else name)
    return replace(state, own=build.text, planned=planned), ""
