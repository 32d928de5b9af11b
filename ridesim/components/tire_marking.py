"""The size and limits marked on a side wall, read part by part; what does not parse is refused by the part at fault."""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass, field
from functools import cache
from typing import Literal, NoReturn

from ridesim.components.tire_dimensions import (
    CODE_UNIT_M,
    nominal_rim_diameter_m,
    overall_diameter_m,
    section_height_m,
)
from ridesim.errors import InputError
from ridesim.reference import cite, read_table
from ridesim.units import either, kmh

Construction = Literal["bias", "bias-belted", "radial"]
System = Literal["metric", "inch", "letter"]

INCH_TOLERANCE = 0.02  # inch and letter widths name a series, not a dimension; makers differ by about this much
LONGEST = 60  # characters; the longest real marking has about 40
FIX = (
    "Copy the size from the sidewall, such as '130/80-17 M/C 65S', '180/55 ZR17 M/C (73W)', '4.60-18 4PR' or 'MT90-16'."
)
_LIMITS = {  # narrower and wider, lower and taller than any motorcycle tire, car tires of outfits included
    "metric width": (50, 360),
    "inch width": (1.5, 9.0),
    "aspect": (25, 110),
    "rim": (4, 30),
    "ply rating": (2, 16),
}
_HEAD = re.compile(r"(?P<letters>M ?[A-Z] ?)?(?P<number>[0-9]+(?:\.[0-9]+)?)? ?(?:/ ?(?P<aspect>[0-9]+))?")
_RIM = re.compile(r"(?P<join>[A-Z -]*)(?P<rim>[0-9]+(?:\.[0-9]+)?)?")
_REST = tuple(
    (kind, re.compile(pattern))
    for kind, pattern in (
        ("M/C", r"M ?/ ?C"),
        ("bracket", r"\( ?(?P<index>[0-9]+)? ?(?P<symbol>[A-Z]) ?\)"),
        ("ply", r"(?P<ply>[0-9]+) ?P\.? ?R\.?(?![A-Z0-9])"),
        ("service", r"(?P<index>[0-9]+) ?(?P<symbol>[A-Z])(?![A-Z0-9+&])"),
        ("index", r"(?P<index>[0-9]+)(?![A-Z0-9])"),
        ("tube", r"(?P<tube>TUBELESS|TUBE ?TYPE|T/?L|T/?T)(?![A-Z0-9])"),
        ("other", r"(?P<other>REINFORCED|REINF\.?|M ?[+&] ?S|MST|NHS|DP|FRONT|REAR)(?![A-Z0-9])"),
        ("symbol", r"(?P<symbol>[A-Z])(?![A-Z0-9])"),
    )
)


_PARTS = {"index": "load index", "symbol": "speed symbol", "ply": "ply rating", "tube": "tube"}


@dataclass(frozen=True, kw_only=True)
class TireMarking:
    """What one marking says, in SI, and what it leaves open.

    written               the marking, spaces tidied
    system                how the width is given: "metric", "inch" or "letter"
    section_width_m       nominal width [m]
    aspect                height over width, as a fraction [-]
    rim_code              the rim's number [-]
    rim_diameter_m        nominal, by the rule of UN R75 [m]
    section_height_m      [m]
    overall_diameter_m    new and unloaded [m]
    diameter_low_m, diameter_high_m   what a new tire so marked may measure [m]
    diameter_tolerance    the larger of the two deviations, relative [-]
    construction          "bias", "bias-belted" or "radial"
    load_index, load_capacity_kg      None when not marked [-], [kg]
    speed_symbol, speed_limit_m_s     None when not marked [-], [m/s]
    speed_limit_is_floor  the tire is made for more than the limit, and only its maker says how much
    ply_rating, tube      None when not marked
    notes                 what had to be assumed or is worth knowing
    """

    written: str
    system: System
    section_width_m: float
    aspect: float
    rim_code: float
    rim_diameter_m: float
    section_height_m: float
    overall_diameter_m: float
    diameter_low_m: float
    diameter_high_m: float
    diameter_tolerance: float
    construction: Construction
    load_index: int | None = None
    load_capacity_kg: float | None = None
    speed_symbol: str | None = None
    speed_limit_m_s: float | None = None
    speed_limit_is_floor: bool = False
    ply_rating: int | None = None
    tube: Literal["tubeless", "tube type"] | None = None
    notes: tuple[str, ...] = ()

    @property
    def said(self) -> int:
        """How much it says beside the size."""
        return sum(getattr(self, part) is not None for part in _SERVICE)


