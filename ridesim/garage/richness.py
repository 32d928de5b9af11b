"""How rich each trial was against stock, by the jets and by the air; which setting rules where, and how far a step goes.

The second is common practice, no source.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from types import MappingProxyType

from ridesim.answers.answer import Answer, Figure, Figures, Step, table_of
from ridesim.errors import one, several, whole
from ridesim.fueling.jets import LAW, LEAST_SIZE, LIMITS, MOST_OFFERED, MOST_SIZE, flow_ratio, richness_ratio
from ridesim.garage.changes import THINGS, changes_between, worded
from ridesim.garage.trials import MOST_GROOVES, OPENINGS, Settings, Trial, TrialAir
from ridesim.units import either

JETS = ("main jet", "pilot jet")
STOCK_AIR = TrialAir(altitude_m=0.0, temperature_k=288.15, humidity=0.0)


@dataclass(frozen=True, kw_only=True)
class Stock:
    """The settings the maker chose, and the air they are taken to be right in: by default dry air at sea level and 15 °C.

    >>> round(Stock(settings=Settings(main_jet=120)).air.air().density_kg_m3, 3)
    1.225
    """

    settings: Settings
    air: TrialAir = STOCK_AIR


def air_richness(air: TrialAir, stock_air: TrialAir) -> float:
    """Richness by the air alone, with nothing changed:  sqrt(rho0 / rho), each rho_dry^2 / rho. Over 1 in thin or moist air. [-]

    >>> high, low = (TrialAir(altitude_m=h, temperature_k=288.15, humidity=0.0) for h in (2000.0, 0.0))
    >>> round(air_richness(high, low), 3)
    1.129
    """
    return float(richness_ratio(1.0, air.air().metering_density_kg_m3 / stock_air.air().metering_density_kg_m3))


def jet_richness(thing: str, settings: Settings, stock: Settings) -> float | None:
    """Flow of the jet fitted over flow of the stock jet, in the same air.

    Parameters
    ----------
    thing : str
        "main jet" or "pilot jet".
    settings, stock : Settings
        As it is, and as the maker set it.

    Returns
    -------
    float or None
        Over 1 is richer than stock; None where either is not written down or the two are numbered otherwise. [-]

    Examples
    --------
    A number by bore counts twice, for the flow goes with the area of the hole:

    >>> round(jet_richness("main jet", Settings(main_jet=126), Settings(main_jet=120)), 4)
    1.1025
    >>> jet_richness("main jet", Settings(main_jet=126, main_jet_numbering="flow"), Settings(main_jet=120)) is None
    True
    """
    name, numbering = THINGS[thing]
    fitted, original = getattr(settings, name), getattr(stock, name)
    if None in (fitted, original) or getattr(settings, numbering) != getattr(stock, numbering):
        return None
    return float(flow_ratio(original, fitted, numbering=getattr(stock, numbering)))


def steps_richer(thing: str, settings: Settings, stock: Settings) -> float | None:
    """How far the mixture screw is on the rich side of stock in turns, the clip in grooves, the slide in its numbers; None where
    it can't be told.

    >>> stock = Settings(mixture_screw="air", mixture_screw_turns_out=2.0)
    >>> steps_richer("mixture screw", Settings(mixture_screw="air", mixture_screw_turns_out=1.5), stock)
    0.5
    """
    now, original = (getattr(one, THINGS[thing][0]) for one in (settings, stock))
    beside = {"mixture screw": "mixture_screw", "needle clip": "needle"}.get(thing)
    sign = is_richer(thing, settings)
    if None in (now, original) or not sign or (beside and getattr(settings, beside) != getattr(stock, beside)):
        return None
    steps: float = (now - original) * sign
    return steps


def trend(trials: Sequence[Trial], stock: Stock, assumed: tuple[str, ...] = ()) -> Answer:
    """Relative richness by circuit of every trial, corrected for the air of its day, against stock in the stock's air.

    1.00 is stock in the stock's air, more is richer. Circuits without a known flow (screw, clip, slide) are given as steps
    on the rich side of stock; for those the air is in the column "by the air alone".

    Parameters
    ----------
    trials : sequence of Trial
        In the order ridden.
    stock : Stock
        What they are held against.
    assumed : tuple of str
        What was assumed of stock.

    Returns
    -------
    Answer
        A row for each trial; None in a row where a setting is not written down.

    Examples
    --------
    >>> from ridesim.garage.trials import Settings, Trial
    >>> high = TrialAir(altitude_m=2000.0, temperature_k=288.15, humidity=0.0)
    >>> ridden = [Trial(ridden_at="2031-05-04T09:30:00Z", air=high, settings=Settings(main_jet=size)) for size in (120, 115)]
    >>> table = trend(ridden, Stock(settings=Settings(main_jet=120))).tables[0]
    >>> [round(row["main_richness"], 3) for row in table.rows]
    [1.129, 1.037]
    """
    air = [air_richness(one.air, stock.air) for one in trials]

    def by_jet(thing: str) -> list[float | None]:
        flows = [jet_richness(thing, one.settings, stock.settings) for one in trials]
        return [None if flow is None else flow * by_air for flow, by_air in zip(flows, air, strict=True)]

    def richer(thing: str) -> list[float | None]:
        return [steps_richer(thing, one.settings, stock.settings) for one in trials]

    table = table_of(
        "Richness against stock, 1 is stock, more is richer",
        ("trial", "Trial", "number", range(1, len(trials) + 1)),
        ("ridden_at", "Ridden", "text", [one.ridden_at for one in trials]),
        ("density_kg_m3", "Air density", "density", [one.air.air().density_kg_m3 for one in trials]),
        ("air_richness", "Richness by the air alone", "ratio", air),
        ("main_richness", "Main jet richness", "ratio", by_jet("main jet")),
        ("pilot_richness", "Pilot jet richness", "ratio", by_jet("pilot jet")),
        ("turns_richer", "Mixture screw, turns richer", "ratio", richer("mixture screw")),
        ("grooves_richer", "Needle clip, grooves richer", "number", richer("needle clip")),
        ("cutaway_richer", "Slide cutaway, numbers richer", "ratio", richer("slide cutaway")),
        *(
            (key, name.capitalize(), "text", [one.verdicts.at(key).says or "not given" for one in trials])
            for key, name in OPENINGS.items()
        ),
    )
    first, last = (table.rows[place]["main_richness"] if trials else None for place in (0, -1))
    say = "The main circuit cannot be compared with stock: a main jet is not written down or numbered otherwise."
    if first is not None and last is not None:
        say = f"By jet and air the main circuit ran at {first:.3f} of stock in the first trial and {last:.3f} in the latest."
    return Answer(
        question="How rich was each trial?",
        say=(say,),
        figures=Figures(
            *(
                Figure(key, f"Main jet richness, {which} trial", value, "ratio")
                for key, which, value in (("first", "first", first), ("latest", "latest", last))
                if value is not None
            )
        ),
        tables=(table,),
        assumptions=(
            *assumed,
            LAW,
            *LIMITS[:3],
            "stock is taken to be right in air of " + either("density", stock.air.air().density_kg_m3),
        ),
        notes=not_in_the_figures([one.settings for one in trials], stock),
    )


def not_in_the_figures(settings: Sequence[Settings], stock: Stock) -> tuple[str, ...]:
    """What was changed that the richness figures do not count."""
    moved = {
        change.thing
        for one in settings
        for change in changes_between(stock.settings, one)[0]
        if change.thing in ("intake", "exhaust")
    }
    return tuple(
        f"The {thing} is not as stock. That changes the mixture too, mostly towards lean when it is opened, and the "
        "richness figures leave it out."
        for thing in sorted(moved)
    )


def richness_step(thing: str, settings: Settings, stock: Stock, air: TrialAir) -> Step | None:
    """The working of a jet's richness against stock in the air of a day; None where it can't be told.

    >>> print(richness_step("main jet", Settings(main_jet=115), Stock(settings=Settings(main_jet=120)), STOCK_AIR).result)
    0.9184
    """
    ratio = jet_richness(thing, settings, stock.settings)
    if ratio is None:
        return None
    rho, rho0 = (one.air().metering_density_kg_m3 for one in (air, stock.air))
    name = THINGS[thing][0]
    now, original = getattr(settings, name), getattr(stock.settings, name)
    by_bore = getattr(settings, THINGS[thing][1]) == "bore"
    return Step(
        f"{thing} richness: {'(d1/d0)^2' if by_bore else 'n1/n0'} sqrt(rho0/rho), rho = rho_dry^2/rho_moist",
        f"{f'({now:g}/{original:g})^2' if by_bore else f'{now:g}/{original:g}'} sqrt({rho0:.4f}/{rho:.4f})",
        f"{ratio * air_richness(air, stock.air):.4f}",
        LAW,
    )


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
    """What is available and what fits: the sizes of jets and slides by their stamped numbers, the grooves of the needle.

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
                where = f"obtainable.{name}"
                sizes = several(where, sizes, least, most, "", longest=MOST_OFFERED, fix="List the sizes.")
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
    """+1 where a greater number is richer, -1 where it is leaner, 0 where it can't be told.

    >>> [is_richer(thing, Settings(mixture_screw="air")) for thing in ("main jet", "mixture screw", "slide cutaway")]
    [1, -1, -1]
    """
    if thing == "mixture screw":
        return {"fuel": 1, "air": -1, None: 0}[settings.mixture_screw]
    return -1 if thing == "slide cutaway" else 1


