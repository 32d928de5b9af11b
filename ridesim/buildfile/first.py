"""A first build from the few figures a rider knows by heart: text of a build file, its guesses marked as such."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator, Mapping
from typing import Any

import tomlkit

from ridesim.buildfile.guessed_curve import CURVE_ERROR, WHY, GuessedCurve, points_from_peaks
from ridesim.buildfile.io import Build, parse
from ridesim.buildfile.schema import Masses, Quantity
from ridesim.errors import InputError, InputErrors, each
from ridesim.units import in_unit, quantity, rpm, split_list

PLACES = {  # where the library finds fault -> the field of the form
    "masses.bike": "bike",
    "masses.rider": "rider",
    "tires.rear.size": "tire",
    "final_drive.front": "front",
    "final_drive.rear": "rear",
    "gearbox.gears": "gears",
    "gearbox.primary": "primary",
}
FIELDS = (*PLACES.values(), "torque", "torque_at", "power", "power_at")
LEAST_PEAK_RPM, MOST_PEAK_RPM = 1000, 20000  # no engine of a motorcycle has a peak outside
# a gearbox nobody counted, and a data sheet with one peak: common practice, no source
TYPICAL_PRIMARY, TYPICAL_GEARS = 2.6, (2.6, 1.75, 1.32, 1.06, 0.88)
POWER_PEAK_AT = 1.33  # engine speed of peak power over that of peak torque
TORQUE_THERE = 0.87  # torque there, over the peak
ONE_PEAK_ERROR = 0.15  # how far the torque may be off that was guessed from one peak
ONE_PEAK = "shape guessed from one peak, the other taken in the usual place; replace it with measured points"
LEAST_FINAL = 1.2  # rear teeth over front teeth


def ratios(text: str, where: str) -> list[Any]:
    """Gear ratios as a rider writes them: "30/12 28/16" are teeth, "2.5, 1.75" or "2,5 1,75" are ratios.

    >>> ratios("30/12, 1.75", "gears"), ratios("2,5 1,75", "gears")
    ([[30, 12], 1.75], [2.5, 1.75])
    """
    found: list[Any] = []
    for word in split_list(text):
        driven, slash, driving = word.partition("/")
        if slash and driven.isdigit() and driving.isdigit() and len(word) < 9:
            found.append([int(driven), int(driving)])
        else:
            found.append(float(quantity(word, "ratio", "", where)))
    if not found:
        raise InputError(where, None, "is empty", "Write the ratios from first to top, such as 2.50 1.75 1.31.")
    return found


def ratios_text(values: Any) -> str:
    """Ratios of a build file as a rider writes them.

    >>> ratios_text([[30, 12], 1.75])
    '30/12, 1.75'
    """
    return ", ".join(f"{v[0]}/{v[1]}" if isinstance(v, list | tuple) else f"{v:g}" for v in values)


def first_build(given: Mapping[str, Any]) -> Build:
    """The build of the form; every problem of it is told at its field (InputErrors).

    Without a gearbox a typical five-speed is taken and marked as a guess; of the two peaks one will do.

    Parameters
    ----------
    given : mapping
        Texts by the names in FIELDS: masses in kg and peaks in N*m, kW and rev/min unless they name a unit. What is left out
        counts as empty.

    Returns
    -------
    Build

    Examples
    --------
    >>> known = {"bike": "140", "rider": "80", "tire": "110/90-17", "front": "14", "rear": "44"}
    >>> build = first_build({**known, "torque": "26", "torque_at": "5000"})
    >>> build.record.gearbox.ratios_are_a_guess, f"{build.record.tune['first'].curve_error:.2f}"
    (True, '0.15')
    >>> first_build({**known, "rear": "4x"})
    Traceback (most recent call last):
    ridesim.errors.InputErrors: rear = '4x': is not a whole number of teeth. Count the teeth of the sprocket.
    torque: is empty. Fill it in.
    torque_at: is empty. Fill it in.
    """
    errors: list[InputError] = []
    given = {key: "" if given.get(key) is None else str(given[key]).strip() for key in FIELDS}
    guessed_ratios = not (given["gears"] or given["primary"])

    def read(key: str, how: Any) -> Any:
        text = given[key]
        try:
            if not text:
                raise InputError(key, None, "is empty", "Fill it in.")
            return how(text)
        except InputError as error:
            errors.extend(InputError(key, one.got, one.problem, one.fix) for one in each(error))
            return None

    def measured(kind: str, unit: str) -> Any:
        return lambda text: float(quantity(text, kind, unit, ""))

    texts = {
        "bike": read("bike", _checked("bike")),
        "rider": read("rider", _checked("rider")),
        "tire": read("tire", str),
        "front": read("front", _teeth),
        "rear": read("rear", _teeth),
        "gears": list(TYPICAL_GEARS) if guessed_ratios else read("gears", lambda text: ratios(text, "gears")),
        "primary": TYPICAL_PRIMARY if guessed_ratios else read("primary", lambda text: ratios(text, "primary")[0]),
    }
    torque, power = given["torque"] or given["torque_at"], given["power"] or given["power_at"]
    peaks = []
    if torque or not power:
        peaks += [read("torque", measured("torque", "N*m")), read("torque_at", _peak_speed)]
    if power:
        peaks += [read("power", measured("power", "kW")), read("power_at", _peak_speed)]
    if not (torque and power) and None not in peaks:
        peaks = _both_peaks(*peaks, torque=bool(torque))
    errors += _questions(texts)
    try:
        curve = None if None in peaks else points_from_peaks(*peaks)
    except InputError as error:
        errors.append(error)
    if errors or curve is None:
        raise InputErrors(errors)
    try:
        return parse(_text(texts, curve, guessed_ratios, one_peak=not (torque and power)))
    except InputError as error:
        places = ((PLACES.get(where := one.where.split("[")[0], where), one) for one in each(error))
        raise InputErrors(InputError(place, one.got, one.problem, one.fix) for place, one in places) from None


def _checked(key: str) -> Callable[[str], str | float]:
    """How a mass is read: within its bounds, and kept as it was typed."""
    bounds = next(one for one in Masses.model_fields[key].metadata if isinstance(one, Quantity))

    def read(text: str) -> str | float:
        bounds.read(text)
        return float(text) if re.fullmatch(r"[+-]?(\d+(\.\d*)?|\.\d+)", text) else text

    return read


def _teeth(text: str) -> int:
    if not (text.isascii() and text.isdigit() and len(text) < 4):
        raise InputError("", text, "is not a whole number of teeth", "Count the teeth of the sprocket.")
    return int(text)


def _peak_speed(text: str) -> float:
    speed = float(quantity(text, "engine speed", "rev/min", ""))
    if not LEAST_PEAK_RPM <= rpm(speed) <= MOST_PEAK_RPM:
        fix = "Is a digit missing? Such as 6500."
        raise InputError("", text, f"is {rpm(speed):,.0f} rev/min, where no such engine has a peak", fix)
    return speed


def _questions(texts: Mapping[str, Any]) -> Iterator[InputError]:
    """What can be read but hardly be meant."""
    front, rear = texts["front"], texts["rear"]
    if front is not None and rear is not None and rear < LEAST_FINAL * front:
        problem = f"is hardly more than the {front} of the front sprocket"
        fix = "Is that the front one twice? Most have two to four times as many behind."
        yield InputError("rear", str(rear), problem, fix)
    for key, first in (("primary", texts["primary"]), ("gears", next(iter(texts["gears"] or ()), None))):
        if isinstance(first, list) and first[0] == first[1]:
            fix = "Count both wheels: driven first, driving second."
            yield InputError(key, f"{first[0]}/{first[1]}", "has the same count twice, which gears nothing down", fix)


def _both_peaks(height: float, at: float, *, torque: bool) -> list[float]:
    """Peak torque and peak power with their engine speeds, from one of the two.

    >>> [round(one, 1) for one in _both_peaks(40.0, 400.0, torque=True)]
    [40.0, 400.0, 18513.6, 532.0]
    """
    if torque:
        return [height, at, TORQUE_THERE * height * POWER_PEAK_AT * at, POWER_PEAK_AT * at]
    return [height / (TORQUE_THERE * at), at / POWER_PEAK_AT, height, at]


def _text(texts: Mapping[str, Any], curve: GuessedCurve, guessed_ratios: bool, one_peak: bool) -> str:
    points = [[round(float(rpm(w)), 2), round(float(in_unit(t, "N*m", "torque")), 6)] for w, t in curve.points]
    document = tomlkit.document()
    document.add(tomlkit.comment("A first build from a few figures. Fill in the rest as you measure it."))
    document["name"] = "My bike"
    document["masses"] = {"bike": texts["bike"], "rider": texts["rider"]}
    document["engine"] = {"rev_limit": int(points[-1][0])}
    gearbox: dict[str, Any] = {"primary": texts["primary"], "gears": texts["gears"]}
    if guessed_ratios:
        gearbox["ratios_are_a_guess"] = True
    document["gearbox"] = gearbox
    document["final_drive"] = {"front": texts["front"], "rear": texts["rear"]}
    document["tires"] = {"rear": {"size": texts["tire"]}}
    document["tune"] = {
        "first": {
            "measured_at": "crank",
            "points": points,
            "points_are": "N*m",
            "curve_error": f"{ONE_PEAK_ERROR if one_peak else CURVE_ERROR:.0%}".replace("%", " %"),
            "note": ONE_PEAK if one_peak else curve.said or WHY,
        }
    }
    return tomlkit.dumps(document)
