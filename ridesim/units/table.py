"""The units that people write, how else they spell them, how they are printed, and in which each kind of figure is read."""

from __future__ import annotations

import re
from dataclasses import dataclass

# Only units that riders, workshops and data sheets use; anything else is refused by name.
DEFINITIONS = """
meter = [length] = m = metre = meters = metres
kilogram = [mass] = kg
second = [time] = s = sec = seconds
kelvin = [temperature]; offset: 0 = K
radian = [angle] = rad
degree = 0.017453292519943295 * radian = deg = ° = degrees
percent = 0.01 = pct
permille = 0.001
revolution = 6.283185307179586 * radian = rev = revolutions
millimeter = 0.001 * meter = mm = millimetre
centimeter = 0.01 * meter = cm = centimetre
kilometer = 1000 * meter = km = kilometre
inch = 0.0254 * meter = in = inches
foot = 0.3048 * meter = ft = feet
mile = 1609.344 * meter = mi = miles
gram = 0.001 * kilogram = g
pound = 0.45359237 * kilogram = lb = lbs = pounds
minute = 60 * second = min
hour = 3600 * second = h = hr = hours
millisecond = 0.001 * second = ms
celsius = kelvin; offset: 273.15 = degC = C = degreeC
fahrenheit = 0.5555555555555556 * kelvin; offset: 255.3722222222222 = degF = F = degreeF
newton = kilogram * meter / second ** 2 = N
kilonewton = 1000 * newton = kN
kilogram_force = 9.80665 * newton = kgf = kp
pound_force = 4.4482216152605 * newton = lbf
watt = newton * meter / second = W
kilowatt = 1000 * watt = kW
horsepower = 550 * foot * pound_force / second = hp = bhp = HP
metric_horsepower = 75 * kilogram_force * meter / second = PS = cv = ch = CV
pascal = newton / meter ** 2 = Pa
hectopascal = 100 * pascal = hPa = mbar
kilopascal = 1000 * pascal = kPa
bar = 100000 * pascal
psi = pound_force / inch ** 2
inch_of_mercury = 3386.389 * pascal = inHg
millimeter_of_mercury = 133.322387415 * pascal = mmHg = torr
liter = 0.001 * meter ** 3 = l = litre = L = liters = litres
milliliter = 0.000001 * meter ** 3 = ml = millilitre = cc = ccm = cm3
cubic_inch = inch ** 3 = cui
us_gallon = 231 * inch ** 3 = gal = gallon = gallons
imperial_gallon = 4.54609 * liter = impgal
revolution_per_minute = 0.10471975511965977 * radian / second = rpm
mile_per_hour = mile / hour = mph
kilometer_per_hour = kilometer / hour = kmh = kph
knot = 1852 * meter / hour = kn
"""

SPELT = (  # ways to write a unit that the grammar does not read as people mean them
    (re.compile(r"[·⋅]|(?<=[A-Za-z])[.-](?=[A-Za-z])"), "*"),
    (re.compile(r"⁻¹"), "**-1"),
    (re.compile(r"⁻²"), "**-2"),
    (re.compile(r"²"), "**2"),
    (re.compile(r"³"), "**3"),
    (re.compile(r"\^"), "**"),
    (re.compile(r"^%$"), "pct"),
    (re.compile(r"^(?:r|revs?|1)?\s*/\s*min$|^min\s*(?:\*\*)?\s*-1$"), "rpm"),
    (re.compile(r"\b(m|mm|cm|in|ft|s)([23])\b"), r"\1**\2"),
    (re.compile(r"\b[Nn][Mm]\b"), "N*m"),
    (re.compile(r"\bkgm\b|\bmkg\b"), "kgf*m"),
    (re.compile(r"\bsq\s*(m|ft|in)\b"), r"\1**2"),
    (re.compile(r"(?:\bdeg(?:rees?)?|°)\s*([CcFf])\b"), r"deg\1"),
)

WORDS = {  # where print differs from what is written
    "N*m": "N·m",
    "lbf*ft": "lb·ft",
    "m^2": "m²",
    "ft^2": "ft²",
    "m/s^2": "m/s²",
    "ft/s^2": "ft/s²",
    "degC": "°C",
    "degF": "°F",
    "l/100km": "l/100 km",
    "kg/m^3": "kg/m³",
    "lb/ft^3": "lb/ft³",
    "mm^2": "mm²",
    "in^2": "in²",
    "deg": "°",
}

# what a rider writes of the air of a day -> the name in the records, the kind, the unit of a bare number
AIR: dict[str, tuple[str, str, str]] = {
    "altitude": ("altitude_m", "length", "m"),
    "temperature": ("temperature_k", "temperature", "degC"),
    "humidity": ("humidity", "ratio", "%"),
    "pressure": ("pressure_pa", "pressure", "hPa"),
}


@dataclass(frozen=True)
class DisplayUnits:
    """How a kind of figure is read: unit and decimals in each system."""

    kind: str
    metric: str
    metric_decimals: int
    us: str
    us_decimals: int


# What a column of an answer may hold -> how it is shown. Kinds without a unit are shown as they are.
READINGS = {
    "speed": DisplayUnits("speed", "km/h", 1, "mph", 1),
    "engine speed": DisplayUnits("engine speed", "rev/min", 0, "rev/min", 0),
    "piston speed": DisplayUnits("speed", "m/s", 1, "ft/min", 0),
    "force": DisplayUnits("force", "N", 0, "lbf", 0),
    "torque": DisplayUnits("torque", "N*m", 1, "lbf*ft", 1),
    "power": DisplayUnits("power", "kW", 1, "hp", 1),
    "mass": DisplayUnits("mass", "kg", 0, "lb", 0),
    "small length": DisplayUnits("length", "mm", 1, "in", 2),
    "length": DisplayUnits("length", "m", 3, "in", 1),
    "distance": DisplayUnits("length", "m", 0, "ft", 0),
    "journey": DisplayUnits("length", "km", 0, "mi", 0),
    "time": DisplayUnits("time", "s", 2, "s", 2),
    "angle": DisplayUnits("angle", "deg", 1, "deg", 1),
    "percent": DisplayUnits("ratio", "%", 1, "%", 1),
    "ratio": DisplayUnits("ratio", "", 3, "", 3),
    "acceleration": DisplayUnits("acceleration", "m/s^2", 2, "ft/s^2", 1),
    "area": DisplayUnits("area", "m^2", 3, "ft^2", 2),
    "small area": DisplayUnits("area", "mm^2", 0, "in^2", 2),
    "bore": DisplayUnits("length", "mm", 3, "in", 4),
    "lift": DisplayUnits("length", "mm", 1, "in", 3),
    "bore area": DisplayUnits("area", "mm^2", 3, "in^2", 5),
    "volume": DisplayUnits("volume", "l", 1, "gal", 1),
    "consumption": DisplayUnits("fuel consumption", "l/100km", 2, "mpg", 1),
    "density": DisplayUnits("density", "kg/m^3", 3, "lb/ft^3", 4),
    "pressure": DisplayUnits("pressure", "hPa", 0, "inHg", 2),
    "temperature": DisplayUnits("temperature", "degC", 0, "degF", 0),
}
# from this size on, as it is read, a decimal less is known or asked for: 859 mm, not 858.6
COARSE_FROM = {("small length", "metric"): 100.0, ("small length", "us"): 10.0}
COUNTED = ("teeth", "links", "gear", "number", "text", "yes or no")
