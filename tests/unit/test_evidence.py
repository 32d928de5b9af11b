"""Readings in a build file: what is read, what is refused, what the commands print, and what a fit does with odd readings."""

from __future__ import annotations

import json

import pytest
from support.commands import answered, refused
from support.evidence import EVIDENCE, SINGLE, with_readings

from ridesim import reference
from ridesim.answers import compare, solve
from ridesim.bike import make_bike
from ridesim.buildfile.io import Build, parse, read
from ridesim.errors import InputError, each
from ridesim.evidence import fit, fit_object, measure_next, with_evidence
from ridesim.evidence.report import parameters

WRONG = ("nan", "inf", "-1", "0", '""', '"a lot"', "true", "[1, 2]", "{a = 1}", '"1e999 +- 1"', '"5 +- 0"', '"5 +- -1"')


# what is a speed or a correlation, though no other key may be so
RIGHT = {("correlation", "0"), ("from", "0"), *((key, '"5 +- 0"') for key in ("from", "to", "speed"))}


@pytest.mark.parametrize("reading", EVIDENCE, ids=lambda text: text.splitlines()[0][8:-1])
def test_every_key_refuses_what_is_no_reading_and_names_its_place(reading):
    """A key written wrong, left out, or none that is known."""
    kind, *lines = reading.splitlines()
    with pytest.raises(InputError, match=r"evidence\[1\]\.measured"):
        with_readings(reading + "\nmeasured = 1")
    for line in lines:
        key, rest = line.partition(" = ")[0], [other for other in lines if other != line]
        wrongs = [f"{key} = {wrong}" for wrong in WRONG if (key, wrong) not in RIGHT]
        for wrong in (*wrongs, *([] if key in ("correlation", "tune") else [""])):
            with pytest.raises(InputError) as caught:
                with_readings("\n".join([kind, *rest, wrong]))
            assert all(one.where.startswith("evidence[1]") and one.fix for one in each(caught.value)), wrong


@pytest.mark.parametrize(
    ("reading", "says"),
    [
        ('kind = "axel weight"', "Did you mean 'axle weight'?"),
        ('value = "2 m"', "evidence[1].kind: is missing"),
        ('kind = 3\nvalue = "2 m"', "evidence[1].kind = 3"),
        ('kind = "roll-out"\nvalue = "2.0 m"', "has no error beside it"),
        ('kind = "top speed"\nvalue = "130 +- 2 km/h"\ntune = "stok"', "Did you mean 'stock'?"),
        (
            'kind = "timed run"\nfrom = 60\nto = 100\ngear = 9\ntime = "6 +- 1 s"',
            "is not a gear of this build (1 to 5)",
        ),
        (
            'kind = "timed run"\nfrom = 100\nto = 60\ngear = 5\ntime = "6 +- 1 s"',
            "is not above the speed it starts from",
        ),
        ('kind = "consumption"\nvalue = "4 +- 0.2 l/100km"\nspeed = "90 +- 2 km/h"', "has a tolerance of its own"),
        ('kind = "wheel power"\npoints = [[6000, 20], [1, 2, 3]]', "evidence[1].points[2]"),
        ('kind = "wheel power"\nvalue = "20 +- 1 kW"', "is neither one power nor a list of points"),
        ('kind = "top speed"\nvalue = "130 +- 2 km/h"\nair = {hight = "1 m"}', "evidence[1].air.hight"),
        ('kind = "speed at engine speed"\ngear = 5\nspeed = "90 km/h"\nengine_speed = 5000', "has no error beside it"),
    ],
)
def test_a_reading_that_will_not_do_is_refused_with_its_mend(reading, says):
    with pytest.raises(InputError) as caught:
        with_readings(reading)
    assert says in str(caught.value)


def test_more_readings_than_any_rider_takes_are_refused_at_once():
    with pytest.raises(InputError, match="no more than 100"):
        with_readings(*[EVIDENCE[0]] * 10_000)