_DIMENSIONS = ("system", "section_width_m", "aspect", "rim_code", "construction")
_SERVICE = ("load_index", "speed_symbol", "ply_rating", "tube")  # None where the marking does not say


def names_tire(short: TireMarking, full: TireMarking) -> bool:
    """Whether a marking names another one's tire: the same size, and nothing said of its service that the other does not say too.

    A rider who writes 130/90-17 means the 130/90-17 M/C 68S that is fitted; 130/90-17 72H is another tire.

    Parameters
    ----------
    short, full : TireMarking
        What was written, and the tire it may mean.

    Returns
    -------
    bool

    Examples
    --------
    >>> fitted = parse_marking("130/90-17 M/C 68S")
    >>> [names_tire(parse_marking(text), fitted) for text in ("130/90-17", "130/90-17 72H", "130/90 R17")]
    [True, False, False]
    """
    return all(getattr(short, part) == getattr(full, part) for part in _DIMENSIONS) and all(
        getattr(short, part) in (None, getattr(full, part)) for part in _SERVICE
    )


@dataclass
class _Draft:
    """A marking half read: what is left of the text, and what has been found in it so far."""

    text: object
    where: str
    left: str = ""
    found: dict[str, str] = field(default_factory=dict)
    notes: list[str] = field(default_factory=list)

    def fail(self, problem: str) -> NoReturn:
        raise InputError(self.where, self.text, problem, FIX)

    def take(self, pattern: re.Pattern[str]) -> re.Match[str] | None:
        match = pattern.match(self.left)
        if match:
            self.left = self.left[match.end() :].lstrip(" ,")
        return match

    def once(self, part: str, value: str) -> None:
        if part in self.found:
            self.fail(f"the {part} is given twice, {self.found[part]!r} and {value!r}")
        self.found[part] = value

    def number(self, part: str, written: str, unit: str = "") -> float:
        low, high = _LIMITS[part]
        if not low <= float(written) <= high:
            self.fail(f"the {part} {written[:12]} is outside {low} to {high}{unit}")
        return float(written)


def parse_marking(text: str, where: str = "size") -> TireMarking:
    """Read a tire marking: metric, radial, bias-belted, inch or letter code, in any case and spacing.

    Parameters
    ----------
    text : str
        Such as "130/80-17 M/C 65S", "180/55 ZR17 M/C (73W)", "150/80B16 71H", "4.60-18 4PR", "MT90-16".
    where : str
        The path to name in an error.

    Returns
    -------
    TireMarking
        Sizes, limits, and notes on what the marking leaves open.

    Raises
    ------
    InputError
        Naming the part that is wrong: width, aspect, construction, rim, ply rating, load index or speed symbol.

    Examples
    --------
    >>> tire = parse_marking("190/55 ZR17 M/C (73W)")
    >>> float(tire.overall_diameter_m), tire.construction, tire.load_capacity_kg, tire.speed_limit_m_s
    (0.642, 'radial', 365.0, 75.0)
    >>> parse_marking("130/80-3")
    Traceback (most recent call last):
    ridesim.errors.InputError: size = '130/80-3': the rim 3 is outside 4 to 30. Copy the size from the sidewall, ...
    """
    draft = _Draft(text, where)
    draft.left = _tidied(draft)
    written = draft.left
    system, width_m, aspect, height_m = _width_and_height(draft)
    construction, rim_code = _construction_and_rim(draft)
    _rest(draft)
    rim_m = float(nominal_rim_diameter_m(rim_code))
    diameter_m = float(overall_diameter_m(rim_m, height_m))
    low_m, high_m = _diameter_range_m(system, rim_code, rim_m, height_m)
    capacity_kg = _capacity_kg(draft)
    limit_m_s, is_floor = _speed_limit_m_s(draft)
    found = draft.found
    return TireMarking(
        written=written,
        system=system,
        section_width_m=width_m,
        aspect=aspect,
        rim_code=rim_code,
        rim_diameter_m=rim_m,
        section_height_m=height_m,
        overall_diameter_m=diameter_m,
        diameter_low_m=low_m,
        diameter_high_m=high_m,
        diameter_tolerance=max(high_m / diameter_m - 1.0, 1.0 - low_m / diameter_m),
        construction=construction,
        load_index=int(found["load index"]) if "load index" in found else None,
        load_capacity_kg=capacity_kg,
        speed_symbol=found.get("speed symbol"),
        speed_limit_m_s=limit_m_s,
        speed_limit_is_floor=is_floor,
        ply_rating=int(draft.number("ply rating", found["ply rating"])) if "ply rating" in found else None,
        tube=_tube(found.get("tube")),
        notes=tuple(draft.notes),
    )


