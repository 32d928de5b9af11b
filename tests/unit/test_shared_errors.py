"""Whose errors are shared: those of one bike, of one measurement, and of no other; and what is said of a change."""

from __future__ import annotations

import json
import re
from dataclasses import replace

import numpy as np
import pytest
from support.commands import answered
from support.small_build import TEXT

from ridesim.answers import QUESTIONS, compare, power, solve, tune_gain
from ridesim.answers.answer import ROUNDING, Change, Figure, changed
from ridesim.answers.contract import comparison_object
from ridesim.answers.text import sentence, verdict
from ridesim.bike import make_bike
from ridesim.buildfile.io import parse
from ridesim.report.sheet import sheet

POINTS = ((2500, 20.0), (5000, 26.0), (7500, 22.0), (8500, 18.0))


def tune(name: str, up: float = 1.0, more: str = "") -> str:
    points = [[speed, round(up * torque, 6)] for speed, torque in POINTS]
    return f'[tune.{name}]\npoints = {points}\npoints_are = "N*m"\ncurve_error = "4 %"\n{more}\n'


def text(*tunes: str) -> str:
    """The small build with a rider weighed to 3 kg, and these tunes."""
    return TEXT[: TEXT.index("[tune")].replace('"80 kg"', '"80 +- 3 kg"') + "".join(tunes or (tune("first"),))


def solved(build, **changes):
    return solve(make_bike(build, **changes))


def change(now, planned, key: str) -> Change:
    return next(c for pair in compare(now, planned).pairs for c in pair.changes if c.now.key == key)


def both_of(first: Figure, second: Figure) -> float:
    """Half the band of a difference of two figures whose errors have nothing in common."""
    return float(np.hypot(first.high - first.value, second.value - second.low))


def test_two_files_with_equal_text_are_two_bikes():
    one, other = parse(text()), parse(text())
    apart, same = change(solved(one), solved(other), "torque"), change(solved(one), solved(one), "torque")
    assert (apart.change, same.change) == (0.0, 0.0)
    assert apart.high == pytest.approx(0.04 * 26.0 * np.sqrt(2)) and same.high == 0.0
    assert compare(solved(one), solved(other)).assumptions and not compare(solved(one), solved(one)).assumptions
    again = replace(other, bike=one.bike)
    assert change(solved(one), solved(again), "torque").high == 0.0


def test_a_change_of_a_build_is_the_same_bike():
    build = parse(text())
    other = build.changed({"final_drive.rear": 45})
    found = change(solved(build), solved(other), "grade_1")
    twice = change(solved(build), solved(parse(text()).changed({"final_drive.rear": 45})), "grade_1")
    assert found.high - found.low < 0.3 * (twice.high - twice.low)


@pytest.mark.parametrize("key", ["torque", "power", "wheel_power", "first_force"])
def test_a_curve_one_per_cent_higher_within_four_is_no_gain(key):
    """Two files that differ in nothing but a curve 1 % higher, each known to 4 %: nothing is sure of it."""
    now, planned = solved(parse(text())), solved(parse(text(tune("first", 1.01))))
    for other in (planned, solved(parse(text(tune("first"), tune("second", 1.01))), tune="second")):
        found = change(now, other, key)
        assert found.change == pytest.approx(0.01 * found.now.value)
        assert found.high - found.change == pytest.approx(both_of(found.planned, found.now), rel=1e-6)
        assert not found.certain and verdict(found) == "within the uncertainty"


def test_two_curves_of_one_bike_share_an_error_only_where_the_file_says_so():
    day = 'measured_with = "the same roller, on the first of May"'
    shares, apart, elsewhere = (
        parse(text(tune("first", more=more), tune("second", 1.01, other)))
        for more, other in ((day, day), ("", ""), (day, day.replace("first of", "second of")))
    )
    for build, sure in ((shares, True), (apart, False), (elsewhere, False)):
        now, planned = solved(build, tune="first"), solved(build, tune="second")
        found, gain = change(now, planned, "power"), tune_gain(now, planned).figures["mean"]
        assert found.certain is sure and (verdict(found) == "better") is sure
        width = 0.0 if sure else 1.01 * 0.04 * np.sqrt(2)
        assert gain.value == pytest.approx(0.01)
        assert gain.high - gain.value == pytest.approx(width, rel=0.05, abs=1e-12)


@pytest.mark.parametrize("units", ["metric", "us"])
def test_a_gain_whose_band_is_too_narrow_to_be_read_stands_alone(capsys, tmp_path, units):
    """Both curves have one error, which cancels: nothing is left to put in brackets, and the gain is told all the same."""
    day, path = 'measured_with = "roller"', tmp_path / "build.toml"
    path.write_text(text(tune("first", more=day), tune("second", 1.01, day)), encoding="utf-8")
    told = " ".join(answered(capsys, "compare", path, "--tune", "second", "--units", units).split())
    assert "1.0 % more wheel power than tune first on average; at best" in told and "()" not in told
    assert "Mean change of wheel power 1.0 % Largest change 1.0 % Smallest change 1.0 %" in told


