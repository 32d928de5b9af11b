"""Time stamps as phones and loggers write them, turned into seconds."""

from __future__ import annotations

import re
from collections.abc import Sequence
from datetime import UTC, datetime

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]
DAY_S = 86400.0
LONGEST = 48  # characters of a time
SLOWEST_S, FASTEST_S = 10.0, 0.04  # steps between which a bare clock is believed: 0.1 to 25 Hz

_CLOCK = re.compile(r"(?:(\d{1,2}):)?(\d{1,2}):(\d{1,2})(?:[.,:](\d{1,9}))?(?:\s*([AaPp])\.?[Mm]\.?)?")
_ISO = re.compile(r"(?:\d{4}-\d\d-\d\d[Tt ]\d\d:\d\d|\d{8}[Tt]\d{4})")
_DAY_FIRST = re.compile(r"(\d{1,2})\.(\d{1,2})\.(\d{4})[ T]+(.+)")
_CLOCK_IN = re.compile(r"(?<![\d:.])\d{1,2}:\d\d:\d\d(?:[.,:]\d{1,9})?(?:\s*[AaPp]\.?[Mm]\.?)?(?![\d:])")
_DATE = re.compile(  # what stands around the clock: a day, with or without its name, and a zone that stays the same all along
    r"(?:[A-Za-z]{3,9}\.?,?\s+)?(?:\d{1,4}[-/.]\d{1,2}[-/.]\d{1,4}|\d{1,2}[-/. ][A-Za-z]{3,9}\.?[-/. ]\d{2,4}"
    r"|[A-Za-z]{3,9}\.?\s+\d{1,2},?(?:\s+\d{4})?),?\s*@\s*(?:Z|[A-Z]{2,4})?(?:[+-]\d\d:?\d\d)?(?:\s+\d{4})?"
)
NUMBER = re.compile(r"[+-]?(?:\d+(?:[.,]\d*)?|[.,]\d+)(?:[eE][+-]?\d+)?")
UNIT_S = {"s": 1.0, "ms": 1e-3, "us": 1e-6, "ns": 1e-9, "min": 60.0, "h": 3600.0, "d": DAY_S}
LAST_SERIAL = 80_000.0  # days of a spreadsheet since the end of 1899: the year 2119


def kind_of(cell: str) -> str | None:
    """How a time is written: "number", "iso", "day first", "dated" or "clock"; None when in no way known here.

    >>> [kind_of(c) for c in ("12.5", "2026-05-03T10:00:00Z", "3.5.2026 10:00:01", "5/3/2026 1:02:03 PM", "10:00:01.5", "noon")]
    ['number', 'iso', 'day first', 'dated', 'clock', None]
    >>> [kind_of(c) for c in ("03-May-2026 10:00:01.250", "Sun May 3 10:00:01 GMT+02:00 2026", "20260503T100001Z")]
    ['dated', 'dated', 'iso']
    """
    if NUMBER.fullmatch(cell):
        return "number"
    if _ISO.match(cell):
        return "iso"
    if _DAY_FIRST.fullmatch(cell):
        return "day first"
    if len(cell) <= LONGEST and _dated_clock(cell):
        return "dated"
    return "clock" if _CLOCK.fullmatch(cell) else None


def _dated_clock(cell: str) -> str | None:
    """The time of day in a cell that holds a date as well; None where it is nothing of the kind."""
    clock = _CLOCK_IN.search(cell)
    if clock is None or not _DATE.fullmatch(
        f"{cell[: clock.start()]}@{cell[clock.end() :]}".strip().replace("T@", " @")
    ):
        return None
    return clock[0]


