"""The build file: what is read, what is refused and how, and what is written back."""

from __future__ import annotations

import copy
import json
import os
import stat

import jsonschema
import pytest
import tomlkit
from hypothesis import given
from hypothesis import strategies as st

from ridesim import reference
from ridesim.bike import make_bike
from ridesim.buildfile import values as value_types
from ridesim.buildfile.curve_file import CurveSheet
from ridesim.buildfile.io import json_schema, parse, read, with_tune
from ridesim.environment.power_correction import AS_MEASURED, STANDARDS
from ridesim.errors import InputError, each

DEMOS = sorted((reference.DATA / "demo").glob("*.toml"))
TEXT = (reference.DATA / "demo" / "coast-single.toml").read_text(encoding="utf-8")
MINIMAL = """
name = "smallest"
masses = {bike = 150, rider = 80}
gearbox = {primary = 2.2, gears = [2.5, 1.8, 1.4, 1.1, 0.95]}
final_drive = {front = 14, rear = 41}
tires = {rear = {size = "130/80-17"}}
tune = {stock = {points = [[3000, 30], [5000, 35], [7500, 25]]}}
"""


def problems(text: str) -> list[InputError]:
    with pytest.raises(InputError) as caught:
        make_bike(parse(text))
    return list(each(caught.value))


@pytest.mark.parametrize("path", DEMOS, ids=lambda p: p.stem)
def test_a_demo_build_is_plainly_invented_and_reads(path):
    build = read(path)
    assert "invented" in build.name
    assert make_bike(build).assumptions


def test_a_minimal_file_works_and_every_default_is_told():
    bike = make_bike(parse(MINIMAL))
    told = "\n".join(bike.assumptions)
    for key in ("chassis.wheelbase", "inertia.crank", "gearbox.efficiency", "road_load.drag_area", "tune.standard", "tires.front",
                "air.temperature"):  # fmt: skip
        assert key in told
    assert bike.rev_limit_rad_s == pytest.approx(785.398, rel=1e-5)


@pytest.mark.parametrize(
    "slips",
    [
        {"masses.bike": ('"172 +- 2 kg"', '"88 km"'), "chassis.wheelbse": ("wheelbase", "wheelbse"),
         "engine.rev_limit": ("rev_limit = 7200", "rev_limit = nan"), "gearbox.gears[2]": ("[29, 17]", "[29, 9]")},
        {"tires.rear.size": ("120/90-17 M/C 64S", "banana"), "final_drive.chain": ('"520"', '"999"'),
         "tune.stock.standard": ('"SAE J1349"', '"sae j1349"'), "active.tune": ('tune = "stock"', 'tune = "stok"'),
         "speedometer.calibrated_rear_tire": ('sensor = "front wheel"', 'calibrated_rear_tire = "x"'),
         "engine.cylinder": ("[engine]", "[engine]\ncylinder = 1"),
         "limits.rear_tires[2]": ("[limits] ", '[limits]\nrear_tires = ["130/90-17", "y"]\n')},
    ],
    ids=["of the record", "of its parts"],
)  # fmt: skip
def test_everything_wrong_is_told_at_once(slips):
    bad = TEXT
    for old, new in slips.values():
        assert old in bad
        bad = bad.replace(old, new, 1)
    found = {error.where: error for error in problems(bad)}
    assert set(found) == set(slips) and all(error.fix for error in found.values())
    mends = {"chassis.wheelbse": "wheelbase", "tune.stock.standard": "'SAE J1349'", "engine.cylinder": "'cylinders'"}
    assert all(mend in found[where].fix for where, mend in mends.items() if where in slips)


