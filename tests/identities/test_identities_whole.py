"""Any build that is accepted gives an answer in which what must hold does, and whole bikes answer as worked out in plain loops."""

from __future__ import annotations

import json

import numpy as np
import pytest
import tomlkit
from hypothesis import given
from hypothesis import strategies as st
from support.whole_bikes import ALLOWED, BIKES, pairs

from ridesim.answers import contract, everything, ride_with, solve
from ridesim.answers.text import sentence
from ridesim.bike import make_bike
from ridesim.buildfile.io import parse
from ridesim.errors import InputError

pytestmark = pytest.mark.identities


BOUNDS = {  # of what every drawn build has
    "masses": {"bike": (40, 600), "rider": (40, 150), "luggage": (0, 25)},
    "chassis": {"wheelbase": (1100, 2000), "bike_cg_height": (0.3, 0.9), "drag_height": (0.3, 1.4)},
    "inertia": {"front_wheel": (0, 1), "rear_wheel": (0, 1.5), "crank": (0, 0.15)},
    "gearbox": {"primary": (1, 4), "efficiency": (0.6, 1), "shift_time": (0, 1)},
    "surface": {"friction": (0.05, 1.8)},
}


@st.composite
def builds(draw) -> str:
    """A build file from the corners of what is allowed."""
    f = lambda low, high: round(draw(st.floats(low, high)), 4)  # noqa: E731
    one_of = lambda *these: draw(st.sampled_from(these))  # noqa: E731
    document = {section: {key: f(*ends) for key, ends in keys.items()} for section, keys in BOUNDS.items()}
    speeds = [draw(st.integers(800, 5000))]
    for _ in range(draw(st.integers(1, 6))):
        speeds.append(speeds[-1] + draw(st.integers(200, 2500)))
    first, count = f(1.5, 4.0), draw(st.integers(1, 6))
    document["gearbox"]["gears"] = [round(first * 0.78**k, 4) for k in range(count)]
    document["inertia"]["crank_turns"] = one_of("forward", "backward")
    document["final_drive"] = {"front": draw(st.integers(8, 22)), "rear": draw(st.integers(25, 70))}
    document["tires"] = {"rear": {"size": one_of("120/90-18", "3.00-17", "180/55 ZR17", "MT90-16", "100/90-10")}}
    points = [[n, f(3.0, 160.0)] for n in speeds]
    document["tune"] = {"stock": {"points": points, "measured_at": one_of("crank", "wheel")}}
    if draw(st.booleans()):
        limit = speeds[-1] + one_of(-100, 0, 500)
        document["engine"] = {"displacement": f(50, 1500), "stroke": f(30, 120), "rev_limit": limit}
    if draw(st.booleans()):
        document["road_load"] = {"coast_down": [f(0, 300), f(0, 3), one_of(0.0, 0.3, 2.0)]}
    if draw(st.booleans()):
        document["final_drive"] |= {"links": one_of(90, 108, 120), "centre_distance": f(0.5, 0.8)}
    return tomlkit.dumps({"name": "drawn at random"} | document)


@given(text=builds(), grade=st.floats(-30, 60), wind=st.floats(-25, 30), cruise=st.floats(10, 250))
def test_an_accepted_build_always_answers(text, grade, wind, cruise):
    try:
        bike = make_bike(parse(text))
    except InputError as error:
        assert str(error)
        return
    solved = solve(bike, ride_with(bike, cruise=f"{cruise} km/h", grade=f"{grade} %", headwind=f"{wind} m/s"))
    answer = json.loads(json.dumps(contract(solved), allow_nan=False))
    for one in everything(solved):
        words = sentence(one, "us")
        assert "None" not in words and "—" not in words
        assert not any(word in str(step).split() for step in one.steps for word in ("nan", "inf", "-inf"))
    times = answer["acceleration"]
    if times["0_60_kmh_s"] is not None and times["0_100_kmh_s"] is not None:
        assert 0 < times["0_60_kmh_s"] < times["0_100_kmh_s"]
    if times["0_100_kmh_s"] is not None:
        assert answer["top_speed_kmh"] >= 100 - 1e-6 or wind < 0 or grade < 0
    for gear in answer["gears"]:
        if gear["top_speed_kmh"] is not None:
            assert gear["top_speed_kmh"] <= gear["speed_at_rev_limit_kmh"] * (1 + 1e-9)
        if gear["lift_ratio"] is not None:
            assert (gear["lift_from_rpm"] is None) == (gear["lift_ratio"] < 1)
        assert gear["rider_shift_to_lift_m"] is None or gear["rider_shift_to_lift_m"] >= 0
    for row in answer["cruise"]:
        assert row["power_available_kw"] >= row["power_needed_kw"] - 1e-9
        for key, why in (("grade_held_percent", "no grade uses it up"), ("headwind_held_kmh", "no air drag")):
            assert row[key] is not None or any(why in note for note in answer["notes"])
        assert row["engine_rpm"] > 0 and row["share_of_rev_limit"] <= 1 + 1e-9
    for number, row in enumerate(answer["roll_on"]):
        assert row["gear"] == number + 1 and (row["60_100_kmh_s"] is None or row["60_100_kmh_s"] > 0)
    assert np.isfinite(answer["mass_kg"])


@pytest.mark.parametrize("name", BIKES)
def test_a_whole_bike(name):
    """Every figure worked out from scratch, wherever it stands, within two millionths."""
    for where, ours, theirs in pairs(name):
        wanted = (
            theirs if isinstance(theirs, bool | str) or theirs is None else pytest.approx(theirs, rel=ALLOWED, abs=1e-9)
        )
        assert ours == wanted, where
