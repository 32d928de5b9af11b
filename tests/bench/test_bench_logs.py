"""What large logs, long rides and the search for ratios cost: reported, not judged. Not part of the ordinary test run.

python -m pytest tests/bench/test_bench_logs.py -q -s
"""

from __future__ import annotations

import json
import subprocess
import sys
from pathlib import Path

import numpy as np
import pytest
from support.clock import least_s
from support.log_texts import made_up
from support.synthetic_log import Bike, Day, phone
from support.synthetic_rides import as_it_comes, by_protocol, ridden, written_down

from ridesim import reference
from ridesim.bike import make_bike
from ridesim.buildfile.io import read
from ridesim.logs import ride
from ridesim.logs.fits.ratios import HOLD_S, find_ratios
from ridesim.units import TWO_PI

PATH = reference.DATA / "demo" / "plateau-single.toml"
PIECE = 100_000

READER = """
import json, resource, sys, time
import numpy
from ridesim.logs.reader import read_log
wall, own = time.perf_counter(), time.process_time()
log = read_log(sys.argv[1])
print(json.dumps({
    "rows": log.time_s.size, "wall_s": time.perf_counter() - wall, "own_s": time.process_time() - own,
    "peak_kb": resource.getrusage(resource.RUSAGE_SELF).ru_maxrss,
}))
"""


def write_log(path: Path, rows: int, *, stamped: bool, blank: bool) -> None:
    """A log of seven columns at 20 Hz; every other cell of engine speed blank where asked for."""
    clock = np.arange(rows) * 0.05
    speed, engine = 30 + 20 * np.sin(clock / 50), 3000 + 1000 * np.sin(clock / 37)
    with path.open("w", encoding="utf-8") as file:
        file.write("time,speed [km/h],rpm,latitude,longitude,altitude [m],battery [V]\n")
        for start in range(0, rows, PIECE):
            part = slice(start, start + PIECE)
            moments = (clock[part] * 1000).round().astype("timedelta64[ms]") + np.datetime64("2026-05-03T10:00:00.000")
            told = [f"{m}Z" for m in np.datetime_as_string(moments)] if stamped else [f"{t:.2f}" for t in clock[part]]
            file.writelines(
                f"{t},{v:.2f},{'' if blank and k % 2 else f'{n:.0f}'},45.{k:06d},14.{k:06d},120.1,12.6\n"
                for k, (t, v, n) in enumerate(zip(told, speed[part], engine[part], strict=True))
            )


@pytest.mark.parametrize(
    ("rows", "stamped", "blank"),
    [(1_800_000, False, False), (1_600_000, True, False), (1_800_000, False, True), (3_700_000, False, False)],
    ids=["seconds", "date and time", "every other engine speed blank", "as large as is read"],
)
def test_reading_a_large_table(tell, tmp_path, rows, stamped, blank, request):
    path = tmp_path / "large.csv"
    write_log(path, rows, stamped=stamped, blank=blank)
    # a child starts with its parent's peak: one in between is small, as its parent is then
    between = "import subprocess, sys; sys.exit(subprocess.run([sys.executable, '-c', *sys.argv[1:]]).returncode)"
    command = [sys.executable, "-c", between, READER, str(path)]
    done = subprocess.run(command, check=True, capture_output=True, text=True)
    told = json.loads(done.stdout)
    assert told["rows"] == rows
    tell(
        f"a table of {path.stat().st_size / 1e6:.0f} MB and {rows:,} rows ({request.node.callspec.id}): {told['own_s']:.1f} s of the "
        f"processor, {told['wall_s']:.1f} s by the clock, {told['peak_kb'] / 1024:.0f} MB at most "
        f"(goals for 100 MB: 15 s, 500 MB)"
    )


def test_a_ride_of_100_km_through_105_pairs(tell):
    rng = np.random.default_rng(1)
    clock = np.arange(5001.0)
    speed = np.clip(20 + 8 * np.sin(clock / 40) + rng.normal(0, 0.3, clock.size), 0, None)
    log = made_up(clock, speed, elevation_m=100 + 30 * np.sin(clock / 200))
    bike = make_bike(read(PATH))
    pairs = [(front, rear) for front in range(13, 18) for rear in range(36, 57)]
    spent = least_s(lambda: ride.ridden(bike, log, pairs=pairs), 3)
    way = f"{speed.sum() / 1000:.0f} km at 1 Hz"
    tell(f"{way} through {len(pairs)} pairs, with the answer in words: {spent:.2f} s (goal 1)")


@pytest.mark.parametrize("rate_hz", [1.0, 10.0, 20.0])
def test_ratios_of_a_ride(tell, rate_hz):
    rng = np.random.default_rng(2)
    bike = Bike()
    script, lasts = by_protocol(bike, rng, (*HOLD_S, HOLD_S[-1]))
    log, _ = written_down(ridden(bike, [script], [Day()], rng), [phone(rate_hz=rate_hz)], [lasts], rng)[0]
    spent = least_s(lambda: find_ratios(log, rolling_circumference_m=TWO_PI * bike.radius_m), 3)
    tell(f"ratios of {lasts / 60:.0f} minutes at {rate_hz:.0f} Hz: {1e3 * spent:.0f} ms")


RECEIVERS = {
    "errors of 0.3 s": {"noise_lasts_s": 0.3},
    "errors of 1 s": {"noise_lasts_s": 1.0},
    "errors of 3 s": {"noise_lasts_s": 3.0},
    "errors of 1 s, lag 0.8 s": {"noise_lasts_s": 1.0, "smoothing_s": 0.8},
    "errors of 1 s, moving mean 1.5 s": {"noise_lasts_s": 1.0, "smoothing_s": 0.0, "mean_s": 1.5},
}
RIDES, LASTS_S = 60, 600.0


@pytest.fixture(scope="module")
def free_rides():
    """Sixty rides as the traffic goes."""
    rng = np.random.default_rng(77)
    days = [Day(wind_m_s=float(rng.normal(0, 2.0)), gust_m_s=0.5) for _ in range(RIDES)]
    return ridden(Bike(), [as_it_comes(rng, LASTS_S) for _ in days], days, rng)


@pytest.mark.parametrize("rate_hz", [1.0, 5.0, 10.0])
@pytest.mark.parametrize("name", RECEIVERS)
def test_bands_of_ratios_hold_the_truth(tell, free_rides, name, rate_hz):
    """Gear by gear: how often a 90 % band holds the truth, and the median half width of it."""
    rng, truth = np.random.default_rng(3), np.array(Bike().ratios)
    receivers = [
        phone(latency_s=float(rng.uniform(0.2, 1.5)), rate_hz=rate_hz, **RECEIVERS[name]) for _ in range(RIDES)
    ]
    held, half = ([[] for _ in truth] for _ in range(2))
    for log, _ in written_down(free_rides, receivers, [LASTS_S] * RIDES, rng):
        for gear in find_ratios(log, rolling_circumference_m=TWO_PI * Bike().radius_m).gears:
            band = gear.overall_ratio
            k = int(np.argmin(np.abs(np.log(band.value / truth))))
            held[k].append(band.low <= truth[k] <= band.high)
            half[k].append((band.high - band.low) / 2 / band.value)
    shares = ", ".join(f"{np.mean(a):.0%} ({np.median(b):.2%})" for a, b in zip(held, half, strict=True))
    tell(f"ratios, {name}, {rate_hz:g} Hz: bands of gears 1 to 5 hold (half width): {shares} (goal 90 %)")
