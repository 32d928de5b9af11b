"""Every tolerance of a build file goes into the figures: each end of a band is the build written at that end, and bikes drawn through the
kernel have the same bands and shares."""

from __future__ import annotations

from itertools import combinations

import numpy as np
import pytest
from scipy.stats import norm
from support.draws import normal_errors, performed
from support.small_build import small

from ridesim import reference
from ridesim.answers import compare, everything, solve
from ridesim.bike import make_bike
from ridesim.buildfile.io import parse, read
from ridesim.buildfile.schema import LimitsSection
from ridesim.evidence.next_reading import FIGURES, figure_slopes
from ridesim.logs.fits.bike import resistance_of
from ridesim.selection import GOALS, choose, indistinguishable
from ridesim.selection.crossing import figures_of

pytestmark = pytest.mark.identities
BUILD = read(reference.DATA / "demo" / "coast-single.toml")
MEASURED = {"tires.rear.rollout": None}
CARRIED = [  # key, value, its half band, unit, what else is written
    ("masses.rider", 77.0, 2.0, "kg", {}),
    ("air.temperature", 18.0, 6.0, "degC", {}),
    ("air.humidity", 90.0, 20.0, "%", {}),
    ("air.altitude", 250.0, 60.0, "m", {}),
    ("air.pressure", 960.0, 9.0, "hPa", {}),
    ("road_load.drag_area", 0.64, 0.05, "m^2", {}),
    ("gearbox.efficiency", 0.93, 0.02, "", {}),
    ("engine.displacement", 463.0, 5.0, "cc", {}),
    ("fuel.density", 0.75, 0.02, "", {"fuel.known_consumption": None}),
    ("final_drive.centre_distance", 0.5909, 0.001, "m", {"final_drive.front": 15}),
    ("final_drive.chain_wear", 0.4, 0.1, "%", {"final_drive.front": 15}),
    ("final_drive.chain_wear", 0.4, 0.1, "%", {"final_drive.centre_distance": None}),
    ("fuel.tank", 11.0, 0.5, "l", {}),
    ("tires.rear.deflection", 9.0, 4.0, "mm", MEASURED),
    ("tires.rear.worn", 2.0, 3.0, "mm", MEASURED),
]
BY_TERMS = {"road_load.drag_area": None, "road_load.rolling_resistance": None, "fuel.known_consumption": None}
F0, F1, F2 = "120 N", "0.5 N/(m/s)", "0.36 N/(m/s)^2"
SHEET = {"tune.stock.standard": "as measured", "tune.stock.pressure": "1000 hPa", "tune.stock.humidity": "50 %",
         "fuel.known_consumption": None}  # fmt: skip
IN_LISTS = [  # place of the tolerance, what else is written, and what its key holds: with the tolerance, and at each of its ends
    ("road_load.coast_down[1]", BY_TERMS, [["120 +- 15 N", F1, F2], ["135 N", F1, F2], ["105 N", F1, F2]]),
    ("road_load.coast_down[2]", BY_TERMS, [[F0, "0.5 +- 0.4 N/(m/s)", F2], [F0, "0.9 N/(m/s)", F2], [F0, "0.1 N/(m/s)", F2]]),
    ("road_load.coast_down[3]", BY_TERMS, [[F0, F1, f"{one} N/(m/s)^2"] for one in ("0.36 +- 0.03", 0.39, 0.33)]),
    ("fuel.known_consumption[1]", {}, [[f"{one} l/100km", "90 km/h"] for one in ("4.2 +- 0.3", 4.5, 3.9)]),
    ("tune.stock.temperature", SHEET, ["22 +- 4 degC", "26 degC", "18 degC"]),
]  # fmt: skip


def figures(build):
    found = {}
    for answer in everything(solve(make_bike(build), bands=False)):
        found |= {(answer.question, one.key): one.value for one in answer.figures.values()}
    return found


def moved(build, path):
    """Every figure, and how far it moves, that the tolerance of a path moves or is told not to."""
    found, bike = {}, make_bike(build)
    paths = {tolerance.cause: tolerance.path for tolerance in bike.tolerances}
    for answer in everything(solve(bike)):
        for one in answer.figures.values():
            for of, ends in (one.moves or {}).items():
                if paths.get(of.cause, of.cause[0]) == path:
                    found.setdefault((answer.question, one.key), (one.value, ends))
    return found


