"""The callbacks of the app, posted as a browser posts them."""

from __future__ import annotations

import json
from collections.abc import Iterator, Mapping
from typing import Any

import plotly.graph_objects as go


def outputs_of(name: str) -> list[dict[str, Any]] | dict[str, Any]:
    """The outputs of a callback as the browser lists them."""
    if not name.startswith(".."):
        return _one(name)
    return [_one(part) for part in name.strip(".").split("...")]


def _one(part: str) -> dict[str, Any]:
    identity, prop = part.rsplit(".", 1)
    identity = identity.replace("\\.", ".")
    return {"id": json.loads(identity) if identity.startswith("{") else identity, "property": prop}


class Posted:
    """Every callback of the app, posted by one of its outputs."""

    def __init__(self, app: Any) -> None:
        self.client = app.server.test_client()
        self.dependencies = self.client.get("/_dash-dependencies").json

    def find(self, *parts: str) -> dict[str, Any]:
        """The callback that has every one of these outputs."""

        def outputs(one: dict[str, Any]) -> list[str]:
            names = one["output"].strip(".").split("...")
            return [*names, *(name.split("@")[0] for name in names)]

        found = [d for d in self.dependencies if set(parts) <= set(outputs(d))]
        assert len(found) == 1, [d["output"][:90] for d in found]
        return found[0]

    def post(
        self, *parts: str, values: dict[str, Any], patterns: Mapping[str, list[tuple[Any, Any]]] | None = None
    ) -> dict[str, Any]:
        """The response of a callback: {id: {property: value}}; `values` by "id.property", None where nothing is given. What stands
        for many is given in `patterns`, by the last word of its name: the id and the value of each.
        """
        one = self.find(*parts)

        def many(name: Any, prop: str) -> list[dict[str, Any]]:
            name = json.loads(name) if isinstance(name, str) else name
            word = next(value for value in reversed(name.values()) if isinstance(value, str))
            return [
                {"id": its, "property": prop, "value": its if prop == "id" else value}
                for its, value in (patterns or {})[word]
            ]

        def filled(wanted: list[dict[str, Any]]) -> list[Any]:
            return [
                many(w["id"], w["property"])
                if w["id"].startswith("{")
                else {"id": w["id"], "property": w["property"], "value": values.get(f"{w['id']}.{w['property']}")}
                for w in wanted
            ]

        outputs = outputs_of(one["output"])
        if patterns:
            outputs = [many(w["id"], w["property"]) if isinstance(w["id"], dict) else w for w in outputs]
        inputs = filled(one["inputs"])
        changed = next(iter(inputs[0] if isinstance(inputs[0], list) else inputs[:1]))
        name = changed["id"] if isinstance(changed["id"], str) else json.dumps(changed["id"], separators=(",", ":"))
        body = {
            "output": one["output"],
            "outputs": outputs,
            "inputs": inputs,
            "state": filled(one["state"]),
            "changedPropIds": [f"{name}.{changed['property']}"],
        }
        answer = self.client.post("/_dash-update-component", json=body)
        assert answer.status_code in (200, 204), answer.data[:500]
        return {} if answer.status_code == 204 else answer.json

    def unfolded(self, title: dict[str, str], query: str | None = "", search: str = "") -> dict[str, Any]:
        """What unfolding a section lays out, with what is looked at and what the address asks for."""
        one = next(d for d in self.dependencies if "room" in d["output"] and d["output"].endswith(".children"))
        room = {"kind": "room", "room": title["room"]}
        given = [
            [{**json.loads(w["id"]), "room": title["room"]}, w["property"]]
            for w in (*one["inputs"], *one["state"][:-2])
        ]
        values = [1, title, None]
        parts = [
            {"id": name, "property": prop, "value": value} for (name, prop), value in zip(given, values, strict=True)
        ]
        looked_at = [
            {"id": "query", "property": "data", "value": query},
            {"id": "place", "property": "search", "value": search},
        ]
        body = {
            "output": one["output"],
            "outputs": {"id": room, "property": "children"},
            "inputs": parts[:1],
            "state": [*parts[1:], *looked_at],
            "changedPropIds": [f"{json.dumps(title, separators=(',', ':'))}.n_clicks"],
        }
        answer = self.client.post("/_dash-update-component", json=body)
        assert answer.status_code == 200, answer.data[:500]
        return answer.json

    def page(self, page: str, query: str, theme: str = "light") -> dict[str, Any]:
        """What the callback of a page fills in for a query."""
        part = {"start": "start-of", "bike": "bike-said"}.get(
            page, f"{page}-{'figures' if page == 'sheet' else 'says'}"
        )
        framed = any(f"{page}-said.content" in one["output"] for one in self.dependencies)
        answer = self.post(
            f"{page}-said.content" if framed else f"{part}.children",
            values={"query.data": query, "theme.data": theme, "sprockets-wanted.value": "5000"},
        )
        filled = answer["response"]
        slots = filled.pop(f"{page}-said")["content"] if framed else {}
        return filled | {f"{page}-{name}": {"children": content} for name, content in slots.items()}


def figures_of(filled: dict[str, Any]) -> list[go.Figure]:
    """Every figure of an answer, held to the schema of the chart library; each has a caption, which names it, and a table twin."""
    figures = {name.removesuffix("-graph"): one["figure"] for name, one in filled.items() if "figure" in one}
    assert figures
    for stem in figures:
        assert len(filled[f"{stem}-caption"]["children"]) > 20, stem
        assert list(texts(filled[f"{stem}-table"]["children"])), stem
    return [go.Figure(one) for one in figures.values()]  # raises on anything that is not in the schema


def texts(component: Any) -> Iterator[str]:
    """Every text of a laid-out component, in order."""
    if isinstance(component, str):
        yield component
    elif isinstance(component, list):
        for one in component:
            yield from texts(one)
    elif isinstance(component, dict) and "props" in component:
        yield from texts(component["props"].get("children"))
        yield from texts(component["props"].get("content"))
