"""Two set-ups side by side: every figure of both with its change, and what one tune gained over the other."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

from ridesim.answers.answer import Answer, Column, Figure, Figures, Step, Table, ValueOf
from ridesim.answers.chain import chain
from ridesim.answers.climbing import climbing
from ridesim.answers.cruising import cruising
from ridesim.answers.front_lift import front_lift
from ridesim.answers.front_wheel import front_wheel
from ridesim.answers.power import power
from ridesim.answers.pull import pull
from ridesim.answers.solved import Solved
from ridesim.answers.speeds import speeds
from ridesim.answers.standing_run import standing_run
from ridesim.answers.text import verdict
from ridesim.answers.tires import tire_swap, tires
from ridesim.uncertainty.tolerances import Source, quadrature
from ridesim.units import in_both, percent, rpm

if TYPE_CHECKING:
    from pandas import DataFrame

Moves = Mapping[Source, tuple[float, float]]
ROUNDING = 1e-9  # of a figure: a change below it is none
TWO_BIKES = (
    "the two files are taken for two bikes, whose tolerances have nothing in common; where they are one bike, --same-bike lets "
    "what is written alike in both move both"
)
QUESTIONS: tuple[Callable[[Solved], Answer], ...] = (
    speeds,
    cruising,
    power,
    pull,
    climbing,
    front_lift,
    front_wheel,
    standing_run,
    tires,
    chain,
)


def everything(solved: Solved) -> tuple[Answer, ...]:
    """Every answer of one bike."""
    return tuple(ask(solved) for ask in QUESTIONS)


@dataclass(frozen=True, kw_only=True)
class Change:
    """One figure now and as it might be; change is None where either does not happen or is no number.

    low and high are the band of the change itself: an error that both set-ups share moves both, and mostly cancels. They are
    without end where the tolerances reach to where the thing does not happen, and None where nothing carries a tolerance.
    """

    now: Figure
    might: Figure
    change: float | None
    low: float | None = None
    high: float | None = None

    @property
    def moved(self) -> bool:
        """Whether there is a change at all: more than what is left by rounding."""
        if self.change is None:
            return False
        return abs(self.change) > ROUNDING * max(abs(float(one.value or 0.0)) for one in (self.now, self.might))

    @property
    def certain(self) -> bool | None:
        """Whether the change is larger than what the inputs leave open; None where there is none, or no band."""
        if not self.moved or self.low is None or self.high is None:
            return None
        return self.low > 0.0 or self.high < 0.0

    @property
    def better(self) -> bool | None:
        """Whether the change is for the better, None when it is neither."""
        if not self.moved or self.change is None or self.now.better == 0:
            return None
        return (self.change > 0) == (self.now.better > 0)


@dataclass(frozen=True, kw_only=True)
class Pair:
    """One question answered twice."""

    question: str
    now: Answer
    might: Answer
    changes: tuple[Change, ...]


@dataclass(frozen=True, kw_only=True)
class Comparison:
    """Two set-ups, question by question; before that what other tires do and what another tune gains, where they differ in those."""

    now_name: str
    might_name: str
    differs: tuple[str, ...]
    swaps: tuple[Answer, ...]
    pairs: tuple[Pair, ...]
    assumptions: tuple[str, ...]

    def __repr__(self) -> str:
        return f"Comparison({'; '.join(self.differs) or 'no difference'})"

    def to_frame(self, units: str = "metric") -> DataFrame:
        """Every figure now, planned and its change as a pandas frame: see `ridesim.answers.frames.comparison_frame`."""
        from ridesim.answers.frames import comparison_frame

        return comparison_frame(self, units)


def compare(now: Solved, might: Solved) -> Comparison:
    """Every answer of both, and every figure's change."""
    a, b = now.bike, might.bike
    swaps = []
    if a.rear_tire.marking != b.rear_tire.marking or a.front_tire.marking != b.front_tire.marking:
        swaps.append(tire_swap(now, might))
    if (a.tune, a.record.tune[a.tune].points) != (b.tune, b.record.tune[b.tune].points):
        swaps.append(tune_gain(now, might))
    return Comparison(
        now_name=label(now),
        might_name=label(might),
        differs=differences(now, might),
        swaps=tuple(swaps),
        pairs=tuple(pair(ask, now, might) for ask in QUESTIONS),
        assumptions=() if a.build.bike == b.build.bike else (TWO_BIKES,),
    )


