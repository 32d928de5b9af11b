"""The front wheel in motion: the gentlest way of riding that brings it up, by gear, over the ranges of springs, damping and rider."""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import lru_cache
from itertools import product
from typing import Any

import numpy as np
from numpy.typing import NDArray

from ridesim.answers.answer import Answer, Figure, Sentence, Step, Table, ValueOf, plain, table_of
from ridesim.answers.front_wheel.body import (
    FORK,
    SHUTS_S,
    TECHNIQUES,
    THROTTLE,
    Lanes,
    Motion,
    damping_n_s_m,
    drive,
    motion,
)
from ridesim.answers.front_wheel.lift import first_notes, geometry, light_notes
from ridesim.answers.front_wheel.springs import lean_of, spring_assumptions, spring_notes, springs_of
from ridesim.answers.solved import Solved
from ridesim.answers.text import listed
from ridesim.mechanics.setups import Array
from ridesim.statements import BothWays, Note
from ridesim.units import G, either, in_both, rpm

Index = NDArray[np.intp]
NEVER = len(TECHNIQUES)
CODES = (*TECHNIQUES, "no")
SAID = ("on the throttle alone", "off the fork", "with a tug on the bars", "with the clutch", "not at all")
UP_M = 0.02  # less than that above the road no rider calls up
LATER_S = 0.5
STARTS = np.linspace(0.0, 0.9, 7)  # of the curve's engine speeds, where the rider may begin
CAUTIONS = (
    "Wheelies injure and kill: only on closed ground, in full riding gear, nobody near, with an instructor; the law forbids them on many "
    "roads. An estimate: the front may come up with less.",
)
CAUTION: Sentence = ("Wheelies hurt people: closed ground and full gear only. ",)
ASSUMPTIONS = (
    "0.2 to 0.4 of the critical damping (from memory), radius of gyration 0.31 to 0.37 wheelbases",
    "throttle or clutch open in 0.10 to 0.25 s; shut, the engine brakes with a fifth of its highest torque",
    "tug: 40 to 60 % of the rider moves " + BothWays("0.25 m", "10 in") + " back in 0.35 s and stays there",
    "clutch: let in from 30 % of top revs higher, holds 1.5 to 2 times peak torque (from memory)",
    "up: " + BothWays("20 mm", "0.8 in") + " above the road within 0.8 s; no pull of the chain on the swingarm",
)
DRAWN = {"pitch_rad": "pitch_rad", "heave_m": "heave_m", "front_load_n": "front_load_n", "height_m": "clearance_m"}
FACTORS = ("springs", "damping", "rider with grip and pitch inertia")


@dataclass(frozen=True, kw_only=True, eq=False)
class ComesUp:
    """By gear (G,), technique (K,) and case (C,), case 0 in the middle of all ranges, the others at their ends.

    The cases are CASES: where springs, damping and rider (with grip and pitch inertia) stand, from -1 to 1 of their
    ranges.
    """

    gentlest: Index  # (C, G) of CODES
    start_rad_s: Array  # (G, K) the best engine speed to begin from
    height_m: Array  # (C, G, K) half a second after, 0 on the road
    spins: NDArray[np.bool_]  # (G, K) whether the rear tire was asked for more than its grip, in the middle
    ridden: Motion  # case 0, lanes gear by gear of technique by technique
    rider_back_m: Array  # (M, G K) by how much the tug has thrown the rider's center of mass back, as ridden

    @property
    def range(self) -> tuple[Index, Index]:
        """Gentlest and hardest over the cases, (G,): places in CODES, so that less is gentler."""
        return self.gentlest.min(axis=0), self.gentlest.max(axis=0)

    def deciding(self, k: int) -> tuple[str, ...]:
        """Which ranges decide how the front comes up in gear k."""
        ends = self.gentlest[1:, k].reshape(2, 2, 2)
        return tuple(name for axis, name in enumerate(FACTORS) if (ends.take(0, axis) != ends.take(1, axis)).any())


# where in their ranges springs, damping and rider stand: in the middle, then at every end
CASES: Array = np.array([(0.0, 0.0, 0.0), *product((-1.0, 1.0), repeat=3)])


