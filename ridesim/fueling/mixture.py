"""The mixture screw: the best setting from idle speeds read at several turns out, how well it is known, and what it means.

The lean side of an idle falls off faster than the rich side, and no polynomial through such readings knows by how much: its limits,
taken at their word, held the truth three times in four and less. So the best is the top of a smooth curve, but its limits ask only that an
idle bends downwards about one top: all settings at which such a curve fits the readings about as well as any does.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Any, Literal, get_args

import numpy as np

from ridesim.answers.answer import Answer, Figure, Figures, table_of
from ridesim.errors import InputError, one, several, word
from ridesim.fueling import MANUAL, ROOM
from ridesim.fueling.idle_curve import SHARE, IdleCurve, TurnLimits, fit_idle_curve, top_limits, top_of, wild_reading
from ridesim.statements import Assumption
from ridesim.units import rpm

MixtureScrew = Literal["fuel", "air"]
SCREWS: tuple[MixtureScrew, ...] = get_args(MixtureScrew)
Place = Literal["inside", "at or past the inner end", "at or past the outer end"]

LEAST_READINGS, MOST_READINGS = 5, 200
CUBIC_READINGS, CUBIC_SETTINGS = 7, 6  # from so many on a lopsided curve can be seen
QUARTIC_READINGS, QUARTIC_SETTINGS = 9, 8  # and how it bends
LEAST_SPAN_TURNS = 1.0  # readings closer together than this tell the top from the noise by luck only
MOST_TURNS = 12.0
USEFUL_TURNS = (0.5, 3.0)  # common practice, no source; some screws are good for 3.5
SLOWEST_RAD_S, FASTEST_RAD_S = 30.0, 420.0  # 290 to 4000 rev/min: an idle, however badly set
ALL_THE_WAY_TURNS = 0.25  # nearer to its seat than this a screw counts as all the way in

PROCEDURE = (
    "Open the doors wide, or work outside. Look up the screw, its side of the carburetor and its stock setting in the manual.",
    "Ride until the engine is fully warm, then stand the bike upright on firm ground in neutral; mind the hot exhaust.",
    "Turn the screw in until it just seats, counting turns and eighths. Never force it: its point and its seat are soft.",
    "Write the count down, so that it can be put back. Turn the screw out to where it was.",
    "Lower the idle with the idle stop until the engine only just runs evenly: the slide must be as good as shut.",
    "Set the screw to a first count, such as half a turn out; wait ten seconds; read the engine speed; write both down.",
    "Go outwards a quarter or half a turn at a time, waiting and reading each time, past where the engine slows again.",
    "Come back inwards and read again at some of the counts: two readings at one setting show the scatter.",
    "Do not touch the idle stop in between. If the engine gets hot, stop and let it cool; blow air on an air-cooled one.",
    "Set the best count, then bring the idle to the manual's speed with the idle stop, and check pick-up from shut.",
)
CAUTIONS = (
    ROOM,
    "Hot exhaust and engine, moving parts, gasoline: gloves, no loose sleeves, no flame or spark, extinguisher at hand.",
    "An air-cooled engine overheats standing still: a minute at a time, with air blown at it.",
    "A screw sealed by the maker is sealed by emission rules: ask locally before opening it.",
    MANUAL,
)
ASSUMPTIONS = (
    "readings scatter alike about a smooth curve with one top (normal, independent)",
    "idle stop, choke and engine warmth the same for all readings",
)


CURVES = {
    4: "fitted with a quartic, which may fall off faster on one side than on the other",
    3: "fitted with a cubic, which may fall off faster on one side than on the other",
    2: f"fitted with a parabola, the same on both sides: with fewer than {CUBIC_READINGS} readings at {CUBIC_SETTINGS} settings "
    "a lopsided idle is not seen",
}
SHAPE = "the limits take no shape but that the idle bends downwards about one top, even or lopsided"

READINGS = "readings"  # what an assumption is about


@dataclass(frozen=True, kw_only=True)
class MixtureSetting:
    """The best setting of a mixture screw, or at which end it lies.

    best_turns              turns out; None where the best lies at or past an end
    low_turns, high_turns   limits of the best setting at the coverage; one of them None where it lies past an end
    place                   inside the useful range, or at or past one of its ends
    certain                 whether the limits, not only the best, say so
    screw, coverage, useful_turns       as asked
    used, left_out          readings fitted and not, as (turns, engine speed) [rad/s]
    fitted                  the smooth curve through those used [rad/s]
    """

    best_turns: float | None
    low_turns: float | None
    high_turns: float | None
    place: Place
    certain: bool
    screw: MixtureScrew
    coverage: float
    useful_turns: tuple[float, ...]
    used: tuple[tuple[float, float], ...]
    left_out: tuple[tuple[float, float], ...]
    fitted: IdleCurve

    @property
    def engine_speed_rad_s(self) -> float | None:
        """Fitted, at the best. [rad/s]"""
        return None if self.best_turns is None else float(self.fitted.at(self.best_turns))

    @property
    def mixture(self) -> Literal["right", "rich", "lean"]:
        """What the pilot circuit is with the screw in its useful range; an air screw reads the other way round."""
        if self.place == "inside":
            return "right"
        return "rich" if (self.place == "at or past the inner end") == (self.screw == "fuel") else "lean"

    @property
    def advice(self) -> str:
        """What to do."""
        reach = "past an end of" if self.mixture == "right" else "into"
        unsure = f"; the limits reach {reach} the useful range, so read again before changing jets"
        again = "" if self.certain else unsure
        if self.mixture == "right":
            return f"leave the pilot jet as it is and set the screw there{again}"
        inner, ends = self.place == "at or past the inner end", self.useful_turns
        jet = "a smaller pilot jet, or more air" if self.mixture == "rich" else "a larger pilot jet, or less air"
        where = f"{'inside' if inner else 'past'} {ends[0] if inner else ends[1]:g} turns"
        return f"best {where}: the pilot circuit is too {self.mixture}; {jet}{again}"

    def curve(self) -> tuple[tuple[float, float], ...]:
        """(turns, engine speed) along the fitted curve over the readings used. [rad/s]"""
        turns = [at for at, _ in self.used]
        along = np.linspace(min(turns), max(turns), 41)
        return _pairs(along, self.fitted.at(along))


def best_mixture_setting(
    turns: Sequence[float],
    engine_speed_rad_s: Sequence[float],
    *,
    screw: MixtureScrew = "fuel",
    coverage: float = 0.95,
    useful_turns: tuple[float, float] = USEFUL_TURNS,
    reading_step_rad_s: float = 0.0,
) -> MixtureSetting:
    """The turns out at which the engine idles fastest, with limits, and what it says of the pilot jet.

    Parameters
    ----------
    turns : sequence of float
        Turns out from lightly seated, 5 to 200 readings from 0 to 12 that span at least one turn. [-]
    engine_speed_rad_s : sequence of float
        Read at each, with the idle lowered and the idle stop untouched, 30 to 420. [rad/s]
    screw : "fuel" or "air"
        A fuel screw richens outwards (on the engine's side of the slide), an air screw leans outwards (on the airbox's).
    coverage : float
        Of the limits, 0.5 to 0.999. [-]
    useful_turns : tuple of float
        Ends of the useful range; 0.5 to 3 is common practice, the manual knows better. [-]
    reading_step_rad_s : float
        Smallest step of the instrument, 0 to 20; the scatter is taken no smaller than such rounding makes it. [rad/s]

    Returns
    -------
    MixtureSetting

    Raises
    ------
    InputError
        Too few readings, not spread enough, no top to be seen, or the top past the readings where they stop short of an end.

    Examples
    --------
    >>> from ridesim.units import rad_s
    >>> speeds = [rad_s(n) for n in (1010, 1075, 1130, 1160, 1165, 1150, 1105)]
    >>> found = best_mixture_setting([0.5, 0.875, 1.25, 1.625, 2.0, 2.375, 2.75], speeds)
    >>> found.place, round(found.best_turns, 2), round(found.low_turns, 2), round(found.high_turns, 2)
    ('inside', 1.94, 1.44, 2.31)
    """
    kind: MixtureScrew = word("mixture.screw", screw, SCREWS)  # type: ignore[assignment]
    share = one("coverage", coverage, 0.5, 0.999, "", "Write 95 % as 0.95.")
    step = one("readings.step", reading_step_rad_s, 0.0, 20.0, "rad/s", "Give the smallest step of the instrument.")
    ends = _checked_ends(useful_turns)
    x, y = _checked(turns, engine_speed_rad_s)
    keep = _not_wild(x, y, _degree(x))
    fitted = fit_idle_curve(x[keep], y[keep], _degree(x[keep]))
    curve = replace(fitted, scatter=max(fitted.scatter, step / 12**0.5))
    top = top_of(curve, float(x[keep].min()), float(x[keep].max()))
    limits = None if top is None else top_limits(x[keep], y[keep], curve, share)
    if top is not None and limits is not None:
        found = _inside(top, limits, ends)
    else:
        found = _past(x[keep], y[keep], curve, ends, share)
    used, left_out = _pairs(x[keep], y[keep]), _pairs(x[~keep], y[~keep])
    return MixtureSetting(
        **found, screw=kind, coverage=share, useful_turns=ends, used=used, left_out=left_out, fitted=curve
    )


def _checked_ends(useful_turns: Any) -> tuple[float, ...]:
    fix = "Give both ends, such as 0.5 and 3."
    ends = several("mixture.useful_turns", useful_turns, 0.0, MOST_TURNS, "", longest=2, fix=fix)
    if len(ends) != 2 or ends[0] >= ends[1]:
        raise InputError("mixture.useful_turns", useful_turns, "must be the inner end before the outer end", fix)
    return ends


def _checked(turns: Any, speeds: Any) -> tuple[Any, Any]:
    fix = f"Take {LEAST_READINGS} readings or more, from well inside the best to well outside it."
    out = several("readings.turns", turns, 0.0, MOST_TURNS, "", longest=MOST_READINGS, fix="Count from lightly seated.")
    read = several(
        "readings.engine_speed",
        speeds,
        SLOWEST_RAD_S,
        FASTEST_RAD_S,
        "rad/s",
        longest=MOST_READINGS,
        fix="An idle lies between 290 and 4000 rev/min.",
    )
    if len(out) != len(read):
        raise InputError(
            "readings", None, f"have {len(out)} turns and {len(read)} engine speeds", "Give both for each reading."
        )
    if len(out) < LEAST_READINGS or len(set(out)) < LEAST_READINGS - 1:
        raise InputError("readings", None, f"are too few ({len(out)}, at {len(set(out))} settings)", fix)
    if max(out) - min(out) < LEAST_SPAN_TURNS:
        raise InputError(
            "readings", None, f"span {max(out) - min(out):g} turns and must span {LEAST_SPAN_TURNS:g} or more", fix
        )
    return np.array(out), np.array(read)


def _degree(x: Any) -> int:
    """Of the smooth curve: chosen by how many readings there are, never by what they say, which would spoil the scatter."""
    readings, settings = x.size, np.unique(x).size
    if readings >= QUARTIC_READINGS and settings >= QUARTIC_SETTINGS:
        return 4
    return 3 if readings >= CUBIC_READINGS and settings >= CUBIC_SETTINGS else 2


def _not_wild(x: Any, y: Any, degree: int) -> Any:
    """Which readings to fit."""
    keep = np.ones(x.size, dtype=bool)
    wild = wild_reading(x, y, degree)
    if wild is not None:
        keep[wild] = False
    return keep


def _inside(top: float, limits: TurnLimits, ends: tuple[float, ...]) -> dict[str, Any]:
    place: Place
    low, high = (-np.inf if limits.low is None else limits.low), (np.inf if limits.high is None else limits.high)
    best = min(max(top, low), high)
    if best <= ends[0]:
        place, certain = "at or past the inner end", high <= ends[0]
    elif best >= ends[1]:
        place, certain = "at or past the outer end", low >= ends[1]
    else:
        place, certain = "inside", ends[0] < low and high < ends[1]
    return _found(best, limits.low, limits.high, place, certain)


def _past(x: Any, y: Any, curve: IdleCurve, ends: tuple[float, ...], coverage: float) -> dict[str, Any]:
    """No top among the readings: at which end it lies, or why that cannot be said."""
    from scipy.special import stdtrit  # Student's quantiles; scipy.stats takes longer to load than the fit to make

    (line, _), spread = np.polyfit(x, y, 1, cov=True)
    clear = abs(line) > stdtrit(x.size - 2, 0.5 + coverage / 2) * np.sqrt(spread[0, 0])
    if not clear or _dips(x, y, coverage):
        raise InputError(
            "readings",
            None,
            "show no top: the engine speed does not rise and fall with the screw",
            "Lower the idle until the engine only just runs, warm it fully, and read again in larger steps; a screw that "
            "does nothing points to a blocked pilot circuit or a slide held too far open.",
        )
    outward = bool(line > 0)
    last = float(x.max() if outward else x.min())
    rising = float(curve.slope(last)) * (1 if outward else -1)
    certain = rising > float(stdtrit(curve.freedom, 0.5 + coverage / 2) * curve.slope_error(last))
    if outward and last >= ends[1]:
        return _found(None, last, None, "at or past the outer end", certain)
    if not outward and last <= max(ALL_THE_WAY_TURNS, ends[0]):
        return _found(None, None, last, "at or past the inner end", certain)
    way = "outwards" if outward else "inwards"
    problem = f"show no end of the rise {way}, as far as {last:g} turns: the best may lie past them"
    fix = f"Take more readings {way}, until the engine slows again or the screw is at the end of its useful range."
    raise InputError("readings", None, problem, fix)


def _dips(x: Any, y: Any, coverage: float) -> bool:
    """Whether the engine slows towards the middle of the readings: a parabola turned over has a top, and a sure one."""
    upside_down = fit_idle_curve(x, -y, 2)
    low = top_of(upside_down, float(x.min()), float(x.max()))
    return low is not None and top_limits(x, -y, upside_down, coverage) is not None


def _found(best: float | None, low: float | None, high: float | None, place: Place, certain: bool) -> dict[str, Any]:
    """What the fit says, by the names of a setting."""
    return {"best_turns": best, "low_turns": low, "high_turns": high, "place": place, "certain": certain}


def idle_answer(found: MixtureSetting) -> Answer:
    """Where the mixture screw belongs, with the limits that the readings leave.

    Readings on 1,160 rev/min less 60 times the square of the turns from 1.75:

    >>> turns = [0.5, 1.0, 1.5, 2.0, 2.5, 3.0]
    >>> speeds = [(1160 - 60 * (x - 1.75) ** 2) * 2 * 3.141592653589793 / 60 for x in turns]
    >>> round(idle_answer(best_mixture_setting(turns, speeds)).figures["best"].value, 2)
    1.75
    """
    wild = tuple(
        Assumption(READINGS, f"the reading at {x:g} turns ({rpm(y):.0f} rev/min) lies too far off the others and is left "
                             "out: take it again")
        for x, y in found.left_out
    )  # fmt: skip
    readings = sorted([(*one, True) for one in found.used] + [(*one, False) for one in found.left_out])
    turns, speeds, used = zip(*readings, strict=True)
    ends, outwards = found.useful_turns, "richer" if found.screw == "fuel" else "leaner"
    speed, scatter = found.engine_speed_rad_s, found.fitted.scatter
    return Answer(
        question="Where does the mixture screw belong?",
        say=(f"{_lead(found)}: {found.advice}.",),
        figures=Figures(
            Figure(
                "best", "Best setting, turns out", found.best_turns, "ratio", low=found.low_turns, high=found.high_turns
            ),
            Figure("speed", "Idle there", speed, "engine speed"),
            Figure("scatter", "Scatter of the readings", scatter, "engine speed"),
            Figure("pilot", "Pilot circuit", found.mixture, "text"),
        ),
        tables=(
            table_of(
                "Readings",
                ("turns", "Turns out", "ratio", turns),
                ("engine_speed_rad_s", "Idle", "engine speed", speeds),
                ("used", "Fitted", "yes or no", used),
            ),
        ),
        assumptions=(
            *ASSUMPTIONS,
            SHAPE,
            CURVES[len(found.fitted.coefficients) - 1],
            f"{found.screw} screw: outwards is {outwards}",
            f"useful range of the screw {ends[0]:g} to {ends[1]:g} turns (common practice unless the manual gave it)",
            *wild,
        ),
        steps=_steps(found.fitted, found),
        notes=wild,
        cautions=CAUTIONS,
    )


def _lead(found: MixtureSetting) -> str:
    if found.best_turns is None:
        return f"The engine still idles faster the further the screw goes {'in' if found.low_turns is None else 'out'}"
    limits = f"{_limits_say(found, 2)} at {100 * found.coverage:g} % coverage or more"
    return f"The engine idles fastest at {found.best_turns:.2f} turns out ({limits})"


def _limits_say(found: MixtureSetting, places: int) -> str:
    """Both limits, or the one there is."""
    low, high = (None if end is None else f"{end:.{places}f}" for end in (found.low_turns, found.high_turns))
    if low is None:
        return f"at most {high}"
    return f"at least {low}" if high is None else f"{low} to {high}"


def _steps(curve: IdleCurve, found: MixtureSetting) -> tuple[str, ...]:
    terms = [
        f"{rpm(c):+.2f}{'' if k == 0 else ' u' if k == 1 else f' u^{k}'}" for k, c in enumerate(curve.coefficients)
    ]
    told = [
        f"u = (turns - {curve.x0:.3f}) / {curve.width:.3f}",
        f"n = {' '.join(terms)} rev/min, least squares over {curve.readings} readings, scatter "
        f"{rpm(curve.scatter):.1f} rev/min",
    ]
    if found.best_turns is not None and found.engine_speed_rad_s is not None:
        told += [
            f"best: dn/du = 0 and falling after it, at {found.best_turns:.3f} turns, n = {rpm(found.engine_speed_rad_s):.0f} "
            "rev/min",
            f"limits at {100 * found.coverage:g} %: the settings at which a curve that bends downwards has its top and misses the readings, "
            f"in squares, by no more than the best such curve and ({SHARE:g} t scatter)^2, t of Student with {curve.freedom} "
            f"degrees of freedom = {_limits_say(found, 3)} turns",
        ]
    return tuple(told)


def _pairs(x: Any, y: Any) -> tuple[tuple[float, float], ...]:
    return tuple(zip(map(float, x), map(float, y), strict=True))
