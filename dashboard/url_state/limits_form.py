"""What the rider needs of a sprocket pair, as it was typed beside the choice: every field, and how its text is read."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass
from typing import Any

from dashboard.url_state.fields import Spec, place, plain_text, reader
from ridesim import selection as choosing
from ridesim.buildfile.schema import LimitsSection
from ridesim.components.tire_marking import parse_marking
from ridesim.errors import InputError
from ridesim.selection.goals import EVERY_GOAL
from ridesim.statements import BothWays

_WORD = re.compile(r"[\w-]{20,40}", re.ASCII)  # of an open log
LONGEST = 1000  # characters of one field; a list of fifty tires is the longest there is
GARAGE = "garage"  # every log kept there with the bike
NO_LIMIT = "none"  # typed in place of a figure, it takes away the limit of the build file


LIMITS: dict[str, Spec] = {
    "revs-most": Spec(
        of="cruise_engine_speed_most",
        label="Engine speed at most",
        reading="engine speed",
        hint="at the cruising speed",
    ),
    "climb-least": Spec(of="first_gear_climb_least", label="Climb at least", reading="percent", hint="in first"),
    "lift-least": Spec(
        of="first_gear_lift_ratio_least",
        label="Lift ratio at least",
        reading="ratio",
        hint="in first; above 1 the front comes up",
    ),
    "walk-most": Spec(
        of="walking_speed_most",
        label="Walking speed at most",
        reading="speed",
        hint="in first, at the engine speed beside",
    ),
    "walk-at": Spec(of="walking_engine_speed", label="Walked at", reading="engine speed", hint="else at idle"),
    "top-least": Spec(of="top_speed_least", label="Top speed at least", reading="speed"),
    "time-most": Spec(
        of="time_0_100_most", label="0 to " + BothWays("100 km/h", "62 mph (100 km/h)") + " at most", reading="time"
    ),
    "roll-on-most": Spec(
        of="roll_on_60_100_most",
        label="Roll-on at most",
        reading="time",
        hint=BothWays("60 to 100 km/h", "37 to 62 mph (60 to 100 km/h)") + " in top gear",
    ),
}
RIDE_LIMITS: Mapping[str, Spec] = {
    "above-most": Spec(
        of="ride_time_above_most", label="Time above at most", reading="percent", hint="at the engine speed beside"
    ),
    "above-at": Spec(of="ride_engine_speed", label="Counted above", reading="engine speed"),
    "shifts-most": Spec(of="ride_shifts_per_hour_most", label="Shifts at most", reading="ratio", hint="an hour"),
    "fuel-most": Spec(
        of="ride_fuel_most", label=BothWays("Fuel at most", "Fuel economy at least"), reading="consumption"
    ),
    "range-least": Spec(of="ride_range_least", label="Range at least", reading="journey", hint="on a full tank"),
}
LIMITS |= RIDE_LIMITS
PARTS: Mapping[str, Spec] = {
    "fronts": Spec(label="Front sprockets available", hint="such as 13:18 or 14, 15"),
    "rears": Spec(label="Rear sprockets available", hint="such as 40:50"),
    "tires": Spec(label="Rear tires to consider", hint="markings with commas between", wide=True),
}
CHAINS: Mapping[str, Mapping[str, bool]] = {  # word -> what it makes of the limits
    "keep": {"keep_chain": True, "within_axle_travel": True},
    "travel": {"keep_chain": False, "within_axle_travel": True},
    "any": {"keep_chain": False, "within_axle_travel": False},
}
OF_LIBRARY = {limit.of: key for key, limit in LIMITS.items()} | {  # where the library finds fault -> field
    "front": "fronts",
    "rear": "rears",
    "tune": "tunes",
    "tires.rear.size": "tires",
    "tires.rear": "tires",
    "goal": "across",
    "stretch": "ride",
}


@dataclass(frozen=True, kw_only=True)
class LimitsForm:
    """The text of every field as it was typed; None where nothing was, and the build file stands."""

    revs_most: str | None = None
    climb_least: str | None = None
    lift_least: str | None = None
    walk_most: str | None = None
    walk_at: str | None = None
    top_least: str | None = None
    time_most: str | None = None
    roll_on_most: str | None = None
    above_most: str | None = None
    above_at: str | None = None
    shifts_most: str | None = None
    fuel_most: str | None = None
    range_least: str | None = None
    ride: str | None = None  # "garage", or the word of a log opened on the Road page
    chain: str | None = None
    fronts: str | None = None
    rears: str | None = None
    tires: str | None = None  # markings with commas between
    tunes: str | None = None  # names, one a line
    across: str | None = None
    up: str | None = None
    revs: str | None = None  # one engine speed wanted at the cruising speed

    def limits(self, limits: LimitsSection) -> LimitsSection:
        """The limits of the build file with those typed in their place."""
        typed = {limit.of: self.text(key) for key, limit in LIMITS.items()}
        for key in RIDE_LIMITS if not self.ride else ():
            if self.text(key) not in ("", NO_LIMIT):
                raise InputError(key, self.text(key), "needs a ride of yours", "Choose one beside it.")
        given = {of: "" if text == NO_LIMIT else text for of, text in typed.items() if text}
        return choosing.held_to(limits, **given, **(CHAINS[self.chain] if self.chain else {}))

    def only(self, *names: str) -> LimitsForm:
        """Some of the fields, the others empty."""
        return LimitsForm(**{name: getattr(self, name) for name in names})

    def text(self, key: str) -> str:
        """What a field holds."""
        return getattr(self, place(key)) or ""

    def teeth(self, key: str) -> tuple[int, ...] | None:
        """The sprockets available; None where nothing is typed."""
        text = self.text(key)
        return choosing.teeth(text, key) if text else None

    @property
    def tire_list(self) -> tuple[str, ...] | None:
        return tuple(listed(self.tires)) if self.tires else None

    @property
    def tune_list(self) -> tuple[str, ...] | None:
        return tuple(self.tunes.split("\n")) if self.tunes else None

    @property
    def goals(self) -> tuple[str, str]:
        """The two figures to trade."""
        across, up = choosing.DEFAULT_GOALS
        return self.across or across, self.up or up


def listed(text: str) -> list[str]:
    """What stands between commas.

    >>> listed("130/90-17, 140/80-17,")
    ['130/90-17', '140/80-17']
    """
    return [one.strip() for one in text.split(",") if one.strip()]


def _short(text: str) -> str:
    return plain_text(text, LONGEST)


def _limit(of: str) -> Callable[[str], str]:
    def read(text: str) -> str:
        plain = _short(text)
        if plain and plain != NO_LIMIT:
            choosing.held_to(LimitsSection(), **{of: plain})
        return plain

    return read


def _word(known: Iterable[str]) -> Callable[[str], str]:
    return reader(Spec(label="", options=dict.fromkeys(known, "")))


def _ride(text: str) -> str:
    if text and not (text in (GARAGE, "demo ride") or _WORD.fullmatch(text)):
        raise InputError("", text[:60], "is not a ride", "Open its log on the Road page, or keep it in the garage.")
    return text


def _sprockets(which: str, least: int, most: int) -> Callable[[str], str]:
    def read(text: str) -> str:
        plain = _short(text)
        if plain:
            choosing.teeth(plain, which, least, most)
        return plain

    return read


def _or_nothing(read: Callable[[str], str]) -> Callable[[str], str | None]:
    return lambda text: read(text) or None


def _tires(text: str) -> str:
    plain = _short(text)
    for one in listed(plain):
        parse_marking(one, "")
    return plain


KEYS: dict[str, tuple[str, Callable[[str], Any]]] = {
    f"need-{key}": (f"limits_form.{place(key)}", _or_nothing(read))
    for key, read in {
        **{key: _limit(limit.of) for key, limit in LIMITS.items()},
        "ride": _ride,
        "chain": _word(CHAINS),
        "fronts": _sprockets("front", *choosing.FRONT_TEETH),
        "rears": _sprockets("rear", *choosing.REAR_TEETH),
        "tires": _tires,
        "tunes": _short,
        "across": _word(EVERY_GOAL),
        "up": _word(EVERY_GOAL),
        "revs": reader(Spec(label="", kind="engine speed", unit="rev/min")),
    }.items()
}
