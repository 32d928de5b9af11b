"""How we know: every equation, and beside it what documents and libraries give and what this program gives for the same."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from functools import cache
from typing import Any

from dash import Dash, html

from dashboard import behind, components, ids
from dashboard.pages.page import Page, Section
from dashboard.static_html import static_layout
from dashboard.url_state import State
from ridesim import proof

KEY = "how-we-know"
LEAD = (
    "Every answer is computed by the equations below. Beside each stands what a document prints, or a library returns, "
    "and what this program gives for the same figures."
)
STANDINGS = {
    "read": "read in a document",
    "derived": "worked out from a rule that was read",
    "library": "returned by a library of others",
    "second-hand": "second-hand, from one who cites the document",
    "common practice": "common practice, no document",
    "from memory": "from memory",
}
NOT_PRINTED = "No printed figure was found for this one."


def layout(_: State) -> Any:
    return _page()


@cache
def _page() -> Any:
    parts = [_counts(), _checks(), *map(_topic, proof.TOPICS)]
    return static_layout(html.Div(parts, className="page"), slots=ids.part(KEY, ""))


def _counts() -> html.Section:
    lines = [one for topic in proof.TOPICS for equation in proof.equations(topic) for one in equation.printed]
    standing = Counter(one.standing for one in lines)
    documents = {one.source for one in lines if one.standing == "read"}
    return components.section(
        f"{len(lines)} outside figures",
        html.Ul([html.Li(f"{standing[key]} {words}{_of(key, documents)}") for key, words in STANDINGS.items()]),
        html.P(
            "This program gives every one of them, to the digits printed or within the reason that stands beside it."
        ),
    )


def _of(standing: str, documents: set[str]) -> str:
    return f", of {len(documents)} documents" if standing == "read" else ""


def _checks() -> html.Section:
    heads = ("What", "Worked out again by", "Figures", "Farthest apart", "Allowed")
    rows = [[one.what, one.by, f"{one.figures:,}", _share(one.worst), _share(one.allowed)] for one in proof.checks()]
    return components.section(
        "The same figures by other means",
        components.row_table("The same figures by other means", heads, rows, numbers=(2, 3, 4)),
    )


def _share(worst: float) -> str:
    """A difference as a share of the figure."""
    return f"{100 * worst:.2g} %" if worst > 1e-5 else f"{1e6 * worst:.2g} millionths" if worst else "none"


def _topic(topic: proof.Topic) -> html.Section:
    equations = map(_equation, proof.equations(topic))
    return html.Section([html.H3(topic.title), *equations], id=topic.key, className="card proof")


def _equation(equation: proof.Equation) -> html.Div:
    return html.Div(
        [
            html.H4(equation.says),
            html.Code(equation.formula, className="formula") if equation.formula else None,
            _figures(equation) if equation.printed else html.P(NOT_PRINTED, className="quiet"),
        ]
    )


def _figures(equation: proof.Equation) -> html.Details:
    count = len(equation.printed)
    title = "1 outside figure" if count == 1 else f"{count} outside figures"
    heads = ("For", "They give", "We give", "Allowed apart", "Where")
    return html.Details(
        [
            html.Summary(title),
            components.row_table(
                f"{equation.says}: {title}", heads, [_line(one) for one in equation.printed], numbers=(1, 2, 3)
            ),
        ],
        className="fold",
    )


def _line(one: proof.Printed) -> Sequence[Any]:
    where = [one.document, html.Small(f" ({STANDINGS[one.standing]})")]
    if one.reason:
        where.append(html.Small(f" Allowed, since {one.reason}.", className="between"))
    return [one.given, _figure(one.printed, one.unit), _figure(_rounded(one), one.unit), one.allowed, where]


def _figure(digits: str, unit: str) -> str:
    return f"{digits} {unit}".strip()


def _rounded(one: proof.Printed) -> str:
    """Ours to two digits more than theirs."""
    places = len(one.printed.lower().partition("e")[0].partition(".")[2])
    return (
        f"{float(one.computed):.{places + 2}f}"
        if "e" not in one.printed.lower()
        else f"{float(one.computed):.{places + 2}e}"
    )


def register(_: Dash) -> None:
    """Nothing here changes."""


PAGE = Page(
    path=behind.PATH,
    name="How we know",
    lead=LEAD,
    sections=(Section(key=KEY, title="What stands behind the answers", lead="", layout=layout, register=register),),
    set_ups=False,
)
