"""What `import ridesim as rs` gives: every name, frames that hold the answers' numbers, short reprs, nothing loaded too soon."""

from __future__ import annotations

import math
import pydoc
import re
import shutil

import numpy as np
import pytest
from support.commands import python
from support.small_build import TEXT

import ridesim as rs
from ridesim.answers.answer import Answer, Column, Figure, Figures, Table
from ridesim.answers.solved import solve
from ridesim.answers.text import sentence
from ridesim.errors import InputError, InputErrors
from ridesim.reference import DATA
from ridesim.units import COUNTED, shown_in

QUESTIONS = ("speeds", "cruising", "pull", "front_lift", "climbing", "standing_run", "chain", "tires", "power")
ROAD = rs.Conditions(cruise="105 km/h", grade="5 %", headwind="0 km/h")


@pytest.fixture(scope="module")
def bike():
    return rs.demo("plateau-single")


def figures_of(answer):
    return list(answer.figures.values())


def alike(one, other):
    return all(np.array_equal(one.raw[key], other.raw[key], equal_nan=True) for key in one.raw | other.raw)


def test_a_file_is_read_as_the_demo_of_it(tmp_path, bike):
    shutil.copy(DATA / "demo" / "plateau-single.toml", tmp_path / "my-bike.toml")
    own = rs.read(tmp_path / "my-bike.toml")
    assert alike(own, bike) and repr(own) == repr(bike)


def test_every_problem_of_a_file_is_told_at_once(tmp_path):
    path = tmp_path / "bad.toml"
    path.write_text(TEXT.replace("front = 14", "front = 0").replace("rear = 44", "rear = 4"))
    with pytest.raises(rs.InputErrors) as found:
        rs.read(path)
    assert [one.where for one in found.value.errors] == ["final_drive.front", "final_drive.rear"]
    assert rs.InputErrors is InputErrors and rs.InputError is InputError


def test_changes_add_up_and_leave_the_bike_alone(bike):
    new = bike.with_changes(front=15).with_changes(tune="stock", rear_tire="120/90-17").with_changes(luggage="20 kg")
    assert (new.front_teeth, new.rear_teeth, new.tune, new.raw["luggage_kg"]) == (15, bike.rear_teeth, "stock", 20.0)
    assert new.rear_tire.marking.written == "120/90-17"
    assert (bike.front_teeth, bike.tune) == (14, "rejetted")
    assert alike(new, bike.with_changes(luggage=20, rear_tire="120/90-17", tune="stock", front=15))
    assert alike(bike.with_changes(), bike)
    assert new.build.bike is bike.build.bike  # one bike: what is uncertain about it moves both


@pytest.mark.parametrize(
    ("change", "where"),
    [({"front": 3}, "final_drive.front"), ({"tune": "racing"}, "tune"), ({"luggage": "much"}, "masses.luggage")],
)
def test_a_change_that_cannot_be_is_refused(bike, change, where):
    with pytest.raises(InputError) as found:
        bike.with_changes(**change)
    assert found.value.where == where


def test_an_answer_says_its_sentence_and_gives_figures_by_key(bike):
    new = bike.with_changes(front=16, tune="rejetted")
    answer = rs.cruising(new, ROAD)
    assert str(answer) == sentence(answer, "metric") and str(answer).startswith("At 105 km/h in ")
    direct = solve(new, new.ride(cruise_m_s=105 / 3.6, slope_rad=math.atan(0.05), headwind_m_s=0.0))
    cruise, gear = direct.performance.cruise, int(np.nonzero(direct.performance.cruise.holds[0])[0].max())
    figure = answer.figures["power_in_hand"]
    assert figure.value == pytest.approx(cruise.available_w[0, gear] - cruise.needed_w[0, gear], rel=1e-12)
    assert figure.low < figure.value < figure.high
    with pytest.raises(KeyError, match="power_in_hand"):
        answer.figures["power_at_hand"]


def test_conditions_are_read_as_text_or_si():
    assert rs.Conditions(cruise="108 km/h") == rs.Conditions(cruise=30.0) == rs.Conditions(cruise="108")
    assert rs.Conditions(grade="5 %") == rs.Conditions(grade=0.05)
    assert float(rs.Conditions(headwind="-36 km/h").headwind) == pytest.approx(-10.0)
    assert repr(rs.Conditions(cruise=30, grade="5 %")) == "Conditions(cruise='30 m/s', grade='5 %')"
    with pytest.raises(AttributeError):
        ROAD.cruise = 3.0
    with pytest.raises(InputErrors) as found:
        rs.Conditions(cruise="fast", grade=True, headwind=math.nan)
    assert [one.where for one in found.value.errors] == ["cruise", "grade", "headwind"]
    with pytest.raises(InputError, match="cruise = '900 km/h': must be between"):
        rs.cruising(rs.demo("coast-single"), rs.Conditions(cruise="900 km/h"))


