"""Small logs: as the text of a table or a track, four samples with their speeds known, or of samples made up."""

from __future__ import annotations

from typing import Any

import numpy as np

from ridesim.logs.log import Log, frozen

ROWS = [(0.0, 36.0, 3000), (0.2, 37.8, 3100), (0.4, 39.6, 3200), (0.6, 41.4, 3300)]
SPEEDS = [10.0, 10.5, 11.0, 11.5]


def made_up(time_s: Any, speed_m_s: Any, **channels: Any) -> Log:
    """A log of samples: one speed or many, and other channels as they are."""
    time = np.asarray(time_s, dtype=float)
    speed = np.broadcast_to(np.asarray(speed_m_s, dtype=float), time.shape).copy()
    way = channels.pop("distance_m", np.cumsum(np.diff(time, prepend=time[0]) * speed))
    other = {name: frozen(np.asarray(values, dtype=float)) for name, values in channels.items()}
    return Log(name="made up", time_s=frozen(time), speed_m_s=frozen(speed), distance_m=frozen(way), **other)


def text(header, rows, delimiter=","):
    return "\n".join([header, *(delimiter.join(map(str, row)) for row in rows)]) + "\n"


def point(k, extra="", when=True):
    stamp = f"<time>2026-05-03T10:00:{k:02d}Z</time>" if when else ""
    return f'<trkpt lat="{45 + 1e-4 * k:.6f}" lon="14.0"><ele>{100 + k}</ele>{stamp}{extra}</trkpt>'


def gpx(points, version="1.1", head=""):
    return (
        f'<?xml version="1.0"?>{head}<gpx version="{version}" creator="own" xmlns="http://www.topografix.com/GPX/'
        f'{version.replace(".", "/")}"><trk><trkseg>{points}</trkseg></trk></gpx>'
    ).encode()
