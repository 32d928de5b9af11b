"""A belt and a shaft in place of the chain, and a crank along the bike: read, answered, and shown on every page."""

from __future__ import annotations

import json

import pytest
from support.commands import answered, refused
from support.small_build import small

import ridesim as rs
from ridesim.answers import contract, everything, solve
from ridesim.bike import make_bike
from ridesim.errors import InputError

SHAFT = {"kind": "shaft", "front": None, "rear": None, "ratio": [44, 14]}
BELT = {"kind": "belt"}


def driven(by: dict) -> rs.Bike:
    return make_bike(small({f"final_drive.{key}": value for key, value in by.items()}))


@pytest.fixture
def files(tmp_path):
    """A build file of each kind."""
    made = {}
    for name, by in (("shaft", SHAFT), ("belt", BELT)):
        made[name] = tmp_path / f"{name}.toml"
        made[name].write_text(driven(by).build.text, encoding="utf-8")
    return made


@pytest.mark.parametrize("by", [SHAFT, BELT], ids=["shaft", "belt"])
def test_everything_but_the_chain_is_that_of_a_chain_of_the_same_ratio(by):
    own, chained = contract(solve(driven(by))), contract(solve(driven({})))
    assert set(own["chain"].values()) == {None} and set(own["chain"]) == set(chained["chain"])
    assert any("no chain" in note for note in own["notes"])
    same = set(own) - {"front", "rear", "chain", "assumptions", "notes"}
    assert {key: own[key] for key in same} == {key: chained[key] for key in same}
    assert [answer.question for answer in everything(solve(driven(by)))][-1] == "Does the chain fit?"


def test_a_shaft_has_no_sprockets_to_choose(capsys, files):
    told = json.loads(answered(capsys, "answers", files["shaft"], "--json"))
    assert told["front"] is told["rear"] is None
    for command in ("choose", files["shaft"]), ("wanted", files["shaft"], "--engine-speed", "4000", "--speed", "90"):
        assert "nothing to choose" in refused(capsys, *command)
    assert "shaft" in refused(capsys, "answers", files["shaft"], "--front", "15")
    assert "final drive: shaft 3.143 -> 14/44" in answered(capsys, "compare", files["shaft"], files["belt"])


def test_a_belt_has_pulleys_to_choose_and_no_chain_to_order(capsys, files):
    told = json.loads(answered(capsys, "choose", files["belt"], "--json", "--front", "14:15", "--rear", "43:45"))
    assert any("no chain" in note for note in told["notes"])
    assert all(row["chain"] is None for row in told["candidates"])
    assert "No chain: a belt drives the rear wheel." in answered(capsys, "answers", files["belt"])


@pytest.mark.parametrize(
    ("by", "where", "word"),
    [
        ({"kind": "shaft"}, "final_drive.ratio", "missing"),
        ({"kind": "shaft", "ratio": 3.0}, "final_drive.front", "not a part of a shaft"),
        ({**SHAFT, "links": 110}, "final_drive.links", "not a part of a shaft"),
        ({"kind": "belt", "chain": "520"}, "final_drive.chain", "not a part of a belt"),
        ({"front": None}, "final_drive.front", "missing"),
        ({"ratio": 3.0}, "final_drive.ratio", "not a part of a chain"),
        ({"kind": "rope"}, "final_drive.kind", "is not one of"),
        ({**SHAFT, "ratio": 0}, "final_drive.ratio", "0.2 and 20"),
        ({**SHAFT, "ratio": float("nan")}, "final_drive.ratio", ""),
    ],
)
def test_parts_that_do_not_go_together_are_refused(by, where, word):
    with pytest.raises(InputError) as caught:
        driven(by)
    assert where in str(caught.value) and word in str(caught.value)


def test_a_crank_along_the_bike_pitches_nothing():
    """Its spin turns about the bike's length: the moments about the rear contact have no term of it, so the lift ratio is about the mean."""
    across, along, back = (
        solve(make_bike(small({"inertia.crank": 0.06, "inertia.crank_turns": way})))
        for way in ("forward", "lengthwise", "backward")
    )
    need = [one.performance.gears.lift_ratio[0, 0] for one in (across, along, back)]
    assert need[0] > need[1] > need[2]
    assert 2 / need[1] == pytest.approx(1 / need[0] + 1 / need[2], rel=2e-3)  # not at one engine speed
    times = [one.performance.run.times_s[0].tolist() for one in (across, along)]
    assert times[0] == pytest.approx(times[1])  # it is spun up all the same
