"""The next trial: the right circuit, one step, the safe way round: common practice, no source."""

from __future__ import annotations

import itertools
from dataclasses import replace

import pytest
from support import trials

from ridesim.errors import InputError
from ridesim.garage.advice import back_to_stock, propose_next
from ridesim.garage.proposal import next_trial_answer
from ridesim.garage.richness import STOCK_AIR, Margin, Obtainable, Stock, trend
from ridesim.garage.trials import RangeVerdict, Settings, TrialAir, Verdicts, in_order

DAY = TrialAir(altitude_m=0.0, temperature_k=288.15, humidity=0.0)
HIGH = replace(DAY, altitude_m=2500.0)
SETTINGS = Settings(
    main_jet=120, pilot_jet=40, needle="D4", clip_position=3, mixture_screw_turns_out=2.0, mixture_screw="fuel", slide_cutaway=2.5,
    intake_open_area_m2=0.001, intake_holes_m=(), exhaust="stock",
)  # fmt: skip
STOCK = Stock(settings=SETTINGS)
SIZES = Obtainable(main_jets=(116, 118.5, 120, 121.5, 124), pilot_jets=(38, 40, 42), slide_cutaways=(2.0, 2.5, 3.0))
RIGHT = dict.fromkeys(
    ("closed_to_eighth", "eighth_to_quarter", "quarter_to_three_quarters", "three_quarters_to_full"), "right"
)


def trial(settings=SETTINGS, air=DAY, **says):
    verdicts = Verdicts(**{opening: RangeVerdict(says=one) for opening, one in (RIGHT | says).items()})
    return trials.trial(air=air, settings=settings, verdicts=verdicts)


def at_full(says, air=DAY, **settings):
    """A trial that is right but for full throttle."""
    return trial(replace(SETTINGS, **settings), air, three_quarters_to_full=says)


LEAN, RICH = at_full("lean"), at_full("rich")


def propose(*trials, stock=STOCK, air=DAY, sizes=SIZES, margin=None):
    return propose_next(trials, stock, air=air, sizes_obtainable=sizes, margin=margin or Margin())


def held(found):
    return [one["then"] for one in found.openings if one["then"].startswith(("not:", "now, for"))]


@pytest.mark.parametrize(
    ("given", "thing", "after"),
    [
        ({"mixture_screw": "air"}, "mixture screw", "1.75 turns out (air screw)"),  # which turns the other way
        ({"mixture_screw": None}, "pilot jet", "42"),  # which way, nobody knows
        ({"mixture_screw_turns_out": 3.0}, "pilot jet", "42"),  # the screw is past its range
    ],
)
def test_lean_at_closed_throttle_is_for_the_screw_or_past_it_for_the_pilot_jet(given, thing, after):
    settings = replace(SETTINGS, **given)
    found = propose(
        trial(settings, closed_to_eighth="lean"), stock=Stock(settings=replace(settings, mixture_screw_turns_out=2.0))
    )
    changed = {"pilot_jet": 42} if thing == "pilot jet" else {"mixture_screw_turns_out": 1.75}
    assert (found.thing, found.after, found.settings) == (thing, after, replace(settings, **changed))
    if None in given.values():
        assert "fuel screw or an air screw" in held(found)[0]


FULL_RICH = {"three_quarters_to_full": "rich"}
LEANER = {"main_jet": 118.5}  # 0.9752 of stock; 116 would be 0.9344


