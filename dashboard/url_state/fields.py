"""What is asked on the pages of the bench and of the road: every field with its label, its plain value, and how its text is read."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, make_dataclass
from typing import Any

from ridesim.buildfile.values import STANDARDS as STANDARDS
from ridesim.errors import InputError, did_you_mean
from ridesim.units import quantity

LONGEST = 400  # characters of one field; a list of readings is the longest there is


@dataclass(frozen=True, kw_only=True)
class Spec:
    """One field.

    plain     its text while nothing is given; empty where it may stay empty, or where the build is asked
    kind      of quantity (ridesim.units.KINDS), with the unit of a bare number and how it is shown; "" for a text
    options   the words to choose from, each with what is shown for it
    wide      whether what is typed is long
    """

    label: str
    plain: str = ""
    kind: str = ""
    unit: str = ""
    reading: str = ""
    options: Mapping[str, str] | None = None
    hint: str = ""
    wide: bool = False


def _measure(label: str, plain: str, reading: str, **more: Any) -> Spec:
    kind, unit = {
        "bore": ("length", "mm"),
        "lift": ("length", "mm"),
        "distance": ("length", "m"),
        "temperature": ("temperature", "degC"),
        "percent": ("ratio", "%"),
        "pressure": ("pressure", "hPa"),
        "speed": ("speed", "km/h"),
        "engine speed": ("engine speed", "rev/min"),
    }[reading]
    return Spec(label=label, plain=plain, kind=kind, unit=unit, reading=reading, **more)


def _number(label: str, plain: str, **more: Any) -> Spec:
    return Spec(label=label, plain=plain, kind="ratio", **more)


def _air(which: str, altitude: str = "", temperature: str = "", humidity: str = "") -> dict[str, Spec]:
    return {
        f"{which}-altitude": _measure("Altitude", altitude, "distance"),
        f"{which}-temperature": _measure("Temperature", temperature, "temperature"),
        f"{which}-humidity": _measure("Humidity", humidity, "percent"),
        f"{which}-pressure": _measure("Air pressure", "", "pressure", hint="at the place, if a barometer is at hand"),
    }


def _needle(which: str, plain: Mapping[str, str], hint: str) -> dict[str, Spec]:
    end = "end diameter, such as 1.5 mm, or full taper angle, such as 1.6 deg"
    return {
        f"{which}-straight": _measure("Straight diameter", plain.get("straight", ""), "bore", hint=hint),
        f"{which}-start": _measure("Top groove to taper", plain.get("start", ""), "bore", hint=hint),
        f"{which}-length": _measure("Top groove to end", plain.get("length", ""), "bore", hint=hint),
        f"{which}-end": Spec(
            label="End of taper", plain=plain.get("end", ""), hint=f"{end}{'; ' if hint else ''}{hint}"
        ),
        f"{which}-clip": _number("Clip in groove", plain.get("clip", ""), hint=hint or "1 is the top groove"),
    }


def _stretch(of: str) -> dict[str, Spec]:
    """The part of a log that is used, on the log's own clock."""
    return {
        f"{of}-from-s": Spec(label="Stretch from [s]", kind="time", unit="s", hint="start"),
        f"{of}-to-s": Spec(label="Stretch to [s]", kind="time", unit="s", hint="end"),
    }


def _runs(of: str) -> dict[str, Spec]:
    """How the runs of some logs were ridden, and the air of that day."""
    as_built = {"hint": "as in the build"}
    return {
        **_stretch(of),
        f"{of}-ways": Spec(label="Way of each run", hint="from positions"),
        f"{of}-altitude": _measure("Altitude that day", "", "distance", **as_built),
        f"{of}-temperature": _measure(
            "Temperature that day", "", "temperature", hint="as in the build, or by altitude"
        ),
        f"{of}-humidity": _measure("Humidity that day", "", "percent", **as_built),
        f"{of}-pressure": _measure("Air pressure that day", "", "pressure", **as_built),
    }


def _speeds(of: str) -> dict[str, Spec]:
    return {
        f"{of}-from-speed": _measure("Runs from speed", "", "speed", hint="by the logs"),
        f"{of}-to-speed": _measure("Runs to speed", "", "speed", hint="by the logs"),
    }


# the pages about logs from the road: each key is the id of its field, page first
ROAD: Mapping[str, Spec] = {
    **_runs("coast-down"),
    **_speeds("coast-down"),
    "coast-down-wind": _measure("Wind, one way only", "", "speed", hint="4 km/h or 2 mph"),
    "coast-down-slope": _measure("Slope, one way only", "", "percent", hint="such as 0.3 %"),
    "road-pull-gear": _number("Gear", "3"),
    "road-pull-standard": Spec(label="Corrected to", plain=STANDARDS[0], options={name: name for name in STANDARDS}),
    **_speeds("road-pull"),
    **_runs("road-pull-before"),
    **_runs("road-pull-after"),
    "road-pull-name": Spec(label="Name of the tune", plain="re-jetted"),
    **_stretch("ratios"),
    "ratios-gears": _number("How many gears", "", hint="all there are"),
    **_stretch("own-ride"),
    "own-ride-up": _measure("Shift up at", "", "percent", hint="60 %"),
    "own-ride-down": _measure("Shift down at", "", "percent", hint="25 %"),
    "own-ride-lugging": _measure("Lugging below", "", "engine speed", hint="20 % of range"),
}

