"""Trials keep what was set, what the air was and what the engine said; they are refused when they can't be meant."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from support.trials import AIR, FULL, trial

from ridesim.errors import InputError, each
from ridesim.garage import Garage, GarageError
from ridesim.garage.changes import changes_between, difference, what_changed
from ridesim.garage.trials import RangeVerdict, Settings, Verdicts, from_json, to_json


@pytest.fixture
def garage(tmp_path):
    with Garage.open(tmp_path / "garage.sqlite3") as one:
        one.save("Demo", "a = 1\n")
        yield one


def test_a_trial_comes_back_equal(garage):
    log = garage.add_log("Demo", "run", b"x", "csv")
    first = garage.add_trial("Demo", trial())
    said = Verdicts(closed_to_eighth=RangeVerdict(says="rich", remark="8-strokes"))
    of_build = {"revision": garage.newest("Demo").id, "tune": "rejetted", "logs": (log.id,)}
    ride = {"fuel_used_m3": np.float64(0.0045), "distance_m": 98e3, "note": "a\nb", "put_back": "«back»"}
    settings = Settings(main_jet=np.float32(117.5), other={"a": np.int64(3)})  # of a frame: kept as plain figures
    second = trial(builds_on=first.id, verdicts=said, settings=settings, **of_build, **ride)
    garage.add_trial("Demo", second)
    assert garage.trials("Demo") == (first, second)
    assert from_json(to_json(second)) == second
    assert second.consumption_m3_per_m() == pytest.approx(0.0045 / 98e3)
    assert first.consumption_m3_per_m() is None


def test_a_correction_takes_the_place_of_a_slip_and_both_are_kept(garage):
    slip = garage.add_trial("Demo", trial(note="wrong"))
    right = garage.add_trial("Demo", trial(note="right"), corrects=slip.id)
    assert garage.trials("Demo") == (right,)
    assert garage.trials("Demo", archived=True) == (slip,)
    garage.bring_back_row("trial", slip.id)
    assert garage.trials("Demo") == (slip, right)


def test_links_must_lead_somewhere_in_the_same_bike(garage):
    garage.save("Other", "a = 1\n")
    there = garage.add_log("Other", "run", b"x", "csv")
    for wrong, says in (
        ({"builds_on": "0" * 20}, "is not in this garage"),
        ({"logs": (there.id,)}, "belongs to another bike"),
        ({"revision": garage.newest("Other").id, "tune": "stock"}, "belongs to another bike"),
    ):
        with pytest.raises(GarageError, match=says):
            garage.add_trial("Demo", trial(**wrong))
    kept = garage.add_trial("Demo", trial())
    with pytest.raises(GarageError, match="already"):
        garage.add_trial("Demo", kept)
    assert garage.trials("Demo") == (kept,)


def chained(count, first=None):
    """Trials that each build on the one before."""
    made = []
    for size in range(count):
        before = made[-1].id if made else first
        made.append(trial(builds_on=before, settings=replace(FULL, main_jet=110.0 + size)))
    return made


def test_several_trials_are_kept_in_one_step_in_their_order(garage):
    first = garage.add_trial("Demo", trial())
    several = chained(5, first.id)
    assert garage.add_trials("Demo", several) == tuple(several)
    assert garage.trials("Demo") == (first, *several)
    assert garage.add_trials("Demo", []) == ()


@pytest.mark.parametrize("place", [0, 2, 4])
def test_one_trial_that_will_not_do_keeps_the_others_out(garage, place):
    first = garage.add_trial("Demo", trial())
    for wrong, says in ((first, "already"), (trial(builds_on="0" * 20), "is not in this garage")):
        several = chained(5)
        several[place] = wrong
        with pytest.raises(GarageError, match=says):
            garage.add_trials("Demo", several)
        assert garage.trials("Demo") == (first,)
    with pytest.raises(GarageError, match="is not in the garage"):
        garage.add_trials("Dmo", chained(2))
    garage.check()


@pytest.mark.parametrize(
    ("make", "where"),
    [
        (lambda: replace(AIR, temperature_k=18.0), "air.temperature_k"),
        (lambda: replace(AIR, humidity=55), "air.humidity"),
        (lambda: replace(AIR, altitude_m=None), "air.altitude_m"),
        (lambda: Settings(main_jet=0), "settings.main_jet"),
        (lambda: Settings(main_jet_numbering="size"), "settings.main_jet_numbering"),
        (lambda: Settings(clip_position=2.5), "settings.clip_position"),
        (lambda: Settings(mixture_screw="brass"), "settings.mixture_screw"),
        (lambda: Settings(needle=""), "settings.needle"),
        (lambda: Settings(intake_holes_m=(25.0,)), "settings.intake_holes_m[0]"),
        (lambda: Settings(other={"a": float("nan")}), "settings.other.a"),
        (lambda: Settings(other={"": 1}), "settings.other"),
        (lambda: Settings(other={"a": "\0"}), "settings.other.a"),
        (lambda: Settings(other=[("a", 1)]), "settings.other"),
        (lambda: RangeVerdict(says="fat"), "verdict.says"),
        (lambda: trial(ridden_at="2031-05-04"), "trial.ridden_at"),
        (lambda: trial(ridden_at="2031-05-04T09:30:00"), "trial.ridden_at"),
        (lambda: trial(fuel_used_m3=0.004), "trial.fuel_used_m3"),
        (lambda: trial(fuel_used_m3=4.0, distance_m=1000.0), "trial.fuel_used_m3"),
        (lambda: trial(tune="stock"), "trial.tune"),
        (lambda: trial(logs=("x",)), "trial.logs[0]"),
        (lambda: trial(id="0" * 20, builds_on="0" * 20), "trial.builds_on"),
        (lambda: trial(id="me"), "trial.id"),
    ],
)
def test_what_cannot_be_meant_is_refused_with_its_place(make, where):
    with pytest.raises(InputError) as caught:
        make()
    assert caught.value.where == where
    assert caught.value.fix


def test_everything_wrong_is_told_together():
    with pytest.raises(InputError) as caught:
        Settings(main_jet=0, clip_position=99, exhaust="")
    assert {one.where for one in each(caught.value)} == {
        f"settings.{n}" for n in ("main_jet", "exhaust", "clip_position")
    }


def test_records_cannot_be_changed_under_the_garage():
    other = {"plug": "8"}
    settings = Settings(other=other)
    other["plug"] = "9"
    assert settings.other["plug"] == "8"
    with pytest.raises(TypeError):
        settings.other["plug"] = "9"


class TestWhatChanged:
    @pytest.mark.parametrize(
        ("now", "says"),
        [
            ({"main_jet": 120, "clip_position": 4}, "can't tell which"),
            ({}, "repeats the trial"),
            (
                {"main_jet": 120, "needle": None},
                "main jet: 117.5 -> 120. Written down for only one of the two: needle.",
            ),
        ],
    )
    def test_one_thing_or_more_or_nothing(self, now, says):
        assert says in what_changed(trial(settings=replace(FULL, **now)), trial())

    def test_in_us_units(self):
        now = trial(settings=replace(FULL, intake_open_area_m2=0.00129032, intake_holes_m=(0.0254,)))
        was = "1.86 in2 with 1 hole of 0.9843 in and 1 hole of 1.181 in"
        assert what_changed(now, trial(), "us") == f"intake: {was} -> 2.00 in2 with 1 hole of 1 in."

    def test_a_jet_and_its_numbering_are_one_thing_and_so_are_a_hole_and_its_area(self):
        for now in (
            replace(FULL, main_jet=120, main_jet_numbering="flow"),
            replace(FULL, intake_open_area_m2=0.0017, intake_holes_m=(0.025, 0.025, 0.03)),
            replace(FULL, other={"plug": "grade 7", "float height": 0.014}),
        ):
            assert len(changes_between(FULL, now)[0]) == 1

    def test_a_numbering_says_nothing_without_a_jet(self):
        assert changes_between(Settings(), Settings(main_jet_numbering="flow")) == ((), ())


@pytest.mark.parametrize(
    ("old", "new", "changes"),
    [
        ("a = 1", "a = 1.0", []),
        ("a = 1", "a = true", ["a: 1 -> True"]),
        ("a = nan", "a = nan  # odd", []),
        ("a = 1", "b = 1", ["a: 1 -> not there", "b: not there -> 1"]),
        ("[t.x]\na = 1\nb = 2", "", ["t.x.a: 1 -> not there", "t.x.b: 2 -> not there"]),
        ("", "[t]", ["t: not there -> {}"]),
        ("g = [[30, 12], [28, 16]]", "g = [[30, 12], [26, 15]]", ["g[1]: [28, 16] -> [26, 15]"]),
        ("g = [[30, 12]]", "g = [[30, 12], [26, 15]]", ["g: [[30, 12]] -> [[30, 12], [26, 15]]"]),
        ("g = [1, 2]", "g = [1, 2.0]", []),
        ("g = [{a = 1}]", "g = [{a = 2}]", ["g[0].a: 1 -> 2"]),
        ("'a.b' = 1", "'a.b' = 2", ['"a.b": 1 -> 2']),
        ("a = 1", "[a]\nb = 1", ["a: 1 -> {'b': 1}"]),
        ("d = 2031-05-04", "d = 2031-05-05", ["d: datetime.date(2031, 5, 4) -> datetime.date(2031, 5, 5)"]),
    ],
)
def test_the_difference_of_two_builds(old, new, changes):
    found = difference(old, new)
    assert [str(one) for one in found.changes] == changes
    assert found.only_wording == (not changes)


def test_the_same_text_differs_in_nothing():
    assert not difference("a = 1", "a = 1").only_wording