class TestTheMargin:
    @pytest.mark.parametrize(
        ("now", "says", "air", "because"),
        [
            (LEANER, FULL_RICH, DAY, "make 0.934 of stock's richness in today's air, under the limit of 0.970"),
            ({}, FULL_RICH, replace(DAY, temperature_k=263.15), "under the limit"),  # thick air takes room away
            # circuits without a known flow stop at their count of steps
            ({"clip_position": 2}, {"quarter_to_three_quarters": "rich"}, DAY, "past the limit"),
            ({"slide_cutaway": 3.0}, {"eighth_to_quarter": "rich"}, DAY, "past the limit"),
            # what cannot be compared with stock is not made leaner
            ({"main_jet_numbering": "flow"}, FULL_RICH, DAY, "can't be told"),
            ({"needle": "E2"}, {"quarter_to_three_quarters": "rich"}, DAY, "can't be told"),
        ],
    )
    def test_leaning_stops_at_the_margin_and_says_so(self, now, says, air, because):
        settings, sizes = replace(SETTINGS, **now), replace(SIZES, slide_cutaways=(2.0, 2.5, 3.0, 3.5))
        found = propose(trial(settings, air, **says), air=air, sizes=sizes)
        assert (found.kind, found.settings) == ("stop", settings) and because in held(found)[0]
        lean = propose(trial(settings, air, **dict.fromkeys(says, "lean")), air=air, sizes=sizes)
        assert lean.kind == "change"

    def test_thin_air_gives_room_and_the_way_down_is_warned_of(self):
        found = propose(trial(replace(SETTINGS, **LEANER), HIGH, **FULL_RICH), air=HIGH)
        assert found.settings.main_jet == 116
        assert any("put back the 120" in one for one in found.why)

    def test_the_screw_stops_a_turn_to_the_lean_side(self):
        now = replace(SETTINGS, mixture_screw_turns_out=1.0)
        found = propose(trial(now, closed_to_eighth="rich"), margin=Margin(richness=0.2))
        assert "past the limit" in held(found)[0]
        assert found.thing == "pilot jet"

    def test_a_limit_for_one_does_not_stop_the_next(self):
        found = propose(trial(replace(SETTINGS, **LEANER), **FULL_RICH, closed_to_eighth="rich"))
        assert found.thing == "mixture screw"
        assert "under the limit" in held(found)[0]


class TestContradictions:
    @pytest.mark.parametrize(
        ("before", "now", "kind"),
        [
            (LEAN, RICH, "repeat"),
            (RICH, at_full("lean", main_jet=124), "repeat"),  # a richer jet called lean where a leaner one was rich
            (at_full("lean", main_jet=124), RICH, "repeat"),
            (at_full("rich", HIGH), LEAN, "change"),  # rich high up and lean at sea level is no contradiction
            (at_full("lean", HIGH), RICH, "repeat"),  # the other way round it is
            (trial(air=HIGH, quarter_to_three_quarters="rich"), trial(quarter_to_three_quarters="lean"), "change"),
            (at_full("lean", exhaust="open"), RICH, "change"),  # other settings prove nothing
            (at_full("lean", main_jet=116), RICH, "change"),  # the right order
        ],
    )
    def test_a_richer_mixture_called_lean_where_a_leaner_one_was_rich_is_ridden_again(self, before, now, kind):
        found = propose(before, now)
        assert found.kind == kind
        assert kind == "change" or (found.settings == now.settings and "both can't be so" in found.says)

    def test_a_second_ride_that_says_the_same_settles_it(self):
        assert propose(LEAN, RICH, at_full("rich")).settings.main_jet == 118.5
        assert propose(RICH, LEAN, at_full("rich")).kind == "repeat"

    def test_between_two_sizes_the_richer_stays(self):
        leaner = at_full("lean", main_jet=118.5)
        found = propose(leaner, RICH)
        assert found.kind == "stop" and "the best lies between" in held(found)[0]
        assert propose(RICH, leaner).settings.main_jet == 120


class TestAir:
    def test_air_that_does_as_much_as_the_step_asks_for_another_ride(self):
        assert propose(trial(three_quarters_to_full="lean"), air=HIGH).kind == "repeat"
        assert propose(trial(air=HIGH, three_quarters_to_full="rich"), air=DAY).kind == "repeat"

    def test_what_was_right_is_followed_into_other_air(self):
        up = propose(trial(), air=HIGH)
        assert (up.settings.main_jet, up.opening) == (118.5, "three_quarters_to_full")
        assert "today's air makes it 16.5 % richer" in up.says
        down = propose(trial(replace(SETTINGS, main_jet=116), HIGH), air=DAY)
        assert down.settings.main_jet == 118.5

    def test_the_working_shows_the_numbers(self):
        found = propose(trial(three_quarters_to_full="lean"))
        assert [step.result for step in found.working] == ["1.0000", "1.0252"]
        assert "(121.5/120)^2 sqrt(1.2250/1.2250)" in str(found.working[1])