def test_a_curve_measured_in_the_same_air_shares_the_error_of_that_air_only_where_the_file_says_so():
    air = 'standard = "as measured"\ntemperature = "20 +- 5 degC"\npressure = "990 hPa"\n'
    for more, shared in ((air + 'measured_with = "roller"', True), (air, False)):
        build = parse(text(tune("first", more=more), tune("second", 1.01, more)).replace('curve_error = "4 %"\n', ""))
        found = change(solved(build, tune="first"), solved(build, tune="second"), "first_force")
        assert found.certain is shared


def test_an_error_of_one_tire_is_not_that_of_another():
    build = parse(text())
    sources = [
        next(s for s in solved(build, rear_tire=tire).bike.tolerances if s.path == "tires.rear.size").cause
        for tire in (None, "110/90-17", "120/80-17")
    ]
    assert sources[0] == sources[1] != sources[2]


def test_what_is_measured_at_the_wheel_leaves_the_losses_open_at_the_crank():
    at_wheel = text(tune("first", more='measured_at = "wheel"')).replace(
        "gears =", 'efficiency = "0.9 +- 0.045"\ngears ='
    )
    peak = power(solved(parse(at_wheel))).figures["power"]
    up, down = peak.high / peak.value - 1.0, 1.0 - peak.low / peak.value
    assert up == pytest.approx(np.hypot(0.04, 0.9 / 0.855 - 1.0)) and down == pytest.approx(
        np.hypot(0.04, 1.0 - 0.9 / 0.945)
    )


def test_the_gain_of_a_tune_is_that_of_the_ends_of_its_errors():
    """Each end of the band is the gain of the tune whose curve stands at its end."""
    build = parse(text(tune("first"), tune("second", 1.1)).replace('curve_error = "4 %"\n', "", 1))
    now, gains = solved(build, tune="first"), {}
    for up in (1.04, 0.96):
        at_end = parse(text(tune("first"), tune("second", 1.1 * up)).replace('curve_error = "4 %"\n', ""))
        gains[up] = tune_gain(solved(at_end, tune="first"), solved(at_end, tune="second")).figures["mean"].value
    mean = tune_gain(now, solved(build, tune="second")).figures["mean"]
    assert (mean.low, mean.high) == pytest.approx((gains[0.96], gains[1.04]), rel=1e-6)


@pytest.mark.parametrize("share", [0.999, 1.001])
def test_the_smallest_gain_that_could_be_proved_is_where_the_verdict_turns(share):
    """A curve that is better by just less is not proved, one that is better by just more is."""
    build = parse(text(tune("first"), tune("second", 1.01)))
    provable = tune_gain(solved(build, tune="first"), solved(build, tune="second")).figures["provable"].value
    assert provable == pytest.approx(0.06, abs=0.01)  # 4 % and 4 %, in quadrature, as a share of what is left
    better = parse(text(tune("first"), tune("second", 1.0 + share * provable)))
    gain = tune_gain(solved(better, tune="first"), solved(better, tune="second"))
    words = {row["verdict"] for row in gain.tables[0].rows} | {gain.figures["verdict"].value}
    assert words == {"gained" if share > 1.0 else "not proved"}
    assert gain.figures["provable"].value == pytest.approx(provable)


def test_a_roll_on_of_the_gain_is_that_of_a_ride_between_its_speeds():
    build = parse(text(tune("first"), tune("second", 1.2)))
    both = [solved(build, tune=name) for name in ("first", "second")]
    rows = tune_gain(*both).tables[1].rows
    assert [row["gear"] for row in rows] == list(range(1, 1 + both[0].gear_count))
    for row in rows:
        for one, key in zip(both, ("now", "planned"), strict=True):
            ride = one.bike.ride(roll_on_m_s=(row["from"], row["to"]))
            ridden = solve(one.bike, ride).performance.roll_on_s[0, row["gear"] - 1]
            assert row[key] == pytest.approx(ridden) and ridden > 0.0
        assert row["low"] < row["change"] < row["high"] < 0.0 and row["verdict"] == "quicker"


def test_curves_without_a_tolerance_prove_nothing():
    build = parse(text(tune("first"), tune("second", 1.2)).replace('curve_error = "4 %"\n', ""))
    gain = tune_gain(*(solve(make_bike(build, tune=name), bands=False) for name in ("first", "second")))
    assert gain.figures["verdict"].value == "no tolerance stated" and gain.figures["provable"].value is None
    assert any("curve_error" in note for note in gain.notes)


