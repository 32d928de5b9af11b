"""One bike worked out again from its build file, without a line of ridesim: plain loops, and scipy for roots, maxima and motion.

Reads only what the tests that use it write: numbers in the unit of the key, or texts with one of the units below.
"""

from __future__ import annotations

import math
import re
import tomllib
from bisect import bisect_right
from collections.abc import Callable, Sequence
from functools import cache
from itertools import pairwise
from typing import Any

import numpy as np
from scipy.integrate import quad, solve_ivp
from scipy.interpolate import PchipInterpolator
from scipy.optimize import brentq, minimize_scalar

G = 9.80665
RPM = 2 * math.pi / 60
POUND_FORCE = 4.4482216152605
UNITS = {
    "kg": 1.0, "m": 1.0, "mm": 1e-3, "deg": math.pi / 180, "cc": 1e-6, "l": 1e-3, "s": 1.0, "%": 1e-2, "m/s": 1.0, "km/h": 1 / 3.6,
    "N": 1.0, "N/(m/s)": 1.0, "N/(m/s)^2": 1.0, "m^2": 1.0, "hPa": 100.0, "rev/min": RPM, "l/100km": 1e-8, "N*m": 1.0, "kW": 1e3,
    "hp": 550 * 0.3048 * POUND_FORCE, "PS": 75 * G, "": 1.0,
}  # fmt: skip
WATER = (-5800.2206, 1.3914993, -4.8640239e-2, 4.1764768e-5, -1.4452093e-8, 6.5459673)
ICE = (-5674.5359, 6.3925247, -9.677843e-3, 6.2215701e-7, 2.0747825e-9, 4.1635019)
ICE_FOURTH = -9.484024e-13
PITCH_M = {"428": 0.0127, "520": 0.015875, "525": 0.015875, "530": 0.015875}
LOOKS = 301  # engine speeds looked at before anything is refined


def si(value: float | str, unit: str = "") -> float:
    if isinstance(value, int | float):
        return value * UNITS[unit]
    number, written = re.fullmatch(r"([+-]?[\d.]+)\s*(?:\+-\s*[\d.]+)?\s*(.*)", value.strip()).groups()
    return float(number) + 273.15 if written == "degC" else float(number) * UNITS[written or unit]


def cubic(at: Any, values: Any) -> Callable[[float], float]:
    """scipy's PCHIP as plain numbers, a few times as quick where it is asked one place at a time."""
    knots, pieces = [float(x) for x in at], PchipInterpolator(at, values).c.T.tolist()

    @cache
    def value(x: float) -> float:
        n = min(max(bisect_right(knots, x) - 1, 0), len(pieces) - 1)
        a, b, c, d = pieces[n]
        x -= knots[n]
        return ((a * x + b) * x + c) * x + d

    return value


def rolls(tire: dict[str, Any], pressed: float) -> float:
    if "rollout" in tire:
        return si(tire["rollout"], "m")
    width, aspect, code = map(int, re.match(r"(\d+)/(\d+)\D*(\d\d)", tire["size"]).groups())
    diameter = (math.floor(25.4 * code + 0.5) + 2 * math.floor(width * aspect / 100 + 0.5 + 1e-9)) / 1e3
    free, deep = (
        diameter / 2 - si(tire.get("worn", 0), "mm"),
        si(tire["deflection"], "mm") if "deflection" in tire else pressed,
    )
    half = math.acos((free - deep) / free)
    return 2 * math.pi * free * math.sin(half) / half


def vapour_pa(kelvin: float, humidity: float) -> float:
    c = ICE if kelvin < 273.16 else WATER
    ln = c[0] / kelvin + c[1] + c[2] * kelvin + c[3] * kelvin**2 + c[4] * kelvin**3 + c[5] * math.log(kelvin)
    return humidity * math.exp(ln + (ICE_FOURTH * kelvin**4 if kelvin < 273.16 else 0.0))


def correction(standard: str, pressure: float, vapour: float, kelvin: float) -> float:
    printed, dry = kelvin - 0.15, pressure - vapour
    if standard == "ISO 1585":
        return (99e3 / dry) ** 1.2 * (printed / 298) ** 0.6
    if standard == "DIN 70020":
        return 101.3e3 / pressure * math.sqrt(printed / 293)
    return 1.18 * 99e3 / dry * math.sqrt(printed / 298) - 0.18


