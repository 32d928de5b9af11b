"""One ride written in some three hundred layouts: which channels come out, and what is said of the rest."""

from __future__ import annotations

import json
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from datetime import UTC, datetime, timedelta
from typing import Any

import numpy as np
import pytest

from ridesim.logs.reader import read_log_bytes
from ridesim.units import TWO_PI

T = np.arange(0.0, 40.0, 0.5)  # s
SPEED = 15.0 + 5.0 * np.sin(T / 8.0)  # m/s
TURNS = np.round(3200.0 + 2300.0 * np.sin(T / 8.0))  # rev/min: from 900 to 5500
NORTH = 46.0 + (15.0 * T + 40.0 * (1.0 - np.cos(T / 8.0))) / 111195.08  # deg
EAST = np.full(T.size, 14.5)
HEIGHT = 950.0 + 2.0 * T  # m: over the first thousand on the way
BEGIN = datetime(2026, 5, 3, 10, 59, 45, tzinfo=UTC)
MOMENTS = [BEGIN + timedelta(seconds=t) for t in T]
SERIAL = [46145.0 + (10 * 3600 + 59 * 60 + 45 + t) / 86400 for t in T]
KMH, MPH, KN = SPEED * 3.6, SPEED / 0.44704, SPEED * 3600 / 1852
Cells = Sequence[Any]


@dataclass(frozen=True, kw_only=True)
class Layout:
    """A file, the channels that must come out of it, and what must be said: {what: how many} of what was found."""

    name: str
    data: bytes
    channels: str  # of t, v, n, p (position), e (elevation)
    said: dict[str, int] = field(default_factory=dict)
    lost: tuple[int, ...] = ()  # rows that are left out
    not_read: tuple[str, ...] = ()


LAYOUTS: list[Layout] = []


def number(value: float, digits: int, decimal: str = ".", thousands: str = "") -> str:
    text = f"{value:,.{digits}f}"
    return text.replace(",", "T").replace(".", decimal).replace("T", thousands)


def column(values: Cells, digits: int = 3, decimal: str = ".", thousands: str = "", unit: str = "") -> list[str]:
    return [number(v, digits, decimal, thousands) + unit for v in values]


def rows(*columns: Cells, mark: str = ",") -> list[str]:
    return [mark.join(map(str, row)) for row in zip(*columns, strict=True)]


def layout(
    name: str,
    heading: str | None,
    lines: Sequence[str],
    channels: str,
    *,
    encoding: str = "utf-8",
    end: str = "\n",
    said: dict[str, int] | None = None,
    lost: tuple[int, ...] = (),
    not_read: tuple[str, ...] = (),
) -> None:
    text = end.join([*([heading] if heading is not None else []), *lines]) + end
    one = Layout(
        name=name, data=text.encode(encoding), channels=channels, said=said or {}, lost=lost, not_read=not_read
    )
    LAYOUTS.append(one)


def table(name: str, heading: str, channels: str, *columns: Cells, mark: str = "", **more: Any) -> None:
    mark = mark or (";" if ";" in heading else ",")
    layout(name, heading, rows(*columns, mark=mark), channels, **more)


def stamped(form: str) -> list[str]:
    return [m.strftime(form) for m in MOMENTS]


def quoted(cells: Cells) -> list[str]:
    return [f'"{cell}"' for cell in cells]


TIMES, SPEEDS, REVS, LAT, LON = column(T), column(KMH), column(TURNS, 0), column(NORTH, 9), column(EAST)


