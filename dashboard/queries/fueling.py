"""The door to the bench: what its pages ask of jets, needles, openings and idles, each as an answer in the units shown."""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass, field
from functools import lru_cache
from typing import Any

import numpy as np

from dashboard import queries
from dashboard.forms.link_fields import by_altitude, figure, number, text
from dashboard.url_state import State
from ridesim.answers import Answer, solve
from ridesim.environment.air import Air, air
from ridesim.errors import InputError, placed
from ridesim.fueling import circuits, jets, mixture
from ridesim.fueling.altitude import bike_in
from ridesim.fueling.jet_answers import jet_air_answer, jet_change
from ridesim.garage.trials import TrialAir
from ridesim.units import quantity, rad_s, split_list
from ridesim.units.table import AIR

JET_KEYS = ("jet", "jet-to", "numbering", "jet-step", "jet-sizes")
AIR_KEYS = ("altitude", "temperature", "humidity", "pressure")
SYMPTOM_KEYS = ("opening", "verdict")
_NUMBER = r"\d+(?:\.\d+)?"
_PAIR = re.compile(rf"({_NUMBER})\s*(?:to|-|–)\s*({_NUMBER})")
SHORT = {"pilot": "pilot", "cutaway": "slide", "clip": "clip", "needle": "taper", "main": "main jet"}


@dataclass(frozen=True, kw_only=True)
class BenchAnswer:
    """What a page of the bench shows: its answers, whether the bike in them is invented, and what is drawn, in SI."""

    answers: tuple[Answer, ...]
    invented: bool = False
    drawn: Mapping[str, Any] = field(default_factory=dict)


def sizes(state: State, key: str) -> tuple[float, ...] | None:
    """A list of sizes as it was typed; None where it is empty."""
    held = text(state, key)
    if not held:
        return None
    return tuple(float(quantity(one, "ratio", "", key)) for one in split_list(held))


def day_air(state: State, which: str) -> TrialAir:
    """The air of a place and day; a pressure of the build is left aside where another altitude was given."""
    elsewhere = getattr(state.fields, f"{which}_altitude") and not getattr(state.fields, f"{which}_pressure")
    with placed({f"air.{name}": f"{which}-{key}" for key, (name, *_) in AIR.items()}):
        return TrialAir(
            altitude_m=number(state, f"{which}-altitude"),
            temperature_k=number(state, f"{which}-temperature"),
            humidity=number(state, f"{which}-humidity"),
            pressure_pa=None if elsewhere else figure(state, f"{which}-pressure"),
        )


@lru_cache(maxsize=32)
def jet(state: State) -> BenchAnswer:
    """From one jet to another, and the jet that keeps the mixture in the air to come."""
    numbering: Any = text(state, "numbering")
    size, to = number(state, "jet"), figure(state, "jet-to")
    right, come = (worked_out(state, which) for which in ("set", "go"))
    listed = sizes(state, "jet-sizes")
    step = None if listed else number(state, "jet-step")
    found = jets.jet_for_air(
        size,
        numbering=numbering,
        step=step,
        sizes=listed,
        metering_density_kg_m3=come.metering_density_kg_m3,
        reference_metering_density_kg_m3=right.metering_density_kg_m3,
    )
    own = None if state.own is None else queries.now(state)  # the seconds of an invented bike would be nobody's
    there = None if own is None else solve(bike_in(own.bike, come), own.ride, bands=False)
    change = () if to is None else (jet_change(size, to, numbering=numbering, solved=own),)
    return BenchAnswer(
        answers=(jet_air_answer(found, right, come, solved=there), *change),
        drawn=_jet_curves(found, to or size, numbering),
    )


def worked_out(state: State, which: str) -> Air:
    """The air of a place and day, which says so where its temperature is taken from the altitude."""
    day = day_air(state, which)
    build = None if state.own is None else queries.now(state).bike.record.air.temperature
    own = getattr(state.fields, f"{which}_temperature") or (which != "go" and build)
    assumed = by_altitude(state, which) or not own
    return air(
        altitude_m=day.altitude_m,
        temperature_k=None if assumed else day.temperature_k,
        relative_humidity=day.humidity,
        pressure_pa=day.pressure_pa,
    )


def _jet_curves(found: jets.JetForAir, to: float, numbering: Any) -> dict[str, Any]:
    """The mixture against the size of the jet, in the air it was right in and in the air to come."""
    around = [found.size, found.exact_size, to, *(row["size"] for row in found.rows())]
    size = np.linspace(max(min(around) * 0.97, jets.LEAST_SIZE), min(max(around) * 1.03, jets.MOST_SIZE), 61)
    before = jets.flow_ratio(found.size, size, numbering=numbering)
    return {
        "size": size,
        "before": before,
        "after": before * found.unchanged_richness_ratio,
        "had": [row["size"] for row in found.rows()],
        "had_richness": [row["richness_ratio"] for row in found.rows()],
        "exact": found.exact_size,
    }


@lru_cache(maxsize=32)
def symptom(state: State) -> BenchAnswer:
    """Which part to change for what the engine says at a throttle opening."""
    opening, verdict = number(state, "opening"), text(state, "verdict")
    answer = circuits.circuit_answer(opening, verdict)  # type: ignore[arg-type]  # it refuses others itself
    at = np.linspace(0.0, 1.0, 129)
    keys = {part.name: SHORT[part.key] for part in circuits.parts()}
    meant = None if verdict == "right" else keys[answer.tables[0].rows[0]["name"]]
    bands = dict(zip(keys.values(), circuits.circuit_shares(at), strict=True))
    return BenchAnswer(answers=(answer,), drawn={"opening": at, "bands": bands, "at": opening, "part": meant})


def pair_of(state: State, key: str) -> tuple[float, float]:
    """Two numbers with "to" between them."""
    found = _PAIR.fullmatch(text(state, key))
    if not found:
        raise InputError(key, text(state, key), "is not two numbers", "Write it as 0.60 to 0.65.")
    return float(found[1]), float(found[2])


def readings(written: str) -> list[tuple[str, str]]:
    """The readings of a link, as turns and engine speed.

    >>> readings("0.5:1180 1:1240")
    [('0.5', '1180'), ('1', '1240')]
    """
    pairs = [piece.partition(":") for piece in written.split()]
    return [(turns, speed) for turns, _, speed in pairs]


@lru_cache(maxsize=16)
def idle(state: State) -> BenchAnswer:
    """The best setting of the mixture screw from the readings."""
    pairs = readings(text(state, "readings"))
    turns = [float(quantity(t, "ratio", "", f"readings.turns[{n}]")) for n, (t, _) in enumerate(pairs)]
    speeds = [rad_s(float(quantity(s, "ratio", "", f"readings.engine_speed[{n}]"))) for n, (_, s) in enumerate(pairs)]
    found = mixture.best_mixture_setting(
        turns,
        speeds,
        screw=text(state, "screw"),  # type: ignore[arg-type]  # it refuses others itself
        useful_turns=pair_of(state, "useful"),
    )
    return BenchAnswer(
        answers=(mixture.idle_answer(found),),
        drawn={"found": found, "useful": pair_of(state, "useful")},
    )
