"""What is asked on the pages of the bench and of the road: every field with its label, its plain value, and how its text is read."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, make_dataclass
from typing import Any

from ridesim.buildfile.values import STANDARDS as STANDARDS
from ridesim.errors import InputError, did_you_mean
from ridesim.statements import BothWays, in_units
from ridesim.units import quantity

LONGEST = 400  # characters of one field; a list of readings is the longest there is


@dataclass(frozen=True, kw_only=True)
class Spec:
    """One field.

    plain     its text while nothing is given: a convention, never a figure of a bike; else empty
    kind      of quantity (ridesim.units.KINDS), with the unit of a bare number and how it is shown; "" for a text
    options   the words to choose from, each with what is shown for it
    wide      whether what is typed is long
    of        the key of the build file whose limit is typed there
    """

    label: str
    plain: str = ""
    kind: str = ""
    unit: str = ""
    reading: str = ""
    options: Mapping[str, str] | None = None
    hint: str = ""
    wide: bool = False
    of: str = ""

    def hint_in(self, system: str) -> str:
        """The hint in the units shown."""
        return in_units(self.hint, system)


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


def _air(which: str) -> dict[str, Spec]:
    return {
        f"{which}-altitude": _measure("Altitude", "", "distance"),
        f"{which}-temperature": _measure("Temperature", "", "temperature"),
        f"{which}-humidity": _measure("Humidity", "50 %", "percent"),
        f"{which}-pressure": _measure("Air pressure", "", "pressure", hint="at the place, if a barometer is at hand"),
    }


def _needle(which: str, hint: str) -> dict[str, Spec]:
    end = "diameter at the end, such as " + BothWays("1.5 mm", "0.059 in") + ", or full taper angle, such as 1.6 deg"
    return {
        f"{which}-straight": _measure("Straight diameter", "", "bore", hint=hint),
        f"{which}-start": _measure("Top groove to taper", "", "bore", hint=hint),
        f"{which}-length": _measure("Top groove to end", "", "bore", hint=hint),
        f"{which}-end": Spec(label="End of taper", hint=end + (f"; {hint}" if hint else "")),
        f"{which}-clip": _number("Clip in groove", "", hint=hint or "1 is the top groove"),
    }


def _stretch(of: str) -> dict[str, Spec]:
    """The part of a log that is used, on the log's own clock."""
    return {
        f"{of}-from-s": Spec(label="Use from [s]", kind="time", unit="s", hint="start"),
        f"{of}-to-s": Spec(label="Use to [s]", kind="time", unit="s", hint="end"),
    }


def _runs(of: str) -> dict[str, Spec]:
    """How the runs of some logs were ridden, and the air of that day."""
    as_built = {"hint": "as in the build"}
    return {
        **_stretch(of),
        f"{of}-ways": Spec(label="Direction of each run", hint="from positions"),
        f"{of}-altitude": _measure("Altitude that day", "", "distance", **as_built),
        f"{of}-temperature": _measure(
            "Temperature that day", "", "temperature", hint="as in the build, or by altitude"
        ),
        f"{of}-humidity": _measure("Humidity that day", "", "percent", **as_built),
        f"{of}-pressure": _measure("Air pressure that day", "", "pressure", **as_built),
    }


def _speeds(of: str) -> dict[str, Spec]:
    return {
        f"{of}-from-speed": _measure("Runs start at", "", "speed", hint="by the logs"),
        f"{of}-to-speed": _measure("Runs end at", "", "speed", hint="by the logs"),
    }


