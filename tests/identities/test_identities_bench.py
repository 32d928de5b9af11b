"""Jets, needles, openings and the parts of a carburetor: properties that hold whatever the figures, and brute force."""

from __future__ import annotations

import itertools
import math
from dataclasses import replace
from fractions import Fraction

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from ridesim.fueling.circuits import circuit_answer, circuit_shares, parts
from ridesim.fueling.intake import HoleSaw, plan_intake
from ridesim.fueling.intake_answers import intake_answer
from ridesim.fueling.jets import flow_ratio, jet_for_air, richness_ratio, size_ratio_for_air
from ridesim.fueling.needle import Needle, NeedleSeat, needle_change, needle_curve
from ridesim.fueling.needle_answers import change_answer
from ridesim.fueling.openings import Opening, circle, opening_area_m2

pytestmark = pytest.mark.identities

sizes = st.floats(20.0, 400.0)
densities = st.floats(0.6, 1.5)
numberings = st.sampled_from(["bore", "flow"])
ratios = st.floats(0.3, 3.0)

# --- jets ---


def for_air(size, now, before, numbering, **given):
    air = {"metering_density_kg_m3": now, "reference_metering_density_kg_m3": before}
    return jet_for_air(size, numbering=numbering, **air, **given)


@given(ratios)
def test_both_numberings_keep_the_mixture(density_ratio):
    bore = size_ratio_for_air(density_ratio, numbering="bore")
    flow = size_ratio_for_air(density_ratio, numbering="flow")
    assert richness_ratio(bore, density_ratio) == pytest.approx(1.0, rel=1e-12)
    assert flow == pytest.approx(flow_ratio(100.0, 100.0 * bore, numbering="bore"), rel=1e-12)


@given(sizes, densities, densities, numberings, st.sampled_from([0.5, 1.0, 2.0, 2.5, 5.0]))
def test_the_jets_offered_bracket_the_exact_one(size, now, before, numbering, step):
    found = for_air(size, now, before, numbering, step=step)
    assert found.lean_side.size < found.exact_size < found.rich_side.size or found.nearest.size == pytest.approx(
        found.exact_size
    )
    assert found.rich_side.size - found.lean_side.size <= 2 * step * (1 + 1e-9)
    assert found.rich_side.richness_ratio > 1 > found.lean_side.richness_ratio
    assert found.low_size == found.exact_size == found.high_size
    assert (found.unchanged_richness_ratio > 1) == (now < before) or now == before


@given(st.lists(sizes, min_size=1, max_size=12), sizes, densities, densities, numberings)
def test_the_nearest_listed_jet_is_the_nearest(listed, size, now, before, numbering):
    found = for_air(size, now, before, numbering, sizes=listed)
    power = 2 if numbering == "bore" else 1
    off = [power * math.log(size / found.exact_size) for size in listed]
    # of two that differ by less than half a hundredth the richer one
    near = max(one for one in off if abs(one) <= min(map(abs, off)) + 0.005)
    assert math.log(found.nearest.richness_ratio) == pytest.approx(near, abs=1e-10)
    richer = [s for s in listed if s > found.exact_size * (1 + 1e-9)]
    leaner = [s for s in listed if s < found.exact_size * (1 - 1e-9)]
    assert (found.rich_side.size if found.rich_side else None) == min(richer, default=None)
    assert (found.lean_side.size if found.lean_side else None) == max(leaner, default=None)


def test_a_tolerance_of_the_density_moves_the_bore_by_a_quarter_of_it():
    found = for_air(150, 1.0, 1.2, "bore", step=2.5, density_plus_minus=0.02)
    assert found.high_size / found.exact_size - 1 == pytest.approx(0.005, abs=5e-5)
    assert 1 - found.low_size / found.exact_size == pytest.approx(0.005, abs=5e-5)


# --- needles ---


@st.composite
def needles(draw):
    straight = draw(st.floats(1.8e-3, 2.8e-3))
    start = draw(st.floats(0.015, 0.035))
    return Needle(
        straight_diameter_m=straight,
        taper_start_m=start,
        length_m=start + 0.050,
        end_diameter_m=straight * draw(st.floats(0.3, 0.95)),
        clip_pitch_m=draw(st.floats(5e-4, 1.2e-3)),
    )


seats = st.builds(
    NeedleSeat,
    needle_jet_bore_m=st.floats(2.9e-3, 3.3e-3),
    main_jet_bore_m=st.floats(0.8e-3, 2.2e-3),
    seat_to_jet_m=st.floats(0.015, 0.022),
    full_lift_m=st.floats(0.020, 0.035),
)


