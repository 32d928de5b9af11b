"""The form in which a trial is written down: its fields, filled in from the trial before or from what is proposed."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import UTC, datetime
from typing import Any

from dash import html

from dashboard.forms import form, link_fields
from dashboard.queries.trials import settings_texts
from dashboard.url_state import State
from ridesim.garage.trials import OPENINGS, SAYS, Settings
from ridesim.statements import BothWays, in_units

LABELS = {
    "main_jet": ("Main jet", "as stamped"),
    "main_jet_numbering": ("numbered by", ""),
    "pilot_jet": ("Pilot jet", "as stamped"),
    "pilot_jet_numbering": ("numbered by", ""),
    "needle": ("Needle", "its marking"),
    "clip_position": ("Clip in groove", "1 is the top groove"),
    "mixture_screw_turns_out": ("Mixture screw, turns out", "from gently seated"),
    "mixture_screw": ("Kind of screw", ""),
    "slide_cutaway": ("Slide cutaway", "its number"),
    "intake_open_area": ("Intake opening in all", "such as " + BothWays("1900 mm^2", "3 in^2")),
    "intake_holes": ("Holes drilled and open", BothWays("2 of 25 mm", "2 of 1 in") + ", or none"),
    "exhaust": ("Exhaust", "in your words"),
}
CHOICES = {
    "main_jet_numbering": {"bore": "Bore", "flow": "Flow"},
    "pilot_jet_numbering": {"bore": "Bore", "flow": "Flow"},
    "mixture_screw": {"fuel": "Fuel screw", "air": "Air screw"},
}
AIR = ("altitude", "temperature", "humidity", "pressure")
REST = {
    "fuel_used": ("Fuel used", "such as " + BothWays("5.2 l", "1.4 gal") + "; with the distance"),
    "distance": ("Distance it took", "such as " + BothWays("113 km", "70 mi")),
}


def name(field: str) -> dict[str, str]:
    """The name of one field of the form."""
    return {"kind": "trial", "field": field}


def place(where: str) -> str:
    """The field that an error of the library belongs to.

    >>> place("settings.intake_holes[0]"), place("air.altitude"), place("trial.ridden_at")
    ('intake_holes', 'altitude', 'ridden_at')
    """
    return where.partition("[")[0].rpartition(".")[2]


def _text(field: str, label: str, hint: str = "", value: str = "") -> Any:
    return form.text_field(name(field), label, value, hint, debounce=False)


def _choice(field: str, label: str, options: Mapping[str, str], value: str | None, **more: Any) -> Any:
    return form.choice_field(name(field), label, options, value or None, **more)


def layout(state: State, settings: Settings, tunes: Sequence[str]) -> list[Any]:
    """The whole form, filled in."""
    texts = settings_texts(settings, state.units)
    now = datetime.now(UTC).strftime("%Y-%m-%d %H:%M")
    tune = _choice("tune", "Tune of the build it made", {one: one for one in tunes}, None, clearable=True)
    rest = [_text(field, label, in_units(hint, state.units)) for field, (label, hint) in REST.items()]
    says = [part for opening in OPENINGS for part in _verdict(opening)]
    return [
        form.group("The ride", form.grid(_text("ridden_at", "Ridden (UTC)", "2031-05-04 09:30", now), *_air(state))),
        form.group("Everything that is set", form.grid(*(_setting(one, texts[one], state.units) for one in LABELS))),
        form.group("What the engine says", html.Div(says, className="verdict-fields")),
        form.group("What else", form.grid(*rest, tune, _text("note", "Note"))),
    ]


def _air(state: State) -> list[Any]:
    labels = {"altitude": "Altitude", "temperature": "Temperature", "humidity": "Humidity", "pressure": "Air pressure"}
    hints = {"pressure": "at the place, if known"}
    return [_text(one, labels[one], hints.get(one, ""), link_fields.shown(state, f"day-{one}")) for one in AIR]


def _setting(field: str, value: str, system: str) -> Any:
    label, hint = LABELS[field]
    if field in CHOICES:
        kind = label if label != "numbered by" else f"{LABELS[field.removesuffix('_numbering')][0]} {label}"
        return _choice(field, kind, CHOICES[field], value, clearable=field == "mixture_screw")
    return _text(field, label, in_units(hint, system), value)


def _verdict(opening: str) -> tuple[Any, Any]:
    title = OPENINGS[opening].capitalize()
    says = _choice(opening, title, {one: one.capitalize() for one in SAYS}, None, clearable=True)
    return says, _text(f"{opening}_remark", f"How it showed, {OPENINGS[opening]}", "", "")
