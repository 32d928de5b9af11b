"""The garage: builds with their history, trials and logs, in one SQLite file that only this package opens."""

from ridesim.garage.records import GarageError
from ridesim.garage.store import Garage

__all__ = ["Garage", "GarageError"]
