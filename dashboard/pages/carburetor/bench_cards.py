"""The cards of a page that answers for one thing alone: sentence, fields, drawing, figures, working, assumptions, cautions."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from dash import html

from dashboard import components, display, ids
from ridesim.answers import Answer
from ridesim.errors import InputError

SHUT = "This can't be worked out: "


def frame(page: str, question: str, lead: str, *middle: Any) -> html.Article:
    """A page: the sentence first, then fields and drawings, then figures, working and assumptions folded under them."""
    return html.Article(
        [
            components.page_head(page, question, lead),
            components.slot(page, "says", className="says", role="status"),
            *middle,
            html.Section(
                [html.H2("Every figure"), components.slot(page, "changes")],
                className="card",
                **{"aria-label": "Every figure"},
            ),
            components.folded(page, "working", "The working, step by step"),
            components.folded(page, "assumed", "What was assumed"),
            components.slot(page, "notes"),
            components.slot(page, "cautions"),
        ],
        className="page",
        id=ids.part(page, "page"),
    )


def common(answers: Sequence[Answer], working: Sequence[Sequence[str]], system: str) -> dict[str, Any]:
    """What every such page shows of its answers; the working comes as sentences, in the units of the bench."""
    figures = [figure for answer in answers for figure in answer.figures]
    return {
        "says": [html.P(display.say(answer, system), className="say") for answer in answers],
        "changes": components.figure_table(figures, system),
        "working": [steps(texts) for texts in working],
        "assumed": components.assumed(answers),
        "notes": components.noted(answers),
        "cautions": components.cautions(answers),
    }


def steps(texts: Sequence[str]) -> Any:
    """The working, a line a step."""
    return html.Ol([html.Li(html.Code(text, className="formula")) for text in texts], className="steps")


def unanswered(error: InputError) -> list[Any]:
    """The sentence of a page that a link left without an answer."""
    return [html.P(f"{SHUT}{error}", className="say")]
