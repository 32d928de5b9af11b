"""The doors of `rs.plots`: plotly figures of bikes and answers, the same as the plain ones that a page draws."""

from __future__ import annotations

import pkgutil
from importlib import import_module

import plotly.graph_objects as go
import pytest
from support.commands import python

import ridesim as rs
from ridesim.answers import tire_swap, tune_gain
from ridesim.answers.solved import solved
from ridesim.errors import InputError
from ridesim.plots import charts

ROAD = rs.Conditions(cruise="90 km/h", grade="1 %")
DOORS = ("speeds", "cruise", "pull", "torque", "power", "front_lift", "run", "climb", "chain")
QUESTIONS = {
    "cruise": "cruising",
    "torque": "power",
    "run": "standing_run",
    "climb": "climbing",
}  # where not the door's name


@pytest.fixture(scope="module")
def pair():
    bike = rs.demo("plateau-single")
    return bike, bike.with_changes(front=15, tune="stock", rear_tire="120/90-17")


@pytest.mark.parametrize("system", ["metric", "us"])
@pytest.mark.parametrize("door", DOORS)
def test_a_door_draws_bikes_and_answers_alike_and_as_a_page_does(pair, door, system):
    draw, ask = getattr(rs.plots, door), getattr(rs, QUESTIONS.get(door, door))
    figure = draw(*pair, ROAD, units=system, dark=True)
    told = [ask(bike, ROAD) for bike in pair]
    plain = getattr(charts, door)(*told, units=system, dark=True)
    assert isinstance(figure, go.Figure) and figure == go.Figure(plain) == draw(*told, units=system, dark=True)
    assert len(draw(pair[0]).data) < len(figure.data)  # one set-up takes fewer lines than two


def test_the_lines_are_the_answers_figures_in_their_units(pair):
    answer = rs.pull(pair[0])
    force = next(line for line in rs.plots.pull(answer, units="us").data if line.name == "Now").y
    wanted = [None if one != one else one / 4.4482216152605 for one in answer.series["force_n"][0]]
    assert list(force) == pytest.approx(wanted, rel=1e-4, nan_ok=True)


def test_what_two_bikes_differ_in(pair):
    both = [solved(bike) for bike in pair]
    gained, swap = tune_gain(*both), tire_swap(*both)
    assert rs.plots.gain(*pair) == go.Figure(charts.gain(gained, units="metric", dark=False))
    assert rs.plots.tires(*pair, units="us") == go.Figure(charts.tires(swap, units="us", dark=False))
    assert rs.plots.run(pair[0], over="distance").layout.xaxis.title.text == "Distance [m]"


def test_a_choice_shows_what_is_fitted_and_what_to_order():
    found = rs.choose(rs.demo("coast-single"), front=range(13, 17), rear=range(38, 46))
    figure = rs.plots.choices(found, units="us")
    marked = {trace.name: list(trace.text) for trace in figure.data}
    assert found.verdict.action == "order" and marked["Now"] == ["14/41"]
    assert marked["Planned"] == [f"{found.verdict.candidate.front}/{found.verdict.candidate.rear}"]
    assert sum(len(marked[kind]) for kind in list(marked)[:3]) == 32


@pytest.mark.parametrize(
    ("draw", "where"),
    [
        (lambda bike: rs.plots.pull(bike, units="imperial"), "units"),
        (lambda bike: rs.plots.run(bike, over="gears"), "over"),
        (lambda bike: rs.plots.cruise(rs.tires(bike)), "plots.cruise"),
    ],
)
def test_what_cannot_be_drawn_is_refused(pair, draw, where):
    with pytest.raises(InputError) as found:
        draw(pair[0])
    assert found.value.where == where


def test_no_file_of_the_charts_hides_a_door():
    for info in pkgutil.iter_modules(rs.plots.__path__):
        import_module(f"ridesim.plots.{info.name}")
    assert all(callable(getattr(rs.plots, name)) for name in rs.plots.__all__)


def test_plotly_is_loaded_with_the_first_figure():
    code = (
        "import sys, ridesim as rs\n"
        "rs.plots; print(any(name in sys.modules for name in ('plotly', 'numpy', 'pandas')))\n"
        "from ridesim.plots import charts; print('plotly' in sys.modules)\n"
        "rs.plots.pull(rs.demo('coast-single')); print('plotly' in sys.modules, 'dash' in sys.modules)\n"
    )
    assert python(code) == ["False", "False", "True False"]
