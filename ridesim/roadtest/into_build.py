"""What a road test found, written into a build; everything else in the file and every comment stays."""

from __future__ import annotations

from typing import Any

from ridesim.build import Build, parse
from ridesim.errors import InputError
from ridesim.roadlog import CoastDown, WheelCurve
from ridesim.roadtest.pulls import Pulled
from ridesim.roadtest.ratios import Geared
from ridesim.surroundings.correction import AS_MEASURED


def with_road_load(build: Build, found: CoastDown) -> Build:
    """The build with the drag area and the rolling resistance of a coast-down, each with its tolerance (5 to 95 %).

    Parameters
    ----------
    build : Build
    found : CoastDown

    Returns
    -------
    Build

    Raises
    ------
    InputError
        Figures that a build cannot hold, such as a rolling resistance below zero.
    """
    area, rolling = found.drag_area_m2, found.rolling_resistance
    return build.changed(
        {
            "road_load.coast_down": None,
            "road_load.standard": None,
            "road_load.drag_area": f"{area.value:.3f} +- {max(area.high - area.value, 0.001):.3f} m^2",
            "road_load.rolling_resistance": f"{rolling.value:.4f} +- {max(rolling.high - rolling.value, 0.0001):.4f}",
        }
    )


def with_wheel_tune(build: Build, name: str, pulled: Pulled) -> Build:
    """The build with the curve of some pulls as a tune, measured at the wheel; a tune of that name is written anew.

    Parameters
    ----------
    build : Build
    name : str
        Letters, digits, - and _.
    pulled : Pulled

    Returns
    -------
    Build
    """
    import tomlkit

    curve: WheelCurve = pulled.found
    air = pulled.bike.air
    day = (
        {"temperature_k": air.temperature_k, "pressure_pa": air.pressure_pa, "humidity": air.relative_humidity}
        if curve.standard == AS_MEASURED
        else {}
    )
    key = name.strip()
    table: Any = tomlkit.parse(curve.as_tune_toml(key, **day))
    document: Any = tomlkit.parse(build.text)
    tune = table["tune"][key]
    tune.add(tomlkit.nl())
    document["tune"][key] = tune
    return parse(tomlkit.dumps(document))


def with_gears(build: Build, geared: Geared, *, outside: float) -> Build:
    """The build with the gear ratios of a log, where the log showed every gear of it.

    Parameters
    ----------
    build : Build
    geared : Geared
    outside : float
        Primary drive times sprockets, by which an overall ratio is larger than that of the gearbox. [-]

    Returns
    -------
    Build
    """
    count, found = len(build.record.gearbox.gears), geared.found.gears
    if len(found) != count:
        raise InputError(
            "gearbox.gears",
            f"{len(found)} gears in the log",
            f"are not the {count} gears of the build",
            "Ride some seconds in every gear.",
        )
    ratios = [round(gear.overall_ratio.value / outside, 4) for gear in found]
    return build.changed({"gearbox.gears": ratios, "gearbox.ratios_are_a_guess": None})
