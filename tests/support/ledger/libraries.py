"""Figures as reference libraries return them, for tests/reference and for the ledger."""

from __future__ import annotations

import math
from collections.abc import Iterator
from typing import Any

import fluids
import psychrolib
from CoolProp.CoolProp import HAPropsSI, PropsSI
from scipy.optimize import brentq
from support.ledger.figures import label
from support.ledger.rows import Case

from ridesim.components import steering
from ridesim.environment import air
from ridesim.fueling import jets, needle

IDEAL = "each gas taken as ideal: compressibility and the enhancement of the vapor make up to 0.07 %"
ROUNDED_GAS = "287.05 and 461.5 here, 287.042 and 461.524 J/(kg K) there"
WITHIN = "the bound set for this project: 0.1 % of a reference library from -20 to 50 °C"
FULL_FLOAT = "printed to the last digit of a double, where the order of operations shows"
AIRS = (  # °C, Pa, relative humidity
    (20, 101325, 0.5),
    (20, 101325, 0.0),
    (15, 101325, 0.0),
    (25, 100000, 0.3156),
    (25, 99000, 0.0),
    (30, 84556, 0.4),
    (35, 101325, 0.8),
    (0, 101325, 0.8),
    (20, 80000, 0.5),
    (10, 70108.5, 0.3),
)


def _case(
    id: str,
    figure: str,
    public: Any,
    given: str,
    printed: str,
    unit: str,
    by: tuple[str, str],
    compute: Any,
    tolerance: float | None = None,
    reason: str = "",
) -> Case:
    source, locator = by
    return Case(
        id=id,
        figure=figure,
        function=label(public),
        given=given,
        printed=printed,
        unit=unit,
        source=source,
        locator=locator,
        standing="library",
        compute=lambda: float(compute()),
        tolerance=tolerance,
        reason=reason,
    )


def _moist(t: float, p: float, humidity: float) -> tuple[float, float]:
    """Mass of dry and of moist air in a volume, by CoolProp. [kg/m3]"""
    state = ("T", t, "P", p, "R", humidity)
    dry = 1 / HAPropsSI("Vda", *state)
    return dry, dry * (1 + HAPropsSI("W", *state))


def _air() -> Iterator[Case]:
    psychrolib.SetUnitSystem(psychrolib.SI)
    for height in (-500, 0, 300, 800, 1200, 2000, 3300, 5000, 8000, 10900):
        there = fluids.ATMOSPHERE_1976(height)
        yield _case(
            f"fluids-atmosphere-{height}",
            "standard pressure",
            air.standard_pressure_pa,
            f"{height} m geometric",
            f"{there.P:.2f}",
            "Pa",
            ("fluids", "ATMOSPHERE_1976"),
            lambda h=height: air.standard_pressure_pa(air.geopotential_m(h)),
            0.005 + 7.1e-7 * there.P * abs(math.log(101325 / there.P)),
            "R = 8314.32/28.9644 J/(kg K) there, 287.05287 in the standard: 7e-7 in the exponent",
        )
    for celsius in range(-20, 51, 5):
        kelvin = celsius + 273.15
        asked = ("saturation pressure", air.saturation_pressure_pa, f"{celsius} °C")
        compute = lambda t=kelvin: air.saturation_pressure_pa(t)  # noqa: E731
        yield _case(
            f"psychrolib-psat-{celsius}",
            *asked,
            f"{psychrolib.GetSatVapPres(celsius):.4f}",
            "Pa",
            ("psychrolib", "GetSatVapPres"),
            compute,
        )
        if celsius < 0.01:
            there, how = HAPropsSI("P_w", "T", kelvin, "P", 2000.0, "R", 1.0), "HAPropsSI P_w at 2 kPa, ice"
        else:
            there, how = PropsSI("P", "T", kelvin, "Q", 0, "Water"), "PropsSI, IAPWS-95"
        yield _case(
            f"coolprop-psat-{celsius}", *asked, f"{there:.4f}", "Pa", ("coolprop", how), compute, 1e-3 * there, WITHIN
        )
    for celsius, pressure, humidity in AIRS:
        kelvin = celsius + 273.15
        asked = ("density of air", air.air_density_kg_m3, f"{celsius} °C, {pressure} Pa, {humidity:.2%}")
        compute = lambda p=pressure, t=kelvin, h=humidity: air.air_density_kg_m3(p, t, h)  # noqa: E731
        there = _moist(kelvin, pressure, humidity)[1]
        name = f"{celsius}-{pressure}-{humidity}"
        yield _case(
            f"coolprop-density-{name}",
            *asked,
            f"{there:.6f}",
            "kg/m3",
            ("coolprop", "HAPropsSI Vda, W"),
            compute,
            7e-4 * there,
            IDEAL,
        )
        there = psychrolib.GetMoistAirDensity(
            celsius, psychrolib.GetHumRatioFromRelHum(celsius, humidity, pressure), pressure
        )
        yield _case(
            f"psychrolib-density-{name}",
            *asked,
            f"{there:.6f}",
            "kg/m3",
            ("psychrolib", "GetMoistAirDensity"),
            compute,
            8e-5 * there,
            ROUNDED_GAS,
        )


