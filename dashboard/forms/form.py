"""Every form of the app: fields laid out as they are declared, read back into the link, each error beside its field."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from typing import Any

import dash_mantine_components as dmc
from dash import Dash, Input, Output, State, dcc, html, no_update
from dash.exceptions import PreventUpdate

from dashboard import ids, queries
from dashboard.security.payloads import Typed
from dashboard.url_state import State as Looked
from dashboard.url_state import from_query, to_query
from dashboard.url_state.fields import Spec
from ridesim.errors import InputError, each
from ridesim.statements import in_units

NONE: Mapping[str, Any] = {}
Cells = list[Typed]  # the fields of a grid
Errors = tuple[dict[str, str], list[str]]  # beside their fields, and those of no field


def text_field(name: Any, label: str | None, value: str = "", hint: str = "", **more: Any) -> dmc.TextInput:
    """A field to type in, its hint under it; `name` is its id. What a button reads is not to be debounced: it would come too late.
    Every other is, while someone is in it (glue.js).
    """
    plain = {"debounce": 0, "spellCheck": False, "autoComplete": "off"}
    order = ["label", "input", "description", "error"]
    return dmc.TextInput(
        id=name, label=label, value=value, description=hint or None, inputWrapperOrder=order, **(plain | more)
    )


def number_field(name: Any, label: str, **more: Any) -> dmc.NumberInput:
    """A field for a number that can be stepped; what is out of bounds is told, not changed."""
    return dmc.NumberInput(id=name, label=label, **({"clampBehavior": "none", "debounce": 0} | more))


def choice_field(
    name: Any, label: str, options: Mapping[str, str] | Sequence[str], value: str | None = None, **more: Any
) -> dmc.Select:
    """A field to choose in; it always holds a choice unless it is said to be clearable."""
    words = options if isinstance(options, Mapping) else {one: one for one in options}
    data = [{"value": key, "label": text} for key, text in words.items()]
    kept = {"allowDeselect": bool(more.get("clearable")), "checkIconPosition": "right"}
    return dmc.Select(id=name, label=label, data=data, value=value, **(kept | more))


def field(name: Any, spec: Spec, value: Any, system: str = "metric", **more: Any) -> Any:
    """A field as it is declared."""
    wide = {"className": "wide-field"} if spec.wide else {}
    label = in_units(spec.label, system)
    if spec.options is not None:
        return choice_field(name, label, spec.options, value or None, placeholder="Choose", **(wide | more))
    return text_field(name, label, value, **({"hint": spec.hint_in(system)} | wide | more))


def group(title: str, *inside: Any, kind: str = "ride", look: str = "bench-fields") -> html.Fieldset:
    """Fields that belong together, under their title."""
    return html.Fieldset([html.Legend(html.Span(title, className=f"tag {kind}")), *inside], className=look)


def slider(name: str, said: str, ends: tuple[float, float, float], value: float, **look: Any) -> dmc.Slider:
    """A slider from the least to the most by steps, which tells every place that it is dragged over."""
    least, most, step = ends
    return dmc.Slider(id=name, thumbLabel=said, min=least, max=most, step=step, value=value, updatemode="drag", **look)


def code(name: str, label: str, value: str, rows: tuple[int, int], **more: Any) -> dmc.Textarea:
    """A field for a file or a table as text, which grows from the fewest to the most rows."""
    least, most = rows
    look = {"autosize": True, "minRows": least, "maxRows": most, "spellCheck": False, "classNames": {"input": "code"}}
    return dmc.Textarea(id=name, label=label, value=value, **look, **more)


def upload(name: str, label: str, accept: str, largest: int) -> dcc.Upload:
    """A button that opens a file."""
    return dcc.Upload(label, id=name, accept=accept, max_size=largest, className="upload")


def grid(*fields: Any) -> html.Div:
    """Fields side by side."""
    return html.Div(list(fields), className="grid-fields")


def filled(page: str, values: Mapping[str, Any]) -> dcc.Store:
    """What the fields of a page were filled with, beside them: what still stands so was not typed, whatever the link says by then."""
    return dcc.Store(id=ids.part(page, "filled"), data=dict(values))


def touched(values: Mapping[str, Any], filled: Mapping[str, Any] | None) -> dict[str, Any]:
    """The fields that hold something else than they were filled with.

    >>> touched({"jet": "110", "altitude": None}, {"jet": "125", "altitude": ""})
    {'jet': '110'}
    """

    def plain(value: Any) -> Any:
        return value if isinstance(value, list) else "" if value is None else str(value).strip()

    was = filled or {}
    return {key: value for key, value in values.items() if key not in was or plain(value) != plain(was[key])}


def errors_of(
    error: InputError, place: Callable[[str], str], keys: Sequence[str] | Mapping[str, Any], *, retold: bool = False
) -> Errors:
    """The errors of the library at their fields, and those that belong to none.

    Parameters
    ----------
    place
        The field of the place where the library finds fault.
    keys
        The fields there are; with what was typed there where that is to be `retold` in place of the library's reading of it.
    """
    beside: dict[str, str] = {}
    stray: list[str] = []
    for one in each(error):
        key = place(one.where)
        if key not in keys:
            stray.append(str(one))
            continue
        got = keys[key] or None if retold and isinstance(keys, Mapping) else one.got
        said = queries.words(InputError(key, got, one.problem, one.fix))
        beside[key] = " ".join(filter(None, (beside.get(key), said)))
    return beside, stray


def judged(
    values: Mapping[str, Any],
    query: str,
    taken: Callable[[Mapping[str, Any], Looked], tuple[Looked, dict[str, str]]],
    troubles: Callable[[Looked], Errors],
    dimmed: bool = True,
    filled: Mapping[str, Any] | None = None,
) -> dict[str, Any]:
    """What the fields of a page make of the link, and what stands beside them; while one is wrong the last good answer stays.

    `taken` reads the fields that were `touched` into the state of the link; `troubles` says what keeps the library from answering it.
    """
    state, beside = taken(touched(values, filled), from_query(query)[0])
    stray: list[str] = []
    if not beside:
        beside, stray = troubles(state)
    return moved(state, query, values, wrong=bool(beside or stray)) | standing(list(values), beside, stray, dimmed)


def moved(state: Looked, query: str, values: Mapping[str, Any], *, wrong: bool) -> dict[str, Any]:
    """The link that a state asks for and what its fields are then filled with; nothing where one is wrong or all is as it was."""
    asked = to_query(state)
    new = not wrong and asked != query
    return {"query": asked if new else no_update, "filled": dict(values) if new else no_update}


def standing(keys: Sequence[str], beside: Mapping[str, str], stray: Sequence[str], dimmed: bool) -> dict[str, Any]:
    """What stands beside the fields of a page and under them. Where nothing was wrong (the page not `dimmed`) and nothing is,
    nothing is sent: it costs the browser time.
    """
    wrong = bool(beside or stray)
    if not (wrong or dimmed):
        return {"errors": dict.fromkeys(keys, no_update), "trouble": no_update, "dim": no_update}
    return {
        "errors": {key: beside.get(key) for key in keys},
        "trouble": [html.P(one) for one in stray],
        "dim": "page dim" if wrong else "page",
    }


def register(
    app: Dash,
    page: str,
    keys: Sequence[str],
    judge: Callable[..., dict[str, Any]],
    refill: Callable[[Looked, Mapping[str, Any]], dict[str, Any]],
    beside: bool = True,
    given: Mapping[str, Any] = NONE,
    told: Mapping[str, Any] = NONE,
    **also: Any,
) -> None:
    """The callbacks of a page's fields: into the link once the library can answer (`judge`), and out of a link that is opened:
    `refill` gives their "values", and what goes to the outputs `also` named. Where errors are not told `beside` them, the answer tells
    them. What is `given` besides goes to the judge, who tells what is `told` too.
    """
    names, was = {key: ids.part(page, key) for key in keys}, ids.part(page, "filled")
    _fills(app, names, was, refill, also)
    errors = {
        "errors": {key: Output(name, "error") for key, name in names.items()},
        "trouble": Output(ids.part(page, "trouble"), "children"),
        "dim": Output(ids.part(page, "page"), "className"),
    }

    @app.callback(
        output={
            "query": Output(ids.QUERY, "data", allow_duplicate=True),
            "filled": Output(was, "data"),
            **(errors if beside else {}),
            **told,
        },
        inputs={
            "values": {key: Input(name, "value") for key, name in names.items()},
            "query": State(ids.QUERY, "data"),
            "name": State(ids.part(page, "page"), "className"),
            "filled": State(was, "data"),
            **given,
        },
        prevent_initial_call=True,
    )
    def take(
        values: dict[str, Typed], query: str | None, name: str | None, filled: dict[str, Typed] | None, **more: Cells
    ) -> dict[str, Any]:
        if query is None:
            raise PreventUpdate
        return judge(values, query, name != "page", filled, **more)


def _fills(
    app: Dash,
    names: Mapping[str, str],
    was: str,
    refill: Callable[[Looked, Mapping[str, Any]], dict[str, Any]],
    also: Mapping[str, Any],
) -> None:
    """The callback that fills the fields from a link that is opened."""

    @app.callback(
        output={
            "values": {key: Output(name, "value") for key, name in names.items()},
            "filled": Output(was, "data", allow_duplicate=True),
            **also,
        },
        inputs={"link": Input(ids.LINK, "data"), "filled": State(was, "data")},
        prevent_initial_call=True,
    )
    def fill(link: str | None, filled: dict[str, Typed] | None) -> dict[str, Any]:
        found = refill(from_query(link)[0], filled or {})
        return {"filled": found["values"]} | found
