"""The verdict on sprockets: limits held with certainty, the wish, equal worth and least work, what to relax, what it costs."""

from __future__ import annotations

import numpy as np
import pytest
from support.evidence import SINGLE as DEMO

from ridesim.buildfile.io import parse
from ridesim.errors import InputError
from ridesim.garage import Garage
from ridesim.garage.parts import parts_kept
from ridesim.selection import GOALS, WISHES, choose, held_to, other_ways, verdict
from ridesim.selection import verdict_words as words
from ridesim.selection.certainty import certainty_of
from ridesim.selection.choice import choice_of
from ridesim.selection.contract import verdict_object
from ridesim.selection.goals import LIMITED
from ridesim.selection.other_ways import OtherTune
from ridesim.selection.verdict import EQUAL, work

BUILD = DEMO.changed({"tires.rear.rollout": "2.05 +- 0.004 m"})
OWN = BUILD.record.final_drive
FRONTS, REARS = range(OWN.front - 2, OWN.front + 3), range(OWN.rear - 6, OWN.rear + 7)


def turning(build=BUILD, share=1.0):
    """The engine speed of the fitted pair at the cruising speed, times a share, as a limit is written."""
    found = choose(build, fronts=[OWN.front], rears=[OWN.rear]).figures["cruise_speed"][0]
    return f"{share * found * 30 / np.pi:.1f} rev/min"


def chosen(build=BUILD, fronts=FRONTS, rears=REARS, **limits):
    none = dict.fromkeys(LIMITED, "")
    return choose(build, fronts=fronts, rears=rears, limits=held_to(build.record.limits, **{**none, **limits}))


def test_what_is_fitted_is_kept_where_it_is_as_good_as_any():
    decided = verdict(chosen(cruise_engine_speed_most=turning(share=1.01)), wish="pull")
    assert (decided.action, decided.candidate.front, decided.candidate.rear) == ("keep", OWN.front, OWN.rear)
    assert decided.to_order == () and words.sentence(decided).startswith(f"Keep {OWN.front}/{OWN.rear}: ")


@pytest.mark.parametrize("wish", WISHES)
def test_the_verdict_is_among_the_equals_of_those_that_hold_and_no_equal_is_less_work(wish):
    choice = chosen(cruise_engine_speed_most=turning(share=0.95), first_gear_climb_least="25 %")
    decided = verdict(choice, wish=wish)
    goal = GOALS[WISHES[wish]]
    holding = [c for c in choice.candidates if decided.sure_of(c)["all"] >= decided.sure]
    assert holding and decided.action == "order"
    worth = {c.n: goal.better * c.figures[goal.key] for c in holding}
    best = max(worth.values())
    equal = [c for c in holding if worth[c.n] >= best - EQUAL * abs(best)]
    assert decided.candidate.n in {c.n for c in equal}
    works = work(choice, decided.on_bike)
    assert works[decided.candidate.n] == min(works[c.n] for c in equal)


@pytest.mark.parametrize("seed", range(6))
def test_each_limit_that_is_named_alone_or_all_of_them_are_enough_at_the_figure_that_is_told(seed):
    """Limits drawn about what the fitted pair does, each a little too tight; what is told, as it is read, makes them hold."""
    rng = np.random.default_rng(seed)
    own = chosen(fronts=[OWN.front], rears=[OWN.rear]).candidates[0].figures
    limits = {
        "cruise_engine_speed_most": f"{own['cruise_speed'] * 30 / np.pi * rng.uniform(0.9, 1.0):.0f} rev/min",
        "first_gear_climb_least": f"{100 * own['first_climb'] * rng.uniform(0.98, 1.15):.1f} %",
        "top_speed_least": f"{3.6 * own['top_speed'] * rng.uniform(0.98, 1.04):.1f} km/h",
        "time_0_100_most": f"{own['time_0_100'] * rng.uniform(0.93, 1.0):.2f} s",
    }
    choice = chosen(**limits)
    decided = verdict(choice)
    assert decided.action == "none" and decided.relax and decided.candidate.n == decided.relax[0].row
    shares = [one.share for one in decided.relax]
    assert shares == sorted(shares) and all(0 < share < np.inf for share in shares)
    alone = len({one.row for one in decided.relax}) > 1 or len(decided.relax) == 1
    for moved in [[one] for one in decided.relax] if alone else [decided.relax]:
        told = choice.limits.model_copy(update={one.limit: one.end for one in moved})
        again = verdict(choice_of(choice.crossing, told))
        assert again.action != "none" and again.sure_of(choice.candidates[moved[0].row])["all"] >= decided.sure