# ---- headings in ten languages, each with units and without, delimiters and decimals going round
LANGUAGES = {
    "English": ("Time [s]", "Speed [km/h]", "Engine speed [rpm]", "Latitude", "Longitude", "Altitude [m]"),
    "German": ("Zeit [s]", "Geschwindigkeit [km/h]", "Drehzahl [U/min]", "Breite", "Länge", "Höhe [m]"),
    "French": ("Temps (s)", "Vitesse (km/h)", "Régime (tr/min)", "Latitude", "Longitude", "Altitude (m)"),
    "Spanish": ("Tiempo [s]", "Velocidad [km/h]", "Régimen del motor [rpm]", "Latitud", "Longitud", "Altitud [m]"),
    "Italian": ("Tempo [s]", "Velocità [km/h]", "Giri motore [giri/min]", "Latitudine", "Longitudine", "Quota [m]"),
    "Portuguese": ("Tempo (s)", "Velocidade (km/h)", "Rotação (rpm)", "Latitude", "Longitude", "Altitude (m)"),
    "Polish": ("Czas [s]", "Prędkość [km/h]", "Obroty [obr/min]", "Szerokość", "Długość", "Wysokość [m]"),
    "Dutch": ("Tijd [s]", "Snelheid [km/u]", "Toerental [omw/min]", "Breedtegraad", "Lengtegraad", "Hoogte [m]"),
    "Czech": ("Čas [s]", "Rychlost [km/h]", "Otáčky motoru [ot/min]", "Šířka", "Délka", "Výška [m]"),
    "Swedish": ("Tid [s]", "Hastighet [km/h]", "Varvtal [varv/min]", "Latitud", "Longitud", "Höjd [m]"),
}
BARE = {  # the engine speed without a unit
    "English": "Engine", "German": "Motordrehzahl", "French": "Régime moteur", "Spanish": "Revoluciones", "Italian": "Giri",
    "Portuguese": "Rotações", "Polish": "Prędkość obrotowa", "Dutch": "Toeren", "Czech": "Otáčky", "Swedish": "Motorvarvtal",
}  # fmt: skip
for language, heads in LANGUAGES.items():
    for mark, decimal in ((",", "."), (";", ","), ("\t", ","), ("|", ".")):
        values = [column(c, d, decimal) for c, d in ((T, 2), (KMH, 2), (TURNS, 0), (NORTH, 7), (EAST, 6), (HEIGHT, 1))]
        table(f"{language}, {mark!r} {decimal}", mark.join(heads), "tvnpe", *values, mark=mark)
    bare = [heads[0], heads[1], BARE[language]]
    table(f"{language}, bare engine speed", ";".join(bare), "tvn", TIMES, SPEEDS, REVS)
for language, encoding in {
    "German": "latin-1", "French": "cp1252", "Polish": "cp1250", "Czech": "cp1250", "Swedish": "utf-16", "Spanish": "utf-8-sig",
    "Italian": "utf-16-le", "Portuguese": "utf-16-be", "Dutch": "ascii",
}.items():  # fmt: skip
    body = rows(column(T, 2, ","), column(KMH, 2, ","), REVS, mark=";")
    layout(f"{language} in {encoding}", ";".join(LANGUAGES[language][:3]), body, "tvn", encoding=encoding, end="\r\n")

# ---- decimals by column
cells = quoted(column(T + 0.016, 3, ",")), quoted(column(KMH, 2, ","))
table("quoted decimal commas", "time [s],speed [km/h]", "tv", *cells)
for mark, name in ((";", "semicolons"), ("\t", "tabs")):
    head = mark.join(("time [s]", "speed [km/h]", "engine [rev/min]", "elevation [m]"))
    cells = (column(T + 1.016, 3, ","), column(KMH, 3, ","), column(TURNS, 0, ",", "."), column(HEIGHT, 0, ",", "."))
    table(f"decimal commas, points between thousands, {name}", head, "tvne", *cells, mark=mark)
    cells = (column(T, 3), column(KMH, 3), column(TURNS, 0, ".", ","), column(HEIGHT, 0, ".", ","))
    table(f"decimal points, commas between thousands, {name}", head, "tvne", *cells, mark=mark)
    mixed = (column(T + 1.016, 3, ","), column(KMH, 3, "."), REVS, column(HEIGHT, 1, ","))
    table(f"commas here and points there, {name}", head, "tvne", *mixed, mark=mark)
    spaced = (column(T, 1, ","), column(KMH, 1, ","), column(TURNS, 0, ",", " "), column(HEIGHT, 1, ",", "\u202f"))
    table(f"blanks between thousands, {name}", head, "tvne", *spaced, mark=mark)
    swiss = (column(T, 1), column(KMH, 1), column(TURNS, 0, ".", "'"), column(HEIGHT, 1, ".", "’"))
    table(f"apostrophes between thousands, {name}", head, "tvne", *swiss, mark=mark)
table("quoted thousands", "time [s],speed [km/h],rpm", "tvn", TIMES, SPEEDS, quoted(column(TURNS, 0, ".", ",")))
table("decimal commas in one column", "t;v [m/s];n [1/min]", "tvn", TIMES, column(SPEED), column(TURNS, 1, ","))
table("exponents", "time [s],speed [m/s]", "tv", [f"{t:.3e}" for t in T], [f"{v:.6E}" for v in SPEED])
table("plus signs", "time [s];speed [m/s]", "tv", [f"+{c}" for c in TIMES], [f"+{c}" for c in column(SPEED)])