def held_to(build, path, upper, lower):
    ends = [figures(build.changed(change)) for change in (upper, lower)]
    found = {key: one for key, one in moved(build, path).items() if not isinstance(one[0], bool | str | None)}
    for key, (own, moves) in found.items():
        wanted = [end[key] - own for end in ends]
        assert moves == pytest.approx(wanted, rel=1e-6, abs=1e-9 * abs(own) + 1e-12), key
    assert any(abs(up) > 1e-6 * abs(own or 1.0) for own, (up, _) in found.values())


@pytest.mark.parametrize(
    ("path", "value", "half", "unit", "more"), CARRIED, ids=lambda one: one if isinstance(one, str) else ""
)
def test_a_band_ends_where_the_build_written_at_its_end_is(path, value, half, unit, more):
    build = BUILD.changed(more | {path: f"{value} +- {half} {unit}"})
    most = min(value + half, 100.0) if unit == "%" else value + half
    held_to(build, path, {path: f"{most} {unit}"}, {path: f"{max(value - half, 0.0)} {unit}"})


@pytest.mark.parametrize(("path", "more", "written"), IN_LISTS, ids=lambda one: one if isinstance(one, str) else "")
def test_a_band_ends_where_the_build_with_the_end_in_its_list_is(path, more, written):
    own, upper, lower = ({path.partition("[")[0]: one} for one in written)
    held_to(BUILD.changed(more | own), path, upper, lower)


def test_a_tolerance_that_asks_for_another_chain_is_told_and_gives_no_band():
    build = BUILD.changed({"final_drive.rear": 48, "final_drive.centre_distance": "0.6179 +- 0.012 m"})
    chain = next(a for a in everything(solve(make_bike(build))) if a.question == "Does the chain fit?")
    least, most = (
        figures(build.changed({"final_drive.centre_distance": f"{at} m"}))["Does the chain fit?", "links"]
        for at in (0.6059, 0.6299)
    )
    assert least != most
    (told,) = (note for note in chain.notes if "within the tolerance of final_drive.centre_distance" in note)
    assert any(f"{links:.0f} links" in told for links in (least, most))
    assert chain.figures["shift"].low is None and chain.figures["exact"].low is not None


@pytest.mark.parametrize("open_by", [0.0, 0.1])
def test_the_resistance_lent_to_a_fit_is_open_by_the_share_its_figures_are(open_by):
    """F0 goes as the rolling coefficient and F2 as the drag area; a figure written without a tolerance is taken as exact."""

    def written(value, unit):
        return f"{value} +- {open_by * value:g} {unit}" if open_by else f"{value} {unit}"

    parts = {"road_load.drag_area": written(0.6, "m^2"), "road_load.rolling_resistance": written(0.02, "")}
    bike = make_bike(small(parts))
    lent = resistance_of(bike)
    half = norm.ppf(0.95) * np.sqrt(np.diag(lent.covariance))
    np.testing.assert_allclose(half, open_by * np.array([lent.f0_n, lent.f2_n_s2_m2]), rtol=1e-6)


def test_the_riders_own_consumption_stays_with_what_it_was_taken_with():
    """It was taken with what the file says is fitted, whatever is tried: another sprocket leaves the same open."""
    build = BUILD.changed({"fuel.known_consumption": ["4.2 +- 0.3 l/100km", "90 km/h"]})
    assert {key for _, key in moved(build, "fuel.known_consumption[1]")} >= {"fuel", "range"}
    tried = solve(make_bike(build, front=16))
    assert "fuel.known_consumption[1]" in {tolerance.path for tolerance in tried.tolerances}


def test_a_known_consumption_leaves_little_of_the_drag_open_in_the_fuel():
    """What is not known of the drag is in the rider's own figure already: at its speed it cancels."""
    at = {"fuel.known_consumption": ["4.2 l/100km", "90 km/h"], "ride.cruise": "90 km/h"}
    (up, down), (free, _) = (
        moved(BUILD.changed(change), "road_load.drag_area")["What does cruising take?", "fuel"][1]
        for change in (at, at | {"fuel.known_consumption": None})
    )
    assert abs(up) < 1e-9 * abs(free) and abs(down) < 1e-9 * abs(free)


