"""How rich each trial was against stock: by the jets, and by the air of the day."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from ridesim.answers.answer import Column, Step, Table
from ridesim.fueling.jets import LAW, LIMITS, flow_ratio, richness_ratio
from ridesim.garage.changes import THINGS, changes_between
from ridesim.garage.trials import OPENINGS, Settings, Trial, TrialAir
from ridesim.units import in_both

JETS = ("main jet", "pilot jet")
STOCK_AIR = TrialAir(altitude_m=0.0, temperature_k=288.15, humidity=0.0)


@dataclass(frozen=True, kw_only=True)
class Stock:
    """The settings the maker chose, and the air they are taken to be right in: by default dry air at sea level and 15 °C."""

    settings: Settings
    air: TrialAir = STOCK_AIR


@dataclass(frozen=True, kw_only=True)
class Trend:
    """One row a trial, with what the figures leave out."""

    table: Table
    assumptions: tuple[str, ...]
    notes: tuple[str, ...]


def air_richness(air: TrialAir, stock_air: TrialAir) -> float:
    """Richness by the air alone, with nothing changed:  sqrt(rho0 / rho), each rho_dry^2 / rho. Over 1 in thin or moist air. [-]

    >>> high, low = (TrialAir(altitude_m=h, temperature_k=288.15, humidity=0.0) for h in (2000.0, 0.0))
    >>> round(air_richness(high, low), 3)
    1.129
    """
    return float(richness_ratio(1.0, air.air().metering_density_kg_m3 / stock_air.air().metering_density_kg_m3))


def jet_richness(thing: str, settings: Settings, stock: Settings) -> float | None:
    """Flow of the jet fitted over flow of the stock jet; None where it can't be told."""
    name, numbering = THINGS[thing]
    fitted, original = getattr(settings, name), getattr(stock, name)
    if None in (fitted, original) or getattr(settings, numbering) != getattr(stock, numbering):
        return None
    return float(flow_ratio(original, fitted, numbering=getattr(stock, numbering)))


def turns_richer(settings: Settings, stock: Settings) -> float | None:
    """How far the mixture screw is on the rich side of stock, in turns; None where it can't be told."""
    now, original = settings.mixture_screw_turns_out, stock.mixture_screw_turns_out
    if (
        now is None
        or original is None
        or settings.mixture_screw is None
        or settings.mixture_screw != stock.mixture_screw
    ):
        return None
    return now - original if settings.mixture_screw == "fuel" else original - now


def grooves_richer(settings: Settings, stock: Settings) -> int | None:
    """How far the needle clip is on the rich side of stock, in grooves; None where it can't be told."""
    if settings.clip_position is None or stock.clip_position is None or settings.needle != stock.needle:
        return None
    return settings.clip_position - stock.clip_position


def cutaway_richer(settings: Settings, stock: Settings) -> float | None:
    """How far the slide is on the rich side of stock, in its numbers; None where it can't be told."""
    if settings.slide_cutaway is None or stock.slide_cutaway is None:
        return None
    return stock.slide_cutaway - settings.slide_cutaway


def trend(trials: Sequence[Trial], stock: Stock) -> Trend:
    """Relative richness by circuit of every trial, corrected for the air of its day, against stock in the stock's air.

    1.00 is stock in the stock's air, more is richer. Circuits without a known flow (screw, clip, slide) are given as steps
    on the rich side of stock; for those the air is in the column "by the air alone".
    """
    rows = []
    for number, one in enumerate(trials, start=1):
        air = air_richness(one.air, stock.air)
        by_jet = {thing: jet_richness(thing, one.settings, stock.settings) for thing in JETS}
        rows.append(
            {
                "trial": number,
                "ridden_at": one.ridden_at,
                "density_kg_m3": one.air.air().density_kg_m3,
                "air_richness": air,
                "main_richness": None if by_jet["main jet"] is None else by_jet["main jet"] * air,
                "pilot_richness": None if by_jet["pilot jet"] is None else by_jet["pilot jet"] * air,
                "turns_richer": turns_richer(one.settings, stock.settings),
                "grooves_richer": grooves_richer(one.settings, stock.settings),
                "cutaway_richer": cutaway_richer(one.settings, stock.settings),
                **{opening: one.verdicts.at(opening).says for opening in OPENINGS},
            }
        )
    columns = (
        Column(key="trial", label="Trial", reading="number"),
        Column(key="ridden_at", label="Ridden", reading="text"),
        Column(key="density_kg_m3", label="Air density", reading="density"),
        Column(key="air_richness", label="Richness by the air alone", reading="ratio"),
        Column(key="main_richness", label="Main jet richness", reading="ratio"),
        Column(key="pilot_richness", label="Pilot jet richness", reading="ratio"),
        Column(key="turns_richer", label="Mixture screw, turns richer", reading="ratio"),
        Column(key="grooves_richer", label="Needle clip, grooves richer", reading="number"),
        Column(key="cutaway_richer", label="Slide cutaway, numbers richer", reading="ratio"),
        *(Column(key=key, label=name.capitalize(), reading="text") for key, name in OPENINGS.items()),
    )
    return Trend(
        table=Table(title="Richness against stock", columns=columns, rows=tuple(rows)),
        assumptions=(
            LAW,
            *LIMITS[:3],
            f"stock is taken to be right in air of {in_both('density', stock.air.air().density_kg_m3)}",
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
    """The working of a jet's richness against stock in the air of a day."""
    ratio = jet_richness(thing, settings, stock.settings)
    if ratio is None:
        return None
    rho, rho0 = (one.air().metering_density_kg_m3 for one in (air, stock.air))
    name = THINGS[thing][0]
    now, original = getattr(settings, name), getattr(stock.settings, name)
    by_bore = getattr(settings, THINGS[thing][1]) == "bore"
    return Step(
        formula=f"{thing} richness: {'(d1/d0)^2' if by_bore else 'n1/n0'} sqrt(rho0/rho), rho = rho_dry^2/rho_moist",
        numbers=f"{f'({now:g}/{original:g})^2' if by_bore else f'{now:g}/{original:g}'} sqrt({rho0:.4f}/{rho:.4f})",
        result=f"{ratio * air_richness(air, stock.air):.4f}",
        source=LAW,
    )
