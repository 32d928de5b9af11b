"""A rider's own texts in every place a build file has for one, found from its schema: what is said of a build may hold them, never read them.

The oracle is the same build with a harmless word of the same length in the same place: what is said of both must be the
same but for that word.
"""

from __future__ import annotations

import copy
import tomllib
from collections.abc import Callable, Iterator
from functools import cache
from typing import Any

import tomlkit

from ridesim import reference
from ridesim.bike import make_bike
from ridesim.buildfile.io import Build, json_schema, parse
from ridesim.errors import InputError, each

DATA = tomllib.loads((reference.DATA / "demo" / "coast-single.toml").read_text(encoding="utf-8"))
# without a blank, so that no line is broken within; "figures" are keys of answers
HOSTILE = (
    "{ratio.__format__.__globals__[sys].modules[os].environ}",
    "{power}{share}{best_at:size}{0}{}{{power}}%(power)s",
    "gravel{wet",
    "stage{2}}${HOME}$name`id`%s%%%n",
    "[bold][red]x[/][link=http://x]**x**[a](b)_c_#:smile:",
    "<b>x</b><font/><!--&amp;&lt;-->%{y}<br><extra></extra>\\d\\1\\n\\x1b",
)
UNPRINTABLE = ("\x1b[31mred", "a\x00b", "a\u202eb", "a\u200fb", "a\u2066b", "a\nb", "a\tb", "a\x9bb")


def word(hostile: str) -> str:
    """A harmless word in its place, which nothing else holds."""
    return ("Q" * len(hostile))[: len(hostile)]


def paths(schema: Any = None, at: str = "", root: Any = None) -> Iterator[str]:
    """Every place of a text: "surface.name", "tune.*" for a name that stands as a key, "limits.rear_tires[]" for a list."""
    root = json_schema() if root is None else root
    schema = root if schema is None else schema
    if "$ref" in schema:
        yield from paths(root["$defs"][schema["$ref"].rsplit("/", 1)[1]], at, root)
    for one in schema.get("anyOf", ()):
        if not {"description"} & set(schema):  # a quantity may be a text too, and is read as one
            yield from paths(one, at, root)
    if schema.get("type") == "string" and "enum" not in schema and "const" not in schema:
        yield at
    if isinstance(schema.get("items"), dict):
        yield from paths(schema["items"], f"{at}[]", root)
    if isinstance(schema.get("additionalProperties"), dict):
        yield f"{at}.*"
        yield from paths(schema["additionalProperties"], f"{at}.stock", root)
    for key, one in schema.get("properties", {}).items():
        yield from paths(one, f"{at}.{key}".lstrip("."), root)


def written(texts: dict[str, str]) -> Build:
    """The demo build with texts in some places."""
    data = copy.deepcopy(DATA)
    keys = {path: text for path, text in texts.items() if path.endswith(".*")}
    for path, text in texts.items():
        if path in keys:
            continue
        *tables_, key = path.removesuffix("[]").split(".")
        place = data
        for table in tables_:
            place = place.setdefault(table, {})
        place[key] = [text] if path.endswith("[]") else text
    for path, text in keys.items():
        table = data[path.removesuffix(".*")]
        table[text] = table.pop("stock")
        data["active"] = {path.removesuffix(".*"): text}
    return parse(tomlkit.dumps(data))


@cache
def refusals(text: str) -> dict[str, list[InputError]]:
    """What is said of the text by the place that refuses it: in every place at once, but for three that hide another or are hidden."""
    alone = ("tune.*", "tune.stock.points_are", "limits.tunes[]")
    found: dict[str, list[InputError]] = {}
    for texts in (dict.fromkeys(set(paths()) - set(alone), text), *({path: text} for path in alone)):
        try:
            make_bike(written(texts))
        except InputError as error:
            for one in each(error):
                place = "tune.*" if one.where.endswith("[key]") else one.where.replace("[1]", "[]")
                found.setdefault(place, []).append(one)
    return found


def accepted(text: str) -> dict[str, str]:
    """The text in every place that takes it, and takes the harmless word too."""
    taken = set(paths()) - refusals(text).keys() - refusals(word(text)).keys()
    # a text that must be the name of a tune is one where the tune has that name
    of_tunes = ("active.tune", "limits.tunes[]") if "tune.*" in taken else ()
    return dict.fromkeys((*sorted(taken), *of_tunes), text)


def strings(told: Any) -> Iterator[str]:
    """Every text in lists and tables."""
    if isinstance(told, str):
        yield told
    elif isinstance(told, dict):
        for key, one in told.items():
            yield key
            yield from strings(one)
    elif isinstance(told, list | tuple):
        for one in told:
            yield from strings(one)


def same_but_for(told: Callable[[Build], Any], hostile: str, spelt: Callable[[str], str] = str) -> int:
    """Hold what is told of both builds against each other; how often the text stands in it."""
    places = accepted(hostile)
    ours, theirs = (list(strings(told(written(dict.fromkeys(places, text))))) for text in (hostile, word(hostile)))
    plain = [one.replace(spelt(hostile), word(hostile)) for one in ours]
    assert plain == theirs
    return sum(one.count(spelt(hostile)) for one in ours)