def _tube(written: str | None) -> Literal["tubeless", "tube type"] | None:
    if written is None:
        return None
    return "tube type" if "TT" in written or "TYPE" in written else "tubeless"


def _tidied(draft: _Draft) -> str:
    """Upper case, single spaces, plain dashes, a decimal point; only characters that stand on tires."""
    text = draft.text
    if not isinstance(text, str):
        draft.fail("is not a tire marking")
    if len(text) > LONGEST:
        draft.fail(f"is longer than {LONGEST} characters")
    plain = re.sub(r"[\u2010-\u2015\u2212]", "-", text)
    plain = " ".join(plain.split()).upper()
    strange = re.search(r"[^0-9A-Z /.,()+&-]", plain)
    if strange or not plain:
        draft.fail(f"has a character that no tire marking has, {strange[0]!r}" if strange else "is empty")
    return re.sub(r"(?<=[0-9]),(?=[0-9])", ".", plain)


def _width_and_height(draft: _Draft) -> tuple[System, float, float, float]:
    head = draft.take(_HEAD)
    letters, number, aspect = head.group("letters", "number", "aspect") if head else (None, None, None)
    if letters:
        return "letter", *_letter_code(draft, letters.replace(" ", "")[1], number, aspect)
    if not number:
        draft.fail("the width is missing: a marking starts with it")
    if "." in number:
        return "inch", *_inch(draft, number, aspect)
    width_mm = draft.number("metric width", number, " mm")
    if not aspect:
        draft.fail(f"the aspect is missing: after the width {number} mm a '/' and the height in percent are wanted")
    width_m, share = width_mm / 1000.0, draft.number("aspect", aspect, " %") / 100.0
    return "metric", width_m, share, float(section_height_m(width_m, share))


def _inch(draft: _Draft, number: str, aspect: str | None) -> tuple[float, float, float]:
    width = draft.number("inch width", number, " (inch code)")
    if aspect:
        share = draft.number("aspect", aspect, " %") / 100.0
    else:
        hundredths = f"{width:.2f}"[-2:]
        series = next((row for row in read_table("tire_inch_series") if hundredths in row["hundredths"].split()), None)
        if series is None or len(number.partition(".")[2]) > 2:
            draft.fail(f"the width {number} belongs to no inch series (they end in .00, .25, .50, .75 or .10, .60)")
        share = float(series["aspect"])
        draft.notes.append(
            f"An inch width of the {series['series']} series: height taken as {100 * share:.0f} % of the width "
            f"({cite(series)}), the overall diameter as good as +-{100 * INCH_TOLERANCE:.0f} %."
        )
    return width * CODE_UNIT_M, share, width * CODE_UNIT_M * share


def _letter_code(draft: _Draft, letter: str, number: str | None, aspect: str | None) -> tuple[float, float, float]:
    codes = {row["letter"]: row for row in read_table("tire_letter_codes")}
    if letter not in codes:
        draft.fail(f"the width letter {letter!r} is not known (known: {', '.join(codes)})")
    if not number or aspect:
        draft.fail("the aspect is missing: a letter code is followed by the height in percent, as in MT90")
    width_m = float(codes[letter]["section_width_mm"]) / 1000.0
    share = draft.number("aspect", number, " %") / 100.0
    draft.notes.append(
        f"The width letter {letter} taken as "
        + either("small length", width_m)
        + f" ({cite(codes[letter])}); tables differ, so the overall diameter is as good as +-{100 * INCH_TOLERANCE:.0f} %."
    )
    return width_m, share, float(section_height_m(width_m, share))


