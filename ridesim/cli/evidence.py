"""`ridesim fit` and `ridesim measure-next`: the readings of a build joined into one bike, and which to take next."""

from __future__ import annotations

from dataclasses import replace as replace_in
from pathlib import Path

from ridesim.cli.given import build_of, demo_or_file, fitted
from ridesim.cli.options import BuildFile, JsonOption, ReplaceOption, UnitsOption, grouped, option
from ridesim.cli.output import tell_json
from ridesim.errors import InputError


@grouped
def fit(
    build: BuildFile,
    as_json: JsonOption = False,
    into: Path | None = option("Write the fitted bike, its tolerances and no readings, to this file.", otherwise=False),
    units: UnitsOption = "metric",
    replace: ReplaceOption = False,
) -> None:
    """Join all readings of a build into the most probable bike, and name those that conflict."""
    from ridesim import evidence
    from ridesim.answers.answer import Figures
    from ridesim.evidence.answers import fit_answer
    from ridesim.report.terminal import print_answer

    filed = build_of(build)
    if into is not None and into.resolve() == demo_or_file(build).resolve():
        fix = "Name another file: the fitted bike has its readings in its figures."
        raise InputError("--into", str(into), "is the build itself, whose readings would be lost", fix)
    found = evidence.fit(filed)
    if into is not None:
        evidence.into_build(found).save(into, replace=replace)
    if as_json:
        return tell_json(evidence.fit_object(found))
    lines = () if into is None else (f"{into}: written",)
    return print_answer(replace_in(fit_answer(found), figures=Figures()), units, lines=lines)


@grouped
def measure_next(
    build: BuildFile,
    figure: str = option(
        "The figure that matters, such as power_in_hand or top_speed, or verdict.", "--for", default="power_in_hand"
    ),
    as_json: JsonOption = False,
    units: UnitsOption = "metric",
) -> None:
    """What to measure next: each reading you could take, by how much narrower a figure would get."""
    from ridesim import evidence
    from ridesim.evidence.answers import next_answer
    from ridesim.report.terminal import print_answer

    found = evidence.measure_next(fitted(build), figure, "metric" if as_json else units)
    if as_json:
        return tell_json(evidence.next_object(found))
    return print_answer(next_answer(found), units)
