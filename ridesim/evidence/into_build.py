"""The fitted bike as a build file of its own: every figure the fit moved with its new tolerance, the readings taken out, since
they are in the figures."""

from __future__ import annotations

from typing import Any

from ridesim.buildfile.io import Build
from ridesim.buildfile.readings import Consumption
from ridesim.errors import InputError
from ridesim.evidence.amounts import field_at
from ridesim.evidence.fit import FittedErrors
from ridesim.evidence.report import Parameter, parameters
from ridesim.uncertainty.tolerances import PER_SD
from ridesim.units import in_unit

MOVED = 1e-6  # of a tolerance: less is none


def into_build(fit: FittedErrors) -> Build:
    r"""The build of a fit with its figures and tolerances written anew. What hangs together is not kept: a build file
    holds each tolerance for itself, so that some bands come out wider than those of the fit.

    A curve's error scales its points, an efficiency becomes the consumption that it makes.

    Raises
    ------
    InputError
        A tune whose points have units of their own, and cannot be scaled.

    Examples
    --------
    >>> import ridesim as rs
    >>> from ridesim.buildfile.io import parse
    >>> from ridesim.evidence.fit import fit
    >>> read = '\n[[evidence]]\nkind = "roll-out"\nvalue = "2.0 +- 0.004 m"\n'
    >>> made = into_build(fit(parse(rs.demo("coast-single").build.text + read)))
    >>> made.record.tires.rear.rollout.written, made.record.evidence
    ('1.998769 +- 0.00333 m', ())
    """
    build = fit.model.build
    changes: dict[str, Any] = {"evidence": None}
    for one in parameters(fit):
        moved = abs(one.after - one.before) + abs(one.after_plus_minus - one.before_plus_minus)
        if moved > MOVED * one.before_plus_minus:
            changes |= _written(build, one)
    return build.changed(changes | _consumption(fit))


def _written(build: Build, one: Parameter) -> dict[str, Any]:
    path, place = one.path, None
    if path == "fuel.indicated_efficiency":
        return {}  # no key of a file: a consumption figure stands for it
    if path.endswith(".curve_error"):
        return _curve(build, one)
    if path.endswith("]"):
        path, place = path[:-3], int(path[-2]) - 1
    section, key = ("tires.rear", "rollout") if path == "tires.rear.size" else path.rsplit(".", 1)
    text = _text(one.after, one.after_plus_minus, one.path)
    if place is None:
        return {f"{section}.{key}": text}
    listed = [str(term.written) for term in getattr(getattr(build.record, section), key)]
    listed[place] = text
    return {f"{section}.{key}": listed}


def _text(value: float, plus_minus: float, path: str) -> str:
    field = field_at(path)
    low, middle, high = (in_unit(value + turn * plus_minus, field.unit, field.kind) for turn in (-1.0, 0.0, 1.0))
    return f"{middle:.7g} +- {abs(high - low) / 2:.3g} {field.unit}".rstrip()


def _curve(build: Build, one: Parameter) -> dict[str, Any]:
    """The points of a tune in the share that the fit found, and what is left of their error."""
    import tomllib

    _, name, _ = one.path.split(".", 2)
    points = tomllib.loads(build.text)["tune"][name]["points"]
    if not all(isinstance(value, int | float) for _, value in points):
        raise InputError(
            f"tune.{name}.points", None, "have units of their own, and cannot be scaled", "Write them as plain numbers."
        )
    scaled = [[speed, round(value * one.after, 4)] for speed, value in points]
    error = f"{100.0 * one.after_plus_minus / one.after:.3g} %"
    return {f"tune.{name}.points": scaled, f"tune.{name}.curve_error": error}


def _consumption(fit: FittedErrors) -> dict[str, Any]:
    """What the fitted bike burns where a consumption was read, which is how a file holds its engine's efficiency."""
    for n in fit.used:
        reading = fit.readings[n]
        if isinstance(reading, Consumption) and reading.tune is None and reading.air is None:
            slopes = fit.step.slopes[n]
            spread = PER_SD * float(slopes[0] @ fit.step.covariance @ slopes[0]) ** 0.5
            text = _text(float(fit.step.at[n][0]), spread, "fuel.known_consumption[1]")
            return {"fuel.known_consumption": [text, reading.speed.written]}
    return {}
