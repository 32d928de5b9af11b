"""What the page "How we know" shows, written where the wheel takes it from:

PYTHONPATH=tests python -m support.ledger.ship
"""

from __future__ import annotations

import csv

import numpy as np
from support.bikes import Stepped, random_fields, single_curve
from support.ledger.rows import Case, cases, rows
from support.whole_bikes import ALLOWED, BIKES, pairs

from ridesim import reference
from ridesim.mechanics.kernel import perform
from ridesim.mechanics.setups import Ride, broadcast
from ridesim.reference import sources

FOLDER = reference.DATA / "proof"
PRINTED = ("figure", "function", "given", "printed", "unit", "computed", "allowed", "standing", "source", "locator", "reason")  # fmt: skip
CHECKS = ("what", "by", "figures", "worst", "allowed")
STEPPED = 40  # bikes


def printed() -> list[dict[str, str]]:
    """The ledger, as far as a reader asks for it."""
    return [{column: row[column] for column in PRINTED} for row in rows()]


def checks() -> list[dict[str, str]]:
    """The same figures by independent means, and how far off the worst one is, as a share of it."""
    return [_row(_whole_bikes()), _row(_times()), *by_libraries()]


def by_libraries() -> list[dict[str, str]]:
    """Those of the checks that take no time."""
    libraries = [case for case in cases() if case.standing == "library"]
    return [_row(_library(source, libraries)) for source in dict.fromkeys(case.source for case in libraries)]


def _row(one: tuple[object, ...]) -> dict[str, str]:
    return {name: str(value) for name, value in zip(CHECKS, one, strict=True)}


def _whole_bikes() -> tuple[object, ...]:
    off = [
        abs(ours - theirs) / max(abs(theirs), 1e-3)
        for name in BIKES
        for _, ours, theirs in pairs(name)
        if isinstance(theirs, float | int) and not isinstance(theirs, bool)
    ]
    by = "plain loops over the build file, with scipy for roots, highest values and motion, and no line of this program"
    return f"Every figure of {len(BIKES)} whole bikes", by, len(off), f"{max(off):.1e}", ALLOWED


def _times() -> tuple[object, ...]:
    off: list[float] = []
    for seed in range(STEPPED):
        fields, curve, ride = random_fields(np.random.default_rng(seed)), single_curve(), Ride()
        done = perform(broadcast(fields), curve, ride)
        ours = [*done.run.times_s[0], *done.run.distance_time_s]
        stepped = Stepped(fields, curve, ride).times
        off += [abs(own / time - 1) for own, time in zip(ours, stepped, strict=True) if time is not None]
    by = "scipy's general integrator of motion (solve_ivp) at a relative tolerance of 1e-10"
    return f"Times from rest of {STEPPED} bikes drawn at random", by, len(off), f"{max(off):.1e}", 1e-5


def _library(source: str, of: list[Case]) -> tuple[object, ...]:
    own = [case for case in of if case.source == source]
    compared = [(case, float(case.printed)) for case in own if float(case.printed)]
    worst = max(abs(case.compute() / theirs - 1) for case, theirs in compared)
    allowed = max(case.allowed / abs(theirs) for case, theirs in compared)
    figures = "; ".join(sorted({case.figure for case in own}))
    return f"{figures[:1].upper()}{figures[1:]}", sources()[source]["title"], len(own), f"{worst:.1e}", f"{allowed:.1e}"


def write(name: str, columns: tuple[str, ...], found: list[dict[str, str]]) -> None:
    """One table, where the wheel takes it from."""
    with (FOLDER / f"{name}.csv").open("w", encoding="utf-8", newline="") as out:
        writer = csv.DictWriter(out, columns, lineterminator="\n")
        writer.writeheader()
        writer.writerows(found)


if __name__ == "__main__":
    write("printed", PRINTED, printed())
    write("checks", CHECKS, checks())
