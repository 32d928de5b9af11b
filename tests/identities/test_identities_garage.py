"""Properties of the garage: what goes in comes out, and no advice goes past its limits."""

from __future__ import annotations

import json
import tempfile
import tomllib
from dataclasses import replace
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from ridesim.garage import Garage
from ridesim.garage.advice import propose_next
from ridesim.garage.changes import ABSENT, changes_between, difference, values_of
from ridesim.garage.richness import Margin, Obtainable, Stock, air_richness, jet_richness, trend
from ridesim.garage.trials import OPENINGS, SAYS, RangeVerdict, Settings, Trial, TrialAir, Verdicts

pytestmark = pytest.mark.identities

ANY_TEXT = st.text(st.characters(exclude_categories=("Cs",), exclude_characters="\0"), max_size=60)
NAMES = st.text(st.characters(exclude_categories=("C", "Z")), min_size=1, max_size=40)
FIGURES = st.floats(allow_nan=False, allow_infinity=False, min_value=-1e12, max_value=1e12)
TOML_VALUES = st.recursive(
    st.one_of(st.integers(-(2**62), 2**62), st.booleans(), st.floats(allow_nan=False, allow_infinity=False)),
    lambda inner: st.lists(inner, max_size=3),
    max_leaves=5,
)


def toml_text(table):
    return "".join(f"{quoted(key)} = {json.dumps(value)}\n" for key, value in table.items())


def quoted(text):
    """A TOML basic string: JSON's escapes, and DEL, which TOML wants escaped as well."""
    return json.dumps(text, ensure_ascii=False).replace("\x7f", "\\u007f")


AIRS = st.builds(
    TrialAir,
    altitude_m=st.floats(-300, 4500),
    temperature_k=st.floats(250, 315),
    humidity=st.floats(0, 1),
    pressure_pa=st.none() | st.floats(60e3, 106e3),
)


def maybe(values):
    return st.none() | values


JET = maybe(st.floats(5, 1000))
NUMBERING = st.sampled_from(["bore", "flow"])
SETTINGS = st.builds(
    Settings,
    main_jet=JET, main_jet_numbering=NUMBERING, pilot_jet=JET, pilot_jet_numbering=NUMBERING, needle=maybe(NAMES),
    clip_position=maybe(st.integers(1, 12)), mixture_screw_turns_out=maybe(st.floats(0, 20)),
    mixture_screw=maybe(st.sampled_from(["fuel", "air"])), slide_cutaway=maybe(st.floats(0, 20)),
    intake_open_area_m2=maybe(st.floats(0, 0.1)), intake_holes_m=maybe(st.lists(st.floats(0.0005, 0.2), max_size=4).map(tuple)),
    exhaust=maybe(NAMES), other=st.dictionaries(NAMES, ANY_TEXT | FIGURES, max_size=3),
)  # fmt: skip
VERDICTS = st.builds(
    Verdicts, **{opening: st.builds(RangeVerdict, says=st.sampled_from(SAYS), remark=ANY_TEXT) for opening in OPENINGS}
)
TRIALS = st.builds(
    Trial,
    ridden_at=st.datetimes().map(lambda time: time.isoformat() + "Z"),
    air=AIRS,
    settings=SETTINGS,
    verdicts=VERDICTS,
    note=ANY_TEXT,
    put_back=ANY_TEXT,
)


@pytest.fixture(scope="module")
def pair(tmp_path_factory):
    folder = tmp_path_factory.mktemp("garages")
    with Garage.open(folder / "one") as one, Garage.open(folder / "other") as other:
        yield one, other


@given(
    name=NAMES,
    value=ANY_TEXT,
    note=ANY_TEXT,
    comment=NAMES,
    trials=st.lists(TRIALS, max_size=2),
    content=st.binary(min_size=1),
)
def test_everything_comes_out_of_the_garage_and_of_a_carried_file_as_it_went_in(
    pair, name, value, note, comment, trials, content
):
    one, other = pair
    text = f"remark = {quoted(value)} # {comment}\r\n"
    saved = one.save(name, text, note=note)
    log = one.add_log(name, comment, content, "raw", note=value)
    kept = [one.add_trial(name, trial) for trial in trials]
    assert one.newest(name).text == text and tomllib.loads(text)["remark"] == value
    assert one.newest(name).note == note
    with tempfile.TemporaryDirectory() as folder:
        came = other.import_(one.export(name, Path(folder) / "bike.json"))
        again = other.import_(one.export(name, Path(folder) / "again.json"))
    assert (again.revisions, again.trials, again.logs) == (0, 0, 0)
    for garage, bike in ((one, name), (other, came.bike)):
        assert replace(garage.revision(saved.id), bike=name) == saved
        trials_there = {one.id: one for one in garage.trials(bike)}  # in the order ridden
        assert [trials_there[one.id] for one in kept] == kept
        assert garage.log_content(log.id) == content
        assert replace(garage.logs(bike)[-1], bike=name) == log


