"""What jets, circuits and idle screws say, as answers: the same for the terminal, the pages and a notebook."""

from __future__ import annotations

from typing import Any

from ridesim.answers.answer import Answer, Column, Figure, Figures, Table, plain
from ridesim.answers.solved import Solved
from ridesim.environment.air import Air
from ridesim.fueling.circuits import Diagnosis, Parts
from ridesim.fueling.jets import LIMITS, JetChange, JetForAir
from ridesim.fueling.mixture import READINGS, MixtureSetting
from ridesim.fueling.mixture_power import mixture_worth, torque_change, worth_assumptions
from ridesim.statements import Assumption


def jet_change_answer(found: JetChange, solved: Solved | None = None) -> Answer:
    """From one jet to another, with everything else the same, and what that costs where the first is right.

    With a bike worked out with the right jet in it, also in its roll-on.

    >>> from ridesim.fueling.jets import jet_change
    >>> round(jet_change_answer(jet_change(120, 126, numbering="bore")).figures["flow"].value, 4)
    1.1025
    """
    worth = mixture_worth(found.flow_ratio, solved)
    return Answer(
        question="What does another jet do?",
        say=(f"{found.sentence} ", *worth.say(f"Where {found.size:g} is right, {found.new_size:g} ")),
        figures=Figures(
            Figure(
                key="flow",
                label=f"Fuel through {found.new_size:g} over {found.size:g}",
                value=found.flow_ratio,
                reading="ratio",
            ),
            *worth.figures(f", {found.new_size:g} for {found.size:g}"),
        ),
        tables=(
            Table(
                title="Fuel at the same suction",
                columns=(
                    Column(key="size", label="Jet", reading="number"),
                    Column(key="more", label="Fuel against now", reading="percent"),
                ),
                rows=(
                    {"size": found.size, "more": 0.0},
                    {"size": found.new_size, "more": found.flow_ratio - 1.0},
                ),
            ),
        ),
        assumptions=(*found.assumptions, *worth_assumptions()),
        steps=found.steps,
        cautions=found.cautions,
    )


def jet_air_answer(
    found: JetForAir, right: Air, come: Air, *, assumed: tuple[str, ...] = (), solved: Solved | None = None
) -> Answer:
    """The jet that keeps the mixture from the air it was right in to the air to come, and what it costs to leave the old one in.

    With a bike worked out in the air to come, also in its roll-on.
    """
    worth = mixture_worth(found.unchanged_richness_ratio, solved)
    _, least, most = torque_change([row["richness_ratio"] for row in found.rows()])
    rows = tuple(
        row | {"least": plain(low), "most": plain(high)}
        for row, low, high in zip(found.rows(), least, most, strict=True)
    )
    airs = (("was right in", right), ("will run in", come))
    return Answer(
        question="Which jet keeps the mixture in other air?",
        say=(f"{found.sentence} ", *worth.say(f"Left in, {found.size:g} ")),
        figures=Figures(
            Figure(key="right", label="Density, air it was right in", value=right.density_kg_m3, reading="density"),
            Figure(key="come", label="Density, air to come", value=come.density_kg_m3, reading="density"),
            Figure(
                key="unchanged",
                label=f"Mixture with {found.size:g} left in",
                value=found.unchanged_richness_ratio,
                reading="ratio",
            ),
            Figure(
                key="exact",
                label="Size that keeps the mixture",
                value=round(found.exact_size, 1),
                reading="number",
                low=found.low_size if found.low_size != found.high_size else None,
                high=found.high_size if found.low_size != found.high_size else None,
            ),
            Figure(key="nearest", label="Nearest available size", value=found.nearest.size, reading="number"),
            *worth.figures(f", {found.size:g} left in"),
        ),
        tables=(
            Table(
                title="Air",
                columns=(
                    Column(key="which", label="", reading="text"),
                    Column(key="pressure_pa", label="Pressure", reading="pressure"),
                    Column(key="temperature_k", label="Temperature", reading="temperature"),
                    Column(key="relative_humidity", label="Humidity", reading="percent"),
                    Column(key="density_kg_m3", label="Density", reading="density"),
                ),
                rows=tuple(
                    {
                        "which": which,
                        "pressure_pa": one.pressure_pa,
                        "temperature_k": one.temperature_k,
                        "relative_humidity": one.relative_humidity,
                        "density_kg_m3": one.density_kg_m3,
                    }
                    for which, one in airs
                ),
            ),
            Table(
                title="Available sizes around it",
                columns=(
                    Column(key="size", label="Size", reading="number"),
                    Column(key="richness_ratio", label="Mixture, 1 is as before", reading="ratio"),
                    Column(key="least", label="Torque, at worst", reading="percent"),
                    Column(key="most", label="Torque, at best", reading="percent"),
                ),
                rows=rows,
            ),
        ),
        assumptions=(
            *assumed,
            *(
                f"{name}: {text}"
                for name, one in (("air it was right in", right), ("air to come", come))
                for text in one.assumptions
            ),
            *found.assumptions,
            *worth_assumptions(),
        ),
        steps=(*right.steps, *come.steps, *found.steps),
        notes=LIMITS[2:],
        cautions=found.cautions,
    )


def circuit_answer(parts: Parts, judged: Diagnosis | None = None) -> Answer:
    """Which part sets the mixture at an opening, and what to do where the engine says it is lean or rich there."""
    rows: list[dict[str, Any]] = [{"name": one.name, "share": one.share} for one in parts.shares]
    if judged is not None:
        rows += [{"name": name, "share": 0.0} for name in parts.no_say]
    source = parts if judged is None else judged
    return Answer(
        question="Which part, which way, what first?",
        say=(parts.sentence,) if judged is None else (f"{judged.sentence} {parts.sentence}",),
        figures=Figures(
            *(
                Figure(
                    key=row["name"],
                    label=f"Share of the {row['name']}",
                    value=row["share"],
                    reading="percent",
                )
                for row in rows
            )
        ),
        tables=(
            Table(
                title="How much each part matters at this opening",
                columns=(
                    Column(key="name", label="Part", reading="text"),
                    Column(key="share", label="Share", reading="percent"),
                ),
                rows=tuple(rows),
            ),
        ),
        assumptions=source.assumptions,
        steps=source.steps,
        cautions=source.cautions,
    )


def idle_answer(found: MixtureSetting) -> Answer:
    """Where the mixture screw belongs, with the limits that the readings leave."""
    return Answer(
        question="Where does the mixture screw belong?",
        say=(found.sentence,),
        figures=Figures(
            Figure(
                key="best",
                label="Best setting, turns out",
                value=found.best_turns,
                reading="ratio",
                low=found.low_turns,
                high=found.high_turns,
            ),
            Figure(key="speed", label="Idle there", value=found.engine_speed_rad_s, reading="engine speed"),
            Figure(key="scatter", label="Scatter of the readings", value=found.scatter_rad_s, reading="engine speed"),
            Figure(key="pilot", label="Pilot circuit", value=found.mixture, reading="text"),
        ),
        tables=(
            Table(
                title="Readings",
                columns=(
                    Column(key="turns", label="Turns out", reading="ratio"),
                    Column(key="engine_speed_rad_s", label="Idle", reading="engine speed"),
                    Column(key="used", label="Fitted", reading="yes or no"),
                ),
                rows=found.rows(),
            ),
        ),
        assumptions=found.assumptions,
        steps=found.steps,
        notes=tuple(one for one in found.assumptions if isinstance(one, Assumption) and one.path == READINGS),
        cautions=found.cautions,
    )
