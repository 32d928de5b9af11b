"""A page that asks one question of one lot of logs: laid out, answered, and its result taken over."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from functools import partial
from typing import Any

from dash import Dash, Input, Output, State, html, no_update

from dashboard import components, ids
from dashboard.forms import log_fields
from dashboard.pages.page import INPUTS, Section, View, drawn, view
from dashboard.pages.road import log_answer, log_opening, log_section
from dashboard.pages.road.log_answer import Guide
from dashboard.pages.road.log_section import LogCard
from dashboard.queries import logs
from dashboard.queries.logs import BuildChange, LogResult, OpenLogs
from dashboard.url_state import State as Looked

Fields = dict[str, Any]


@dataclass(frozen=True, kw_only=True)
class Question:
    """What such a page asks.

    key, question, lead  of the page
    guide                what to do before there is a log
    section              opening the logs
    ask                  the question: the state, the logs and the fields in
    says                 what the page shows of what was found (dashboard.components.COMMON)
    chart                name of the drawing of the result, with its caption, and how it is drawn
    tables               its table twins
    take                 the words on the button that takes the result over, and what it does; None without one
    listed               the title of a long table, and the table; None without one
    """

    key: str
    question: str
    lead: str
    guide: Guide
    section: LogCard
    ask: Callable[[Looked, OpenLogs, Fields], LogResult]
    says: Callable[[Any, View], dict[str, Any]]
    chart: str
    caption: str
    draw: Callable[[Any, View], Any]
    tables: Callable[[Any, View], list[Any]]
    take: tuple[str, Callable[[Looked, Any], BuildChange]] | None = None
    listed: tuple[str, Callable[[Any, View], Any]] | None = None

    @property
    def names(self) -> tuple[str, ...]:
        """All fields of the page."""
        return self.section.names

    @property
    def speeds(self) -> tuple[str, ...]:
        """Fields that tell what is chosen for them while they are empty."""
        return tuple(name for name in log_fields.SPEEDS if name in self.names)


def section_of(q: Question) -> Section:
    """The section of a question."""
    return Section(
        key=q.key,
        title=q.question,
        lead=q.lead,
        layout=lambda state: layout(q, state),
        register=lambda app: register(app, q),
    )


def layout(q: Question, state: Looked) -> html.Div:
    """The page, its fields filled from the state."""
    charts, after = [components.chart(q.key, q.chart, shape="tall")], []
    if q.take is not None:
        after.append(log_answer.take_card(q.key, q.take[0]))
    if q.listed is not None:
        title = q.listed[0]
        after.append(components.section(title, components.slot(q.key, "listed")))
    before = [log_section.layout(q.key, q.section, state), log_fields.filled(q.key, state)]
    return log_answer.frame(q.key, q.guide, before, charts, after)


def shown(q: Question, v: View, data: Any, fields: Fields) -> dict[str, Any]:
    """Everything the page shows of its logs and their fields."""
    held = logs.held(data)
    asked = q.ask(v.state, held, fields) if held.ready else LogResult()
    found = asked.found
    answer = None if found is None else getattr(found, "answer", None)
    told = {"log": log_section.shown(q.key, q.section, held, answer, fields, v), q.chart: components.chart_kept()}
    if q.speeds:
        told["chosen"] = {name: asked.chosen.get(name, log_fields.hint(q.key, name)) for name in q.speeds}
    if q.listed is not None:
        told["listed"] = no_update
    if not held.ready:
        return told | log_answer.unopened(q.key, q.names, v)
    if found is None:
        return told | log_answer.unanswered([asked], q.names)
    told[q.chart] = drawn(q.draw(found, v), q.caption, q.tables(found, v))
    if q.listed is not None:
        told["listed"] = q.listed[1](found, v)
    return told | log_answer.answered(q.says(found, v), q.names, log_answer.invented(v.state, held))


def _outputs(q: Question) -> dict[str, Any]:
    told = log_answer.outputs(q.key, q.names, q.chart) | {"log": log_section.outputs(q.key, q.section.which)}
    if q.speeds:
        told["chosen"] = {name: Output(ids.part(q.key, name), "placeholder") for name in q.speeds}
    if q.listed is not None:
        told["listed"] = Output(ids.part(q.key, "listed"), "children")
    return told


def register(app: Dash, q: Question) -> None:
    """The callbacks of the page."""
    log_opening.register(app, q.key, q.section)
    log_fields.register(app, q.key)

    @app.callback(
        output=_outputs(q),
        inputs={
            **INPUTS,
            "data": Input(ids.part(q.key, "kept"), "data"),
            "fields": log_fields.inputs(q.key, q.names),
        },
    )
    def show(query: str | None, theme: str | None, data: Any, fields: Fields) -> dict[str, Any]:
        return shown(q, view(query, theme), data, fields)

    if q.take is not None:
        put = q.take[1]
        given = {"data": State(ids.part(q.key, "kept"), "data"), "fields": log_fields.states(q.key, q.names)}

        def take(state: Looked, data: Any, fields: Fields) -> dict[str, Any]:
            return log_answer.taken(state, logs.held(data), lambda of: q.ask(state, of, fields), partial(put, state))

        log_answer.register_take(app, q.key, given, take)
