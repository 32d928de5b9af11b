"""How we know: the equations by what they are about, and beside each what the world prints and what it gives here.

The equations are read from their own docstrings; the printed figures and the independent checks from data/proof, which the tests
write (`tests/support/ledger/ship.py`).
"""

from __future__ import annotations

import inspect
from collections import defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import cache
from importlib import import_module

from ridesim.reference import DATA, read_rows, sources


@dataclass(frozen=True, kw_only=True)
class Topic:
    """A part of the field, and the modules its equations stand in."""

    key: str
    title: str
    modules: tuple[str, ...]


@dataclass(frozen=True, kw_only=True)
class Printed:
    """One figure as an outside source gives it, and what we compute for it in the same unit."""

    figure: str
    given: str
    printed: str
    unit: str
    computed: str
    allowed: str
    standing: str
    source: str
    locator: str
    reason: str

    @property
    def document(self) -> str:
        """The source by its title, and where in it."""
        return f"{sources()[self.source]['title']}, {self.locator}"


@dataclass(frozen=True, kw_only=True)
class Equation:
    """One public function: what it gives, by which formula, and the printed figures it is held to."""

    name: str
    says: str
    formula: str
    printed: tuple[Printed, ...]


@dataclass(frozen=True, kw_only=True)
class Check:
    """An independent computation of the same figures: by what, of how many, how far off the worst one was, and what is allowed."""

    what: str
    by: str
    figures: int
    worst: float
    allowed: float


TOPICS = (
    Topic(key="gears", title="Gears and speeds", modules=("mechanics.drivetrain",)),
    Topic(key="chain", title="Chain", modules=("components.chain_geometry", "components.chain")),
    Topic(
        key="tires",
        title="Tires and speedometer",
        modules=("components.tire_dimensions", "components.tire_marking", "components.tire", "components.speedometer"),
    ),
    Topic(key="steering", title="Masses and steering", modules=("components.steering",)),
    Topic(key="power", title="Power", modules=("components.power_curve", "environment.power_correction")),
    Topic(key="air", title="Air", modules=("environment.air",)),
    Topic(
        key="road",
        title="Road and wind",
        modules=("environment.road_forces", "environment.road", "mechanics.cruise", "environment.climb"),
    ),
    Topic(key="lift", title="Front wheel, grip and hills", modules=("mechanics.equations", "answers.front_wheel.body")),
    Topic(key="fuel", title="Fuel", modules=("mechanics.fuel", "fueling.mixture_power")),
    Topic(
        key="carburetor",
        title="Jets, needle, intake and idle",
        modules=(
            "fueling.jets",
            "fueling.needle",
            "fueling.circuits",
            "fueling.openings",
            "fueling.idle_curve",
            "garage.richness",
        ),
    ),
    Topic(
        key="logs",
        title="Logs",
        modules=(
            "logs.reading.positions",
            "logs.fits.coast",
            "logs.fits.pull",
            "logs.fits.ratios",
            "logs.fits.receiver",
        ),
    ),
    Topic(key="units", title="Units", modules=("units",)),
)


@cache
def equations(topic: Topic) -> tuple[Equation, ...]:
    """What a topic is computed by, in the order of its modules: every function with a formula or with printed figures.

    >>> found = equations(TOPICS[0])[1]
    >>> found.says, found.formula
    ('Road speed with the clutch closed and no tire slip', 'v = omega r / i')
    """
    return tuple(one for module in topic.modules for one in _of_module(f"ridesim.{module}"))


def _of_module(name: str) -> Sequence[Equation]:
    module, printed, found = import_module(name), _printed(), []
    for key, value in vars(module).items():
        function = f"{name}.{key}"
        own = inspect.isfunction(value) and value.__module__ == name and not key.startswith("_")
        says, parted, formula = _first_line(inspect.getdoc(value)) if own else ("", "", "")
        if parted or function in printed:
            says = says or f"The constant {key}"
            found.append(Equation(name=function, says=says, formula=formula, printed=printed.get(function, ())))
    return found


def _first_line(text: str | None) -> tuple[str, str, str]:
    """A docstring's first line parted at the two spaces that stand before a formula."""
    says, parted, formula = (text or "").partition("\n")[0].partition(":  ")
    return says.rstrip("."), parted, formula.rstrip(".")


@cache
def _printed() -> Mapping[str, tuple[Printed, ...]]:
    """The printed figures by the function that computes them."""
    found: dict[str, list[Printed]] = defaultdict(list)
    for row in read_rows(DATA / "proof" / "printed.csv"):
        found[row.pop("function")].append(Printed(**row))
    return {function: tuple(lines) for function, lines in found.items()}


@cache
def checks() -> tuple[Check, ...]:
    """The independent checks."""
    kinds = {"figures": int, "worst": float, "allowed": float}
    rows = read_rows(DATA / "proof" / "checks.csv")
    return tuple(Check(**{name: kinds.get(name, str)(cell) for name, cell in row.items()}) for row in rows)
