"""Whole build files, the demo's and others drawn at random, answered by ridesim and worked out from scratch without it."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Any

import numpy as np
import tomlkit
from support.from_scratch import FromScratch

from ridesim import reference
from ridesim.answers import contract, solve
from ridesim.bike import make_bike
from ridesim.buildfile.io import parse

ALLOWED = 2e-6  # of the figure
DEMOS = ("coast-single", "plateau-single", "road-twin")
CURVES = {  # rev/min, N m
    "flat": [[2000, 38], [3500, 40], [5000, 40.5], [6500, 39], [8000, 36]],
    "peaky": [[3000, 12], [5000, 14], [6500, 22], [7500, 36], [8500, 38], [9000, 34], [9500, 20]],
    "hollow": [
        [2000, 30],
        [3000, 45],
        [4500, 29],
        [6000, 26],
        [7500, 46],
        [9000, 30],
    ],  # two humps: several shift points
}
RIDES = {
    "level": {},
    "hill": {"grade": "18 %", "headwind": "3 m/s"},
    "tail wind": {"grade": "-4 %", "headwind": "-9 m/s", "cruise": "70 km/h"},
    "storm": {"headwind": "14 m/s", "cruise": "60 km/h"},
}


def made_up(curve: str, ride: str, seed: int) -> str:
    """A build drawn at random around a curve and a ride."""
    rng = np.random.default_rng(seed)
    u = lambda low, high: round(float(rng.uniform(low, high)), 4)  # noqa: E731
    first, count = u(2.4, 3.2), int(rng.integers(4, 7))
    document: dict[str, Any] = {
        "name": f"{curve}, {ride} (invented)",
        "masses": {"bike": u(120, 240), "rider": u(60, 110), "luggage": u(0, 40)},
        "chassis": {
            "wheelbase": u(1350, 1560),
            "bike_cg_ahead_of_rear_axle": u(0.6, 0.78),
            "bike_cg_height": u(0.42, 0.62),
            "rider_cg_ahead_of_rear_axle": u(0.4, 0.6),
            "rider_cg_height": u(0.9, 1.2),
            "luggage_cg_ahead_of_rear_axle": u(-0.2, 0.2),
            "luggage_cg_height": u(0.7, 1.0),
            "drag_height": u(0.7, 1.0),
        },
        "inertia": {"front_wheel": u(0.3, 0.6), "rear_wheel": u(0.4, 0.8), "crank": u(0.005, 0.05)},
        "engine": {"cycle": int(rng.choice([2, 4])), "displacement": u(120, 900), "stroke": u(50, 90), "cylinders": 1},
        "gearbox": {
            "primary": u(1.7, 2.5),
            "gears": [round(g, 4) for g in first * np.geomspace(1, u(0.33, 0.42), count)],
            "efficiency": u(0.86, 0.96),
            "shift_time": u(0.1, 0.4),
        },
        "final_drive": {"front": int(rng.integers(13, 18)), "rear": int(rng.integers(38, 50)), "chain": "525", "links": 112},
        "tires": {"rear": {"size": "140/80-17", "worn": "2 mm"}, "front": {"size": "90/90-21"}},
        "tune": {"stock": {"measured_at": str(rng.choice(["crank", "wheel"])), "standard": str(rng.choice(["SAE J1349", "ISO 1585", "DIN 70020"]))}},
        "road_load": {"drag_area": u(0.4, 0.7), "rolling_resistance": u(0.012, 0.03)},
        "surface": {"friction": u(0.6, 1.1)},
        "air": {"altitude": f"{u(0, 3000)} m", "temperature": f"{u(-8, 38)} degC", "humidity": f"{u(10, 90)} %"},
        "fuel": {"tank": "11.5 l", "known_consumption": ["4.8 l/100km", "70 km/h"]},
        "ride": RIDES[ride],
    }  # fmt: skip
    document["inertia"]["crank_turns"] = str(rng.choice(["forward", "backward"]))
    document["engine"]["rev_limit"] = CURVES[curve][-1][0] + int(rng.choice([-300, 0, 500]))
    document["final_drive"]["centre_distance"] = f"{u(0.58, 0.66)} m"
    document["tune"]["stock"] |= {"points": CURVES[curve], "points_are": "N*m"}
    if rng.random() < 0.4:
        document["road_load"] = {"coast_down": [f"{u(40, 90)} N", f"{u(0, 1)} N/(m/s)", f"{u(0.25, 0.4)} N/(m/s)^2"]}
    return tomlkit.dumps(document)


BIKES: Mapping[str, Any] = {
    **{
        name: lambda name=name: (reference.DATA / "demo" / f"{name}.toml").read_text(encoding="utf-8") for name in DEMOS
    },
    **{
        f"{curve}, {ride}, {seed}": lambda curve=curve, ride=ride, n=100 * seed + 10 * c + r: made_up(curve, ride, n)
        for seed in range(2)
        for r, ride in enumerate(RIDES)
        for c, curve in enumerate(CURVES)
    },
}


def pairs(name: str) -> list[tuple[str, Any, Any]]:
    """Every figure of a bike that is worked out from scratch: where it stands, as ridesim has it, as it is from scratch."""
    text = BIKES[name]()
    return list(_pairs(contract(solve(make_bike(parse(text)), bands=False)), FromScratch(text).answers(), name))


def _pairs(ours: Any, theirs: Any, where: str) -> Iterator[tuple[str, Any, Any]]:
    if isinstance(theirs, dict):
        for key, value in theirs.items():
            yield from _pairs(ours[key], value, f"{where}.{key}")
    elif isinstance(theirs, list):
        yield f"{where}: how many", len(ours), len(theirs)
        for n, (mine, value) in enumerate(zip(ours, theirs, strict=False)):
            yield from _pairs(mine, value, f"{where}[{n + 1}]")
    else:
        yield where, ours, theirs
