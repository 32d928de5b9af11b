"""What the choice of sprockets costs for 1,260 set-ups, down to the redraw in the real browser: reported, not asserted.

python -m pytest tests/bench/test_bench_choose.py -q -s
Processor time is told where it can be; the browser's times are by the clock, so close other programs first.
"""

from __future__ import annotations

import statistics
from collections.abc import Callable
from itertools import count
from urllib.parse import urlencode

import pytest
from support.clock import least_s
from support.posted import Posted

from dashboard.app import create_app
from ridesim import reference
from ridesim.buildfile.io import read
from ridesim.selection import bikes_of, choice_of, choose, cross, held_to, indistinguishable

BUILD = read(reference.DATA / "demo" / "plateau-single.toml")
FRONTS, REARS = range(13, 20), range(38, 53)
TIRES = ["120/90-17", "130/90-17", "140/80-17", "4.60-17", "110/90-17", "120/80-17"]
TUNES = ["stock", "rejetted"]
QUERY = {
    "build": "plateau-single",
    "need-fronts": "13:19",
    "need-rears": "38:52",
    "need-tires": ", ".join(TIRES),
    "need-tunes": "\n".join(TUNES),
    "planned-rear-tire": "120/90-17",
}


def least_ms(work: Callable[[], object], runs: int = 15) -> float:
    return 1e3 * least_s(work, runs)


def test_the_library(tell):
    limits = BUILD.record.limits
    whole = least_ms(lambda: choose(BUILD, fronts=FRONTS, rears=REARS, rear_tires=TIRES, tunes=TUNES))
    bikes = bikes_of(BUILD, TIRES, TUNES)
    crossing = cross(bikes, FRONTS, REARS)
    assert len(crossing) == 1260
    made = least_ms(lambda: bikes_of(BUILD, TIRES, TUNES))
    crossed = least_ms(lambda: cross(bikes, FRONTS, REARS))
    held = least_ms(lambda: choice_of(crossing, held_to(limits, cruise_engine_speed_most="4800 rev/min")))
    choice = choice_of(crossing, limits)
    apart = least_ms(lambda: indistinguishable(choice), 2)
    tell(
        f"choose(), 1,260 set-ups: {whole:.0f} ms of processor time (goal 60): bikes {made:.0f}, kernel and chains {crossed:.0f}, "
        f"limits and goals {held:.1f}; the first dozen told apart: {apart:.0f}"
    )
    three = least_ms(lambda: choice_of(crossing, limits, ["cruise_speed", "first_lift", "top_speed"]))
    tell(f"   limits and three goals: {three:.1f} ms")


def test_the_callback(tell):
    posted, numbers = Posted(create_app()), count()

    def redraw(**changes: str) -> None:
        query = "?" + urlencode(QUERY | changes)
        answer = posted.post("sprockets-says.children", values={"query.data": query, "theme.data": "light"})
        assert "1260 set-ups" in str(answer["response"]["sprockets-says"])

    redraw()
    ride = least_ms(lambda: redraw(cruise=f"{90 + next(numbers) / 10} km/h"))
    limit = least_ms(lambda: redraw(**{"need-revs-most": f"{4500 + next(numbers)} rev/min"}))
    tell(
        f"the page's callback: {ride:.0f} ms of processor time after the ride changed, {limit:.0f} after a limit (goal 120)"
    )


@pytest.mark.parametrize("many", [False, True], ids=["91 set-ups", "1,260 set-ups"])
def test_the_browser(tab, tell, redrawn_ms, many):
    tab.goto("/sprockets?" + urlencode(QUERY if many else {"build": "plateau-single"}))
    tab.locator("#sprockets-grid .ag-row").first.wait_for()
    tab.wait_for_timeout(4000)
    field, size = tab.get_by_label("Engine speed at most"), "1,260" if many else "91"
    typed = []
    for n in range(8):
        field.fill(str(430 + 10 * n))  # too low for a limit: the next key makes it one
        tab.wait_for_timeout(2200)
        typed.append(redrawn_ms("#sprockets-says", "0"))
    field.fill("4600")
    tab.wait_for_timeout(2500)
    tab.locator("#slider-cruise [role=slider]").focus()
    slid = []
    for _ in range(8):
        slid.append(redrawn_ms("#sprockets-says", "ArrowRight"))
        tab.wait_for_timeout(2200)
    for what, times in (("a key in a limit field", typed), ("the slider of the ride", slid)):
        good = [one for one in times if one > 0]
        told = (
            f"median {statistics.median(good):.0f} ms, least {min(good):.0f}, of {len(good)}"
            if good
            else "moved nothing"
        )
        tell(f"{size} set-ups, {what} to the redrawn sentence: {told} (goal 200)")
