"""`ridesim choose`: table, CSV, JSON, and how it refuses."""

from __future__ import annotations

import csv
import io
import json
import re

import pytest
from support import commands


def run(capsys, *arguments: str) -> tuple[int, str, str]:
    return commands.run(capsys, "choose", *arguments)


def test_the_table_says_which_meet_the_limits_and_what_to_check(capsys):
    code, out, err = run(capsys, "coast-single", "--front", "14:16", "--rear", "42:46", "--full")
    assert (code, err) == (0, "")
    assert "of 15 set-ups meet every limit" in out and "Within the limits" in out and "Before ordering" in out
    assert "- 14/42: engine speed at the cruising speed 4,995 rev/min, limit 4,700 rev/min\n" in out


def test_it_opens_with_the_verdict_and_says_how_to_see_the_rest(capsys):
    code, out, _ = run(capsys, "coast-single", "--front", "13:16", "--rear", "37:44")
    assert code == 0 and out.startswith("Order a 39-tooth rear sprocket: 4,638 rev/min at 95 km/h")
    titles = ["Why\n", "Runners-up\n", "To order\n", "Before ordering\n", "16 of 32", "Within the limits\n", "--full"]
    places = [out.index(title) for title in titles]
    assert places == sorted(places)
    assert all(title not in out for title in ("Outside the limits", "Assumed", "Note"))


@pytest.mark.parametrize("wish", ["pull", "calm"])
def test_the_table_is_in_the_order_of_the_wish(capsys, wish):
    _, out, _ = run(capsys, "coast-single", "--front", "15:16", "--rear", "38:42", "--wish", wish)
    rows = [line.split() for line in out.splitlines() if re.match(r"≈?1[56]/\d\d ", line)]
    column, sign = {"pull": (2, -1), "calm": (1, 1)}[wish]
    sure = [row for row in rows if row[-2] == ">" or int(row[-2]) >= 90]
    values = [sign * float(row[column].replace(",", "")) for row in sure]
    assert len(values) > 3 and values == sorted(values)


def test_pairs_that_cannot_be_told_apart_stand_together(capsys):
    _, out, _ = run(capsys, "coast-single", "--front", "14,16", "--rear", "35,40")
    first, second = (line for line in out.splitlines() if re.match("14/35 |≈16/40 ", line))
    assert first.split()[1:3] == second.split()[1:3]
    assert f"{first}\n{second}\n" in out and "≈ cannot be told apart" in out
    _, out, _ = run(capsys, "coast-single", "--front", "14,16", "--rear", "35,40", "--json")
    assert any(text.startswith("14/35") and "16/40" in text for text in json.loads(out)["not_told_apart"])


def test_the_names_the_limits_had_before_go_on_working_out_of_sight(capsys):
    old = ("--cruise-engine-speed-most", "4600 rev/min", "--climb-least", "60 %", "--top-speed-least=110 km/h")
    new = ("--max-cruise-engine-speed", "4600 rev/min", "--min-climb", "60 %", "--min-top-speed=110 km/h")
    pairs = ("coast-single", "--front", "15", "--rear", "38:42", "--json")
    assert run(capsys, *pairs, *old) == run(capsys, *pairs, *new) != run(capsys, *pairs)
    told = run(capsys, "--help")[1]
    assert all(
        name in told for name in ("--max-cruise-engine-speed", "--min-climb", "--min-top-speed", "--max-roll-on")
    )
    assert "-least" not in told and "-most" not in told


def test_json_and_csv_hold_every_combination(capsys):
    tires, tunes = ("--tire", "120/90-17", "--tire", "130/90-17"), ("--tune", "stock", "--tune", "rejetted")
    _, out, _ = run(capsys, "plateau-single", "--front", "15,16", "--rear", "44", *tires, *tunes, "--json")
    answer = json.loads(out)
    assert len(answer["candidates"]) == 8
    keys = "front rear rear_tire tune gears top_speed_kmh cruise acceleration roll_on chain meets_limits unbeaten falls"
    assert set(keys.split()) <= set(answer["candidates"][0])
    _, out, _ = run(capsys, "coast-single", "--front", "15:16", "--rear", "44:45", "--csv")
    rows = list(csv.DictReader(io.StringIO(out)))
    assert len(rows) == 4 and {r["front"] for r in rows} == {"15", "16"}


def test_limits_on_the_line_stand_before_those_of_the_file(capsys):
    def only(most):
        one = ("--front", "15", "--rear", "45", "--max-cruise-engine-speed", most, "--json")
        return json.loads(run(capsys, "coast-single", *one)[1])["candidates"][0]

    assert any("limit 4,000 rev/min" in text for text in only("4000 rev/min")["falls"])
    assert only("")["meets_limits"]


def test_nothing_that_meets_them_names_what_to_relax(capsys):
    out = commands.answered(capsys, "choose", "coast-single", "--min-top-speed", "300 km/h", "--full")
    said = "No pair meets every limit with 90 % certainty: with top speed"
    assert "None of" in out and out.startswith(said)


@pytest.mark.parametrize(
    ("option", "value"),
    [("--min-lift", "x"), ("--max-roll-on", "0"), ("--min-top-speed", "5 bananas"), ("--walking-engine-speed", "-1"), ("--cruise", "nan"),
     ("--tire", "banana"), ("--tune", "none"), ("--goal", "beauty"), ("--front", "x"), ("--rear", "900")],
)  # fmt: skip
def test_what_is_wrong_on_the_line_is_named_by_its_option(capsys, option, value):
    assert commands.refused(capsys, "choose", "coast-single", option, value).startswith(f"{option} = {value!r}: ")


def test_a_printed_form_is_one_of_two(capsys):
    assert "--csv: and --json do not go together" in run(capsys, "coast-single", "--csv", "--json")[2]
    _, plain, _ = run(capsys, "coast-single", "--front", "15", "--rear", "39")
    _, us, _ = run(capsys, "coast-single", "--front", "15", "--rear", "39", "--units", "us")
    assert "[km/h]" in plain and "lbf" not in plain and "[lbf]" in us and " N " not in us and "[N]" not in us