def told(values, reading, system):
    """SI figures in the unit that a frame has them in."""
    return [one if one is None or reading in COUNTED else float(shown_in(one, reading, system)[0]) for one in values]


def same(cells, wanted):
    """Cells of a frame are what is wanted, NaN where a thing does not happen."""
    cells, wanted = ([math.nan if one is None else one for one in some] for some in (cells, wanted))
    assert cells == [
        one if isinstance(one, str | bool) else pytest.approx(one, rel=1e-12, nan_ok=True) for one in wanted
    ]


@pytest.mark.parametrize("system", ["metric", "us"])
@pytest.mark.parametrize("question", QUESTIONS)
def test_frames_hold_the_numbers_of_the_answer(bike, question, system):
    answer = getattr(rs, question)(bike, ROAD)
    frame = answer.to_frame(units=system, table="figures")
    assert list(frame.index) == [figure.key for figure in figures_of(answer)]
    for figure in figures_of(answer):
        value, *ends = frame.loc[figure.key, ["Value", "Low", "High"]]
        same([value], told([figure.value], figure.reading, system))
        if figure.low is not None:
            same(ends, sorted(told([figure.low, figure.high], figure.reading, system)))
    for n, table in enumerate(answer.tables):
        frame = answer.to_frame(units=system, table=n)
        assert frame.columns.is_unique and len(frame) == len(table.rows)
        for column, name in zip(table.columns, frame.columns, strict=True):
            assert name.startswith(column.label)
            cells = [row.get(column.key) for row in table.rows]
            same(frame[name], told(cells, column.reading, system))


def test_columns_headed_alike_are_told_apart_and_no_table_gives_the_figures():
    columns = (Column(key="a", label="At", reading="speed"), Column(key="b", label="At", reading="speed"))
    table = Table(title="Two", columns=columns, rows=({"a": 1.0, "b": 2.0},))
    figures = (Figure(key="one", label="One", value=10.0, reading="speed", low=9.0, high=11.0),)
    answer = Answer(question="?", say=("One.",), figures=Figures(*figures), tables=(table,))
    assert list(answer.to_frame().columns) == ["At [km/h]", "At (b) [km/h]"]
    bare = Answer(question="?", say=("One.",), figures=Figures(*figures)).to_frame()
    assert bare.loc["one"].tolist() == ["One", pytest.approx(36.0), pytest.approx(32.4), pytest.approx(39.6), "km/h"]


def test_a_comparison_as_a_frame(bike):
    both = rs.compare(bike, bike.with_changes(front=15), ROAD)
    for system in ("metric", "us"):
        frame = both.to_frame(units=system)
        assert len(frame) == sum(len(pair.changes) for pair in both.pairs)
        for pair in both.pairs:
            for change in pair.changes:
                row = frame.loc[(pair.question, change.now.key)]
                values = [change.now.value, change.planned.value]
                same(row[["Now", "Planned"]], told(values, change.now.reading, system))
    row = both.to_frame().xs("power_in_hand", level="key").iloc[0]
    change = next(c for pair in both.pairs for c in pair.changes if c.now.key == "power_in_hand")
    assert [row["Change"], row["Change low"], row["Change high"]] == pytest.approx(
        [1e-3 * one for one in (change.change, change.low, change.high)]
    )
    assert row["Unit"] == "kW" and repr(both) == "Comparison(front sprocket: 14 -> 15)"
    fuel = both.to_frame("us").xs("fuel", level="key").iloc[0]
    assert fuel["Change"] == pytest.approx(fuel["Planned"] - fuel["Now"]) and fuel["Change low"] != fuel["Change low"]


def test_a_choice_with_its_verdict_and_frame(bike):
    found = rs.choose(bike, front=range(13, 16), rear=range(40, 44), tunes=["stock", "rejetted"])
    frame = found.to_frame()
    assert len(frame) == 3 * 4 * 2 and frame.columns.is_unique
    for (_, row), one in zip(frame.iterrows(), found.choice.candidates, strict=True):
        assert (row["Front"], row["Rear"], row["Tune"]) == (one.front, one.rear, one.tune)
        assert row["Top speed [km/h]"] == pytest.approx(3.6 * one.figures["top_speed"])
        assert row["Meets every limit"] == one.meets_limits
    assert str(found) == str(found.verdict) and str(found.verdict).endswith(".")


