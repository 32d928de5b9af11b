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
        layout(f"{language}, {mark!r} {decimal}", mark.join(heads), rows(*values, mark=mark), "tvnpe")
    bare = [heads[0], heads[1], BARE[language]]
    layout(
        f"{language}, bare engine speed",
        ";".join(bare),
        rows(column(T), column(KMH), column(TURNS, 0), mark=";"),
        "tvn",
    )
for language, encoding in {
    "German": "latin-1", "French": "cp1252", "Polish": "cp1250", "Czech": "cp1250", "Swedish": "utf-16", "Spanish": "utf-8-sig",
    "Italian": "utf-16-le", "Portuguese": "utf-16-be", "Dutch": "ascii",
}.items():  # fmt: skip
    body = rows(column(T, 2, ","), column(KMH, 2, ","), column(TURNS, 0), mark=";")
    layout(f"{language} in {encoding}", ";".join(LANGUAGES[language][:3]), body, "tvn", encoding=encoding, end="\r\n")

# ---- decimals by column
QUOTED = [f'"{cell}"' for cell in column(T + 0.016, 3, ",")]
layout("quoted decimal commas", "time [s],speed [km/h]", rows(QUOTED, [f'"{c}"' for c in column(KMH, 2, ",")]), "tv")
for mark, name in ((";", "semicolons"), ("\t", "tabs")):
    head = mark.join(("time [s]", "speed [km/h]", "engine [rev/min]", "elevation [m]"))
    cells = (column(T + 1.016, 3, ","), column(KMH, 3, ","), column(TURNS, 0, ",", "."), column(HEIGHT, 0, ",", "."))
    layout(f"decimal commas, points between thousands, {name}", head, rows(*cells, mark=mark), "tvne")
    cells = (column(T, 3), column(KMH, 3), column(TURNS, 0, ".", ","), column(HEIGHT, 0, ".", ","))
    layout(f"decimal points, commas between thousands, {name}", head, rows(*cells, mark=mark), "tvne")
    mixed = (column(T + 1.016, 3, ","), column(KMH, 3, "."), column(TURNS, 0), column(HEIGHT, 1, ","))
    layout(f"commas here and points there, {name}", head, rows(*mixed, mark=mark), "tvne")
    spaced = (column(T, 1, ","), column(KMH, 1, ","), column(TURNS, 0, ",", " "), column(HEIGHT, 1, ",", "\u202f"))
    layout(f"blanks between thousands, {name}", head, rows(*spaced, mark=mark), "tvne")
    swiss = (column(T, 1), column(KMH, 1), column(TURNS, 0, ".", "'"), column(HEIGHT, 1, ".", "’"))
    layout(f"apostrophes between thousands, {name}", head, rows(*swiss, mark=mark), "tvne")
layout(
    "quoted thousands",
    "time [s],speed [km/h],rpm",
    rows(column(T), column(KMH), [f'"{c}"' for c in column(TURNS, 0, ".", ",")]),
    "tvn",
)
layout(
    "only the engine speed has decimal commas",
    "t;v [m/s];n [1/min]",
    rows(column(T), column(SPEED), column(TURNS, 1, ","), mark=";"),
    "tvn",
)
layout("exponents", "time [s],speed [m/s]", rows([f"{t:.3e}" for t in T], [f"{v:.6E}" for v in SPEED]), "tv")
layout(
    "plus signs",
    "time [s];speed [m/s]",
    rows([f"+{c}" for c in column(T)], [f"+{c}" for c in column(SPEED)], mark=";"),
    "tv",
)

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
        layout(f"{name}, {mark!r}", f"time{mark}speed [km/h]", rows(map(write, MOMENTS), column(KMH), mark=mark), "tv")