def pair(ask: Callable[[Solved], Answer], now: Solved, might: Solved) -> Pair:
    """One question asked of both."""
    a, b = ask(now), ask(might)
    changes = tuple(changed(figure, b.figures[key]) for key, figure in a.figures.items() if key in b.figures)
    return Pair(question=a.question, now=a, might=b, changes=changes)


def changed(now: Figure, might: Figure) -> Change:
    """The change of one figure, with its band."""
    if not all(isinstance(f.value, int | float) and not isinstance(f.value, bool) for f in (now, might)):
        return Change(now=now, might=might, change=None)
    difference = float(might.value) - float(now.value)  # type: ignore[arg-type]
    if now.moves is None or might.moves is None:
        return Change(now=now, might=might, change=difference, low=-np.inf, high=np.inf)
    moves = {
        source: (theirs[0] - ours[0], theirs[1] - ours[1])
        for source, ours, theirs in _side_by_side(now.moves, might.moves)
    }
    if not moves:
        return Change(now=now, might=might, change=difference)
    down, up = quadrature(moves)
    return Change(now=now, might=might, change=difference, low=difference + down, high=difference + up)


def _side_by_side(now: Moves, might: Moves) -> Iterator[tuple[Source, tuple[float, float], tuple[float, float]]]:
    """Every source of an error with what it does to both; in one order, or sums would differ in their last digit."""
    for source in dict.fromkeys((*now, *might)):
        yield source, now.get(source, (0.0, 0.0)), might.get(source, (0.0, 0.0))


def of_a_gain(figure: Figure) -> Change:
    """A figure that is a change in itself, such as a gain in percent, as the change from nothing."""
    nothing = replace(figure, value=0.0, low=None, high=None, moves={})
    return Change(now=nothing, might=figure, change=figure.value, low=figure.low, high=figure.high)  # type: ignore[arg-type]


def label(solved: Solved) -> str:
    """Name, sprockets, rear tire and tune in one line."""
    b = solved.bike
    return f"{b.name}, {b.front_teeth}/{b.rear_teeth}, {b.rear_tire.marking.written}, {b.tune}"


def differences(now: Solved, might: Solved) -> tuple[str, ...]:
    """What differs between two set-ups, in words."""
    a, b = now.bike, might.bike
    own = (
        ("bike", a.name, b.name),
        ("front sprocket", a.front_teeth, b.front_teeth),
        ("rear sprocket", a.rear_teeth, b.rear_teeth),
        ("rear tire", a.rear_tire.marking.written, b.rear_tire.marking.written),
        ("front tire", a.front_tire.marking.written, b.front_tire.marking.written),
        ("tune", a.tune, b.tune),
        ("all-up mass", in_both("mass", a.setups.mass_kg[0]), in_both("mass", b.setups.mass_kg[0])),
    )
    return tuple(f"{what}: {x} -> {y}" for what, x, y in own if x != y)


def _gain(key: str, label: str, value: float, now: Solved, might: Solved) -> Figure:
    """How far the power at the wheel is up or down, with its band: an error that scales both alike leaves it as it is."""
    scales = []
    for solved in (now, might):
        scale = solved.setups.torque_factor * solved.setups.efficiency
        scales.append(solved.moves(scale / scale[0]) or {})

    def gains(one: float, other: float) -> float:
        return (1.0 + value) * ((1.0 + other) / (1.0 + one) - 1.0)

    moves = {
        source: (gains(ours[0], theirs[0]), gains(ours[1], theirs[1]))
        for source, ours, theirs in _side_by_side(*scales)
    }
    down, up = quadrature(moves)
    return Figure(
        key=key,
        label=label,
        value=value,
        reading="percent",
        low=value + down if moves else None,
        high=value + up if moves else None,
        better=1,
        moves=moves,
    )


