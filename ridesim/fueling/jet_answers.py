"""What another jet does, and which jet keeps the mixture in other air, as answers."""

from __future__ import annotations

from collections.abc import Iterator

from ridesim.answers.answer import Answer, Figure, Figures, table_of
from ridesim.answers.solved import Solved
from ridesim.environment.air import Air
from ridesim.errors import one
from ridesim.fueling import JETTING
from ridesim.fueling.jets import LAW, LIMITS, NUMBERED, STAMPED, JetForAir, JetSize, Numbering, flow_ratio
from ridesim.fueling.mixture_power import mixture_worth, torque_change, worth_assumptions

SAME = 5e-4  # of the mixture: less is not said
AIR_SHOWN = (
    ("pressure_pa", "Pressure", "pressure"),
    ("temperature_k", "Temperature", "temperature"),
    ("relative_humidity", "Humidity", "percent"),
    ("density_kg_m3", "Density", "density"),
)


def jet_change(size: float, new_size: float, *, numbering: Numbering, solved: Solved | None = None) -> Answer:
    """What another jet does to the fuel, with everything else the same, and what that costs where the first is right.

    Parameters
    ----------
    size, new_size : float
        As stamped, 5 to 1000. [-]
    numbering : "bore" or "flow"
        What the numbers mean.
    solved : Solved, optional
        A bike worked out with the right jet in it: the cost in its roll-on too.

    Returns
    -------
    Answer

    Raises
    ------
    InputError
        A size outside the range, or another numbering.

    Examples
    --------
    >>> str(jet_change(120, 126, numbering="flow"))[:73]
    'From 120 to 126 (numbered by flow) passes 5.0 % more fuel at the same suc'
    """
    old, new = one("jet.size", size, *STAMPED), one("jet.new_size", new_size, *STAMPED)
    ratio = float(flow_ratio(old, new, numbering=numbering))
    worth = mixture_worth(ratio, solved)
    power = "^2" if numbering == "bore" else ""
    passes = f"passes {_more(ratio, 'more', 'less')} fuel at the same suction. "
    return Answer(
        question="What does another jet do?",
        say=(
            f"From {old:g} to {new:g} ({NUMBERED[numbering]}) {passes}",
            *worth.say(f"Where {old:g} is right, {new:g} "),
        ),
        figures=Figures(
            Figure("flow", f"Fuel through {new:g} over {old:g}", ratio, "ratio"),
            *worth.figures(f", {new:g} for {old:g}"),
        ),
        tables=(
            table_of(
                "Fuel at the same suction",
                ("size", "Jet", "number", [old, new]),
                ("more", "Fuel against now", "percent", [0.0, ratio - 1.0]),
            ),
        ),
        assumptions=(
            f"jets {NUMBERED[numbering]}, as given",
            "same suction and shape of jet, so the same discharge coefficient",
            *worth_assumptions(),
        ),
        steps=(f"flow ratio = (new / old){power} = ({new:g} / {old:g}){power} = {ratio:.4f}",),
        cautions=JETTING,
    )