@lru_cache(maxsize=4)  # an answer and its JSON ask for the same
def comes_up(solved: Solved, count: int = len(CASES), gear: int | None = None) -> ComesUp:
    """The gentlest technique of every gear, or of one counted from 0, from the best engine speed, over the cases.

    Seven engine speeds along the curve are tried in the middle of the ranges, and the one that throws the front
    highest is ridden in every case. Up is UP_M above the road within WATCHED_S; a lift ratio of 1 counts for the
    throttle too.

    Parameters
    ----------
    solved : Solved
    count : int
        How many of CASES are ridden; 1 is the middle of all ranges alone.
    gear : int, optional

    Returns
    -------
    ComesUp

    Examples
    --------
    A tug lifts the coast single's front in first; where springs, damping and rider all help, letting it dive on its fork does, and
    where none does, only the clutch:

    >>> import ridesim as rs
    >>> from ridesim.answers.solved import solved
    >>> first = comes_up(solved(rs.demo("coast-single")), gear=0)
    >>> [CODES[int(ways[0])] for ways in (first.gentlest[0], *first.range)], first.deciding(0)
    (['tug', 'off the fork', 'clutch'], ('springs', 'damping', 'rider with grip and pitch inertia'))
    """
    chosen = np.arange(solved.gear_count) if gear is None else np.array([gear])
    gears, ways = chosen.size, NEVER
    gear_of, way = np.repeat(chosen, ways), np.tile(np.arange(ways), gears)
    first, last = solved.cells.first, solved.cells.last
    tried = STARTS.size
    lanes = _lanes(solved, CASES[:1], np.repeat(gear_of, tried), np.repeat(way, tried))
    lanes = replace(lanes, **_started(lanes, solved, np.tile(first + STARTS * (last - first), gears * ways)))
    seen = motion(lanes, drive(lanes)).clearance_m.max(axis=0).reshape(-1, tried)
    best = first + STARTS[seen.argmax(axis=1)] * (last - first)
    lanes = _lanes(solved, CASES[:count], np.tile(gear_of, count), np.tile(way, count))
    lanes = replace(lanes, **_started(lanes, solved, np.tile(best, count)))
    driven = drive(lanes)
    ridden = motion(lanes, driven)
    shape = (count, gears, ways)
    up = ridden.clearance_m.max(axis=0).reshape(shape) >= UP_M
    up[:, :, THROTTLE] |= solved.performance.gears.lift_ratio[0, chosen] >= 1.0
    later = int(np.argmin(np.abs(ridden.time_s - LATER_S)))
    middle = slice(0, gears * ways)
    return ComesUp(
        gentlest=np.where(up.any(axis=2), up.argmax(axis=2), NEVER),
        start_rad_s=best.reshape(gears, ways),
        height_m=np.maximum(ridden.clearance_m[later], 0.0).reshape(shape),
        spins=ridden.spins[middle].reshape(gears, ways),
        rider_back_m=driven.moved_m[:, middle] * (solved.bike.setups.mass_kg[0] / solved.bike.setups.rider_kg[0]),
        ridden=replace(
            ridden,
            **{
                name: getattr(ridden, name)[:, middle]
                for name in ("heave_m", "pitch_rad", "front_load_n", "clearance_m")
            },
        ),
    )


def _started(lanes: Lanes, solved: Solved, start: Array) -> dict[str, Any]:
    """The engine speeds of lanes that begin at some."""
    last = solved.cells.last
    return {"start_rad_s": start, "clutch_from_rad_s": np.minimum(start + 0.3 * last, last)}


