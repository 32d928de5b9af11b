"""The chain of a motorcycle: its sizes, how evenly it wears, what pulls on it, what to take care of."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType
from typing import Any

import numpy as np

from ridesim.components.chain_geometry import COUNT_LINKS, COUNT_TEETH, LINKS, WHEEL_TEETH, positive, wheel_teeth
from ridesim.errors import InputError, did_you_mean, near_names, wholes, within
from ridesim.reference import read_table
from ridesim.units import either

FINITE = (-1e12, 1e12)  # past every torque or pull that is a number

# Usual cautions of the trade; none of them is a figure, and the maker's manual goes before all of them.
CAUTIONS = (
    "Before the chain is cut, mock it up: axle place, slack with the rider on, and clearance to swingarm, guard, slider "
    "and case through the whole suspension travel.",
    "A small front sprocket runs the chain on the swingarm slider and bends it harder: look at the slider often.",
    "A larger front sprocket needs room: turn it by hand and look for contact with the case, cover and clutch rod.",
    "Fit and check the master link as its maker says; a spring clip's closed end points the way the chain runs.",
    "Align the wheel by the chain run, not by the marks alone, and change both sprockets with the chain.",
    "Slack and axle torque are for the maker's manual to say; a chain too tight ruins bearings, one too slack comes off.",
    "If in doubt, have a qualified mechanic fit the chain: one that breaks can lock the wheel.",
)


@dataclass(frozen=True, kw_only=True)
class ChainSize:
    """A size of chain.

    designation           the number on its side plates
    pitch_m               pin to pin
    minimum_tensile_n     plain grade, or None; an assumption, never a rating to build on
    """

    designation: str
    pitch_m: float
    minimum_tensile_n: float | None

    @property
    def assumptions(self) -> tuple[str, ...]:
        """What must be said beside any answer that uses the strength.

        >>> chain_size("415").assumptions
        ()
        """
        if self.minimum_tensile_n is None:
            return ()
        return (
            f"minimum tensile strength of a {self.designation} chain assumed "
            + either("force", self.minimum_tensile_n)
            + " (from memory, low confidence; look it up in the chain maker's list)",
        )


def _read_sizes() -> Mapping[str, ChainSize]:
    """One record a designation from the table, which has one row a figure so that each keeps its own standing."""
    figures = {(row["designation"], row["quantity"]): float(row["value"]) for row in read_table("chain_sizes")}
    return MappingProxyType(
        {
            name: ChainSize(designation=name, pitch_m=pitch, minimum_tensile_n=figures.get((name, "minimum_tensile")))
            for (name, quantity), pitch in figures.items()
            if quantity == "pitch"
        }
    )


CHAINS = _read_sizes()


def chain_size(designation: str) -> ChainSize:
    """A chain by its designation; InputError with the near ones when it is not known.

    >>> chain_size("520").pitch_m
    0.015875
    """
    name = str(designation).strip() if isinstance(designation, str | int) else ""
    if name not in CHAINS:
        hint = did_you_mean(name, CHAINS)
        known = f" Known here: {', '.join(CHAINS)}." if near_names(name, CHAINS) else ""
        raise InputError("final_drive.chain", designation, "is not a chain size known here", hint + known)
    return CHAINS[name]


def even_wear_turns(teeth: Any, links: Any) -> Any:
    """Chain turns after which a tooth meets the same link again:  z / gcd(z, X); z itself when they share no factor.

    Parameters
    ----------
    teeth : int or array
        3 to 150. [-]
    links : int or array
        30 to 250. [links]

    Returns
    -------
    int or array
        [turns of the chain]

    Raises
    ------
    InputError
        What is no whole number in its range.

    Examples
    --------
    >>> int(even_wear_turns(15, 108)), int(even_wear_turns(17, 108))
    (5, 17)
    """
    z = wholes("teeth", teeth, *WHEEL_TEETH, COUNT_TEETH)
    return z // np.gcd(z, wholes("final_drive.links", links, *LINKS, COUNT_LINKS))


def speed_ripple(teeth: Any) -> Any:
    """How far the chain speed falls below its highest, once a tooth, at a steady turn of the sprocket:  1 - cos(pi / z).

    Parameters
    ----------
    teeth : int or array
        3 to 150. [-]

    Returns
    -------
    float or array
        [-]

    Raises
    ------
    InputError
        Teeth outside the range.

    Examples
    --------
    >>> float(round(100 * speed_ripple(15), 4))
    2.1852
    """
    return 1.0 - np.cos(np.pi / wheel_teeth("teeth", teeth))


def chain_pull_n(
    engine_torque_n_m: Any, primary_ratio: Any, gear_ratio: Any, front_pitch_radius_m: Any, efficiency: Any
) -> Any:
    """Pull in the driving run of the chain:  P = T x primary x gear x efficiency / R1.

    Parameters
    ----------
    engine_torque_n_m : float or array
        At the crank; below 0 when the engine brakes. [N m]
    primary_ratio, gear_ratio : float or array
        [-]
    front_pitch_radius_m : float or array
        [m]
    efficiency : float or array
        Crank to front sprocket: primary drive and gearbox, without the chain's own loss. Above 0, at most 1. [-]

    Returns
    -------
    float or array
        [N]

    Raises
    ------
    InputError
        A torque that is not finite, a ratio or a radius not above 0, an efficiency out of range.

    Examples
    --------
    >>> float(round(chain_pull_n(35.0, 72 / 30, 30 / 12, 0.0357, 0.96), 0))
    5647.0
    """
    torque = within("engine torque", engine_torque_n_m, *FINITE, "N m", "Give it in N m at the crank.")
    ratios = positive("gearbox.primary", primary_ratio, "Driven over driving teeth.") * positive(
        "gearbox.gears", gear_ratio, "Driven over driving teeth."
    )
    share = within("gearbox.efficiency", efficiency, 1e-3, 1.0, "", "Usual is 0.96.")
    return torque * ratios * share / positive("front sprocket radius", front_pitch_radius_m, "See pitch_radius_m.")


def share_of_strength(pull_n: Any, minimum_tensile_n: Any) -> Any:
    """Pull over minimum tensile strength; its inverse is the factor of safety of handbooks.

    Parameters
    ----------
    pull_n, minimum_tensile_n : float or array
        [N]

    Returns
    -------
    float or array
        [-]

    Raises
    ------
    InputError
        A pull that is not finite, a strength not above 0.

    Examples
    --------
    >>> float(share_of_strength(5300.0, 26500.0))
    0.2
    """
    pull = within("chain pull", pull_n, *FINITE, "N", "See chain_pull_n.")
    return pull / positive("tensile strength", minimum_tensile_n, "Read it in the chain maker's list.")