def test_nothing_seen_and_nothing_ridden():
    unseen = propose(trial(eighth_to_quarter="can't tell"))
    assert (unseen.kind, unseen.opening) == ("repeat", "eighth_to_quarter")
    none = propose()
    assert (none.kind, none.settings) == ("repeat", SETTINGS)


@pytest.mark.parametrize(
    ("now", "opening", "because"),
    [
        ({"slide_cutaway": None}, "eighth_to_quarter", "not written down"),  # a vacuum slide has none
        ({"clip_position": 5}, "quarter_to_three_quarters", "no step richer"),
    ],
)
def test_a_step_that_is_not_there_is_no_change(now, opening, because):
    assert because in held(propose(trial(replace(SETTINGS, **now), **{opening: "lean"})))[0]


def test_rich_from_a_quarter_up_takes_the_clip_first_and_says_what_comes_after():
    found = propose(trial(quarter_to_three_quarters="rich", three_quarters_to_full="rich"))
    assert found.says == (
        "Go from needle clip groove 3 from the top to groove 2 from the top: it is rich from 1/4 throttle up. The main jet after "
        "it, if it is still rich at 3/4 to full throttle."
    )
    assert any(one.startswith("The needle clip first: it takes no part") for one in found.why)
    then = ["after it, if it is still rich there", "now", "leave it", "leave it"]
    assert [one["then"] for one in found.openings] == then
    right, still, lean = found.settles
    assert "main jet after it" in right["then"] and still["then"] == "Stop with this one: " + (
        "the needle clip would be 2 to the lean side of stock, past the limit of 1."
    )
    assert lean["then"].startswith("Put back groove 3 from the top: the best lies between")


@pytest.mark.parametrize(("says", "word"), [("rich", "choke"), ("lean", "air leak")])
def test_wrong_everywhere_points_past_the_settings_first(says, word):
    assert word in propose(trial(**dict.fromkeys(RIGHT, says))).why[0]


class TestVerdictsNotGiven:
    """A verdict nobody gave is no "can't tell": it is asked for."""

    def half(self, **says):
        return trial(**(dict.fromkeys(RIGHT) | says))

    def test_it_is_asked_for_before_it_is_left(self):
        found = propose(self.half(three_quarters_to_full="right", closed_to_eighth="right"))
        assert (found.kind, found.asks) == ("ask", ("eighth_to_quarter", "quarter_to_three_quarters"))
        assert "Say first how it ran at 1/8 to 1/4 throttle" in found.says
        assert propose(self.half()).kind == "ask"

    def test_nothing_is_leaned_where_full_throttle_is_not_known(self):
        assert propose(self.half(quarter_to_three_quarters="rich")).kind == "ask"
        assert propose(self.half(quarter_to_three_quarters="lean")).kind == "change"

    def test_a_change_goes_on_and_asks_for_the_rest(self):
        found = propose(self.half(three_quarters_to_full="lean"))
        assert found.thing == "main jet" and "quarter_to_three_quarters" in found.asks
        answer = next_trial_answer(found)
        assert sum("Nobody has said" in one for one in answer.notes) == 3


def test_a_step_of_the_main_jet_tells_what_it_is_worth():
    found = next_trial_answer(propose(trial(three_quarters_to_full="rich")))
    assert "If 118.5 is right, 120 costs up to" in str(found) and str(found).endswith("too small to feel.")
    assert -0.02 < found.figures["torque_change"].value < 0.0
    screw = next_trial_answer(propose(trial(closed_to_eighth="rich")))
    assert "torque_change" not in screw.figures and "can't be said" in str(screw)


def test_all_right_is_left_though_the_air_is_a_little_thinner():
    """400 m up is one small jet richer, which costs less than anyone feels; the other way round it would be lean."""
    up = replace(DAY, altitude_m=700.0)
    found = propose(trial(), air=up)
    assert found.kind == "done" and "too small to feel" in found.why[0]
    assert propose(trial(air=up), air=DAY).settings.main_jet == 121.5