@pytest.mark.parametrize(
    ("old", "new", "where", "says"),
    [
        ("rear = 41", "rear = 900", "final_drive.rear", ""),
        ("front = 14", "front = -3", "final_drive.front", ""),
        ("front = 14", "front = true", "final_drive.front", ""),
        ('"1418 mm"', '"5 m"', "chassis.wheelbase", ""),
        ('"1418 mm"', "nan", "chassis.wheelbase", ""),
        ("rev_limit = 7200", "rev_limit = 1700", "engine.rev_limit", ""),
        ("[2600, 31.2]", "[1800, 31.2]", "tune.stock.points[2]", ""),
        ("[2600, 31.2]", "[2600, -1]", "tune.stock.points[2]", ""),
        ("[2600, 31.2]", "[2600]", "tune.stock.points[2]", ""),
        ("[26, 20], [23, 22]", "[23, 22], [26, 20]", "gearbox.gears[4]", ""),
        ("friction = 0.95", 'friction = "slippery"', "surface.friction", ""),
        ('"70 %"', '"155 %"', "air.humidity", ""),
        ('["-12 mm", "26 mm"]', '["12 mm", "26 mm"]', "final_drive.axle_travel", ""),
        ('name = "Coast single (invented)"', "name = 5", "name", ""),
        ('points_are = "N*m"', 'points_are = "kg"', "tune.stock.points_are", ""),
        ('"0.66 +- 0.06 m^2"', '"0.66 +- x m^2"', "road_load.drag_area", ""),
        ('bike_cg_ahead_of_rear_axle = "0.672 +- 0.010 m"', 'bike_cg_ahead_of_rear_axle = "1.9 m"\nx = 1', "chassis.x", ""),
        ("front = 14", 'front = "15"', "final_drive.front", "is not a whole number"),
        ("cylinders = 1", "cylinders = 0", "engine.cylinders", "must be at least 1."),
        ("[[31, 12], [29, 17], [26, 20], [23, 22], [20, 23]]", "[]", "gearbox.gears", "1 or more"),
        ("[[31, 12], [29, 17], [26, 20], [23, 22], [20, 23]]", "3", "gearbox.gears", "is not a list"),
        ("[70, 29]", '"70/29"', "gearbox.primary", "Write [driven, driving] teeth"),
        ("[70, 29]", '"2.5 deg"', "gearbox.primary", "Write [driven, driving] teeth"),
        ('["3.9 +- 0.2 l/100km", "80 km/h"]', '["3.9 +- 0.2 l/100km"]', "fuel.known_consumption", '"90 km/h"]'),
        ('drag_area = "0.66 +- 0.06 m^2"\nrolling_resistance = "0.019 +- 0.003"', 'coast_down = ["95 N"]', "road_load.coast_down", "3 values"),
        ("[limits] ", "[limits]\nkeep_chain = 1\n", "limits.keep_chain", "Write true or false"),
        ("[limits] ", '[limits]\nwithin_axle_travel = "yes"\n', "limits.within_axle_travel", "Write true or false"),
        ("[masses]", "[[masses]]", "masses", "is not a table"),
        ("points = ", "points_ = ", "tune.stock.points", "such as points = [[3000, 30], [5000, 35]]"),
        ("[1800, 27.6]", "[0.5, 27.6]", "tune.stock.points[1]", "1 to 30000"),
        ("0.66 +- 0.06 m^2", "0.66 +- 60 m^2", "road_load.drag_area", "tolerance wider than all there is"),
        ("[70, 29]", '"2.41 +- 0.1"', "gearbox.primary", "has a tolerance"),
        ("[1800, 27.6]", '[1800, "28 +- 2 N*m"]', "tune.stock.points[1]", "curve_error"),
        ("172 +- 2 kg", "172 kg +- 900 %", "masses.bike", "tolerance wider than all there is"),
        ('"0.672 +- 0.010 m"', '"1.99 m"', "chassis", "outside the wheelbase"),
        ('standard = "SAE J1349"', 'standard = "as measured"', "tune.stock.standard", "needs the air"),
        ("rolling_resis", 'coast_down = ["90 N", 0, "0.4 N/(m/s)^2"]\nrolling_resis', "road_load", "in more than one way"),
        ("[limits] ", '[limits]\ntunes = ["stock", "stok"]\n', "limits.tunes[2]", "'stock'"),
    ],
)  # fmt: skip
def test_what_is_wrong_and_the_mend_are_told_by_the_path_in_the_riders_words(old, new, where, says):
    assert old in TEXT
    told = {error.where: str(error) for error in problems(TEXT.replace(old, new, 1))}
    assert says in told[where]
    assert not any(word in text for text in told.values() for word in ("valid ", "Tuple", "instance of", "array("))


def test_the_standards_of_a_file_are_those_that_have_an_equation():
    assert (*STANDARDS, AS_MEASURED) == value_types.STANDARDS


def test_a_missing_table_is_told_with_what_belongs_in_it():
    told = [str(error) for error in problems("")]
    assert told[0] == 'name: is missing. Add it, such as name = "my single".'
    assert "masses: is missing. Add the table [masses] with bike and rider in it." in told
    assert "final_drive: is missing. Add the table [final_drive] with front and rear in it." in told
    assert "tune: is missing. Add the table [tune.NAME] with points in it." in told


