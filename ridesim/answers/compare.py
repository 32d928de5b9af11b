"""Two set-ups side by side: every figure of both with its change, and what one tune gained over the other."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from ridesim.answers.base import Answer, Column, Figure, Step, Table, ValueOf, rows_of
from ridesim.answers.chain import chain
from ridesim.answers.climbing import climbing
from ridesim.answers.cruising import cruising
from ridesim.answers.front_lift import front_lift
from ridesim.answers.power import power
from ridesim.answers.pull import pull
from ridesim.answers.solved import Solved, quadrature
from ridesim.answers.speeds import speeds
from ridesim.answers.standing_run import standing_run
from ridesim.answers.tires import tires
from ridesim.units import in_both, percent, rpm

QUESTIONS: tuple[Callable[[Solved], Answer], ...] = (
    speeds,
    cruising,
    power,
    pull,
    climbing,
    front_lift,
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

    low and high are the band of the change itself: a doubt that both set-ups share moves both, and mostly cancels.
    certain says whether that band leaves out zero; None where there is no band.
    """

    now: Figure
    might: Figure
    change: float | None
    low: float | None = None
    high: float | None = None

    @property
    def certain(self) -> bool | None:
        """Whether the change is larger than what the inputs leave open."""
        if self.low is None or self.high is None:
            return None
        return self.low > 0.0 or self.high < 0.0

    @property
    def better(self) -> bool | None:
        """Whether the change is for the better, None when it is neither."""
        if self.change is None or self.now.better == 0 or abs(self.change) < 1e-12:
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
    """Two set-ups, question by question."""

    now_name: str
    might_name: str
    differs: tuple[str, ...]
    pairs: tuple[Pair, ...]


def compare(now: Solved, might: Solved) -> Comparison:
    """Every answer of both, and every figure's change."""
    return Comparison(
        now_name=label(now),
        might_name=label(might),
        differs=differences(now, might),
        pairs=tuple(pair(ask, now, might) for ask in QUESTIONS),
    )


def pair(ask: Callable[[Solved], Answer], now: Solved, might: Solved) -> Pair:
    """One question asked of both."""
    a, b = ask(now), ask(might)
    theirs = {figure.key: figure for figure in b.figures}
    changes = tuple(changed(figure, theirs[figure.key]) for figure in a.figures if figure.key in theirs)
    return Pair(question=a.question, now=a, might=b, changes=changes)


def changed(now: Figure, might: Figure) -> Change:
    """The change of one figure, with its band."""
    if not all(isinstance(f.value, int | float) and not isinstance(f.value, bool) for f in (now, might)):
        return Change(now=now, might=might, change=None)
    difference = float(might.value) - float(now.value)  # type: ignore[arg-type]
    moves: dict[str, tuple[float, float]] = {}
    for name in dict.fromkeys((*now.moves, *might.moves)):  # in one order, or sums differ in their last digit
        ours, theirs = now.moves.get(name, (0.0, 0.0)), might.moves.get(name, (0.0, 0.0))
        moves[name] = (theirs[0] - ours[0], theirs[1] - ours[1])
    if not moves:
        return Change(now=now, might=might, change=difference)
    down, up = quadrature(moves)
    return Change(now=now, might=might, change=difference, low=difference + down, high=difference + up)


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


def tune_gain(now: Solved, might: Solved) -> Answer:
    """What one tune or set-up gained over another at the wheel, gear by gear.

    series: "engine_speed_rad_s" (N,), "gear" (G,), "force_change_n" (G, N), "acceleration_change_m_s2" (G, N), nan outside either curve;
    "power_now_w", "power_might_w" (N,) at the wheel.
    """
    low = max(now.pieces.first, might.pieces.first)
    high = min(now.pieces.last, might.pieces.last)
    count = min(now.gear_count, might.gear_count)
    if low >= high:
        return Answer(
            question="What did the tune gain?",
            say=("The two curves share no engine speed: nothing can be compared.",),
            figures=(),
            notes=("the curves do not overlap",),
        )
    w = np.linspace(low, high, 100)
    force, acceleration, wheel = [], [], []
    for solved in (now, might):
        wide = np.broadcast_to(w, (1, solved.gear_count, w.size))
        thrust = solved.forces.thrust(wide)[0]
        force.append(thrust[:count])
        acceleration.append(solved.forces.acceleration(wide)[0][:count])
        wheel.append(thrust[0] * solved.forces.speed(wide)[0, 0])
    gain = wheel[1] / wheel[0] - 1.0
    best, worst = int(np.argmax(gain)), int(np.argmin(gain))
    mean = float(np.mean(wheel[1]) / np.mean(wheel[0]) - 1.0)
    figures = (
        Figure(key="mean", label="Mean change of wheel power", value=mean, reading="percent", better=1),
        Figure(key="best", label="Largest change", value=float(gain[best]), reading="percent", better=1),
        Figure(key="best_at", label="Largest change at", value=float(w[best]), reading="engine speed"),
        Figure(key="worst", label="Smallest change", value=float(gain[worst]), reading="percent", better=1),
        Figure(key="worst_at", label="Smallest change at", value=float(w[worst]), reading="engine speed"),
    )
    rows = rows_of(
        {
            "gear": list(range(1, count + 1)),
            "force": list(np.max(force[1], axis=1) - np.max(force[0], axis=1)),
            "share": list(np.max(force[1], axis=1) / np.max(force[0], axis=1) - 1),
            "acceleration": list(np.max(acceleration[1], axis=1) - np.max(acceleration[0], axis=1)),
            "roll_on": list(might.performance.roll_on_s[0, :count] - now.performance.roll_on_s[0, :count]),
        }
    )
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
                " wheel power on average, most at ",
            ),
            *(
                ValueOf("best_at"),
                " (",
                ValueOf("best"),
                "), least at ",
                ValueOf("worst_at"),
                " (",
                ValueOf("worst"),
                ").",
            ),
        ),
        figures=figures,
        tables=(
            Table(
                title="Change at the wheel by gear",
                columns=(
                    Column(key="gear", label="Gear", reading="gear"),
                    Column(key="force", label="Highest wheel force", reading="force"),
                    Column(key="share", label="Of the force", reading="percent"),
                    Column(key="acceleration", label="Best acceleration", reading="acceleration"),
                    Column(key="roll_on", label="Roll-on", reading="time"),
                ),
                rows=rows,
            ),
        ),
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
