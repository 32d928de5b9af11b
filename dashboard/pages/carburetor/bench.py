"""Pages that answer for the carburetor or the intake alone: fields, drawings, and the answer or why there is none."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from typing import Any

from dash import Dash, html

from dashboard import components, display, ids
from dashboard.forms import link_fields
from dashboard.pages.page import INPUTS, Chart, Page, drawn, outputs, view
from dashboard.queries.fueling import BenchAnswer
from dashboard.url_state import State
from ridesim.errors import InputError


def bench_page(
    *,
    key: str,
    path: str,
    name: str,
    title: str,
    lead: str,
    groups: Mapping[str, Sequence[str]],
    ask: Callable[[State], BenchAnswer],
    places: Mapping[str, str],
    charts: Sequence[Chart],
    under_fields: Sequence[Any] = (),
    after_fields: Sequence[Any] = (),
    also: Callable[[Dash], None] = lambda app: None,
) -> Page:
    """A page with groups of fields over its charts.

    Parameters
    ----------
    key, path, name, title, lead
        Of the page.
    groups
        The fields by the title they stand under.
    ask, places
        The question, and the fields in which its errors are told.
    charts
        Each drawn from what was answered and the view.
    under_fields, after_fields
        What stands in the card of the fields, and in cards of its own after it.
    also
        Registers further callbacks of the page.
    """
    keys = [one for some in groups.values() for one in some]

    def layout(state: State) -> html.Article:
        fields = [link_fields.group(key, head, some, state) for head, some in groups.items()]
        drawings = [components.chart(key, c.name, shape=c.shape) for c in charts]
        return frame(key, title, lead, link_fields.desk(key, *fields, *under_fields), *after_fields, *drawings)

    def register(app: Dash) -> None:
        link_fields.register(app, key, keys, ask, places)
        answered(app, key, charts, ask)
        also(app)

    return Page(key=key, path=path, name=name, layout=layout, register=register)


def frame(page: str, question: str, lead: str, *middle: Any) -> html.Article:
    """A page: the sentence first, then fields and drawings, then figures, working and assumptions folded under them."""
    return html.Article(
        [
            components.page_head(page, question, lead),
            components.slot(page, "says", className="says", role="status"),
            *middle,
            components.section("Every figure", components.slot(page, "changes")),
            *components.foot(page),
        ],
        className="page",
        id=ids.part(page, "page"),
    )


def answered(app: Dash, page: str, charts: Sequence[Chart], ask: Callable[[State], BenchAnswer]) -> None:
    """The callback that answers such a page."""

    @app.callback(output=outputs(page, *(chart.name for chart in charts)), inputs=INPUTS)
    def show(query: str | None, theme: str | None) -> dict[str, Any]:
        v = view(query, theme)
        try:
            told = ask(v.state)
        except InputError as error:
            return unanswered(error, [chart.name for chart in charts])
        tables = components.tables(told.answers, v.system)
        figures = {c.name: drawn(c.draw(told, v), c.caption, tables) for c in charts}
        return {"common": common(told, v.system), **figures}


def unanswered(error: InputError, charts: Sequence[str]) -> dict[str, Any]:
    """Nothing drawn anew, and why."""
    says = [html.P(f"This can't be worked out: {error}", className="say")]
    return {
        "common": components.kept(*components.COMMON) | {"says": says},
        **{name: components.chart_kept() for name in charts},
    }


def common(told: BenchAnswer, system: str) -> dict[str, Any]:
    """What every such page shows of its answers; the working comes as sentences, in the units of the bench."""
    answers = told.answers
    return {
        "says": [html.P(display.say(answer, system), className="say") for answer in answers],
        "changes": components.figure_table(
            [figure for answer in answers for figure in answer.figures.values()], system
        ),
        "working": [steps(texts) for texts in told.working],
        "assumed": components.assumed(answers),
        "notes": components.noted(answers),
        "cautions": components.cautions(answers),
    }


def steps(texts: Sequence[str]) -> html.Ol:
    """The working, a line a step."""
    return html.Ol([html.Li(html.Code(text, className="formula")) for text in texts], className="steps")
