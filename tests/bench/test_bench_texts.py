"""How long the longest answer to any text of a rider takes: quantities, units, headings, markings, ranges of teeth.

Not part of the ordinary test run: python -m pytest tests/bench/test_bench_texts.py -q -s
"""

from __future__ import annotations

import time
from contextlib import suppress

from ridesim.buildfile.curve_file import parse_curve
from ridesim.components.chain import chain_size
from ridesim.components.tire_marking import parse_marking
from ridesim.errors import InputError
from ridesim.logs.reader import read_log_bytes
from ridesim.logs.reading.headings import reading_of
from ridesim.selection import teeth
from ridesim.units import KINDS, quantity

MOST_S = 0.050
PIECES = ["m**9", "1e999999", "9", " ", "[", "(", "[ ", "]", "+-", "±", "-", "/", "a", "120/90-18 ", "1:", "13:", ",", "²", "_",
          "é", "\u0345\u0323\u0301", "GpsSpeed", "km/h ", "s.", "per "]  # fmt: skip
TEXTS = [
    (lead + piece * 10_000)[:9_999] + end for piece in PIECES for lead in ("", "5 ", "torque [") for end in ("", "x")
]
TEXTS += ["5 m**9**9**9", "1e999999 kg", "9" * 80, "+-" * 40, "5 " + "(" * 38, "5 " + "m*" * 19 + "m", "m**9**9**9"]
DOORS = {
    **{f"quantity: {kind}": lambda text, kind=kind: quantity(text, kind, "", "x") for kind in KINDS},
    **{f"unit: {kind}": lambda text, kind=kind: quantity(5.0, kind, text, "x") for kind in KINDS},
    "heading": reading_of,
    "unit of a heading": lambda text: reading_of(text, text),
    "curve": lambda text: parse_curve(f"rpm;{text}\n2000;33\n3000;30\n"),
    "log": lambda text: read_log_bytes(
        f"time [s];speed [km/h];{text}\n1;3;4\n2;4;4\n3;4;4\n4;4;5\n".encode(), "log.csv"
    ),
    "tire": lambda text: parse_marking(text, "x"),
    "chain": chain_size,
    "teeth": lambda text: teeth(text, "x"),
}


def test_any_text_of_ten_thousand_characters_is_answered_or_refused_at_once(tell):
    quantity("5 kg", "mass", "kg", "x")  # the units library is read once
    slowest = {}
    for name, door in DOORS.items():
        for text in TEXTS:
            took = []
            for _ in range(2):
                start = time.process_time()
                with suppress(InputError):
                    door(text)
                took.append(time.process_time() - start)
            slowest[name] = max(slowest.get(name, (0.0, "")), (min(took), text[:24]))
    for name, (took, text) in sorted(slowest.items(), key=lambda one: -one[1][0])[:6]:
        tell(
            f"longest time for a text, {name}: {took * 1e3:.1f} ms, {took / MOST_S:.0%} of what is allowed ({text!r} ...)"
        )
    assert max(took for took, _ in slowest.values()) < MOST_S
