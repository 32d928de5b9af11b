"""The drawing of the front wheel in motion: what is drawn is the answer's, and the bike stands as the answer turned it."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest

import ridesim as rs
from ridesim.answers import front_wheel, what_moves_it
from ridesim.answers.front_wheel import LATER_S
from ridesim.answers.front_wheel.body import TECHNIQUES
from ridesim.answers.solved import solved
from ridesim.errors import InputError
from ridesim.plots import side_view


@pytest.fixture(scope="module")
def answers():
    bike = rs.demo("plateau-single")
    return [front_wheel(solved(one)) for one in (bike, bike.with_changes(front=13))]


def test_the_series_say_what_the_figures_say(answers):
    for answer in answers:
        s = answer.series
        later = int(np.argmin(np.abs(s["time_s"] - LATER_S)))
        for way, name in enumerate(TECHNIQUES):
            height = answer.figures[f"height_{name.replace(' ', '_')}"].value
            assert max(s["height_m"][0, way, later], 0.0) == height
        rows = answer.tables[0].rows
        assert [max(s["height_m"][k, way, later], 0.0) for k, way in enumerate(s["shown"])] == [
            r["height"] for r in rows
        ]


def test_a_wheel_above_the_road_carries_nothing_and_the_load_starts_as_statics_has_it(answers):
    """No load without touch; at the steady start the load is within the weight, and below what stands there at rest."""
    for answer in answers:
        s, g = answer.series, answer.series["geometry"]
        assert (s["front_load_n"][s["height_m"] > 0.0] == 0.0).all() and (s["height_m"] > 0.0).any()
        weight = 9.80665 * (g["bike_kg"] + g["rider_kg"] + g["luggage_kg"])
        assert (s["front_load_n"][..., 0] < weight * g["ahead_m"] / g["wheelbase_m"]).all()


def test_the_bike_is_turned_as_a_body(answers):
    """Closed form: lengths within the body stay, the line of the axles turns by the pitch, the front tire clears the road as told."""
    s = answers[0].series
    g, at = s["geometry"], np.unravel_index(np.argmax(s["height_m"]), s["height_m"].shape)
    pitch, heave, clear = (float(s[key][at]) for key in ("pitch_rad", "heave_m", "height_m"))
    pose = side_view.Pose(
        ahead_m=g["ahead_m"], height_m=g["height_m"], axle_height_m=g["rear_radius_m"], pitch_rad=pitch, heave_m=heave
    )
    rear, front = pose.at(0.0, g["rear_radius_m"]), pose.at(g["wheelbase_m"], g["rear_radius_m"])
    assert rear[0] == 0.0 and math.dist(rear, front) == pytest.approx(g["wheelbase_m"], rel=1e-12)
    assert math.atan2(front[1] - rear[1], front[0] - rear[0]) == pytest.approx(pitch, rel=1e-9)
    parts = side_view.lifted(g, pose, clear, "now")
    assert parts[2].y - parts[2].r == pytest.approx(clear) and parts[0].y == parts[0].r


def test_the_still_has_the_rider_where_the_tug_throws_him(answers):
    """Half the rider goes 0.25 m back and stays there; by no other technique does the rider move."""
    back = answers[0].series["rider_back_m"]
    assert back[:, 2, -1] == pytest.approx(0.5 * 0.25) and not np.delete(back, 2, axis=1).any()
    seated = replace(answers[0], series={**answers[0].series, "rider_back_m": 0.0 * back})
    drawn = (
        side_view.front_still(one, gear=1, technique=2, units="metric", dark=False) for one in (seated, answers[0])
    )
    sitting, thrown = (one["data"][-1]["x"][0] for one in drawn)  # the dot of the rider, in mm
    assert sitting - 0.5 * 250.0 - 1e-6 <= thrown < sitting - 50.0


@pytest.mark.parametrize("over", side_view.MOTIONS)
def test_both_set_ups_are_drawn_in_the_units_asked_for(answers, over):
    key, unit = {
        "height": ("height_m", 39.37007874),
        "pitch": ("pitch_rad", 57.29577951),
        "load": ("front_load_n", 0.2248089431),
    }[over]
    figure = side_view.front_motion(*answers, over=over, gear=2, technique=3, units="us", dark=True)
    drawn = {line["name"]: line["y"] for line in figure["data"] if line["mode"] == "lines"}
    for name, answer in zip(("Now", "Planned"), answers, strict=True):
        assert drawn[name] == pytest.approx(list(answer.series[key][1, 3] * unit), rel=1e-4, abs=1e-4)


def test_the_doors_draw_the_gentlest_and_refuse_what_cannot_be_drawn(answers):
    bike = rs.demo("plateau-single")
    door = rs.plots.front_motion(bike, over="load", gear=2)
    plain = side_view.front_motion(answers[0], over="load", gear=2, units="metric", dark=False)
    assert list(door.data[0].y) == plain["data"][0]["y"]
    assert len(rs.plots.front_still(*answers).data) > len(rs.plots.front_still(answers[0]).data)
    for wrong in ({"over": "speed"}, {"gear": 0}, {"gear": True}):
        with pytest.raises(InputError) as found:
            rs.plots.front_motion(answers[0], **wrong)
        assert found.value.where in wrong


def test_what_moves_it_moves_it_the_right_way(answers):
    """Common practice, no source: a shorter gear and a rider farther back lift more, less grip never more."""
    told = what_moves_it(solved(rs.demo("plateau-single")))
    first, *rows = told.rows
    change = {row["step"].split(" (")[0]: row["change"] for row in rows}
    assert first["height"] == pytest.approx(answers[0].tables[0].rows[0]["height"]) and first["change"] is None
    assert all(row["height"] == pytest.approx(first["height"] + row["change"]) for row in rows)
    assert min(change["one tooth fewer in front"], change["rider 50.0 mm farther back"]) > 0 >= change["on gravel"]
    assert change["one tooth fewer in front"] == pytest.approx(
        answers[1].figures["height_" + first["way"]].value - first["height"]
    )
    assert next(row for row in rows if row["step"] == "on gravel")["spins"]
