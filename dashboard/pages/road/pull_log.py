"""Pull from the road: what reaches the rear wheel, and whether a change did anything."""

from __future__ import annotations

from typing import Any

from dash import Dash, Input, Output, State, html

from dashboard import components, ids
from dashboard.display import axis
from dashboard.forms import log_fields
from dashboard.forms.log_fields import AIR, SPEEDS
from dashboard.pages.page import INPUTS, Section, View, drawn, view
from dashboard.pages.road import log_answer, log_opening, log_section
from dashboard.pages.road.log_answer import Guide
from dashboard.pages.road.log_section import LogCard
from dashboard.queries import logs
from dashboard.queries.logs import LogResult, OpenLogs
from dashboard.url_state import State as Looked
from ridesim.logs.pull import Compared, Pulled
from ridesim.plots.lines import Mark
from ridesim.plots.log import Banded, banded

KEY = "road-pull"
OWN = ("ways", *AIR)
SIDES = {
    s.which: s
    for s in (
        LogCard(
            which="before",
            title="Pulls before the change, or the only ones",
            demo="before",
            demo_words="Open the invented pulls before re-jetting",
            fields=OWN,
            many=True,
        ),
        LogCard(
            which="after",
            title="Pulls after the change",
            demo="after",
            demo_words="Open those after it",
            fields=OWN,
            many=True,
        ),
    )
}
SHARED = ("gear", "standard", "phone", *SPEEDS)
ALL = (*SHARED, *log_section.names(KEY, list(SIDES.values())))
HEADS = (("Change", "ride"), ("Before", "now"), ("After", "planned"))
POWER = "Power at the wheel by engine speed, each curve in the band that holds it nine times in ten."
GAIN = "The difference in a band that holds for all engine speeds at once: where it keeps off zero, the change is real."
GUIDE = Guide(
    record=(
        "Time, speed and positions, five to ten times a second if the phone can: a pull is over in a few seconds.",
        "The same phone in the same place, before and after a change: every receiver smooths the speed in its own way.",
        "Start it before you set off and stop it after you have stopped; a log each is fine: add them in the order ridden.",
        "Write down the temperature and the altitude, or the barometer at the place: power is corrected for the air.",
    ),
    ride=(
        "Engine warm; one middle gear, in which the top of the pull stays within the speed limit; the same one each time.",
        "Roll steadily at low revs for three seconds, snap the throttle fully open, hold it to short of the limiter, snap it shut and roll "
        "out for three seconds, early enough to stop: how sharply the log shows both ends tells what the phone smooths.",
        "The same level stretch out and back, three pulls each way; before and after a change on the same road, in the same clothes.",
    ),
)


def layout(state: Looked) -> Any:
    fields = [log_fields.field(KEY, name, state) for name in SHARED]
    how = components.section("How it was ridden", html.Div(fields, className="grid-fields"))
    gain = html.Div(components.chart(KEY, "gain"), id=ids.part(KEY, "compared"), hidden=True)
    name = log_fields.field(KEY, "name", state)
    return log_answer.frame(
        KEY,
        GUIDE,
        [how, *(log_section.layout(KEY, s, state) for s in SIDES.values()), log_fields.filled(KEY, state)],
        [components.chart(KEY, "power", shape="tall"), gain],
        [log_answer.take_card(KEY, "Put the later curve into the build", name)],
    )


def _power(curves: list[Pulled], v: View) -> Any:
    x, y = axis("Engine speed", "engine speed", v.system), axis("Power at the wheel", "power", v.system)
    looks = (("now", "Before"), ("planned", "After")) if len(curves) > 1 else (("now", "Your log"),)
    drawn_curves = []
    for curve, (role, legend) in zip(curves, looks, strict=True):
        s = curve.answer.series
        speed, power, low, high = x(s["engine_speed_rad_s"]), y(s["power_w"]), y(s["low_w"]), y(s["high_w"])
        drawn_curves.append(Banded(x=speed, y=power, low=low, high=high, role=role, legend=legend))
    return banded(drawn_curves, x_title=x.title, y_title=y.title, dark=v.dark)


def _gain(found: Compared, v: View) -> Any:
    x, y = axis("Engine speed", "engine speed", v.system), axis("After minus before", "power", v.system)
    s = found.answer.series
    speed, change, low, high = x(s["engine_speed_rad_s"]), y(s["change_w"]), y(s["low_w"]), y(s["high_w"])
    curve = Banded(x=speed, y=change, low=low, high=high, role="planned", legend="Difference")
    zero = Mark(axis="y", at=0.0, text="no change")
    return banded([curve], x_title=x.title, y_title=y.title, dark=v.dark, marks=[zero], from_zero="")