def stepped(thing: str, settings: Settings, richer: bool, obtainable: Obtainable) -> Settings | str:
    """The settings one step richer or leaner, or why there is no such step.

    Parameters
    ----------
    thing : str
        A key of THINGS that ORDER works on.
    settings : Settings
        As they are.
    richer : bool
        Which way.
    obtainable : Obtainable
        The next size that is available is a step; a groove of the clip and a quarter turn of the screw are.

    Returns
    -------
    Settings or str

    Examples
    --------
    >>> sizes = Obtainable(main_jets=(115, 117.5, 120))
    >>> stepped("main jet", Settings(main_jet=120), False, sizes).main_jet
    117.5
    >>> stepped("main jet", Settings(main_jet=120), True, sizes)
    'there is no step richer than 120 on the main jet'
    """
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
            return f"no available {thing} is named, so the next {way} one is not known: name them"
        beyond = [size for size in sizes if (size - now) * sign > 0]
        value = min(beyond, key=lambda size: abs(size - now), default=now)
        possible = value != now
    if not possible:
        way = "richer" if richer else "leaner"
        return f"there is no step {way} than {worded(thing, (now, None))} on the {thing}"
    return replace(settings, **{THINGS[thing][0]: value})


def too_lean(thing: str, settings: Settings, stock: Stock, air: TrialAir, margin: Margin) -> str | None:
    """Why settings are too lean to be proposed: past the margin from stock, or not to be compared with it; else None.

    >>> stock = Stock(settings=Settings(main_jet=120))
    >>> print(too_lean("main jet", Settings(main_jet=119), stock, STOCK_AIR, Margin()))
    None
    >>> too_lean("main jet", Settings(main_jet=117), stock, STOCK_AIR, Margin())
    "the main jet 117 would make 0.951 of stock's richness in today's air, under the limit of 0.970"
    """
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
    steps = steps_richer(thing, settings, stock.settings)
    most = {"mixture screw": margin.turns, "needle clip": margin.grooves, "slide cutaway": margin.cutaway}[thing]
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
