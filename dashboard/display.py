"""From SI to what is read: the one place of the pages that converts, always through ridesim.units."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from typing import Any

import numpy as np

from ridesim.answers import Answer, Column, Figure
from ridesim.answers.answer import Change
from ridesim.answers.text import band_words, change_words, figure_words, number, shown, verdict
from ridesim.answers.text import sentence as say
from ridesim.errors import InputError
from ridesim.plots.charts import Axis
from ridesim.report.columns import heading
from ridesim.units import COUNTED, READINGS, field_text, quantity, shown_in, unit_of, value_and_unit
from ridesim.units import unit_words as unit_name

__all__ = [
    "axis",
    "band_places",
    "band_words",
    "change_words",
    "field_text",
    "figure_words",
    "heading",
    "number",
    "say",
    "shown",
    "uncertainty_places",
    "unit_name",
    "unit_of",
    "verdict",
]


def written_unit(reading: str, system: str) -> str:
    """The unit as it can be typed and read back."""
    how = READINGS[reading]
    return how.metric if system == "metric" else how.us


axis = Axis
_BARE = re.compile(
    r"\s*[+\u2212-]?[\d.,][\d.,' \u2019\u00a0\u202f]*"
)  # a number, with commas and thousands as people type them


def with_unit(typed: str, reading: str, system: str) -> str:
    """What was typed, a bare number with the unit that is shown.

    >>> with_unit("105", "speed", "metric"), with_unit("62 mph", "speed", "metric"), with_unit("0,9", "small length", "us")
    ('105 km/h', '62 mph', '0,9 in')
    """
    return f"{typed} {written_unit(reading, system)}".rstrip() if _BARE.fullmatch(typed) else typed


def with_error(value: str, off: str, reading: str, system: str) -> str:
    """A figure and how far it may be off, as a build file has them: one text in the unit of the figure.

    >>> with_error("2.071", "4 mm", "length", "metric"), with_error("0,62", "10 %", "area", "metric")
    ('2.071 +- 0.004 m', '0,62 m^2 +- 10 %')
    """
    kind, own = READINGS[reading].kind, with_unit(value, reading, system)
    number_text, unit = value_and_unit(own)
    if off.strip().endswith("%"):
        return f"{own} +- {off}" if unit != "%" else f"{number_text} +- {off.strip()}"
    spread, other = value_and_unit(off)
    width = float(quantity(spread, "ratio", "", ""))
    if other and other != unit and kind not in ("temperature", "fuel consumption"):
        scale = [float(quantity(f"1 {one}", kind, one, "")) for one in (other, unit)]
        spread = f"{width * scale[0] / scale[1]:.6g}"
    elif other and other != unit:
        raise InputError("", off, f"is not in {unit}", "Write both in the same unit.")
    return f"{number_text} +- {spread} {unit}".rstrip()


# the unit at the end of a worked line -> how its figure is read in US units
_ENDS = {
    "kg": "mass",
    "N": "force",
    "N·m": "torque",
    "N m": "torque",
    "kW": "power",
    "W": "power",
    "km/h": "speed",
    "m/s": "speed",
    "m/s2": "acceleration",
    "mm": "small length",
    "m": "length",
    "mm2": "small area",
    "m2": "area",
    "m^2": "area",
    "Pa": "pressure",
    "hPa": "pressure",
    "K": "temperature",
    "kg/m3": "density",
    "l/100 km": "consumption",
    "km": "journey",
    "l": "volume",
}
_RESULT = re.compile(
    r"(?:^|= |^up to )([-\u22120-9.,]+) ("
    + "|".join(map(re.escape, sorted(_ENDS, key=len, reverse=True)))
    + r")(?= \[| in | for | on |$)"
)


SMALL_AREA_M2 = 1e-5  # below it hundredths of a square inch say nothing


def result_words(text: str, system: str) -> str:
    """The result of a worked line; in US units with what it is in those behind it: the working itself stays in SI.

    >>> result_words("1889 N in first", "us"), result_words("A = 0.4495 mm2", "us"), result_words("up to 18384 W on the day", "us")
    ('1889 N (425 lbf) in first', 'A = 0.4495 mm2 (0.00070 in²)', 'up to 18384 W (24.7 hp) on the day')
    """
    found = _RESULT.search(text) if system == "us" else None
    if found is None:
        return text
    reading = _ENDS[found[2]]
    unit = (
        found[2].replace("·", "*").replace("m2", "m^2").replace("m3", "m^3").replace("s2", "s^2").replace(" km", "km")
    )
    try:
        si = quantity(f"{found[1]} {unit}", READINGS[reading].kind, unit, "")
    except InputError:
        return text
    reading = "bore area" if reading == "small area" and si < SMALL_AREA_M2 else reading
    return f"{text[: found.end()]} ({shown(float(si), reading, 'us')}){text[found.end() :]}"


def rounded(si: Any, reading: str, system: str) -> Any:
    """SI figures as the numbers that are read, for a table that sorts by them.

    >>> rounded([27.7778, float("nan")], "speed", "us").tolist()
    [62.1, nan]
    """
    plain = np.asarray(si, dtype=float)
    value, _, decimals = (plain, "", 1) if reading in COUNTED else shown_in(plain, reading, system)
    return np.round(value, decimals)


def band_places(change: Change, system: str) -> Mapping[str, float] | None:
    """Where two bands and their values lie between the least and the most of both, in hundredths; None without bands."""
    ends = [change.now.low, change.now.high, change.planned.low, change.planned.high]
    values = [change.now.value, change.planned.value]
    if change.now.reading in COUNTED or any(end is None for end in ends) or any(value is None for value in values):
        return None
    read = [float(shown_in(e, change.now.reading, system)[0]) for e in (*ends, *values)]
    least, most = min(read), max(read)
    if not most > least:
        return None
    names = ("now_low", "now_high", "planned_low", "planned_high", "now", "planned")
    places = {name: 100.0 * (value - least) / (most - least) for name, value in zip(names, read, strict=True)}
    for which in ("now", "planned"):
        low, high = sorted((places[f"{which}_low"], places[f"{which}_high"]))
        places[f"{which}_low"], places[f"{which}_high"] = low, high
    return places


WIDEST = 0.25  # of a figure, either way: what the bar of its uncertainty can show


def uncertainty_places(figure: Figure) -> Mapping[str, float] | None:
    """Where the band of a figure begins, its value lies and its band ends, in hundredths of a scale that is WIDEST either way of
    the value; None without a band.

    >>> uncertainty_places(Figure(key="p", label="Power", value=100.0, reading="power", low=90.0, high=150.0))
    {'low': 30.0, 'value': 50.0, 'high': 100.0}
    """
    if figure.low is None or figure.high is None or figure.reading in COUNTED or not figure.value:
        return None
    value = float(figure.value)
    ends = sorted(50.0 + 50.0 * (end / value - 1.0) / WIDEST for end in (figure.low, figure.high))
    low, high = (round(min(max(place, 0.0), 100.0), 1) for place in ends)
    return {"low": low, "value": 50.0, "high": high} if high > low else None


def cells(columns: Sequence[Column], row: Mapping[str, Any], system: str) -> list[str]:
    """A row of a table in words, without units: those stand in the headings."""
    return [shown(row[column.key], column.reading, system, unit=False) for column in columns]


def figure_of(answer: Answer, key: str, system: str) -> str:
    """One figure of an answer in words, or a dash when the answer has none of that name."""
    found = answer.figures.get(key)
    return "—" if found is None else figure_words(found, system)
