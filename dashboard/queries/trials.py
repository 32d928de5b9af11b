"""The door to the trials of the bike that is open: writing one down, the trend, the next one, the way back to stock."""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any

from dashboard import display, queries
from dashboard.forms.link_fields import number, text
from dashboard.queries.fueling import day_air, sizes, worked_out
from dashboard.url_state import SetUp, State, garage_text, put
from ridesim.answers import Answer
from ridesim.errors import InputError
from ridesim.garage.advice import back_to_stock, propose_next
from ridesim.garage.proposal import Proposal, next_trial_answer
from ridesim.garage.records import Revision
from ridesim.garage.richness import Margin, Obtainable, Stock, trend
from ridesim.garage.trials import OPENINGS, Settings, Trial, in_order, ridden_before
from ridesim.garage.written import FUEL, INTAKE, NUMBERS, WORDS, trial_of
from ridesim.units.table import AIR

ASKED = (
    "day-altitude",
    "day-temperature",
    "day-humidity",
    "day-pressure",
    "main-jets",
    "pilot-jets",
    "cutaways",
    "margin",
)
NO_BIKE = "No bike of the garage is open. Open one on the garage page, or save the build that is open there first."


@dataclass(frozen=True, kw_only=True)
class Notebook:
    """The trials of the open bike in the order ridden, and what follows from them; without a trial there is nothing to follow."""

    bike: str
    revision: Revision
    trials: tuple[Trial, ...]
    archived: tuple[Trial, ...]
    stock_trial: Trial | None
    trend: Answer | None
    proposal: Proposal
    next_trial: Answer
    back: Answer | None


def notebook(state: State) -> Notebook:
    """Everything the page of the trials shows."""
    if state.revision is None:
        raise InputError("bike", None, "is not open from the garage", NO_BIKE)
    with garage_text.opened() as garage:
        revision = garage.revision(state.revision)
        trials, archived = (garage.trials(revision.bike, archived=away) for away in (False, True))
    first = _stock_trial(trials, state)
    stock = Stock(settings=first.settings if first else Settings())
    found = propose_next(trials, stock, air=day_air(state, "day"), sizes_obtainable=had(state), margin=margin(state))
    return Notebook(
        bike=revision.bike,
        revision=revision,
        trials=trials,
        archived=archived,
        stock_trial=first,
        trend=trend(trials, stock) if trials else None,
        proposal=found,
        next_trial=next_trial_answer(found, queries.now(state), worked_out(state, "day").assumptions),
        back=back_to_stock(trials, stock) if trials else None,
    )


def _stock_trial(trials: Sequence[Trial], state: State) -> Trial | None:
    """The trial whose settings are stock: the one chosen, else the first."""
    chosen = text(state, "stock-trial")
    return next((one for one in trials if one.id == chosen), trials[0] if trials else None)


def right_trial(state: State) -> Trial | None:
    """The trial of the open bike whose main jet was right at full throttle, the latest of several; None where none was."""
    if state.revision is None or garage_text.path() is None:
        return None
    with garage_text.opened() as garage:
        trials = garage.trials(garage.revision(state.revision).bike)
    found = [
        one for one in trials if one.settings.main_jet and one.verdicts.at("three_quarters_to_full").says == "right"
    ]
    return found[-1] if found else None


def with_trial(state: State, trial: Trial) -> State:
    """The state with the main jet of a trial and the air of its day in the fields of the jets."""
    day, settings = trial.air, trial.settings
    texts = {
        "jet": f"{settings.main_jet:g}",
        "numbering": settings.main_jet_numbering,
        "set-altitude": display.field_text(day.altitude_m, "distance", "metric"),
        "set-temperature": display.field_text(day.temperature_k, "temperature", "metric"),
        "set-humidity": display.field_text(day.humidity, "percent", "metric"),
        "set-pressure": "" if day.pressure_pa is None else display.field_text(day.pressure_pa, "pressure", "metric"),
    }
    for key, held in texts.items():
        state = put(state, key, held or None)
    rest = [key for key in (state.example or "").split(",") if key and key not in texts]
    return replace(state, example=",".join(rest) or None)


def had(state: State) -> Obtainable:
    """The available sizes."""
    return Obtainable(
        main_jets=sizes(state, "main-jets") or (),
        pilot_jets=sizes(state, "pilot-jets") or (),
        slide_cutaways=sizes(state, "cutaways") or (),
    )


