"""The garage and its trials through the app: what is saved, shown, compared and handed over, and what is kept out."""

from __future__ import annotations

import base64
import json
import re
from pathlib import Path
from typing import Any

import pytest
from support.posted import Posted, outputs_of, texts

from dashboard.app import create_app
from dashboard.pages.carburetor import trials as trials_page
from dashboard.pages.garage import garage as page
from dashboard.pages.garage.garage_files import BIKE, WHOLE
from dashboard.queries import garage as garage_queries
from dashboard.queries import trials
from dashboard.queries.fueling import day_air
from dashboard.url_state import SetUp, State, from_query, garage_text, to_query
from ridesim.buildfile.io import parse
from ridesim.errors import InputError, each
from ridesim.garage import Garage
from ridesim.garage.advice import back_to_stock, propose_next
from ridesim.garage.richness import Margin, Obtainable, Stock
from ridesim.reference import DATA

DEMO = (DATA / "demo" / "coast-single.toml").read_text(encoding="utf-8")
DAY = {"ridden_at": "2031-05-04 09:30", "altitude": "250 m", "temperature": "18 degC", "humidity": "55 %"}
JETS = {"main_jet": "120", "main_jet_numbering": "bore", "pilot_jet": "40", "pilot_jet_numbering": "bore"}
SCREW = {"clip_position": "3", "mixture_screw_turns_out": "2", "mixture_screw": "fuel"}
INTAKE = {"intake_open_area": "1257 mm^2", "intake_holes": "2 of 25 mm"}
SAID = dict.fromkeys(("closed_to_eighth", "eighth_to_quarter", "quarter_to_three_quarters"), "right")
FORM = DAY | JETS | SCREW | INTAKE | SAID | {"three_quarters_to_full": "lean", "note": "as bought"}
SIZES = "?main-jets=115,117.5,120,122.5,125"


@pytest.fixture(scope="module")
def folder(tmp_path_factory: Any) -> Path:
    return tmp_path_factory.mktemp("garage")


@pytest.fixture(scope="module")
def app(folder: Path) -> Any:
    return create_app(garage=folder / "garage.sqlite3")


@pytest.fixture(scope="module")
def posted(app: Any) -> Posted:
    return Posted(app)


@pytest.fixture(autouse=True)
def where(folder: Path) -> Any:
    """The garage of the app, which no test leaves to the next."""
    yield folder / "garage.sqlite3"
    for file in folder.iterdir():
        file.unlink()


@pytest.fixture(scope="module")
def shut() -> Posted:
    return Posted(create_app())


@pytest.fixture
def inside(app: Any) -> Any:
    """Inside the app, as its callbacks are."""
    with app.server.app_context():
        yield


@pytest.fixture
def garage(where: Path) -> Any:
    """The garage of the app, open beside it."""
    with Garage.open(where) as opened:
        yield opened


@pytest.fixture
def first(garage: Any) -> Any:
    return garage.save("Mine", DEMO, note="as bought")


def saved(posted: Posted, query: str, name: str = "Mine", note: str = "") -> dict[str, Any]:
    values = {"garage-save.n_clicks": 1, "garage-name.value": name, "garage-note.value": note, "query.data": query}
    return posted.post("garage-name.error", values=values)["response"]


def shelf_words(posted: Posted, query: str) -> str:
    shown = posted.post("garage-says.children", values={"query.data": query})["response"]
    return " ".join(texts(shown["garage-says"]["children"]))


def told_of(posted: Posted, query: str) -> dict[str, Any]:
    return posted.post("trials-says.children", values={"query.data": query, "theme.data": "light"})["response"]


def link_of(answer: dict[str, Any]) -> str:
    return next(value["data"] for name, value in answer.items() if name.startswith("link"))