@given(needles(), seats, st.integers(1, 5))
def test_free_area_grows_with_lift_and_stays_below_the_main_jet(needle, seat, clip):
    curve = needle_curve(needle, seat, clip=clip)
    main = math.pi / 4 * seat.main_jet_bore_m**2
    for area in (curve.ring_area_m2, curve.effective_area_m2, curve.main_jet_share):
        assert np.all(np.diff(area) >= -1e-18)
    assert np.all(curve.effective_area_m2 < np.minimum(curve.ring_area_m2, main))
    assert np.all((curve.main_jet_share > 0) & (curve.main_jet_share < 1))


@given(needles(), seats, st.integers(1, 4))
def test_a_groove_is_as_good_as_its_pitch_of_lift(needle, seat, clip):
    lifts = np.linspace(0, (seat.full_lift_m - needle.clip_pitch_m) * (1 - 1e-9), 9)
    lower = needle_curve(needle, seat, clip=clip + 1, lifts_m=lifts)
    lifted = needle_curve(needle, seat, clip=clip, lifts_m=lifts + needle.clip_pitch_m)
    np.testing.assert_allclose(lower.effective_area_m2, lifted.effective_area_m2, rtol=1e-12)


@given(needles(), seats)
def test_taper_angle_and_end_diameter_say_the_same(needle, seat):
    slope = (needle.straight_diameter_m - needle.end_diameter_m) / (needle.length_m - needle.taper_start_m)
    by_angle = replace(needle, end_diameter_m=None, taper_angle_rad=2 * math.atan(slope / 2))
    change = needle_change(needle, seat, clip=3, new_clip=3, new_needle=by_angle)
    np.testing.assert_allclose(change.richness_ratio, 1.0, rtol=1e-9)
    assert change.touched_from_m is None and "no change" in str(change_answer(change))


# --- openings ---


@st.composite
def workshops(draw):
    """Stock opening, saws on whole tenths of a millimetre, a wanted share of stock and a tolerance."""
    widths = draw(st.lists(st.integers(150, 600), min_size=1, max_size=4, unique=True))
    saws = [HoleSaw(diameter_m=w / 1e4, most=draw(st.integers(1, 4))) for w in widths]
    return (
        circle(diameter_m=draw(st.integers(200, 600)) / 1e4),
        saws,
        draw(st.floats(1.05, 4.0)),
        draw(st.sampled_from([0.0, 0.01, 0.03, 0.1])),
    )


def _by_hand(stock, saws, over, tolerance):
    """Every set of holes, one by one and in whole squared micrometres, in the order asked for."""
    wide = sorted(saws, key=lambda saw: -saw.diameter_m)
    squares = [round(1e6 * saw.diameter_m) ** 2 for saw in wide]
    stock_square = round(1e6 * stock.length_m) ** 2  # areas as squares of diameters: pi/4 falls out
    wanted = round((Fraction(over) - 1) * stock_square)
    room = round(Fraction(tolerance) * Fraction(over) * stock_square)
    told = []
    for counts in itertools.product(*(range(saw.most + 1) for saw in wide)):
        off = abs(sum(n * s for n, s in zip(counts, squares, strict=True)) - wanted)
        if any(counts):
            told.append((off, sum(counts), sum(n > 0 for n in counts), tuple(-n for n in counts)))
    told.sort()
    holes = [
        (off, tuple((round(1e6 * saw.diameter_m), -n) for saw, n in zip(wide, counts, strict=True) if n))
        for off, _, _, counts in told
    ]
    return [h for off, h in holes if off <= room], holes[0][1]


def _micrometres(holes):
    return tuple((round(1e6 * d), n) for d, n in holes)


@given(workshops())
def test_hole_sets_are_those_of_brute_force(workshop):
    stock, saws, over, tolerance = workshop
    plan = plan_intake([stock], saws, wanted_over_stock=over, tolerance=tolerance, show=1000)
    inside, nearest = _by_hand(stock, saws, over, tolerance)
    assert [_micrometres(s.holes) for s in plan.sets] == inside
    assert _micrometres(plan.nearest.holes) == nearest
    assert plan.found == len(inside) and plan.within == bool(inside)


def test_equal_areas_go_by_fewest_holes_then_fewest_sizes():
    """30 mm and 40 mm make 50 mm exactly; so do four of 25 mm."""
    saws = [HoleSaw(diameter_m=d / 1e3, most=4) for d in (25, 30, 40, 50)]
    plan = plan_intake([circle(diameter_m=0.05)], saws, wanted_over_stock=2.0, tolerance=0.0)
    assert [s.holes for s in plan.sets] == [((0.05, 1),), ((0.04, 1), (0.03, 1)), ((0.025, 4),)]
    assert plan.nearest.off_by == pytest.approx(0.0, abs=1e-12)
    assert plan.nearest.one_hole_diameter_m == pytest.approx(0.05)
    first = plan_intake([circle(diameter_m=0.05)], saws, wanted_over_stock=2.0, tolerance=0.0, show=1)
    assert first.sets == plan.sets[:1] and first.found == 3