def _fluids_flow(bore: float, drop: float, density: float, cd: float, pipe: float = 100.0, eps: float = 1.0) -> float:
    there = fluids.flow_meter.flow_meter_discharge(pipe, bore, 101325.0, 101325.0 - drop, density, cd, eps)
    return float(there)


def _in_series(first: float, second: float, drop: float) -> float:
    """Two holes one behind the other: the pressure between them at which both pass the same."""

    def more(between: float) -> float:
        return _fluids_flow(first, between, 745.0, 0.7) - _fluids_flow(second, drop - between, 745.0, 0.7)

    return _fluids_flow(first, float(brentq(more, 1e-6, drop - 1e-6, xtol=1e-9)), 745.0, 0.7)


def _air_per_fuel(bore: float, rho: float) -> float:
    """Through a throat of 34 mm and a jet, at one velocity of the air: the suction goes with its density."""
    drop = 3000.0 * rho / 1.2
    return _fluids_flow(0.034, drop, rho, 0.85) / _fluids_flow(bore, drop, 745.0, 0.7)


def _fuel() -> Iterator[Case]:
    discharge = ("fluids", "flow_meter_discharge")
    for bore, rho in ((0.00145, 0.95), (0.00105, 1.2), (0.00130, 1.05)):
        there = _air_per_fuel(0.00130, 1.2) / _air_per_fuel(bore, rho)
        yield _case(
            f"fluids-richness-{1e5 * bore:g}-{rho:g}",
            "mixture with another jet in other air",
            jets.richness_ratio,
            f"jet {1e3 * bore:g} mm in air of {rho} kg/m3 over 1.3 mm in 1.2 kg/m3",
            f"{there:.7f}",
            "-",
            discharge,
            lambda bore=bore, rho=rho: jets.richness_ratio(bore / 0.00130, rho / 1.2),
        )
    for first, second, drop in ((0.0015, 0.0012, 4000.0), (0.0009, 0.0014, 1500.0)):
        through = _in_series(first, second, drop) / (0.7 * math.sqrt(2 * 745.0 * drop))
        yield _case(
            f"fluids-series-{1e5 * first:g}-{1e5 * second:g}",
            "one hole for two in series",
            needle.series_area_m2,
            f"{1e3 * first:g} mm before {1e3 * second:g} mm, {drop:g} Pa",
            f"{1e6 * through:.7f}",
            "mm2",
            discharge,
            lambda a=first, b=second: 1e6 * needle.series_area_m2(math.pi / 4 * a**2, math.pi / 4 * b**2),
            1e-4 * 1e6 * through,
            "the library takes the holes in a pipe of 100 m",
        )
    for place in ((1600.0, 28.0, 0.30), (0.0, 35.0, 0.95), (0.0, -5.0, 0.80)):
        there, here = (_air_of(*at) for at in (place, (200.0, 18.0, 0.55)))
        dry, moist = _moist(there.temperature_k, there.pressure_pa, there.relative_humidity)
        dry_here, moist_here = _moist(here.temperature_k, here.pressure_pa, here.relative_humidity)
        ratio = dry**2 / moist / (dry_here**2 / moist_here)
        yield _case(
            f"coolprop-jet-{place[0]:g}-{place[1]:g}",
            "bore that keeps the mixture of a 150 jet",
            jets.jet_for_air,
            f"200 m, 18 °C, 55 % to {place[0]:g} m, {place[1]:g} °C, {place[2]:.0%}",
            f"{150 * ratio**0.25:.2f}",
            "1/100 mm",
            ("coolprop", "HAPropsSI, dry air squared over moist air in a volume, fourth root"),
            lambda there=there, here=here: (
                jets.jet_for_air(
                    150,
                    numbering="bore",
                    metering_density_kg_m3=there.metering_density_kg_m3,
                    reference_metering_density_kg_m3=here.metering_density_kg_m3,
                    step=2.5,
                ).exact_size
            ),
            0.02,
            "ideal gas here, real gas there: 0.05 % in density is 0.02 in the size",
        )


def _air_of(altitude: float, celsius: float, humidity: float) -> air.Air:
    return air.air(altitude_m=altitude, temperature_k=celsius + 273.15, relative_humidity=humidity)


def _steering() -> Iterator[Case]:
    """The worked example in the docstring of the library's trail()."""
    for figure, public, printed in (
        ("trail", steering.trail_m, "0.002126763618252235"),
        ("mechanical trail", steering.mechanical_trail_m, "0.0020944533000790966"),
    ):
        yield _case(
            f"toolkit-{figure.replace(' ', '-')}",
            figure,
            public,
            "R 0.3 m, rake 10 deg, offset 0.05 m",
            printed,
            "m",
            ("dynamicist-toolkit", "trail(), example in the docstring"),
            lambda public=public: public(0.3, math.radians(10), 0.05),
            1e-15,
            FULL_FLOAT,
        )


def by_libraries() -> tuple[Case, ...]:
    """Every figure that a library returns beside ours."""
    return (*_air(), *_fuel(), *_steering())
