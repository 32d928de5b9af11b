"""A demo build with readings, for tests of the fit."""

from __future__ import annotations

from ridesim import reference
from ridesim.buildfile.io import Build, parse, read

SINGLE = read(reference.DATA / "demo" / "coast-single.toml")
EVIDENCE = (
    'kind = "roll-out"\nvalue = "2.0 +- 0.004 m"',
    'kind = "axle weight"\naxle = "rear"\nwith = "rider"\nvalue = "147 +- 1 kg"',
    'kind = "axle weight"\naxle = "front"\nwith = "bike alone"\nvalue = "81 +- 1 kg"',
    'kind = "speed at engine speed"\ngear = 5\nspeed = "97.6 +- 0.5 km/h"\nengine_speed = "5000 +- 30 rev/min"',
    'kind = "consumption"\nvalue = "4.3 +- 0.2 l/100km"\nspeed = "90 km/h"',
    'kind = "coast-down"\ndrag_area = "0.63 +- 0.02 m^2"\nrolling_resistance = "0.019 +- 0.001"\ncorrelation = -0.7',
    'kind = "timed run"\nfrom = "60 km/h"\nto = "100 km/h"\ngear = 5\ntime = "8.0 +- 0.2 s"',
    'kind = "timed run"\nfrom = "0 km/h"\nto = "100 km/h"\ngear = "through the gears"\ntime = "10.1 +- 0.4 s"',
    'kind = "top speed"\nvalue = "127 +- 2 km/h"',
    'kind = "wheel power"\ntune = "stock"\nengine_speed = "6000 rev/min"\nvalue = "17.9 +- 0.6 kW"',
)


def with_readings(*readings: str, build: Build = SINGLE) -> Build:
    """The build with readings, each the lines below its heading."""
    return parse(build.text + "".join(f"\n[[evidence]]\n{one}\n" for one in readings))