def test_where_only_the_fitted_chain_stands_in_the_way_a_new_one_is_named():
    kept = {"keep_chain": True, "cruise_engine_speed_most": turning()}
    decided = verdict(chosen(fronts=[OWN.front], rears=range(OWN.rear - 13, OWN.rear - 8), **kept))
    assert decided.action == "none" and not decided.candidate.chain["fitted_chain_will_do"]
    [told] = verdict_object(decided)["relax"]
    assert (told["limit"], told["from"], told["to"]) == ("keep_chain", True, False)
    assert f"with a new chain, {decided.candidate.front}/{decided.candidate.rear} does." in words.sentence(decided)


def test_without_a_limit_the_deciding_question_is_asked():
    decided = verdict(chosen())
    assert decided.action == "none" and decided.relax == ()
    assert words.sentence(decided).startswith("What engine speed")
    assert len(words.common_limits(decided.choice)) == 3


def test_a_runner_up_of_least_work_is_less_work():
    decided = verdict(chosen(cruise_engine_speed_most=turning(share=0.93)))
    assert decided.action == "order"
    works = work(decided.choice, decided.on_bike)
    for one in decided.runners_up:
        assert one.why != "least work" or works[one.candidate.n] < works[decided.candidate.n]


def test_of_pairs_that_ask_about_as_much_of_a_limit_the_least_work_is_named():
    climb = chosen(fronts=[OWN.front], rears=[OWN.rear]).figures["first_climb"][0]
    limits = {"cruise_engine_speed_most": turning(share=1.01), "first_gear_climb_least": f"{100 * climb:.2f} %"}
    decided = verdict(chosen(**limits))
    assert decided.action == "none"
    of_climb = next(one for one in decided.relax if one.limit == "first_gear_climb_least")
    one = decided.choice.candidates[of_climb.row]
    assert (one.front, one.rear) == (OWN.front, OWN.rear)


def test_a_pair_that_probably_meets_every_limit_is_named_where_none_surely_does():
    one = {"fronts": [OWN.front], "rears": [OWN.rear]}
    climb = chosen(**one).figures["first_climb"][0]
    decided = verdict(chosen(**one, first_gear_climb_least=f"{99 * climb:.2f} %"))
    assert decided.action == "none" and 0.5 < decided.sure_of(decided.probable)["all"] < 0.9
    assert f"though {OWN.front}/{OWN.rear} probably does (" in words.sentence(decided)
    assert verdict(chosen(**one, first_gear_climb_least=f"{150 * climb:.2f} %")).probable is None


def test_prices_give_the_cost_and_one_that_is_missing_leaves_it_open():
    limits = {"cruise_engine_speed_most": turning(share=0.95)}
    priced = parse(BUILD.text + '\n[prices]\ncurrency = "crowns"\nfront_sprocket = 20\nrear_sprocket = 45.5\n')
    decided = verdict(chosen(priced, fronts=[OWN.front], **limits))
    assert decided.cost == 45.5 and "45.5 crowns" in words.order_list(decided.candidate, decided.on_bike)[0]
    assert verdict(chosen(fronts=[OWN.front], **limits)).cost is None


@pytest.mark.parametrize("price", ["-1", "nan", "inf", '"much"'])
def test_a_price_that_can_not_be_is_refused(price):
    with pytest.raises(InputError, match=r"prices\.chain"):
        parse(BUILD.text + f"\n[prices]\nchain = {price}\n")


@pytest.mark.parametrize(("given", "where"), [({"wish": "speed"}, "wish"), ({"sure": 1.5}, "sure")])
def test_an_unknown_wish_or_an_impossible_certainty_is_refused(given, where):
    with pytest.raises(InputError) as refused:
        verdict(chosen(cruise_engine_speed_most=turning()), **given)
    assert refused.value.where == where


