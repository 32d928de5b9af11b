"""The door to the trials of the bike that is open: writing one down, the trend, the next one, the way back to stock."""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import partial
from typing import Any

from dashboard import display, queries
from dashboard.forms.link_fields import number, text
from dashboard.queries.fueling import day_air, sizes, worked_out
from dashboard.url_state import SetUp, State, garage_text, put
from ridesim.answers import Answer
from ridesim.errors import InputError, InputErrors, each
from ridesim.garage.advice import propose_next
from ridesim.garage.changes import changes_between, what_changed, worded
from ridesim.garage.next_trial import next_trial_answer
from ridesim.garage.proposal import Proposal
from ridesim.garage.records import Revision, checked_time
from ridesim.garage.richness import Margin, Obtainable, Stock, trend
from ridesim.garage.trials import OPENINGS, RangeVerdict, Settings, Trial, TrialAir, Verdicts, in_order, ridden_before
from ridesim.garage.undo import back_to_stock
from ridesim.units import quantity

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
AIR = {
    "altitude": ("length", "m"),
    "temperature": ("temperature", "degC"),
    "humidity": ("ratio", "%"),
    "pressure": ("pressure", "hPa"),
}
NUMBERS = ("main_jet", "pilot_jet", "clip_position", "mixture_screw_turns_out", "slide_cutaway")
WORDS = ("main_jet_numbering", "pilot_jet_numbering", "needle", "mixture_screw", "exhaust")
INTAKE = ("intake_open_area_m2", "intake_holes_m")
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
        trials, archived = (in_order(garage.trials(revision.bike, archived=away)) for away in (False, True))
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
        trials = in_order(garage.trials(garage.revision(state.revision).bike))
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


def changed_words(trials: Sequence[Trial], trial: Trial) -> str:
    """What a trial changed against the one it builds on."""
    base = next((one for one in trials if one.id == trial.builds_on), None)
    return "The first." if base is None else what_changed(trial, base).says


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
        before = in_order(garage.trials(revision.bike))
        trial = _trial(form, before, revision)
        garage.add_trial(revision.bike, trial)
    place = [one.id for one in in_order((*before, trial))].index(trial.id)
    return Added(trial=trial, others=max(len(before) - int(form.get("shown") or 0), 0), later=len(before) - place)


def put_away(trial: str) -> None:
    """Put a trial out of sight."""
    with garage_text.opened() as garage:
        garage.archive_trial(trial)


def bring_back(trial: str) -> None:
    """Take a trial out of the archive."""
    with garage_text.opened() as garage:
        garage.bring_back_trial(trial)


class _Form:
    """The texts of a form, read one by one; what is wrong is gathered, so that all of it is told at once."""

    def __init__(self, form: Mapping[str, Any], base: Trial | None) -> None:
        self.form, self.base = form, base
        self.errors: list[InputError] = []

    def text(self, name: str) -> str | None:
        """A text without the spaces about it; None where it is empty."""
        value = self.form.get(name)
        return None if value is None else str(value).strip() or None

    def tried(self, make: Callable[[], Any]) -> Any:
        """What `make` gives, or None and its errors kept."""
        try:
            return make()
        except InputError as error:
            self.errors += each(error)
            return None

    def measured(self, name: str, kind: str, unit: str, *, needed: bool = False) -> float | None:
        """A figure with or without its unit, in SI."""
        held = self.text(name)
        if held is None:
            if needed:
                self.errors.append(InputError(name, None, "is empty", "Fill it in."))
            return None
        found: float | None = self.tried(lambda: float(quantity(held, kind, unit, name)))
        return found

    def as_before(self, name: str) -> bool:
        """Whether a setting stands as the form came with it: rounding for show must not look like a change."""
        return self.base is not None and self.text(name) in {
            settings_texts(self.base.settings, system)[name] or None for system in ("metric", "us")
        }


def settings_texts(settings: Settings, system: str) -> dict[str, str]:
    """Every setting as a rider would type it; empty where it is not written down."""
    plain = {name: getattr(settings, name) for name in (*NUMBERS, *WORDS)}
    told = {
        name: "" if value is None else f"{value:g}" if isinstance(value, float) else str(value)
        for name, value in plain.items()
    }
    area, holes = settings.intake_open_area_m2, settings.intake_holes_m
    told["intake_open_area_m2"] = "" if area is None else display.field_text(area, "small area", system)
    counted = sorted(Counter(holes or ()).items(), reverse=True)
    length = "bore" if system == "metric" else "small length"
    words = ", ".join(f"{n} of {display.field_text(d, length, system)}" for d, n in counted)
    told["intake_holes_m"] = "" if holes is None else words or "none"
    return told