def margin(state: State) -> Margin:
    """How far to the lean side of stock a proposal may go."""
    return Margin(richness=number(state, "margin"))


def checked(state: State) -> None:
    """Refuse what is asked of the next ride where it cannot be used."""
    day_air(state, "day")
    had(state)
    margin(state)


def tune_state(state: State, tune: str, revision: Revision | str) -> State:
    """The whole app with a tune of a kept revision as the planned set-up."""
    text_of = garage_text.kept_text(revision if isinstance(revision, str) else revision.id)
    return State(own=text_of, planned=SetUp(tune=tune), units=state.units, fields=state.fields)


@dataclass(frozen=True, kw_only=True)
class Added:
    """A trial that was kept, how many others were kept meanwhile, and how many were ridden after it."""

    trial: Trial
    others: int
    later: int


def add(state: State, form: Mapping[str, Any]) -> Added:
    """Keep a trial as the form has it; it builds on the one ridden before it.

    `form` holds the text of every field by its name, and under "shown" how many trials the page showed.
    """
    if state.revision is None:
        raise InputError("bike", None, "is not open from the garage", NO_BIKE)
    with garage_text.opened() as garage:
        revision = garage.revision(state.revision)
        before = garage.trials(revision.bike)
        table = _table(form, before[-1] if before else None)
        if table.get("tune"):
            _refuse_unknown(table["tune"], revision)
            table["revision"] = revision.id
        base = ridden_before(before, table["ridden_at"])
        trial = trial_of(table, base, standing=before[-1].settings if before else None, new=True)
        garage.add_trial(revision.bike, trial)
    place = [one.id for one in in_order((*before, trial))].index(trial.id)
    return Added(trial=trial, others=max(len(before) - int(form.get("shown") or 0), 0), later=len(before) - place)


def _refuse_unknown(tune: str, revision: Revision) -> None:
    if tune not in queries.build_of("", revision.text).record.tune:
        raise InputError("tune", tune, f"is not in revision {revision.number}", "Save the build that has it first.")


def set_archived(trial: str, *, away: bool) -> None:
    """Put a trial out of sight, or take it out of the archive."""
    with garage_text.opened() as garage:
        (garage.archive_row if away else garage.bring_back_row)("trial", trial)


def settings_texts(settings: Settings, system: str) -> dict[str, str]:
    """Every setting as a rider would type it; empty where it is not written down."""
    plain = {name: getattr(settings, name) for name in (*NUMBERS, *WORDS)}
    told = {
        name: "" if value is None else f"{value:g}" if isinstance(value, float) else str(value)
        for name, value in plain.items()
    }
    area, holes = settings.intake_open_area_m2, settings.intake_holes_m
    told["intake_open_area"] = "" if area is None else display.field_text(area, "small area", system)
    counted = sorted(Counter(holes or ()).items(), reverse=True)
    length = "bore" if system == "metric" else "small length"
    words = ", ".join(f"{n} of {display.field_text(d, length, system)}" for d, n in counted)
    told["intake_holes"] = "" if holes is None else words or "none"
    return told


def _table(form: Mapping[str, Any], latest: Trial | None) -> dict[str, Any]:
    """What was typed, as a file of trials would have it; a setting that stands as it came is left out, since what is rounded for
    show must not look like a change."""
    typed = {name: str(value).strip() for name, value in form.items() if value is not None}
    came = [settings_texts(latest.settings, system) for system in ("metric", "us")] if latest else []
    settings: dict[str, Any] = {}
    for name in (*NUMBERS, *WORDS, *INTAKE):
        held = typed.get(name, "")
        if not any(held == one[name] for one in came) and not (held == "" and name.endswith("_numbering")):
            settings[name] = held or None
    verdicts = {o: f"{typed.get(o, '')}: {typed.get(f'{o}_remark', '')}" for o in OPENINGS}
    ridden = typed.get("ridden_at", "").replace(" ", "T")
    return {
        "ridden_at": ridden if ridden.endswith("Z") or "+" in ridden else f"{ridden}Z",
        "air": {key: typed[key] for key in AIR if typed.get(key)},
        "settings": settings,
        "verdicts": verdicts,
        **{key: typed[key] for key in (*FUEL, "tune", "note") if typed.get(key)},
    }
