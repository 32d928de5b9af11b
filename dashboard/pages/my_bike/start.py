"""Where a rider begins: a few figures, which become the first answer; or a tour with an invented bike."""

from __future__ import annotations

from typing import Any

from dash import ClientsideFunction, Dash, Input, Output, State, html, no_update

from dashboard import components, display, ids, queries
from dashboard.forms import form
from dashboard.pages.page import INPUTS, Section, View, drawn, pressed, view
from dashboard.security.payloads import Typed
from dashboard.static_html import internal_link, static_html
from dashboard.url_state import SetUp, from_query, to_query
from dashboard.url_state import State as Looked
from ridesim.answers.answer import Change
from ridesim.answers.compare import label
from ridesim.buildfile.first import FIELDS
from ridesim.plots import charts

KEY = "start"
US_EXAMPLES = {"bike": "380 lb", "rider": "174 lb", "torque": "26.1 ft*lb"}
LABELS = {
    "bike": ("Bike, all fluids", "172 kg", "with half a tank"),
    "rider": ("You, in riding gear", "79 kg", ""),
    "tire": ("Rear tire", "120/90-17", "as marked on its side"),
    "front": ("Front sprocket", "14", "teeth"),
    "rear": ("Rear sprocket", "41", "teeth"),
    "torque": ("Peak torque", "35.4 N*m", "with its unit"),
    "torque_at": ("Peak torque at", "4500 rev/min", ""),
    "power": ("Peak power", "26 hp", "with its unit"),
    "power_at": ("Peak power at", "6100 rev/min", ""),
    "primary": ("Primary drive", "70/29", "teeth driven/driving, or a ratio"),
    "gears": ("Gears, first to top", "2.58 1.71 1.30 1.05 0.87", "ratios, or teeth as 31/12"),
}
GROUPS = (
    ("Bike and rider", ("bike", "rider", "tire", "front", "rear")),
    ("Engine: one of the two peaks is enough", ("torque", "torque_at", "power", "power_at")),
)
GEARBOX = "Gearbox: left empty, a typical five-speed is taken, a guess"
DOORS = (
    (
        "One tooth more in front",
        "What a calmer highway costs in first gear.",
        "/gearing#gears",
        Looked(planned=SetUp(front=15)),
    ),
    (
        "Other tires",
        "A taller rear and a wider front: gearing, speedometer, trail.",
        "/tires",
        Looked(planned=SetUp(rear_tire="130/90-17 M/C 68S", front_tire="100/90-19 M/C 57S")),
    ),
    (
        "Stock against re-jetted",
        "Leaner jets and a freer silencer for thin air: what they gave, gear by gear.",
        "/power",
        Looked(demo="plateau-single", now=SetUp(tune="stock"), planned=SetUp(tune="rejetted")),
    ),
)
NEXT = (
    ("Which sprockets to order", "/gearing"),
    ("Other tires", "/tires"),
    ("Another tune", "/power"),
    ("Give it your own figures", "/#bike"),
    ("What to measure next", "/#evidence"),
)
HEADLINES = (
    ("speeds", "cruise_rpm", "Engine speed at {}"),
    ("pull", "first_force", "Pull in first"),
    ("standing_run", "top", "Top speed"),
)
CAPTION = "Engine speed against road speed, a line for each gear: where a line meets your cruising speed is what the engine turns there."


def part(name: str) -> str:
    return ids.part(KEY, name)


def _field(key: str, system: str) -> Any:
    label, example, hint = LABELS[key]
    example = US_EXAMPLES.get(key, example) if system == "us" else example
    kept: dict[str, Any] = {"persistence": True, "persistence_type": "local"}  # a draft outlives the tab
    return form.text_field(part(key), label, hint=hint, placeholder=f"such as {example}", debounce=False, **kept)


def layout(state: Looked) -> Any:
    own = state.own is not None
    return html.Div(
        [
            html.Div(_form(state.units), id=part("form"), className="page", hidden=own),
            html.Div(_answer(), id=part("answer"), className="page", hidden=not own),
        ],
        className="page",
    )


def _form(system: str) -> list[Any]:
    groups = [form.group(title, form.grid(*(_field(key, system) for key in keys))) for title, keys in GROUPS]
    gearbox = html.Details(
        [html.Summary(GEARBOX), form.grid(_field("primary", system), _field("gears", system))],
        className="fold",
        id=part("gearbox"),
    )
    doors = [html.Li([internal_link(title, place, to_query(of)), html.P(text)]) for title, text, place, of in DOORS]
    return [
        components.section(
            "Your own bike, from a few figures",
            html.Div(id=part("error"), role="alert", tabIndex=-1, className="error-summary"),
            *groups,
            gearbox,
            html.Button("Show my first answer", id=part("go"), className="button main"),
            kind="card stack",
        ),
        components.section("Or take the tour with an invented bike", html.Ul(doors, className="doors")),
    ]


