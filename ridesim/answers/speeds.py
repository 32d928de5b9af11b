"""Engine speed against road speed in every gear: what the ratios and the tire make of the rev range."""

from __future__ import annotations

from itertools import product

import numpy as np

from ridesim.answers.answer import Answer, Figure, Step, ValueOf, table_of
from ridesim.answers.solved import ORDINALS, Solved
from ridesim.bike import Bike
from ridesim.components.chain_geometry import near
from ridesim.errors import InputError
from ridesim.mechanics.drivetrain import engine_speed_rad_s, mean_piston_speed_m_s, road_speed_m_s
from ridesim.statements import BothWays
from ridesim.units import either, kmh, rad_s, rpm


def speeds(solved: Solved) -> Answer:
    """Speed at the rev limit and for each 1,000 rev/min, gear by gear, and what each upshift drops the revs to.

    v = omega r / i, with r = U / 2 pi of the tire's rolling circumference and i = primary x gear x rear / front.
    The best upshift is where the next gear pulls as hard; after it the engine turns as the ratios say.

    series: "engine_speed_rad_s", "speed_m_s" (G, N) lines from standstill to the limit; "cruise_m_s";
    "limit_rad_s"; "shift_speed_m_s", "shift_from_rad_s", "shift_to_rad_s" (G-1,).

    >>> import ridesim as rs
    >>> from ridesim.answers.solved import solved
    >>> found = speeds(solved(rs.demo("coast-single")))
    >>> print(found)
    At 95 km/h the engine turns 4,876 rev/min in fifth, 67.7 % of its limit; first reaches 47.2 km/h at the limit.
    >>> revs = "Engine speed at the cruising speed", "Best upshift at", "Engine speed after it"
    >>> found.to_frame()[[f"{one} [rev/min]" for one in revs]].round(0).values.tolist()[2:4]
    [[nan, 6668.0, 5363.0], [5862.0, 6619.0, 5506.0]]
    >>> (3.6 * found.series["shift_speed_m_s"]).round(1).tolist()  # [km/h]
    [44.9, 66.7, 86.9, 107.3]
    """
    bike, gears = solved.bike, solved.performance.gears
    ratios, meters = bike.setups.ratios[0], bike.setups.meters_per_radian[0]
    radius = solved.setups.rear_radius_m
    limit = bike.rev_limit_rad_s
    up = gears.upshift_rad_s[0]
    after = np.append(up[:-1] * meters[:-1] / meters[1:], np.nan)
    cruise_all = solved.ride.cruise_m_s / meters
    at_cruise = np.where(cruise_all <= limit, cruise_all, np.nan)
    top = ORDINALS[len(meters) - 1]
    cruise_w = solved.ride.cruise_m_s * ratios[-1] / radius
    figures = (
        solved.figure("cruise_rpm", f"Engine speed at the cruising speed in {top}", "engine speed", cruise_w, -1),
        solved.figure("cruise", "Cruising speed", "speed", np.full(len(radius), solved.ride.cruise_m_s)),
        solved.figure("share", "Share of the rev limit", "percent", cruise_w / limit, -1),
        solved.figure("first_at_limit", "First gear at the rev limit", "speed", radius * limit / ratios[0]),
        solved.figure(
            "top_at_limit", f"{top.capitalize()} gear at the rev limit", "speed", radius * limit / ratios[-1]
        ),
        solved.figure("rollout", "Rolling circumference", "length", radius * 2 * np.pi),
    )
    final = f"{bike.final_ratio:.4f}" if bike.teeth is None else f"{bike.teeth[1]}/{bike.teeth[0]}"
    steps = (
        Step(
            f"i = primary x gear x {'final drive' if bike.teeth is None else 'rear / front'}",
            f"{bike.primary:.4f} x {bike.gears[0]:.4f} x {final}",
            f"{ratios[0]:.4f} (first gear)",
        ),
        Step(
            "rolling circumference U, r = U / 2 pi",
            "; ".join(bike.rear_tire.steps),
            f"r = {bike.rear_tire.rolling_radius_m:.4f} m",
        ),
        Step(
            "v = omega r / i",
            f"{rad_s(1000.0):.3f} x {bike.rear_tire.rolling_radius_m:.4f} / {ratios[0]:.4f}",
            f"{kmh(meters[0] * rad_s(1000.0)):.3f} km/h for each 1,000 rev/min in first",
        ),
        Step(
            "n = v i / r x 60 / 2 pi",
            f"{solved.ride.cruise_m_s:.3f} x {ratios[-1]:.4f} / {bike.rear_tire.rolling_radius_m:.4f} x 9.5493",
            f"{rpm(cruise_w[0]):.0f} rev/min",
        ),
    )
    w = np.linspace(0.0, limit, 60)
    stroke = bike.record.engine.stroke
    notes = []
    if stroke is not None and (fast := float(mean_piston_speed_m_s(stroke, limit))) > 20.3:
        safe = BothWays("20.3 m/s", "4,000 ft/min") + " that trade handbooks give as safe to hold"
        notes.append("mean piston speed at the rev limit is " + either("piston speed", fast) + ", above the " + safe)
    return solved.answer(
        "Speed in each gear",
        (
            *("At ", ValueOf("cruise"), " the engine ", "turns " if cruise_w[0] <= limit else "would have to turn "),
            *(ValueOf("cruise_rpm"), f" in {top}, ", ValueOf("share"), " of its limit; first reaches "),
            *(ValueOf("first_at_limit"), " at the limit."),
        ),
        figures,
        tables=(
            table_of(
                "Gears",
                ("gear", "Gear", "gear", range(1, len(meters) + 1)),
                ("gear_ratio", "Gear ratio", "ratio", bike.gears),
                ("overall", "Overall ratio", "ratio", ratios),
                ("per_1000", "Speed for each 1,000 rev/min", "speed", meters * rad_s(1000.0)),
                ("at_limit", "Speed at the rev limit", "speed", meters * limit),
                ("at_cruise", "Engine speed at the cruising speed", "engine speed", at_cruise),
                ("upshift", "Best upshift at", "engine speed", up),
                ("after", "Engine speed after it", "engine speed", after),
            ),
        ),
        series={
            "engine_speed_rad_s": w,
            "speed_m_s": meters[:, None] * w,
            "cruise_m_s": solved.ride.cruise_m_s,
            "shift_speed_m_s": up[:-1] * meters[:-1],
            "shift_from_rad_s": up[:-1],
            "shift_to_rad_s": after[:-1],
            "limit_rad_s": limit,
        },
        steps=steps,
        notes=notes,
        cautions=("Over-revving breaks engines: the maker's limit stands above anything computed here.",),
    )


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
    """The overall ratio for an engine speed at a road speed in a gear (the top one unless given), and the nearest
    pairs:  i = omega r / v.

    Parameters
    ----------
    solved : Solved
        The bike; its sprockets say where to look.
    engine_speed : float
        Above 0. [rad/s]
    speed_m_s : float
        Above 0. [m/s]
    gear : int, optional
        Counted from 1.
    fronts, rears : (least, most), optional
        Teeth to look among; three below to three above the front, eight below to eight above the rear unless given.

    Returns
    -------
    Answer
        The ratio with the band of the tire; its table has the eight nearest pairs. Of pairs of one ratio the one
        nearest to what is fitted comes first.

    Raises
    ------
    InputError
        A gear the bike does not have, a speed that is not above 0, ranges that leave no pair.

    Examples
    --------
    >>> import ridesim as rs
    >>> from ridesim.answers.solved import solved
    >>> found = wanted_ratio(solved(rs.demo("coast-single")), engine_speed=float(rad_s(4500.0)), speed_m_s=95 / 3.6)
    >>> print(found)
    For 4,500 rev/min at 95 km/h in fifth the overall ratio must be 5.673: 17/46 comes nearest with 4,505 rev/min.
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
    ratio = float(road_speed_m_s(engine_speed, speed_m_s, radius))  # i = omega r / v is v = omega r / i turned round
    inside = bike.primary * bike.gears[k - 1]
    final = ratio / inside
    usual = near(bike.front_teeth, bike.rear_teeth, "wanted")
    z1, z2 = (
        own if given is None else range(given[0], given[1] + 1)
        for own, given in zip(usual, (fronts, rears), strict=True)
    )
    pairs = np.array(list(product(z1, z2)))
    if pairs.size == 0:
        raise InputError(
            "front and rear", None, "leave no sprocket pair to look at", "Give ranges such as 13:18 and 40:50."
        )
    gets = engine_speed_rad_s(speed_m_s, inside * pairs[:, 1] / pairs[:, 0], radius)
    off = np.abs(gets / engine_speed - 1)
    # pairs of one ratio are alike: of those the one nearest to what is fitted comes first
    far = np.abs(pairs - [bike.front_teeth, bike.rear_teeth]).sum(axis=1)
    order = np.lexsort((far, np.round(off, 9)))[:SHOWN]
    nearest = table_of(
        "Nearest sprocket pairs",
        ("front", "Front", "teeth", pairs[order, 0]),
        ("rear", "Rear", "teeth", pairs[order, 1]),
        ("final", "Ratio", "ratio", pairs[order, 1] / pairs[order, 0]),
        ("engine_speed", "Engine speed", "engine speed", gets[order]),
        ("off", "Off by", "percent", gets[order] / engine_speed - 1),
    )
    best = nearest.rows[0]
    figures = (
        Figure("wanted", "Wanted engine speed", engine_speed, "engine speed"),
        Figure("speed", "At", speed_m_s, "speed"),
        Figure(
            "ratio",
            "Overall ratio",
            ratio,
            "ratio",
            low=ratio * bike.rear_tire.low_m / bike.rear_tire.circumference_m,
            high=ratio * bike.rear_tire.high_m / bike.rear_tire.circumference_m,
        ),
        Figure("final", "Sprocket ratio, rear over front", final, "ratio"),
        Figure("nearest_front", "Nearest pair, front", best["front"], "teeth"),
        Figure("nearest_rear", "Nearest pair, rear", best["rear"], "teeth"),
        Figure("gets", "Engine speed it gives", best["engine_speed"], "engine speed"),
    )
    return solved.answer(
        "Which sprockets give that engine speed?",
        (
            *("For ", ValueOf("wanted"), " at ", ValueOf("speed")),
            *(f" in {ORDINALS[k - 1]} the overall ratio must be ", ValueOf("ratio"), ": "),
            *(ValueOf("nearest_front"), "/", ValueOf("nearest_rear"), " comes nearest with ", ValueOf("gets"), "."),
        ),
        figures,
        tables=(nearest,),
        notes=_out_of_reach(bike, engine_speed),
        steps=(
            Step(
                "i = omega r / v",
                f"{engine_speed:.2f} ({rpm(engine_speed):.0f} rev/min) x {radius:.4f} / {speed_m_s:.3f} ({kmh(speed_m_s):.1f} km/h)",
                f"{ratio:.4f}",
            ),
            Step("rear / front = i / (primary x gear)", f"{ratio:.4f} / {inside:.4f}", f"{final:.4f}"),
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
