"""What the headings of a log say, in ten languages: which column is what, and in which unit. A unit outranks words."""

from __future__ import annotations

import re
import unicodedata
from dataclasses import dataclass
from functools import lru_cache

ROLES = ("time", "speed", "engine speed", "elevation", "latitude", "longitude")


def _table(spelt: str) -> dict[str, str]:
    """{"kmh": "km/h", "kph": "km/h"} from "km/h: kmh kph"; the sign itself is in it."""
    rows = (row.partition(": ") for row in spelt.strip().splitlines())
    return {word: sign.strip() for sign, _, words in rows for word in (sign.strip(), *words.split())}


def _set(words: str) -> frozenset[str]:
    return frozenset(words.split())


# the unit in ridesim's spelling: what else is written for it, without accents, blanks and dots
UNITS = {
    "speed": _table("""m/s: mps ms m/sec ms-1
        km/h: kmh kph kmph km/hr km/u km/t km/tim
        mph: mi/h mi/hr
        kn: kt kts knots knot knoten noeuds nodi nudos nos wezly uzly knopen knop"""),
    "engine speed": _table("""rpm: rev/min r/min 1/min min-1 /min u/min upm tr/min trs/min t/min tpm tours/min giri/min obr/min
        rev/s: hz rps 1/s u/s tr/s
        rad/s: rad/sec s-1
        rpm: ot/min varv/min v/min o/min omw/min toeren/min rot/min rpm/min vueltas/min revs/min rev/minuto tr/mn
        rpm: umdrehungen/min
        krpm: x1000 *1000 1000rpm x1000rpm rpmx1000 1000/min x1000/min 1000xrpm"""),
    "time": _table("""s: sec secs second seconds sek sekunden sekundy secondes segundos secondi seconden sekunder
        ms: millis msec msecs millisecond milliseconds millisekunden millisecondes
        us: micros microsecond microseconds
        ns: nanos nanosecond nanoseconds
        min: minute minutes minuten
        h: hour hours hr hrs std
        d: day days"""),
    "elevation": _table("""m: meter meters metre metres metr metry metri metros mnn masl mnm
        ft: feet foot ftmsl
        km: kilometer"""),
    "angle": dict.fromkeys(_set("deg ° degree degrees grad grados gradi stopnie graden dd"), "deg"),
    # units of what a log holds besides: a column in them is none of ours, whatever it is called
    "other": dict.fromkeys(
        _set(
            "g gs m/s2 m/s/s degc °c celsius degf °f fahrenheit bar mbar kpa hpa psi pa volt volts mv % pct percent nm kw hp ps "
            "deg/s °/s mm cm l/h bpm afr lambda"
        ),
        "",
    ),
}
BRACKETED_ONLY = dict.fromkeys(("c", "f", "k", "v", "a", "n", "w", "l", "bar"), "")  # too short to be a unit on its own
_KIND = {"latitude": "angle", "longitude": "angle"} | {role: role for role in ROLES[:4]}
_SPELT = _table("""/: per
    h: hour hours hr
    min: minute
    s: second sec
    m: meters metres
    km: kilometers kilometres
    mi: miles
    rev: revolutions revs turns""")

