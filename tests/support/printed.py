"""A printed figure and what ridesim computes for it, for the tests in tests/published."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from decimal import Decimal


@dataclass(frozen=True, kw_only=True)
class Printed:
    """One figure as an outside source prints it.

    id        short and unique, such as "trail-meijaard-2007"
    quantity  what the figure is
    given     the inputs, as the source gives them
    printed   the digits exactly as printed ("90.16"), without the unit
    unit      unit of the printed figure
    source    the document, and where in it
    compute   what ridesim says, in the printed unit
    tolerance half the last printed digit unless given; then `reason` must say why
    """

    id: str
    quantity: str
    given: str
    printed: str
    unit: str
    source: str
    compute: Callable[[], float]
    tolerance: float | None = None
    reason: str = ""

    def __post_init__(self) -> None:
        if self.tolerance is not None and not self.reason:
            raise ValueError(f"{self.id}: a tolerance of its own needs a reason")

    @property
    def half_last_digit(self) -> float:
        return float(Decimal(1).scaleb(int(Decimal(self.printed).as_tuple().exponent))) / 2

    @property
    def allowed(self) -> float:
        # a hair more than half a digit, so that a printed 5 that was rounded up passes
        return self.half_last_digit * (1 + 1e-9) + 1e-12 if self.tolerance is None else self.tolerance

    def __str__(self) -> str:
        return self.id
