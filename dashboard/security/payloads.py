"""What a browser posts to a callback, held to what the pages would have posted; anything else is refused, with one line in the log."""

from __future__ import annotations

import json
import logging
from collections.abc import Callable
from functools import wraps
from typing import Any, NoReturn

from dash import Dash, Output
from flask import request
from pydantic import BaseModel, ConfigDict, ValidationError, validate_call
from werkzeug.exceptions import BadRequest

from ridesim.errors import shown

log = logging.getLogger("dashboard")
PATH = "/_dash-update-component"
_MANY = (["ALL"], ["ALLSMALLER"])
Typed = str | int | float | bool | None | list[str]  # what a field may hold


class _Property(BaseModel):
    """One property of one component."""

    model_config = ConfigDict(strict=True)
    id: str | dict[str, str | int | float | bool]
    property: str
    value: Any = None


class _Call(BaseModel):
    """One call of a callback."""

    model_config = ConfigDict(strict=True)
    output: str
    outputs: _Property | list[_Property | list[_Property]] = []
    inputs: list[_Property | list[_Property]]
    state: list[_Property | list[_Property]] = []
    changedPropIds: list[str] = []  # noqa: N815 - the name on the wire


class WiredDash(Dash):
    """An app whose callbacks are called with what their annotations say, or not at all."""

    def callback(self, *args: Any, **kwargs: Any) -> Any:
        register = super().callback(*args, **kwargs)
        return lambda function: register(checked(function))


def refuse(why: str) -> NoReturn:
    """Refuse a request that no page of the app would have sent."""
    log.warning("refused a request: %s", shown(why, 200))
    raise BadRequest


def stand(app: Dash) -> None:
    """Look at every call before its callback does."""

    @app.server.before_request
    def check() -> None:
        if request.path == PATH and request.method == "POST":
            _check(app.callback_map)


def _check(callbacks: dict[str, Any]) -> None:
    try:
        call = _Call.model_validate(request.get_json())
    except RecursionError:
        refuse("it is nested too deeply")
    except ValidationError as error:
        refuse(_first(error))
    one = callbacks.get(call.output)
    if one is None or "callback" not in one:  # one that the browser answers has none here
        refuse("no callback has its outputs")
    outputs = [] if one["no_output"] else one["output"] if isinstance(one["output"], list) else [one["output"]]
    given: list[Any] = call.outputs if isinstance(call.outputs, list) else [call.outputs]
    wanted = [{"id": _id(output), "property": output.component_property} for output in outputs]
    _match("outputs", wanted, [] if one["no_output"] else given)
    _match("inputs", one["inputs"], call.inputs)
    _match("state", one["state"], call.state)
    parts = [part for some in call.inputs for part in (some if isinstance(some, list) else [some])]
    if not all(_changed(name) in [(part.id, part.property) for part in parts] for name in call.changedPropIds):
        refuse("what has changed is none of its inputs")


def _changed(name: str) -> tuple[Any, str]:
    """The component and the property of a name such as "query.data"."""
    text, _, prop = name.rpartition(".")
    try:
        return (json.loads(text) if text.startswith("{") else text), prop
    except (ValueError, RecursionError):
        return None, prop


def _id(output: Output) -> str:
    return str(output.component_id_str())


def _match(what: str, wanted: list[dict[str, str]], given: list[_Property | list[_Property]]) -> None:
    if len(wanted) != len(given) or not all(map(_is, wanted, given)):
        refuse(f"its {what} are not those of the callback")


def _is(wanted: dict[str, str], given: _Property | list[_Property]) -> bool:
    """Whether what is given is the component that is wanted, or a list of components where its pattern stands for many."""
    pattern = json.loads(wanted["id"]) if wanted["id"].startswith("{") else None
    many = pattern is not None and any(value in _MANY for value in pattern.values())
    if isinstance(given, list):
        return many and all(_is_one(wanted, pattern, part) for part in given)
    return not many and _is_one(wanted, pattern, given)


def _is_one(wanted: dict[str, str], pattern: dict[str, Any] | None, part: _Property) -> bool:
    if part.property.partition("@")[0] != wanted["property"].partition("@")[0]:
        return False
    if part.property == "id" and part.value != part.id:
        return False
    if pattern is None or not isinstance(part.id, dict):
        return part.id == wanted["id"]
    # a list in a pattern stands for any value
    return part.id.keys() == pattern.keys() and all(
        isinstance(value, list) or part.id[key] == value for key, value in pattern.items()
    )


def checked(function: Callable[..., Any]) -> Callable[..., Any]:
    """The function, called with what its annotations say or not at all."""
    held = validate_call(config=ConfigDict(strict=True, arbitrary_types_allowed=True))(function)

    @wraps(function)
    def call(*args: Any, **kwargs: Any) -> Any:
        try:
            return held(*args, **kwargs)
        except ValidationError as error:
            refuse(f"{function.__qualname__}: {_first(error)}")

    return call


def _first(error: ValidationError) -> str:
    one = error.errors(include_url=False, include_input=False, include_context=False)[0]
    return f"{'.'.join(map(str, one['loc']))}: {one['msg']}"