def test_a_choice_goes_by_the_bike_that_is_given_and_by_limits(bike):
    stock = rs.choose(
        bike.with_changes(tune="stock", rear_tire="120/90-17", front_tire="3.00-21"), front=[14], rear=[43]
    )
    assert stock.to_frame()[["Tune", "Rear tire"]].values.tolist() == [["stock", "120/90-17"]]
    assert stock.choice.crossing.bikes.own.front_tire.marking.written == "3.00-21"
    strict = rs.choose(bike, front=[14], rear=[43], cruise_engine_speed_most="2000 rev/min")
    assert "2,000 rev/min" in strict.to_frame().loc[0, "Misses"]
    with pytest.raises(InputError, match="is not a key"):
        rs.choose(bike, revs_most="2000 rev/min")


def test_one_pair_may_be_named_alone_and_an_empty_list_is_refused(bike):
    one = rs.choose(bike, front=14, rear=np.array([43]), tunes="stock", rear_tires="120/90-17").to_frame()
    assert one[["Front", "Rear", "Tune", "Rear tire"]].values.tolist() == [[14, 43, "stock", "120/90-17"]]
    assert bike.with_changes(front=one.loc[0, "Front"] + 1, rear=one.loc[0, "Rear"]).front_teeth == 15
    for where in ("front", "rear", "rear_tires", "tunes"):
        with pytest.raises(InputError, match=f"{where}: names none"):
            rs.choose(bike, **{where: []})


@pytest.mark.parametrize("ask", [*QUESTIONS, "choose"])
def test_what_is_no_conditions_is_refused(bike, ask):
    with pytest.raises(InputError, match="is not conditions"):
        getattr(rs, ask)(bike, {"cruise": "90 km/h"})


def test_reprs_are_short(bike):
    both = rs.compare(bike, bike.with_changes(front=15))
    found = rs.choose(bike, front=[14], rear=[43])
    for one in (bike, ROAD, both, found, found.verdict):
        assert len(repr(one)) < 100 and "\n" not in repr(one)
    for question in QUESTIONS:
        answer = getattr(rs, question)(bike)
        assert len(repr(answer)) < 200 and all(len(repr(figure)) < 250 for figure in figures_of(answer))


def test_a_bike_of_any_name_has_a_short_repr(tmp_path):
    path = tmp_path / "long.toml"
    path.write_text(TEXT.replace('name = "', 'name = "' + "x" * 90), encoding="utf-8")
    assert len(repr(rs.read(path))) < 120


@pytest.mark.parametrize("name", rs.__all__)
def test_every_name_is_there_and_says_what_it_is(name):
    found = getattr(rs, name)
    assert (pydoc.getdoc(found) or "")[:1].isalnum() and name in dir(rs)


def test_help_is_readable():
    text = pydoc.plain(pydoc.render_doc(rs))
    assert all(name in text for name in rs.__all__) and "TYPE_CHECKING" not in text


@pytest.mark.parametrize("page", ["README.md", "DEVELOPERS.md"])
def test_the_examples_of_the_pages_run_as_they_stand(page):
    blocks = re.findall(
        r"```python\n(import ridesim as rs\n.*?)```", (DATA.parent / page).read_text(encoding="utf-8"), re.S
    )
    assert len(blocks) == 1
    exec(compile(blocks[0], page, "exec"), {})


def test_no_other_name_is_there():
    with pytest.raises(AttributeError, match="no attribute 'cruise'"):
        rs.cruise  # noqa: B018 - that it raises is what is asked


HEAVY = ("numpy", "pandas", "scipy", "plotly", "pint", "pydantic", "dash", "rich", "typer")


def test_importing_loads_nothing_heavy_and_an_answer_only_what_it_needs():
    told = python(
        "import sys, ridesim as rs\n"
        f"heavy = {HEAVY}\n"
        "print([name for name in heavy if name in sys.modules])\n"
        "rs.InputError; print([name for name in heavy if name in sys.modules])\n"
        "rs.cruising(rs.demo('coast-single')); print([n for n in ('pandas', 'plotly', 'dash', 'rich') if n in sys.modules])\n"
        "rs.speeds(rs.demo('coast-single')).to_frame(); print('pandas' in sys.modules, 'plotly' in sys.modules)\n"
    )
    assert told == ["[]", "[]", "[]", "True False"]