class FromScratch:
    """The bike of a build file on the file's ride."""

    def __init__(self, text: str) -> None:
        self.d = d = tomllib.loads(text)
        masses, chassis, inertia, tires = d["masses"], d["chassis"], d["inertia"], d["tires"]
        parts = [(si(masses[k], "kg"), si(chassis[f"{k}_cg_ahead_of_rear_axle"], "m"), si(chassis[f"{k}_cg_height"], "m"))
                 for k in ("bike", "rider", "luggage")]  # fmt: skip
        self.m, self.rider = sum(p[0] for p in parts), parts[1][0]
        self.b, self.h = (sum(p[0] * p[n] for p in parts) / self.m for n in (1, 2))
        self.base, self.high = si(chassis["wheelbase"], "mm"), si(chassis["drag_height"], "m")
        self.turn = U, U_front = rolls(tires["rear"], 0.008), rolls(tires["front"], 0.006)
        self.r, self.rf = U / 2 / math.pi, U_front / 2 / math.pi
        self.jf, self.jr, self.je = inertia["front_wheel"], inertia["rear_wheel"], inertia["crank"]
        self.sense = 1 if inertia.get("crank_turns", "forward") == "forward" else -1
        box, final = d["gearbox"], d["final_drive"]
        ratio = lambda x: x[0] / x[1] if isinstance(x, list) else x  # noqa: E731
        self.first = ratio(box["primary"]) * ratio(box["gears"][0])
        self.i = [ratio(box["primary"]) * ratio(x) * final["rear"] / final["front"] for x in box["gears"]]
        self.eta, self.shift_time = si(box.get("efficiency", 0.93)), si(box.get("shift_time", 0.25), "s")
        self._air_and_curve()
        self._road()
        self.wheels = self.m + self.jf / self.rf**2 + self.jr / self.r**2

    def _air_and_curve(self) -> None:
        air, name = self.d["air"], self.d.get("active", {}).get("tune", next(iter(self.d["tune"])))
        kelvin = si(air["temperature"])
        pressure = 101325 * (1 - 0.0065 * si(air["altitude"], "m") / 288.15) ** (G / (0.0065 * 287.05287))
        vapour = vapour_pa(kelvin, si(air["humidity"], "%"))
        self.density = (pressure - vapour) / (287.05 * kelvin) + vapour / (461.5 * kelvin)
        tune = self.d["tune"][name]
        w = np.array([x[0] * RPM for x in tune["points"]])
        y = np.array([x[1] * UNITS[tune.get("points_are", "N*m")] for x in tune["points"]])
        y = y / w if tune.get("points_are") in ("hp", "kW", "PS") else y
        y = y / self.eta if tune.get("measured_at") == "wheel" else y
        standard = tune.get("standard", "SAE J1349")
        self.factor = 1.0
        if standard == "as measured":
            own = si(tune["temperature"])
            self.factor = correction(
                "SAE J1349", si(tune["pressure"], "hPa"), vapour_pa(own, si(tune["humidity"], "%")), own
            )
            standard = "SAE J1349"
        self.factor /= correction(standard, pressure, vapour, kelvin)
        self.limit = si(self.d["engine"]["rev_limit"], "rev/min")
        self.w0, self.w1, self.knots = w[0], min(w[-1], self.limit), w
        self.curve = cubic(w, y)

    def _road(self) -> None:
        load, ride = self.d["road_load"], self.d.get("ride", {})
        if "coast_down" in load:
            self.f0, self.f1, self.f2 = (si(x) for x in load["coast_down"])
        else:
            self.f0, self.f1 = si(load["rolling_resistance"]) * self.m * G, 0.0
            self.f2 = 0.5 * self.density * si(load["drag_area"])
        # a rolling wheel's load stands ahead of its contact by what balances the resistance at the rim: N e = F r
        self.ahead = self.f0 * self.r / (self.m * G)
        self.mu = si(self.d["surface"]["friction"])
        self.v, self.wind = si(ride.get("cruise", 100), "km/h"), si(ride.get("headwind", 0), "m/s")
        self.th = math.atan(si(ride.get("grade", 0), "%"))

    def torque(self, w: float) -> float:
        return self.curve(min(max(w, self.w0), self.w1)) * self.factor

    def speeds(self, k: int, looks: int = LOOKS) -> list[float]:
        """Road speeds of a gear to look at, the points of the curve among them."""
        w = np.concatenate(
            [np.linspace(self.w0, self.w1, looks), self.knots[(self.knots >= self.w0) & (self.knots <= self.w1)]]
        )
        return list(np.unique(w) * self.r / self.i[k])

    def thrust(self, k: int, v: float) -> float:
        return self.torque(v * self.i[k] / self.r) * self.i[k] * self.eta / self.r

    def drag(self, v: float) -> float:
        return self.f2 * (v + self.wind) * abs(v + self.wind)

    def resistance(self, v: float, th: float | None = None) -> float:
        th = self.th if th is None else th
        return self.f0 * math.cos(th) + self.m * G * math.sin(th) + self.f1 * v + self.drag(v)

    def engine(self, k: int, v: float) -> float:
        return (self.thrust(k, v) - self.resistance(v)) / (self.wheels + self.eta * self.je * (self.i[k] / self.r) ** 2)

    def pitch(self, k: int | None) -> float:
        """Without a gear the clutch slips, and the crank keeps its speed."""
        crank = 0.0 if k is None else self.sense * self.je * self.i[k] / self.r
        return self.m * self.h + self.jf / self.rf + self.jr / self.r + crank

    def held(self, v: float, th: float) -> float:
        """Moment that keeps the front down: the weight about the place where the rear wheel's load stands, less that of the air."""
        arm = self.b - self.ahead
        return self.m * G * (arm * math.cos(th) - self.h * math.sin(th)) - self.drag(v) * self.high

    def lifts(self, k: int | None, v: float) -> float:
        """With no load on the front wheel the road cannot spin it up: its inertia takes no part."""
        return self.held(v, self.th) / (self.pitch(k) - self.jf / self.rf)

    def before_lift(self, k: int, v: float) -> float:
        """What the engine would do to the bike with the front wheel just off the road."""
        free = self.wheels - self.jf / self.rf**2 + self.eta * self.je * (self.i[k] / self.r) ** 2
        return (self.thrust(k, v) - self.resistance(v)) / free

    def spins(self, k: int | None, v: float) -> float:
        inertia = self.m + self.jf / self.rf**2 - self.mu * self.pitch(k) / self.base
        push = self.mu * (self.m * G * math.cos(self.th) - self.held(v, self.th) / self.base) - self.resistance(v)
        return push / inertia if inertia > 0 else math.inf

    def slopes(self, k: int, v: float) -> tuple[float, float, float]:
        """Steepest steady slope by engine, by front and by rear."""
        left, weight = self.thrust(k, v) - self.drag(v) - self.f1 * v, self.m * G
        whole = math.hypot(self.f0, weight)
        by_engine = math.asin(min(max(left / whole, -1), 1)) - math.atan2(self.f0, weight)
        by_front = math.acos(
            self.drag(v) * self.high / (weight * math.hypot(self.b - self.ahead, self.h))
        ) - math.atan2(self.h, self.b - self.ahead)

        def grips(th: float) -> float:
            return self.mu * (weight * math.cos(th) - self.held(v, th) / self.base) - self.resistance(v, th)

        return by_engine, by_front, math.pi / 2 if grips(1.55) > 0 else brentq(grips, -1.5, 1.55, xtol=1e-14)

    def gear(self, k: int) -> dict[str, Any]:
        at, speeds = self.i[k] / self.r, self.speeds(k)
        ratio = lambda v: self.before_lift(k, v) / self.lifts(k, v)  # noqa: E731
        highest, where = peak(ratio, speeds)
        over = [v for v in speeds if ratio(v) >= 1]
        ends = [v for v, _ in roots(lambda v: ratio(v) - 1, speeds)]
        weight = self.m * G * math.cos(self.th)
        turns = self.pitch(k) - self.jf / self.rf
        short = lambda v: (self.before_lift(k, v) - self.lifts(k, v)) * turns / weight  # noqa: E731
        grade = math.tan(peak(lambda v: min(self.slopes(k, v)), speeds)[0])
        net = lambda v: self.thrust(k, v) - self.resistance(v)  # noqa: E731
        falls = [v for v, rises in roots(net, speeds) if not rises]
        top = speeds[-1] if net(speeds[-1]) >= 0 else falls[-1] if falls else None
        return {
            "gear": k + 1,
            "overall_ratio": self.i[k],
            "speed_per_1000_rpm_kmh": 3600 * RPM / at,
            "speed_at_rev_limit_kmh": 3.6 * self.limit / at,
            "top_speed_kmh": None if top is None else 3.6 * top,
            "top_speed_limited_by": None if top is None else "revs" if top == speeds[-1] else "power",
            "peak_wheel_force_n": peak(lambda v: self.thrust(k, v), speeds)[0],
            "steepest_grade_percent": 100 * grade,
            "lift_ratio": highest,
            "lift_from_rpm": (over[0] if ratio(speeds[0]) >= 1 else ends[0]) * at / RPM if over else None,
            "lift_to_rpm": (over[-1] if ratio(speeds[-1]) >= 1 else ends[-1]) * at / RPM if over else None,
            "rider_shift_to_lift_m": max(0.0, -peak(short, speeds)[0]) * self.m / self.rider,
            "front_lifts_before_rear_spins": self.m * self.lifts(k, where) + self.resistance(where) < self.mu * weight,
            "best_upshift_rpm": None if k + 1 == len(self.i) else self.upshift(k) * at / RPM,
        }

    def upshift(self, k: int) -> float:
        """Of the speeds from which the next gear pulls harder, and the end, the one that loses no time."""
        least = max(self.w0 * self.r / self.i[k], self.w0 * self.r / self.i[k + 1])
        end = self.w1 * self.r / self.i[k]
        if least >= end:
            return end
        speeds = list(np.linspace(least, end, LOOKS))
        lead = lambda v: self.engine(k, v) - self.engine(k + 1, v)  # noqa: E731
        places = [v for v, rises in roots(lead, speeds) if not rises]
        places = ([least] if lead(least) < 0 else []) + places + ([end] if lead(end) > 0 else [])
        best = places[0]
        slow = lambda gear, v: 1 / max(self.engine(gear, v), 1e-6)  # noqa: E731
        for later in places[1:]:
            if quad(lambda v: slow(k + 1, v) - slow(k, v), best, later, limit=400, epsrel=1e-8)[0] > 0:
                best = later
        return best

    def cruise(self) -> list[dict[str, Any]]:
        engine, fuel, rows = self.d["engine"], self.d["fuel"], []

        def rubs(w: float) -> float:
            thousands = w / RPM / 1000
            mean = 1e5 * (0.97 + 0.15 * thousands + 0.05 * thousands**2)
            return mean * si(engine["displacement"], "cc") * w / 2 / math.pi / (2 if engine["cycle"] == 4 else 1)

        per_litre = 745.0 * 43.5e6
        efficiency, v = 0.36, self.v
        if "known_consumption" in fuel:
            used, at = si(fuel["known_consumption"][0]), si(fuel["known_consumption"][1])
            level = self.f0 + self.f1 * at + self.f2 * at**2
            gears = [
                k for k, i in enumerate(self.i) if self.w0 <= at * i / self.r <= self.w1 and self.thrust(k, at) >= level
            ]
            if gears:
                efficiency = (level * at / self.eta + rubs(at * self.i[gears[-1]] / self.r)) / (used * at * per_litre)
        for k, i in enumerate(self.i):
            w, needed = v * i / self.r, self.resistance(v)
            if not self.w0 <= w <= self.w1 or self.thrust(k, v) < needed:
                continue
            left = self.thrust(k, v) - (needed - self.drag(v))
            burnt = (max(needed * v, 0) / self.eta + rubs(w)) / efficiency / per_litre / v
            rows.append({
                "gear": k + 1, "speed_kmh": 3.6 * v, "engine_rpm": w / RPM, "share_of_rev_limit": w / self.limit,
                "mean_piston_speed_m_s": 2 * si(engine["stroke"], "mm") * w / 2 / math.pi, "power_needed_kw": needed * v / 1e3,
                "power_available_kw": self.thrust(k, v) * v / 1e3, "grade_held_percent": 100 * math.tan(self.slopes(k, v)[0]),
                "headwind_held_kmh": 3.6 * (math.copysign(math.sqrt(abs(left) / self.f2), left) - v),
                "fuel_l_per_100km": 1e8 * burnt, "range_km": si(fuel["tank"], "l") / burnt / 1e3,
            })  # fmt: skip
        return rows

    def roll_on(self, k: int, low: float, high: float) -> float | None:
        speeds = self.speeds(k)
        if low < speeds[0] or high > speeds[-1] or min(self.engine(k, v) for v in np.linspace(low, high, LOOKS)) <= 0:
            return None
        ends = [low, *(w * self.r / self.i[k] for w in self.knots if low < w * self.r / self.i[k] < high), high]
        return sum(
            quad(lambda v: 1 / self.engine(k, v), a, b, epsabs=0, epsrel=1e-11, limit=400)[0] for a, b in pairwise(ends)
        )

    def run(self, targets: Sequence[float] = (60 / 3.6, 100 / 3.6), distance: float = 400.0) -> list[float | None]:
        """From rest through time: to each speed, and over a distance."""
        found: list[float | None] = [None] * (len(targets) + 1)
        marks = [*(lambda _, y, v=v: y[0] - v for v in targets), lambda _, y: y[1] - distance]
        t, state = 0.0, np.zeros(2)

        def ride(pulls: Callable[[float], float], until: float | None, longest: float) -> bool:
            nonlocal t, state
            stop = lambda _, y: 1.0 if until is None else y[0] - until  # noqa: E731
            stop.terminal, stop.direction = True, 1.0
            done = solve_ivp(lambda _, y: [pulls(y[0]), y[0]], (t, t + longest), state, method="DOP853", rtol=1e-10, atol=1e-11,
                             events=[stop, *marks], max_step=0.5)  # fmt: skip
            for n, times in enumerate(done.t_events[1:]):
                if found[n] is None and times.size:
                    found[n] = float(times[0])
            t, state = float(done.t[-1]), done.y[:, -1]
            return until is None or bool(done.t_events[0].size)

        torques = [self.torque(w) for w in (*self.knots[self.knots < self.w1], self.w1)]
        best = (*self.knots[self.knots < self.w1], self.w1)[int(np.argmax(torques))]
        launch = min(max(min(best, 0.6 * self.limit), self.w0), self.w1)
        slips = self.torque(launch) * self.i[0] * self.eta / self.r

        def pulls_away(v: float) -> float:
            return min((slips - self.resistance(v)) / self.wheels, self.lifts(None, v), self.spins(None, v))

        if pulls_away(0.0) <= 0 or not ride(pulls_away, launch * self.r / self.i[0], 100):
            return found
        for k in range(len(self.i)):
            least = lambda v, k=k: min(self.engine(k, v), self.lifts(k, v), self.spins(k, v))  # noqa: E731
            leave = self.upshift(k) if k + 1 < len(self.i) else self.w1 * self.r / self.i[k]
            if state[0] < leave and not ride(least, leave, 300.0):
                return found
            if k + 1 == len(self.i):
                break
            before = t, state, list(found)
            ride(lambda v: -self.resistance(v) / self.wheels, None, self.shift_time)
            if min(self.engine(k + 1, state[0]), self.lifts(k + 1, state[0]), self.spins(k + 1, state[0])) <= 0:
                t, state, found = before  # the next gear would not pull: the bike stays at the revs it has
                break
        if found[-1] is None:
            found[-1] = t + (distance - state[1]) / state[0]
        return found

    def chain(self) -> dict[str, float]:
        final = self.d["final_drive"]
        p, z1, z2 = PITCH_M[final["chain"]], final["front"], final["rear"]
        lean = math.asin(
            (p / 2 / math.sin(math.pi / z2) - p / 2 / math.sin(math.pi / z1)) / si(final["centre_distance"], "m")
        )
        links = (
            2 * si(final["centre_distance"], "m") / p * math.cos(lean)
            + (z1 * (math.pi - 2 * lean) + z2 * (math.pi + 2 * lean)) / 2 / math.pi
        )
        force = max(self.torque(w) for w in (*self.knots, self.w1)) * self.first * self.eta
        return {"links_exact": links, "chain_pull_max_n": force * 2 * math.sin(math.pi / z1) / p}

    def answers(self) -> dict[str, Any]:
        """The keys of the JSON answers, as far as they are worked out here."""
        gears = [self.gear(k) for k in range(len(self.i))]
        tops = [g["top_speed_kmh"] or -1.0 for g in gears]
        return {
            "mass_kg": self.m, "cg_ahead_of_rear_axle_m": self.b, "cg_height_m": self.h, "air_density_kg_m3": self.density,
            "power_factor": self.factor, "rolling_circumference_m": self.turn[0], "gears": gears, "top_speed_kmh": max(tops),
            "top_speed_gear": 1 + int(np.argmax(tops)), "cruise": self.cruise(), "acceleration": dict(zip(("0_60_kmh_s", "0_100_kmh_s", "400_m_s"), self.run(), strict=True)), "chain": self.chain(),
            "roll_on": [{"gear": k + 1, "60_100_kmh_s": self.roll_on(k, 60 / 3.6, 100 / 3.6)} for k in range(len(self.i))],
        }  # fmt: skip


def peak(f: Callable[[float], float], places: list[float]) -> tuple[float, float]:
    """The highest value and its place, refined around the five best places."""
    values = [f(x) for x in places]
    best = max(zip(values, places, strict=True))
    for n in np.argsort(values)[-5:]:
        ends = places[max(n - 1, 0)], places[min(n + 1, len(places) - 1)]
        found = minimize_scalar(lambda x: -f(x), bounds=ends, method="bounded", options={"xatol": 1e-11})
        best = max(best, (-float(found.fun), float(found.x)))
    return best


def roots(f: Callable[[float], float], places: list[float]) -> list[tuple[float, bool]]:
    """Every root between two places of different sign, and whether f rises there."""
    values = [f(x) for x in places]
    return [
        (brentq(f, places[n], places[n + 1], xtol=1e-14, rtol=1e-14), b > a)
        for n, (a, b) in enumerate(pairwise(values))
        if a * b < 0
    ]
