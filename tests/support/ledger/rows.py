"""Our figures beside those of the world: what a document prints, or a reference library returns, and what ridesim says.

`cases()` reads the tables in tests/published and UNREAD, and asks the libraries of `support.ledger.libraries`; `rows()`
computes all of them and gives plain dictionaries of text, whose keys are COLUMNS, ready for CSV, JSON or a page.

A table in tests/published, and UNREAD, which holds what was read in no document, has the columns

    id         short and unique
    figure     what is computed: a key of `support.ledger.figures.FIGURES`, which names the public function
    given      the inputs as the document gives them, "teeth=17; pitch=19.05 mm"
    printed    the digits as printed, without the unit
    unit       the unit of the printed digits
    source     the document: a key of data/sources.toml
    locator    where in it: page, table, clause, example
    standing   READ, DERIVED (worked out from a rule that was read), SECOND-HAND (as others quote it) or RECALLED (from memory)
    tolerance  half the last printed digit unless given; then
    reason     says why
"""

from __future__ import annotations

import csv
from collections import Counter
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass
from decimal import Decimal
from functools import cache
from pathlib import Path

import support.ledger.air_and_fuel  # enters its figures
import support.ledger.bike  # noqa: F401  enters its figures
from support.ledger.figures import FIGURES, si

from ridesim.reference import sources
from ridesim.units import in_unit

FOLDER = Path(__file__).parents[2] / "published"
UNREAD = Path(__file__).parents[2] / "regression" / "unread.csv"
LEDGER = Path(__file__).parents[3] / "build" / "computed-beside-printed.csv"
COLUMNS = ("id", "figure", "function", "given", "printed", "unit", "computed", "allowed", "inside", "standing", "kind", "source",
           "title", "locator", "reason")  # fmt: skip
STANDINGS = ("read", "derived", "second-hand", "from memory", "common practice", "library")
MOST_OF_ONE_DOCUMENT = 60
_WORDS = {"READ": "read", "DERIVED": "derived", "SECOND-HAND": "second-hand", "RECALLED": "from memory"}


@dataclass(frozen=True, kw_only=True)
class Case:
    """One figure as an outside source gives it, and what ridesim computes for it in the same unit."""

    id: str
    figure: str
    function: str
    given: str
    printed: str
    unit: str
    source: str
    locator: str
    standing: str
    compute: Callable[[], float]
    tolerance: float | None = None
    reason: str = ""

    def __post_init__(self) -> None:
        if self.source not in sources():
            raise ValueError(f"{self.id}: {self.source!r} is not in sources.toml")
        if not self.locator.strip():
            raise ValueError(f"{self.id}: where in the document does it stand?")
        if self.standing not in STANDINGS:
            raise ValueError(f"{self.id}: standing {self.standing!r} is none of {STANDINGS}")
        if self.tolerance is not None and not self.reason:
            raise ValueError(f"{self.id}: a tolerance of its own needs a reason")

    @property
    def half_last_digit(self) -> float:
        return float(Decimal(1).scaleb(int(Decimal(self.printed).as_tuple().exponent))) / 2

    @property
    def allowed(self) -> float:
        # a hair more than half a digit, so that a printed 5 that was rounded up passes
        return self.half_last_digit * (1 + 1e-9) + 1e-12 if self.tolerance is None else self.tolerance

    @property
    def inside(self) -> bool:
        return abs(self.compute() - float(self.printed)) <= self.allowed

    def row(self) -> dict[str, str]:
        """The case as text by COLUMNS."""
        source = sources()[self.source]
        found = {
            "computed": f"{self.compute():.10g}",
            "allowed": f"{self.allowed:.3g}",
            "kind": source["kind"],
            "inside": "yes" if self.inside else "no",
            "title": source["title"],
        }
        return {column: str(found.get(column, getattr(self, column, ""))) for column in COLUMNS}

    def __str__(self) -> str:
        return self.id


def standing_of(source: str, standing: str) -> str:
    """How well a figure stands: what the kind of the source says, else how it came to us."""
    kind = sources()[source]["kind"] if source in sources() else ""
    return {"library": "library", "common-practice": "common practice"}.get(kind) or _WORDS[standing]


def _case(row: Mapping[str, str]) -> Case:
    figure = FIGURES[row["figure"]]
    given = {name.strip(): si(value) for name, value in (pair.split("=") for pair in row["given"].split(";"))}

    def compute() -> float:
        found = figure.compute(**given)
        return float(in_unit(found, row["unit"], figure.kind) if figure.kind else found)

    return Case(
        **{name: row[name] for name in ("id", "figure", "given", "printed", "unit", "source", "locator", "reason")},
        function=figure.function,
        standing=standing_of(row["source"], row["standing"]),
        compute=compute,
        tolerance=float(row["tolerance"]) if row["tolerance"] else None,
    )


def _of(paths: Iterable[Path]) -> tuple[Case, ...]:
    found = []
    for path in paths:
        with path.open(encoding="utf-8", newline="") as lines:
            for number, row in enumerate(csv.DictReader(lines, strict=True), start=2):
                try:
                    found.append(_case(row))
                except (KeyError, TypeError, ValueError) as error:
                    raise ValueError(f"{path.name}, line {number}: {error}") from error
    return tuple(found)


@cache
def printed() -> tuple[Case, ...]:
    """Every figure of the tables in tests/published."""
    return _of(sorted(FOLDER.glob("*.csv")))


@cache
def unread() -> tuple[Case, ...]:
    """Every figure that comes second-hand, from memory or from common practice."""
    return _of([UNREAD])


@cache
def cases() -> tuple[Case, ...]:
    """The printed figures, those that were read in no document, and those of the reference libraries."""
    from support.ledger.libraries import by_libraries

    return (*printed(), *unread(), *by_libraries())


def rows() -> list[dict[str, str]]:
    """The whole ledger, one row a figure, sorted by id."""
    return sorted((case.row() for case in cases()), key=lambda row: row["id"])


def counts(of: Iterable[Mapping[str, str]]) -> tuple[dict[str, int], Counter[str]]:
    """Figures by standing, and those that were read by document."""
    of = list(of)
    by_standing = Counter(row["standing"] for row in of)
    return (
        {standing: by_standing[standing] for standing in STANDINGS},
        Counter(row["source"] for row in of if row["standing"] == "read"),
    )


def write() -> list[dict[str, str]]:
    """Put the ledger where a reader can open it."""
    found = rows()
    LEDGER.parent.mkdir(exist_ok=True)
    with LEDGER.open("w", encoding="utf-8", newline="") as out:
        writer = csv.DictWriter(out, COLUMNS)
        writer.writeheader()
        writer.writerows(found)
    return found


def table(of: Iterable[Mapping[str, str]]) -> str:
    """The counts as a reader sees them at the end of the run."""
    by_standing, by_document = counts(of)
    lines = [f"{number:6}  {standing}" for standing, number in by_standing.items()]
    first, *others = lines
    return "\n".join([f"{first} in {len(by_document)} documents, at most {max(by_document.values())} in one", *others])