_WORDS = {
    "engine speed": "rpm revs drehzahl motordrehzahl regime giri toerental toeren rotacao rotacoes revoluciones obroty otacky "
    "varvtal tours tachometer regimen rotazioni varv omwentelingen umdrehungen obrotowa turtall kierrosluku fordulatszam",
    "speed": "speed velocity geschwindigkeit vitesse velocidad velocidade velocita snelheid predkosc rychlost hastighet vss "
    "gpsspeed fahrgeschwindigkeit fart spd nopeus sebesseg",
    "elevation": "elevation altitude ele alt height hohe hoehe altitud quota wysokosc hoogte vyska hojd altitudine altezza",
    "latitude": "latitude lat breite breitengrad latitud latitudine szerokosc szer breedtegraad sirka breddgrad breedte bredd",
    "longitude": "longitude lon lng long lange laenge langengrad laengengrad longitud longitudine dlugosc dl lengtegraad delka "
    "langdgrad lengte langd",
    "time": "time timestamp datetime elapsed zeit zeitstempel uhrzeit temps tiempo hora epoch seconds tijd heure czas godzina cas "
    "tid ora stamp horodatage tijdstempel tidsstampel clock utc unixtime ts aika ido",
}
WORDS = {word: role for role, words in _WORDS.items() for word in words.split()}
ALONE = {"t": "time", "v": "speed", "n": "engine speed"}  # a letter says so only where no other word stands beside it
TEMPO = (
    "tempo"  # the time in Italian and Portuguese, the speed in German: the unit says which, or what else the log holds
)
ENGINES = _set("engine motor moteur motore silnik silnika motoru crank crankshaft eng mot motorn")
_NOT_IT = _set("""accuracy acc error limit max maximum min minimum avg average mean vertical wind std sigma zone lap fan target set temp
    temperature oil coolant water batt battery voltage fuel gear throttle brake pressure lean roll pitch yaw accel acceleration
    gyro heading bearing course hdop vdop pdop dop sats satellites slip power torque load tps map iat clt odo odometer distance dist
    trip cadence heart delta diff vario climb ideal soll temperatur temperatura oel ol huile olio aceite olej olja batterie bateria
    batteria akku druck pression pressione presion pressao cisnienie tlak tryck druk beschleunigung acelerador gas gaz throttle
    kurs maks maxi massima maxima durchschnitt mittel moyenne media srednia prumerna gemiddelde medel genauigkeit precision
    precisione precisao dokladnosc presnost nauwkeurigheid noggrannhet runde laptime wheelie turbo pump getriebe gearbox lateral
    longitudinal quality fix hr vspeed teplota temperatuur accelerazione aceleracion aceleracao przyspieszenie zrychleni versnelling
    acceleration strecke entfernung distanza distancia dystans afstand avstand vzdalenost angle winkel""")
_OTHERS_TURN = _set(
    "wheel wheels roue ruota rueda roda kolo hjul wiel rad shaft turbo clutch output gearbox front rear"
)
_LONG = 6  # letters from which a word counts as the end of a compound
_LONGEST_HEADING = 200  # characters of a heading that are looked at
_BRACKETS = re.compile(r"[\[({]([^\])}]{1,30})[\])}]")
_PLAIN = str.maketrans(
    {"ł": "l", "Ł": "L", "ø": "o", "Ø": "O", "đ": "d", "ß": "ss", "æ": "ae", "−": "-", "·": " ", "⋅": " "}
)


@dataclass(frozen=True, kw_only=True)
class ColumnReading:
    """What a heading says: the role of its column, how surely (1 to 3), and its unit, None where none is named."""

    role: str
    rank: int
    unit: str | None


def plain(text: str) -> str:
    """Lower case without accents; CamelCase parted.

    >>> plain("Höhe"), plain("GpsSpeedKmh"), plain("Prędkość"), plain("min⁻¹")
    ('hohe', 'gps speed kmh', 'predkosc', 'min-1')
    """
    parted = re.sub(r"(?<=[a-z])(?=[A-Z])", " ", text.translate(_PLAIN))
    marks = unicodedata.normalize("NFKD", parted).translate(_PLAIN)
    return "".join(c for c in marks if not unicodedata.combining(c)).lower()


def units_of(text: str, *, bracketed: bool = True) -> dict[str, str]:
    """The kinds of figure whose unit a text is, each with the unit in ridesim's spelling; empty where it is none.

    >>> units_of("km/h"), units_of("U/min"), units_of("miles per hour"), units_of("ms"), units_of("lat")
    ({'speed': 'km/h'}, {'engine speed': 'rpm'}, {'speed': 'mph'}, {'speed': 'm/s', 'time': 'ms'}, {})
    """
    spelt = plain(text).strip(" .:;[](){}").replace("^", "")
    if re.fullmatch(r"h{1,2}:?m{2}:?s{2}\S*", spelt):
        return {"time": ""}
    words = spelt.replace("/", " / ").split()
    if len(words) > 1:
        words = [_SPELT.get(word, word) for word in words]
    signs = "".join(words).replace(".", "")
    known = {
        kind: names[one] for kind, names in UNITS.items() for one in (signs, spelt.replace(" ", "")) if one in names
    }
    if (
        not known
        and words
        and words[0] in UNITS["elevation"]
        and (bracketed or words[1:] in (["msl"], ["asl"], ["nn"]))
    ):
        known = {"elevation": UNITS["elevation"][words[0]]}  # ft above what, m of which geoid
    if not known and bracketed and signs in BRACKETED_ONLY:
        known = {"other": ""}
    return known