def _lanes(solved: Solved, cases: Array, gear: Index, way: Index) -> Lanes:
    """Gears and techniques of the bike as given in cases: lanes case by case."""
    s, shape = solved.bike.setups, gear.shape
    springs, damping, rider = np.repeat(cases, gear.size // len(cases), axis=0).T
    mass, wheelbase, peak = float(s.mass_kg[0]), float(s.wheelbase_m[0]), solved.cells.peak[1]
    on_front = mass * np.clip(s.load_arm_m[0] / wheelbase, 0.02, 0.98)
    zeta = 0.3 + 0.1 * damping
    low, high = solved.bike.friction_range
    fork, rear = springs_of(solved.bike, on_front, mass - on_front, springs)
    return Lanes(
        rows=solved.rows.take(gear),
        pitch_inertia_kg_m2=mass * ((0.34 - 0.03 * rider) * wheelbase) ** 2,
        friction=np.where(rider == 0.0, s.friction[0], np.where(rider < 0.0, low, high)),
        front_rate_n_m=fork.rate_n_m,
        front_damping_n_s_m=damping_n_s_m(on_front, fork.hz, zeta),
        front_preload_n=fork.preload_n,
        rear_rate_n_m=rear.rate_n_m,
        rear_damping_n_s_m=damping_n_s_m(mass - on_front, rear.hz, zeta),
        technique=way,
        start_rad_s=np.full(shape, solved.cells.first),
        opening_s=np.where(rider == 0.0, 0.15, np.where(rider < 0.0, 0.25, 0.10)),
        dive_s=0.5 / fork.hz + 0.5 * SHUTS_S,
        braking_n_m=np.full(shape, 0.2 * peak),
        thrown_kg=(0.5 + 0.1 * rider) * float(s.rider_kg[0]),
        thrown_height_m=np.full(shape, float(solved.bike.raw["rider_height_m"]) + 0.15),
        thrown_m=np.full(shape, 0.25),
        tug_s=np.full(shape, 0.35),
        clutch_holds_n_m=(1.75 + 0.25 * rider) * peak,
        clutch_from_rad_s=np.full(shape, solved.cells.last),
    )


def comes_up_keys(lifts: ComesUp, k: int) -> dict[str, Any]:
    """The keys of gear k, counted from 0, in the JSON object."""
    low, high = lifts.range
    return {"comes_up": CODES[lifts.gentlest[0, k]], "comes_up_range": [CODES[low[k]], CODES[high[k]]]}


def front_wheel(solved: Solved) -> Answer:
    """The gentlest technique that brings the front up in every gear, how high, and from which engine speed.

    The body of bike and rider heaves and pitches on its springs (`body.py`) while throttle or clutch opens, off the
    fork, or while the rider tugs; springs, damping, rider and grip are ranged over, and the band of a height holds
    the ends of the ranges.

    series: "time_s" (M,) from the opening of throttle or clutch; "pitch_rad", "heave_m", "front_load_n", "height_m"
    and "rider_back_m" (G, K, M) by gear and technique, in the middle of the ranges; "shown" (G,) the gentlest
    technique of each gear, the clutch where none lifts; "spins" (G, K) whether the rear tire spins; "geometry" of
    the bike, as of front_lift.

    >>> import ridesim as rs
    >>> from ridesim.answers.solved import solved
    >>> found = front_wheel(solved(rs.demo("coast-single")))
    >>> found.to_frame()[["Comes up", "Best", "Worst"]].values.tolist()[:2]
    [['tug', 'off the fork', 'clutch'], ['clutch', 'tug', 'no']]
    """
    lifts = comes_up(solved)
    count = solved.gear_count
    ridden = np.minimum(lifts.gentlest[0], NEVER - 1)
    figures = (
        *(
            Figure(
                f"height_{TECHNIQUES[way].replace(' ', '_')}",
                f"First, {TECHNIQUES[way]}",
                plain(lifts.height_m[0, 0, way]),
                "small length",
                low=plain(lifts.height_m[:, 0, way].min()),
                high=plain(lifts.height_m[:, 0, way].max()),
            )
            for way in range(NEVER)
        ),
        Figure(
            "comes_up",
            "Comes up by gear",
            ", ".join(CODES[way] for way in lifts.gentlest[0] if way != NEVER) or "no",
            "text",
        ),
        solved.figure("ratio", "Lift ratio in first", "ratio", solved.performance.gears.lift_ratio[:, 0]),
    )
    return solved.answer(
        "What brings the front up?",
        _say(lifts, ridden),
        figures,
        tables=(_table(lifts, ridden),),
        series={
            "time_s": lifts.ridden.time_s,
            **{key: getattr(lifts.ridden, name).T.reshape(count, NEVER, -1) for key, name in DRAWN.items()},
            "rider_back_m": lifts.rider_back_m.T.reshape(count, NEVER, -1),
            "shown": ridden,
            "spins": lifts.spins,
            "geometry": geometry(solved.bike),
        },
        assumptions=(*spring_assumptions(solved.bike), *ASSUMPTIONS),
        steps=_steps(solved),
        notes=(
            *light_notes(solved),
            *first_notes(solved),
            *_notes(lifts),
            *spring_notes(solved.bike),
            *_bottoms(solved, lifts),
        ),
        cautions=CAUTIONS,
    )


def _say(lifts: ComesUp, ridden: Index) -> Sentence:
    way, (low, high) = lifts.gentlest[0, 0], lifts.range
    if way == NEVER:
        say: Sentence = ("In first the front stays down on the throttle, off the fork, with a tug and with the clutch",)
        say += ("; the rear tire spins first",) if lifts.spins[0, NEVER - 1] else ()
    else:
        high_as = (ValueOf(f"height_{TECHNIQUES[way].replace(' ', '_')}"), " high half a second after")
        stands: Sentence = high_as if lifts.height_m[0, 0, way] > 0.0 else ("on the road half a second after",)
        say = (f"In first the front comes up {SAID[way]}, ", *stands)
    if low[0] != high[0]:
        say += (f"; at best {SAID[low[0]]}, at worst {SAID[high[0]]}",)
    return (*CAUTION, *say, ".")


def _table(lifts: ComesUp, ridden: Index) -> Table:
    gears, (low, high) = np.arange(ridden.size), lifts.range
    height = lifts.height_m[:, gears, ridden]
    return table_of(
        "What brings the front up by gear",
        ("gear", "Gear", "gear", gears + 1),
        ("way", "Comes up", "text", [CODES[way] for way in lifts.gentlest[0]]),
        ("gentlest", "Best", "text", [CODES[way] for way in low]),
        ("hardest", "Worst", "text", [CODES[way] for way in high]),
        ("start", "From", "engine speed", lifts.start_rad_s[gears, ridden]),
        ("height", "High", "small length", height[0]),
        ("most", "Most", "small length", height.max(axis=0)),
    )


def _notes(lifts: ComesUp) -> tuple[Note, ...]:
    """In which gears the ranges decide, and where the rear tire spins instead."""
    by_cause: dict[str, list[str]] = {}
    for k in range(lifts.gentlest.shape[1]):
        by_cause.setdefault(listed(lifts.deciding(k)), []).append(f"{k + 1}")
    notes = [
        Note(f"gear {', '.join(gears)}", f"how the front comes up depends on {causes}")
        for causes, gears in by_cause.items()
        if causes
    ]
    spinning = [f"{k + 1}" for k in np.nonzero((lifts.gentlest[0] == NEVER) & lifts.spins[:, -1])[0]]
    if spinning:
        notes.append(Note(f"gear {', '.join(spinning)}", "the rear tire spins before the front comes up"))
    return tuple(notes)


def _bottoms(solved: Solved, lifts: ComesUp) -> tuple[Note, ...]:
    """Whether the fork reaches its stop where it is let dive: the motion has no stop, so what comes after it is no answer."""
    fork = solved.bike.record.suspension.fork
    if fork.travel is None or fork.sag is None:
        return ()
    lean = lean_of(solved.bike)
    dives = float(-lifts.ridden.clearance_m[:, FORK].min()) / lean - float(fork.sag)
    left = float(fork.travel) - float(fork.sag)
    if dives <= left:
        return ()
    text = "off the fork it would dive " + either("small length", dives) + " with " + either("small length", left)
    text += " left to its stop: it bottoms out"
    return (Note("suspension.fork", text),)


def _steps(solved: Solved) -> tuple[Step, ...]:
    lanes = _lanes(solved, CASES[:1], np.array([0]), np.array([FORK]))
    s = solved.bike.setups
    front = s.mass_kg[0] * G * s.load_arm_m[0] / s.wheelbase_m[0]
    return (
        Step(
            "I = m (0.34 L)^2",
            f"{s.mass_kg[0]:.1f} x (0.34 x {s.wheelbase_m[0]:.3f})^2",
            f"{lanes.pitch_inertia_kg_m2[0]:.1f} kg m2",
            "a published model of a road motorcycle: 0.34 wheelbases; 1.7 and 2.0 Hz, 0.32 and 0.27 of the critical damping",
        ),
        Step(
            "k = m_f (2 pi f)^2, m_f = N_f / g",
            f"{front / G:.1f} x (2 pi x 2)^2",
            f"{lanes.front_rate_n_m[0]:.0f} N/m, so that {in_both('small length', front / lanes.front_rate_n_m[0])} top the fork out",
        ),
        Step(
            "m z'' = N_f + N_r - m g cos th;  I p'' = N_f (L - b) - N_r b + S h + F_D (h_D - h) + rotors + tug",
            f"from {rpm(solved.cells.first):.0f} to {rpm(solved.cells.last):.0f} rev/min, S what the road pushes",
            "heave z and pitch p over time, by Runge-Kutta steps of 0.02 s",
        ),
    )
