"""Pull from the road: what reaches the rear wheel, and whether a change did anything."""

from __future__ import annotations

from typing import Any

from dash import Dash, Input, Output, State

from dashboard import ask_log, bench_cards, cards, ids, log_cards, log_open
from dashboard.ask_log import Asked
from dashboard.display import axis
from dashboard.figures.lines import Mark
from dashboard.figures.log import Banded, banded
from dashboard.pages.page import INPUTS, Page, View, drawn, pressed, view
from dashboard.state import State as Looked
from ridesim.roadtest import Compared, Pulled

KEY = "road-pull"
SIDES = {"before": "Before the change, or the only one", "after": "After the change"}
DEMOS = {"before": "Open the invented pulls before re-jetting", "after": "Open those after it"}
OWN = ("ways", *log_cards.AIR)
SHARED = ("gear", "standard", "from-speed", "to-speed")
STANDARDS = ("SAE J1349", "ISO 1585", "DIN 70020", "as measured")
ALL = (*SHARED, *(f"{which}-{name}" for which in SIDES for name in log_cards.names(OWN)))
HEADS = (("Change", "ride"), ("Before", "now"), ("After", "might"))
POWER = "Power at the wheel by engine speed, each curve in its 5 to 95 % band."
GAIN = "The difference in a band that holds for all engine speeds at once: where it keeps off zero, the change is real."
NO_GAIN = "Open a second log, from after a change, and the difference is drawn here."


def layout(state: Looked) -> Any:
    return bench_cards.frame(
        KEY,
        "What reaches the rear wheel?",
        "Full throttle in one gear from low to high revs, out and back, with the phone logging: power at the wheel comes out. "
        "With a second log from after a change, what the change did.",
        log_cards.fault(KEY),
        log_cards.card(
            "How it was ridden",
            log_cards.field(KEY, "gear", value=3),
            log_cards.field(KEY, "standard", value=STANDARDS[0], options=STANDARDS),
            log_cards.field(KEY, "from-speed"),
            log_cards.field(KEY, "to-speed"),
        ),
        *(log_cards.section(KEY, title, DEMOS[which], which=which, fields=OWN) for which, title in SIDES.items()),
        log_cards.result(KEY, cards.chart(KEY, "power", tall=True), cards.chart(KEY, "gain")),
        log_cards.take(KEY, "Put the later curve into the build", log_cards.field(KEY, "name", value="re-jetted")),
    )


def _power(curves: list[Pulled], v: View) -> Any:
    x, y = axis("Engine speed", "engine speed", v.system), axis("Power at the wheel", "power", v.system)
    looks = (("now", "Before"), ("might", "After")) if len(curves) > 1 else (("now", "Your log"),)
    drawn_curves = []
    for curve, (role, legend) in zip(curves, looks, strict=True):
        s = curve.answer.series
        speed, power, low, high = x(s["engine_speed_rad_s"]), y(s["power_w"]), y(s["low_w"]), y(s["high_w"])
        drawn_curves.append(Banded(x=speed, y=power, low=low, high=high, role=role, legend=legend))
    return banded(drawn_curves, x_title=x.title, y_title=y.title, dark=v.dark)


def _gain(found: Compared, v: View) -> Any:
    x, y = axis("Engine speed", "engine speed", v.system), axis("After less before", "power", v.system)
    s = found.answer.series
    speed, change, low, high = x(s["engine_speed_rad_s"]), y(s["change_w"]), y(s["low_w"]), y(s["high_w"])
    curve = Banded(x=speed, y=change, low=low, high=high, role="might", legend="Difference")
    zero = Mark(axis="y", at=0.0, text="no change")
    return banded([curve], x_title=x.title, y_title=y.title, dark=v.dark, marks=[zero], from_zero="")


def _tables(answers: Any, v: View) -> list[Any]:
    return [cards.plain_table(t.columns, t.rows, v.system, t.title) for answer in answers for t in answer.tables]


def side(
    v: View, data: Any, fields: dict[str, Any], shared: dict[str, Any], which: str
) -> tuple[Asked, dict[str, Any]]:
    """The curve of one of the two logs, and what its section shows."""
    log, error = ask_log.kept_log(data)
    if log is None:
        return Asked(errors={"": error} if error else {}), {"chart": log_cards.cleared("No log is open."), "named": ""}
    asked = ask_log.pull(v.state, log, fields, shared, which)
    answer = None if asked.found is None else asked.found.answer
    chart = log_cards.drawn_log(log, answer, fields, v)
    return asked, {"chart": chart, "named": ask_log.log_words(log, v.system)}