# ---- stamps
STAMPS: dict[str, Callable[[datetime], str]] = {
    "ISO with Z": lambda m: m.isoformat(timespec="milliseconds").replace("+00:00", "Z"),
    "ISO with an offset": lambda m: m.isoformat(timespec="milliseconds"),
    "ISO with a blank": lambda m: m.strftime("%Y-%m-%d %H:%M:%S.%f"),
    "ISO with a decimal comma": lambda m: m.strftime("%Y-%m-%dT%H:%M:%S,") + f"{m.microsecond // 1000:03d}",
    "day.month.year": lambda m: m.strftime("%d.%m.%Y %H:%M:%S.%f")[:-3],
    "month/day/year, a.m.": lambda m: m.strftime("%m/%d/%Y %I:%M:%S.%f")[:-3] + m.strftime(" %p"),
    "year/month/day": lambda m: m.strftime("%Y/%m/%d %H:%M:%S.%f")[:-3],
    "a month in letters": lambda m: m.strftime("%d-%b-%Y %H:%M:%S.%f")[:-3],
    "ISO in small letters": lambda m: m.strftime("%Y-%m-%dt%H:%M:%S.%fz"),
    "ISO without marks": lambda m: m.strftime("%Y%m%dT%H%M%S.%fZ"),
    "a bare offset": lambda m: m.strftime("%Y-%m-%d %H:%M:%S.%f +0000"),
    "a zone by its name": lambda m: m.strftime("%Y-%m-%d %H:%M:%S.%f UTC"),
    "a day of the week": lambda m: m.strftime("%a %b %d %H:%M:%S.%f GMT+00:00 %Y"),
    "a month in full": lambda m: m.strftime("%d %B %Y %I:%M:%S.%f %p"),
    "day-month-year": lambda m: m.strftime("%d-%m-%Y %H:%M:%S.%f"),
    "a year of two digits": lambda m: m.strftime("%y.%m.%d %H:%M:%S.%f"),
    "hh:mm:ss.mmm": lambda m: m.strftime("%H:%M:%S.%f")[:-3],
    "hh:mm:ss,mmm": lambda m: m.strftime("%H:%M:%S,") + f"{m.microsecond // 1000:03d}",
    "hh:mm:ss:mmm": lambda m: m.strftime("%H:%M:%S:") + f"{m.microsecond // 1000:03d}",
    "date and hh:mm:ss:mmm": lambda m: m.strftime("%d/%m/%Y %H:%M:%S:") + f"{m.microsecond // 1000:03d}",
    "hhmmss.s": lambda m: m.strftime("%H%M%S.%f")[:-5],
    "epoch in s": lambda m: f"{m.timestamp():.3f}",
    "epoch in ms": lambda m: f"{m.timestamp() * 1000:.0f}",
    "epoch in us": lambda m: f"{m.timestamp() * 1e6:.0f}",
}
for name, write in STAMPS.items():
    for mark in (";", "\t"):
        table(f"{name}, {mark!r}", f"time{mark}speed [km/h]", "tv", map(write, MOMENTS), SPEEDS, mark=mark)
table("serial dates", "time;speed [km/h]", "tv", column(SERIAL, 10), SPEEDS)
table("serial dates with commas", "Datum/Zeit;Tempo [km/h]", "tv", column(SERIAL, 9, ","), column(KMH, 2, ","))
table("parts of a day", "time,speed [km/h]", "tv", [f"{d % 1:.9f}" for d in SERIAL], SPEEDS)
cells = stamped("%Y-%m-%d"), stamped("%H:%M:%S.%f"), SPEEDS
table("a date and a time of day", "date,time,speed [km/h]", "tv", *cells)
cells = stamped("%H:%M:%S"), stamped("%H:%M:%S"), column(T, 1), SPEEDS
table("several clocks", "UTC time;time of day;elapsed (s);speed [km/h]", "tv", *cells)
table("minutes", "time [min],speed [km/h]", "tv", column(T / 60, 6), SPEEDS)
table("mm:ss.s", "time,speed [km/h]", "tv", [f"{int(t // 60):02d}:{t % 60:04.1f}" for t in T], SPEEDS)
table("milliseconds by their step", "time,speed [km/h]", "tv", column(T * 1000 + 4000, 0), SPEEDS)
table("milliseconds alone", "ms,km/h", "tv", column(T * 1000, 0), SPEEDS)