def clock_s(cell: str) -> float:
    """Seconds since midnight of hh:mm:ss or mm:ss.

    >>> clock_s("1:05:03.5 PM"), clock_s("02:03")
    (47103.5, 123.0)
    >>> clock_s("10:00:01:250")
    36001.25
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


def iso_s(cell: str) -> float:
    """Seconds since 1970 of a date and time by ISO 8601, and of what is often written for one."""
    if len(cell) > LONGEST:
        raise ValueError("is too long for a time")
    try:
        moment = datetime.fromisoformat(cell)
    except ValueError:  # "10:00:00,5", "10:00:00 +0200" and "10:00:00 UTC" are written too
        plain = re.sub(r"\s*(?:UTC|GMT)$", "Z", cell.upper().replace(",", "."))
        moment = datetime.fromisoformat(re.sub(r"\s+(?=[+-]\d\d:?\d\d$|Z$)", "", plain))
    return (moment if moment.tzinfo else moment.replace(tzinfo=UTC)).timestamp()


def _day_first_s(cell: str) -> float:
    match = _DAY_FIRST.fullmatch(cell)
    if not match:
        raise ValueError("is not day.month.year and a time")
    day = datetime(int(match[3]), int(match[2]), int(match[1]), tzinfo=UTC)
    return day.timestamp() + clock_s(match[4])


def _dated_s(cell: str) -> float:
    clock = _dated_clock(cell) if len(cell) <= LONGEST else None
    if clock is None:
        raise ValueError("is not a date and a time")
    return clock_s(clock)


_READ = {"iso": iso_s, "day first": _day_first_s, "dated": _dated_s, "clock": clock_s}
OF_DAY = ("dated", "clock")  # only the time of day is read: midnight is found by the fall


def parse(cells: Sequence[str], kind: str) -> Array:
    """Seconds of cells that are mostly written in one way; nan for one that is not.

    >>> parse(["10:00:01", "noon"], "clock").tolist()
    [36001.0, nan]
    """

    def read(cell: str) -> float:
        try:
            return _READ[kind](cell.strip())
        except (ValueError, OverflowError, OSError):
            return np.nan

    return np.fromiter(map(read, cells), dtype=float, count=len(cells))


def over_midnight(seconds: Array) -> Array:
    """Times of day as times that go on after midnight.

    >>> over_midnight(np.array([86399.0, 0.5, 1.5])).tolist()
    [86399.0, 86400.5, 86401.5]
    """
    return seconds + DAY_S * np.concatenate([[0.0], np.cumsum(np.diff(seconds) < -DAY_S / 2)])


def clock_of_numbers(values: Array) -> Array | None:
    """Times of day written as one number, 95959.5 for 9:59:59.5, in seconds; None where they are a plain count.

    A clock leaves out 60 to 99 of each hundred: the numbers leap by 40 more from minute to minute, and never elsewhere.

    >>> clock_of_numbers(np.array([95958.0, 95959.0, 100000.0, 100001.0])).tolist()
    [35998.0, 35999.0, 36000.0, 36001.0]
    >>> clock_of_numbers(np.array([95958.0, 95959.0, 95960.0, 95961.0])), clock_of_numbers(np.array([0.0, 50.0, 130.0, 150.0]))
    (None, None)
    """
    if not np.all((values >= 0) & (values < 240000) & (values % 100 < 60) & (values // 100 % 100 < 60)):
        return None
    seconds = values // 10000 * 3600 + values // 100 % 100 * 60 + values % 100
    turned, steps = np.diff(values // 100) != 0, np.diff(seconds)
    usual = float(np.median(steps)) if steps.size else 0.0
    if not turned.any() or not 0 < usual <= SLOWEST_S:
        return None
    close = (
        np.mod(steps[turned], DAY_S) < 3 * usual + 1e-6
    )  # a tunnel may fall on the turn of a minute, but not on most
    return seconds if close.mean() > 0.5 else None


def unit_of_numbers(values: Array, unit: str | None) -> tuple[str, str]:
    """(unit, why) of a clock written in bare numbers.

    Size tells a count since 1970 (a date between 1990 and 2100); otherwise the step does, because logs run at 0.1 to
    25 Hz: a median step over 10 cannot be seconds, and one under 40 cannot be milliseconds.

    >>> unit_of_numbers(np.array([1.7e12, 1.7e12 + 100]), None)[0], unit_of_numbers(np.array([0.0, 200.0, 400.0]), None)[0]
    ('ms', 'ms')
    >>> unit_of_numbers(np.array([0.0, 0.2, 0.4]), None)
    ('s', 'median step 0.2: only seconds make a log of 0.1 to 25 Hz')
    >>> unit_of_numbers(46145.4 + np.arange(9) / 86400, None)
    ('d', 'days and parts of them, as a spreadsheet counts')
    """
    if unit:
        return unit, "as headed or told"
    for name, scale in (("s", 1.0), ("ms", 1e3), ("us", 1e6), ("ns", 1e9)):
        if np.all((values > 6.3e8 * scale) & (values < 4.11e9 * scale)):
            return name, "counted since 1970, by its size"
    steps = np.diff(values)
    step = float(np.median(steps[steps > 0])) if np.any(steps > 0) else 1.0
    if step < FASTEST_S and FASTEST_S <= step * DAY_S <= SLOWEST_S and np.all((values >= 0) & (values < LAST_SERIAL)):
        return "d", "days and parts of them, as a spreadsheet counts"
    name, scale = ("s", 1.0) if step <= SLOWEST_S else ("ms", 1e3)
    word = "seconds" if name == "s" else "milliseconds"
    if not FASTEST_S * scale <= step <= SLOWEST_S * scale:
        raise ValueError(f"steps by {step:g}: no unit makes that a log of 0.1 to 25 Hz")
    return name, f"median step {step:g}: only {word} make a log of 0.1 to 25 Hz"