class TestTheDoor:
    def test_it_is_open_on_this_machines_address_and_elsewhere_only_when_named(self, where):
        assert garage_text.chosen(None, local=False) is None
        assert garage_text.chosen(None, local=True) == garage_text.default_path()
        assert garage_text.chosen(where, local=False) == where

    def test_a_closed_garage_keeps_everything_closed(self, shut, first):
        assert shut.client.get(WHOLE).status_code == 404
        assert shut.client.get(f"{BIKE}{'0' * 20}").status_code == 404
        assert shut.post("garage-says.children", values={"query.data": ""}) == {}
        assert shut.post("trials-says.children", values={"query.data": "", "theme.data": "light"}) == {}
        assert "is closed" in saved(shut, "")["garage-told"]["children"]
        state, problems = self._from(shut, f"?revision={first.id}")
        assert state.revision is None and "closed" in problems[0].text

    @staticmethod
    def _from(posted: Posted, query: str) -> Any:
        with posted.client.application.app_context():
            return from_query(query)

    def test_the_pages_say_plainly_that_it_is_closed(self, shut):
        with shut.client.application.app_context():
            for one in (page, trials_page):
                laid = json.dumps(one.layout(State()).to_plotly_json(), default=lambda c: c.to_plotly_json())
                assert "The garage is closed" in laid

    def test_nothing_of_it_is_in_the_link_but_ids(self, posted, inside, first):
        state = from_query(f"?revision={first.id}")[0]
        assert state.own == DEMO and state.revision == first.id
        assert to_query(state) == f"?revision={first.id}"
        assert "Mine" not in link_of(saved(posted, to_query(State(now=SetUp(front=16))), name="Other"))

    @pytest.mark.parametrize("bad", ["0" * 20, "x", "../../etc/passwd", "", "0" * 5000])
    def test_an_id_that_is_none_is_told_and_left_out(self, inside, first, bad):
        state, problems = from_query(f"?revision={bad}")
        assert state == State() and [p.key for p in problems] == ["revision"]