def test_the_latest_change_is_told_with_the_proposal():
    first = trial(quarter_to_three_quarters="lean")
    two = replace(SETTINGS, main_jet=121.5, clip_position=4)
    both = replace(trial(two, three_quarters_to_full="rich"), builds_on=first.id)
    assert any("can't tell which" in one for one in propose(first, both).why)


def test_an_open_intake_is_said_to_be_outside_the_figures():
    now = replace(SETTINGS, intake_open_area_m2=0.002, intake_holes_m=(0.025, 0.025))
    found = propose(trial(now, three_quarters_to_full="lean"))
    assert any("intake is not as stock" in one for one in found.assumptions)
    assert "intake" in trend([trial(now)], STOCK).notes[0]


@pytest.mark.parametrize(
    "make",
    [lambda: Margin(richness=0.5), lambda: Margin(turns=float("nan")), lambda: Margin(grooves=-1),
     lambda: Obtainable(main_jets=(0,)), lambda: Obtainable(main_jets=("120",)), lambda: Obtainable(clip_grooves=0),
     lambda: Obtainable(least_turns=3.0, most_turns=1.0), lambda: Obtainable(main_jets=5)],
)  # fmt: skip
def test_limits_and_sizes_are_checked(make):
    with pytest.raises(InputError):
        make()


class TestTrend:
    def test_jets_and_air_make_one_figure_the_rest_are_steps(self):
        now = replace(SETTINGS, main_jet=124, clip_position=4, mixture_screw_turns_out=1.5, slide_cutaway=2.0)
        table = trend([trial(), trial(now, HIGH)], STOCK).tables[0]
        rows = table.rows
        assert all({column.key for column in table.columns} == set(row) for row in rows)
        assert rows[0]["main_richness"] == rows[0]["pilot_richness"] == rows[0]["air_richness"] == 1.0
        air = (STOCK_AIR.air().metering_density_kg_m3 / HIGH.air().metering_density_kg_m3) ** 0.5
        assert rows[1]["main_richness"] == pytest.approx((124 / 120) ** 2 * air)
        assert rows[1]["pilot_richness"] == pytest.approx(air)
        assert (rows[1]["grooves_richer"], rows[1]["turns_richer"], rows[1]["cutaway_richer"]) == (1, -0.5, 0.5)
        assert rows[1]["three_quarters_to_full"] == "right"

    def test_what_cannot_be_told_is_left_empty(self):
        (row,) = trend([trial(Settings(main_jet=124, main_jet_numbering="flow"))], STOCK).tables[0].rows
        keys = ("main_richness", "pilot_richness", "turns_richer", "grooves_richer", "cutaway_richer")
        assert [row[key] for key in keys] == [None] * 5


class TestBackToStock:
    def test_the_latest_change_is_undone_first_and_the_parts_are_named(self):
        one = replace(SETTINGS, main_jet=124)
        two = replace(one, intake_open_area_m2=0.00198, intake_holes_m=(0.025, 0.025))
        three = replace(two, clip_position=4, main_jet=126)
        four = replace(three, exhaust="open", clip_position=5)
        found = back_to_stock([trial(), *map(trial, (one, two, three, four))], STOCK)
        rows = found.tables[0].rows
        wanted = [("needle clip", 5), ("exhaust", 5), ("main jet", 4), ("intake", 3)]
        assert [(undo["thing"], undo["changed_in"]) for undo in rows] == wanted
        assert [row["part"] for row in rows] == [None, "exhaust stock", "main jet 120", "plugs for 2 holes of 25 mm"]
        assert rows[0]["how"] == "Put the needle clip back from groove 5 from the top to groove 3 from the top."

    def test_at_stock_there_is_nothing_to_undo_and_without_a_trial_nothing_is_known(self):
        found = back_to_stock([trial(replace(SETTINGS, main_jet=124)), trial()], STOCK)
        assert (found.tables[0].rows, found.notes) == ((), ())
        with pytest.raises(InputError):
            back_to_stock([], STOCK)

    @pytest.mark.parametrize(
        ("holes", "area", "part", "how"),
        [
            (None, 0.0015, "plugs for 500 mm2 of holes", "Close the intake with plugs"),  # holes not written down
            ((), 0.0005, None, "Open the intake again"),
        ],
    )
    def test_an_intake_is_plugged_by_area_or_opened_again(self, holes, area, part, how):
        stock = Stock(settings=replace(SETTINGS, intake_holes_m=holes))
        (row,) = back_to_stock([trial(replace(stock.settings, intake_open_area_m2=area))], stock).tables[0].rows
        assert row["part"] == part and how in row["how"]

    def test_what_is_not_written_down_is_to_be_looked_at(self):
        found = back_to_stock([trial(replace(SETTINGS, needle=None))], STOCK)
        assert [one.about for one in found.notes] == ["needle"]
        assert "look: needle" in str(found)