def test_nothing_that_does_not_change_has_a_verdict():
    one = parse(text())
    for other in (solved(one), solved(parse(text()))):
        for pair in compare(solved(one), other).pairs:
            assert {verdict(c) for c in pair.changes} <= {"same", ""}
            assert all(c.better is None and c.certain is None for c in pair.changes)
        assert tune_gain(solved(one), other).figures["verdict"].value == "no change"
    figure = Figure(
        key="k", label="k", value=5e-8, reading="consumption", better=-1
    )  # in m2: a small figure is no small change
    less = Change(now=figure, planned=replace(figure, value=4.5e-8), change=-0.5e-8)
    assert less.better is True and verdict(less) == "better"
    assert not replace(less, change=-0.5 * ROUNDING * 5e-8).moved


@pytest.mark.parametrize(
    ("reading", "now", "planned", "word"),
    [
        ("percent", 0.83349, 0.83351, "same"),  # 83.3 and 83.4 %, and 0.0 % between them
        ("speed", 34.816, 34.834, "same"),  # 0.1 km/h, and 0.0 mph
        ("force", 637.0, 638.0, "same"),  # 1 N, and 143 lbf both
        ("consumption", 4.9e-8, 4.8951e-8, "same"),  # 0.00 l/100 km, and 48.0 and 48.1 mpg
        ("speed", 34.8, 35.0, "better"),
    ],
)
def test_no_verdict_stands_beside_a_change_that_reads_as_nothing(reading, now, planned, word):
    """A change that reads as nothing in one system of units is none in the other."""
    one = Figure(key="k", label="k", value=now, reading=reading, better=-1 if planned < now else 1)
    assert verdict(changed(one, replace(one, value=planned))) == word


def test_every_printed_change_of_nothing_is_the_same_in_both_systems():
    day = 'measured_with = "roller"'
    build = parse(text(tune("first", more=day), tune("second", 1.0004, day)))
    now, planned = solved(build, tune="first"), solved(build, tune="second")
    pages = [sheet(now, planned, system=system) for system in ("metric", "us")]
    for metric, us in zip(*(page.lines for page in pages), strict=True):
        assert metric.verdict == us.verdict
        for line in (metric, us):
            assert re.match(r"[+−]?[0.,]+( |$)", line.change) is None or line.verdict in ("same", "")
    told = comparison_object(compare(now, planned), {}, {})["changes"]
    words = {(one["question"], one["key"]): one["verdict"] for one in told}
    for units in ("metric", "us"):
        assert words == compare(now, planned).to_frame(units)["Verdict"].to_dict()
    gain = tune_gain(now, planned)
    assert str(gain).startswith(
        "No change: tune second gives 0.0 % more wheel power than tune first on average; at best"
    )
    assert {row["verdict"] for row in gain.tables[0].rows} == {"no change"}


OTHERWISE = {
    "road_load.drag_area": ("0.5 m^2", "drag area: not given -> 0.5 m^2"),
    "tune.first.points": ([[2500, 20.2], [8500, 18.0]], "the points of tune first differ"),
    "gearbox.efficiency": ("91 %", "efficiency: not given -> 91 %"),
    "tires.rear.rollout": ("1.9 m", "roll-out, rear tire: not given -> 1.9 m"),
    "masses.bike": ("140.2 kg", "mass, bike: 140 kg -> 140.2 kg"),
    "air.altitude": (900, "altitude, air of the day: 0.0 m -> 900 m"),
    "ride.cruise": ("81 km/h", "cruising speed: 100 km/h (62.1 mph) -> 81 km/h (50.3 mph)"),
    "ride.grade": ("3 %", "grade: 0.0 % -> 3.0 %"),
    "engine.rev_limit": (8000, "rev limit: not given -> 8000 rev/min"),
    "surface.friction": (0.5, "friction: not given -> 0.5"),
}


@pytest.mark.parametrize("path", OTHERWISE)
def test_two_that_do_not_differ_have_no_figure_that_moved(path):
    """Whatever in a build file moves a figure is named, on the sheet and in JSON as in the comparison itself."""
    build, (value, words) = parse(text()), OTHERWISE[path]
    now, planned = solved(build), solved(build.changed({path: value}))
    both = compare(now, planned)
    assert any(one.moved for pair in both.pairs for one in pair.changes)
    assert both.differs == (words,)
    assert "do not differ" not in str(both) and sheet(now, planned).differs == both.differs
    assert comparison_object(both, {}, {})["differs"] == list(both.differs)