class TestBuilds:
    @pytest.mark.parametrize("units", ["metric", "us"])
    def test_saving_keeps_what_is_open_with_what_stands_under_now(self, posted, garage, inside, units):
        answer = saved(posted, to_query(State(now=SetUp(front=16, luggage="20 lb"), units=units)), note="one more")
        assert answer["garage-told"]["children"] == "Saved as revision 1 of Mine."
        kept_now = garage.newest("Mine")
        record = parse(kept_now.text).record
        assert record.final_drive.front == 16 and record.masses.luggage == pytest.approx(9.0718474)
        assert kept_now.note == "one more"
        state = from_query(link_of(answer))[0]
        assert (state.revision, state.now, state.units) == (kept_now.id, SetUp(), units)
        assert "as it was saved" in shelf_words(posted, link_of(answer))

    def test_an_edit_shows_as_one_and_is_saved_on_top(self, posted, garage, inside, first):
        query = to_query(State(own=garage_text.kept_text(first.id), now=SetUp(rear=47)))
        assert "has been edited" in shelf_words(posted, query)
        assert re.search("revision 2 .*Undo does not reach the garage", saved(posted, query)["garage-told"]["children"])
        assert garage.newest("Mine").parent == first.id

    def test_a_whole_edited_text_keeps_its_line_of_descent(self, posted, garage, inside, first):
        text = DEMO.replace("rear = 41", "rear = 43")
        query = to_query(State(own=text, revision=first.id))
        assert "own=" in query and "revision=" in query
        saved(posted, query)
        assert garage.newest("Mine").text == text and garage.newest("Mine").parent == first.id

    def test_another_window_is_told_of_and_nothing_is_lost(self, posted, garage, inside, first):
        other = garage.save("Mine", DEMO.replace("front = 14", "front = 15"), parent=first.id, note="other window")
        query = to_query(State(own=garage_text.kept_text(first.id), now=SetUp(rear=47)))
        words = shelf_words(posted, query)
        assert "other window" in words and "nothing is lost" in words
        assert "another revision was saved: all are kept" in saved(posted, query)["garage-told"]["children"]
        assert [one.id for one in garage.history("Mine")][1:] == [other.id, first.id]
        assert garage.newest("Mine").passed_over == (other.id,)

    @pytest.mark.parametrize(("name", "says"), [("", "empty"), ("Mine", "already")])
    def test_a_name_that_will_not_do_is_told_beside_it(self, posted, garage, first, name, says):
        answer = saved(posted, "", name=name)
        assert says in answer["garage-name"]["error"] and not any(n.startswith("link") for n in answer)
        assert len(garage.bikes()) == 1

    def test_the_difference_is_the_librarys(self, posted, garage, inside, first):
        other = garage.save("Mine", DEMO.replace("front = 14", "front = 16").replace("79 kg", "81 kg"))
        found = garage.diff(first.id, other.id)
        told = posted.post("garage-diff.children", values={"query.data": f"?old={first.id}&new={other.id}"})
        words = " ".join(texts(told["response"]["garage-diff"]["children"]))
        assert "2 values differ between revision 1 and revision 2." in words
        assert all(one["path"] in words and one["new"] in words for one in found.rows())

    def test_the_buttons_of_a_row_restore_put_away_and_bring_back(self, garage, inside, first):
        garage.save("Mine", DEMO.replace("front = 14", "front = 16"))
        link = page.done("restore", first.id, State())["link"]
        newest, bike = garage.newest("Mine"), garage.bikes()[0].id
        assert (newest.number, newest.restores) == (3, first.id) and from_query(link)[0].revision == newest.id
        assert "with all its history" in page.done("archive", bike, State())["told"]
        assert not garage.bikes() and garage.bikes(archived=True)
        page.done("back", bike, State())
        assert garage.bikes()
        with pytest.raises(InputError, match="is not in this garage"):
            page.done("archive", "0" * 20, State())

    def test_nothing_happens_when_the_page_merely_arrives_or_nothing_is_new(self, posted, garage, first):
        values = {"garage-save.n_clicks": None, "garage-name.value": "New", "query.data": ""}
        assert posted.post("garage-name.error", values=values) == {}
        assert "nothing new" in saved(posted, f"?revision={first.id}")["garage-note"]["error"]
        assert garage.history("Mine") == (first,) and len(garage.bikes()) == 1


class TestFiles:
    def uploaded(self, posted: Posted, data: bytes | str, name: Any = "bike.json") -> str:
        contents = data if isinstance(data, str) else "data:application/json;base64," + base64.b64encode(data).decode()
        one = next(d for d in posted.dependencies if [i["id"] for i in d["inputs"]] == ["garage-upload"])
        body = {
            "output": one["output"],
            "outputs": outputs_of(one["output"]),
            "inputs": [{"id": "garage-upload", "property": "contents", "value": contents}],
            "state": [{"id": "garage-upload", "property": "filename", "value": name}],
            "changedPropIds": ["garage-upload.contents"],
        }
        answer = posted.client.post("/_dash-update-component", json=body).json["response"]
        return next(value["children"] for key, value in answer.items() if key.startswith("garage-told"))

    def test_a_bike_goes_out_and_comes_in_whole(self, posted, garage, first, tmp_path):
        bike = garage.bikes()[0]
        handed = posted.client.get(f"{BIKE}{bike.id}")
        assert handed.status_code == 200 and 'filename="Mine.json"' in handed.headers["Content-Disposition"]
        elsewhere = tmp_path / "other.sqlite3"
        other = Posted(create_app(garage=elsewhere))
        assert "Added: Mine, 1 new revisions" in self.uploaded(other, handed.data)
        with Garage.open(elsewhere) as garage:
            assert garage.newest("Mine") == first
        assert "0 new revisions" in self.uploaded(other, handed.data)

    def test_the_backup_is_the_garage(self, posted, first, tmp_path):
        copy = tmp_path / "copy.sqlite3"
        copy.write_bytes(posted.client.get(WHOLE).data)
        with Garage.open(copy) as garage:
            garage.check()
            assert garage.newest("Mine") == first

    @pytest.mark.parametrize(
        ("data", "name"),
        [(b"", "bike.json"), (b"not json", "bike.json"), (b"[" * 100_000, "bike.json"),
         (b'{"format": "a bike of ridesim"}', "bike.json"),
         (b'{"format": "a bike of ridesim", "version": 99}', "bike.json"),
         (b"SQLite format 3\0" + bytes(100), "bike.json"), (b"\xff\xfe\0\0", "bike.json"), (b"{}", "bike.exe"),
         (b"{}", None), (b"x" * (garage_queries.LARGEST_UPLOAD + 1), "bike.json"), ("data:;base64,***", "bike.json"),
         ("nothing", "bike.json"), ("data:,", "../../bike.json")],
        ids=range(13),
    )  # fmt: skip
    def test_a_hostile_upload_is_refused_in_words_and_changes_nothing(self, posted, garage, first, data, name):
        told = self.uploaded(posted, data, name)
        assert told and "Traceback" not in told and len(told) < 20_000
        assert len(data) <= garage_queries.LARGEST_UPLOAD or "larger than 1.4 MB" in told
        assert [one.name for one in garage.bikes()] == ["Mine"] and garage.history("Mine") == (first,)