@given(old=st.dictionaries(ANY_TEXT, TOML_VALUES, max_size=4), new=st.dictionaries(ANY_TEXT, TOML_VALUES, max_size=4))
def test_a_difference_turns_the_old_build_into_the_new_and_backwards_is_its_mirror(old, new):
    there, back = difference(toml_text(old), toml_text(new)), difference(toml_text(new), toml_text(old))
    assert {(c.path, repr(c.old), repr(c.new)) for c in there.changes} == {
        (c.path, repr(c.new), repr(c.old)) for c in back.changes
    }
    if old.keys() != new.keys():
        assert any(change.old is ABSENT or change.new is ABSENT for change in there.changes)
    assert not difference(toml_text(old), toml_text(old)).changes


BIKES = st.builds(
    Settings,
    main_jet=st.sampled_from([116, 118.5, 120, 121.5, 124]), pilot_jet=st.sampled_from([38, 40, 42]), needle=st.just("D4"),
    clip_position=st.integers(1, 5), mixture_screw_turns_out=st.integers(2, 12).map(lambda n: n / 4),
    mixture_screw=st.sampled_from(["fuel", "air"]), slide_cutaway=st.sampled_from([2.0, 2.5, 3.0]),
)  # fmt: skip
RIDDEN = st.builds(Trial, ridden_at=st.just("2031-05-04T09:30:00Z"), air=AIRS, settings=BIKES, verdicts=VERDICTS)
SIZES = Obtainable(main_jets=(116, 118.5, 120, 121.5, 124), pilot_jets=(38, 40, 42), slide_cutaways=(2.0, 2.5, 3.0))


@given(
    trials=st.lists(RIDDEN, min_size=1, max_size=4),
    stock=st.builds(Stock, settings=BIKES),
    air=AIRS,
    margin=st.builds(Margin, richness=st.floats(0, 0.1), grooves=st.integers(0, 2), turns=st.floats(0, 2)),
)
def test_a_proposal_changes_one_thing_one_step_and_never_leans_past_the_margin(trials, stock, air, margin):
    found = propose_next(trials, stock, air=air, sizes_obtainable=SIZES, margin=margin)
    now = trials[-1].settings
    if found.kind != "change":
        assert found.settings == now
        return
    (change,), unknown = changes_between(now, found.settings)
    assert (change.thing, unknown) == (found.thing, ())
    for jet, sizes in (("main jet", SIZES.main_jets), ("pilot jet", SIZES.pilot_jets)):
        if jet == found.thing:
            before, after = (sizes.index(values_of(one, jet)[0]) for one in (now, found.settings))
            assert abs(before - after) == 1
            if after < before:
                richness = jet_richness(jet, found.settings, stock.settings) * air_richness(air, stock.air)
                assert richness >= 1 - margin.richness - 1e-12
    if found.thing == "needle clip" and found.settings.clip_position < now.clip_position:
        assert stock.settings.clip_position - found.settings.clip_position <= margin.grooves
    if found.thing == "mixture screw":
        assert abs(found.settings.mixture_screw_turns_out - now.mixture_screw_turns_out) == 0.25


@given(trial=RIDDEN, settings_of_stock=BIKES, air=AIRS)
def test_richness_against_stock_is_a_ratio(trial, settings_of_stock, air):
    """Against itself in its own air it is 1, and two steps multiply."""
    own = trend([trial], Stock(settings=trial.settings, air=trial.air)).tables[0].rows[0]
    assert own["main_richness"] == pytest.approx(1.0, rel=1e-12)
    middle = Stock(settings=settings_of_stock, air=air)
    end = Stock(settings=BIKE)
    first = trend([trial], middle).tables[0].rows[0]["main_richness"]
    second = trend([replace(trial, settings=middle.settings, air=middle.air)], end).tables[0].rows[0]["main_richness"]
    assert trend([trial], end).tables[0].rows[0]["main_richness"] == pytest.approx(first * second, rel=1e-9)


BIKE = Settings(main_jet=120)
