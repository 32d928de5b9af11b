"""An answer from logs in its places on a page: sentence, errors beside fields, what is hidden, and taking the result over."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from dash import Dash, Input, Output, State, html, no_update

from dashboard import components, ids
from dashboard.forms import log_fields
from dashboard.log_cache import TOLD
from dashboard.pages.page import View, pressed, view
from dashboard.pages.page import outputs as answer_outputs
from dashboard.queries import logs
from dashboard.queries.logs import BuildChange, LogResult, OpenLogs
from dashboard.static_html import static_html
from dashboard.url_state import State as Looked
from ridesim.answers import Answer
from ridesim.errors import InputError

KEPT = "What you open here stays in the memory of this app"
NOT_YET = "Open a log of your own, or the invented one, and the answer appears here."


@dataclass(frozen=True, kw_only=True)
class Guide:
    """What to do before there is a log."""

    record: tuple[str, ...]
    ride: tuple[str, ...]


def frame(page: str, guide: Guide, before: Sequence[Any], charts: Sequence[Any], after: Sequence[Any]) -> html.Div:
    """A section about logs: `before` stands there always, the rest once a log is open; until then the guide does.

    The charts are dimmed while the fields beside the log hold an error.
    """
    told = [
        html.Div([*charts], id=ids.part(page, "dim"), className="stack"),
        *after,
        components.section("Every figure", components.slot(page, "changes"), landmark=False),
        *components.foot(page),
    ]
    return html.Div(
        [
            components.slot(page, "says", className="says", role="status"),
            html.Div(id=ids.part(page, "fault"), role="alert", className="error"),
            *before,
            _guide(page, guide),
            html.Div(told, id=ids.part(page, "opened"), className="page", hidden=True),
        ],
        className="page road",
        id=ids.part(page, "page"),
    )


def _guide(page: str, guide: Guide) -> html.Div:
    parts = (("What to record", (*guide.record, f"{KEPT}: {TOLD}.")), ("How to ride", guide.ride))
    cols = [html.Div([html.H3(head), html.Ul([html.Li(text) for text in texts])]) for head, texts in parts]
    care = components.once("Take care", logs.CAUTIONS, "card cautions")
    return html.Div(
        static_html([html.Section(cols, className="card two"), care]),
        id=ids.part(page, "guide"),
        className="page",
    )


def outputs(page: str, fields: Sequence[str], *charts: str) -> dict[str, Any]:
    """What every answer fills: the common places, the errors, what is hidden and dimmed, and the places of each chart."""
    return answer_outputs(page, *charts) | {
        "errors": {name: Output(ids.part(page, name), "error") for name in fields},
        "fault": Output(ids.part(page, "fault"), "children"),
        "dim": Output(ids.part(page, "dim"), "className"),
        "opened": Output(ids.part(page, "opened"), "hidden"),
        "look": Output(ids.part(page, "opened"), "className"),
        "guide": Output(ids.part(page, "guide"), "hidden"),
    }


def unopened(page: str, fields: Sequence[str], v: View) -> dict[str, Any]:
    """What a page fills in while no log is open: that there is none, and that a link never holds one."""
    says = [html.P(NOT_YET, className="say")]
    choices = log_fields.chosen(v.state, page)
    if choices:
        says.append(
            html.P(
                f"The link holds what was chosen for a log ({'; '.join(choices)}), but never the log itself: "
                "open it here, and it is used as chosen."
            )
        )
    return {
        "common": dict.fromkeys(components.COMMON) | {"says": static_html(says)},
        "errors": dict.fromkeys(fields),
        "fault": [],
        "dim": "stack",
        "opened": True,
        "look": "page",
        "guide": False,
    }


def unanswered(asked: Sequence[LogResult], fields: Sequence[str]) -> dict[str, Any]:
    """The errors of a question; the last good answer stays, dimmed."""
    beside, stray = errors(asked, fields)
    stay = components.kept(*components.COMMON, "look")
    look = stay.pop("look")
    shown = {"dim": "stack dim", "opened": False, "look": look, "guide": True}
    return {"common": stay, "errors": beside, "fault": stray, **shown}


def invented(state: Looked, *some: OpenLogs) -> str:
    """What of an answer is nobody's own; empty where all of it is the rider's."""
    if any(of.invented for of in some):
        return "This log is invented. Open your own in its place."
    if state.own is None:
        return "The bike that is open is invented, and its mass and drag are in these figures. Open your own on the page of the bike."
    return ""


def answered(told: Mapping[str, Any], fields: Sequence[str], example: str) -> dict[str, Any]:
    """An answer in its places, marked where it is an `example` by what is said of it."""
    none = dict.fromkeys(fields)
    mark = [html.P([html.Span("Example", className="tag example"), " ", example])] if example else []
    look = "page example" if example else "page"
    shown = {"dim": "stack", "opened": False, "look": look, "guide": True}
    return {"common": {**told, "says": [*mark, told["says"]]}, "errors": none, "fault": [], **shown}


def common(answers: Sequence[Answer], system: str, heads: Sequence[tuple[str, str]] = ()) -> dict[str, Any]:
    """What a page shows of its answers; heads are a word for each and how it is tagged, where there is more than one."""
    told = list(heads) or [("", "")] * len(answers)
    pairs = list(zip(answers, told, strict=True))
    return {
        "says": static_html([components.said(answer, system, *head) for answer, head in pairs]),
        "changes": static_html(
            [_under(head[0], components.figure_table(a.figures.values(), system)) for a, head in pairs]
        ),
        "working": static_html([_under(head[0], components.working([a], True, system)) for a, head in pairs]),
        "assumed": components.assumed(answers, system),
        "notes": components.noted(answers, system),
        "cautions": components.cautions(answers),
    }


def _under(word: str, *parts: Any) -> html.Div:
    """Parts of one answer, under its word where it has one."""
    return html.Div([html.H4(word), *parts] if word else list(parts))


def errors(asked: Sequence[LogResult], fields: Sequence[str]) -> tuple[dict[str, str | None], list[Any]]:
    """The error beside each field, and those that no field stands for."""
    told: dict[str, str] = {}
    stray: list[str] = []
    for one in asked:
        for key, text in one.errors.items():
            if key in fields:
                told[key] = text
            else:
                stray.append(text)
    return {name: told.get(name) for name in fields}, [html.P(text) for text in dict.fromkeys(stray)]


def take_card(page: str, words: str, *fields: Any) -> html.Section:
    """The one click that takes the result over into the link."""
    button = html.Button(words, id=ids.part(page, "take"), className="button main")
    return components.section(
        "Use the result",
        html.Div([*fields, button], className="sources"),
        html.P(id=ids.part(page, "taken"), role="status", className="taken"),
        html.Div(id=ids.part(page, "take-error"), role="alert", className="error"),
        landmark=False,
    )


def register_take(app: Dash, page: str, given: Mapping[str, Any], take: Callable[..., dict[str, Any]]) -> None:
    """The callback of the button that takes a result over: `take` goes by the state and by what is `given`."""

    @app.callback(
        output={
            "link": Output(ids.LINK, "data", allow_duplicate=True),
            "says": Output(ids.part(page, "taken"), "children"),
            "error": Output(ids.part(page, "take-error"), "children"),
        },
        inputs={"clicks": Input(ids.part(page, "take"), "n_clicks"), "query": State(ids.QUERY, "data"), **given},
        prevent_initial_call=True,
    )
    def press(clicks: int | None, query: str | None, **more: Any) -> dict[str, Any]:
        pressed(clicks)
        return take(view(query, "light").state, **more)


def taken(
    state: Looked, of: OpenLogs, question: Callable[[OpenLogs], LogResult], put: Callable[[Any], BuildChange]
) -> dict[str, Any]:
    """What a press of the button that takes a result over does: a new link and a word on it, or why not."""
    stay = {"link": no_update, "says": ""}
    if not of.ready:
        return stay | {"error": "Open a log first."}
    if of.invented and state.own is not None:
        return stay | {"error": "This log is invented: nothing of it goes into your own bike."}
    asked = question(of)
    if asked.found is None:
        return stay | {"error": "There is no result to take: mend the fields first."}
    try:
        done = put(asked.found)
    except InputError as error:
        return stay | {"error": " ".join(logs.troubles(error).values())}
    return {"link": done.query, "says": done.says, "error": ""}