class TestTrials:
    def kept(self, query: str, **changes: Any) -> Any:
        return trials.add(from_query(query)[0], FORM | changes).trial

    @pytest.mark.parametrize("units", ["metric", "us"])
    def test_the_proposal_is_the_librarys(self, posted, inside, first, units):
        query = f"{SIZES}&revision={first.id}&units={units}"
        trial = self.kept(query)
        state = from_query(query)[0]
        direct = propose_next(
            [trial], Stock(settings=trial.settings), air=day_air(state, "day"),
            sizes_obtainable=Obtainable(main_jets=(115, 117.5, 120, 122.5, 125)), margin=Margin(richness=0.03))  # fmt: skip
        answer = told_of(posted, to_query(state))
        assert direct.says == "Go from main jet 120 to 122.5: it is lean at 3/4 to full throttle."
        assert " ".join(texts(answer["trials-says"]["children"])).startswith(direct.says)
        told = " ".join(texts(answer["trials-next"]["children"]))
        assert all(step in told for step in direct.to_do) and direct.put_back in told

    def test_the_second_trial_and_the_way_back_to_stock(self, posted, garage, inside, first):
        query = f"{SIZES}&revision={first.id}"
        one = self.kept(query)
        two = self.kept(query, main_jet="122.5", three_quarters_to_full="right", note="one up")
        assert two.builds_on == one.id and two.put_back == "set the main jet back to 120"
        answer = told_of(posted, query)
        back = back_to_stock([one, two], Stock(settings=one.settings))
        words = " ".join(texts(answer["trials-back"]["children"]))
        assert str(back) in words and all(row["how"] in words for row in back.tables[0].rows)
        trend = answer["trials-trend-graph"]["figure"]["data"][0]["y"]
        assert trend[1] / trend[0] == pytest.approx((122.5 / 120) ** 2, abs=1e-4)
        assert garage.trials("Mine") == (one, two)

    def test_rounding_for_show_is_no_change(self, inside, first):
        query = f"?revision={first.id}"
        one = self.kept(query)
        for units in ("metric", "us"):
            shown = trials.settings_texts(one.settings, units)
            again = self.kept(query, **shown)
            assert again.settings == one.settings

    @pytest.mark.parametrize(
        ("typed", "field"),
        [({"altitude": ""}, "air.altitude"), ({"ridden_at": "yesterday"}, "trial.ridden_at"),
         ({"intake_holes": "2 of many"}, "settings.intake_holes"), ({"fuel_used": "5 l"}, "fuel_used"),
         ({"three_quarters_to_full": "odd"}, "verdicts.three_quarters_to_full"), ({"tune": "none such"}, "tune"),
         ({"main_jet": "many", "humidity": "130 %", "pilot_jet": "0x1"},
          "settings.main_jet air.humidity settings.pilot_jet")],
    )  # fmt: skip
    def test_what_cannot_be_meant_is_told_at_its_field_and_nothing_is_kept(self, garage, inside, first, typed, field):
        with pytest.raises(InputError) as caught:
            self.kept(f"?revision={first.id}", **typed)
        assert set(field.split()) <= {one.where.partition("[")[0] for one in each(caught.value)}
        assert garage.trials("Mine") == ()

    def test_a_trial_kept_meanwhile_is_told_of(self, inside, first):
        state = from_query(f"?revision={first.id}")[0]
        assert trials.add(state, FORM | {"shown": 0}).others == 0
        assert trials.add(state, FORM | {"shown": 0}).others == 1

    def test_a_ride_of_last_week_takes_its_place_among_the_trials(self, posted, inside, first):
        """The latest is the one that was ridden last, as the command line has it, and not the one that was typed last."""
        state = from_query(f"{SIZES}&revision={first.id}")[0]
        now = trials.add(state, FORM | {"ridden_at": "2031-05-10 10:00", "main_jet": "122.5"})
        late = trials.add(state, FORM | {"ridden_at": "2031-05-03 10:00", "main_jet": "120"})
        between = trials.add(state, FORM | {"ridden_at": "2031-05-04 10:00", "main_jet": "117.5"})
        assert (now.later, late.later, between.later) == (0, 1, 1)
        assert late.trial.builds_on is None and between.trial.builds_on == late.trial.id
        assert between.trial.put_back == "set the main jet back to 120"
        book = trials.notebook(state)
        assert book.trials == (late.trial, between.trial, now.trial) and book.proposal.settings.main_jet == 125
        assert book.stock_trial == late.trial

    def test_without_a_bike_of_the_garage_the_page_says_where_to_go(self, posted):
        answer = told_of(posted, "")
        assert "Open one on the garage page" in " ".join(texts(answer["trials-says"]["children"]))

    def test_a_tune_goes_back_to_its_trial_and_is_planned_everywhere(self, posted, garage, inside):
        text = (DATA / "demo" / "plateau-single.toml").read_text(encoding="utf-8")
        revision = garage.save("Mine", text)
        query = f"?revision={revision.id}"
        self.kept(query)
        self.kept(query, main_jet="122.5", tune="rejetted")
        laid = json.dumps(told_of(posted, query)["trials-tunes"]["children"]).replace("\\u0026", "&")
        assert "trial 2" in laid and f"/power?revision={revision.id}&planned-tune=rejetted#engine" in laid
        state = trials.tune_state(from_query(query)[0], "rejetted", revision)
        assert from_query(to_query(state))[0].planned == SetUp(tune="rejetted")

    def test_air_taken_from_an_altitude_is_told_as_assumed(self, inside, first):
        book = trials.notebook(from_query(f"?revision={first.id}&day-altitude=1800+m")[0])
        assert any(one.startswith("air.temperature assumed 3 °C") for one in book.next_trial.assumptions)

    def test_put_away_and_back(self, garage, inside, first):
        one = self.kept(f"?revision={first.id}")
        trials.set_archived(one.id, away=True)
        book = trials.notebook(from_query(f"?revision={first.id}")[0])
        assert book.trials == () and book.archived == (one,)
        trials.set_archived(one.id, away=False)
        assert garage.trials("Mine") == (one,)

    def test_the_form_comes_filled_in_from_what_is_proposed(self, posted, inside, first):
        query = f"{SIZES}&revision={first.id}"
        self.kept(query)
        for clicks, wanted in ((None, "120"), (1, "122.5")):
            values = {"query.data": query, "trials-take.n_clicks": clicks, "trials-formed.data": None}
            answer = posted.post("trials-form.children", values=values)["response"]
            laid = json.dumps(answer["trials-form"]["children"])
            assert f'"value": "{wanted}"' in laid
