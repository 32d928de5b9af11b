"""Whether another tire fits: what is stated decides, what is not is asked for by its key, and nothing is guessed."""

from __future__ import annotations

import json

import pytest
from support.commands import answered, refused
from support.small_build import small

from ridesim.answers import solve, tire_swap, tires
from ridesim.bike import make_bike

FITTED = {"tires.rear.size": "120/90-17 M/C 64S", "tires.front.size": "90/90-19 M/C 52P"}
WIDE = "130/90-17 M/C 68S"
ROOM = {"tires.rear.rim_width": "2.50 in", "tires.rear.room_beside": "20 mm", "tires.rear.room_around": "60 mm"}
STEERING = {"rake": "27 deg", "fork_offset": "40 mm", "ground_clearance": "220 mm"}
MEASURED = FITTED | ROOM | {f"chassis.{key}": value for key, value in STEERING.items()}


def swapped(rear: str | None = WIDE, *, front: str | None = None, **changes: str | None):
    """The answer on the small build with everything measured, but for what is changed of that (None takes a key out)."""
    written = MEASURED | {key.replace("__", "."): value for key, value in changes.items()}
    build = small(FITTED).changed({key: value for key, value in written.items() if value is not None})
    return tire_swap(solve(make_bike(build)), solve(make_bike(build, rear_tire=rear, front_tire=front)))


def test_a_wider_tire_fits_where_everything_is_measured_and_there_is_room():
    answer = swapped()
    assert answer.figures["verdict"].value == "fits"
    assert str(answer).startswith("130/90-17 M/C 68S (rear) fits")
    assert len(answer.tables[0].rows) == 5


@pytest.mark.parametrize("key", ["tires.rear.rim_width", "tires.rear.room_beside", "tires.rear.room_around"])
def test_what_is_not_given_is_asked_for_by_its_key(key):
    answer = swapped(**{key.replace(".", "__"): None})
    assert answer.figures["verdict"].value == "measure first"
    assert str(answer).startswith("Measure this first") and key in str(answer)
    assert key in answer.series["fill_in"] and key in {one.path for one in answer.assumptions}


@pytest.mark.parametrize("key", [*STEERING, "lowest_point_ahead_of_rear_axle"])
def test_steering_and_clearance_name_what_they_lack_and_decide_nothing(key):
    answer = swapped(**{f"chassis__{key}": None})
    assert answer.figures["verdict"].value == "fits" and f"chassis.{key}" in answer.series["fill_in"]
    gone = {"rake": "trail", "fork_offset": "trail", "ground_clearance": "clearance_left"}.get(key)
    assert gone is None or gone not in answer.figures


@pytest.mark.parametrize(
    ("what", "key", "value", "fit"),
    [
        ("rim width", "rim_width", "2.15 in", "measure first"),  # a size under the table: its maker's list decides
        ("rim width", "rim_width", "1.60 in", "does not fit"),
        ("rim width", "rim_width", "3.00 in", "fits"),
        ("room beside", "room_beside", "9 mm", "does not fit"),  # 5 mm more on either side leave 4
        ("room beside", "room_beside", "14 mm", "measure first"),  # 9 mm left, 2.5 where it is a tenth wider
        ("room beside", "room_beside", "17 mm", "fits"),
        ("room beside", "room_beside", "17 +- 3 mm", "measure first"),
        ("room around", "room_around", "12 mm", "does not fit"),  # 9 mm taller
        ("room around", "room_around", "20 mm", "measure first"),
        ("wheel", "size", "130/90-18 M/C 68S", "does not fit"),
        ("load", "size", "130/90-17 M/C 28S", "does not fit"),  # 100 kg
        ("speed", "size", "130/90-17 M/C 68J", "does not fit"),  # 100 km/h
        ("load", "size", "130/90-17", "measure first"),
        ("speed", "size", "130/90-17 M/C 68S", "fits"),
    ],
)  # fmt: skip
def test_one_thing_that_does_not_fit_decides(what, key, value, fit):
    answer = swapped(value) if key == "size" else swapped(**{f"tires__rear__{key}": value})
    row = next(row for row in answer.tables[0].rows if row["what"].endswith(what))
    assert row["fit"] == fit == answer.figures["verdict"].value


def test_a_smaller_tire_asks_for_no_room_and_the_same_tire_for_nothing():
    smaller = swapped("110/90-17 M/C 60S", tires__rear__room_beside=None, tires__rear__room_around=None)
    assert smaller.figures["verdict"].value == "fits"
    assert "The tires are those that are fitted" in str(alike := swapped(None)) and "back_front" not in alike.figures