table("milliseconds in a word", "millis,speed [km/h]", "tv", column(T * 1000 + 8e6, 0), SPEEDS)
for head in ("Date/Time", "Stamp"):
    table(head, f"{head};speed_kmh", "tv", stamped("%Y-%m-%d %H:%M:%S.%f"), SPEEDS)

# ---- blanks between the cells
PLAIN = rows(TIMES, SPEEDS, REVS, mark=" ")
layout("blanks, bare headings", "time_s speed_kmh rpm", PLAIN, "tvn")
layout("blanks in headings", "time [s] speed [km/h] engine [rpm]", PLAIN, "tvn")
padded = [f"{a:>8} {b:>10} {c:>6}" for a, b, c in zip(TIMES, SPEEDS, REVS, strict=True)]
layout("runs of blanks", " time_s   speed_kmh     rpm", padded, "tvn")
cells = column(T, 2, ","), column(KMH, 2, ","), REVS
table("blanks and decimal commas", "czas_s prędkość_kmh obroty", "tvn", *cells, mark=" ")
for head in ("date time", "timestamp"):
    cells = stamped("%Y-%m-%d %H:%M:%S.%f"), SPEEDS
    table(f"blanks and stamps under {head}", f"{head} speed_kmh", "tv", *cells, mark=" ")

# ---- units
for unit, values in {
    "km/h": KMH, "kmh": KMH, "kph": KMH, "KM/H": KMH, "km / h": KMH, "m/s": SPEED, "m s⁻¹": SPEED, "mps": SPEED, "mph": MPH,
    "mi/h": MPH, "miles per hour": MPH, "kn": KN, "kts": KN, "knots": KN,
}.items():  # fmt: skip
    table(f"speed in {unit}", f"time [s],GPS speed [{unit}]", "tv", TIMES, column(values, 4))
    layout(f"speed in {unit}, in a row of its own", "time,speed", [f"s,{unit}", *rows(TIMES, column(values, 4))], "tv")
    table(
        f"speed in {unit}, in its cells", "time;speed", "tv", column(T, unit=" s"), column(values, 4, unit=f" {unit}")
    )
for head, values in {
    "speed_mps": SPEED, "SpeedKmh": KMH, "velocity mph": MPH, "v [kn]": KN, "vss_kmh": KMH, "VSS (km/h)": KMH, "Speed, km/h": KMH,
    "kph": KMH, "Speed (miles per hour)": MPH, "Speed (kilometers/hour)": KMH, "GPS Speed (Meters/second)": SPEED,
    "Speed (GPS)(km/h)": KMH, "Speed (GPS) [knots]": KN, "speed [m/sec]": SPEED,
}.items():  # fmt: skip
    table(f"speed as {head}", f"time [s];{head}", "tv", TIMES, column(values, 4))
for head, per in {
    "n [1/min]": 1.0, "Engine (r/min)": 1.0, "engine_rpm": 1.0, "RPM": 1.0, "rpm (x1000)": 1e-3, "Motor [rad/s]": TWO_PI / 60,
    "Engine [Hz]": 1 / 60, "crankshaft revs [rev/s]": 1 / 60, "n_mot [min⁻¹]": 1.0, "Motor [U/min]": 1.0, "Engine": 1.0,
    "Speed of the engine [rpm]": 1.0,
}.items():  # fmt: skip
    table(f"engine speed as {head}", f"time [s],speed [km/h],{head}", "tvn", TIMES, SPEEDS, column(TURNS * per, 5))
cells = column(T, 1, ",", unit=" s"), column(KMH, 2, ",", unit=" km/h"), column(TURNS, 0, ",", ".", unit=" U/min")
table("units in cells, decimal commas", "Zeit;Tempo;Drehzahl", "tvn", *cells)
for head, per in {"altitude (ft MSL)": 0.3048, "ele (meters)": 1.0, "Alt. [m]": 1.0}.items():
    cells = (TIMES, SPEEDS, column(HEIGHT / per, 2))
    table(f"elevation as {head}", f"time [s],speed [km/h],{head}", "tve", *cells)
