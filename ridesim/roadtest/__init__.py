"""A log beside a build: which runs to use, what the build lends them, the answer in words, and the result written back."""

from ridesim.roadtest.coast import Coasted, coasted
from ridesim.roadtest.given import with_air
from ridesim.roadtest.into_build import with_gears, with_road_load, with_wheel_tune
from ridesim.roadtest.pulls import Compared, Pulled, compared, pulled
from ridesim.roadtest.ratios import Geared, geared
from ridesim.roadtest.rides import Ridden, ridden, ride_table
from ridesim.roadtest.runs import coast_speeds, part_of, pull_speeds, runs_of, ways_of

__all__ = [
    "Coasted",
    "Compared",
    "Geared",
    "Pulled",
    "Ridden",
    "coast_speeds",
    "coasted",
    "compared",
    "geared",
    "part_of",
    "pull_speeds",
    "pulled",
    "ridden",
    "ride_table",
    "runs_of",
    "ways_of",
    "with_air",
    "with_gears",
    "with_road_load",
    "with_wheel_tune",
]
