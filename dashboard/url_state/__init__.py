"""What the rider is looking at: one frozen record that goes into a link whole and comes back the same."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field, replace
from functools import cache
from typing import Any
from urllib.parse import parse_qsl, urlencode

from dashboard.url_state.fields import KEYS as FIELD_KEYS
from dashboard.url_state.fields import FieldTexts, example_keys
from dashboard.url_state.garage_text import KeptText, kept_text
from dashboard.url_state.limits_form import KEYS as LIMIT_KEYS
from dashboard.url_state.limits_form import LimitsForm
from dashboard.url_state.packed import pack, unpack
from ridesim import reference
from ridesim.answers.front_wheel.body import TECHNIQUES
from ridesim.buildfile.io import json_schema
from ridesim.buildfile.schema import Masses, Quantity, RideSection
from ridesim.components.steering import MOVES_BACK_M
from ridesim.components.tire_marking import parse_marking
from ridesim.environment.road import surfaces
from ridesim.errors import InputError, did_you_mean

DEMO = "coast-single"
SYSTEMS = ("metric", "us")
MOST_FIELDS = 200
MOST_BACK_MM = round(1000 * MOVES_BACK_M)


@dataclass(frozen=True, kw_only=True)
class SetUp:
    """What one of the two set-ups has of its own; None leaves it as in the build file, or as it is now."""

    front: int | None = None
    rear: int | None = None
    rear_tire: str | None = None
    front_tire: str | None = None
    tune: str | None = None
    luggage: str | None = None

    def over(self, other: SetUp) -> SetUp:
        """This set-up, with what it leaves open taken from another."""
        return SetUp(**{k: v if v is not None else getattr(other, k) for k, v in vars(self).items()})


@dataclass(frozen=True, kw_only=True)
class State:
    """A bike, two set-ups of it, the ride they are asked about, and the units to read the answer in."""

    demo: str = DEMO
    own: str | None = None  # the rider's own build file, as text; it stands before the demo
    now: SetUp = field(default_factory=SetUp)
    planned: SetUp = field(default_factory=SetUp)
    cruise: str | None = None
    grade: str | None = None
    head_wind: str | None = None
    surface: str | None = None
    back: str | None = None  # how far back the rider sits in the side view
    gear: int | None = None  # the gear looked at, where a page looks at one
    technique: str | None = None  # how the front is brought up there; the gentlest unless given
    units: str = "metric"
    revision: str | None = None  # the revision in the garage that the rider's own build is, or was edited from
    fields: Any = field(default_factory=FieldTexts)  # what is asked on the bench
    example: str | None = None  # the fields that hold figures of an example, by their keys
    limits_form: LimitsForm = field(default_factory=LimitsForm)  # what is asked of a sprocket pair

    def __post_init__(self) -> None:
        if isinstance(self.own, KeptText):
            object.__setattr__(self, "revision", self.own.revision)
        elif self.own is None:
            object.__setattr__(self, "revision", None)

    @property
    def planned_whole(self) -> SetUp:
        """The planned set-up, with all that is left as it is now."""
        return self.planned.over(self.now)


@dataclass(frozen=True, kw_only=True)
class Problem:
    """A value that cannot be used: the key of its field, and a sentence."""

    key: str
    text: str


def demos() -> tuple[str, ...]:
    """The names of the builds that come along."""
    return tuple(sorted(path.stem for path in (reference.DATA / "demo").glob("*.toml")))


@cache
def teeth_limits(key: str) -> tuple[int, int]:
    """The fewest and most teeth of a sprocket, as the build file knows them."""
    of = json_schema()["$defs"]["FinalDrive"]["properties"][key]["anyOf"][0]
    return int(of["minimum"]), int(of["maximum"])


def _quantity(section: Any, key: str) -> Quantity:
    return next(one for one in section.model_fields[key].metadata if isinstance(one, Quantity))


def _whole(text: str) -> int:
    word = str(text).strip()
    if not (word.isascii() and word.removeprefix("-").isdigit() and len(word) <= 6):
        raise InputError("", text, "is not a whole number", "Write digits only.")
    return int(word)


def _teeth(key: str) -> Callable[[str], int]:
    def read(text: str) -> int:
        teeth, (least, most) = _whole(text), teeth_limits(key)
        if not least <= teeth <= most:
            raise InputError("", text, f"must be {least} to {most} teeth", "Count the teeth of the sprocket.")
        return teeth

    return read


def _measured(quantity: Quantity) -> Callable[[str], str]:
    def read(text: str) -> str:
        quantity.read(text)
        return text.strip()

    return read


def _marking(text: str) -> str:
    parse_marking(text, "")
    return text.strip()


def _named(*, known: Callable[[], Any], what: str) -> Callable[[str], str]:
    def read(text: str) -> str:
        if text not in known():
            raise InputError("", text, f"is not a {what}", did_you_mean(text, known()))
        return text

    return read


def _word(text: str) -> str:
    if not text.strip() or len(text) > 120 or not text.isprintable():
        raise InputError("", text, "is not a usable name", "Keep it under 120 plain characters.")
    return text


def _gear(text: str) -> int:
    gear = _whole(text)
    if not 1 <= gear <= 10:
        raise InputError("", text, "must be a gear from 1 to 10", "Count gears from first.")
    return gear


_SET_UP: dict[str, tuple[str, Callable[[str], Any]]] = {
    "front": ("front", _teeth("front")),
    "rear": ("rear", _teeth("rear")),
    "rear-tire": ("rear_tire", _marking),
    "front-tire": ("front_tire", _marking),
    "tune": ("tune", _word),
    "luggage": ("luggage", _measured(_quantity(Masses, "luggage"))),
}
# key in the link -> (place in the state, how its text is read)
KEYS: dict[str, tuple[str, Callable[[str], Any]]] = {
    "build": ("demo", _named(known=demos, what="build that comes along")),
    "revision": ("own", kept_text),  # before "own", which is what it was edited into
    "own": ("own", unpack),
    **{key: (f"now.{place}", read) for key, (place, read) in _SET_UP.items()},
    **{f"planned-{key}": (f"planned.{place}", read) for key, (place, read) in _SET_UP.items()},
    "head-wind": ("head_wind", _measured(_quantity(RideSection, "headwind"))),
    "surface": ("surface", _named(known=surfaces, what="known surface")),
    "back": ("back", _measured(Quantity("length", "mm", 0, MOST_BACK_MM))),
    "gear": ("gear", _gear),
    "technique": ("technique", _named(known=lambda: TECHNIQUES, what="technique")),
    "units": ("units", _named(known=lambda: SYSTEMS, what="system of units")),
    "example": ("example", example_keys),
    **FIELD_KEYS,
    **LIMIT_KEYS,
    # last, in this order: the sliders write them into the link in the browser
    "cruise": ("cruise", _measured(_quantity(RideSection, "cruise"))),
    "grade": ("grade", _measured(_quantity(RideSection, "grade"))),
}


def read_value(key: str, text: str) -> Any:
    """The value of one field of the state from its text; InputError names the key when it cannot be used."""
    try:
        return KEYS[key][1](text)
    except InputError as error:
        raise InputError(key, error.got, error.problem, error.fix) from None


def put(state: State, key: str, value: Any) -> State:
    """The state with one value changed, by its key in the link."""
    place = KEYS[key][0]
    if "." in place:
        which, name = place.split(".")
        return replace(state, **{which: replace(getattr(state, which), **{name: value})})
    return replace(state, **{place: value})


def get(state: State, key: str) -> Any:
    """One value of the state, by its key in the link."""
    value: Any = state
    for name in KEYS[key][0].split("."):
        value = getattr(value, name)
    return value


def _pairs(state: State) -> Iterator[tuple[str, str]]:
    plain = State()
    for key in KEYS:
        value = state.revision if key == "revision" else get(state, key)
        if key == "own" and isinstance(value, KeptText):
            continue  # its revision says it all
        if value is not None and value != get(plain, key):
            yield key, pack(value) if key == "own" else str(value)


def to_query(state: State) -> str:
    """The state as the query of a link, with its question mark; nothing is written of what stands as it comes.

    >>> to_query(State(planned=SetUp(front=16)))
    '?planned-front=16'
    """
    words = urlencode(list(_pairs(state)), errors="replace")  # half a character is none
    return f"?{words}" if words else ""


def from_query(query: str | None) -> tuple[State, tuple[Problem, ...]]:
    """The state of a link and what of the link could not be used; such a value is left as it comes.

    >>> from_query("?front=fifteen")[1][0].key
    'front'
    """
    state, problems = State(), []
    try:
        pairs = parse_qsl((query or "").lstrip("?"), keep_blank_values=True, max_num_fields=MOST_FIELDS)
    except ValueError:
        return state, (Problem(key="link", text=f"The link has more than {MOST_FIELDS} values. It is left out."),)
    for key, text in pairs:
        try:
            key = re.sub("^might-", "planned-", key)  # as older links have it
            if key not in KEYS:
                raise InputError(key[:40], None, "is not known in a link", did_you_mean(key, KEYS))
            state = put(state, key, read_value(key, text))
        except InputError as error:
            problems.append(Problem(key=key, text=f"{error} It is left out."))
    return state, tuple(problems)
