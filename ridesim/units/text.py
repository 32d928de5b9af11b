"""How a quantity is written: the grammar of its number, its tolerance and its unit. Nothing outside it is read."""

from __future__ import annotations

import re

from ridesim.units.table import SPELT

LONGEST_QUANTITY = 80  # characters
_SEPARATOR = "[ ,'\u2019\u00a0\u2009\u202f]"  # between groups of three digits, the same one all along: 6,500 or 6 500
# a comma that groups no thousands is a decimal sign: 1,5 and 0,672 and 1.418,5
_COMMA_DECIMAL = (
    r"(?:0,[0-9]+|[0-9]+,(?:[0-9]{1,2}|[0-9]{4,})|[1-9][0-9]{0,2}(?:\.[0-9]{3})+,[0-9]+|[1-9][0-9]{0,2}(?: [0-9]{3})+,[0-9]{1,2})"
    r"(?![0-9,.])"
)
_GROUPED = rf"[1-9][0-9]{{0,2}}(?P<by>{_SEPARATOR})[0-9]{{3}}(?:(?P=by)[0-9]{{3}})*(?![0-9])(?:\.[0-9]*)?"
_PLAIN = r"[0-9]+(?:\.[0-9]*)?|\.[0-9]+"
_NUMBER = re.compile(rf"\s*([+-]?(?:{_COMMA_DECIMAL}|{_GROUPED}|{_PLAIN})(?:[eE][+-]?[0-9]{{1,3}})?)\s*")
_DECIMAL = re.compile(rf"[+-]?{_COMMA_DECIMAL}")
_TWO_WAYS = re.compile(r"[+-]?[1-9][0-9]*,[0-9]{3}")
_COMMA = re.compile(r",\s*[0-9]")
_INCHES = re.compile(r"(?:([0-9]{1,3})[ -])?([0-9]{1,2})/([1-9][0-9]?)(?=\s*in(?:ch|ches)?\b)")  # 5/8 in, 1 1/4 in
_TOLERANCE = re.compile(r"(?:\+-|\+/-|±)")
# Nobody writes thousandths of these, so that a comma before three digits of them groups thousands.
_NO_THOUSANDTHS = frozenset(("rpm", "mm", "ft", "hpa", "cc", "w"))
LONGEST_UNIT = 40  # characters
MOST_FACTORS = 8
_TOKEN = re.compile(r"\s*(\*\*\s*(?:[+-]?[1-4]\b|\(\s*[+-]?[1-4]\s*\))|[*/()]|1\b|°|[^\W\d]\w*)")


def split_quantity(written: float | str, unit: str) -> tuple[float, float, str]:
    """A value, its tolerance and its unit.

    The decimal sign is a point, or a comma that can be nothing else ("1,5 kg"). Groups of three digits may have a comma, an
    apostrophe or a space between them; a lone comma with three digits behind it is read so only where no one writes
    thousandths ("6,500 rev/min"), for "1,418 m" may mean either. ValueError, with what is wrong, where it cannot be read.

    >>> split_quantity("0,66 +- 0,05 m^2", "m^2"), split_quantity("6,500", "rev/min")
    ((0.66, 0.05, 'm^2'), (6500.0, 0.0, 'rev/min'))
    """
    if not isinstance(written, str):
        return float(written), 0.0, unit
    if len(written) > LONGEST_QUANTITY:
        raise ValueError(f"it is longer than {LONGEST_QUANTITY} characters")
    plain = _INCHES.sub(
        lambda one: f"{int(one[1] or 0) + int(one[2]) / int(one[3]):.9g}", written.replace("\u2212", "-")
    )
    head, *tail = _TOLERANCE.split(plain)
    if len(tail) > 1:
        raise ValueError("it has more than one tolerance")
    match = _NUMBER.match(head)
    if not match:
        raise ValueError("it does not start with a number")
    value, unit_text = _float(match[1]), head[match.end() :]
    spread = 0.0
    if tail:
        second = _NUMBER.match(tail[0])
        if not second or _float(second[1]) < 0:
            raise ValueError("after +- a positive number is wanted")
        spread, unit_text = _spread(
            abs(value), _float(second[1]), unit_text.strip(), tail[0][second.end() :].strip(), unit
        )
    unit_text = unit_text.strip() or unit
    for part in (head, *tail):
        _refuse_two_ways(part, unit_text)
    return value, spread, unit_text


def value_and_unit(written: str) -> tuple[str, str]:
    """A figure without a tolerance as its number and its unit, both as they were written.

    >>> value_and_unit("2,071 m"), value_and_unit("35 lb ft"), value_and_unit("7")
    (('2,071', 'm'), ('35', 'lb ft'), ('7', ''))
    """
    match = _NUMBER.match(written)
    return (match[1], written[match.end() :].strip()) if match else (written.strip(), "")


