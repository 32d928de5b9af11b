"""What the headings of a log say: which column is what, and in which unit."""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Mapping

from ridesim.roadlog.stamps import UNIT_NAMES, UNIT_S

_WORDS: Mapping[str, frozenset[str]] = {
    "engine speed": frozenset(["rpm", "revs", "drehzahl", "motordrehzahl", "regime", "giri", "toerental"]),
    "speed": frozenset(
        [
            "speed",
            "velocity",
            "geschwindigkeit",
            "tempo",
            "vitesse",
            "velocidad",
            "velocita",
            "snelheid",
            "v",
            "gpsspeed",
            "vss",
        ]
    ),
    "elevation": frozenset(["elevation", "altitude", "ele", "alt", "height", "hohe", "hoehe", "altitud", "quota"]),
    "latitude": frozenset(["latitude", "lat", "breite"]),
    "longitude": frozenset(["longitude", "lon", "lng", "long", "lange", "laenge"]),
    "time": frozenset(
        [
            "time",
            "timestamp",
            "datetime",
            "elapsed",
            "zeit",
            "zeitstempel",
            "uhrzeit",
            "temps",
            "tiempo",
            "hora",
            "epoch",
            "seconds",
            "t",
            "tijd",
        ]
    ),
}
_NOT_IT = frozenset(
    [
        "accuracy",
        "acc",
        "error",
        "limit",
        "max",
        "maximum",
        "min",
        "avg",
        "average",
        "mean",
        "vertical",
        "wind",
        "std",
        "sigma",
        "zone",
        "lap",
        "fan",
        "target",
        "set",
    ]
)
_UNITS: Mapping[str, Mapping[str, str]] = {
    "speed": {
        "m/s": "m/s",
        "mps": "m/s",
        "ms": "m/s",
        "m s-1": "m/s",
        "km/h": "km/h",
        "kmh": "km/h",
        "kph": "km/h",
        "kmph": "km/h",
        "mph": "mph",
        "mi/h": "mph",
        "kn": "kn",
        "kt": "kn",
        "kts": "kn",
        "knots": "kn",
    },
    "engine speed": {
        "rpm": "rpm",
        "rev/min": "rpm",
        "r/min": "rpm",
        "1/min": "rpm",
        "min-1": "rpm",
        "u/min": "rpm",
        "rad/s": "rad/s",
        "rev/s": "rev/s",
        "hz": "rev/s",
        **dict.fromkeys(("krpm", "x1000", "*1000", "1000rpm", "x1000rpm", "rpmx1000", "1000/min", "x1000/min"), "krpm"),
    },
    "elevation": {"m": "m", "ft": "ft", "feet": "ft"},
}
_SPEEDS_BY_UNIT = frozenset(["km/h", "kmh", "kph", "mph", "m/s"])  # a heading that is nothing but the unit
_CLOCKS = frozenset(["s", "ms", "us", "millis", "micros", "milliseconds", "microseconds", "sec", "secs"])
_ENGINES = frozenset(["engine", "motor", "crank", "crankshaft", "eng", "mot", "n"])
_SPELT = {  # units in words, brought to their signs
    **dict.fromkeys(("meter", "meters", "metre", "metres"), "m"),
    **dict.fromkeys(("kilometer", "kilometers", "kilometre", "kilometres"), "km"),
    **dict.fromkeys(("mile", "miles"), "mi"),
    **dict.fromkeys(("foot", "feet"), "ft"),
    **dict.fromkeys(("sec", "second", "seconds"), "s"),
    **dict.fromkeys(("hr", "hour", "hours"), "h"),
    **dict.fromkeys(("revolution", "revolutions", "revs"), "rev"),
    **dict.fromkeys(("minute", "minutes"), "min"),
    "per": "/",
}
_LONGEST = 200  # characters of a heading that are looked at
_BRACKETS = re.compile(r"[\[({]([^\])}]{1,30})[\])}]")


def plain(text: str) -> str:
    """Lower case without accents; CamelCase parted.

    >>> plain("Höhe"), plain("GpsSpeedKmh")
    ('hohe', 'gps speed kmh')
    """
    parted = re.sub(r"(?<=[a-z])(?=[A-Z])", " ", text)
    return "".join(c for c in unicodedata.normalize("NFKD", parted) if not unicodedata.combining(c)).lower()


def _words(name: str) -> list[str]:
    """The words of a heading outside its brackets; km/h is one word."""
    return [word for word in re.split(r"[^a-z0-9/]+", re.sub(r"[\[({].*", "", plain(name))) if word]


def _remarks(name: str) -> set[str]:
    """Words in brackets that are no unit, such as GPS in "Speed (GPS) (km/h)"."""
    told = (plain(one) for one in _BRACKETS.findall(name))
    return {word for one in told if not _is_unit(one) for word in re.split(r"[^a-z0-9]+", one)}


def _is_unit(text: str) -> bool:
    return any(_unit(text, role) for role in (*_UNITS, "time"))


def role_of(name: str) -> str | None:
    """What a heading says its column is.

    >>> [role_of(n) for n in ("Engine speed [rpm]", "GPS speed (km/h)", "speed accuracy", "Zeit", "RPM")]
    ['engine speed', 'speed', None, 'time', 'engine speed']
    >>> [role_of(n) for n in ("engine [1/min]", "engine [C]", "vss_kmh", "km/h", "Date/Time", "ms")]
    ['engine speed', None, 'speed', 'speed', 'time', 'time']
    """
    name = name[:_LONGEST]
    listed = _words(name)
    words = {part for word in listed for part in ([word] if _is_unit(word) else word.split("/"))}
    if (words | _remarks(name)) & _NOT_IT:
        return None
    if words and words <= _ENGINES and unit_in(name, "", "engine speed"):
        return "engine speed"  # the unit says which figure of the engine it is
    if len(listed) == 1 and listed[0] in _SPEEDS_BY_UNIT:
        return "speed"
    if (words & {"engine", "motor", "crank"} and words & {"speed", "revolutions"}) or words == {"n"}:
        return "engine speed"
    if len(listed) == 1 and listed[0] in _CLOCKS and listed[0] != "s":  # s is also a way
        return "time"
    return next((role for role, known in _WORDS.items() if words & known), None)


def unit_in(name: str, units_cell: str, role: str) -> str | None:
    """The unit a heading or the row of units under it names, in ridesim's spelling; None when none is named.

    >>> unit_in("speed_kmh", "", "speed"), unit_in("Drehzahl [U/min]", "", "engine speed"), unit_in("v", "m/s", "speed")
    ('km/h', 'rpm', 'm/s')
    >>> unit_in("Speed (GPS) (miles per hour)", "", "speed"), unit_in("RPM (x1000)", "", "engine speed")
    ('mph', 'krpm')
    """
    name = name[:_LONGEST]
    texts = [units_cell[:_LONGEST].strip(" \t[](){}"), *reversed(_BRACKETS.findall(name)), *reversed(_words(name))]
    return next((found for text in texts if text and (found := _unit(plain(text), role))), None)


def _unit(text: str, role: str) -> str | None:
    """A unit in ridesim's spelling, from plain text that is nothing else."""
    text = text.strip(" .").replace("^", "").replace("·", " ")
    if role == "time":
        short = UNIT_NAMES.get(text, text)
        return short if short in UNIT_S else None
    known = _UNITS.get(role, {})
    signs = "".join(_SPELT.get(word, word) for word in re.findall(r"[a-z]+|[^a-z\s]+", text))
    first = text.partition(" ")[0] if role == "elevation" else text  # ft above what, m of which geoid
    return known.get(text) or known.get(signs) or known.get(first)