def jet_air_answer(
    found: JetForAir, right: Air, come: Air, *, assumed: tuple[str, ...] = (), solved: Solved | None = None
) -> Answer:
    """The jet that keeps the mixture from the air it was right in to the air to come, and what it costs to leave the old one in.

    With a bike worked out in the air to come, also in its roll-on. Twice the density asks for the fourth root of 2 in the bore: 1.189.

    >>> from ridesim.environment.air import air
    >>> from ridesim.fueling.jets import jet_for_air
    >>> thin, thick = (air(pressure_pa=p, temperature_k=288.15, relative_humidity=0.0) for p in (50e3, 100e3))
    >>> jet = jet_for_air(110, numbering="bore", step=2.5, metering_density_kg_m3=thick.metering_density_kg_m3,
    ...                   reference_metering_density_kg_m3=thin.metering_density_kg_m3)
    >>> jet_air_answer(jet, thin, thick).figures["exact"].value
    130.8
    """
    worth = mixture_worth(found.unchanged_richness_ratio, solved)
    jets = {key: [row[key] for row in found.rows()] for key in ("size", "richness_ratio")}
    _, least, most = torque_change(jets["richness_ratio"])
    return Answer(
        question="Which jet keeps the mixture in other air?",
        say=(f"{_for_air_says(found)} ", *worth.say(f"Left in, {found.size:g} ")),
        figures=Figures(
            Figure("right", "Density, air it was right in", right.density_kg_m3, "density"),
            Figure("come", "Density, air to come", come.density_kg_m3, "density"),
            Figure("unchanged", f"Mixture with {found.size:g} left in", found.unchanged_richness_ratio, "ratio"),
            Figure(
                "exact",
                "Size that keeps the mixture",
                round(found.exact_size, 1),
                "number",
                low=found.low_size if found.low_size != found.high_size else None,
                high=found.high_size if found.low_size != found.high_size else None,
            ),
            Figure("nearest", "Nearest available size", found.nearest.size, "number"),
            *worth.figures(f", {found.size:g} left in"),
        ),
        tables=(
            table_of(
                "Air",
                ("which", "", "text", ["was right in", "will run in"]),
                *(
                    (key, label, reading, [getattr(day, key) for day in (right, come)])
                    for key, label, reading in AIR_SHOWN
                ),
            ),
            table_of(
                "Available sizes around it",
                ("size", "Size", "number", jets["size"]),
                ("richness_ratio", "Mixture, 1 is as before", "ratio", jets["richness_ratio"]),
                ("least", "Torque, at worst", "percent", least),
                ("most", "Torque, at best", "percent", most),
            ),
        ),
        assumptions=(
            *assumed,
            *(
                f"{name}: " + text
                for name, day in (("air it was right in", right), ("air to come", come))
                for text in day.assumptions
            ),
            f"jets {NUMBERED[found.numbering]}, as given",
            LAW,
            *LIMITS[:2],
            found.offered,
            *worth_assumptions(),
        ),
        steps=(*right.steps, *come.steps, *_air_steps(found, right, come)),
        notes=LIMITS[2:],
        cautions=JETTING,
    )


def _air_steps(found: JetForAir, right: Air, come: Air) -> Iterator[str]:
    density, reference = come.metering_density_kg_m3, right.metering_density_kg_m3
    ratio, exact = density / reference, found.exact_size
    exponent, power = ("1/4", 2) if found.numbering == "bore" else ("1/2", 1)
    yield f"ratio of rho_dry^2 / rho = {density:.4f} / {reference:.4f} = {ratio:.4f}"
    yield f"richness with the old jet = ratio^(-1/2) = {ratio:.4f}^(-1/2) = {found.unchanged_richness_ratio:.4f}"
    yield f"size that keeps the mixture = size x ratio^({exponent}) = {found.size:g} x {ratio:.4f}^({exponent}) = {exact:.2f}"
    for row in found.rows():
        size = row["size"]
        yield f"richness with {size:g} = ({size:g} / {exact:.2f})^{power} = {row['richness_ratio']:.4f}"


def _for_air_says(found: JetForAir) -> str:
    unchanged, nearest = found.unchanged_richness_ratio, found.nearest
    runs = f"In this air jet {found.size:g} runs {_more(unchanged, 'richer', 'leaner')}"
    first = "The air asks for no change" if abs(unchanged - 1) < SAME else runs
    told = [f"{first}; {found.exact_size:.1f} would keep the mixture. Nearest is {nearest.size:g} ({_side(nearest)})"]
    for jet, name in ((found.rich_side, "rich"), (found.lean_side, "lean")):
        if jet is None:
            told.append(f"nothing you can get is {name}er")
        elif jet != nearest:
            told.append(f"{jet.size:g} is the {name} side ({_side(jet)})")
    return "; ".join(told) + "."


def _side(jet: JetSize) -> str:
    return "the same mixture" if abs(jet.richness_ratio - 1) < SAME else _more(jet.richness_ratio, "richer", "leaner")


def _more(ratio: float, above: str, below: str) -> str:
    return f"{100 * abs(ratio - 1):.1f} % {above if ratio >= 1 else below}"