def _parted(name: str) -> tuple[list[str], dict[str, str]]:
    """The words of a heading, and the unit that it names in brackets or at its end."""
    units: dict[str, str] = {}
    rest = name
    for text in reversed(_BRACKETS.findall(name)):
        if not units and (units := units_of(text)):
            rest = re.sub(rf"[\[({{]{re.escape(text)}[\])}}]", " ", rest)
    words = [word for part in re.split(r"[^a-z0-9/°%*.-]+", plain(rest)) if (word := part.strip(".-*"))]
    if not units:
        for last in (3, 2, 1):  # miles per hour, ft msl, kmh
            if 0 < last <= len(words) and (last < len(words) or last == 1):
                units = units_of(" ".join(words[-last:]), bracketed=False)
            if units:
                words = words[:-last]
                break
    return [part for word in words for part in re.split(r"[/.-]", word) if part], units


def _by_words(words: list[str]) -> str | None:
    """What the words say that a column is."""
    said = {WORDS.get(word) or _of_compound(word) for word in words} - {None}
    if (set(words) & ENGINES or any(_of_compound(word) == "engine speed" for word in words)) and said & {
        "speed",
        "engine speed",
    }:
        return "engine speed"
    return next((role for role in ("engine speed", *ROLES) if role in said), None)


def _of_compound(word: str) -> str | None:
    ends = (
        role for known, role in WORDS.items() if len(known) >= _LONG and len(word) > len(known) and word.endswith(known)
    )
    return next(ends, None)


@lru_cache(maxsize=4096)  # a log asks the same headings for each delimiter and encoding it may have
def reading_of(name: str, unit_text: str = "") -> ColumnReading | None:
    """What a heading and the unit beside it (a row of units, or in the cells) say that a column is; None for none of ours.

    >>> [r and r.role for r in map(reading_of, ("Engine speed [rpm]", "GPS speed (km/h)", "speed accuracy", "Zeit", "lat g"))]
    ['engine speed', 'speed', None, 'time', None]
    >>> [r and r.role for r in map(reading_of, ("Régime (tr/min)", "engine [C]", "vss_kmh", "km/h", "v_batt", "Tempo [s]"))]
    ['engine speed', None, 'speed', 'speed', None, 'time']
    >>> reading_of("Speed", "mph"), reading_of("RPM (x1000)").unit
    (ColumnReading(role='speed', rank=3, unit='mph'), 'krpm')
    """
    words, units = _parted(name[:_LONGEST_HEADING])
    units = units_of(unit_text[:_LONGEST_HEADING]) or units
    if set(words) & _NOT_IT:
        return None
    role = _by_words(words) or (ALONE.get(words[0]) if len(words) == 1 else None)
    if not role and words and set(words) <= ENGINES | {"n"}:
        role = "engine speed"
    if units:
        return _by_unit(words, units, role)
    if TEMPO in words and not role:
        return ColumnReading(role="time", rank=0, unit=None)
    sure = 1 if role == "engine speed" and set(words) <= ENGINES else 2
    return ColumnReading(role=role, rank=sure, unit=None) if role else None


def _by_unit(words: list[str], units: dict[str, str], role: str | None) -> ColumnReading | None:
    """The role that goes with the unit: that of the words where it may be in it, else the one that the unit stands for."""
    turns = units.get("engine speed")
    if turns and (role in (None, "engine speed", "speed")) and not set(words) & _OTHERS_TURN:
        if turns in ("rev/s", "rad/s") and role != "engine speed" and not set(words) & ENGINES:
            return None  # of what?
        return ColumnReading(role="engine speed", rank=3, unit=turns)
    if role is None and TEMPO in words:
        role = "speed" if "speed" in units and "time" not in units else "time"
    if role and _KIND[role] in units:
        return ColumnReading(role=role, rank=3, unit=units[_KIND[role]] or None)
    if "speed" in units and (role is None or role == "time") and units["speed"] and "time" not in units:
        return ColumnReading(
            role="speed", rank=1 if words and not set(words) <= {"gps", "road"} else 3, unit=units["speed"]
        )
    if (
        units.get("time") and not role and (words or units["time"] not in ("s", "d", "h", "min"))
    ):  # s alone is also a way
        return ColumnReading(role="time", rank=1, unit=units["time"])
    return None
