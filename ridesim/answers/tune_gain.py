"""One tune against another: whether it gained, where in the revs, what that is worth on the road, and what could be proved."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import Any

import numpy as np

from ridesim.answers.answer import (
    ROUNDING,
    Answer,
    Figure,
    Figures,
    Moves,
    Sentence,
    Step,
    Table,
    ValueOf,
    changed,
    side_by_side,
    table_of,
)
from ridesim.answers.solved import ORDINALS, US_RUN, Solved
from ridesim.answers.text import band_words, reads_as_nothing, shown
from ridesim.mechanics.setups import Array
from ridesim.statements import Note
from ridesim.uncertainty.tolerances import quadrature
from ridesim.units import MPH_M_S, percent, rpm

LOOKS = 201  # engine speeds that are compared
GAINED, LOST, NOT_PROVED, NO_CHANGE, UNKNOWN = "gained", "lost", "not proved", "no change", "no tolerance stated"
CURVE_ERROR = "tune.curve_error"  # what the cause of a curve's own error begins with


@dataclass(frozen=True, kw_only=True, eq=False)
class _Gain:
    """The change of wheel power at engine speeds the two share, as shares; every tolerance scales it alike at all of them."""

    w: Array  # (N,)
    power: tuple[Array, Array]  # now and planned, (N,) [W]
    moves: Moves  # of the ratio of the two powers, as shares of it

    @property
    def at(self) -> Array:
        return self.power[1] / self.power[0] - 1.0

    @property
    def mean(self) -> float:
        return float(np.mean(self.power[1]) / np.mean(self.power[0]) - 1.0)

    def band(self, value: Any) -> tuple[Any, Any] | tuple[None, None]:
        """Where a change may lie; nothing where no tolerance moves it."""
        if not self.moves:
            return None, None
        down, up = quadrature(self.moves)
        return value + (1.0 + value) * down, value + (1.0 + value) * up

    def figure(self, key: str, label: str, value: float) -> Figure:
        low, high = self.band(value)
        moves = {source: ((1.0 + value) * up, (1.0 + value) * down) for source, (up, down) in self.moves.items()}
        return Figure(key, label, value, "percent", low=low, high=high, better=1, moves=moves)


def smallest_provable(moves: Moves) -> float | None:
    """The smallest gain whose band would not hold zero, from the moves of the ratio of the two: v - (1 + v) d = 0.

    >>> round(smallest_provable({"a": (0.03, -0.03), "b": (0.04, -0.04)}), 6)
    0.052632
    """
    if not moves:
        return None
    down = -quadrature(moves)[0]
    return down / (1.0 - down) if down < 1.0 else None


def judged(
    change: float | None, low: float | None, high: float | None, *, more_is: str, less_is: str, reading: str = "percent"
) -> str:
    """A change in a word: one that reads as nothing is none, and one whose band holds zero is not proved.

    >>> [judged(0.02, low, 0.05, more_is="gained", less_is="lost") for low in (0.01, -0.01, None)]
    ['gained', 'not proved', 'no tolerance stated']
    >>> judged(0.0004, 0.0003, 0.0005, more_is="gained", less_is="lost")  # 0.0 %
    'no change'
    """
    if change is None:
        return "—"
    if reads_as_nothing(shown(change, reading)):
        return NO_CHANGE
    if low is None or high is None:
        return UNKNOWN
    return more_is if low > 0.0 else less_is if high < 0.0 else NOT_PROVED


def tune_gain(now: Solved, planned: Solved) -> Answer:
    """What one tune gained over another: at the wheel by engine speed, and in roll-ons in every gear.

    The change is  P_planned / P_now - 1  at LOOKS engine speeds that both curves have. A tolerance that both share,
    as the efficiency, cancels; the error of each curve does not, unless both name one instrument in measured_with.
    The smallest gain that would be proved is  d / (1 - d),  with d what the tolerances take off the ratio.

    Parameters
    ----------
    now, planned : Solved

    Returns
    -------
    Answer
        A figure "verdict" is "gained", "lost", "not proved" (the band of the mean change holds zero), "no change"
        or "no tolerance stated". series: "engine_speed_rad_s" (N,), "power_now_w", "power_planned_w", "change",
        "change_low", "change_high" (N,) as shares; "force_change_n", "acceleration_change_m_s2" (G, N). Without a
        figure where the curves share no engine speed.

    Examples
    --------
    >>> import ridesim as rs
    >>> from ridesim.answers.solved import solved
    >>> bike = rs.demo("plateau-single")
    >>> found = tune_gain(solved(bike.with_changes(tune="stock")), solved(bike))
    >>> print(found)
    Not proved: tune rejetted gives 2.5 % more wheel power than tune stock on average (−4.3 to 9.5 %); at best 8.0 % at 7,100 rev/min, at worst −1.8 % at 1,900 rev/min; a gain is proved from 7.1 % up; 60 km/h to 100 km/h in fifth takes 0.12 s less (not proved).
    """
    low, high = (
        pick(one.cells.first if pick is max else one.cells.last for one in (now, planned)) for pick in (max, min)
    )
    if low >= high:
        return Answer(
            question="What did the tune gain?",
            say=("The two curves share no engine speed: nothing can be compared.",),
            figures=Figures(),
            notes=("the curves do not overlap",),
        )
    w = np.linspace(low, high, LOOKS)
    forces = tuple(one.rows.at(w[:, None]) for one in (now, planned))
    power = tuple(one.thrust[:, 0] * one.speed[:, 0] for one in forces)
    gain = _Gain(w=w, power=(power[0], power[1]), moves=_ratio_moves(now, planned))
    count = min(now.gear_count, planned.gear_count)
    thrust, engine = (
        getattr(forces[1], name).T[:count] - getattr(forces[0], name).T[:count] for name in ("thrust", "engine")
    )
    roll_ons = _roll_ons(now, planned, count)
    figures = _figures(gain, roll_ons.rows[-1])
    band = gain.band(gain.at)
    return Answer(
        question="What did the tune gain?",
        say=_say(now, planned, figures, roll_ons),
        figures=figures,
        tables=(_by_engine_speed(gain), roll_ons, _left_open(now, planned, gain)),
        series={
            "engine_speed_rad_s": w,
            "power_now_w": power[0],
            "power_planned_w": power[1],
            "change": gain.at,
            "change_low": band[0],
            "change_high": band[1],
            "force_change_n": thrust,
            "acceleration_change_m_s2": engine,
        },
        assumptions=(*now.bike.assumptions, *planned.bike.assumptions),
        steps=_steps(gain),
        notes=(*_notes(now, planned, gain), *now.bike.notes, *planned.bike.notes),
    )


def _ratio_moves(now: Solved, planned: Solved) -> Moves:
    """How far each error moves the ratio of the two powers at the wheel; one that scales both alike leaves it as it is."""
    scales = []
    for solved in (now, planned):
        scale = solved.setups.torque_factor * solved.setups.efficiency
        scales.append(solved.moves(scale / scale[0]) or {})
    ours, theirs = scales
    return {
        source: ((1.0 + up[1]) / (1.0 + up[0]) - 1.0, (1.0 + down[1]) / (1.0 + down[0]) - 1.0)
        for source, *both in side_by_side(ours, theirs)
        for up, down in (tuple(zip(*both, strict=True)),)
    }


def _figures(gain: _Gain, roll_on: Mapping[str, Any]) -> Figures:
    best, worst = int(np.argmax(gain.at)), int(np.argmin(gain.at))
    mean = gain.figure("mean", "Mean change of wheel power", gain.mean)
    verdict = judged(gain.mean, mean.low, mean.high, more_is=GAINED, less_is=LOST)
    return Figures(
        Figure("verdict", "Verdict", verdict, "text"),
        mean,
        Figure("provable", "Smallest gain these tolerances could prove", smallest_provable(gain.moves), "percent"),
        gain.figure("best", "Largest change", float(gain.at[best])),
        Figure("best_at", "Largest change at", float(gain.w[best]), "engine speed"),
        gain.figure("worst", "Smallest change", float(gain.at[worst])),
        Figure("worst_at", "Smallest change at", float(gain.w[worst]), "engine speed"),
        *_roll_on_figures(roll_on),
    )


def _roll_on_figures(row: Mapping[str, Any]) -> Iterator[Figure]:
    """The roll-on of one gear; nothing where it does not happen with both tunes."""
    if row["change"] is not None:
        name = f"Roll-on in {ORDINALS[row['gear'] - 1]}"
        yield Figure("roll_from", f"{name} from", row["from"], "speed")
        yield Figure("roll_to", f"{name} to", row["to"], "speed")
        low, high = row["low"], row["high"]
        yield Figure("roll_on", f"{name} changes by", row["change"], "time", low=low, high=high)


def _say(now: Solved, planned: Solved, figures: Figures, roll_ons: Table) -> Sentence:
    tunes = f"tune {planned.bike.tune}", f"tune {now.bike.tune}"
    verdict, mean = str(figures["verdict"].value), figures["mean"]
    if all(abs(float(figures[end].value or 0.0)) <= ROUNDING for end in ("best", "worst")):
        return (f"No change: {tunes[0]} and {tunes[1]} give the same at the wheel at every engine speed.",)
    said: Sentence = (
        f"{verdict.capitalize()}: {tunes[0]} gives ",
        *(ValueOf("mean", size=True), f" {'more' if float(mean.value or 0.0) >= 0.0 else 'less'} wheel power than "),
        f"{tunes[1]} on average",
    )
    if band_words(mean):  # a share reads alike in every system
        said += (" (", ValueOf("mean", band=True), ")")
    said += ("; at best ", ValueOf("best"), " at ", ValueOf("best_at"), ", at worst ", ValueOf("worst"))
    said += (" at ", ValueOf("worst_at"))
    if verdict == NOT_PROVED and figures["provable"].value is not None:
        said += ("; a gain is proved from ", ValueOf("provable"), " up")
    if "roll_on" in figures:
        longer = "more" if float(figures["roll_on"].value or 0.0) >= 0.0 else "less"
        gear = ORDINALS[roll_ons.rows[-1]["gear"] - 1]
        said += ("; ", ValueOf("roll_from"), " to ", ValueOf("roll_to"), f" in {gear} takes ")
        said += (ValueOf("roll_on", size=True), f" {longer} ({roll_ons.rows[-1]['verdict']})")
    return (*said, ".")


def _by_engine_speed(gain: _Gain) -> Table:
    """The change at round engine speeds and at both ends."""
    first, last = rpm(gain.w[0]), rpm(gain.w[-1])
    step = 500.0 if last - first <= 4500.0 else 1000.0
    inner = np.arange(0.0, last, step)
    w = np.array([first, *inner[(inner > first + 0.25 * step) & (inner < last - 0.25 * step)], last]) / rpm(1.0)
    now, planned = (np.interp(w, gain.w, power) for power in gain.power)
    change = planned / now - 1.0
    low, high = ([None] * w.size if end is None else end for end in gain.band(change))
    ends = zip(change, low, high, strict=True)
    return table_of(
        "Wheel power by engine speed",
        ("engine_speed", "Engine speed", "engine speed", w),
        ("now", "Now", "power", now),
        ("planned", "Planned", "power", planned),
        ("change", "Change", "percent", change),
        ("low", "At least", "percent", low),
        ("high", "At most", "percent", high),
        ("verdict", "Verdict", "text", [judged(*one, more_is=GAINED, less_is=LOST) for one in ends]),
    )


def _roll_ons(now: Solved, planned: Solved, count: int) -> Table:
    """The roll-on in every gear, now and planned: between the stated speeds where both gears turn them, else between their own."""
    start, end = np.array([_own_speeds(now, planned, k) for k in range(count)]).T
    figures = []
    for solved in (now, planned):
        speeds = np.full((2, solved.gear_count), np.nan)  # a gear that the other has not is not asked about
        speeds[:, :count] = start, end
        times = solved.roll_on_s(*speeds)
        figures.append([solved.figure("roll_on", "", "time", times[:, k], -1) for k in range(count)])
    changes = [changed(one, other) for one, other in zip(*figures, strict=True)]
    ends = [(one.change, one.low, one.high) for one in changes]
    # quicker is proved where the upper end of the change is below zero
    provable = [None if high is None or change is None else high - change for change, _, high in ends]
    verdicts = [judged(*one, more_is="slower", less_is="quicker", reading="time") for one in ends]
    return table_of(
        "Roll-on at full throttle in every gear",
        ("gear", "Gear", "gear", range(1, count + 1)),
        ("from", "From", "speed", start),
        ("to", "To", "speed", end),
        ("now", "Now", "time", [one.now.value for one in changes]),
        ("planned", "Planned", "time", [one.planned.value for one in changes]),
        ("change", "Change", "time", [change for change, *_ in ends]),
        ("low", "At least", "time", [low for _, low, _ in ends]),
        ("high", "At most", "time", [high for *_, high in ends]),
        ("provable", "Could prove", "time", provable),
        ("verdict", "Verdict", "text", verdicts),
    )


def _own_speeds(now: Solved, planned: Solved, k: int) -> tuple[float, float]:
    """Between which speeds a gear is rolled on: as the ride says, else over the middle of what both turn, to whole 5 km/h or mph. [m/s]"""
    turns = [
        (one.cells.first * meters, one.cells.last * meters)
        for one in (now, planned)
        for meters in (float(one.bike.setups.meters_per_radian[0, k]),)
    ]
    low, high = max(first for first, _ in turns), min(last for _, last in turns)
    stated = now.ride.roll_on_m_s
    if low <= stated[0] and stated[1] <= high:
        return stated
    grid, wide = 5.0 * (MPH_M_S if stated == US_RUN["roll_on_m_s"] else 1.0 / 3.6), high - low
    start, end = np.ceil((low + 0.15 * wide) / grid) * grid, np.floor((low + 0.85 * wide) / grid) * grid
    return (float(start), float(end)) if start < end else (low, high)


def _left_open(now: Solved, planned: Solved, gain: _Gain) -> Table:
    """The tolerances by how much each alone leaves open of the change, the widest first."""
    paths = {one.bike.source(tolerance): tolerance.path for one in (now, planned) for tolerance in one.bike.tolerances}
    width = {source: max(abs(up), abs(down)) for source, (up, down) in gain.moves.items()}
    widest = sorted((source for source in width if width[source] > ROUNDING), key=lambda source: -width[source])
    return table_of(
        "What leaves the change of wheel power open",
        ("path", "Tolerance", "text", [paths[source] for source in widest]),
        ("moves", "Moves it by", "percent", [width[source] for source in widest]),
    )


def _steps(gain: _Gain) -> tuple[Step, ...]:
    best = int(np.argmax(gain.at))
    steps = [
        Step(
            "change = P_wheel,planned / P_wheel,now - 1",
            f"at {rpm(gain.w[best]):.0f} rev/min: {gain.power[1][best]:.0f} W / {gain.power[0][best]:.0f} W - 1",
            f"{percent(gain.at[best]):+.1f} %",
        )
    ]
    provable = smallest_provable(gain.moves)
    if provable is not None:
        down = -quadrature(gain.moves)[0]
        steps.append(
            Step(
                "smallest gain that would be proved = d / (1 - d), d what the tolerances take off the ratio",
                f"{down:.4f} / (1 - {down:.4f})",
                f"{percent(provable):.1f} %",
            )
        )
    return tuple(steps)


def _notes(now: Solved, planned: Solved, gain: _Gain) -> Iterator[str]:
    """Where in the revs it is proved, what would prove more, and what else than the tune the two differ in."""
    for start, end, word in _proved(gain):
        yield Note("tune", f"from {rpm(start):,.0f} to {rpm(end):,.0f} rev/min: {word}")
    rest = {source: pair for source, pair in gain.moves.items() if source.cause[0] != CURVE_ERROR}
    apart = [source for source in gain.moves if source.cause[0] == CURVE_ERROR and any(gain.moves[source])]
    if len(apart) > 1:
        could = smallest_provable(rest) or 0.0
        yield Note(
            "tune",
            "the two curves have an error each: measured with one instrument on one day, and named so in measured_with of both, "
            f"they share it, and a gain from {percent(could):.1f} % up is proved",
        )
    if not gain.moves:
        yield Note(
            "tune", "no tolerance is stated: give each curve its curve_error, such as 4 %, to know what is proved"
        )
    a, b = now.bike, planned.bike
    if (a.drive, a.rear_tire.marking) != (b.drive, b.rear_tire.marking):
        yield Note("tune", "sprockets or rear tire differ too: wheel power does not know of it, the roll-ons do")


def _proved(gain: _Gain) -> Iterator[tuple[float, float, str]]:
    """The stretches of engine speed over which a gain, or a loss, is proved."""
    low, high = gain.band(gain.at)
    if low is None or high is None:
        return
    words = np.where(low > ROUNDING, GAINED, np.where(high < -ROUNDING, LOST, ""))
    starts = np.flatnonzero(np.append(True, words[1:] != words[:-1]))
    for start, end in zip(starts, np.append(starts[1:], words.size) - 1, strict=True):
        if words[start] and end > start:
            yield float(gain.w[start]), float(gain.w[end]), str(words[start])