def test_a_tolerance_that_two_set_ups_share_does_not_blur_their_difference():
    """The day's air moves both alike: the change of one tooth is far surer than either figure."""
    build = BUILD.changed({"air.temperature": "18 +- 15 degC", "tune.stock.curve_error": None})
    one, other = (solve(make_bike(build, front=front)) for front in (15, 16))
    pulls = next(pair for pair in compare(one, other).pairs if pair.now.question == "How hard does it pull?")
    force = next(change for change in pulls.changes if "force" in change.now.key)
    (own,) = (m for name, m in force.now.moves.items() if name.cause[0] == "air.temperature")
    assert force.high - force.low < 0.5 * abs(own[0] - own[1])


def test_a_tolerance_that_no_figure_takes_up_is_told():
    build = BUILD.changed({"ride.headwind": "5 +- 2 m/s", "engine.rev_limit": "7300 +- 100 rev/min"})
    told = "the tolerance of engine.rev_limit, ride.headwind goes into no figure here"
    assert told in make_bike(build).notes
    assert not any("goes into no figure" in note for note in make_bike(BUILD).notes)
    # the tolerance of a roll-out belongs to the tire it was measured on
    assert not any("goes into no figure" in note for note in make_bike(BUILD, rear_tire="130/90-17").notes)


@pytest.fixture(scope="module")
def drawn():
    bike = make_bike(BUILD)
    return performed(bike, normal_errors(len(bike.tolerances)))


@pytest.mark.parametrize("key", FIGURES)
def test_the_band_of_every_figure_is_that_of_bikes_drawn_through_the_kernel(key, drawn):
    asked, _ = figure_slopes(make_bike(BUILD), key)
    low, high = np.quantile(FIGURES[key][2](drawn), [0.05, 0.95])
    assert 2 * asked.plus_minus == pytest.approx(high - low, rel=0.06)
    assert asked.value == pytest.approx((low + high) / 2, abs=0.25 * asked.plus_minus)


def test_what_is_called_indistinguishable_is_so_in_bikes_drawn_alike():
    """Every two pairs of a small choice: drawn with the same errors, their difference in a goal does or does not leave out zero."""
    choice = choose(BUILD, fronts=[13, 14, 15], rears=[39, 42, 45], limits=LimitsSection())
    assert len(choice.unbeaten) == 9
    close = {(a.n, b.n) for a, b in indistinguishable(choice)}
    bike = make_bike(BUILD)
    errors = normal_errors(len(bike.tolerances), 1024)
    pairs = {}
    for one in choice.unbeaten:
        own = make_bike(BUILD, front=one.front, rear=one.rear)
        pairs[one.n] = figures_of(performed(own, errors), choice.crossing.ride)
    for a, b in combinations(choice.unbeaten, 2):
        ends = [np.quantile(pairs[a.n][g.key] - pairs[b.n][g.key], [0.05, 0.95]) for g in choice.goals]
        apart = any(low > 1e-9 or high < -1e-9 for low, high in ends)
        assert apart is not ({(a.n, b.n), (b.n, a.n)} & close != set()), (a.front, a.rear, b.front, b.rear)
    assert {goal.key for goal in choice.goals} <= set(GOALS)
    assert len(close) >= 3  # 13/39 and 14/42, for one, have one ratio


def test_a_tire_tried_in_place_of_one_that_is_not_measured_keeps_its_share():
    """The fitted tire's tolerance stays in the consumption figure: it must not stand in the place of the tried one's."""
    text = BUILD.text.replace('rollout = "1.996 +- 0.006 m"', "")
    bike = make_bike(parse(text), rear_tire="130/90-17")
    places = [n for n, one in enumerate(bike.tolerances) if one.path == "tires.rear.size"]
    assert len(places) == 2
    _, gradient = figure_slopes(bike, "cruise_speed")
    assert gradient[places] @ gradient[places] == pytest.approx(gradient @ gradient)