def test_a_reading_the_bike_cannot_show_is_left_out_and_said():
    build = with_readings(
        'kind = "timed run"\nfrom = "5 km/h"\nto = "100 km/h"\ngear = 5\ntime = "6 +- 1 s"',
        'kind = "wheel power"\nengine_speed = 12000\nvalue = "20 +- 1 kW"',
        'kind = "consumption"\nvalue = "9 +- 1 l/100km"\nspeed = "240 km/h"',
        EVIDENCE[0],
    )
    found = fit(build)
    assert found.used == (3,) and found.z[:3] == (None,) * 3
    told = fit_object(found)
    assert [one["predicted"] for one in told["evidence"][:3]] == [None] * 3
    assert sum("was not used" in note for note in told["notes"]) == 3
    json.dumps(told, allow_nan=False)


def test_a_reading_of_nothing_that_is_open_says_that_it_teaches_nothing():
    build = read(reference.DATA / "demo" / "road-twin.toml")  # its road load is that of a table, without tolerance
    found = fit(
        with_readings(
            'kind = "coast-down"\ndrag_area = "0.5 +- 0.2 m^2"\nrolling_resistance = "0.02 +- 0.02"', build=build
        )
    )
    assert any("teaches nothing" in note for note in fit_object(found)["notes"])


def test_a_reading_far_from_all_others_is_named_left_out_and_what_it_means_alone_is_said():
    off = 'kind = "coast-down"\ndrag_area = "0.80 +- 0.02 m^2"\nrolling_resistance = "0.019 +- 0.001"'
    good = [one for one in EVIDENCE if "coast-down" not in one]
    found, without = fit(with_readings(*good, off)), fit(with_readings(*good))
    assert found.conflicts == (len(good),)
    for ours, theirs in zip(parameters(found), parameters(without), strict=True):
        assert ours.after == pytest.approx(theirs.after, rel=1e-6)
    [note] = [one for one in fit_object(found)["notes"] if "alone it would mean" in one]
    assert "road_load.drag_area 0.786" in note
    assert not without.conflicts


def test_two_readings_either_of_which_may_be_off_are_both_named():
    one, other = (f'kind = "roll-out"\nvalue = "{x} +- 0.002 m"' for x in ("1.990", "2.002"))
    assert fit(with_readings(one, other)).conflicts == (0, 1)


def test_answers_comparisons_and_the_verdict_use_the_fit_and_say_so(capsys, tmp_path):
    file = tmp_path / "single.toml"
    file.write_text(with_readings(*EVIDENCE).text, encoding="utf-8")
    plain = json.loads(answered(capsys, "answers", "coast-single", "--json"))
    fitted = json.loads(answered(capsys, "answers", file, "--json"))
    assert fitted["rolling_circumference_m"] != plain["rolling_circumference_m"]
    for asked in (("answers", file), ("compare", file, "--front", "15"), ("choose", file)):
        out = answered(capsys, *asked, "--json")
        assert "those of the fit to 10 readings" in out, asked


def test_an_error_that_two_set_ups_share_cancels_after_the_fit_as_before():
    build = with_evidence(with_readings(*EVIDENCE))
    now, planned = (solve(make_bike(build, front=front)) for front in (14, 15))
    for pair in compare(now, planned).pairs:
        for change in pair.changes:
            if change.now.key == "top_speed" and change.low is not None:
                single = change.now.high - change.now.low
                assert change.high - change.low < single


def test_the_fit_as_json_has_the_keys_of_the_contract(capsys, tmp_path):
    file = tmp_path / "single.toml"
    file.write_text(with_readings(*EVIDENCE).text, encoding="utf-8")
    told = json.loads(answered(capsys, "fit", file, "--json"))
    assert {"parameters", "evidence", "conflicts", "notes"} <= set(told)
    for one in told["parameters"]:
        assert {"path", "before", "before_plus_minus", "after", "after_plus_minus"} == set(one)
        assert one["after_plus_minus"] <= one["before_plus_minus"] * (1 + 1e-9)
    for n, one in enumerate(told["evidence"]):
        assert one["index"] == n and {"kind", "measured", "predicted", "z"} <= set(one)
    text = answered(capsys, "fit", file, "--units", "us")
    assert "as written" in text and "mph" in text