def _construction_and_rim(draft: _Draft) -> tuple[Construction, float]:
    match = draft.take(_RIM)
    join, rim = match.group("join", "rim") if match else ("", None)
    if rim is None:
        draft.fail("the rim is missing: after the width (and aspect) '-', 'B' or 'R' and the rim's number are wanted")
    letters = re.sub(r"[ -]", "", join)
    construction: Construction = "bias"
    if letters.endswith("R"):
        construction = "radial"
    elif letters.endswith("B"):
        construction = "bias-belted"
    symbol = letters if letters in _speeds() and letters not in "RBD" else letters[:-1]
    if letters not in ("", "R", "B", "D", "Z") and not (symbol in {"Z", *_speeds()} and letters[len(symbol) :] in "RB"):
        draft.fail(f"the construction {join.strip()!r} between size and rim is none of '-', 'B', 'R', 'ZR'")
    if letters == "Z" or symbol == "Z":
        draft.found["Z"] = letters
    elif symbol:
        draft.once("speed symbol", symbol)
    if not join.strip():
        draft.notes.append("No dash, B or R before the rim: taken as a bias tire.")
    code = draft.number("rim", rim)
    if code % 0.5:
        draft.fail(f"the rim {rim[:12]} is not a whole or half number")
    return construction, code


def _rest(draft: _Draft) -> None:
    """Everything after the rim: M/C, service description, ply rating, tube, and marks without a number."""
    while draft.left:
        kind, match = _next_mark(draft)
        parts = match.groupdict()
        if kind in ("M/C", "bracket"):
            draft.once(kind, match[0])
        for name, part in _PARTS.items():
            if parts.get(name):
                draft.once(part, parts[name].replace("/", ""))
        if parts.get("other") == "NHS":
            draft.notes.append("NHS: not for highway service.")


def _next_mark(draft: _Draft) -> tuple[str, re.Match[str]]:
    matches = ((kind, draft.take(pattern)) for kind, pattern in _REST)
    kind, match = next(((kind, match) for kind, match in matches if match), ("", None))
    if match is None:
        draft.fail(f"what stands after the rim is not understood from {draft.left[:20]!r}")
    return kind, match


@cache
def _speeds() -> dict[str, str]:
    return {row["symbol"]: row["limit_kmh"] for row in read_table("tire_speed_symbols")}


def _capacity_kg(draft: _Draft) -> float | None:
    index = draft.found.get("load index")
    if index is None:
        return None
    loads = {row["load_index"]: row["capacity_kg"] for row in read_table("tire_load_index")}
    key = index.lstrip("0") or "0"
    if key not in loads:
        draft.fail(f"the load index {index[:12]} is not in the table, which runs from 0 to {len(loads) - 1}")
    return float(loads[key])


MAKER_SAYS = "; only its maker says how much more."


def _speed_limit_m_s(draft: _Draft) -> tuple[float | None, bool]:
    symbol, bracket = draft.found.get("speed symbol"), "bracket" in draft.found
    if symbol is None:
        if "Z" not in draft.found:
            return None, False
        limit_m_s = float(_speeds()["V"]) / kmh(1.0)
        draft.notes.append("Z without a speed symbol: made for more than " + either("speed", limit_m_s) + MAKER_SAYS)
        return limit_m_s, True
    if symbol not in _speeds():
        draft.fail(f"the speed symbol {symbol!r} is not known (known: {' '.join(_speeds())})")
    limit_m_s = float(_speeds()[symbol]) / kmh(1.0)
    if bracket:
        if symbol not in "VWY":
            draft.fail(f"the speed symbol {symbol!r} stands in brackets, as only V, W and Y do")
        draft.notes.append(f"({symbol}) in brackets: made for more than " + either("speed", limit_m_s) + MAKER_SAYS)
    return limit_m_s, bracket


def _diameter_range_m(system: System, rim_code: float, rim_m: float, height_m: float) -> tuple[float, float]:
    """What the marking leaves open: the regulation's range for a new metric tire, a flat share for the others."""
    diameter_m = rim_m + 2.0 * height_m
    if system != "metric":
        return diameter_m * (1.0 - INCH_TOLERANCE), diameter_m * (1.0 + INCH_TOLERANCE)
    row = tolerance_row(rim_code)
    return rim_m + 2.0 * height_m * float(row["low_factor"]), rim_m + 2.0 * height_m * float(row["high_factor"])


def tolerance_row(rim_code: float) -> Mapping[str, str]:
    """What a regulation leaves open of the diameter of a new metric tire for a rim.

    >>> tolerance_row(12)["low_factor"], tolerance_row(17)["low_factor"]
    ('0.93', '0.97')
    """
    return next(row for row in read_table("tire_diameter_tolerances") if rim_code <= float(row["rim_code_to"]))