NUMBERINGS = {"bore": "Bore, hundredths of a millimeter", "flow": "Flow"}
VERDICTS = {"lean": "Lean", "right": "Right", "rich": "Rich"}
SCREWS = {"fuel": "Fuel screw (out is richer)", "air": "Air screw (out is leaner)"}
SIZES = "numbers with commas, such as 117.5, 120, 122.5"
SPECS: Mapping[str, Spec] = {
    "jet": _number("Jet fitted", "125"),
    "jet-to": _number("Jet to compare", "120"),
    "numbering": Spec(label="Jets are numbered by", plain="bore", options=NUMBERINGS, wide=True),
    "jet-step": _number("Sizes come in steps of", "2.5", hint="counted from the jet fitted"),
    "jet-sizes": Spec(label="Or only these sizes", hint=SIZES, wide=True),
    **_air("set"),
    **_air("go", "2000 m", "", "40 %"),
    "opening": _measure("Throttle opening", "50 %", "percent", hint="as marked on the grip"),
    "verdict": Spec(label="It runs there", plain="lean", options=VERDICTS),
    "needle-jet": _measure("Needle jet bore", "2.6 mm", "bore"),
    "main-bore": _measure("Main jet bore", "1.45 mm", "bore"),
    "seat": _measure("Clip seat to needle jet", "26 mm", "bore", hint="slide shut"),
    "full-lift": _measure("Full slide lift", "36 mm", "bore", hint="about the bore of the carburetor"),
    "grooves": _number("Grooves on the needle", "5"),
    "pitch": _measure("Groove to groove", "0.9 mm", "bore"),
    **_needle("one", {"straight": "2.5 mm", "start": "30 mm", "length": "70 mm", "end": "1.5 mm", "clip": "3"}, ""),
    **_needle("two", {"clip": "4"}, "empty: as needle one"),
    "stock-opening": Spec(
        label="Stock opening",
        plain="1 round of 40 mm",
        hint="1 round of 40 mm, 2 slots of 60 x 20 mm, 1 rectangle of 50 x 30 mm",
        wide=True,
    ),
    "wanted": Spec(
        label="Wanted in all", plain="2 times stock", hint="such as 1.5 times stock, or an area such as 1900 mm^2"
    ),
    "saws": Spec(
        label="Hole saws, and how many holes fit",
        plain="4 of 20 mm, 3 of 25 mm, 2 of 32 mm",
        hint="most holes of each size",
        wide=True,
    ),
    "near": _measure("Near enough", "3 %", "percent", hint="of the wanted area"),
    "coefficients": Spec(
        label="Discharge coefficient of the stock opening",
        plain="0.60 to 0.65",
        hint="0.60 to 0.65 for a sharp edge, more with a funnel",
    ),
    "screw": Spec(label="Mixture screw", plain="fuel", options=SCREWS, wide=True),
    "useful": Spec(label="Useful range of the screw", plain="0.5 to 3", hint="turns out; see the manual"),
    "readings": Spec(label="Readings", plain="0.5:1010 0.875:1075 1.25:1130 1.625:1160 2:1165 2.375:1150 2.75:1105"),
    **_air("day"),
    "main-jets": Spec(label="Main jets available", hint=SIZES, wide=True),
    "pilot-jets": Spec(label="Pilot jets available", hint=SIZES, wide=True),
    "cutaways": Spec(label="Slide cutaways available", hint="numbers with commas, such as 2, 2.5, 3"),
    "margin": _measure("Leanest below stock", "3 %", "percent", hint="no proposal goes past it"),
    "stock-trial": Spec(label="Stock settings"),
    "old": Spec(label="Older revision"),
    "new": Spec(label="Newer revision"),
    **ROAD,
}


def place(key: str) -> str:
    """The name of a field in the record.

    >>> place("jet-to")
    'jet_to'
    """
    return key.replace("-", "_")


FieldTexts: Any = make_dataclass(
    "FieldTexts", [(place(key), "str | None", None) for key in SPECS], frozen=True, kw_only=True
)
FieldTexts.__doc__ = "The text of every field of the bench as it was typed; None where nothing was."


def _reader(spec: Spec) -> Callable[[str], str]:
    def read(text: str) -> str:
        plain = text.strip()
        if len(plain) > LONGEST or not (plain.isprintable() or not plain):
            raise InputError(
                "", text[:60], "is too long or has an invisible character", f"Keep it under {LONGEST} plain characters."
            )
        if spec.options is not None and plain not in spec.options:
            raise InputError("", text, "is not one to choose from", did_you_mean(text, spec.options))
        if spec.kind and plain:
            quantity(plain, spec.kind, spec.unit, "")
        return plain

    return read


KEYS: dict[str, tuple[str, Callable[[str], Any]]] = {
    key: (f"fields.{place(key)}", _reader(spec)) for key, spec in SPECS.items()
}