layout("serial dates", "time;speed [km/h]", rows([f"{d:.10f}" for d in SERIAL], column(KMH), mark=";"), "tv")
layout(
    "serial dates with commas",
    "Datum/Zeit;Tempo [km/h]",
    rows([f"{d:.9f}".replace(".", ",") for d in SERIAL], column(KMH, 2, ","), mark=";"),
    "tv",
)
layout("parts of a day", "time,speed [km/h]", rows([f"{d % 1:.9f}" for d in SERIAL], column(KMH)), "tv")
layout(
    "a date and a time of day",
    "date,time,speed [km/h]",
    rows(["2026-05-03"] * T.size, map(STAMPS["hh:mm:ss.mmm"], MOMENTS), column(KMH)),
    "tv",
)
layout("several clocks", "UTC time;time of day;elapsed (s);speed [km/h]", rows([m.strftime("%H:%M:%S") for m in MOMENTS], [m.strftime("%H:%M:%S") for m in MOMENTS], column(T, 1), column(KMH), mark=";"), "tv")  # fmt: skip
layout("minutes", "time [min],speed [km/h]", rows(column(T / 60, 6), column(KMH)), "tv")
layout("mm:ss.s", "time,speed [km/h]", rows([f"{int(t // 60):02d}:{t % 60:04.1f}" for t in T], column(KMH)), "tv")
layout("milliseconds by their step", "time,speed [km/h]", rows(column(T * 1000 + 4000, 0), column(KMH)), "tv")
layout("milliseconds alone", "ms,km/h", rows(column(T * 1000, 0), column(KMH)), "tv")

layout("milliseconds in a word", "millis,speed [km/h]", rows(column(T * 1000 + 8e6, 0), column(KMH)), "tv")
for head in ("Date/Time", "Stamp"):
    layout(head, f"{head};speed_kmh", rows(map(STAMPS["ISO with a blank"], MOMENTS), column(KMH), mark=";"), "tv")

# ---- blanks between the cells
PLAIN = rows(column(T), column(KMH), column(TURNS, 0), mark=" ")
layout("blanks, bare headings", "time_s speed_kmh rpm", PLAIN, "tvn")
layout("blanks in headings", "time [s] speed [km/h] engine speed [rpm]".replace("engine speed", "engine"), PLAIN, "tvn")
layout(
    "runs of blanks",
    " time_s   speed_kmh     rpm",
    [f"{a:>8.2f} {b:>10.2f} {c:>6.0f}" for a, b, c in zip(T, KMH, TURNS, strict=True)],
    "tvn",
)
layout(
    "blanks and decimal commas",
    "czas_s prędkość_kmh obroty",
    rows(column(T, 2, ","), column(KMH, 2, ","), column(TURNS, 0), mark=" "),
    "tvn",
)
layout(
    "blanks and stamps",
    "date time speed_kmh",
    rows([m.strftime("%Y-%m-%d %H:%M:%S.%f") for m in MOMENTS], column(KMH), mark=" "),
    "tv",
)
layout("blanks and stamps under one heading", "timestamp speed_kmh", rows([m.strftime("%Y-%m-%d %H:%M:%S.%f") for m in MOMENTS], column(KMH), mark=" "), "tv")  # fmt: skip

# ---- units
for unit, values in {
    "km/h": KMH, "kmh": KMH, "kph": KMH, "KM/H": KMH, "km / h": KMH, "m/s": SPEED, "m s⁻¹": SPEED, "mps": SPEED, "mph": MPH,
    "mi/h": MPH, "miles per hour": MPH, "kn": KN, "kts": KN, "knots": KN,
}.items():  # fmt: skip
    layout(f"speed in {unit}", f"time [s],GPS speed [{unit}]", rows(column(T), column(values, 4)), "tv")
    layout(
        f"speed in {unit}, in a row of its own", "time,speed", [f"s,{unit}", *rows(column(T), column(values, 4))], "tv"
    )
    layout(
        f"speed in {unit}, in its cells",
        "time;speed",
        rows(column(T, unit=" s"), column(values, 4, unit=f" {unit}"), mark=";"),
        "tv",
    )
for head, values in {
    "speed_mps": SPEED, "SpeedKmh": KMH, "velocity mph": MPH, "v [kn]": KN, "vss_kmh": KMH, "VSS (km/h)": KMH, "Speed, km/h": KMH,
    "kph": KMH, "Speed (miles per hour)": MPH, "Speed (kilometers/hour)": KMH, "GPS Speed (Meters/second)": SPEED,
    "Speed (GPS)(km/h)": KMH, "Speed (GPS) [knots]": KN, "speed [m/sec]": SPEED,
}.items():  # fmt: skip
    layout(f"speed as {head}", f"time [s];{head}", rows(column(T), column(values, 4), mark=";"), "tv")
