"""From the road to numbers: a phone's speed log becomes drag area, rolling resistance, wheel power and gear ratios."""

from ridesim.roadlog.coastdown import Band, CoastDown, coast_down
from ridesim.roadlog.habit import Habit, RegulationRule
from ridesim.roadlog.log import CAUTIONS, Log, Run, cut, notes_of
from ridesim.roadlog.pull import WheelCurve, wheel_curve
from ridesim.roadlog.ratios import Ratios, find_ratios
from ridesim.roadlog.read import read_log, read_log_bytes
from ridesim.roadlog.ride import RideThrough, ride_through
from ridesim.roadlog.road_demand import Demand, demand
from ridesim.roadlog.runs import find_coast_downs, find_pulls
from ridesim.roadlog.tell_apart import CurveChange, change_between

__all__ = [
    "CAUTIONS",
    "Band",
    "CoastDown",
    "CurveChange",
    "Demand",
    "Habit",
    "Log",
    "Ratios",
    "RegulationRule",
    "RideThrough",
    "Run",
    "WheelCurve",
    "change_between",
    "coast_down",
    "cut",
    "demand",
    "find_coast_downs",
    "find_pulls",
    "find_ratios",
    "notes_of",
    "read_log",
    "read_log_bytes",
    "ride_through",
    "wheel_curve",
]