table("Tempo is the time in Italian", "Tempo,Velocità [km/h]", "tv", TIMES, SPEEDS)
table("Tempo is the speed in German", "Zeit,Tempo [km/h]", "tv", TIMES, SPEEDS)
table("Tempo without a unit, proved", "Zeit,Tempo,lat,lon", "tvp", TIMES, SPEEDS, column(NORTH, 8), LON)

head = "Aikaleima [s];Vauhti [km/h];Moottori [1/min]"
table("a language that is not known, by its units", head, "tvn", TIMES, SPEEDS, REVS)
table("numbered rows under a #", "#,time [s],speed [km/h],rpm", "tvn", range(T.size), TIMES, SPEEDS, REVS)
table("blanks behind the delimiters, in quotes", '"Time (s)", "Speed (km/h)"', "tv", TIMES, SPEEDS, mark=", ")
head = "Czas;Prędkość pojazdu (km/h);Obroty silnika (obr./min)"
table("a unit beside words in cp1250", head, "tvn", TIMES, SPEEDS, REVS, encoding="cp1250")

# ---- columns that are none of ours
OTHERS = {
    "lat g": 0.1, "long g": -0.2, "t_oil": 92.0, "v_batt": 13.8, "speed accuracy [m/s]": 0.3, "lean angle [deg]": 12.0, "wheel rpm": 700.0,
    "engine temperature [°C]": 88.0, "max speed [km/h]": 99.0, "Länge [m]": 5.0, "throttle [%]": 40.0, "lap time": 61.0, "speed (max) [m/s]": 99.0,
}  # fmt: skip
UNUSED = {"columns not used": 1}
for name, value in OTHERS.items():
    cells = TIMES, SPEEDS, [value] * T.size, REVS
    table(f"beside {name}", f"time [s],speed [km/h],{name},rpm", "tvn", *cells, said=UNUSED)
everything = ["time [s]", "speed [km/h]", *OTHERS, "rpm", "latitude", "longitude"]
table("beside all of them", ",".join(everything), "tvnp", TIMES, SPEEDS, *([v] * T.size for v in OTHERS.values()), REVS, column(NORTH, 7), column(EAST, 5), said={"columns not used": len(OTHERS)})  # fmt: skip
table("one speed in two units", "time [s],speed [km/h],speed [mph]", "tv", TIMES, SPEEDS, column(MPH), said=UNUSED)
head, cells = (
    "time [s],speed [km/h],altitude GPS [m],altitude baro [m]",
    (TIMES, SPEEDS, column(HEIGHT), column(HEIGHT)),
)
table("two elevations", head, "tv", *cells, not_read=("elevation",))
cells = TIMES, SPEEDS, ["1"] * T.size
table("an engine that tells no speed", "time [s],speed [km/h],Engine", "tv", *cells, not_read=("engine speed",))

# ---- blank columns and lines, preambles, odd lines
HEAD, BODY = "time [s],speed [km/h],rpm", rows(TIMES, SPEEDS, REVS)
for name, head, lines in (
    ("a blank column in the middle", "time [s],,speed [km/h],rpm", [line.replace(",", ",,", 1) for line in BODY]),
    ("a blank column in front", f",{HEAD}", [f",{line}" for line in BODY]),
    ("three blank columns behind", f"{HEAD},,,", [f"{line},,," for line in BODY]),
    ("more delimiters behind the figures", HEAD, [f"{line},," for line in BODY]),
    ("a delimiter behind the headings", f"{HEAD},", BODY),
    ("a heading without figures", f"{HEAD},altitude [m],lat,lon", [f"{line},,," for line in BODY]),
    ("blank lines all over", f"\n\n{HEAD}", [f"{line}\n" for line in BODY]),
    ("a blank line behind the headings", f"{HEAD}\n", BODY),
    ("a row of units and blanks", f"{HEAD},note\n[s],[km/h],,\n", [f"{line}," for line in BODY]),
    ("remarks", f"# a logger, version 3\n# rider, bike\n{HEAD}", [*BODY[:9], "# a stop", *BODY[9:]]),
    ("remarks set in", f"  # a logger, version 3, exported\n  # rider, bike, day\n{HEAD}", BODY),
    ("a preamble of pairs", f"Device,own\nDate,2026-05-03\nRider,somebody\n{HEAD}", BODY),
    ("a preamble as wide as the table", f"Device,own,3\nRider,somebody,\n\n{HEAD}", BODY),
    ("a preamble of sentences", f"A ride on a Sunday\nIt was dry.\n\n{HEAD}", BODY),
    ("headings in quotes", ",".join(quoted(HEAD.split(","))), BODY),
    ("all in quotes", ",".join(quoted(HEAD.split(","))), [",".join(quoted(line.split(","))) for line in BODY]),
    ("blanks around the cells", HEAD.replace(",", " , "), [line.replace(",", " , ") for line in BODY]),
    ("the headings come again", HEAD, [*BODY[:30], HEAD, *BODY[30:]]),
    ("capitals", HEAD.upper(), BODY),
):  # fmt: skip
    layout(name, head, lines, "tvn")
