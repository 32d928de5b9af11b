"""Time stamps as phones and loggers write them, turned into seconds."""

from __future__ import annotations

import re
from collections.abc import Sequence
from datetime import UTC, datetime
from typing import Any

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]
DAY_S = 86400.0
SLOWEST_S, FASTEST_S = 10.0, 0.04  # steps between which a bare clock is believed: 0.1 to 25 Hz

_CLOCK = re.compile(r"(?:(\d{1,2}):)?(\d{1,2}):(\d{1,2})(?:[.,](\d{1,9}))?(?:\s*([AaPp])\.?[Mm]\.?)?")
_ISO = re.compile(r"\d{4}-\d\d-\d\d[T ]\d\d:\d\d")
_DAY_FIRST = re.compile(r"(\d{1,2})\.(\d{1,2})\.(\d{4})[ T]+(.+)")
_SLASHED = re.compile(r"\d{1,4}/\d{1,2}/\d{1,4},?[ T]+(.+)")
NUMBER = re.compile(r"[+-]?(?:\d+(?:[.,]\d*)?|[.,]\d+)(?:[eE][+-]?\d+)?")
UNIT_S = {"s": 1.0, "ms": 1e-3, "us": 1e-6, "ns": 1e-9, "min": 60.0, "h": 3600.0}
UNIT_NAMES = {
    "sec": "s",
    "secs": "s",
    "second": "s",
    "seconds": "s",
    "sekunden": "s",
    "millis": "ms",
    "msec": "ms",
    "milliseconds": "ms",
    "microseconds": "us",
    "nanoseconds": "ns",
    "minutes": "min",
    "hours": "h",
}


def kind_of(cell: str) -> str | None:
    """How a time is written: "number", "iso", "day first", "slashed" or "clock"; None when in no way known here.

    >>> [kind_of(c) for c in ("12.5", "2026-05-03T10:00:00Z", "3.5.2026 10:00:01", "5/3/2026 1:02:03 PM", "10:00:01.5", "noon")]
    ['number', 'iso', 'day first', 'slashed', 'clock', None]
    """
    if NUMBER.fullmatch(cell):
        return "number"
    if _ISO.match(cell):
        return "iso"
    if _DAY_FIRST.fullmatch(cell):
        return "day first"
    slashed = _SLASHED.fullmatch(cell)
    if slashed and _CLOCK.fullmatch(slashed[1].strip()):
        return "slashed"
    return "clock" if _CLOCK.fullmatch(cell) else None


def clock_s(cell: str) -> float:
    """Seconds since midnight of hh:mm:ss or mm:ss.

    >>> clock_s("1:05:03.5 PM"), clock_s("02:03")
    (47103.5, 123.0)
    """
    match = _CLOCK.fullmatch(cell.strip())
    if not match:
        raise ValueError("is not a time of day")
    hour, minute, second = int(match[1] or 0), int(match[2]), int(match[3])
    if match[5]:
        if not 1 <= hour <= 12:
            raise ValueError("has an hour that does not go with am or pm")
        hour = hour % 12 + (12 if match[5] in "pP" else 0)
    if hour > 47 or minute > 59 or second > 60:
        raise ValueError("is not a time of day")
    return hour * 3600.0 + minute * 60.0 + second + (float("0." + match[4]) if match[4] else 0.0)


def _iso_s(cell: str) -> float:
    if len(cell) > 40:
        raise ValueError("is too long for a time")
    moment = datetime.fromisoformat(cell.replace(",", "."))
    return (moment if moment.tzinfo else moment.replace(tzinfo=UTC)).timestamp()


def _day_first_s(cell: str) -> float:
    match = _DAY_FIRST.fullmatch(cell)
    if not match:
        raise ValueError("is not day.month.year and a time")
    day = datetime(int(match[3]), int(match[2]), int(match[1]), tzinfo=UTC)
    return day.timestamp() + clock_s(match[4])


def _slashed_s(cell: str) -> float:
    match = _SLASHED.fullmatch(cell)
    if not match:
        raise ValueError("is not a date and a time")
    return clock_s(match[1])


_READ = {"iso": _iso_s, "day first": _day_first_s, "slashed": _slashed_s, "clock": clock_s}
OF_DAY = ("slashed", "clock")  # only the time of day is read: midnight is found by the fall


def parse(cells: Sequence[str], kind: str) -> Array:
    """Seconds (or bare numbers for "number") of cells all written in one way; ValueError for one that is not."""
    read: Any = _READ.get(kind) or _number
    return np.fromiter((read(cell.strip()) for cell in cells), dtype=float, count=len(cells))


def _number(cell: str) -> float:
    if not NUMBER.fullmatch(cell):
        raise ValueError("is not a number")
    return float(cell.replace(",", "."))


def over_midnight(seconds: Array) -> Array:
    """Times of day as times that go on after midnight.

    >>> over_midnight(np.array([86399.0, 0.5, 1.5])).tolist()
    [86399.0, 86400.5, 86401.5]
    """
    return seconds + DAY_S * np.concatenate([[0.0], np.cumsum(np.diff(seconds) < -DAY_S / 2)])


def unit_of_numbers(values: Array, unit: str | None) -> tuple[str, str]:
    """(unit, why) of a clock written in bare numbers.

    Size tells a count since 1970 (a date between 1990 and 2100); otherwise the step does, because logs run at 0.1 to
    25 Hz: a median step over 10 cannot be seconds, and one under 40 cannot be milliseconds.

    >>> unit_of_numbers(np.array([1.7e12, 1.7e12 + 100]), None)[0], unit_of_numbers(np.array([0.0, 200.0, 400.0]), None)[0]
    ('ms', 'ms')
    >>> unit_of_numbers(np.array([0.0, 0.2, 0.4]), None)
    ('s', 'median step 0.2: only seconds make a log of 0.1 to 25 Hz')
    """
    if unit:
        return unit, "as headed or told"
    for name, scale in (("s", 1.0), ("ms", 1e3), ("us", 1e6), ("ns", 1e9)):
        if np.all((values > 6.3e8 * scale) & (values < 4.11e9 * scale)):
            return name, "counted since 1970, by its size"
    steps = np.diff(values)
    step = float(np.median(steps[steps > 0])) if np.any(steps > 0) else 1.0
    name, scale = ("s", 1.0) if step <= SLOWEST_S else ("ms", 1e3)
    word = "seconds" if name == "s" else "milliseconds"
    if not FASTEST_S * scale <= step <= SLOWEST_S * scale:
        raise ValueError(f"steps by {step:g}: no unit makes that a log of 0.1 to 25 Hz")
    return name, f"median step {step:g}: only {word} make a log of 0.1 to 25 Hz"
