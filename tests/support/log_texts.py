"""Small logs as the text of a table or a track: four samples, their speeds known."""

from __future__ import annotations

ROWS = [(0.0, 36.0, 3000), (0.2, 37.8, 3100), (0.4, 39.6, 3200), (0.6, 41.4, 3300)]
SPEEDS = [10.0, 10.5, 11.0, 11.5]


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