def test_comments_survive_a_change_and_only_the_change_is_written():
    changed = parse(TEXT).changed({"final_drive.front": 16, "ride.cruise": "88 km/h"})
    before, after = TEXT.splitlines(), changed.text.splitlines()
    assert sum(a != b for a, b in zip(before, after, strict=True)) == 2
    assert "# chalk mark, rider seated, three turns" in changed.text
    assert changed.record.final_drive.front == 16


def test_a_change_ends_its_lines_as_the_file_does():
    windows = parse(TEXT.replace("\n", "\r\n"))
    sheet = CurveSheet(points=((3000.0, 30.0), (5000.0, 35.0)), unit="N*m")
    for changed in (
        windows.changed({"ride.cruise": "88 km/h", "fuel.density": 0.74}),
        with_tune(windows, "new", sheet),
    ):
        assert changed.text.count("\n") == changed.text.count("\r\n") > TEXT.count("\n")


def test_a_save_is_whole_or_not_at_all(tmp_path, monkeypatch):
    target = tmp_path / "bike.toml"
    target.write_text("old", encoding="utf-8")

    def broken(*_):
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(os, "replace", broken)
    with pytest.raises(InputError, match="No space left"):
        parse(TEXT).save(target, replace=True)
    assert target.read_text(encoding="utf-8") == "old"
    assert {p.name for p in tmp_path.iterdir()} == {"bike.toml", ".bike.toml.lock"}


def test_a_save_keeps_permissions_and_links(tmp_path):
    target, link = tmp_path / "bike.toml", tmp_path / "link.toml"
    target.write_text("old", encoding="utf-8")
    target.chmod(0o640)
    link.symlink_to(target)
    parse(TEXT).save(link, replace=True)
    assert link.is_symlink() and target.read_text(encoding="utf-8") == TEXT
    assert stat.S_IMODE(target.stat().st_mode) == 0o640
    (tmp_path / "other.txt").touch()
    parse(TEXT).save(tmp_path / "new.toml")
    assert (tmp_path / "new.toml").stat().st_mode == (tmp_path / "other.txt").stat().st_mode


def test_a_save_never_takes_the_place_of_what_is_no_plain_file(tmp_path, monkeypatch):
    os.mkfifo(tmp_path / "pipe")
    for target in (tmp_path, tmp_path / "pipe"):
        before = target.stat()
        with pytest.raises(InputError, match="is not a plain file"):
            parse(TEXT).save(target)
        assert (target.stat().st_ino, target.stat().st_mode) == (before.st_ino, before.st_mode)
    kept = tmp_path / "kept.toml"
    kept.write_text("old", encoding="utf-8")
    monkeypatch.setattr(os, "access", lambda *_, **__: False)
    with pytest.raises(InputError, match="write protection"):
        parse(TEXT).save(kept, replace=True)
    assert kept.read_text(encoding="utf-8") == "old" and len(list(tmp_path.iterdir())) == 2


def test_the_schema_admits_every_demo_and_refuses_a_slip():
    schema = json_schema()
    for path in DEMOS:
        jsonschema.validate(json.loads(json.dumps(tomlkit.parse(path.read_text(encoding="utf-8")).unwrap())), schema)
    with pytest.raises(jsonschema.ValidationError):
        jsonschema.validate({"name": "x"}, schema)


@pytest.mark.parametrize(
    ("name", "says"),
    [("", "folder"), ("none.toml", "cannot be read"), ("a\0b", "cannot be read"), ("huge.toml", "larger than 1 MB")],
)
def test_what_is_no_file_of_a_build_is_refused(tmp_path, name, says):
    with (tmp_path / "huge.toml").open("wb") as file:
        file.truncate(50_000_000)
    with pytest.raises(InputError, match=says):
        read(tmp_path / name)


WRITTEN = tomlkit.parse(TEXT).unwrap()
values = st.recursive(
    st.none() | st.booleans() | st.integers() | st.floats() | st.text(max_size=20),
    lambda inner: st.lists(inner, max_size=3),
    max_leaves=5,
)


@given(data=st.data())
def test_any_value_in_any_place_is_read_or_refused(data):
    document = copy.deepcopy(WRITTEN)
    section = data.draw(st.sampled_from(sorted(k for k in document if isinstance(document[k], dict))))
    key = data.draw(st.sampled_from(sorted(document[section])))
    value = data.draw(values.filter(lambda v: v is not None))
    document[section][key] = value
    try:
        text = tomlkit.dumps(document)
    except Exception:  # tomlkit itself does not write every list
        return
    try:
        make_bike(parse(text))
    except InputError as error:
        assert str(error)
