"""Everything measured on one bike, joined into the most probable one: readings, fit, conflicts, and what to measure next."""

from ridesim.evidence.fit import FittedErrors, fit, with_evidence
from ridesim.evidence.into_build import into_build
from ridesim.evidence.next_reading import Next, measure_next
from ridesim.evidence.report import fit_object, next_object

__all__ = ["FittedErrors", "Next", "fit", "fit_object", "into_build", "measure_next", "next_object", "with_evidence"]