@given(workshops())
def test_plugging_restores_stock_exactly(workshop):
    stock, saws, over, _ = workshop
    plan = plan_intake([stock], saws, wanted_over_stock=over)
    first, last = plan.plugging[0], plan.plugging[-1]
    assert last.total_area_m2 == plan.stock_area_m2 and last.over_stock == 1.0
    assert first.total_area_m2 == plan.nearest.total_area_m2 and first.plug_m is None
    assert [s.order for s in plan.plugging] == list(range(plan.nearest.count + 1))
    assert [s.total_area_m2 for s in plan.plugging] == sorted((s.total_area_m2 for s in plan.plugging), reverse=True)
    plugs = [s.plug_m for s in plan.plugging[1:]]
    assert plugs == sorted(d for d, n in plan.nearest.holes for _ in range(n))  # the smallest first, each once
    told = [(1 + row["over"]) * plan.stock_area_m2 for row in intake_answer(plan).tables[1].rows]
    assert told == pytest.approx([s.total_area_m2 for s in plan.plugging])


@given(workshops())
def test_flow_goes_from_one_end_of_the_coefficients_to_the_other(workshop):
    stock, saws, over, _ = workshop
    best = plan_intake([stock], saws, wanted_over_stock=over, stock_coefficients=(0.62, 0.7)).nearest
    share = best.holes_area_m2 / opening_area_m2([stock])
    low, high = 1 + 0.60 / 0.7 * share, 1 + 0.65 / 0.62 * share
    assert (best.flow_ratio_low, best.flow_ratio_high) == pytest.approx((low, high))
    assert (best.suction_ratio_low, best.suction_ratio_high) == pytest.approx((high**-2, low**-2))


@given(st.floats(0.01, 0.1), st.floats(0.0, 1.0))
def test_a_slot_is_a_circle_with_a_rectangle_in_the_middle(width, longer):
    length = min(width * (1 + longer), 0.5)
    assert opening_area_m2([Opening(shape="slot", length_m=width, width_m=width)]) == pytest.approx(
        opening_area_m2([circle(diameter_m=width)])
    )
    slot = Opening(shape="slot", length_m=length, width_m=width)
    assert slot.area_m2 <= Opening(shape="rectangle", length_m=length, width_m=width).area_m2
    assert slot.area_m2 == pytest.approx(circle(diameter_m=width).area_m2 + width * (length - width), rel=1e-12)


# --- which part acts where (common practice, no source) ---


@given(st.floats(0.0, 1.0))
def test_shares_add_up_and_pass_over_gradually(opening):
    shares = circuit_shares(opening)
    assert shares.sum() == pytest.approx(1.0) and np.all(shares >= 0)
    near = circuit_shares(np.clip([opening - 1e-4, opening + 1e-4], 0, 1))
    assert np.all(np.abs(near - shares[:, None]) < 5e-3)


@pytest.mark.parametrize(
    ("opening", "first", "silent"),
    [
        (0.05, "pilot", {"cutaway", "clip", "needle", "main"}),
        (0.17, "cutaway", {"clip", "needle", "main"}),
        (0.3, "clip", {"pilot", "main"}),
        (0.5, "clip", {"pilot", "cutaway", "main"}),
        (1.0, "main", {"pilot", "cutaway", "clip", "needle"}),
    ],
)
def test_an_opening_leads_to_its_part_and_not_to_another(opening, first, silent):
    """Common practice, no source: pilot to about 1/8, cutaway 1/8 to 1/4, needle and clip 1/4 to 3/4, main jet above."""
    named = {part.name: part for part in parts()}
    for verdict, way in (("lean", "richer"), ("rich", "leaner")):
        answer = circuit_answer(opening, verdict)
        shares = {named[row["name"]].key: row["share"] for row in answer.tables[0].rows}
        assert next(iter(shares)) == first and {key for key, share in shares.items() if share == 0} == silent
        advised = {row["what"]: row["how"] for row in answer.tables[1].rows}
        assert advised["Change"] == getattr(next(p for p in parts() if p.key == first), way)
        assert {named[name].key for name in advised["Leave alone"].split(", ")} == silent
        assert {"Try first", "How to tell"} <= {*advised}
    assert len(circuit_answer(opening, "right").tables) == 1


@pytest.mark.parametrize("opening", [1 / 8, 1 / 4, 3 / 4])
def test_circuits_hand_over_at_the_openings_of_common_practice(opening):
    """Common practice, no source: the neighbours have an equal say at 1/8, 1/4 and 3/4 (clip for the needle's circuit)."""
    pilot, cutaway, clip, _, main = circuit_shares(opening)
    before, after = {1 / 8: (pilot, cutaway), 1 / 4: (cutaway, clip), 3 / 4: (clip, main)}[opening]
    assert before == pytest.approx(after) and before > 0.3
    assert "Also matters here" in {row["what"] for row in circuit_answer(opening, "lean").tables[1].rows}
