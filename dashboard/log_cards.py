"""What the pages about logs are made of: opening a log, dragging a stretch out of it, and an answer with what to mind."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from typing import Any

import dash_mantine_components as dmc
from dash import Input, Output, State, dcc, html, no_update

from dashboard import ask_log, cards, display, ids, logs
from dashboard.ask_log import Asked, Taken
from dashboard.display import axis
from dashboard.figures.lines import Line
from dashboard.figures.log import log_chart, thinned
from dashboard.pages.page import View
from ridesim.answers import Answer

PAUSE = 450  # ms of no typing before a field is read
SAMPLES_SHOWN = 60
HAND = ("time", "speed", "engine speed", "speed-unit")  # columns and units by hand
HAND_LABELS = ("Column of the time", "Column of the speed", "Column of the engine speed", "Unit of the speed")
STRETCH = ("from-s", "to-s")
SPEEDS = ("from-speed", "to-speed")
AIR = tuple(ask_log.AIR)
LABELS = {
    "from-s": "Stretch from [s]",
    "to-s": "Stretch to [s]",
    "from-speed": "Runs from speed",
    "to-speed": "Runs to speed",
    "ways": "Way of each run",
    "wind": "Wind, one way only",
    "slope": "Slope, one way only",
    "altitude": "Altitude that day",
    "temperature": "Temperature that day",
    "humidity": "Humidity that day",
    "pressure": "Air pressure that day",
    "gear": "Gear",
    "gears": "How many gears",
    "standard": "Corrected to",
    "up": "Shift up at",
    "down": "Shift down at",
    "lugging": "Lugging below",
    "name": "Name of the tune",
}
PLACEHOLDERS = {
    "from-s": "start",
    "to-s": "end",
    "ways": "from positions",
    "wind": "such as 1 m/s",
    "slope": "such as 0.3 %",
    "gears": "all there are",
    "up": "60 %",
    "down": "25 %",
    "lugging": "a fifth of the range",
    **dict.fromkeys(AIR, "as in the build"),
}
NUMBERS = {"from-s", "to-s", "gear", "gears"}
STAYS = no_update
NOT_YET = "Open a log of your own, or the invented one, and the answer stands here."


def part(page: str, which: str, name: str) -> str:
    """A part of a page's log; which is empty where the page has one log."""
    return ids.part(page, f"{which}-{name}" if which else name)


def field(page: str, name: str, *, which: str = "", value: Any = None, options: Sequence[str] = ()) -> Any:
    """One field."""
    common = {"id": part(page, which, name), "label": LABELS[name], "value": value}
    if options:
        return dmc.Select(**common, data=list(options), allowDeselect=False)
    if name in NUMBERS:
        step = 1 if name in ("gear", "gears") else 0.5
        return dmc.NumberInput(
            **{**common, "value": "" if value is None else value},
            min=0,
            step=step,
            debounce=PAUSE,
            clampBehavior="none",
            placeholder=PLACEHOLDERS.get(name),
        )
    return dmc.TextInput(
        **{**common, "value": value or ""},
        debounce=PAUSE,
        placeholder=PLACEHOLDERS.get(name),
        autoComplete="off",
        spellCheck=False,
    )