def tune_gain(now: Solved, might: Solved) -> Answer:
    """What one tune or set-up gained over another at the wheel, gear by gear.

    series: "engine_speed_rad_s" (N,), "gear" (G,), "force_change_n" (G, N), "acceleration_change_m_s2" (G, N), nan outside either curve;
    "power_now_w", "power_might_w" (N,) at the wheel.
    """
    low = max(now.cells.first, might.cells.first)
    high = min(now.cells.last, might.cells.last)
    count = min(now.gear_count, might.gear_count)
    if low >= high:
        return Answer(
            question="What did the tune gain?",
            say=("The two curves share no engine speed: nothing can be compared.",),
            figures=Figures(),
            notes=("the curves do not overlap",),
        )
    w = np.linspace(low, high, 100)
    force, acceleration, wheel = [], [], []
    for solved in (now, might):
        forces = solved.rows.at(w[:, None])
        force.append(forces.thrust.T[:count])
        acceleration.append(forces.engine.T[:count])
        wheel.append(forces.thrust[:, 0] * forces.speed[:, 0])
    gain = wheel[1] / wheel[0] - 1.0
    best, worst = int(np.argmax(gain)), int(np.argmin(gain))
    mean = float(np.mean(wheel[1]) / np.mean(wheel[0]) - 1.0)
    figures = (
        _gain("mean", "Mean change of wheel power", mean, now, might),
        _gain("best", "Largest change", float(gain[best]), now, might),
        Figure(key="best_at", label="Largest change at", value=float(w[best]), reading="engine speed"),
        _gain("worst", "Smallest change", float(gain[worst]), now, might),
        Figure(key="worst_at", label="Smallest change at", value=float(w[worst]), reading="engine speed"),
    )
    sure = [verdict(of_a_gain(figure)) for figure in figures if figure.better]
    steps = (
        Step(
            formula="change = P_wheel,might / P_wheel,now - 1",
            numbers=f"at {rpm(w[best]):.0f} rev/min: {wheel[1][best]:.0f} W / {wheel[0][best]:.0f} W - 1",
            result=f"{percent(gain[best]):+.1f} %",
        ),
    )
    return Answer(
        question="What did the tune gain?",
        say=(
            *(
                f"Tune {might.bike.tune} against {now.bike.tune}: ",
                ValueOf("mean"),
                f" wheel power on average ({sure[0]})",
            ),
            *(", most at ", ValueOf("best_at"), " (", ValueOf("best"), f", {sure[1]}), least at ", ValueOf("worst_at")),
            *(" (", ValueOf("worst"), f", {sure[2]})."),
        ),
        figures=Figures(*figures),
        tables=(_by_gear(now, might, acceleration),),
        series={
            "engine_speed_rad_s": w,
            "force_change_n": force[1] - force[0],
            "acceleration_change_m_s2": acceleration[1] - acceleration[0],
            "power_now_w": wheel[0],
            "power_might_w": wheel[1],
        },
        assumptions=tuple(dict.fromkeys((*now.bike.assumptions, *might.bike.assumptions))),
        steps=steps,
        notes=tuple(dict.fromkeys((*now.bike.notes, *might.bike.notes))),
    )


def _by_gear(now: Solved, might: Solved, acceleration: Sequence[NDArray[np.float64]]) -> Table:
    """What each gear gains."""
    return Table(
        title="Change at the wheel by gear",
        columns=(
            Column(key="gear", label="Gear", reading="gear"),
            Column(key="force", label="Highest wheel force", reading="force"),
            Column(key="share", label="Of the force", reading="percent"),
            Column(key="sure", label="Verdict on it", reading="text"),
            Column(key="acceleration", label="Best acceleration", reading="acceleration"),
            Column(key="roll_on", label="Roll-on", reading="time"),
            Column(key="roll_on_sure", label="Verdict on it", reading="text"),
        ),
        rows=tuple(_gear_row(now, might, k, acceleration) for k in range(len(acceleration[0]))),
    )


def _gear_row(now: Solved, might: Solved, k: int, acceleration: Sequence[NDArray[np.float64]]) -> dict[str, Any]:
    """What one gear gains."""
    both = (now, might)
    force = changed(*(one.figure("force", "", "force", one.performance.gears.peak_force_n[:, k], 1) for one in both))
    roll_on = changed(*(one.figure("roll_on", "", "time", one.performance.roll_on_s[:, k], -1) for one in both))
    return {
        "gear": k + 1,
        "force": force.change,
        "share": float(might.performance.gears.peak_force_n[0, k] / now.performance.gears.peak_force_n[0, k] - 1.0),
        "sure": verdict(force),
        "acceleration": float(np.max(acceleration[1][k]) - np.max(acceleration[0][k])),
        "roll_on": roll_on.change,
        "roll_on_sure": verdict(roll_on),
    }
