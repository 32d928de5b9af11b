"""Rubbish posted to a callback, or asked for, is refused: never a fault of the program, and never more than one line in the log."""

from __future__ import annotations

import copy
import json
import logging
import random
from typing import Any

import pytest
from support.hostile import RUBBISH
from support.posted import outputs_of

from dashboard.app import create_app


@pytest.fixture(scope="module")
def app(tmp_path_factory):
    return create_app(garage=tmp_path_factory.mktemp("garage") / "garage.sqlite3")


@pytest.fixture(scope="module")
def client(app):
    return app.server.test_client()


@pytest.fixture(scope="module")
def calls(client):
    """Every callback of the server, as a page that is empty would call it."""
    found = [_call(one) for one in client.get("/_dash-dependencies").json if not one["clientside_function"]]
    assert len(found) > 90
    return found


def _call(one: dict[str, Any]) -> dict[str, Any]:
    body = {key: [_part(part) for part in one[key]] for key in ("inputs", "state")}
    outputs = {} if one["no_output"] else {"outputs": _parts(one["output"])}
    changed = [f"{part['id']}.{part['property']}" for part in one["inputs"]]
    return {"output": one["output"], "changedPropIds": changed[:1], **outputs, **body}


def _parts(output: str) -> Any:
    every = outputs_of(output)
    return [_part(one) for one in every] if isinstance(every, list) else _part(every)


def _part(part: dict[str, Any]) -> Any:
    """A component of the page; of a pattern, one that fits."""
    pattern = json.loads(part["id"]) if isinstance(part["id"], str) and part["id"].startswith("{") else part["id"]
    if isinstance(pattern, str):
        return {"id": pattern, "property": part["property"]}
    filled = {key: "x" if isinstance(value, list) else value for key, value in pattern.items()}
    one = {"id": filled, "property": part["property"]} | ({"value": filled} if part["property"] == "id" else {})
    return [one] if ["ALL"] in pattern.values() else one


def refused(client, caplog, body: Any) -> int:
    """The status of the answer; it is no fault of the program, and the log has a line at most."""
    caplog.clear()
    text = body if isinstance(body, bytes) else json.dumps(body).encode()
    answer = client.post("/_dash-update-component", data=text, content_type="application/json")
    lines = [record.getMessage() for record in caplog.records]
    assert answer.status_code < 500, lines
    assert len(lines) <= 1 and not any("\n" in line or len(line) > 500 for line in lines), lines
    assert not any(record.exc_info for record in caplog.records) and "The program failed" not in answer.text, lines
    return answer.status_code


def values_of(body: dict[str, Any]) -> list[dict[str, Any]]:
    """The values that a page could have sent otherwise."""
    every = [part for one in (*body["inputs"], *body["state"]) for part in (one if isinstance(one, list) else [one])]
    return [part for part in every if part["property"] != "id"]


def test_what_the_browser_answers_by_itself_is_no_callback_here(client, caplog):
    caplog.set_level(logging.INFO)
    browsers = [_call(one) for one in client.get("/_dash-dependencies").json if one["clientside_function"]]
    assert len(browsers) > 10 and {refused(client, caplog, one) for one in browsers} == {400}


def test_no_value_is_too_odd_for_a_callback(client, calls, caplog):
    caplog.set_level(logging.INFO)
    drawn = random.Random(0)
    for call in [*calls, *calls]:
        body = copy.deepcopy(call)
        for part in values_of(body):
            part["value"] = drawn.choice(RUBBISH)
        body["changedPropIds"] = drawn.choice(
            [[], [""], ["x.y"], ['{"a":1}.b'], ["{" * 9000], call["changedPropIds"], call["changedPropIds"]]
        )
        refused(client, caplog, body)


def test_each_odd_value_alone_is_answered_or_refused(client, calls, caplog):
    """One value is odd, all others are as in a page that stands."""
    caplog.set_level(logging.INFO)
    plain = {"query": "", "theme": "light", "place": "/", "page": None}
    drawn = random.Random(0)
    for call in calls:
        for n, _ in enumerate(values_of(call)):
            body = copy.deepcopy(call)
            for part in values_of(body):
                part["value"] = plain.get(part["id"]) if isinstance(part["id"], str) else None
            body["changedPropIds"] = drawn.choice([[], body["changedPropIds"]])
            for odd in drawn.sample(RUBBISH, 3):
                values_of(body)[n]["value"] = odd
                refused(client, caplog, body)


def test_what_is_no_call_of_a_page_is_refused(client, calls, caplog):
    caplog.set_level(logging.INFO)
    good = next(call for call in calls if call["output"].startswith("..query.data"))
    ids = {"id": {"a": []}, "property": "value"}
    for body in (
        *RUBBISH[:4], "x", [], {}, {"output": None}, {"output": []}, {"output": "nope.data"}, {"output": "..a.b...c.d..", "inputs": []},
        *({key: value for key, value in good.items() if key != left} for left in ("output", "outputs", "inputs")),
        *(good | {key: odd} for key in good for odd in (None, 5, "x", {}, [], [[]], [{}], [None], [ids], [ids] * 9, good["inputs"] * 2)
          if key not in ("changedPropIds", "state") or odd != []),
        *(good | {"changedPropIds": odd} for odd in (None, 5, "x", {}, [5], [None], [[]])),
    ):  # fmt: skip
        assert 400 <= refused(client, caplog, body) < 500, body


@pytest.mark.parametrize(
    "text",
    [b"", b"{", b"\xff", b"[" * 200_000, b'{"a":' * 100_000, b"1" * 10_000, b"nul", b'{"output": "\\ud800"}', b'"x"'],
)
def test_what_is_no_json_is_refused(client, caplog, text):
    assert 400 <= refused(client, caplog, text) < 500


def test_another_kind_of_content_is_refused(client):
    for kind in ("text/plain", "", "multipart/form-data; boundary=x", "application/x-www-form-urlencoded", "\x80"):
        assert 400 <= client.post("/_dash-update-component", data=b"{}", content_type=kind).status_code < 500


SUITES = "/_dash-component-suites"


@pytest.mark.parametrize(
    "path",
    [f"{SUITES}/dash/%00", f"{SUITES}/%00/x.js", f"{SUITES}/nope/x.js", f"{SUITES}/os/path.py", f"{SUITES}/dash/nope.js", f"{SUITES}/dash/..%2F..%2Fx.py",
     f"{SUITES}/dash/dash-renderer/build/dash_renderer.min.js.map", f"{SUITES}/dash/dcc/dash_core_components.v0m.js", f"{SUITES}/dash/%FF%FE",
     f"{SUITES}/dash/x.vxmzz.js", f"{SUITES}/dash/" + "x" * 9000, f"{SUITES}/dash/.v1m1.", "/assets/%00", "/assets/..%2Fapp.py", "/assets/.",
     "/assets/%FF", "/assets/" + "x" * 5000, "/garage-file/bike/%00", "/garage-file/bike/%0A", "/%00", "/%0D%0Ax: y", "/\x7f"],
)  # fmt: skip
def test_an_odd_path_is_not_found(client, path, caplog):
    assert 400 <= client.get(path).status_code < 500
    assert not any(record.exc_info for record in caplog.records)


@pytest.mark.parametrize(
    "cookie", ["x", "=", ";;;", "a=\xe9", '"', "a=" + "x" * 60_000, "ridesim-8050=\\377", "\x00=\x01"]
)
def test_an_odd_cookie_hurts_nobody(client, cookie):
    assert client.get("/", environ_overrides={"HTTP_COOKIE": cookie}).status_code == 200