class TestSizesThatAreNotNamed:
    """Nobody said what is available: that is not the same as that nothing can."""

    @pytest.mark.parametrize(
        ("opening", "says", "asked"),
        [
            ("three_quarters_to_full", "lean", "main jet is named, so the next richer"),
            ("eighth_to_quarter", "rich", "slide cutaway is named, so the next leaner"),
        ],
    )
    def test_they_are_asked_for(self, opening, says, asked):
        found = propose(trial(**{opening: says}), sizes=Obtainable())
        assert found.kind == "stop" and found.settings == SETTINGS
        assert f"no available {asked} one is not known" in held(found)[0]

    @pytest.mark.parametrize("others", [{}, {"closed_to_eighth": "can't tell"}, {"closed_to_eighth": "rich"}])
    @pytest.mark.parametrize("opening", ["three_quarters_to_full", "quarter_to_three_quarters"])
    def test_lean_where_it_does_damage_stops_everything_but_going_richer(self, opening, others):
        now = replace(SETTINGS, clip_position=5)
        found = propose(trial(now, **{opening: "lean"}, **others), sizes=Obtainable())
        assert found.kind == "stop" and "lean at large openings can ruin" in found.says
        richer = propose(trial(now, **{opening: "lean"}, closed_to_eighth="lean"), sizes=Obtainable())
        assert richer.settings == replace(now, mixture_screw_turns_out=2.25)

    def test_lean_where_it_does_none_is_told_and_the_next_wish_is_looked_at(self):
        found = propose(trial(eighth_to_quarter="lean", quarter_to_three_quarters="rich"), sizes=Obtainable())
        assert found.thing == "needle clip" and "slide cutaway" in held(found)[0]


STEP_OF = {  # opening -> the setting and how far one step goes to the rich side
    "three_quarters_to_full": ("main_jet", (1.5, -1.5)),
    "closed_to_eighth": ("mixture_screw_turns_out", (0.25, -0.25)),
    "quarter_to_three_quarters": ("clip_position", (1, -1)),
    "eighth_to_quarter": ("slide_cutaway", (-0.5, 0.5)),
}


def test_every_combination_of_verdicts_is_followed():
    """Lean before rich, main jet, idle, needle, slide; rich from 1/4 up the clip before all; one step of one setting, no more."""
    for combination in itertools.product(("lean", "right", "rich"), repeat=4):
        says = dict(zip(STEP_OF, combination, strict=True))
        found = propose(trial(**says))
        wished = [o for o in STEP_OF if says[o] == "lean"] + [o for o in STEP_OF if says[o] == "rich"]
        if says["three_quarters_to_full"] == says["quarter_to_three_quarters"] == "rich" and "lean" not in combination:
            wished = ["quarter_to_three_quarters"]
        if wished:
            name, steps = STEP_OF[wished[0]]
            value = getattr(SETTINGS, name) + steps[says[wished[0]] == "rich"]
            assert (found.kind, found.settings) == ("change", replace(SETTINGS, **{name: value})), says
            assert found.opening == wished[0] and says[wished[0]] in found.says and found.before in found.put_back
            assert len(found.to_do) >= 4 and found.cautions
            assert any("common practice" in one for one in found.assumptions)
        else:
            assert found.kind == "done", says
            assert found.settings == SETTINGS


def test_trials_that_build_on_each_other_in_a_ring_are_all_there():
    first, later = trial(), trial()
    assert len(in_order([replace(first, builds_on=later.id), replace(later, builds_on=first.id)])) == 2