table("units in a second row", "Zeit;Geschwindigkeit;Motordrehzahl\ns;km/h;1/min", "tvn", TIMES, SPEEDS, REVS)
layout("carriage returns alone", HEAD, BODY, "tvn", end="\r")
layout("a mark of byte order, the other way round", f"\ufeff{HEAD}", BODY, "tvn", encoding="utf-16-be")
for name, line, what in (
    ("a line of garbage", "%&/()=?", "lines that are no rows"),
    ("a line that is cut off", "12.5,4", "lines that are no rows"),
    ("a line with a cell too many", "12.25,54,3000,7", "lines that are no rows"),
    ("a total in the middle", "Total,,", "lines that are no rows"),
    ("a speed that is a word", "12.25,fast,3000", "cells of speed that are no figures"),
    ("a row twice", BODY[24], "duplicates dropped"),
    ("a step back of 0.1 s", "11.9,54,3000", "rows back in time"),
    ("a clock that leaps once", "99999,54,3000", "rows back in time"),
    ("a row without a time", ",54,3000", "rows without a time"),
    ("a row without a speed", "12.25,,3000", "rows without a speed"),
):
    layout(name, HEAD, [*BODY[:25], line, *BODY[25:]], "tvn", said={what: 1})
totals = "Mean,54.2,", "Highest: 71 km/h"
layout("totals at the end", HEAD, [*BODY, *totals], "tvn", said={"lines that are no rows": 2})
layout("a row that is lost", HEAD, [*BODY[:25], "", *BODY[26:]], "tvn", lost=(25,))
cells = TIMES, ["-1"] * 5 + SPEEDS[5:], REVS
table("speeds of minus one without a fix", HEAD, "tvn", *cells, lost=(0, 1, 2, 3, 4))
cells = TIMES, SPEEDS, [turns if k % 3 != 2 else "--" for k, turns in enumerate(REVS)]
table("blanks for what is not known", HEAD, "tvn", *cells)
table("positions alone", "time [s],lat,lon", "tp", TIMES, LAT, LON)
cells = TIMES, column(NORTH, 9, unit=" N"), column(EAST, unit=" E")
table("positions with letters", "time [s];lat;lon", "tp", *cells)
cells = TIMES, column(NORTH, 9, unit="°"), column(EAST, unit="°")
table("positions with degrees", "time [s];lat [°];lon [°]", "tp", *cells)
cells = column(T, 1, ","), column(NORTH, 9, ","), column(EAST, 6, ",")
table("positions, decimal commas", "czas [s];szer. geogr.;dł. geogr.", "tp", *cells)
table("speed without a unit, proved by positions", "time,speed,lat,lon", "tvp", TIMES, column(MPH), LAT, LON)

# ---- records and tracks
OBJECTS = [{"time": t, "speed_kmh": round(v, 4), "rpm": n} for t, v, n in zip(T, KMH, TURNS, strict=True)]
LINES = [*map(json.dumps, OBJECTS)]
layout("JSON lines", None, LINES, "tvn")
layout("a list of objects, one a line", "[", [*(f"{line}," for line in LINES[:-1]), LINES[-1], "]"], "tvn")
layout("a list of objects on one line", None, [json.dumps(OBJECTS)], "tvn")
short = {"time": "ts", "speed_kmh": "spd_kmh", "rpm": "n_motor"}
layout("short names", None, [json.dumps({short[key]: v for key, v in one.items()}) for one in OBJECTS], "tvn")
nested = [
    {"timestamp": m.isoformat(), "gps": {"lat": a, "lon": 14.5, "speed_mps": v}}
    for m, a, v in zip(MOMENTS, NORTH, SPEED, strict=True)
]
layout("JSON lines with objects in them", None, [json.dumps(one) for one in nested], "tvp")
layout("JSON lines with gaps and a bad line", None, [*(json.dumps(one if k % 4 != 1 else one | {"rpm": None}) for k, one in enumerate(OBJECTS[:40])), "{oops", *LINES[40:]], "tvn", said={"lines that are no rows": 1})  # fmt: skip


