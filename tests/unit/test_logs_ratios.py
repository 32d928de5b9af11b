"""What the search for ratios says of gears that were ridden too little, and what it makes of logs that hold none."""

from __future__ import annotations

import numpy as np
import pytest
from support.log_texts import made_up
from support.synthetic_log import Bike, Day, phone
from support.synthetic_rides import by_protocol, ridden, written_down

from ridesim.answers.text import sentence
from ridesim.errors import InputError
from ridesim.logs.fits.ratios import HOLD_S, PROTOCOL, find_ratios
from ridesim.logs.gears import geared
from ridesim.units import TWO_PI

BIKE = Bike()
AROUND_M = TWO_PI * BIKE.radius_m


def log_of(hold, rate_hz=5.0, seed=4):
    rng = np.random.default_rng(seed)
    script, lasts = by_protocol(BIKE, rng, hold)
    rides = ridden(BIKE, [script], [Day(gust_m_s=0.3)], rng)
    return written_down(rides, [phone(rate_hz=rate_hz)], [lasts], rng)[0][0]


@pytest.fixture(scope="module")
def hurried():
    """First gear is held for ten seconds, the others for twice as long as is asked."""
    return log_of((10.0, *(2 * s for s in HOLD_S[1:]), 2 * HOLD_S[-1]))


def test_a_gear_ridden_too_little_says_how_much_longer(hurried):
    found = find_ratios(hurried, rolling_circumference_m=AROUND_M)
    first, *others = found.gears
    assert not first.settled and first.longer_s >= 5.0 and first.longer_s % 5.0 == 0
    assert all(gear.settled and gear.longer_s == 0 for gear in others)
    assert any(f"gear 1: ride this gear {first.longer_s:.0f} s longer" in note for note in found.notes)
    assert PROTOCOL in found.notes
    answer = geared(hurried, circumference_m=AROUND_M).answer
    assert sentence(answer).endswith("Ride gear 1 longer.")
    assert [row["longer_s"] for row in answer.tables[0].rows] == [first.longer_s, None, None, None, None]


def test_no_word_of_riding_longer_where_all_is_settled():
    log = log_of((*HOLD_S, HOLD_S[-1]))
    found = find_ratios(log, rolling_circumference_m=AROUND_M)
    assert all(gear.settled for gear in found.gears) and PROTOCOL not in found.notes
    assert "longer" not in sentence(geared(log, circumference_m=AROUND_M).answer)


def test_the_time_in_a_gear_is_told(hurried):
    seconds = [gear.seconds for gear in find_ratios(hurried, rolling_circumference_m=AROUND_M).gears]
    asked = [10.0, *(2 * s for s in HOLD_S[1:]), 2 * HOLD_S[-1]]
    # held for as long as asked, and up to eight seconds of getting there and of rolling out at the end
    assert all(a - 3 < s < a + 16 for s, a in zip(seconds, asked, strict=True))


@pytest.mark.parametrize("seed", range(8))
def test_whatever_the_log_a_ratio_is_a_figure_or_is_refused(seed):
    rng = np.random.default_rng(seed)
    read = refused = 0
    for _ in range(40):
        count, kind = int(rng.choice([3, 9, 41, 60, 400])), rng.integers(4)
        time = np.cumsum(rng.choice([0.05, 0.2, 1.0, 8.0], count)) if rng.random() < 0.3 else np.arange(count) * 0.2
        speed = np.clip(15 + 10 * np.sin(time / 10) + rng.normal(0, 0.1 * kind, count), 0, None) * (kind < 3)
        ratio = np.repeat(rng.choice([15.0, 10.0, 7.0], count // 20 + 1), 20)[:count]
        engine = np.maximum(speed * ratio / 0.33 + rng.normal(0, 1, count), 0)
        engine[rng.random(count) < 0.5 * rng.random()] = np.nan
        log = made_up(time - time[0], speed, engine_speed_rad_s=engine)
        try:
            found = find_ratios(log, rolling_circumference_m=AROUND_M)
        except InputError as error:
            refused += 1
            assert str(error).isprintable()
        else:
            read += 1
            figures = [(g.overall_ratio.value, g.overall_ratio.standard_error, g.longer_s) for g in found.gears]
            assert np.isfinite(figures).all() and np.all(np.array(figures)[:, 0] > 0)
            assert found.gear_at.size == count
    assert read and refused