for head, per in {
    "n [1/min]": 1.0, "Engine (r/min)": 1.0, "engine_rpm": 1.0, "RPM": 1.0, "rpm (x1000)": 1e-3, "Motor [rad/s]": TWO_PI / 60,
    "Engine [Hz]": 1 / 60, "crankshaft revs [rev/s]": 1 / 60, "n_mot [min⁻¹]": 1.0, "Motor [U/min]": 1.0, "Engine": 1.0,
    "Speed of the engine [rpm]": 1.0,
}.items():  # fmt: skip
    layout(
        f"engine speed as {head}",
        f"time [s],speed [km/h],{head}",
        rows(column(T), column(KMH), column(TURNS * per, 5)),
        "tvn",
    )
layout("units in cells, decimal commas", "Zeit;Tempo;Drehzahl", rows(column(T, 1, ",", unit=" s"), column(KMH, 2, ",", unit=" km/h"), column(TURNS, 0, ",", ".", unit=" U/min"), mark=";"), "tvn")  # fmt: skip
for head, per in {"altitude (ft MSL)": 0.3048, "ele (meters)": 1.0, "Alt. [m]": 1.0}.items():
    cells = (column(T), column(KMH), column(HEIGHT / per, 2))
    layout(f"elevation as {head}", f"time [s],speed [km/h],{head}", rows(*cells), "tve")
layout("Tempo is the time in Italian", "Tempo,Velocità [km/h]", rows(column(T), column(KMH)), "tv")
layout("Tempo is the speed in German", "Zeit,Tempo [km/h]", rows(column(T), column(KMH)), "tv")
layout(
    "Tempo without a unit, proved",
    "Zeit,Tempo,lat,lon",
    rows(column(T), column(KMH), column(NORTH, 8), column(EAST)),
    "tvp",
)

layout(
    "a language that is not known, by its units",
    "Aikaleima [s];Vauhti [km/h];Moottori [1/min]",
    rows(column(T), column(KMH), column(TURNS, 0), mark=";"),
    "tvn",
)
layout(
    "numbered rows under a #",
    "#,time [s],speed [km/h],rpm",
    rows(range(T.size), column(T), column(KMH), column(TURNS, 0)),
    "tvn",
)
layout(
    "blanks behind the delimiters, in quotes",
    '"Time (s)", "Speed (km/h)"',
    rows(column(T), column(KMH), mark=", "),
    "tv",
)
layout(
    "a unit beside words in cp1250",
    "Czas;Prędkość pojazdu (km/h);Obroty silnika (obr./min)",
    rows(column(T), column(KMH), column(TURNS, 0), mark=";"),
    "tvn",
    encoding="cp1250",
)

# ---- columns that are none of ours
OTHERS = {
    "lat g": 0.1, "long g": -0.2, "t_oil": 92.0, "v_batt": 13.8, "speed accuracy [m/s]": 0.3, "lean angle [deg]": 12.0, "wheel rpm": 700.0,
    "engine temperature [°C]": 88.0, "max speed [km/h]": 99.0, "Länge [m]": 5.0, "throttle [%]": 40.0, "lap time": 61.0, "speed (max) [m/s]": 99.0,
}  # fmt: skip
for name, value in OTHERS.items():
    layout(
        f"beside {name}",
        f"time [s],speed [km/h],{name},rpm",
        rows(column(T), column(KMH), [value] * T.size, column(TURNS, 0)),
        "tvn",
        said={"columns not used": 1},
    )
everything = ["time [s]", "speed [km/h]", *OTHERS, "rpm", "latitude", "longitude"]
layout("beside all of them", ",".join(everything), rows(column(T), column(KMH), *([v] * T.size for v in OTHERS.values()), column(TURNS, 0), column(NORTH, 7), column(EAST, 5)), "tvnp", said={"columns not used": len(OTHERS)})  # fmt: skip
layout(
    "one speed in two units",
    "time [s],speed [km/h],speed [mph]",
    rows(column(T), column(KMH), column(MPH)),
    "tv",
    said={"columns not used": 1},
)
layout(
    "two elevations",
    "time [s],speed [km/h],altitude GPS [m],altitude baro [m]",
    rows(column(T), column(KMH), column(HEIGHT), column(HEIGHT)),
    "tv",
    not_read=("elevation",),
)
layout(
    "an engine that tells no speed",
    "time [s],speed [km/h],Engine",
    rows(column(T), column(KMH), ["1"] * T.size),
    "tv",
    not_read=("engine speed",),
)