def _trial(form: Mapping[str, Any], before: Sequence[Trial], revision: Revision) -> Trial:
    """The trial of a form that was filled in from the last of the trials before."""
    f = _Form(form, before[-1] if before else None)
    figures = {name: f.measured(name, *how, needed=name != "pressure") for name, how in AIR.items()}
    settings = _settings(f)
    fuel, distance = f.measured("fuel_used_m3", "volume", "l"), f.measured("distance_m", "length", "km")
    if f.errors:
        raise InputErrors(f.errors)
    day = f.tried(
        lambda: TrialAir(
            altitude_m=figures["altitude"],  # type: ignore[arg-type]
            temperature_k=figures["temperature"],  # type: ignore[arg-type]
            humidity=figures["humidity"],  # type: ignore[arg-type]
            pressure_pa=figures["pressure"],
        )
    )
    verdicts = f.tried(lambda: _verdicts(f))
    if f.errors:
        raise InputErrors(f.errors)
    tune = f.text("tune")
    if tune and tune not in queries.build_of("", revision.text).record.tune:
        raise InputError("tune", tune, f"is not in revision {revision.number}", "Save the build that has it first.")
    ridden_at = checked_time(_time(f.text("ridden_at")), "trial.ridden_at")
    base = ridden_before(before, ridden_at)
    return Trial(
        ridden_at=ridden_at,
        air=day,
        settings=settings,
        verdicts=verdicts,
        builds_on=base.id if base else None,
        fuel_used_m3=fuel,
        distance_m=distance,
        tune=tune,
        revision=revision.id if tune else None,
        note=f.text("note") or "",
        put_back=_way_back(settings, base),
    )


def _settings(f: _Form) -> Settings:
    """The settings of a form; one that stands as it came is the very one of the trial before."""
    was = {name: getattr(f.base.settings, name) for name in (*NUMBERS, *WORDS, *INTAKE)} if f.base else {}
    given: dict[str, Any] = {name: f.measured(name, "ratio", "") for name in NUMBERS if not f.as_before(name)}
    given |= {name: f.text(name) for name in WORDS}
    given |= {name: given[name] or "bore" for name in ("main_jet_numbering", "pilot_jet_numbering")}
    if not f.as_before("intake_open_area_m2"):
        given["intake_open_area_m2"] = f.measured("intake_open_area_m2", "area", "mm^2")
    if not f.as_before("intake_holes_m"):
        given["intake_holes_m"] = _holes(f)
    groove = given.get("clip_position")
    if groove is not None and float(groove).is_integer():
        given["clip_position"] = int(groove)
    other = dict(f.base.settings.other) if f.base else {}
    return f.tried(lambda: Settings(**(was | given), other=other)) or Settings()


def _verdicts(f: _Form) -> Verdicts:
    return Verdicts(
        **{o: RangeVerdict(says=f.text(o), remark=f.text(f"{o}_remark") or "") for o in OPENINGS}  # type: ignore[arg-type]
    )


def _diameter(size: str) -> float:
    return float(quantity(size, "length", "mm", "intake_holes_m"))


def _holes(f: _Form) -> tuple[float, ...] | None:
    """Holes as they were typed: "2 of 25 mm, 30 mm", or "none"."""
    held = f.text("intake_holes_m")
    if held is None or held.lower() == "none":
        return None if held is None else ()
    found: list[float] = []
    for piece in held.split(","):
        counted = re.fullmatch(r"\s*(\d{1,2})\s+of\s+(.+)", piece)
        number_of, size = (int(counted[1]), counted[2]) if counted else (1, piece)
        diameter = f.tried(partial(_diameter, size.strip()))
        found += [diameter] * number_of
    return tuple(found)


def _time(typed: str | None) -> str:
    """A time as it was typed, in UTC: the trial's own check says what is wrong with it."""
    held = (typed or "").replace(" ", "T")
    return held if held.endswith("Z") or "+" in held else f"{held}Z"


def _way_back(settings: Settings, base: Trial | None) -> str:
    """How to undo a trial: what was changed, turned round."""
    changes: Iterable[Any] = changes_between(base.settings, settings)[0] if base else ()
    return " ".join(
        f"Put the {one.thing} back from {worded(one.thing, one.after)} to {worded(one.thing, one.before)}."
        for one in changes
    )