def test_the_front_tire_is_held_to_its_own_keys():
    answer = swapped(None, front="100/90-19 M/C 57S")
    assert all(row["what"].startswith("front") for row in answer.tables[0].rows)
    assert "tires.front.room_beside" in answer.series["fill_in"]


def test_a_rear_tire_that_stays_leaves_nothing_of_the_gearing_open():
    """One tire has one error of how far it rolls; two bikes of equal text stand on two tires."""
    front = "100/90-19 M/C 57S"
    stays = swapped(None, front=front).figures
    assert (stays["gearing"].value, stays["gearing"].low, stays["gearing"].high) == (0.0, None, None)
    assert "teeth" not in stays
    one, other = (solve(make_bike(small(MEASURED), front_tire=tire)) for tire in (None, front))
    two = tire_swap(one, other).figures["gearing"]
    assert two.low is not None and two.low < two.value == 0.0 < two.high


def test_the_sprocket_named_puts_the_gearing_back():
    answer = swapped()
    figures = {key: figure.value for key, figure in answer.figures.items()}
    assert (figures["back_front"], figures["back_rear"]) == (14, 45)
    then = (1 + figures["gearing"]) * (44 / 14) / (figures["back_rear"] / figures["back_front"]) - 1
    assert then == pytest.approx(figures["back_off"]) and abs(then) < 0.5 / 44


@pytest.mark.parametrize(
    ("front", "within", "reads"),
    [
        ("110/100-19 M/C 65S", False, "reads low"),
        ("60/50-19 M/C 40S", False, "reads too high"),
        ("60/60-19 M/C 40S", None, "may read too high"),  # 116 where 114 are allowed
        ("90/91-19 M/C 52P", None, "may read low"),  # 0.3 % larger, and each of both rolls -2 to +0.7 % by the model
        ("100/80-19 M/C 48S", None, "may read low"),  # 0.3 % smaller: only the lower end of the band is out
        (None, True, "reads within the limit"),
    ],
)
def test_the_speedometer_is_held_to_its_limit_by_both_ends_of_its_band(front, within, reads):
    answer = swapped(front=front)
    shown, true = answer.figures["indicated"], answer.figures["true"].value
    assert answer.figures["speedometer_within"].value is within
    assert answer.figures["speedometer_limit"].value == reads
    assert (f"it {reads}, which UN R39 does not allow at type approval" in str(answer)) is (within is not True)
    assert str(answer).endswith("; measure the roll-out of the front tire to know.") is (within is None)
    for row in next(table for table in answer.tables if "UN R39" in table.title).rows:
        low, high = (row["true"] * (end or shown.value) / true for end in (shown.low, shown.high))
        least, most = row["least"] - 1e-9, row["most"] + 1e-9
        held = True if least <= low and high <= most else False if high < least or low > most else None
        assert row["within"] is held, row
    json.dumps(answer.as_object())


def test_a_tire_that_is_measured_already_is_not_to_be_measured_again():
    made_for = {"speedometer.calibrated_front_tire": "80/100-19 M/C 51S", "tires.front.rollout": "2.01 +- 0.004 m"}
    answer = tires(solve(make_bike(small(MEASURED | made_for))))
    assert answer.figures["speedometer_within"].value is None
    (note,) = (note for note in answer.notes if "may read low" in note and "type approval" in note)
    assert note.endswith("; that depends on how far the tire it was made for rolls")


def test_radial_and_bias_together_are_told():
    assert any("radial" in note and "approves" in note for note in swapped("130/90 R17 M/C 68S").notes)


def test_the_command_says_it_and_its_json_holds_it(capsys):
    asked = ("tire-swap", "coast-single", "--tire", "130/90-17 M/C 68S")
    assert "Measure this first" in answered(capsys, *asked)
    told = json.loads(answered(capsys, *asked, "--json"))
    value = {key: one["value"] for key, one in told["figures"].items()}
    assert value["verdict"] == "measure first" and "tires.rear.rim_width" in told["fill_in"]
    assert value["back_rear"] == 43 and value["teeth"] == pytest.approx(39.43, abs=0.01)
    assert "--tire" in refused(capsys, "tire-swap", "coast-single")
    assert "--tire" in refused(capsys, "tire-swap", "coast-single", "--tire", "wide")


def test_a_shaft_has_no_teeth_to_put_back():
    shaft = {"final_drive.kind": "shaft", "final_drive.front": None, "final_drive.rear": None, "final_drive.ratio": 3.0}
    build = small(MEASURED | shaft)
    figures = tire_swap(solve(make_bike(build)), solve(make_bike(build, rear_tire=WIDE))).figures
    assert not {"teeth", "back_rear"} & {*figures} and figures["gearing"].value > 0