def gpx(point: Callable[[int], str]) -> list[str]:
    start, end = '<?xml version="1.0"?><gpx version="1.1"><trk><trkseg>', "</trkseg></trk></gpx>"
    return [start, *map(point, range(T.size)), end]


def tcx(point: Callable[[int], str]) -> list[str]:
    start, end = (
        "<TrainingCenterDatabase><Activities><Activity><Lap><Track>",
        "</Track></Lap></Activity></Activities></TrainingCenterDatabase>",
    )
    return ['<?xml version="1.0" encoding="UTF-8"?>', start, *map(point, range(T.size)), end]


def stamp(k: int) -> str:
    return MOMENTS[k].isoformat(timespec="milliseconds").replace("+00:00", "Z")


layout("GPX", None, gpx(lambda k: f'<trkpt lat="{NORTH[k]:.9f}" lon="14.5"><ele>{HEIGHT[k]}</ele><time>{stamp(k)}</time></trkpt>'), "tpe")  # fmt: skip
layout("GPX with speeds", None, gpx(lambda k: f'<trkpt lat="{NORTH[k]:.9f}" lon="14.5"><time>{stamp(k)}</time><extensions><speed>{SPEED[k]}</speed><rpm>{TURNS[k]}</rpm></extensions></trkpt>'), "tvnp")  # fmt: skip
layout("TCX", None, tcx(lambda k: f"<Trackpoint><Time>{stamp(k)}</Time><Position><LatitudeDegrees>{NORTH[k]:.9f}</LatitudeDegrees><LongitudeDegrees>14.5</LongitudeDegrees></Position><AltitudeMeters>{HEIGHT[k]}</AltitudeMeters></Trackpoint>"), "tpe")  # fmt: skip
layout("TCX with speeds", None, tcx(lambda k: f"<Trackpoint><Time>{stamp(k)}</Time><Position><LatitudeDegrees>{NORTH[k]:.9f}</LatitudeDegrees><LongitudeDegrees>14.5</LongitudeDegrees></Position><Extensions><TPX xmlns='urn:own'><Speed>{SPEED[k]}</Speed></TPX></Extensions></Trackpoint>"), "tvp")  # fmt: skip


def faults(one: Layout) -> list[str]:
    """What is wrong with what was read of a layout; empty where nothing is."""
    log = read_log_bytes(one.data, one.name)
    keep = np.setdiff1d(np.arange(T.size), one.lost)
    if log.time_s.size != keep.size:
        return [f"{log.time_s.size} rows"]
    turns = None if log.engine_speed_rad_s is None else log.engine_speed_rad_s * 60 / TWO_PI
    moved = None if log.north_m is None else log.north_m + (NORTH[keep[0]] - 46.0) * 111195.08
    by_place = "v" not in one.channels
    some = slice(2, -2) if by_place else slice(None)
    wrong = []
    for key, name, got, wanted, off in (
        ("t", "time", log.time_s, T[keep] - T[keep[0]], 2e-3),
        ("v", "speed", log.speed_m_s[some], SPEED[keep][some], 0.06 if by_place else 0.02),
        ("n", "engine speed", turns, TURNS[keep], 6.0),
        ("p", "position", moved, (NORTH[keep] - 46.0) * 111195.08, 0.1),
        ("e", "elevation", log.elevation_m, HEIGHT[keep], 0.1),
    ):
        if (got is None) is (key in one.channels + "v"):
            wrong.append(f"no {name}" if got is None else f"{name} that is none")
        elif got is not None:
            known = np.isfinite(got)
            if known.sum() <= 0.6 * known.size or not np.allclose(got[known], wanted[known], atol=off):
                wrong.append(f"wrong {name}")
    found = {row.what: max(row.rows, int(row.read_as)) for row in log.found if row.what in one.said}
    wrong += [f"{what}: {found.get(what)}" for what, n in one.said.items() if found.get(what) != n]
    told = " ".join(log.notes)
    return wrong + [f"not a word of {role}" for role in one.not_read if log.not_read.get(role, "?\0") not in told]


@pytest.mark.parametrize("one", LAYOUTS, ids=lambda one: one.name)
def test_every_layout_gives_the_same_ride(one):
    assert faults(one) == []