def test_the_fitted_bike_goes_into_another_file_and_never_over_its_readings(capsys, tmp_path):
    file, other = tmp_path / "single.toml", tmp_path / "fitted.toml"
    file.write_text(with_readings(*EVIDENCE).text, encoding="utf-8")
    before = file.read_bytes()
    assert "readings would be lost" in refused(capsys, "fit", file, "--into", file)
    answered(capsys, "fit", file, "--into", other)
    assert file.read_bytes() == before
    written = parse(other.read_text(encoding="utf-8"))
    assert not written.record.evidence and "# chalk mark" in written.text
    answered(capsys, "answers", other, "--json")


def test_a_file_without_readings_is_told_how_to_add_some(capsys):
    told = json.loads(answered(capsys, "fit", "coast-single", "--json"))
    assert told["evidence"] == [] and "[[evidence]]" in told["notes"][0]


@pytest.mark.parametrize("figure", ["power_in_hand", "top_speed", "fuel", "verdict", "cruise_speed"])
def test_what_to_measure_next_is_ranked_by_how_much_narrower_the_figure_gets(capsys, figure):
    told = json.loads(answered(capsys, "measure-next", "coast-single", "--for", figure, "--json"))
    assert told["figure"] == figure
    left = [one["plus_minus_then"] for one in told["candidates"]]
    assert left == sorted(left) and 0 < left[0] < told["plus_minus"]
    for one in told["candidates"]:
        assert one["share_narrower"] == pytest.approx(1 - one["plus_minus_then"] / told["plus_minus"], abs=1e-9)
        assert one["how"].endswith(".")
        if one["kind"] in ("top speed", "timed run", "coast-down", "speed at engine speed"):
            assert "closed road" in one["caution"] and "law" in one["caution"]
    assert answered(capsys, "measure-next", "coast-single", "--for", figure, "--units", "us")


def test_a_figure_that_is_none_is_refused(capsys):
    assert "Did you mean 'top_speed'?" in refused(capsys, "measure-next", "coast-single", "--for", "topspeed")
    assert "limits" in refused(capsys, "measure-next", "road-twin", "--for", "verdict")


@pytest.mark.parametrize("figure", ["power_in_hand", "top_speed"])
def test_a_reading_narrows_its_figure_by_what_was_foretold(figure):
    """Take the best reading at what the bike shows: the band is what `measure_next` said, but for the bend of the model."""
    foretold = measure_next(SINGLE, figure)
    best = foretold.candidates[0]
    found = fit(SINGLE, [best.reading])
    after = measure_next(Build(SINGLE.record, SINGLE.text, posterior=found.posterior), figure)
    assert after.value == pytest.approx(foretold.value, rel=1e-3)
    assert after.plus_minus == pytest.approx(best.plus_minus_then, rel=0.02)


def test_what_the_readings_say_stands_while_they_do():
    """Luggage is put on after the readings were taken; a reading more asks for another fit, and until then is not passed over."""
    build = with_evidence(with_readings(*EVIDENCE))
    laden = make_bike(build.changed({"masses.luggage": "20 kg"}))
    assert laden.raw["drag_area_m2"] == make_bike(build).raw["drag_area_m2"] != make_bike(SINGLE).raw["drag_area_m2"]
    fewer = build.rewritten(with_readings(*EVIDENCE[:-1]).text)
    assert fewer.posterior is None
    assert any("are not used here" in note for note in make_bike(fewer).notes)
    assert not any("are not used here" in note for note in laden.notes)
