"""The cards every page is made of: the sentence, the changes, a chart with its table twin, working, assumptions, cautions."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from itertools import zip_longest
from typing import Any

from dash import Output, dcc, html, no_update

from dashboard import behind, display, ids, queries
from dashboard.static_html import LateChart, StaticHtml, StaticLayout, static_html, static_layout
from ridesim.answers import Answer, Column, Figure, Pair, Table
from ridesim.answers.answer import Change
from ridesim.statements import in_units

GRAPH_CONFIG = {"displaylogo": False, "displayModeBar": False, "responsive": True, "scrollZoom": False}
CLEAR, UNSEEN = "rgba(0,0,0,0)", {"visible": False}  # a chart that is not drawn yet
NOW, PLANNED = "Now", "Planned"
Rows = Iterable[Sequence[Any]]  # the cells of a table
BARS = f"Bars show how far a figure may be off; the thin line reaches {100 * display.WIDEST:.0f} % either way."


def section(title: str, *parts: Any, kind: str = "card", landmark: bool = True) -> html.Section:
    """A card with its title; no landmark where another on the page may have that title."""
    named = {"aria-label": title} if landmark else {}
    return html.Section([html.H3(title), *parts], className=kind, **named)


def slot(page: str, name: str, **more: Any) -> html.Div:
    """A place that a callback fills."""
    return html.Div(id=ids.part(page, name), **more)


def chart(page: str, name: str, *, shape: str = "", printed: bool = False) -> html.Figure:
    """A chart ("tall", "flat", "low" or as it comes), its caption and its table; the drawing alone is one image to a reader. It is
    drawn when it comes into view, or at once where the page is made to be printed.
    """
    graph = (dcc.Graph if printed else LateChart)(
        id=ids.part(page, f"{name}-graph"),
        config=GRAPH_CONFIG,
        responsive=True,
        figure={"layout": {"paper_bgcolor": CLEAR, "plot_bgcolor": CLEAR, "xaxis": UNSEEN, "yaxis": UNSEEN}},
    )
    return html.Figure(
        [
            html.Div(
                graph,
                role="img",
                id=ids.part(page, f"{name}-image"),
                className=f"graph-image {shape}".strip(),
                **{"aria-labelledby": ids.part(page, f"{name}-caption"), "aria-label": "A drawing, not ready yet"},
            ),
            html.Figcaption(id=ids.part(page, f"{name}-caption")),
            html.Details(
                [html.Summary("Table"), html.Div(id=ids.part(page, f"{name}-table"))],
                className="fold twin",
            ),
        ],
        className="card chart-card",
    )


def chart_places(page: str, name: str) -> dict[str, Output]:
    """The places of `chart` that a callback fills."""
    return {
        "figure": Output(ids.part(page, f"{name}-graph"), "figure"),
        "caption": Output(ids.part(page, f"{name}-caption"), "children"),
        "table": Output(ids.part(page, f"{name}-table"), "children"),
    }


def chart_kept() -> dict[str, Any]:
    """A chart that stays as it is."""
    return kept("figure", "caption", "table")


def folded(page: str, name: str, title: str) -> html.Details:
    """A fold that a callback fills."""
    return html.Details([html.Summary(title), slot(page, name)], className="fold card")


def frame(page: str, *middle: Any, after: Sequence[Any] = ()) -> StaticLayout:
    """A section: sentence first, then what is drawn, then the figures, working and assumptions folded under them. Its empty places
    are the slots that `pages.page.answers` fills together.
    """
    content = html.Div(
        [
            slot(page, "says", className="says", role="status"),
            *middle,
            section("Every figure and its change", slot(page, "changes"), landmark=False),
            *after,
            *foot(page),
        ],
        className="page",
    )
    return static_layout(content, ids.part(page, "said"), ids.part(page, ""), live=(ids.part(page, "assumed"),))


def foot(page: str) -> list[Any]:
    """What ends every page that answers: working, assumptions, notes and cautions."""
    return [
        folded(page, "working", "The working, step by step"),
        behind.links(page),
        folded(page, "assumed", "What was assumed"),
        slot(page, "notes"),
        slot(page, "cautions"),
    ]


COMMON = ("says", "changes", "working", "assumed", "notes", "cautions")


def common(pair: Pair, system: str, *more: Answer) -> dict[str, Any]:
    """What every page shows of a question asked twice."""
    alike = pair.now is pair.planned or pair.now.figures == pair.planned.figures
    answers = [pair.now] if alike else [pair.now, pair.planned]
    return {
        "says": says(pair, system, alike),
        "changes": changes(pair.changes, system, alike),
        "working": working([*answers, *more], alike, system),
        "assumed": assumed([*answers, *more], system),
        "notes": noted([*answers, *more], system),
        "cautions": cautions([*answers, *more]),
    }


def says(pair: Pair, system: str, alike: bool) -> StaticHtml:
    """The answer in a sentence, for both set-ups when they differ."""
    if alike:
        return static_html(said(pair.now, system))
    return static_html([said(pair.now, system, NOW, "now"), said(pair.planned, system, PLANNED, "planned")])


def said(answer: Answer, system: str, word: str = "", tag: str = "") -> html.P:
    """The sentence of one answer, after its word where it has one."""
    words = display.say(answer, system)
    return html.P([html.Span(word, className=f"tag {tag}"), " ", words] if word else words, className="say")


def _is_setting(change: Change) -> bool:
    """A figure that only repeats what was asked, such as the cruising speed: it needs no row of its own."""
    now, planned = change.now, change.planned
    exact = now.low is None or now.low == now.high
    return now.reading in ("speed", "distance") and exact and now.better == 0 and now.value == planned.value


def changes(rows: Sequence[Change], system: str, alike: bool) -> Any:
    """Every figure now and planned, its change, and whether the change is more than the uncertainty."""
    rows = [change for change in rows if not _is_setting(change)]
    if alike:
        return figure_table([change.now for change in rows], system)
    head = [
        html.Th("Figure", scope="col", role="columnheader"),
        *(html.Th(text, scope="col", className="num", role="columnheader") for text in (NOW, PLANNED, "Change")),
        html.Th("Verdict", scope="col", role="columnheader"),
    ]
    body = [_change_row(change, system) for change in rows]
    parts = [html.Thead(html.Tr(head, role="row"), role="rowgroup"), html.Tbody(body, role="rowgroup")]
    return _table(parts, "Figures and their changes", "changes", role="table")


def figure_table(figures: Iterable[Figure], system: str) -> Any:
    """Figures of one answer, each over what is left open of it, with a bar for how much that is."""
    figures = tuple(figures)
    bars = {one.key: _uncertainty(one) for one in figures}
    rows = [([one.label, bars[one.key]], _over_band(one, system)) for one in figures]
    table = row_table("Figures", ("Figure", "Value"), rows, numbers=(1,), caption=BARS if any(bars.values()) else "")
    return static_html(table)


def _uncertainty(figure: Figure) -> Any:
    """How far a figure may be off, as a share of it; the words beside it say the same."""
    places = display.uncertainty_places(figure)
    return places and _drawn_bands([("now", places["low"], places["value"], places["high"])], "uncertainty")


def _drawn_bands(bars: Sequence[tuple[str, float, float, float]], kind: str = "") -> html.Span:
    """Bars from low to high with their values marked, in hundredths of the width: a picture of what is written beside it."""
    return html.Span(
        [
            html.Span(
                html.Span(className="mark", style={"left": f"{value:.1f}%"}),
                className=f"bar {which}",
                style={"--from": f"{low:.1f}%", "--to": f"{high:.1f}%"},
            )
            for which, low, value, high in bars
        ],
        className=f"bands {kind}".strip(),
        **{"aria-hidden": "true"},
    )


def _change_row(change: Change, system: str) -> html.Tr:
    """One figure; the roles are said outright because a narrow screen lays the row out as a block."""
    label = " / ".join(dict.fromkeys((change.now.label, change.planned.label)))
    word = display.verdict(change)
    return html.Tr(
        [
            html.Th([label, _band(change, system)], scope="row", role="rowheader"),
            html.Td(_over_band(change.now, system), className="num now", role="cell"),
            html.Td(_over_band(change.planned, system), className="num planned", role="cell"),
            html.Td(display.change_words(change, system), className="num", role="cell"),
            html.Td(word, className=f"verdict {word.replace(' ', '-')}".strip(), role="cell"),
        ],
        role="row",
    )


def _over_band(figure: Figure, system: str) -> list[Any]:
    """A figure over what is left open of it."""
    band = display.band_words(figure, system)
    return [display.figure_words(figure, system), html.Small(band, className="between") if band else None]


def _band(change: Change, system: str) -> Any:
    """Both bands drawn on one scale; the words beside them say the same."""
    places = display.band_places(change, system)
    if places is None:
        return None
    return _drawn_bands([(w, places[f"{w}_low"], places[w], places[f"{w}_high"]) for w in ("now", "planned")])


def scrolling(table: Any, label: str) -> html.Div:
    """A table that scrolls within itself on a narrow screen, with the keyboard too."""
    return html.Div(table, className="scrolling", tabIndex=0, role="group", **{"aria-label": label})


def row_table(
    label: str, heads: Sequence[str], rows: Rows, *, numbers: Sequence[int] = (), caption: str = "", kind: str = ""
) -> html.Div:
    """A table by its headings and the cells of its rows, the first of each its name; `numbers` are the columns of figures."""

    def side(n: int) -> str:
        return "num" if n in numbers else ""

    head = [html.Th(text, scope="col", className=side(n)) if text else html.Td() for n, text in enumerate(heads)]
    body = [
        html.Tr(
            [
                html.Th(row[0], scope="row", className=side(0)),
                *(html.Td(cell, className=side(n)) for n, cell in enumerate(row[1:], start=1)),
            ]
        )
        for row in rows
    ]
    above = [html.Caption(caption)] if caption else []
    parts = [*above, html.Thead(html.Tr(head)), html.Tbody(body)]
    return scrolling(html.Table(parts, className=f"table {kind}".strip()), label)


def _table(children: Sequence[Any], label: str, kind: str = "", **more: Any) -> StaticHtml:
    """A table of plain cells."""
    return static_html(scrolling(html.Table(list(children), className=f"table {kind}".strip(), **more), label))


def plain_table(columns: Sequence[Column], rows: Sequence[Mapping[str, Any]], system: str, title: str = "") -> Any:
    """A table of one answer."""
    if not rows:
        return html.P("Nothing to list.", className="quiet")
    heads = [display.heading(c, system) for c in columns]
    numbers = [n for n, c in enumerate(columns) if _side(c)]
    cells = [display.cells(columns, row, system) for row in rows]
    return static_html(row_table(title or "Table", heads, cells, numbers=numbers, caption=title))


def _side(column: Column) -> str:
    return "" if column.reading in ("text", "yes or no") else "num"


def twin(now: Table, planned: Table, system: str) -> Any:
    """The tables of both set-ups in one: under each row of now the planned row, and the change."""
    if now.rows == planned.rows:
        return plain_table(now.columns, now.rows, system, now.title)
    key = now.columns[0].key
    theirs = {row[key]: row for row in planned.rows}
    mine = {row[key]: row for row in now.rows}
    head = [html.Th(display.heading(now.columns[0], system), scope="col"), html.Th("Set-up", scope="col")]
    head += [html.Th(display.heading(c, system), scope="col", className=_side(c)) for c in now.columns[1:]]
    groups = [_group(now.columns, mine.get(k), theirs.get(k), system) for k in dict.fromkeys([*mine, *theirs])]
    return _table([html.Caption(now.title), html.Thead(html.Tr(head)), *groups], now.title, "twin-table")


def _group(
    columns: Sequence[Column], one: Mapping[str, Any] | None, other: Mapping[str, Any] | None, system: str
) -> html.Tbody:
    first = columns[0]
    name = display.cells([first], one or other or {}, system)[0]
    rows = []
    for kind, row in (("now", one), ("planned", other)):
        texts = display.cells(columns[1:], row, system) if row is not None else ["—"] * (len(columns) - 1)
        head = [html.Th(name, scope="rowgroup", rowSpan=3)] if kind == "now" else []
        label = html.Th(NOW if kind == "now" else PLANNED, scope="row", className=kind)
        cells = [
            html.Td(text, className=f"{_side(c)} {kind}".strip()) for c, text in zip(columns[1:], texts, strict=True)
        ]
        rows.append(html.Tr([*head, label, *cells]))
    differences = [_difference(c, one, other, system) for c in columns[1:]]
    rows.append(
        html.Tr(
            [
                html.Th("Change", scope="row"),
                *(html.Td(t, className=_side(c)) for c, t in zip(columns[1:], differences, strict=True)),
            ],
            className="change",
        )
    )
    return html.Tbody(rows)


def _difference(column: Column, one: Mapping[str, Any] | None, other: Mapping[str, Any] | None, system: str) -> str:
    if one is None or other is None or one[column.key] is None or other[column.key] is None:
        return "—"
    if one[column.key] == other[column.key]:
        return "same"
    return (
        display.change_words(queries.cell_change(column.reading, one[column.key], other[column.key]), system) or "same"
    )


def tables(answers: Sequence[Answer], system: str) -> list[Any]:
    """Every table of some answers."""
    return [plain_table(t.columns, t.rows, system, t.title) for answer in answers for t in answer.tables]


def twins(now: Answer, planned: Answer, system: str) -> list[Any]:
    """Every table of a question asked twice."""
    return [twin(a, b, system) for a, b in zip_longest(now.tables, planned.tables) if a is not None and b is not None]


def working(answers: Sequence[Answer], alike: bool, system: str) -> StaticHtml:
    """The steps of each answer: formula, numbers, result (in US units too where those are shown), and where it comes from."""
    heads = [None] if alike and len(answers) == 1 else [NOW, PLANNED, *(a.question for a in answers[2:])]
    parts: list[Any] = []
    for head, answer in zip(heads, answers, strict=False):
        if head:
            parts.append(html.H4(head))
        parts.append(
            html.Ol([_step(step, system) for step in answer.steps], className="steps")
            if answer.steps
            else html.P("No steps.", className="quiet")
        )
    return static_html(parts)


def _step(step: Any, system: str) -> html.Li:
    return html.Li(
        [
            html.Code(step.formula, className="formula"),
            html.Span(f"= {step.numbers}", className="numbers"),
            html.Span(f"= {display.result_words(step.result, system)}", className="result") if step.result else None,
            html.Cite(step.source) if step.source else None,
        ]
    )


def assumed(answers: Sequence[Answer], system: str) -> Any:
    """What was assumed; what has a key in the build file can be mended here."""
    texts = list(dict.fromkeys(text for answer in answers for text in answer.assumptions))
    if not texts:
        return html.P("Nothing: everything comes from your build file.", className="quiet")
    from dashboard.forms.set_ups import assumption

    return html.Ul([html.Li(assumption(text, system)) for text in texts], className="assumptions")


def noted(answers: Sequence[Any], system: str) -> Any:
    """What the rider should know beside the answer: the notes of answers, or of whatever has notes."""
    return once("Note", [in_units(text, system) for answer in answers for text in answer.notes], "card notes")


def cautions(answers: Sequence[Answer]) -> Any:
    """Where the work or the ride can hurt; that the maker's manual comes first stands under every page."""
    return once("Take care", [text for answer in answers for text in answer.cautions], "card cautions")


def once(title: str, texts: Iterable[str], kind: str) -> StaticHtml | None:
    """A list that stands open when it is first met, and folded from then on (assets/glue.js)."""
    sentences = list(dict.fromkeys(map(sentence, texts)))
    if not sentences:
        return None
    inside = [html.Summary(f"{title} ({len(sentences)})"), html.Ul([html.Li(text) for text in sentences])]
    return static_html(html.Details(inside, className=f"fold once {kind}", open=True))


def listed(title: str, texts: Iterable[Any], kind: str = "") -> html.Section:
    """A title and a list under it."""
    return html.Section([html.H3(title), html.Ul([html.Li(text) for text in texts])], className=kind)


def sentence(text: str) -> str:
    """The text with a capital first and a stop at its end."""
    return text[:1].upper() + text[1:] + ("" if text.endswith((".", "!", "?")) else ".")


def kept(*names: str) -> dict[str, Any]:
    """The last good content of some places stays."""
    return dict.fromkeys(names, no_update)