def _asked(v: View, held: OpenLogs, fields: dict[str, Any], shared: dict[str, Any], which: str) -> LogResult:
    """The curve of the logs of one side, if there are any."""
    return logs.pull(v.state, held, fields, shared, which) if held.ready else LogResult()


def shown(v: View, data: dict[str, Any], fields: dict[str, dict[str, Any]], shared: dict[str, Any]) -> dict[str, Any]:
    """Everything the page shows of the logs of one side or two and their fields."""
    held = {which: logs.held(data[which]) for which in SIDES}
    asked = {which: _asked(v, held[which], fields[which], shared, which) for which in SIDES}
    told = {
        f"{which}-log": log_section.shown(KEY, s, held[which], _answer(asked[which].found), fields[which], v)
        for which, s in SIDES.items()
    }
    curves = [one.found for one in asked.values() if one.found is not None]
    every = list(asked.values())
    if len(curves) == len(SIDES):
        every.append(logs.change(curves[0], curves[1], shared))
    chosen = {name: text for one in every for name, text in one.chosen.items()}
    told["chosen"] = {name: chosen.get(name, log_fields.hint(KEY, name)) for name in SPEEDS}
    missing = any(one.opened and not one.ready for one in held.values())
    if missing or not any(one.ready for one in held.values()):
        return told | _no_charts() | log_answer.unopened(KEY, ALL, v)
    if any(one.errors for one in every):
        return told | _no_charts() | log_answer.unanswered(every, ALL)
    found = every[-1].found if len(every) > len(SIDES) else None
    return told | _answered(v, curves, found, log_answer.invented(v.state, *held.values()))


def _answer(found: Pulled | None) -> Any:
    return None if found is None else found.answer


def _no_charts() -> dict[str, Any]:
    """The last good charts stay."""
    return {
        "power": components.chart_kept(),
        "gain": components.chart_kept(),
        "compared": components.kept("hidden")["hidden"],
    }


def _answered(v: View, curves: list[Pulled], found: Compared | None, example: str) -> dict[str, Any]:
    """The answer in words and charts; the difference is drawn once there are two sides."""
    answers = [found.answer, *(c.answer for c in curves)] if found is not None else [curves[-1].answer]
    said = log_answer.common(answers, v.system, HEADS if found is not None else ())
    return {
        "power": drawn(_power(curves, v), POWER, components.tables([c.answer for c in curves], v.system)),
        "gain": components.chart_kept()
        if found is None
        else drawn(_gain(found, v), GAIN, components.tables([found.answer], v.system)),
        "compared": found is None,
        **log_answer.answered(said, ALL, example),
    }


def later(
    state: Looked, data: dict[str, Any], fields: dict[str, dict[str, Any]], shared: dict[str, Any]
) -> dict[str, Any]:
    """The later curve into the build."""
    which = "after" if data["after"] else "before"
    return log_answer.taken(
        state,
        logs.held(data[which]),
        lambda of: logs.pull(state, of, fields[which], shared, which),
        lambda found: logs.take_tune(state, shared["name"], found),
    )


def register(app: Dash) -> None:
    for s in SIDES.values():
        log_opening.register(app, KEY, s)
    log_fields.register(app, KEY)

    @app.callback(
        output=log_answer.outputs(KEY, ALL, "power", "gain")
        | {f"{which}-log": log_section.outputs(KEY, which) for which in SIDES}
        | {
            "chosen": {name: Output(ids.part(KEY, name), "placeholder") for name in SPEEDS},
            "compared": Output(ids.part(KEY, "compared"), "hidden"),
        },
        inputs={
            **INPUTS,
            "data": {which: Input(log_fields.part(KEY, which, "kept"), "data") for which in SIDES},
            "fields": {which: log_fields.inputs(KEY, s.names, which) for which, s in SIDES.items()},
            "shared": log_fields.inputs(KEY, SHARED),
        },
    )
    def show(query: str | None, theme: str | None, data: Any, fields: Any, shared: Any) -> dict[str, Any]:
        return shown(view(query, theme), data, fields, shared)

    given = {
        "data": {which: State(log_fields.part(KEY, which, "kept"), "data") for which in SIDES},
        "fields": {which: log_fields.states(KEY, s.names, which) for which, s in SIDES.items()},
        "shared": log_fields.states(KEY, (*SHARED, "name")),
    }
    log_answer.register_take(app, KEY, given, later)


SECTION = Section(
    key=KEY,
    title="Power at the rear wheel",
    lead="Full throttle in one gear from low to high revs, out and back, with the phone logging: the answer is the power at the wheel. "
    "Add logs from after a change to see what it did.",
    layout=layout,
    register=register,
)