# ---- blank columns and lines, preambles, odd lines
HEAD, BODY = "time [s],speed [km/h],rpm", rows(column(T), column(KMH), column(TURNS, 0))
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
    ("headings in quotes", ",".join(f'"{one}"' for one in HEAD.split(",")), BODY),
    ("all in quotes", ",".join(f'"{one}"' for one in HEAD.split(",")), [",".join(f'"{c}"' for c in line.split(",")) for line in BODY]),
    ("blanks around the cells", HEAD.replace(",", " , "), [line.replace(",", " , ") for line in BODY]),
    ("the headings come again", HEAD, [*BODY[:30], HEAD, *BODY[30:]]),
    ("capitals", HEAD.upper(), BODY),
):  # fmt: skip
    layout(name, head, lines, "tvn")
layout(
    "semicolons, units in a second row",
    "Zeit;Geschwindigkeit;Motordrehzahl\ns;km/h;1/min",
    [line.replace(",", ";") for line in BODY],
    "tvn",
)
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
layout("a total at the end", HEAD, [*BODY, "Mean,54.2,", "Highest: 71 km/h"], "tvn", said={"lines that are no rows": 2})
layout("a row that is lost", HEAD, [*BODY[:25], "", *BODY[26:]], "tvn", lost=(25,))
layout(
    "speeds of minus one without a fix",
    HEAD,
    [*rows(column(T[:5]), ["-1"] * 5, column(TURNS[:5], 0)), *BODY[5:]],
    "tvn",
    lost=(0, 1, 2, 3, 4),
)
layout(
    "blanks for what is not known",
    HEAD,
    [line if k % 3 != 2 else line.rsplit(",", 1)[0] + ",--" for k, line in enumerate(BODY)],
    "tvn",
)
layout("positions alone", "time [s],lat,lon", rows(column(T), column(NORTH, 9), column(EAST)), "tp")
layout(
    "positions with letters",
    "time [s];lat;lon",
    rows(column(T), column(NORTH, 9, unit=" N"), column(EAST, unit=" E"), mark=";"),
    "tp",
)
layout(
    "positions with degrees",
    "time [s];lat [°];lon [°]",
    rows(column(T), column(NORTH, 9, unit="°"), column(EAST, unit="°"), mark=";"),
    "tp",
)
layout(
    "positions, decimal commas",
    "czas [s];szer. geogr.;dł. geogr.",
    rows(column(T, 1, ","), column(NORTH, 9, ","), column(EAST, 6, ","), mark=";"),
    "tp",
)
layout(
    "speed without a unit, proved by positions",
    "time,speed,lat,lon",
    rows(column(T), column(MPH), column(NORTH, 9), column(EAST)),
    "tvp",
)

# ---- records and tracks
OBJECTS = [{"time": t, "speed_kmh": round(v, 4), "rpm": n} for t, v, n in zip(T, KMH, TURNS, strict=True)]
layout("JSON lines", None, [json.dumps(one) for one in OBJECTS], "tvn")
layout(
    "a list of objects, one a line",
    "[",
    [*(f"{json.dumps(one)}," for one in OBJECTS[:-1]), json.dumps(OBJECTS[-1]), "]"],
    "tvn",
)
layout("a list of objects on one line", None, [json.dumps(OBJECTS)], "tvn")
layout(
    "short names",
    None,
    [json.dumps({"ts": one["time"], "spd_kmh": one["speed_kmh"], "n_motor": one["rpm"]}) for one in OBJECTS],
    "tvn",
)
nested = [
    {"timestamp": m.isoformat(), "gps": {"lat": a, "lon": 14.5, "speed_mps": v}}
    for m, a, v in zip(MOMENTS, NORTH, SPEED, strict=True)
]
layout("JSON lines with objects in them", None, [json.dumps(one) for one in nested], "tvp")
layout("JSON lines with gaps and a bad line", None, [*(json.dumps(one if k % 4 != 1 else one | {"rpm": None}) for k, one in enumerate(OBJECTS[:40])), "{oops", *map(json.dumps, OBJECTS[40:])], "tvn", said={"lines that are no rows": 1})  # fmt: skip