def _answer() -> list[Any]:
    def button(text: str, name: str) -> html.Button:
        return html.Button(text, id=part(name), className="button")

    links = html.Ul([html.Li(internal_link(*one)) for one in NEXT], className="next")
    return [
        html.H3(id=part("of"), tabIndex=-1, className="answer-head"),
        components.slot(KEY, "says", role="status"),
        components.section(
            "Now try one tooth",
            html.Div(
                [button("One tooth less in front", "less"), button("One tooth more in front", "more")],
                className="row-buttons",
            ),
            html.P("It is planned on every page, until you take it back.", className="quiet"),
        ),
        components.chart(KEY, "speed", shape="tall"),
        components.section("What next", static_html(links)),
        html.Div(button("Begin another bike", "another"), className="row-buttons"),
    ]


def _headline(change: Change, label: str, system: str) -> html.Div:
    now, planned = (display.figure_words(one, system) for one in (change.now, change.planned))
    value = now if now == planned else [html.Span(f"{now} →", className="now"), html.Span(planned, className="planned")]
    return html.Div([html.Dt(label), html.Dd(value)])


def shown(v: View) -> Any:
    """The headline figures, and what of them is a guess."""
    rows = []
    for question, key, words in HEADLINES:
        pair = queries.pair(question, v.state)
        change = next((one for one in pair.changes if one.now.key == key), None)
        speed = display.shown(queries.now(v.state).ride.cruise_m_s, "speed", v.system)
        if change is not None:
            rows.append(_headline(change, words.format(speed), v.system))
    bike = queries.now(v.state).bike
    note = bike.record.tune[bike.tune].note
    guess = (
        "The gear ratios are those of a typical five-speed, a guess." if bike.record.gearbox.ratios_are_a_guess else ""
    )
    told = [html.P(f"{bike.tune}: {note}", className="quiet") if note else None, html.P(guess) if guess else None]
    return static_html(html.Div([html.Dl(rows, className="headline"), *told]))


def _summary(errors: dict[str, str]) -> Any:
    """What is wrong, each a link to its field."""
    lines = [
        html.Li(html.A(f"{LABELS[key][0]}: {errors[key]}", href=f"#{part(key)}")) for key in FIELDS if key in errors
    ]
    stray = [html.P(errors[""])] if "" in errors else []
    count = "One figure cannot be used" if len(lines) == 1 else f"{len(lines)} figures cannot be used"
    return static_html([html.Strong(f"{count}:"), html.Ul(lines), *stray] if lines else stray)


def register(app: Dash) -> None:
    @app.callback(
        output={
            "hidden": {name: Output(part(name), "hidden") for name in ("form", "answer")},
            "told": {name: Output(part(name), "children") for name in ("of", "says")},
            "chart": components.chart_places(KEY, "speed"),
        },
        inputs=INPUTS,
    )
    def show(query: str | None, theme: str | None) -> dict[str, Any]:
        v = view(query, theme)
        hidden = {"form": v.state.own is not None, "answer": v.state.own is None}
        if v.state.own is None:
            return {"hidden": hidden, "told": components.kept("of", "says"), "chart": components.chart_kept()}
        pair = queries.pair("speeds", v.state)
        figure = charts.speeds(pair.now, pair.planned, **v.look)
        return {
            "hidden": hidden,
            "told": {"of": label(queries.now(v.state)), "says": shown(v)},
            "chart": drawn(figure, CAPTION, components.twins(pair.now, pair.planned, v.system)),
        }

    @app.callback(
        output={
            "link": Output(ids.REPLACE, "data", allow_duplicate=True),
            "errors": {key: Output(part(key), "error") for key in FIELDS},
            "error": Output(part("error"), "children"),
        },
        inputs={
            "clicks": Input(part("go"), "n_clicks"),
            "given": {key: State(part(key), "value") for key in FIELDS},
            "query": State(ids.QUERY, "data"),
        },
        prevent_initial_call=True,
    )
    def go(clicks: int | None, given: dict[str, Typed], query: str | None) -> dict[str, Any]:
        pressed(clicks)
        build, errors = queries.first(given)
        link = no_update if build is None else to_query(Looked(own=build.text, units=view(query, "light").state.units))
        return {"link": link, "errors": {key: errors.get(key) for key in FIELDS}, "error": _summary(errors)}

    @app.callback(
        Output(ids.REPLACE, "data", allow_duplicate=True),
        Input(part("another"), "n_clicks"),
        State(ids.QUERY, "data"),
        prevent_initial_call=True,
    )
    def another(clicks: int | None, query: str | None) -> str:
        pressed(clicks)
        return f"?build={Looked.demo}&units={from_query(query)[0].units}"

    def ours(name: str) -> ClientsideFunction:
        return ClientsideFunction(namespace="ridesim", function_name=name)

    app.clientside_callback(ours("errors_told"), Input(part("error"), "children"), prevent_initial_call=True)
    app.clientside_callback(ours("answer_told"), Input(part("answer"), "hidden"), prevent_initial_call=True)
    app.clientside_callback(
        ours("tooth"),
        Output(ids.field("planned-front"), "value", allow_duplicate=True),
        Input(part("less"), "n_clicks"),
        Input(part("more"), "n_clicks"),
        State(ids.field("planned-front"), "value"),
        prevent_initial_call=True,
    )


SECTION = Section(
    key=KEY,
    title="The first answer",
    lead="Gearing, tires and tuning of your bike in numbers, before money is spent.",
    layout=layout,
    register=register,
)
