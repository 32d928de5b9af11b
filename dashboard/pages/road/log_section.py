"""The card of one lot of logs: opening them, the list of those that are open, and the drawing a stretch is dragged out of."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from dash import Output, dcc, html

from dashboard import components, open_logs
from dashboard.forms import form
from dashboard.forms.log_fields import STRETCH, field, part
from dashboard.pages.page import View
from dashboard.pages.road.log_chart import drawn_logs
from dashboard.pages.road.log_upload import HAND, PATH
from dashboard.queries import logs
from dashboard.queries.logs import OpenLogs
from dashboard.url_state import State as Looked
from ridesim.answers import Answer


@dataclass(frozen=True, kw_only=True)
class LogCard:
    """One lot of logs on a page.

    which      stands before its parts where a page has two; empty where it has one
    title      of the card
    demo       the log that comes along (dashboard.open_logs.DEMOS), and
    demo_words what the button that opens it says
    fields     beside the stretch, by their names
    many       whether several logs make one answer, as on the command line
    """

    title: str
    demo: str
    demo_words: str
    fields: tuple[str, ...] = ()
    which: str = ""
    many: bool = False

    @property
    def names(self) -> tuple[str, ...]:
        """All its fields."""
        return (*STRETCH, *self.fields)


def layout(page: str, s: LogCard, state: Looked) -> html.Section:
    """The card; what needs a log is hidden until one is open."""
    return components.section(
        s.title,
        dcc.Store(id=part(page, s.which, "kept"), storage_type="session"),
        _sources(page, s),
        html.P(id=part(page, s.which, "reading"), role="status", className="quiet reading"),
        html.Div(id=part(page, s.which, "open-error"), role="alert", className="error"),
        html.Div(id=part(page, s.which, "named"), role="status", className="log-named"),
        _by_hand(page, s.which),
        html.Div(
            [
                _drawing(page, s.which),
                html.Div(
                    [
                        *(field(page, name, state, s.which) for name in s.names),
                        html.Button("Whole log", id=part(page, s.which, "whole"), className="button"),
                    ],
                    className="grid-fields",
                ),
            ],
            id=part(page, s.which, "held"),
            className="stack",
            hidden=True,
        ),
        kind="card stack log",
    )


def _sources(page: str, s: LogCard) -> html.Div:
    most = (
        f"up to {open_logs.LARGEST_WORDS} each, {open_logs.MOST_FILES} at most, in the order ridden" if s.many else ""
    )
    about = html.Span(
        f"CSV, JSON lines, GPX or TCX, {most or f'up to {open_logs.LARGEST_WORDS}'}", className="field-label"
    )
    upload = dcc.Upload(
        "Add logs" if s.many else "Open a log",
        id=part(page, s.which, "upload"),
        multiple=s.many,
        max_size=open_logs.LARGEST,
        className="upload",
    )
    rule = {
        "data-path": PATH,
        "data-largest": str(open_logs.LARGEST),
        "data-largest-words": open_logs.LARGEST_WORDS,
        "data-most": str(open_logs.MOST_FILES if s.many else 1),
        "data-hand": ",".join(HAND),
    }
    return html.Div(
        [
            html.Div([about, html.Div(upload, className="log-upload", **rule)]),
            html.Button(s.demo_words, id=part(page, s.which, "demo"), className="button"),
        ],
        className="sources",
    )


def hand_id(page: str, which: str, name: str) -> str:
    """The field of a column by hand."""
    return part(page, which, f"hand-{name.replace(' ', '-')}")


def _hand_label(name: str) -> str:
    role, unit, _ = name.partition("-unit")
    return f"{'Unit' if unit else 'Column'} of the {role}"


def _by_hand(page: str, which: str) -> html.Details:
    fields = [
        form.text_field(hand_id(page, which, name), _hand_label(name), debounce=False, size="sm") for name in HAND
    ]
    again = html.Button("Read it again", id=part(page, which, "again"), className="button")
    return html.Details(
        [
            html.Summary("Name the columns yourself, if they are not recognized"),
            html.Div([*fields, again], className="grid-fields"),
        ],
        className="fold",
    )


def _drawing(page: str, which: str) -> html.Figure:
    """The chart of the logs, without a card of its own."""
    figure = components.chart(page, f"{which}-log" if which else "log", shape="flat")
    figure.className, figure.style = "chart-card", {"margin": 0}  # it stands inside a card already
    return figure


def outputs(page: str, which: str) -> dict[str, Any]:
    """What a section shows of its logs."""
    name = f"{which}-log" if which else "log"
    return {
        "named": Output(part(page, which, "named"), "children"),
        "hidden": Output(part(page, which, "held"), "hidden"),
        **components.chart_places(page, name),
    }


def shown(
    page: str, s: LogCard, held: OpenLogs, answer: Answer | None, fields: Mapping[str, Any], v: View
) -> dict[str, Any]:
    """The list of the logs, and those logs drawn with the runs that are used."""
    listed = {"named": _listed(page, s.which, held, v), "hidden": not held.ready}
    if not held.ready:
        return listed | components.chart_kept()  # it is hidden
    ends = [value if isinstance(value := fields.get(name), int | float) else None for name in STRETCH]
    return listed | drawn_logs(held.logs, answer, (ends[0], ends[1]), v)


def _listed(page: str, which: str, held: OpenLogs, v: View) -> list[Any]:
    """A line for each log, with a button that takes it off again."""
    items = []
    for n, one in enumerate(held.opened):
        about = logs.log_words(one.log, v.system) if one.log is not None else str(open_logs.gone(one.name))
        name = {"kind": "log-remove", "of": part(page, which, "kept"), "n": n}
        button = html.Button("Remove", id=name, className="button", **{"aria-label": f"Remove {one.name}"})
        items.append(html.Li([html.Span(about, className="" if one.log is not None else "error"), button]))
    return [html.Ol(items, className="open-logs")] if items else []


def names(page: str, sections: Sequence[LogCard]) -> tuple[str, ...]:
    """The fields of some sections as they are told apart on the page."""
    return tuple(f"{s.which}-{name}" if s.which else name for s in sections for name in s.names)