def test_the_object_has_the_keys_of_the_contract():
    decided = verdict(chosen(cruise_engine_speed_most=turning(share=0.95)))
    told = verdict_object(decided)
    assert set(told) == {
        "action", "front", "rear", "rear_tire", "tune", "wish", "sentence", "reasons", "certainty", "to_order",
        "axle_shift_m", "cost", "runners_up", "measure_first", "relax",
    }  # fmt: skip
    assert told["certainty"]["all"] <= min(v for k, v in told["certainty"].items() if k != "all")
    pairs = [(one["front"], one["rear"]) for one in told["runners_up"]]
    assert pairs and pairs == [(up.candidate.front, up.candidate.rear) for up in decided.runners_up]


def test_another_tune_that_would_meet_every_limit_is_named():
    stronger = '\n[tune.stronger]\npoints = [[2000, 60], [4500, 70], [7200, 60]]\npoints_are = "N*m"\n'
    build = parse(BUILD.text + stronger)
    limits = {"cruise_engine_speed_most": turning(share=1.01), "top_speed_least": "150 km/h"}
    decided = verdict(chosen(build, **limits))
    assert decided.action == "none"
    [told] = other_ways(build, decided)
    assert told.startswith("with the tune stronger, ") and told.endswith(" meets every limit")
    assert other_ways(build, verdict(chosen(build, cruise_engine_speed_most=turning(share=1.01)))) == ()


def test_another_tire_or_tune_in_the_garage_that_would_meet_every_limit_is_named(tmp_path):
    strong = '\n[tune.strong]\npoints = [[2000, 60], [4500, 70], [7200, 60]]\npoints_are = "N*m"\n'
    sizes = ("140/60-17", "140/60-18")
    small, other_rim = (BUILD.changed({"tires.rear.size": size, "tires.rear.rollout": None}) for size in sizes)
    with Garage.open(tmp_path / "garage.sqlite3") as garage:
        garage.save("Small tire", small.text)
        garage.save("Other rim", other_rim.text)
        garage.save("Half done", 'name = "x"')
        garage.save(BUILD.name, BUILD.text + strong)
        garage.save(BUILD.name, BUILD.text)
        kept = parts_kept(garage, BUILD)
    assert kept.tires == {"140/60-17": " (Small tire, revision 1)"} and [one[1] for one in kept.tunes] == ["strong"]
    decided = verdict(chosen(cruise_engine_speed_most=turning(share=1.01), top_speed_least="150 km/h"))
    assert decided.action == "none"
    told = other_ways(BUILD, decided, kept.tires, [OtherTune(*one) for one in kept.tunes])
    assert any(text.startswith(f"with the tune strong ({BUILD.name}, revision 1), ") for text in told)
    decided = verdict(chosen(rears=[max(REARS)], fronts=[min(FRONTS)], walking_speed_most="6.5 km/h"))
    assert decided.action == "none"
    told = other_ways(BUILD, decided, kept.tires)
    pair = f"{min(FRONTS)}/{max(REARS)}"
    assert told == (f"with the rear tire 140/60-17 (Small tire, revision 1), {pair} meets every limit",)


def test_without_tolerances_the_chain_is_kept_for_sure_or_surely_not():
    chain = {"axle_travel": ["-6 mm", "6 mm"], "chain_wear": "0.6 %", "centre_distance": "0.5909 m"}
    build = BUILD.changed({f"final_drive.{key}": value for key, value in chain.items()})
    limits = held_to(build.record.limits, keep_chain=True)
    choice = choose(build, fronts=[13, 14, 15], rears=range(39, 44), limits=limits)
    found = certainty_of(choice)
    sure = found.by_limit[list(found.names).index("keep_chain")]
    kept = [bool(c.chain and c.chain["fitted_chain_will_do"]) for c in choice.candidates]
    orderable = [bool(c.chain and c.chain["links_to_order"]) for c in choice.candidates]
    assert any(kept) and kept != orderable
    assert sure.tolist() == [float(one) for one in kept]
