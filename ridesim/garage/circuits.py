"""Which setting rules at which throttle opening, which way is richer, how far a step goes: common practice, no source."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from types import MappingProxyType
from typing import Any

from ridesim.errors import one, several, whole
from ridesim.fueling.jets import LEAST_SIZE, MOST_OFFERED, MOST_SIZE
from ridesim.garage.changes import THINGS, worded
from ridesim.garage.trend import (
    JETS,
    Stock,
    air_richness,
    cutaway_richer,
    grooves_richer,
    jet_richness,
    turns_richer,
)
from ridesim.garage.trials import MOST_GROOVES, Settings, TrialAir

# In the order they are worked on: the main jet first, at wide open throttle, because its fuel reaches down into the
# openings below; then idle; then the needle between the two; the slide last, because a slide is dear and seldom wrong.
ORDER: Mapping[str, tuple[str, ...]] = MappingProxyType(
    {
        "three_quarters_to_full": ("main jet",),
        "closed_to_eighth": ("mixture screw", "pilot jet"),
        "quarter_to_three_quarters": ("needle clip",),
        "eighth_to_quarter": ("slide cutaway",),
    }
)
TURN = 0.25  # of the mixture screw, one step
SAME_AIR = 1.005  # half a hundredth richer is no difference a rider can tell


@dataclass(frozen=True, kw_only=True)
class Obtainable:
    """What can be had and what fits: the sizes of jets and slides by their stamped numbers, the grooves of the needle.

    The mixture screw is taken to work between least_turns and most_turns out; past either end another pilot jet is due.
    """

    main_jets: tuple[float, ...] = ()
    pilot_jets: tuple[float, ...] = ()
    slide_cutaways: tuple[float, ...] = ()
    clip_grooves: int = 5
    least_turns: float = 0.5
    most_turns: float = 3.0

    def __post_init__(self) -> None:
        for name, least, most in (
            ("main_jets", LEAST_SIZE, MOST_SIZE),
            ("pilot_jets", LEAST_SIZE, MOST_SIZE),
            ("slide_cutaways", 0.0, 20.0),
        ):
            sizes = getattr(self, name)
            if not isinstance(sizes, tuple | list) or sizes:
                sizes = several(
                    f"obtainable.{name}", sizes, least, most, "", longest=MOST_OFFERED, fix="List the sizes."
                )
            object.__setattr__(self, name, tuple(sorted(set(sizes))))
        whole("obtainable.clip_grooves", self.clip_grooves, 1, MOST_GROOVES, "Count the grooves of the needle.")
        one("obtainable.least_turns", self.least_turns, 0.0, 20.0, "", "Give turns from gently seated.")
        one("obtainable.most_turns", self.most_turns, self.least_turns, 20.0, "", "Give turns from gently seated.")


@dataclass(frozen=True, kw_only=True)
class Margin:
    """How far to the lean side of stock a proposal may go, and no further.

    richness    share below stock's richness, corrected for the air [-]
    grooves     of the needle clip; its effect on the mixture is not known without the needle's taper
    turns       of the mixture screw
    cutaway     in the slide's numbers
    """

    richness: float = 0.03
    grooves: int = 1
    turns: float = 1.0
    cutaway: float = 0.5

    def __post_init__(self) -> None:
        for name, most in (("richness", 0.2), ("grooves", 4), ("turns", 4.0), ("cutaway", 4.0)):
            one(f"margin.{name}", getattr(self, name), 0.0, most, "", "Keep close to stock; lean running does damage.")


def is_richer(thing: str, settings: Settings) -> int:
    """+1 where a greater number is richer, -1 where it is leaner, 0 where it can't be told."""
    if thing == "mixture screw":
        return {"fuel": 1, "air": -1, None: 0}[settings.mixture_screw]
    return -1 if thing == "slide cutaway" else 1


def set_to(settings: Settings, thing: str, value: Any) -> Settings:
    """The settings with one thing set otherwise."""
    return replace(settings, **{THINGS[thing][0]: value})


def stepped(thing: str, settings: Settings, richer: bool, obtainable: Obtainable) -> Settings | str:
    """The settings one step richer or leaner, or why there is no such step."""
    now = getattr(settings, THINGS[thing][0])
    if now is None:
        return f"the {thing} is not written down"
    sign = is_richer(thing, settings) * (1 if richer else -1)
    if sign == 0:
        return "it is not written down whether the mixture screw is a fuel screw or an air screw"
    if thing == "needle clip":
        value = now + sign
        possible = 1 <= value <= obtainable.clip_grooves
    elif thing == "mixture screw":
        value = now + sign * TURN
        possible = obtainable.least_turns <= value <= obtainable.most_turns
    else:
        sizes = {"main jet": obtainable.main_jets, "pilot jet": obtainable.pilot_jets}.get(
            thing, obtainable.slide_cutaways
        )
        if not sizes:
            way = "richer" if richer else "leaner"
            return f"no {thing} that can be had is named, so which is the next {way} one is not known: name them"
        beyond = [size for size in sizes if (size - now) * sign > 0]
        value = min(beyond, key=lambda size: abs(size - now), default=now)
        possible = value != now
    if not possible:
        way = "richer" if richer else "leaner"
        return f"there is no step {way} than {worded(thing, (now, None))} on the {thing}"
    return set_to(settings, thing, value)


def too_lean(thing: str, settings: Settings, stock: Stock, air: TrialAir, margin: Margin) -> str | None:
    """Why settings are too lean to be proposed: past the margin from stock, or not to be compared with it; else None."""
    unknown = f"how lean it would be against stock can't be told for the {thing}, so it is not made leaner"
    if thing in JETS:
        ratio = jet_richness(thing, settings, stock.settings)
        if ratio is None:
            return unknown
        richness = ratio * air_richness(air, stock.air)
        if richness < 1.0 - margin.richness:
            return (
                f"the {thing} {worded(thing, (getattr(settings, THINGS[thing][0]), None))} would make {richness:.3f} of "
                f"stock's richness in today's air, under the limit of {1.0 - margin.richness:.3f}"
            )
        return None
    steps, most = {
        "mixture screw": (turns_richer(settings, stock.settings), margin.turns),
        "needle clip": (grooves_richer(settings, stock.settings), margin.grooves),
        "slide cutaway": (cutaway_richer(settings, stock.settings), margin.cutaway),
    }[thing]
    if steps is None:
        return unknown
    if -steps > most + 1e-9:
        return f"the {thing} would be {-steps:g} to the lean side of stock, past the limit of {most:g}"
    return None


def not_richer(
    thing: str, one: tuple[Settings, TrialAir], other: tuple[Settings, TrialAir], stock: Stock
) -> bool | None:
    """Whether one setting of a thing, in its air, makes a mixture no richer than another in its own; None: can't be told.

    A jet and its air make one figure. For the screw, the clip and the slide only the setting is compared, and the air has
    to be much the same, or lean as well.
    """
    by_air = air_richness(one[1], other[1])
    if thing in JETS:
        first, second = (jet_richness(thing, settings, stock.settings) for settings, _ in (one, other))
        return None if first is None or second is None else first / second * by_air <= SAME_AIR
    values = [getattr(settings, THINGS[thing][0]) for settings, _ in (one, other)]
    signs = {is_richer(thing, settings) for settings, _ in (one, other)}
    if None in values or len(signs) != 1 or signs == {0}:
        return None
    return (values[0] - values[1]) * signs.pop() <= 0 and by_air <= SAME_AIR
