"""What no page would send, and spoilt files: seeded mutations of good logs, so that a reader that refuses can be told from one that falls over."""

from __future__ import annotations

import random
from typing import Any

RUBBISH: list[Any] = [
    None, True, False, 0, -1, 7, 10**30, 0.5, float("nan"), float("inf"), "", "x", "\x00", "\ud800", "🏍" * 50, "%s{0.__class__}", "<script>",
    "?build=marsh-single", "?front=9&front=x&nope=1", "x" * 100_000, "../../etc/passwd", "data:text/plain;base64,AAAA", "data:,", "1e999", "NaN", "-1", "0x10", "١٢", "1 mm; DROP TABLE", "1 of " * 60,
    [], {}, [None], [[]], {"a": 1}, ["x"] * 5000, [0] * 5000, [{}] * 50, {"id": "x"}, {"name": 1}, {"data": None}, {"choice": [], "heads": {}, "picked": 5},
    {"points": [{"x": "a"}]}, {"range": {"x": [1, {}]}}, {"kept": {}}, [{"kept": "x"}], [{"kept": 1, "name": None}], {"text": 5, "stands": []},
]  # fmt: skip

_SPLICES = (
    b"\0", b"\xff\xfe", b"\xef\xbb\xbf", b"\x80\x81", b"nan", b"NaN", b"inf", b"-inf", b"1e300", b"-1e300", b"1e-320",
    b"-1", b'"', b'"""', b";", b",", b"\t", b"|", b"\n", b"\r", b"\r\n\r\n", b"=cmd()", b"9" * 400, b"0x10", b"1_0",
    b"\xc2\xa0", "١٢".encode(), b"<", b">", b"&", b"&amp;", b"<!DOCTYPE x>", b"<!ENTITY a 'b'>", b"]]>", b"<trkpt>",
    b"</trkpt>", b"<time>", b"<speed>x</speed>", b"24:61:99", b"2026-02-31T00:00:00Z", b"0001-01-01T00:00:00Z",
    b"9999-12-31T23:59:59Z", b"lat='200'", b"12:00", b"T", b"Z", b"e", b"+",
)  # fmt: skip


def csv_logs() -> list[bytes]:
    """Good logs of several shapes."""
    rows = [(k * 0.2, 10 + 0.3 * k, 3000 + 60 * k, 200 + 0.1 * k) for k in range(30)]
    plain = "time [s],speed [km/h],rpm,altitude [m]\n" + "".join(
        f"{t:.2f},{v:.2f},{n},{h:.1f}\n" for t, v, n, h in rows
    )
    german = "Zeit [s];Geschwindigkeit [km/h];Drehzahl [U/min]\n" + "".join(
        f"{t:.2f};{v:.2f};{n}\n".replace(".", ",") for t, v, n, _ in rows
    )
    stamped = "timestamp\tspeed_mps\n" + "".join(f"2026-05-03T10:00:{t:06.3f}Z\t{v:.3f}\n" for t, v, *_ in rows)
    clocked = '"Time","Speed (mph)"\r\n' + "".join(f'"10:00:{t:04.1f}","{v:.1f}"\r\n' for t, v, *_ in rows)
    places = "t|lat|lon\n" + "".join(f"{t:.2f}|{45 + 1e-5 * k:.7f}|14.0\n" for k, (t, *_) in enumerate(rows))
    return [
        plain.encode(),
        german.encode("utf-16"),
        german.encode("latin-1"),
        stamped.encode(),
        clocked.encode("utf-8-sig"),
        places.encode(),
    ]


def gpx_logs() -> list[bytes]:
    """Good tracks, with and without the receiver's speed."""

    def track(version: str, extra: str) -> bytes:
        points = "".join(
            f'<trkpt lat="{45 + 1e-4 * k:.6f}" lon="14.0"><ele>{100 + k}</ele><time>2026-05-03T10:00:{k:02d}Z</time>{extra}</trkpt>'
            for k in range(20)
        )
        return (
            f'<?xml version="1.0" encoding="UTF-8"?><gpx version="{version}" creator="own" '
            f'xmlns="http://www.topografix.com/GPX/{version.replace(".", "/")}"><trk><trkseg>{points}</trkseg></trk></gpx>'
        ).encode()

    return [
        track("1.1", ""),
        track("1.0", "<speed>11.1</speed>"),
        track("1.1", "<extensions><speed>11.1</speed></extensions>"),
    ]


def spoilt(good: bytes, rng: random.Random) -> bytes:
    """One to four mutations of a good file; half of them swap a sign for another that a log may hold, so that some get through."""
    data = bytearray(good)
    for _ in range(rng.choice((1, 1, 1, 2, 4))):
        at = rng.randrange(len(data) + 1)
        what = rng.randrange(12)
        if what == 0 and data:
            data[at % len(data)] = rng.randrange(256)
        elif what == 1:
            del data[at : at + rng.choice((1, 2, 7, 60))]
        elif what == 2:
            data[at:at] = rng.choice(_SPLICES)
        elif what == 3:
            del data[at:]
        elif what == 4:
            part = bytes(data[at : at + rng.choice((5, 50, 300))])
            other = rng.randrange(len(data) + 1)
            data[other:other] = part
        elif what == 5:
            data[at : at + 3] = rng.choice(_SPLICES)
        elif what > 6 and data:
            data[at % len(data)] = rng.choice(b"0123456789.,;:-+eETZ \n")
        else:
            data[at:at] = bytes(rng.randrange(256) for _ in range(rng.choice((1, 4, 40))))
    return bytes(data)
