"""The tune's torque and power curve, at the crank in standard air and at the wheel on the day."""

from __future__ import annotations

import numpy as np

from ridesim.answers.answer import Answer, Column, Figure, Figures, Step, Table, ValueOf, rows_of
from ridesim.answers.solved import Solved
from ridesim.bike.figures_to_setups import crank_factor
from ridesim.components.power_curve import power_w
from ridesim.units import kw, rpm


def power(solved: Solved) -> Answer:
    """Peak torque and power of the active tune.

    series: "engine_speed_rad_s" (N,), "torque_n_m", "power_w" crank, standard air; "wheel_power_w" on the day; "points" rows.
    """
    bike = solved.bike
    curve, whole = bike.curve, bike.whole_curve  # up to the rev limit, and as given
    torque_at, torque = curve.peak_torque()
    power_at, peak = curve.peak_power()
    efficiency, factor = float(bike.raw["efficiency"]), float(bike.ride_day.factor)
    w = np.linspace(whole.first_rad_s, whole.last_rad_s, 200)
    crank = whole.torque_at(w)
    sheet = np.broadcast_to(crank_factor(solved.raw), len(solved.setups))  # what the sheet itself leaves open
    day = np.broadcast_to(solved.raw["torque_factor"], len(solved.setups))
    reaches = solved.setups.torque_factor * solved.setups.efficiency
    figures = (
        solved.figure("torque", "Peak torque at the crank", "torque", torque * sheet, 1),
        Figure(key="torque_at", label="Peak torque at", value=torque_at, reading="engine speed"),
        solved.figure("power", "Peak power at the crank", "power", peak * sheet, 1),
        Figure(key="power_at", label="Peak power at", value=power_at, reading="engine speed"),
        solved.figure("wheel_power", "Peak power at the wheel on the day", "power", peak * reaches, 1),
        solved.figure("factor", "Power on the day over standard", "ratio", day, 1),
    )
    points = rows_of(
        {
            "engine_speed": list(whole.engine_speed_rad_s),
            "torque": list(whole.torque_n_m),
            "power": list(power_w(whole.engine_speed_rad_s, whole.torque_n_m)),
        }
    )
    steps = (
        Step(
            formula="P = T omega",
            numbers=f"{curve.torque_at(power_at):.2f} N m x {power_at:.1f} rad/s ({rpm(power_at):.0f} rev/min)",
            result=f"{kw(peak):.2f} kW",
        ),
        *(
            Step(formula="power on the day", numbers=text, result=f"factor {factor:.4f}")
            for text in bike.ride_day.steps
        ),
    )
    return Answer(
        question="What does the engine give?",
        say=(
            *(f"Tune {bike.tune}: ", ValueOf("power"), " at ", ValueOf("power_at"), " and ", ValueOf("torque")),
            *(" at ", ValueOf("torque_at"), " at the crank; ", ValueOf("wheel_power"), " at the wheel on this day."),
        ),
        figures=Figures(*figures),
        tables=(
            Table(
                title=f"Points of tune {bike.tune}",
                columns=(
                    Column(key="engine_speed", label="Engine speed", reading="engine speed"),
                    Column(key="torque", label="Torque", reading="torque"),
                    Column(key="power", label="Power", reading="power"),
                ),
                rows=points,
            ),
        ),
        series={
            "engine_speed_rad_s": w,
            "torque_n_m": crank,
            "power_w": power_w(w, crank),
            "wheel_power_w": power_w(w, crank) * efficiency * factor,
        },
        assumptions=bike.assumptions,
        steps=steps,
        notes=bike.notes if whole.last_rad_s <= curve.last_rad_s else (*bike.notes, _above(bike.rev_limit_rad_s)),
        cautions=(
            "Fuel, hot parts and emission rules: see the maker's manual and local law before changing the tune.",
        ),
    )


def _above(limit_rad_s: float) -> str:
    return f"the tune has points above the rev limit of {rpm(limit_rad_s):.0f} rev/min: they are drawn, and peaks are those up to the limit"
