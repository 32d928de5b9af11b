"""Whether another tire goes where one is fitted: the rims it may stand on, the room that is left, the sprocket that gears it back."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any, Literal

import numpy as np

from ridesim.components.chain_geometry import near
from ridesim.components.tire_dimensions import CODE_UNIT_M
from ridesim.components.tire_marking import TireMarking, tolerance_row
from ridesim.reference import cite, read_table
from ridesim.units import either, kmh

Fit = Literal["fits", "measure first", "does not fit"]
FIT: tuple[Fit, ...] = ("fits", "measure first", "does not fit")  # from good to bad

LEAST_GAP_M = 0.005  # room a turning tire needs beside and around it: common practice, no source
RIM_EDGE_M = (
    0.5 * CODE_UNIT_M
)  # makers' lists differ by about this: so far outside the table the list of the tire's maker decides


@dataclass(frozen=True, kw_only=True)
class RimWidths:
    """The rims that tires of a width and aspect are commonly permitted on.

    least_m, most_m   between the flanges [m]
    source            where the figures come from
    """

    least_m: float
    most_m: float
    source: str


def permitted_rims(marking: TireMarking) -> RimWidths | None:
    """The rims a size may stand on, by the width and the aspect of its marking; None where the table has no such size.

    Parameters
    ----------
    marking : TireMarking
        Widths between two of the table belong to the nearer one.

    Returns
    -------
    RimWidths or None
        Widths between the flanges. [m]

    Examples
    --------
    >>> from ridesim.components.tire_marking import parse_marking
    >>> rims = permitted_rims(parse_marking("130/80-17"))
    >>> round(rims.least_m / 0.0254, 2), round(rims.most_m / 0.0254, 2)
    (2.5, 3.0)
    """
    aspect, width = round(100 * marking.aspect), 1000 * marking.section_width_m
    rows = [r for r in read_table("tire_rim_widths") if float(r["aspect_from"]) <= aspect <= float(r["aspect_to"])]
    row = min(rows, key=lambda one: abs(float(one["width_mm"]) - width), default=None)
    if row is None or abs(float(row["width_mm"]) - width) > 5.0:
        return None
    low, high = (float(row[key]) * CODE_UNIT_M for key in ("rim_from_in", "rim_to_in"))
    return RimWidths(least_m=low, most_m=high, source=cite(row))


def rim_fit(rim_m: float, rims: RimWidths) -> Fit:
    """A rim beside the permitted ones: up to half an inch outside them the list of the tire's maker decides, farther out it does not fit.

    >>> rims = RimWidths(least_m=0.0635, most_m=0.0762, source="a table")
    >>> rim_fit(0.070, rims), rim_fit(0.055, rims), rim_fit(0.0470, rims)
    ('fits', 'measure first', 'does not fit')
    """
    outside = max(rims.least_m - rim_m, rim_m - rims.most_m)
    return "fits" if outside <= 1e-6 else "measure first" if outside <= RIM_EDGE_M + 1e-6 else "does not fit"


def widest_m(marking: TireMarking) -> float:
    """The widest a new tire of the marking may be:  S (1 + share).  UN Regulation 75, 6.1.4.2 (from memory).

    Parameters
    ----------
    marking : TireMarking

    Returns
    -------
    float
        A tenth over the marking, 8 % on rims up to code 12; more on tires made for snow or off the road. [m]

    Examples
    --------
    >>> from ridesim.components.tire_marking import parse_marking
    >>> round(widest_m(parse_marking("130/80-17")), 4)
    0.143
    """
    row = next(r for r in read_table("tire_diameter_tolerances") if marking.rim_code <= float(r["rim_code_to"]))
    return marking.section_width_m * float(row["width_factor"])


def tallest_radius_m(marking: TireMarking) -> float:
    """The greatest radius a tire may reach at its highest speed:  (d + 2 H f) / 2.  UN Regulation 75, Annex 9 (from memory).

    Parameters
    ----------
    marking : TireMarking
        Without a speed symbol the largest factor counts.

    Returns
    -------
    float
        Turning, unloaded. [m]

    Examples
    --------
    >>> from ridesim.components.tire_marking import parse_marking
    >>> round(tallest_radius_m(parse_marking("130/80-17 M/C 65S")), 4)
    0.3335
    """
    limit = float("inf") if marking.speed_limit_m_s is None else kmh(marking.speed_limit_m_s) - 1e-6
    rows = read_table("tire_growth_limits")
    row = next((one for one in rows if limit <= float(one["limit_kmh_to"])), rows[-1])
    return marking.rim_diameter_m / 2 + marking.section_height_m * float(row["factor"])


def room_left_m(room_m: Any, old_m: Any, new_m: Any) -> Any:
    """Room beside or around a tire after another one took its place:  room - (new - old).

    Parameters
    ----------
    room_m : float or array
        Gap now, at the tightest place. [m]
    old_m, new_m : float or array
        Half the width, or the free radius, of either tire. [m]

    Returns
    -------
    float or array
        Below 0 it rubs. [m]

    Examples
    --------
    >>> float(round(room_left_m(0.012, 0.060, 0.065), 4))
    0.007
    """
    return np.subtract(room_m, np.subtract(new_m, old_m))


def room_fit(nominal_m: float, least_m: float) -> Fit:
    """Room left by the marking and at the least, with the largest tire it allows, beside what a turning tire needs.

    >>> room_fit(0.012, 0.006), room_fit(0.007, 0.001), room_fit(0.001, -0.005)
    ('fits', 'measure first', 'does not fit')
    """
    return "fits" if least_m >= LEAST_GAP_M else "measure first" if nominal_m >= LEAST_GAP_M else "does not fit"


def sprockets_back(front_teeth: int, rear_teeth: int, u_old_m: float, u_new_m: float) -> tuple[int, int, float]:
    """The change of one sprocket that brings the gearing nearest to what it was:  z2'/z1' ~ z2/z1 U_new/U_old.

    Parameters
    ----------
    front_teeth, rear_teeth : int
        Fitted with the old tire. [6 to 40, 12 to 100]
    u_old_m, u_new_m : float
        Rolling circumference of the old and the new rear tire. [m]

    Returns
    -------
    (int, int, float)
        Front and rear teeth, and how much higher the gearing is then than it was (below 0 lower). [-]

    Examples
    --------
    A tire 3 % taller on 15/43 asks for one tooth more behind:

    >>> front, rear, off = sprockets_back(15, 43, 2.00, 2.06)
    >>> front, rear, round(off, 4)
    (15, 44, 0.0066)

    No sprocket is made with more than 100 teeth:

    >>> sprockets_back(16, 99, 2.00, 2.10)[:2]
    (15, 99)
    """
    fronts, rears = near(front_teeth, rear_teeth, "tire")
    pairs = [(front_teeth, rear) for rear in sorted(rears, key=lambda rear: abs(rear - rear_teeth))]
    pairs += [(front, rear_teeth) for front in fronts]
    wanted = rear_teeth / front_teeth * u_new_m / u_old_m
    front, rear = min(pairs, key=lambda pair: abs(np.log(pair[1] / pair[0] / wanted)))
    return front, rear, wanted / (rear / front) - 1.0


def new_size_words(marking: TireMarking) -> str:
    """How much a new tire so marked may measure; nothing where no regulation says.

    >>> from ridesim.components.tire_marking import parse_marking
    >>> new_size_words(parse_marking("MT90-16"))
    ''
    """
    if marking.system != "metric":
        return ""
    across = either("small length", marking.diameter_low_m, marking.diameter_high_m)
    return "a new one may measure " + across + f" across; {cite(tolerance_row(marking.rim_code))}"