def shown(v: View, data: dict[str, Any], fields: dict[str, dict[str, Any]], shared: dict[str, Any]) -> dict[str, Any]:
    """Everything the page shows of one log or two and their fields."""
    sides = {which: side(v, data[which], fields[which], shared, which) for which in SIDES}
    asked = [one for one, _ in sides.values()]
    curves = [one.found for one in asked if one.found is not None]
    change = ask_log.change(*curves) if len(curves) == len(SIDES) else None
    if change is not None:
        asked.append(change)
    errors, stray = log_cards.errors(asked, ALL)
    broken = any(one.errors for one in asked)
    chosen = {name: text for one in asked for name, text in one.chosen.items()}
    return _answered(v, curves, None if change is None else change.found, broken=broken) | {
        "before-log": sides["before"][1]["chart"],
        "after-log": sides["after"][1]["chart"],
        "named": [sides[which][1]["named"] for which in SIDES],
        "chosen": [chosen.get(name, "") for name in log_cards.SPEEDS],
        "errors": errors,
        "fault": stray,
    }


def _answered(v: View, curves: list[Pulled], found: Compared | None, *, broken: bool) -> dict[str, Any]:
    """The answer in words and charts; the last good one stays while a field is in error."""
    if broken:
        stay = log_cards.no_chart()
        return {"common": cards.kept(*cards.COMMON), "power": stay, "gain": stay, "dim": "stack dim"}
    if not curves:
        empty = log_cards.cleared("No log is open.")
        return {"common": log_cards.nothing(), "power": empty, "gain": empty, "dim": "stack"}
    answers = [found.answer, *(c.answer for c in curves)] if found is not None else [curves[-1].answer]
    return {
        "common": log_cards.common(answers, v.system, HEADS if found is not None else ()),
        "power": drawn(_power(curves, v), POWER, _tables([c.answer for c in curves], v)),
        "gain": log_cards.cleared(NO_GAIN)
        if found is None
        else drawn(_gain(found, v), GAIN, _tables([found.answer], v)),
        "dim": "stack",
    }


def later(
    state: Looked, data: dict[str, Any], fields: dict[str, dict[str, Any]], shared: dict[str, Any]
) -> dict[str, Any]:
    """The later curve into the build."""
    which = "after" if data["after"] else "before"
    return log_cards.taken(
        data[which],
        lambda log: ask_log.pull(state, log, fields[which], shared, which),
        lambda found: ask_log.take_tune(state, shared["name"], found),
    )


def register(app: Dash) -> None:
    for which in SIDES:
        log_open.register(app, KEY, which, which=which)
    per_side = {which: log_cards.inputs(KEY, log_cards.names(OWN), which) for which in SIDES}

    @app.callback(
        output=log_cards.answer_outputs(KEY, ALL)
        | log_cards.chart_outputs(KEY, "before-log", "after-log", "power", "gain")
        | {
            "named": [Output(log_cards.part(KEY, which, "named"), "children") for which in SIDES],
            "chosen": [Output(ids.part(KEY, name), "placeholder") for name in log_cards.SPEEDS],
        },
        inputs={
            **INPUTS,
            "data": {which: Input(log_cards.part(KEY, which, "kept"), "data") for which in SIDES},
            "fields": per_side,
            "shared": log_cards.inputs(KEY, SHARED),
        },
    )
    def show(query: str | None, theme: str | None, data: Any, fields: Any, shared: Any) -> dict[str, Any]:
        return shown(view(query, theme), data, fields, shared)

    @app.callback(
        output=log_cards.take_outputs(KEY),
        inputs={
            "clicks": Input(ids.part(KEY, "take"), "n_clicks"),
            "query": State(ids.QUERY, "data"),
            "data": {which: State(log_cards.part(KEY, which, "kept"), "data") for which in SIDES},
            "fields": {which: log_cards.states(KEY, log_cards.names(OWN), which) for which in SIDES},
            "shared": log_cards.states(KEY, (*SHARED, "name")),
        },
        prevent_initial_call=True,
    )
    def take(clicks: int | None, query: str | None, data: Any, fields: Any, shared: Any) -> dict[str, Any]:
        pressed(clicks)
        return later(view(query, "light").state, data, fields, shared)


PAGE = Page(key=KEY, path="/road-pull", name="Pull from the road", layout=layout, register=register)