def gpx(point: Callable[[int], str]) -> list[str]:
    return [
        '<?xml version="1.0"?><gpx version="1.1"><trk><trkseg>',
        *map(point, range(T.size)),
        "</trkseg></trk></gpx>",
    ]


def tcx(point: Callable[[int], str]) -> list[str]:
    start, end = (
        "<TrainingCenterDatabase><Activities><Activity><Lap><Track>",
        "</Track></Lap></Activity></Activities></TrainingCenterDatabase>",
    )
    return ['<?xml version="1.0" encoding="UTF-8"?>', start, *map(point, range(T.size)), end]


def stamp(k: int) -> str:
    return MOMENTS[k].isoformat(timespec="milliseconds").replace("+00:00", "Z")


layout(
    "GPX",
    None,
    gpx(lambda k: f'<trkpt lat="{NORTH[k]:.9f}" lon="14.5"><ele>{HEIGHT[k]}</ele><time>{stamp(k)}</time></trkpt>'),
    "tpe",
)
layout("GPX with speeds", None, gpx(lambda k: f'<trkpt lat="{NORTH[k]:.9f}" lon="14.5"><time>{stamp(k)}</time><extensions><speed>{SPEED[k]}</speed><rpm>{TURNS[k]}</rpm></extensions></trkpt>'), "tvnp")  # fmt: skip
layout("TCX", None, tcx(lambda k: f"<Trackpoint><Time>{stamp(k)}</Time><Position><LatitudeDegrees>{NORTH[k]:.9f}</LatitudeDegrees><LongitudeDegrees>14.5</LongitudeDegrees></Position><AltitudeMeters>{HEIGHT[k]}</AltitudeMeters></Trackpoint>"), "tpe")  # fmt: skip
layout("TCX with speeds", None, tcx(lambda k: f"<Trackpoint><Time>{stamp(k)}</Time><Position><LatitudeDegrees>{NORTH[k]:.9f}</LatitudeDegrees><LongitudeDegrees>14.5</LongitudeDegrees></Position><Extensions><TPX xmlns='urn:own'><Speed>{SPEED[k]}</Speed></TPX></Extensions></Trackpoint>"), "tvp")  # fmt: skip


def faults(one: Layout) -> list[str]:
    """What is wrong with what was read of a layout; empty where nothing is."""
    log = read_log_bytes(one.data, one.name)
    keep = np.setdiff1d(np.arange(T.size), one.lost)
    wrong = [] if log.time_s.size == keep.size else [f"{log.time_s.size} rows"]
    if wrong:
        return wrong
    turns = None if log.engine_speed_rad_s is None else log.engine_speed_rad_s * 60 / TWO_PI
    moved = None if log.north_m is None else log.north_m + (NORTH[keep[0]] - 46.0) * 111195.08
    by_place = "v" not in one.channels
    for key, name, got, wanted, off in (
        ("t", "time", log.time_s, T[keep] - T[keep[0]], 2e-3),
        ("v", "speed", log.speed_m_s[2:-2] if by_place else log.speed_m_s, SPEED[keep][2:-2] if by_place else SPEED[keep], 0.06 if by_place else 0.02),
        ("n", "engine speed", turns, TURNS[keep], 6.0),
        ("p", "position", moved, (NORTH[keep] - 46.0) * 111195.08, 0.1),
        ("e", "elevation", log.elevation_m, HEIGHT[keep], 0.1),
    ):  # fmt: skip
        if key not in one.channels + ("v" if by_place else ""):
            wrong += [] if got is None else [f"{name} that is none"]
        elif got is None:
            wrong.append(f"no {name}")
        else:
            known = np.isfinite(got)
            wrong += (
                []
                if known.sum() > 0.6 * known.size and np.allclose(got[known], wanted[known], atol=off)
                else [f"wrong {name}"]
            )
    found = {row.what: row for row in log.found}
    wrong += [
        f"{what}: {found.get(what)}"
        for what, n in one.said.items()
        if what not in found or max(found[what].rows, int(found[what].read_as)) != n
    ]
    wrong += [
        f"not a word of {role}"
        for role in one.not_read
        if role not in log.not_read or log.not_read[role] not in " ".join(log.notes)
    ]
    return wrong


@pytest.mark.parametrize("one", LAYOUTS, ids=lambda one: one.name)
def test_every_layout_gives_the_same_ride(one):
    assert faults(one) == []