# the pages about logs from the road: each key is the id of its field, page first
ROAD: Mapping[str, Spec] = {
    **_runs("coast-down"),
    **_speeds("coast-down"),
    "coast-down-wind": _measure("Wind, one way only", "", "speed", hint=BothWays("4 km/h", "2 mph")),
    "coast-down-slope": _measure("Slope, one way only", "", "percent", hint="such as 0.3 %"),
    "road-pull-gear": _number("Gear", "3"),
    "road-pull-standard": Spec(label="Corrected to", plain=STANDARDS[0], options={name: name for name in STANDARDS}),
    "road-pull-phone": Spec(
        label="Phone of both days",
        plain="any",
        options={"any": "may differ", "same": "the same one"},
    ),
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
WISHES = {
    "pull": "The hardest pull",
    "calm": "The calmest cruise",
    "economy": "The least fuel",
    "quick": "The quickest start",
    "shifts": "The fewest shifts on my ride",
}
VERDICTS = {"lean": "Lean", "right": "Right", "rich": "Rich"}
SCREWS = {"fuel": "Fuel screw (out is richer)", "air": "Air screw (out is leaner)"}
SIZES = "numbers with commas, such as 117.5, 120, 122.5"
OPENINGS = BothWays(
    "1 round of 40 mm, 2 slots of 60 x 20 mm, 1 rectangle of 50 x 30 mm",
    "1 round of 1.6 in, 2 slots of 2.4 x 0.8 in, 1 rectangle of 2 x 1.2 in",
)
SPECS: Mapping[str, Spec] = {
    "jet": _number("Jet fitted", ""),
    "jet-to": _number("Jet to compare", "", hint="optional"),
    "numbering": Spec(label="Jets are numbered by", plain="bore", options=NUMBERINGS, wide=True),
    "jet-step": _number("Sizes come in steps of", "2.5", hint="counted from the jet fitted"),
    "jet-sizes": Spec(label="Or only these sizes", hint=SIZES, wide=True),
    **_air("set"),
    **_air("go"),
    "climb-from": _measure("Height at the start", "", "distance"),
    "climb-to": _measure("Height at the top", "", "distance"),
    "climb-grade": _measure("Steepest hill on the way", "", "percent", hint="such as 8 %; empty is level"),
    "climb-jet": _number("Main jet that runs right", "", hint="optional"),
    "climb-temperature": _measure("Temperature at the start", "", "temperature", hint="from the air of the build"),
    "need-wish": Spec(label="Of those that meet every limit, rather", plain="pull", options=WISHES),
    "need-sure": _measure("How sure every limit must be", "90 %", "percent", hint="from 50 to 99.9 %"),
    "opening": _measure("Throttle opening", "", "percent", hint="as marked on the grip"),
    "verdict": Spec(label="How it runs there", options=VERDICTS),
    "needle-jet": _measure("Needle jet bore", "", "bore"),
    "main-bore": _measure("Main jet bore", "", "bore"),
    "seat": _measure("Clip seat to needle jet", "", "bore", hint="slide shut"),
    "full-lift": _measure("Full slide lift", "", "bore", hint="about the bore of the carburetor"),
    "grooves": _number("Grooves on the needle", ""),
    "pitch": _measure("Groove to groove", "", "bore"),
    **_needle("one", ""),
    **_needle("two", "empty: as needle one"),
    "stock-opening": Spec(label="Stock opening", hint="such as " + OPENINGS, wide=True),
    "wanted": Spec(
        label="Wanted in all",
        hint="such as 1.5 times stock, or an area such as " + BothWays("1900 mm^2", "3 in^2"),
    ),
    "saws": Spec(
        label="Hole saws, and how many holes fit",
        hint="most holes of each size, such as " + BothWays("3 of 25 mm, 2 of 32 mm", "3 of 1 in, 2 of 1.25 in"),
        wide=True,
    ),
    "near": _measure("Near enough", "3 %", "percent", hint="of the wanted area"),
    "coefficients": Spec(
        label="Discharge coefficient of the stock opening",
        plain="0.60 to 0.65",
        hint="0.60 to 0.65 for a sharp edge, more with a funnel",
    ),
    "screw": Spec(label="Mixture screw", options=SCREWS, wide=True),
    "useful": Spec(label="Useful range of the screw", plain="0.5 to 3", hint="turns out; see the manual"),
    "readings": Spec(label="Readings"),
    **_air("day"),
    "main-jets": Spec(label="Main jets available", hint=SIZES, wide=True),
    "pilot-jets": Spec(label="Pilot jets available", hint=SIZES, wide=True),
    "cutaways": Spec(label="Slide cutaways available", hint="numbers with commas, such as 2, 2.5, 3"),
    "margin": _measure("Leanest allowed, below stock", "3 %", "percent", hint="nothing leaner is proposed"),
    "stock-trial": Spec(label="Stock settings"),
    "old": Spec(label="Older revision"),
    "new": Spec(label="Newer revision"),
    **ROAD,
}
# what "Try an example" fills in, page by page: plainly invented, and marked until it is replaced
EXAMPLES: Mapping[str, Mapping[str, str]] = {
    "jets": {
        "jet": "125",
        "jet-to": "120",
        "set-altitude": BothWays("20 m", "65 ft"),
        "set-temperature": BothWays("20 degC", "68 degF"),
        "go-altitude": BothWays("2000 m", "6500 ft"),
        "go-humidity": "40 %",
    },
    "altitude": {
        "climb-from": BothWays("100 m", "300 ft"),
        "climb-to": BothWays("2200 m", "7200 ft"),
        "climb-grade": "8 %",
        "climb-jet": "125",
        "set-altitude": BothWays("20 m", "65 ft"),
        "set-temperature": BothWays("20 degC", "68 degF"),
    },
    "symptoms": {"opening": "50 %", "verdict": "lean"},
    "needle": {
        "needle-jet": "2.6 mm",
        "main-bore": "1.25 mm",
        "seat": "26 mm",
        "full-lift": "36 mm",
        "grooves": "5",
        "pitch": "0.9 mm",
        "one-straight": "2.5 mm",
        "one-start": "30 mm",
        "one-length": "70 mm",
        "one-end": BothWays("1.5 mm", "0.059 in"),
        "one-clip": "3",
        "two-clip": "4",
    },
    "intake": {
        "stock-opening": BothWays("1 round of 40 mm", "1 round of 1.5 in"),
        "wanted": "2 times stock",
        "saws": BothWays("4 of 20 mm, 3 of 25 mm, 2 of 32 mm", "4 of 0.75 in, 3 of 1 in, 2 of 1.25 in"),
    },
    "idle": {
        "screw": "fuel",
        "readings": "0.5:1010 0.875:1075 1.25:1130 1.625:1160 2:1165 2.375:1150 2.75:1105",
    },
}
OPTIONAL = (
    "jet-to",
    "climb-grade",
    "climb-jet",
    "set-temperature",
    "go-humidity",
    "two-clip",
)  # a page answers without
NEEDED = {page: tuple(key for key in keys if key not in OPTIONAL) for page, keys in EXAMPLES.items()}
_IN_EXAMPLES = {key for keys in EXAMPLES.values() for key in keys}


def example_keys(text: str) -> str:
    """The keys of fields that hold a figure of an example, with commas between.

    >>> example_keys("jet,verdict")
    'jet,verdict'
    """
    for key in text.split(","):
        if key not in _IN_EXAMPLES:
            raise InputError("", key[:40], "is not a field of an example", did_you_mean(key[:40], _IN_EXAMPLES))
    return text


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


def plain_text(text: str, longest: int = LONGEST) -> str:
    """A text without spaces around it, its lines parted by line feeds; InputError where it is too long or hides something."""
    plain = text.strip()
    if len(plain) > longest or not plain.replace("\n", "").isprintable():
        fix = f"Keep it under {longest} plain characters."
        raise InputError("", text[:60], "is too long or has an invisible character", fix)
    return plain


def reader(spec: Spec) -> Callable[[str], str]:
    """How the text of a field is read: it stays as typed once it is one to choose from, or a quantity of its kind."""

    def read(text: str) -> str:
        plain = plain_text(text)
        if "\n" in plain:
            raise InputError("", text[:60], "is more than one line", "Write it in one line.")
        if spec.options is not None and plain and plain not in spec.options:
            raise InputError("", text, "is not one to choose from", did_you_mean(text, spec.options))
        if spec.kind and plain:
            quantity(plain, spec.kind, spec.unit, "")
        return plain

    return read


KEYS: dict[str, tuple[str, Callable[[str], Any]]] = {
    key: (f"fields.{place(key)}", reader(spec)) for key, spec in SPECS.items()
}