def _float(number: str) -> float:
    if _DECIMAL.match(number):
        number = number.replace(".", "").replace(",", ".")
    return float(re.sub(_SEPARATOR, "", number))


def _refuse_two_ways(text: str, unit: str) -> None:
    """Refuse a comma that groups no thousands, and one that may be a decimal sign as well."""
    match = _NUMBER.match(text)
    if match is None:
        return
    if _COMMA.match(text, match.end()):
        raise ValueError("its commas group no thousands and end no whole number")
    if _TWO_WAYS.fullmatch(match[1]) and spelled(unit.casefold()) not in _NO_THOUSANDTHS:
        whole, point = match[1].replace(",", ""), match[1].replace(",", ".")
        raise ValueError(f"with its comma it may mean {whole} or {point}, so write the one you mean")


def _spread(value: float, spread: float, before: str, after: str, unit: str) -> tuple[float, str]:
    """The tolerance in the unit of the value, and that unit: "0.66 m^2 +- 10 %" means a share of the value."""
    if after == "%" and before != "%" and not (before == "" and unit == "%"):
        return spread * value / 100.0, before
    if before and after and before != after:
        raise ValueError("the value and its tolerance have different units")
    return spread, before or after


def split_list(text: str) -> list[str]:
    """The numbers of a list, divided by spaces, semicolons or commas; a comma inside one is its decimal sign where something
    else divides them.

    >>> split_list("117.5, 120,122.5"), split_list("2,58 1,71; 1,3"), split_list("13,5")
    (['117.5', '120', '122.5'], ['2,58', '1,71', '1,3'], ['13', '5'])
    """
    words = [word for word in re.split(r"[;\s]+|,(?=\s|$)", text.strip()) if word]
    inside = [word for word in words if "," in word]
    if len(words) > 1 and all(_DECIMAL.fullmatch(word) for word in inside):
        return words
    return [one for word in words for one in word.split(",") if one]


def spelled(text: str) -> str:
    """A unit as the grammar reads it; LONGEST_UNIT characters at most, for what stands in SPELT costs more than their number.

    >>> spelled("N·m"), spelled("m s⁻²")
    ('N*m', 'm s**-2')
    """
    if len(text) > LONGEST_UNIT:
        raise ValueError(f"its unit is longer than {LONGEST_UNIT} characters")
    spelt = text.strip()
    for pattern, meant in SPELT:
        spelt = pattern.sub(meant, spelt)
    return spelt


def factors(text: str) -> tuple[tuple[str, int], ...]:
    """The names in a unit with their powers: products, quotients, brackets, and whole powers from -4 to 4.

    Nothing else is read: no sums, no numbers but 1, no power of a power, no more than MOST_FACTORS names. What comes out is
    all of a rider's text that is ever worked out.

    Raises
    ------
    ValueError
        The text is too long, or no such product.

    Examples
    --------
    >>> factors("N/(m/s)^2")
    (('N', 1), ('m', -2), ('s', 2))
    >>> factors("m**9**9**9")
    Traceback (most recent call last):
        ...
    ValueError: 'm**9**9**9' is not a unit
    """
    spelt, at, tokens = spelled(text), 0, []
    while at < len(spelt):
        found = _TOKEN.match(spelt, at)
        if not found:
            raise ValueError(f"{text!r} is not a unit")
        tokens.append(found[1])
        at = found.end()
    product = _product(tokens, text) if tokens else []
    if tokens or len(product) > MOST_FACTORS:  # a closing bracket that nothing opened, or too much
        raise ValueError(f"{text!r} is not a unit")
    return tuple(product)


def _product(tokens: list[str], text: str) -> list[tuple[str, int]]:
    """Factors up to the end or to a closing bracket; the tokens that were read are taken out of the list."""
    found: list[tuple[str, int]] = []
    sign = 1
    while True:
        part = _part(tokens, text)
        if tokens and tokens[0].startswith("**"):
            power = int(tokens.pop(0).strip("*() "))
            if any(abs(own) != 1 for _, own in part):
                raise ValueError(f"{text!r} has a power of a power")
            part = [(name, own * power) for name, own in part]
        found += [(name, sign * own) for name, own in part]
        if not tokens or tokens[0] == ")":
            return found
        sign = 1
        if tokens[0] in ("*", "/"):
            sign = -1 if tokens.pop(0) == "/" else 1


def _part(tokens: list[str], text: str) -> list[tuple[str, int]]:
    """One name, 1, or a product in brackets."""
    token = tokens.pop(0) if tokens else ""
    if token == "1":
        return []
    if token == "(":
        inside = _product(tokens, text)
        if tokens and tokens.pop(0) == ")":
            return inside
    elif token and token[0] not in "*/)":
        return [(token, 1)]
    raise ValueError(f"{text!r} is not a unit")