def section(page: str, title: str, demo_words: str, *, which: str = "", fields: Sequence[str] = ()) -> html.Section:
    """Opening one log, the log drawn, and the fields that go with it."""
    return html.Section(
        [
            html.H2(title),
            dcc.Store(id=part(page, which, "kept"), storage_type="session"),
            dcc.Store(id=part(page, which, "raw")),
            html.Div(
                [
                    html.Div(
                        [
                            html.Span(f"CSV or GPX, up to {logs.LARGEST_WORDS}", className="field-label"),
                            dcc.Upload(
                                "Open a log",
                                id=part(page, which, "upload"),
                                accept=".csv,.txt,.gpx,text/csv,text/plain,application/gpx+xml",
                                className="upload",
                            ),
                        ]
                    ),
                    html.Button(demo_words, id=part(page, which, "demo"), className="button"),
                    html.Button("Close it", id=part(page, which, "close"), className="button"),
                ],
                className="sources",
            ),
            html.P(id=part(page, which, "named"), role="status", className="quiet log-named"),
            html.Div(id=part(page, which, "open-error"), role="alert", className="error"),
            dcc.Store(id=part(page, which, "most"), data=[logs.LARGEST * 4 // 3 + 200, logs.LARGEST_WORDS]),
            _by_hand(page, which),
            _drawn(page, which),
            html.Div(
                [
                    *(field(page, name, which=which) for name in (*STRETCH, *fields)),
                    html.Button("Whole log", id=part(page, which, "whole"), className="button"),
                ],
                className="grid-fields",
            ),
        ],
        className="card stack log",
        **{"aria-label": title},
    )


def _by_hand(page: str, which: str) -> html.Details:
    fields = [
        dmc.TextInput(
            id=part(page, which, f"hand-{name.replace(' ', '-')}"),
            label=label,
            autoComplete="off",
            spellCheck=False,
            size="sm",
        )
        for name, label in zip(HAND, HAND_LABELS, strict=True)
    ]
    return html.Details(
        [
            html.Summary("Columns by hand, when they are not recognised"),
            html.Div(
                [*fields, html.Button("Read it again", id=part(page, which, "again"), className="button")],
                className="grid-fields",
            ),
        ],
        className="fold",
    )


def _drawn(page: str, which: str) -> html.Figure:
    """The chart of the log, without a card of its own."""
    figure = cards.chart(page, f"{which}-log" if which else "log", shape="flat", label="Speed over time: no log yet")
    figure.className, figure.style = "chart-card", {"margin": 0}  # it stands inside a card already
    return figure


def names(fields: Sequence[str]) -> tuple[str, ...]:
    """The fields of a section with the stretch that all have."""
    return (*STRETCH, *fields)


def inputs(page: str, fields: Sequence[str], which: str = "") -> dict[str, Input]:
    """Some fields as inputs."""
    return {name: Input(part(page, which, name), "value") for name in fields}


def states(page: str, fields: Sequence[str], which: str = "") -> dict[str, State]:
    """Some fields as states."""
    return {name: State(part(page, which, name), "value") for name in fields}


def chart_outputs(page: str, *charts: str) -> dict[str, Any]:
    """The four places of each chart."""
    return {
        name: {
            "figure": Output(ids.part(page, f"{name}-graph"), "figure"),
            "label": Output(ids.part(page, f"{name}-image"), "aria-label"),
            "caption": Output(ids.part(page, f"{name}-caption"), "children"),
            "table": Output(ids.part(page, f"{name}-table"), "children"),
        }
        for name in charts
    }


def answer_outputs(page: str, fields: Sequence[str]) -> dict[str, Any]:
    """What every answer fills beside its charts: the common places, the errors, and what is dimmed."""
    return {
        "common": {name: Output(ids.part(page, name), "children") for name in cards.COMMON},
        "errors": {name: Output(ids.part(page, name), "error") for name in fields},
        "fault": Output(ids.part(page, "fault"), "children"),
        "dim": Output(ids.part(page, "dim"), "className"),
    }


def result(page: str, *charts: Any) -> html.Div:
    """The charts of the answer, dimmed while the fields beside the log hold an error."""
    return html.Div([*charts], id=ids.part(page, "dim"), className="stack")


def fault(page: str) -> html.Div:
    """Where an error stands that belongs to no field."""
    return html.Div(id=ids.part(page, "fault"), role="alert", className="error")


def card(title: str, *fields: Any) -> html.Section:
    """Fields on a card of their own."""
    return html.Section(
        [html.H2(title), html.Div(list(fields), className="grid-fields")], className="card", **{"aria-label": title}
    )


def listed(page: str, title: str) -> html.Section:
    """A long table that a callback fills."""
    return html.Section([html.H2(title), cards.slot(page, "listed")], className="card", **{"aria-label": title})


def unopened(fields: Sequence[str], error: str) -> dict[str, Any]:
    """What a page with one log fills in while none is open."""
    return {"common": nothing(), "errors": dict.fromkeys(fields), "fault": error, "dim": "stack", "named": ""}


def unanswered(asked: Asked, fields: Sequence[str], log: Any, v: View) -> dict[str, Any]:
    """The errors of a question; the last good answer stays, dimmed."""
    beside, stray = errors([asked], fields)
    named = ask_log.log_words(log, v.system)
    return {"common": cards.kept(*cards.COMMON), "errors": beside, "fault": stray, "dim": "stack dim", "named": named}


def answered(asked: Asked, answers: Sequence[Answer], fields: Sequence[str], log: Any, v: View) -> dict[str, Any]:
    """What a page with one log shows of its answer."""
    return {
        "common": common(answers, v.system) if answers else {},
        "errors": dict.fromkeys(fields),
        "fault": [],
        "dim": "stack",
        "named": ask_log.log_words(log, v.system),
    }


def take_outputs(page: str) -> dict[str, Output]:
    """What the button that takes a result over fills in."""
    return {
        "link": Output(ids.LINK, "data", allow_duplicate=True),
        "says": Output(ids.part(page, "taken"), "children"),
        "error": Output(ids.part(page, "take-error"), "children"),
    }


def take(page: str, words: str, *fields: Any) -> html.Section:
    """The one click that makes the result part of the build in the link."""
    return html.Section(
        [
            html.H2("Into your build"),
            html.Div(
                [*fields, html.Button(words, id=ids.part(page, "take"), className="button main")], className="sources"
            ),
            html.P(id=ids.part(page, "taken"), role="status", className="taken"),
            html.Div(id=ids.part(page, "take-error"), role="alert", className="error"),
        ],
        className="card",
        **{"aria-label": "Into your build"},
    )


def drawn_log(log: Any, answer: Answer | None, fields: Mapping[str, Any], v: View) -> dict[str, Any]:
    """The log over time with the runs used, and its table twin."""
    x, y = axis("Time", "time", v.system), axis("Road speed", "speed", v.system)
    used = () if answer is None else answer.series.get("runs", ())
    runs = [
        Line(x=x(t), y=y(speed), role="now" if way > 0 else "might", legend="Used, out" if way > 0 else "Used, back")
        for t, speed, way in used
    ]
    ends = tuple(value if isinstance(value := fields.get(name), int | float) else None for name in STRETCH)
    figure = log_chart(
        x(log.time_s), y(log.speed_m_s), runs, x_title=x.title, y_title=y.title, dark=v.dark, stretch=(ends[0], ends[1])
    )
    caption = (
        f"Speed over time; {len(runs)} runs are used. Drag across the chart to use only a stretch, or fill in its two ends."
        if runs
        else "Speed over time. Drag across the chart to use only a stretch, or fill in its two ends."
    )
    return {"figure": figure, "label": caption, "caption": caption, "table": _log_tables(log, v)}


def _log_tables(log: Any, v: View) -> list[Any]:
    found = html.Table(
        [
            html.Thead(html.Tr([html.Th(word, scope="col") for word in ("What", "Taken for", "Detail")])),
            html.Tbody(
                [
                    html.Tr([html.Th(r["what"], scope="row"), html.Td(r["taken_for"]), html.Td(r["detail"])])
                    for r in log.found
                ]
            ),
        ],
        className="table",
    )
    time, speed = thinned(log.time_s, log.speed_m_s, most=SAMPLES_SHOWN)
    unit = display.unit_of("speed", v.system)
    heads = [html.Th(word, scope="col", className="num") for word in ("Time [s]", f"Road speed [{unit}]")]
    rows = [
        html.Tr(
            [
                html.Td(display.number(float(t), 1), className="num"),
                html.Td(display.shown(float(s), "speed", v.system, unit=False), className="num"),
            ]
        )
        for t, s in zip(time, speed, strict=True)
    ]
    samples = html.Table([html.Thead(html.Tr(heads)), html.Tbody(rows)], className="table")
    return [
        cards.scrolling(found, "What was found in the log"),
        cards.scrolling(samples, "Some samples of the log"),
    ]


def no_chart() -> dict[str, Any]:
    """The last good chart stays."""
    return dict.fromkeys(("figure", "label", "caption", "table"), no_update)


def cleared(words: str) -> dict[str, Any]:
    """A chart with nothing in it."""
    empty = {
        "paper_bgcolor": "rgba(0,0,0,0)",
        "plot_bgcolor": "rgba(0,0,0,0)",
        "xaxis": {"visible": False},
        "yaxis": {"visible": False},
    }
    return {"figure": {"data": [], "layout": empty}, "label": words, "caption": words, "table": None}


def common(answers: Sequence[Answer], system: str, heads: Sequence[tuple[str, str]] = ()) -> dict[str, Any]:
    """What a page shows of its answers; heads are a word for each and how it is tagged, where there is more than one."""
    told = list(heads) or [("", "")] * len(answers)
    return {
        "says": [_say(answer, system, *head) for answer, head in zip(answers, told, strict=True)],
        "changes": [
            _under(head[0], cards.figure_table(a.figures, system)) for a, head in zip(answers, told, strict=True)
        ],
        "working": [_under(head[0], *cards.working([a], alike=True)) for a, head in zip(answers, told, strict=True)],
        "assumed": cards.assumed(answers),
        "notes": cards.noted(answers),
        "cautions": cards.cautions(answers),
    }


def _say(answer: Answer, system: str, word: str, tag: str) -> html.P:
    """The sentence of one answer, after its word."""
    said = display.say(answer, system)
    return html.P([html.Span(word, className=f"tag {tag}"), " ", said] if word else said, className="say")


def _under(word: str, *parts: Any) -> html.Div:
    """Parts of one answer, under its word where it has one."""
    return html.Div([html.H3(word), *parts] if word else list(parts))


def nothing(says: str = NOT_YET) -> dict[str, Any]:
    """What a page shows before there is an answer."""
    quiet = html.P("Nothing yet.", className="quiet")
    warn = html.Section(
        [html.H2("Take care"), html.Ul([html.Li(text) for text in ask_log.cautions()])], className="card cautions"
    )
    return {
        "says": [html.P(says, className="say")],
        "changes": quiet,
        "working": quiet,
        "assumed": quiet,
        "notes": None,
        "cautions": warn,
    }


def errors(asked: Sequence[Asked], fields: Sequence[str]) -> tuple[dict[str, str | None], list[Any]]:
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


def taken(data: Any, question: Callable[[Any], Asked], put: Callable[[Any], Taken]) -> dict[str, Any]:
    """What a press of the button that takes a result over does: a new link and a word on it, or why not."""
    log, error = ask_log.kept_log(data)
    if log is None:
        return {"link": no_update, "says": "", "error": error or "Open a log first."}
    asked = question(log)
    if asked.found is None:
        return {"link": no_update, "says": "", "error": "There is no result to take: mend the fields first."}
    done = put(asked.found)
    if done.query is None:
        return {"link": no_update, "says": "", "error": " ".join(done.errors.values())}
    return {"link": done.query, "says": done.says, "error": ""}
