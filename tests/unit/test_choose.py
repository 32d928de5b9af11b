"""What a choice says, and which of its pairs what is known cannot tell apart."""

from __future__ import annotations

import re

import numpy as np
import pytest
from support.evidence import SINGLE as BUILD

from ridesim.bike import make_bike
from ridesim.buildfile.io import parse
from ridesim.buildfile.schema import LimitsSection
from ridesim.errors import InputError
from ridesim.selection import OnBike, choose, held_to, indistinguishable, teeth
from ridesim.selection.verdict_words import order_list

FITTED = OnBike(front=14, rear=41, rear_tire=make_bike(BUILD).rear_tire.marking.written, tune="stock")


def pairs(choice):
    return [(c.front, c.rear) for c in choice.candidates if c.meets_limits]


def test_a_limit_that_is_tightened_never_lets_a_pair_in():
    loose, tight = (
        choose(BUILD, limits=held_to(BUILD.record.limits, cruise_engine_speed_most=f"{n} rev/min"))
        for n in (5200, 4800)
    )
    assert set(pairs(tight)) < set(pairs(loose))
    for c in tight.candidates:
        speed = c.figures["cruise_speed"]
        over = any(fall.limit == "cruise_engine_speed_most" for fall in c.falls)
        assert over == (speed is None or speed > 4800 * 2 * np.pi / 60 * (1 + 1e-9))


def test_the_unbeaten_meet_the_limits_and_fall_in_both_goals_together():
    best = choose(BUILD).unbeaten
    assert best and all(c.meets_limits for c in best)
    speed, force = (np.array([c.figures[key] for c in best]) for key in ("cruise_speed", "first_force"))
    assert (np.diff(speed) >= 0).all() and (np.diff(force) >= 0).all()  # more force is bought with more engine speed


def too_close(choice):
    return {frozenset((a.n, b.n)) for a, b in indistinguishable(choice)}


def test_pairs_that_nearly_share_a_ratio_are_not_told_apart_where_it_matters():
    """13/39 and 14/42 have one ratio; 15/42 is another; what each does not share with the others decides."""
    choice = choose(BUILD, fronts=[13, 14, 15], rears=[39, 42], limits=LimitsSection())
    pair = {(c.front, c.rear): c.n for c in choice.unbeaten}
    assert too_close(choice) == {frozenset((pair[13, 39], pair[14, 42]))} and (15, 42) in pair


CURVE = (
    'measured_at = "crank"\nstandard = "SAE J1349"\npoints = [[1900, 29], [4800, 36], [7300, 24]]\npoints_are = "N*m"\n'
)


def test_a_tolerance_that_one_of_two_tunes_has_alone_moves_that_one_alone():
    """One curve twice, once with an error of its own: nobody can say that they differ, whichever comes first."""
    two = "[tune.sure]\n" + CURVE + '[tune.unsure]\ncurve_error = "4 %"\n' + CURVE
    build = parse(BUILD.text.replace("[active]", two + "[active]"))
    for tunes in (["sure", "unsure"], ["unsure", "sure"]):
        choice = choose(build, fronts=[14], rears=[42, 60], tunes=tunes, limits=LimitsSection())
        by_rear = {rear: [c.n for c in choice.unbeaten if c.rear == rear] for rear in (42, 60)}
        assert too_close(choice) == {frozenset(both) for both in by_rear.values() if len(both) == 2} != set()


def test_the_tolerances_of_two_tires_do_not_cancel():
    """0.3 % apart, each known from -2 to +0.7 %: moved alike they would always differ the same way; each for itself they do not."""
    choice = choose(BUILD, fronts=[14], rears=[42], rear_tires=["140/70-17", "110/90-17"], limits=LimitsSection())
    one, other = (bike.rear_tire for bike in choice.crossing.bikes.by_tire)
    assert one.circumference_m < other.circumference_m < one.high_m
    assert len(choice.unbeaten) == 2 and len(too_close(choice)) == 1


def test_a_walking_speed_goes_by_its_engine_speed_and_is_asked_for_one_where_it_counts():
    walk = held_to(BUILD.record.limits, walking_speed_most="6 km/h")
    twice = held_to(walk, walking_engine_speed="2700 rev/min")
    slow, fast = (choose(BUILD, limits=limits).candidates[0].figures["walking"] for limits in (walk, twice))
    assert fast == pytest.approx(2 * slow)
    silent = BUILD.changed({"engine.idle": None})
    for asked in ({"limits": walk}, {"goals": ["walking", "top_speed"]}):
        with pytest.raises(InputError, match="walking_engine_speed"):
            choose(silent, **asked)
    assert choose(silent).candidates[0].figures["walking"] is None


def test_a_chain_that_nothing_is_known_of_is_told():
    text = re.sub(r"(?m)^(centre_distance|links) = .*$", "", BUILD.text)
    choice = choose(parse(text), limits=held_to(BUILD.record.limits, keep_chain=True))
    assert any("final_drive.links" in note for note in choice.notes) and choice.candidates[0].chain is None
    assert "nothing can be said" in " ".join(order_list(choice.candidates[0], FITTED))


def test_what_to_order_names_sprockets_and_chain():
    own = make_bike(BUILD)
    choice = choose(
        BUILD, fronts=[own.front_teeth, own.front_teeth - 1], rears=[own.rear_teeth, 60], limits=LimitsSection()
    )
    assert order_list(choice.candidates[0], FITTED) == ()
    smaller = choice.find(front=13, rear=41, rear_tire=FITTED.rear_tire, tune=FITTED.tune)
    told = order_list(smaller, FITTED)
    assert told[0] == "front sprocket, 13 teeth, 520" and told[1].startswith(
        "chain: the fitted 102 links will do, the axle"
    )
    assert choice.candidates[0].chain["fitted_chain_will_do"]
    last = choice.find(front=13, rear=60, rear_tire=own.rear_tire.marking.written, tune=own.tune)
    assert (last.front, last.rear) == (13, 60) and choice.find(front=9, rear=60, rear_tire="x", tune="y") is None
    told, links = order_list(last, FITTED, "us"), last.chain["links_to_order"]
    assert told[1] == "rear sprocket, 60 teeth, 520"
    assert f"chain, {links} links, 520" in told and " in " in told[-1] if links else "none to order" in told[-1]


@pytest.mark.parametrize(
    "text", ["", " ", "x", "13:", ":15", "13:15:17", "18:13", "5", "13:101", "1e1", "15.5", "-3", "١٥", "1" * 400]
)
def test_tooth_counts_that_are_none_are_refused(text):
    with pytest.raises(InputError):
        teeth(text, "front")


def test_a_bare_size_is_the_fitted_tire_of_that_size_and_each_tire_stands_once():
    """A rider who writes 120/90-17 means the 120/90-17 M/C 64S on the bike, roll-out and all; another service description is another tire."""
    written = ["120/90-17", "130/90-17", "130/90-17 68S", "120/90-17 M/C 64S", "120/90-17 71H"]
    choice = choose(BUILD, fronts=[14], rears=[41], rear_tires=written, limits=LimitsSection())
    assert [c.rear_tire for c in choice.candidates] == ["120/90-17 M/C 64S", "130/90-17 68S", "120/90-17 71H"]
    assert choice.candidates[0].answer["rolling_circumference_m"] == 1.996  # as measured
    assert choice.find(front=14, rear=41, rear_tire="120/90-17", tune="stock").n == 0
    assert make_bike(BUILD, rear_tire="120/90-17").rear_tire.measured
    assert not make_bike(BUILD, rear_tire="120/90-17 71H").rear_tire.measured
