"""ridesim: gearing, performance and tuning figures for the rider who does their own wrenching.

    import ridesim as rs

    bike = rs.read("my-bike.toml")            # or rs.demo("plateau-single"); rs.demos() names the invented builds
    new = bike.with_changes(front=15)         # rear, rear_tire, front_tire, tune, luggage
    road = rs.Conditions(cruise="105 km/h")   # grade, headwind
    answer = rs.cruising(new, road)

The questions are speeds, cruising, pull, front_lift, climbing, standing_run, chain, tires and power: each takes a bike and
perhaps conditions, and gives an Answer; `altitude` asks what is left higher up. `print(answer)` says it in one sentence;
`answer.figures["power_in_hand"].value`, `.low` and `.high` are in SI; `answer.to_frame(units="metric")` is a pandas frame.
`compare` sets two bikes side by side, `choose` goes through every sprocket pair, `fit` joins what was measured and `measure_next` says
what to measure, and `plots` draws. What a rider can mend is an InputError.

Nothing is loaded before it is used, so that importing this costs next to nothing.
"""

from __future__ import annotations

from importlib import import_module
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from ridesim import plots
    from ridesim.answers.solved import Conditions
    from ridesim.errors import InputError, InputErrors
    from ridesim.public import (
        altitude,
        chain,
        choose,
        climbing,
        compare,
        cruising,
        demo,
        demos,
        fit,
        front_lift,
        measure_next,
        power,
        pull,
        read,
        speeds,
        standing_run,
        tire_swap,
        tires,
    )

__all__ = [
    "Conditions",
    "InputError",
    "InputErrors",
    "altitude",
    "chain",
    "choose",
    "climbing",
    "compare",
    "cruising",
    "demo",
    "demos",
    "fit",
    "front_lift",
    "measure_next",
    "plots",
    "power",
    "pull",
    "read",
    "speeds",
    "standing_run",
    "tire_swap",
    "tires",
]
_ELSEWHERE = {
    "Conditions": "ridesim.answers.solved",
    "InputError": "ridesim.errors",
    "InputErrors": "ridesim.errors",
}


def __getattr__(name: str) -> Any:
    if name not in __all__:
        raise AttributeError(f"module 'ridesim' has no attribute {name!r}")
    if name == "plots":
        return import_module("ridesim.plots")
    found = getattr(import_module(_ELSEWHERE.get(name, "ridesim.public")), name)
    globals()[name] = found
    return found


def __dir__() -> list[str]:
    return sorted({*globals(), *__all__})
