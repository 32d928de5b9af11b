"""Answers in words: the same sentence in metric or US units."""

from __future__ import annotations

from collections.abc import Sequence

from ridesim.answers.answer import Answer, Change, Figure, ValueOf
from ridesim.statements import in_units
from ridesim.units import COUNTED, is_round, shown_in, unit_words

SYSTEMS = ("metric", "us")


def number(value: float, decimals: int) -> str:
    """A number with thousands apart and a true minus sign; no minus before a zero.

    >>> number(-1234.56, 1), number(-0.04, 1)
    ('−1,234.6', '0.0')
    """
    text = f"{value:,.{decimals}f}"
    if float(text.replace(",", "")) == 0.0:
        text = text.lstrip("-")
    return text.replace("-", "−")


def shown(
    value: object, reading: str, system: str = "metric", *, unit: bool = True, signed: bool = False, whole: bool = False
) -> str:
    """One SI figure as it is read, with its unit; "never" is not said here but "—", the reason stands in the notes.

    In a sentence (`whole`) a speed that somebody set has no idle zero: "at 95 km/h".

    >>> shown(27.7778, "speed"), shown(27.7778, "speed", "us"), shown(None, "time"), shown(0.05, "percent")
    ('100.0 km/h', '62.1 mph', '—', '5.0 %')
    """
    if value is None:
        return "—"
    if isinstance(value, bool):
        return "yes" if value else "no"
    if reading in COUNTED:
        if not isinstance(value, int | float):
            return in_units(value, system) if isinstance(value, str) else str(value)
        return ("+" if signed and value > 0 else "") + number(value, 0 if is_round(value) else 1)
    read, name, decimals = shown_in(value, reading, system)
    if whole and reading == "speed" and is_round(float(read)):
        decimals = 0
    sign = "+" if signed and round(float(read), decimals) > 0 else ""
    words = unit_words(name)
    gap = "" if words == "°" else " "
    return sign + number(float(read), decimals) + (f"{gap}{words}" if unit and words else "")


def listed(names: Sequence[str]) -> str:
    """Names in a row.

    >>> listed(["front"]), listed(["front", "rear", "chain"])
    ('front', 'front, rear and chain')
    """
    return " and ".join(filter(None, (", ".join(names[:-1]), *names[-1:])))


def figure_words(figure: Figure, system: str = "metric") -> str:
    """A figure with its unit, in "metric" or "us".

    >>> fuel = Figure("fuel", "Fuel", 4.8e-8, "consumption")
    >>> figure_words(fuel), figure_words(fuel, "us")
    ('4.80 l/100 km', '49.0 mpg')
    """
    return shown(figure.value, figure.reading, system)


def band_words(figure: Figure, system: str = "metric", *, unit: bool = True) -> str:
    """The range of a figure, from less to more as it is read; nothing where none is known, or where both ends read
    alike.

    >>> one = Figure("top", "Top speed", 33.3, "speed", low=32.8, high=33.7)
    >>> band_words(one), band_words(one, "us", unit=False), band_words(Figure("top", "Top speed", 33.3, "speed"))
    ('118.1 to 121.3 km/h', '73.4 to 75.4', '')
    """
    if figure.low is None or figure.high is None:
        return ""
    if figure.reading in COUNTED:
        low, high = (number(float(end), 1) for end in sorted((figure.low, figure.high)))
        return "" if low == high else f"{low} to {high}"
    ends = sorted(float(shown_in(end, figure.reading, system)[0]) for end in (figure.low, figure.high))
    decimals, name = min(shown_in(end, figure.reading, system)[:0:-1] for end in (figure.low, figure.high))
    low, high = (number(end, decimals) for end in ends)
    return "" if low == high else f"{low} to {high} {unit_words(name) if unit else ''}".rstrip()


def sentence(answer: Answer, system: str = "metric") -> str:
    """What the answer says, with its figures in "metric" or "us" units.

    >>> import ridesim as rs
    >>> sentence(rs.speeds(rs.demo("coast-single")), "us")
    'At 59.0 mph the engine turns 4,876 rev/min in fifth, 67.7 % of its limit; first reaches 29.3 mph at the limit.'
    """

    def said(piece: str | ValueOf) -> str:
        if isinstance(piece, str):
            return in_units(piece, system)
        figure = answer.figures[piece.key]
        words = band_words(figure, system) if piece.band else shown(figure.value, figure.reading, system, whole=True)
        return words.lstrip("−") if piece.size else words

    return "".join(map(said, answer.say))


def change_words(change: Change, system: str = "metric") -> str:
    """The change of a figure with its sign and unit; "—" where the thing happens with neither, "changes" for a text
    that does.

    A liter less in a hundred kilometers is worth more miles to a gallon the less is burned:

    >>> from ridesim.answers.answer import changed
    >>> one = changed(*(Figure("fuel", "Fuel", liters * 1e-8, "consumption", better=-1) for liters in (5.0, 4.0)))
    >>> change_words(one), change_words(one, "us")
    ('−1.00 l/100 km', '+11.8 mpg')
    """
    now, planned = change.now.value, change.planned.value
    if change.change is None:
        return "—" if now is None or planned is None else "" if now == planned else "changes"
    if change.now.reading == "consumption" and system == "us":
        # a difference of reciprocals is no reciprocal of a difference
        one, other = (float(shown_in(value, "consumption", system)[0]) for value in (now, planned))
        return f"{'+' if round(other - one, 1) > 0 else ''}{number(other - one, 1)} mpg"
    return shown(change.change, change.now.reading, system, signed=True)


def verdict(change: Change) -> str:
    """Whether a change is for the better or the worse, or that it is none, or that the inputs leave too much open to
    tell.

    "same" is what reads the same, or changes by what reads as nothing, in metric or in US units: so that both say one
    thing. Nothing is said where the thing does not happen, or where neither way is better.

    >>> from ridesim.answers.answer import changed
    >>> def time(t, off): return Figure("t", "Roll-on", t, "time", better=-1, moves={("tune", t): (off, -off)})
    >>> [verdict(changed(time(9.0, 0.3), time(t, 0.3))) for t in (8.0, 8.8, 9.001, 10.0)]
    ['better', 'within the uncertainty', 'same', 'worse']
    """
    if None in (change.now.value, change.planned.value):
        return ""
    if any(_reads_the_same(change, system) for system in SYSTEMS):
        return "same"
    if change.certain is False:
        return "within the uncertainty"
    return "" if change.better is None else "better" if change.better else "worse"


def _reads_the_same(change: Change, system: str) -> bool:
    if figure_words(change.now, system) == figure_words(change.planned, system):
        return True
    return change.change is not None and reads_as_nothing(change_words(change, system))


def reads_as_nothing(words: str) -> bool:
    """Whether a figure in words is a zero.

    >>> reads_as_nothing("0.00 l/100 km"), reads_as_nothing("−0.01 l/100 km")
    (True, False)
    """
    return not any(digit in words.split(" ")[0] for digit in "123456789")
