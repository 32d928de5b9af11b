"""A fit in numbers and words: every figure before and after, every reading beside its prediction, conflicts with what each would
mean alone."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any

import numpy as np

from ridesim.answers.text import number
from ridesim.buildfile import readings as kinds
from ridesim.buildfile.readings import Reading
from ridesim.evidence.amounts import Amount, amount, field_at, in_words
from ridesim.evidence.fit import DRAWS, WORTH, FittedErrors
from ridesim.evidence.next_reading import Next
from ridesim.evidence.predict import KINDS, measured, points
from ridesim.uncertainty.tolerances import PER_SD


@dataclass(frozen=True)
class Parameter:
    """A toleranced figure before and after the fit, SI; n is its place in the model.

    >>> Parameter(0, "road_load.drag_area", 0.66, 0.06, 0.62, 0.021).words()
    ('0.660 ± 0.060 m²', '0.620 ± 0.021 m²')
    """

    n: int
    path: str
    before: float
    before_plus_minus: float
    after: float
    after_plus_minus: float

    def words(self, system: str = "metric") -> tuple[str, str]:
        """Both in the unit of the build file, or in US units."""
        field = field_at(self.path)
        pairs = ((self.before, self.before_plus_minus), (self.after, self.after_plus_minus))
        before, after = (in_words(amount(*pair, field.kind, field.unit, system)) for pair in pairs)
        return before, after


def parameters(fit: FittedErrors) -> tuple[Parameter, ...]:
    """The toleranced figures of the build and its tunes; the air of a reading's own day is none of them.

    That of a curve's error is the share of its sheet: 1 as written.
    """
    own = [
        tolerance.cause for (_, air), bike in fit.model.bikes.items() if air is None for tolerance in bike.tolerances
    ]
    rows = []
    for n, tolerance in enumerate(fit.model.tolerances):
        if tolerance.cause in own or not tolerance.path.startswith("air."):
            rows.append(Parameter(n, tolerance.path, tolerance.value, tolerance.plus_minus, *fit.posterior.figure(n)))
    return tuple(rows)


def fit_object(fit: FittedErrors) -> dict[str, Any]:
    """The fit as one JSON object, SI; readings count from 0.

    null stands for what the bike does not do: a prediction, and how far the reading lies off (z, in standard
    deviations).
    """

    def plain(values: Any) -> Any:
        listed = [float(one) if np.isfinite(one) else None for one in values]
        return listed[0] if len(listed) == 1 else listed

    return {
        "name": fit.model.build.name,
        "parameters": [{key: value for key, value in vars(one).items() if key != "n"} for one in parameters(fit)],
        "evidence": [
            {
                "index": n,
                "kind": reading.kind,
                "measured": plain(fit.fitter.y[n]),
                "predicted": plain(fit.step.at[n]),
                "z": fit.z[n],
                "used": n in fit.used,
            }
            for n, reading in enumerate(fit.readings)
        ],
        "conflicts": list(fit.conflicts),
        "notes": list(notes(fit)),
    }


def says(fit: FittedErrors) -> tuple[str, ...]:
    """What an answer notes about a bike that was fitted; nothing where there is no reading."""
    used = len(fit.used)
    told = (
        f"figures and their tolerances are those of the fit to {used} reading{'' if used == 1 else 's'} of [[evidence]]"
    )
    if fit.conflicts:
        left = ", ".join(f"{n + 1} ({fit.readings[n].kind})" for n in fit.conflicts)
        told += f"; left out, since in conflict with the others: {left}"
    return (told,) if fit.readings else ()


def next_object(found: Next) -> dict[str, Any]:
    """What to measure next as one JSON object, SI; certainty and limit only for the verdict."""
    sure = {} if found.certainty is None else {"limit": found.limit, "certainty": found.certainty}
    candidates = []
    for one in found.candidates:
        said = one.reading.model_dump(include={"axle", "with_", "gear"}, by_alias=True)
        then = {} if one.certainty_then is None else {"certainty_then": one.certainty_then}
        candidates.append(
            {
                "kind": one.reading.kind,
                "plus_minus_then": one.plus_minus_then,
                "share_narrower": one.share_narrower,
                **then,
                **said,
                "label": label(one.reading),
                "within": error_words(one.reading),
                "how": one.how,
                "caution": one.caution,
            }
        )
    return {
        "figure": found.figure,
        "label": found.label,
        "value": found.value,
        "plus_minus": found.plus_minus,
        **sure,
        "candidates": candidates,
    }


def error_words(reading: Reading, system: str = "metric") -> str:
    """How far a reading may be off, figure by figure, in the unit of its key or in US units.

    >>> error_words(kinds.TopSpeed.model_validate({"kind": "top speed", "value": "127 +- 2 km/h"}), "us")
    '± 1.2 mph'
    """
    y, covariance = measured(reading)
    off = PER_SD * np.sqrt(np.diag(covariance))
    told = []
    for value, width, how in zip(y, off, KINDS[type(reading)].values, strict=False):
        one = amount(value, width, how.kind, how.unit, system)
        told.append(in_words(Amount(one.plus_minus, 0.0, one.unit, one.plus_minus)))
    return "± " + ", ± ".join(told)


def label(reading: Reading, system: str = "metric") -> str:
    """A reading in few words, in "metric" or "us" units.

    >>> run = {"kind": "timed run", "from": "60 km/h", "to": "100 km/h", "gear": 5, "time": "8.0 +- 0.2 s"}
    >>> label(kinds.TimedRun.model_validate(run)), label(kinds.TimedRun.model_validate(run), "us")
    ('60 km/h to 100 km/h in gear 5', '37.3 mph to 62.1 mph in gear 5')
    """

    def at(value: float, kind: str, unit: str) -> str:
        return in_words(amount(float(value), 0.0, kind, unit, system))

    match reading:
        case kinds.AxleWeight():
            return f"{reading.axle} axle, {'with rider' if reading.with_ == 'rider' else 'bike alone'}"
        case kinds.SpeedAtEngineSpeed():
            return f"speed at {at(reading.engine_speed, 'engine speed', 'rev/min')} in gear {reading.gear}"
        case kinds.Consumption():
            return f"consumption at {at(reading.speed, 'speed', 'km/h')}"
        case kinds.TimedRun():
            how = f"in gear {reading.gear}" if isinstance(reading.gear, int) else reading.gear
            return f"{at(reading.from_, 'speed', 'km/h')} to {at(reading.to, 'speed', 'km/h')} {how}"
        case kinds.WheelPower():
            where = [at(speed, "engine speed", "rev/min") for speed, _ in points(reading)]
            return f"wheel power at {where[0]}" if len(where) == 1 else f"wheel power at {len(where)} points"
    return reading.kind


def shown(fit: FittedErrors, n: int, system: str = "metric") -> tuple[str, str]:
    """What was measured and what the fit predicts, each figure of a reading with what it may be off."""
    reading = fit.readings[n]
    values = KINDS[type(reading)].values
    off = PER_SD * np.sqrt(np.diag(fit.fitter.covariances[n]))
    slopes = fit.step.slopes[n]
    open_ = PER_SD * np.sqrt(np.einsum("ij,jk,ik->i", slopes, fit.step.covariance, slopes))
    told: tuple[list[str], list[str]] = ([], [])
    for k, (value, width, says, spread) in enumerate(zip(fit.fitter.y[n], off, fit.step.at[n], open_, strict=True)):
        kind, unit = values[min(k, len(values) - 1)].kind, values[min(k, len(values) - 1)].unit
        told[0].append(in_words(amount(value, width, kind, unit, system)))
        told[1].append(in_words(amount(says, spread, kind, unit, system)) if np.isfinite(says) else "—")
    return "; ".join(told[0]), "; ".join(told[1])


def conflict_words(fit: FittedErrors, system: str = "metric") -> Iterator[str]:
    """Each conflict, with what the reading would mean alone: the figure that it moves most, where the others leave it."""
    by = {one.n: one for one in parameters(fit)}
    for n in fit.conflicts:
        measured, predicted = shown(fit, n, system)
        z = fit.z[n]
        assert z is not None  # only a reading that was predicted can conflict
        rest = "the others" if fit.used else "the build as written"
        told = f"reading {n + 1} ({label(fit.readings[n], system)}) says {measured}, {rest} {predicted}: "
        text = f"{told}{number(abs(z), 1)} standard deviations apart, so that something is off"
        alone = fit.fitter.solve([n]).u
        moved = max(by, key=lambda k: abs(alone[k]), default=None)
        if moved is not None and abs(alone[moved]) > 0.1:
            one = by[moved]
            field = field_at(one.path)
            value = (
                fit.posterior.value(moved, float(alone[moved] / PER_SD)) * one.after / fit.posterior.figure(moved)[0]
            )
            means = in_words(amount(value, 0.0, field.kind, field.unit, system, like=one.after_plus_minus))
            text += f"; alone it would mean {one.path} {means}, where {rest} say{'' if fit.used else 's'} {one.words(system)[1]}"
        yield f"{text}. It is left out of the fit: take it again, or what it stands against"


def notes(fit: FittedErrors, system: str = "metric") -> tuple[str, ...]:
    """What to know beside the figures."""
    told = [*conflict_words(fit, system)]
    if not fit.readings:
        told.append(
            'the file holds no readings: add some, such as [[evidence]] with kind = "roll-out" and value = "2.071 +- 0.004 m"'
        )
    for n, reading in enumerate(fit.readings):
        if not fit.fitter.predictable[n]:
            told.append(
                f"reading {n + 1} ({label(reading, system)}) was not used: the bike of this file does not do that, or lacks a figure it takes"
            )
        elif not fit.step.slopes[n].any():
            told.append(
                f"reading {n + 1} ({label(reading, system)}) teaches nothing: no figure it depends on carries a tolerance"
            )
    if fit.poor:
        paths = ", ".join(fit.model.tolerances[n].path for n in fit.poor)
        told.append(
            f"held to {DRAWS} draws through the kernel the linear step is not good enough for {paths}: take their bands as rough"
        )
    elif fit.worth < WORTH:
        told.append(
            f"held to {DRAWS} draws through the kernel the linear step is rough ({100 * fit.worth:.0f} % of them count)"
        )
    return tuple(told)
