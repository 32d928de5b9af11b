"""Pages that answer for the carburetor or the intake alone: fields, drawings, and the answer or why there is none."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from typing import Any

from dash import Dash, Output, html, no_update

from dashboard import components, display, ids
from dashboard.forms import link_fields
from dashboard.pages.page import INPUTS, Chart, Section, drawn, outputs, presses, view
from dashboard.queries.fueling import BenchAnswer
from dashboard.url_state import State
from dashboard.url_state.fields import SPECS
from ridesim.answers import Answer
from ridesim.errors import InputError
from ridesim.statements import in_units


def bench_section(
    *,
    key: str,
    title: str,
    lead: str,
    groups: Mapping[str, Sequence[str]],
    ask: Callable[[State], BenchAnswer],
    places: Mapping[str, str],
    charts: Sequence[Chart],
    under_fields: Sequence[Any] = (),
    also: Callable[[Dash], None] = lambda app: None,
) -> Section:
    """A section with groups of fields over its charts.

    Parameters
    ----------
    key, title, lead
        Of the section.
    groups
        The fields by the title they stand under.
    ask, places
        The question, and the fields in which its errors are told.
    charts
        Each drawn from what was answered and the view.
    under_fields
        What stands in the card of the fields.
    also
        Registers further callbacks of the page.
    """
    keys = [one for some in groups.values() for one in some]

    def layout(state: State) -> html.Div:
        fields = [link_fields.group(key, head, some, state) for head, some in groups.items()]
        drawings = [components.chart(key, c.name, shape=c.shape) for c in charts]
        return frame(
            key,
            desk(key, *fields, *under_fields, link_fields.filled(key, keys, state)),
            answer=drawings,
        )

    def register(app: Dash) -> None:
        link_fields.register(app, key, keys, ask, places)
        answered(app, key, charts, ask, groups)
        also(app)

    return Section(key=key, title=title, lead=lead, layout=layout, register=register)


def desk(page: str, *fields: Any) -> html.Section:
    """The card of the fields, with the button that fills in an example and a line on what of it stands there."""
    return link_fields.desk(
        page,
        *fields,
        html.P(id=ids.part(page, "example-note"), role="status", className="example-note"),
        html.Div(html.Button("Try an example", id=ids.part(page, "try"), className="plain"), className="row-buttons"),
    )


def frame(page: str, *fields: Any, answer: Sequence[Any], after: Sequence[Any] = ()) -> html.Div:
    """A section: the sentence first, then the fields, then, once there is an `answer`, its drawings, figures and working."""
    told = [
        components.slot(page, "words", className="page"),
        *answer,
        components.section("Every figure", components.slot(page, "changes"), landmark=False),
        *components.foot(page),
    ]
    return html.Div(
        [
            components.slot(page, "says", className="says", role="status"),
            *fields,
            html.Div(told, id=ids.part(page, "answer"), className="page", hidden=True),
            *after,
        ],
        className="page",
        id=ids.part(page, "page"),
    )


def answered(
    app: Dash,
    page: str,
    charts: Sequence[Chart],
    ask: Callable[[State], BenchAnswer],
    groups: Mapping[str, Sequence[str]],
) -> None:
    """The callbacks that answer such a page, and that fill in its example."""
    names = [chart.name for chart in charts]

    @app.callback(
        output=outputs(page, *names)
        | {
            "hidden": Output(ids.part(page, "answer"), "hidden"),
            "look": Output(ids.part(page, "answer"), "className"),
            "words": Output(ids.part(page, "words"), "children"),
            "note": Output(ids.part(page, "example-note"), "children"),
            "try": Output(ids.part(page, "try"), "children"),
        },
        inputs=INPUTS,
    )
    def show(query: str | None, theme: str | None) -> dict[str, Any]:
        v = view(query, theme)
        empty, example = link_fields.missing(v.state, page), link_fields.exampled(v.state, page)
        told = example_told(example, groups)
        if empty:
            return told | unanswered(_still_needed(empty, groups), names) | {"hidden": True}
        try:
            found = ask(v.state)
        except InputError as error:
            return told | unanswered(f"This can't be worked out: {error}", names)
        marked = bool(example) or found.invented
        told["words"], tables = tables_of(found.answers, v.system)
        told["look"] = "page example" if marked else told["look"]
        figures = {c.name: drawn(c.draw(found, v), c.caption, tables) for c in charts}
        return told | {"common": common(found.answers, v.system, example=marked), "hidden": False, **figures}

    presses(app, ids.part(page, "try"))(lambda state: link_fields.with_example(state, page))


def named(keys: Sequence[str], groups: Mapping[str, Sequence[str]]) -> str:
    """Some fields by their labels, each with its group where another group has the like."""
    labels = [SPECS[key].label for some in groups.values() for key in some]
    told = []
    for key in keys:
        label, group = SPECS[key].label, next((head for head, some in groups.items() if key in some), "")
        told.append(f"{label} ({group[:1].lower()}{group[1:]})" if labels.count(label) > 1 else label)
    return " and ".join([", ".join(told[:-1]), told[-1]] if len(told) > 1 else told)


MOST_NAMED = 4


def _still_needed(keys: Sequence[str], groups: Mapping[str, Sequence[str]]) -> str:
    which = named(keys, groups) if len(keys) <= MOST_NAMED else "the fields below"
    return f"Fill in {which}, and the answer appears here."


def example_told(keys: Sequence[str], groups: Mapping[str, Sequence[str]]) -> dict[str, Any]:
    """What is said of the fields that hold figures of an example, and how the answer is marked while there are any."""
    are = "is invented: replace it" if len(keys) == 1 else "are invented: replace them"
    note = [html.Span("Example", className="tag example"), f" {named(keys, groups)} {are} with your own."]
    return {
        "look": "page example" if keys else "page",
        "note": note if keys else None,
        "try": "Take the example out" if keys else "Try an example",
    }


def unanswered(says: str, charts: Sequence[str]) -> dict[str, Any]:
    """Nothing drawn anew, and why."""
    return {
        "common": components.kept(*components.COMMON) | {"says": [html.P(says, className="say")]},
        "hidden": no_update,
        "words": no_update,
        **{name: components.chart_kept() for name in charts},
    }


def tables_of(answers: Sequence[Answer], system: str) -> tuple[list[Any], list[Any]]:
    """The tables of words, each a card of its own, and those of figures, which stand beside the charts."""
    words, figures = [], []
    for one in (table for answer in answers for table in answer.tables):
        shown = components.plain_table(one.columns, one.rows, system, one.title)
        if all(column.reading == "text" for column in one.columns):
            words.append(html.Div(shown, className="card"))
        else:
            figures.append(shown)
    return words, figures


def common(answers: Sequence[Answer], system: str, *, example: bool) -> dict[str, Any]:
    """What every such page shows of its answers; the working comes as sentences, in the units of the bench."""
    word = ("Example", "example") if example else ()
    return {
        "says": [components.said(answer, system, *word) for answer in answers],
        "changes": components.figure_table(
            [figure for answer in answers for figure in answer.figures.values()], system
        ),
        "working": [steps(answer.steps, system) for answer in answers],
        "assumed": components.assumed(answers, system),
        "notes": components.noted(answers, system),
        "cautions": components.cautions(answers),
    }


def steps(lines: Sequence[Any], system: str) -> html.Ol:
    """The working, a line a step."""
    told = [display.result_words(str(in_units(line, system)), system) for line in lines]
    return html.Ol([html.Li(html.Code(one, className="formula")) for one in told], className="steps")
