"""The other way round: which overall ratio, and which sprockets, give a wanted engine speed at a wanted road speed."""

from __future__ import annotations

import numpy as np

from ridesim.answers.answer import Answer, Column, Figure, Figures, Step, Table, ValueOf
from ridesim.answers.solved import ORDINALS, Solved
from ridesim.bike import Bike
from ridesim.errors import InputError
from ridesim.mechanics.drivetrain import engine_speed_rad_s, ratio_for
from ridesim.units import kmh, rpm

SHOWN = 8  # nearest pairs listed


def wanted_ratio(
    solved: Solved,
    *,
    engine_speed: float,
    speed_m_s: float,
    gear: int | None = None,
    fronts: tuple[int, int] | None = None,
    rears: tuple[int, int] | None = None,
) -> Answer:
    """The overall ratio for an engine speed at a road speed in a gear (the top one unless given), and the nearest pairs.

    Parameters
    ----------
    solved : Solved
        The bike.
    engine_speed : float
        [rad/s]
    speed_m_s : float
        [m/s]
    gear : int, optional
        Counted from 1.
    fronts, rears : (least, most), optional
        Teeth to look among; three below to three above the front, eight below to eight above the rear unless given.
    """
    bike = solved.bike
    k = len(bike.gears) if gear is None else gear
    if not 1 <= k <= len(bike.gears):
        raise InputError("gear", gear, f"is not a gear of this bike (1 to {len(bike.gears)})", "Count gears from 1.")
    if not (np.isfinite(engine_speed) and engine_speed > 0 and np.isfinite(speed_m_s) and speed_m_s > 0):
        raise InputError(
            "wanted",
            None,
            "engine speed and road speed must be above zero",
            "Give both, such as 5000 rev/min at 105 km/h or at 65 mph.",
        )
    radius = bike.rear_tire.rolling_radius_m
    ratio = float(ratio_for(engine_speed, speed_m_s, radius))
    inside = bike.primary * bike.gears[k - 1]
    final = ratio / inside
    front_range = (
        range(max(6, bike.front_teeth - 3), bike.front_teeth + 4) if fronts is None else range(fronts[0], fronts[1] + 1)
    )
    rear_range = (
        range(max(12, bike.rear_teeth - 8), bike.rear_teeth + 9) if rears is None else range(rears[0], rears[1] + 1)
    )
    pairs = np.array([(z1, z2) for z1 in front_range for z2 in rear_range])
    if pairs.size == 0:
        raise InputError(
            "front and rear", None, "leave no sprocket pair to look at", "Give ranges such as 13:18 and 40:50."
        )
    gets = engine_speed_rad_s(speed_m_s, inside * pairs[:, 1] / pairs[:, 0], radius)
    off = np.abs(gets / engine_speed - 1)
    # pairs of one ratio are alike: of those the one nearest to what is fitted comes first
    far = np.abs(pairs - [bike.front_teeth, bike.rear_teeth]).sum(axis=1)
    order = np.lexsort((far, np.round(off, 9)))[:SHOWN]
    rows = tuple(
        {
            "front": int(pairs[n, 0]),
            "rear": int(pairs[n, 1]),
            "final": float(pairs[n, 1] / pairs[n, 0]),
            "engine_speed": float(gets[n]),
            "off": float(gets[n] / engine_speed - 1),
        }
        for n in order
    )
    best = rows[0]
    figures = (
        Figure(key="wanted", label="Wanted engine speed", value=engine_speed, reading="engine speed"),
        Figure(key="speed", label="At", value=speed_m_s, reading="speed"),
        Figure(
            key="ratio",
            label="Overall ratio",
            value=ratio,
            low=ratio * bike.rear_tire.low_m / bike.rear_tire.circumference_m,
            high=ratio * bike.rear_tire.high_m / bike.rear_tire.circumference_m,
            reading="ratio",
        ),
        Figure(key="final", label="Sprocket ratio, rear over front", value=final, reading="ratio"),
        Figure(key="nearest_front", label="Nearest pair, front", value=best["front"], reading="teeth"),
        Figure(key="nearest_rear", label="Nearest pair, rear", value=best["rear"], reading="teeth"),
        Figure(key="gets", label="Engine speed it gives", value=best["engine_speed"], reading="engine speed"),
    )
    return Answer(
        question="Which sprockets give that engine speed?",
        say=(
            *("For ", ValueOf("wanted"), " at ", ValueOf("speed")),
            *(f" in {ORDINALS[k - 1]} the overall ratio must be ", ValueOf("ratio"), ": "),
            *(ValueOf("nearest_front"), "/", ValueOf("nearest_rear"), " comes nearest with ", ValueOf("gets"), "."),
        ),
        figures=Figures(*figures),
        tables=(
            Table(
                title="Nearest sprocket pairs",
                columns=(
                    Column(key="front", label="Front", reading="teeth"),
                    Column(key="rear", label="Rear", reading="teeth"),
                    Column(key="final", label="Ratio", reading="ratio"),
                    Column(key="engine_speed", label="Engine speed", reading="engine speed"),
                    Column(key="off", label="Off by", reading="percent"),
                ),
                rows=rows,
            ),
        ),
        assumptions=bike.assumptions,
        notes=(*bike.notes, *_out_of_reach(bike, engine_speed)),
        steps=(
            Step(
                formula="i = omega r / v",
                numbers=f"{engine_speed:.2f} ({rpm(engine_speed):.0f} rev/min) x {radius:.4f} / {speed_m_s:.3f} ({kmh(speed_m_s):.1f} km/h)",
                result=f"{ratio:.4f}",
            ),
            Step(
                formula="rear / front = i / (primary x gear)",
                numbers=f"{ratio:.4f} / {inside:.4f}",
                result=f"{final:.4f}",
            ),
        ),
        cautions=(
            "Chain length, axle travel and clearance of a new pair are a question of their own: ask for the chain answer.",
        ),
    )


def _out_of_reach(bike: Bike, engine_speed: float) -> tuple[str, ...]:
    """A word on an engine speed that the engine does not turn, or of which its curve says nothing."""
    if engine_speed > bike.rev_limit_rad_s:
        return (f"{rpm(engine_speed):.0f} rev/min is above the rev limit of {rpm(bike.rev_limit_rad_s):.0f} rev/min",)
    if not bike.curve.first_rad_s <= engine_speed <= bike.curve.last_rad_s:
        return (f"the tune's points do not reach to {rpm(engine_speed):.0f} rev/min: what it pulls there is not known",)
    return ()
