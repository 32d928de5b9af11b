"""Unknown gear ratios out of a log that holds engine speed and road speed: their quotient gathers at one value a gear."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from itertools import pairwise
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

from ridesim.answers import Answer, Column, Figure, Figures, Step, Table
from ridesim.answers.answer import Sentence, ValueOf
from ridesim.bike import Bike
from ridesim.errors import InputError, within
from ridesim.logs.fits.bike import NORMAL_90
from ridesim.logs.fits.coast import Band, band
from ridesim.logs.fits.gears import (
    CLOSEST,
    FEWEST,
    NOISE_M_S,
    Fitted,
    belonging,
    fewer,
    fit,
    peaks,
    quotients,
    rough_delay_s,
    thinned,
)
from ridesim.logs.log import CAUTIONS, Array, Log
from ridesim.units import TWO_PI

if TYPE_CHECKING:
    from ridesim.buildfile.io import Build

SETTLED_WITHIN = 0.005
SURE = 3.5  # standard errors that must fit into it: of a thousand ratios at the very edge, one half would lie outside
LOUDER = 4  # times the search is begun anew at most
LARGER, FIRST_LARGER = (
    1.2,
    2.0,
)  # a step so much larger than the one below it, the first than the second, asks for a gear between
LEAST_S = 4.0  # in a gear, for a ratio at all

HOLD_S = (120.0, 75.0, 50.0, 35.0)  # seconds in first, second, third, and every gear above
PROTOCOL = (
    f"Hold each gear in the middle of its revs, rolling the speed gently up and down: {HOLD_S[0]:.0f} s in first, "
    f"{HOLD_S[1]:.0f} s in second, {HOLD_S[2]:.0f} s in third, {HOLD_S[3]:.0f} s in every gear above. Begin and end at a stand."
)


@dataclass(frozen=True, kw_only=True)
class GearFound:
    """One gear: its overall ratio, how many samples speak for it, and how they spread about it (a share).

    settled tells that the ratio is within half a per cent as surely as noise lets one say; longer_s is how many seconds more
    in this gear would settle it, 0 when it is.
    """

    gear: int
    overall_ratio: Band
    samples: int
    spread: float
    settled: bool = True
    longer_s: float = 0.0
    seconds: float = 0.0


@dataclass(frozen=True, kw_only=True)
class Ratios:
    """The gears of a log. gear_at holds for each sample its gear, 0 where the clutch slipped, it was shifted or stood."""

    gears: tuple[GearFound, ...]
    latency_s: float
    gear_at: NDArray[np.int8]
    segments: tuple[Mapping[str, Any], ...]
    assumptions: tuple[str, ...]
    notes: tuple[str, ...]
    cautions: tuple[str, ...] = CAUTIONS
    latency_error_s: float = 0.0


def find_ratios(
    log: Log,
    *,
    rolling_circumference_m: float,
    gears: int | None = None,
    progress: Callable[[float], None] | None = None,
) -> Ratios:
    """Overall ratios from engine speed and road speed:  v(t) = omega(t - D) U / (2 pi i).

    The logarithm of omega / v is gathered in a fine histogram; its peaks are the gears. Samples where the quotient moves
    (shifts, a slipping clutch) are dropped. Then one least-squares fit finds all ratios and the delay D of the receiver
    together: at full throttle a tenth of a second of it is worth a per cent and more. Standard errors hold that of the delay
    and the time over which a receiver's errors last.

    Parameters
    ----------
    log : Log
        With engine speed.
    rolling_circumference_m : float
        U of the rear tire. [m]
    gears : int, optional
        How many to find, 1 to 8; all that are there when not given.
    progress : callable, optional
        Told the share done.

    Returns
    -------
    Ratios
        Gears numbered from the shortest seen.

    Raises
    ------
    InputError
        No engine speed, too few samples on the move, or fewer gears than asked for.
    """
    if log.engine_speed_rad_s is None:
        why = log.not_read.get("engine speed")
        fix = f"It {why}." if why else "Log road speed and engine speed together."
        raise InputError("log", log.name, "holds no engine speed", fix)
    radius = float(within("rolling_circumference_m", rolling_circumference_m, 0.8, 3.5, "m")) / TWO_PI
    if gears is not None and (isinstance(gears, bool) or not isinstance(gears, int) or not 1 <= gears <= 8):
        raise InputError("gears", gears, "must be a whole number from 1 to 8", "Count the gears.")
    time, speed, engine, each = thinned(log)
    late = rough_delay_s(time, speed, engine)
    if progress:
        progress(0.5)
    done, gear_at = _searched(time, speed, engine, gears, late)
    found = tuple(_gear(k, done, radius, each) for k in range(done.error.size))
    wide = np.zeros(log.time_s.size, dtype=np.int8)
    wide[: gear_at.size * each] = np.repeat(gear_at, each)
    wide.setflags(write=False)
    if progress:
        progress(1.0)
    return Ratios(
        gears=found,
        latency_s=round(done.delay_s, 3),
        latency_error_s=done.delay_error_s,
        gear_at=wide,
        segments=_segments(log, wide),
        notes=_notes(found, done),
        assumptions=(
            f"rolling circumference {rolling_circumference_m:.4f} m at every speed; an error of it goes into every ratio",
            "quotients that move faster than noise explains are taken as shifting or a slipping clutch",
        ),
    )


def _searched(
    time: Array, speed: Array, engine: Array, wanted: int | None, late: float
) -> tuple[Fitted, NDArray[np.int8]]:
    """Peaks and their fit, once more where the receiver turns out to be noisier than was thought: it hides samples in a gear."""
    noise = NOISE_M_S
    for _ in range(LOUDER):
        seen = quotients(time, speed, engine, late, noise)
        if seen[1].sum() < FEWEST:
            got, problem = f"{seen[1].sum()} samples", "hold a gear too seldom to tell its ratio"
            raise InputError("log", got, problem, "Ride some seconds in each gear without shifting.")
        done, gear_at = _fitted(time, speed, engine, seen, peaks(seen[0][seen[1]], wanted), late)
        if done.noise_m_s < 1.3 * noise:
            break
        noise, late = done.noise_m_s, done.delay_s
    if wanted is not None and done.error.size < wanted:
        raise fewer(wanted, done.error.size)
    return done, gear_at


def _fitted(
    time: Array,
    speed: Array,
    engine: Array,
    seen: tuple[Array, NDArray[np.bool_], Array],
    centers: list[float],
    late: float,
) -> tuple[Fitted, NDArray[np.int8]]:
    """The fit, done again without the peaks that turn out to be no gear, until all that are left are."""
    while centers:
        gear_at = belonging(*seen, centers)
        done = fit(time, speed, engine, gear_at, np.exp(-np.array(centers)), late)
        stand = [k for k in range(len(centers)) if _stands(k, done)]
        if len(stand) == len(centers):
            return done, gear_at
        centers = [float(-np.log(done.meters_per_rad[k])) for k in stand]
    fix = f"Ride {LEAST_S:.0f} s and more in each gear without shifting."
    raise InputError("log", None, "holds no gear long enough to tell its ratio", fix)


def _stands(k: int, done: Fitted) -> bool:
    """Whether a peak is a gear of its own: ridden long enough, and no shoulder of one that was ridden longer."""
    close = np.abs(np.log(done.meters_per_rad / done.meters_per_rad[k])) < CLOSEST
    return bool(done.seconds[k] >= LEAST_S and done.seconds[k] >= done.seconds[close].max())


def _gear(k: int, done: Fitted, radius: float, each: int) -> GearFound:
    ratio, error = float(radius / done.meters_per_rad[k]), float(done.error[k])
    enough = SETTLED_WITHIN / SURE
    return GearFound(
        gear=k + 1,
        overall_ratio=band(ratio, ratio * error, NORMAL_90),
        samples=int(done.samples[k]) * each,
        spread=float(done.spread[k]),
        settled=error <= enough,
        # the square of the error falls with the time
        longer_s=0.0 if error <= enough else float(np.ceil(done.seconds[k] * ((error / enough) ** 2 - 1) / 5.0) * 5.0),
        seconds=float(done.seconds[k]),
    )


def _notes(found: tuple[GearFound, ...], done: Fitted) -> tuple[str, ...]:
    notes = ["gears are numbered from the shortest that was ridden"]
    if done.delay_s > 0.05:
        notes.append(f"the road speed is {done.delay_s:.2f} s later than the engine speed")
    notes += [
        f"gear {gear.gear}: ride this gear {gear.longer_s:.0f} s longer to be sure of half a per cent; nine times in ten it is "
        f"within {NORMAL_90 * gear.overall_ratio.standard_error / gear.overall_ratio.value:.1%} now"
        for gear in found
        if not gear.settled
    ]
    notes += skipped([gear.overall_ratio.value for gear in found])
    if not all(gear.settled for gear in found):
        notes.append(PROTOCOL)
    return tuple(notes)


def skipped(ratios: Sequence[float]) -> list[str]:
    """Where a gear seems to be missing: steps of a gearbox grow smaller upwards (common practice, no source).

    >>> skipped([15.7, 11.5, 8.9, 7.3, 6.1]), len(skipped([15.7, 11.5, 7.3, 6.1])), len(skipped([15.7, 8.9, 7.3, 6.1]))
    ([], 1, 1)
    """
    steps = [low / high for low, high in pairwise(ratios)]
    sizes = np.log(steps)
    missing = [k for k in range(1, len(steps)) if sizes[k] > LARGER * sizes[k - 1]]
    if len(steps) > 1 and sizes[0] > FIRST_LARGER * sizes[1]:
        missing.insert(0, 0)
    return [
        f"a gear seems to be missing between gear {k + 1} and gear {k + 2}: the step of {steps[k]:.2f} is larger than its neighbors; "
        "was one not ridden?"
        for k in missing
    ]


def _segments(log: Log, gear_at: NDArray[np.int8]) -> tuple[Mapping[str, Any], ...]:
    """Each segment in one gear, from and to which time."""
    ends = np.flatnonzero(np.diff(gear_at)) + 1
    return tuple(
        {"gear": int(gear_at[a]), "from_s": float(log.time_s[a]), "to_s": float(log.time_s[b - 1])}
        for a, b in zip([0, *ends], [*ends, gear_at.size], strict=True)
        if gear_at[a] and b - a > 1
    )


MOST_SEGMENTS = 400
BUILD_NEAR = 0.05  # a gear of the build further off than this is another gear


@dataclass(frozen=True, kw_only=True)
class Geared:
    """The gears of a log, each beside the nearest of the build (None where none is near), and the answer in words."""

    found: Ratios
    build_gear: tuple[int | None, ...]
    answer: Answer


def geared(
    log: Log,
    *,
    bike: Bike | None = None,
    circumference_m: float | None = None,
    gears: int | None = None,
    progress: Callable[[float], None] | None = None,
) -> Geared:
    """find_ratios with what a bike lends it, its own ratios beside what was found, and the answer in words.

    circumference_m is that of the rear tire and goes before the bike's [m].
    """
    if circumference_m is None:
        if bike is None:
            raise ValueError("either a bike or a circumference")
        circumference_m = float(bike.rear_tire.circumference_m)
    found = find_ratios(log, rolling_circumference_m=circumference_m, gears=gears, progress=progress)
    build = [] if bike is None else [float(r) for r in bike.setups.ratios[0]]
    near = tuple(_nearest(gear.overall_ratio.value, build) for gear in found.gears)
    return Geared(found=found, build_gear=near, answer=_answer(log, found, near, build, circumference_m, bike))


def _nearest(ratio: float, build: list[float]) -> int | None:
    if not build:
        return None
    off, gear = min((abs(one / ratio - 1.0), n) for n, one in enumerate(build, start=1))
    return gear if off <= BUILD_NEAR else None


def _answer(
    log: Log, found: Ratios, near: tuple[int | None, ...], build: list[float], circumference: float, bike: Bike | None
) -> Answer:
    count = len(found.gears)
    figures = [
        Figure(
            key=f"ratio_{gear.gear}",
            label=f"Gear {gear.gear}: crank turns for one wheel turn",
            value=gear.overall_ratio.value,
            reading="ratio",
            low=gear.overall_ratio.low,
            high=gear.overall_ratio.high,
        )
        for gear in found.gears
    ]
    figures.append(Figure(key="gears", label="Gears found", value=count, reading="number"))
    ends: Sentence = (
        f"{'the only one' if count == 1 else 'the shortest'} turns the crank ",
        *(ValueOf("ratio_1"), " times for one turn of the wheel"),
        *(() if count == 1 else (", the tallest ", ValueOf(f"ratio_{count}"), " times")),
    )
    return Answer(
        question="Which gears are in there?",
        say=("The log shows ", ValueOf("gears"), " gears: " if count > 1 else " gear: ", *ends, f".{_open(found)}"),
        figures=Figures(*figures),
        tables=(_gear_table(found, near, build, bike), _segment_table(found)),
        series={
            "time_s": log.time_s,
            "speed_m_s": log.speed_m_s,
            "engine_speed_rad_s": log.engine_speed_rad_s,
            "gear_at": found.gear_at,
            "rays": tuple(_ray(log, found, gear.gear, gear.overall_ratio.value, circumference) for gear in found.gears),
        },
        assumptions=found.assumptions,
        steps=tuple(
            Step(
                formula=f"i{gear.gear} = (omega / v) U / 2 pi, least squares over {gear.samples} samples",
                numbers=f"{gear.overall_ratio.value * TWO_PI / circumference:.3f} x {circumference:.4f} / 2 pi",
                result=f"{gear.overall_ratio.value:.3f} +- {gear.overall_ratio.high - gear.overall_ratio.value:.3f}",
            )
            for gear in found.gears
        ),
        notes=(*log.notes, *found.notes),
        cautions=found.cautions,
    )


def _open(found: Ratios) -> str:
    """Which gears are not yet surely within half a per cent, as a sentence of its own; empty when all are."""
    names = [str(gear.gear) for gear in found.gears if not gear.settled]
    if not names:
        return ""
    listed = names[0] if len(names) == 1 else f"{', '.join(names[:-1])} and {names[-1]}"
    return f" Ride gear{'s' if len(names) > 1 else ''} {listed} longer."


def _ray(log: Log, found: Ratios, gear: int, ratio: float, circumference: float) -> tuple[Any, Any]:
    """Road speeds from standing to the fastest ridden in a gear, and the engine speeds that go with them."""
    road = np.array([0.0, float(log.speed_m_s[found.gear_at == gear].max())])
    return road, road * ratio * TWO_PI / circumference


def _gear_table(found: Ratios, near: tuple[int | None, ...], build: list[float], bike: Bike | None) -> Table:
    outside = 1.0 if bike is None else bike.primary * bike.final_ratio
    columns = [
        Column(key="gear", label="Gear", reading="number"),
        Column(key="overall", label="Overall ratio", reading="ratio"),
        Column(key="low", label="Low", reading="ratio"),
        Column(key="high", label="High", reading="ratio"),
        Column(key="samples", label="Samples", reading="number"),
        Column(key="longer_s", label="Ride it longer by", reading="time"),
    ]
    if bike is not None:
        columns[4:4] = [
            Column(key="inside", label="In the gearbox", reading="ratio"),
            Column(key="same", label="Gear of the build", reading="number"),
            Column(key="build", label="In the build", reading="ratio"),
            Column(key="off", label="Log against build", reading="percent"),
        ]
    rows = []
    for gear, same in zip(found.gears, near, strict=True):
        band = gear.overall_ratio
        theirs = None if same is None else build[same - 1]
        rows.append(
            {
                "gear": gear.gear,
                "overall": band.value,
                "low": band.low,
                "high": band.high,
                "samples": gear.samples,
                "longer_s": None if gear.settled else gear.longer_s,
                "inside": band.value / outside,
                "same": same,
                "build": theirs,
                "off": None if theirs is None else band.value / theirs - 1.0,
            }
        )
    return Table(title="The gears", columns=tuple(columns), rows=tuple(rows))


def _segment_table(found: Ratios) -> Table:
    return Table(
        title="In which gear each segment was",
        columns=(
            Column(key="from_s", label="From", reading="time"),
            Column(key="to_s", label="To", reading="time"),
            Column(key="gear", label="Gear", reading="number"),
        ),
        rows=tuple(found.segments[:MOST_SEGMENTS]),
    )


def with_gears(build: Build, done: Geared, *, outside: float) -> Build:
    """The build with the gear ratios of a log, where the log showed every gear of it.

    outside is primary drive times sprockets, by which an overall ratio is larger than that of the gearbox [-].
    """
    count, found = len(build.record.gearbox.gears), done.found.gears
    if len(found) != count:
        problem = f"are not the {count} gears of the build"
        raise InputError("gearbox.gears", f"{len(found)} gears in the log", problem, "Ride some seconds in every gear.")
    ratios = [round(gear.overall_ratio.value / outside, 4) for gear in found]
    return build.changed({"gearbox.gears": ratios, "gearbox.ratios_are_a_guess": None})