def test_what_is_written_otherwise_and_means_the_same_does_not_differ():
    one, other = (parse(text() + f'[chassis]\nwheelbase = "{written}"\n[prices]\nchain = {price}\n')
                  for written, price in (("1400 mm", 90), ("1.4 m", 95)))  # fmt: skip
    assert compare(solved(one), solved(other)).differs == ()


def test_more_than_a_rider_reads_is_counted():
    springs = {f"suspension.{end}.{key}": value for end in ("fork", "rear")
               for key, value in (("rate", 20), ("sag", 40), ("travel", 150))}  # fmt: skip
    build = parse(text())
    others = {"inertia.crank": 0.02, "inertia.rear_wheel": 0.5, "engine.idle": 1300}
    for changes, count in ((springs, 6), (springs | others, 1)):
        differs = compare(solved(build), solved(build.changed(changes))).differs
        assert len(differs) == count
    assert differs == ("9 other entries of the build file differ",)


def test_a_change_is_not_sure_where_an_end_makes_the_thing_impossible():
    """The limits of a tolerance reach to where a climb is not climbed: no band, and so no certainty."""
    stands = Figure(key="k", label="k", value=30.0, reading="time", better=-1, moves=None)
    found = changed(stands, replace(stands, value=20.0, moves={}))
    assert found.certain is False and verdict(found) == "within the uncertainty"


def test_everything_that_is_better_when_more_or_less_has_its_band():
    """A figure that is judged rests on tolerances, or on whole numbers and exact ratios alone."""
    exact = {"ripple", "even", "wrap"}
    toleranced = (
        text().replace("gears =", 'efficiency = "0.9 +- 0.045"\ngears =').replace("rear = 44", "rear = 44\nlinks = 110")
    )
    build = parse(toleranced + '[engine]\ndisplacement = "200 cc"\nstroke = "60 mm"\n[fuel]\ntank = "10 l"\n')
    for ask in QUESTIONS:
        for figure in ask(solved(build)).figures.values():
            assert not figure.better or figure.value is None or figure.moves or figure.key in exact, figure.key


@pytest.fixture
def files(tmp_path):
    made = []
    for name, one in (("a", text()), ("b", text()), ("c", text(tune("second", 1.01)))):
        (tmp_path / f"{name}.toml").write_text(one, encoding="utf-8")
        made.append(tmp_path / f"{name}.toml")
    return made


def test_a_rider_may_say_that_two_files_are_one_bike(files, capsys):
    a, b, c = files

    def told(*arguments):
        return json.loads(answered(capsys, "compare", *arguments, "--json"))

    def width(found):
        one = next(c for c in found["changes"] if c["key"] == "grade_1")
        return one["change_high_si"] - one["change_low_si"]

    apart, joined, itself = told(a, b), told(a, b, "--same-bike"), told(a, a)
    assert width(apart) > 0.0 and width(joined) == width(itself) == 0.0
    assert "--same-bike" in apart["assumptions"][0] and not joined["assumptions"] and not itself["assumptions"]
    both = told(a, c, "--same-bike")
    gain = both["tune_gain"]["figures"]
    mean = gain["mean"]
    assert gain["verdict"]["value"] == "not proved" and mean["low"] < 0.0 < mean["value"] < mean["high"]
    assert len(both["tune_gain"]["tables"][1]["rows"]) == len(both["now"]["gears"])


def test_terminal_sheet_and_sentence_say_the_same(files, capsys):
    a, _, c = files
    printed = " ".join(answered(capsys, "compare", a, c).split())
    now, planned = solved(parse(a.read_text())), solved(parse(c.read_text()))
    gain = sentence(tune_gain(now, planned))
    assert gain.startswith("Not proved: tune second gives 1.0 % more wheel power") and gain in printed
    page = sheet(now, planned)
    assert gain in page.sentences
    assert {line.verdict for line in page.lines} <= {"same", "within the uncertainty", "", "better", "worse"}
    peak = next(line for line in page.lines if line.label == "Peak power at the crank")
    assert peak.verdict == "within the uncertainty" and "doubt" not in printed.replace("in doubt", "")


def test_the_pages_say_the_same_as_the_sheet():
    from dashboard.components import changes
    from dashboard.display import verdict as on_pages

    build = parse(text(tune("first"), tune("second", 1.01)))
    now, planned = solved(build, tune="first"), solved(build, tune="second", rear=45)
    both, page = compare(now, planned), sheet(now, planned)
    for pair in both.pairs:
        table = json.dumps(
            changes(pair.changes, "metric", False).to_plotly_json(), default=lambda one: one.to_plotly_json()
        )
        for line in page.lines:
            for one in pair.changes:
                if line.label == one.planned.label:
                    assert line.verdict == on_pages(one) and line.verdict in table
    assert {"worse", "within the uncertainty", "same"} <= {line.verdict for line in page.lines}
