"""The chain of a motorcycle: its sizes, how evenly it wears, what to take care of; and the rest of the chain's names.

Geometry stands in chain_geometry, the fit of a chain to a pair of sprockets in chain_fit.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType
from typing import Any

import numpy as np

from ridesim.components.chain_checks import FRONT_TEETH, LINKS, REAR_TEETH, WHEEL_TEETH, whole
from ridesim.components.chain_fit import ChainFits, fit_chain, fit_chains
from ridesim.components.chain_geometry import (
    centre_distance_handbook_m,
    centre_distance_m,
    chain_pull_n,
    links_exact,
    links_handbook,
    pitch_radius_m,
    share_of_strength,
    speed_ripple,
    touching_distance_m,
    worn_pitch_m,
    wrap_angle_rad,
)
from ridesim.components.chain_words import ChainFit, chain_rule
from ridesim.errors import InputError, did_you_mean
from ridesim.reference import cite, read_table
from ridesim.units import in_both

__all__ = [
    "CAUTIONS",
    "CHAINS",
    "FRONT_TEETH",
    "REAR_TEETH",
    "ChainFit",
    "ChainFits",
    "ChainSize",
    "centre_distance_handbook_m",
    "centre_distance_m",
    "chain_pull_n",
    "chain_rule",
    "chain_size",
    "coprime",
    "even_wear_turns",
    "fit_chain",
    "fit_chains",
    "links_exact",
    "links_handbook",
    "pitch_radius_m",
    "share_of_strength",
    "speed_ripple",
    "touching_distance_m",
    "worn_pitch_m",
    "wrap_angle_rad",
]

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
    roller_diameter_m     from memory for all sizes
    inner_width_m         between the inner plates
    minimum_tensile_n     plain grade, or None; an assumption, never a rating to build on
    sources               where each figure comes from, one line each
    """

    designation: str
    pitch_m: float
    roller_diameter_m: float | None
    inner_width_m: float | None
    minimum_tensile_n: float | None
    sources: Mapping[str, str]

    @property
    def assumptions(self) -> tuple[str, ...]:
        """What must be said beside any answer that uses the strength.

        >>> chain_size("415").assumptions
        ()
        """
        if self.minimum_tensile_n is None:
            return ()
        return (
            f"minimum tensile strength of a {self.designation} chain assumed {in_both('force', self.minimum_tensile_n)} "
            "(from memory, low confidence; read it in the chain maker's list)",
        )


def _read_sizes() -> Mapping[str, ChainSize]:
    """One record a designation from the table, which has one row a figure so that each keeps its own standing."""
    found: dict[str, dict[str, Mapping[str, str]]] = {}
    for row in read_table("chain_sizes"):
        found.setdefault(row["designation"], {})[row["quantity"]] = row

    def figure(rows: Mapping[str, Mapping[str, str]], quantity: str) -> float | None:
        return float(rows[quantity]["value"]) if quantity in rows else None

    return MappingProxyType(
        {
            name: ChainSize(
                designation=name,
                pitch_m=float(rows["pitch"]["value"]),
                roller_diameter_m=figure(rows, "roller_diameter"),
                inner_width_m=figure(rows, "inner_width"),
                minimum_tensile_n=figure(rows, "minimum_tensile"),
                sources=MappingProxyType({quantity: cite(row) for quantity, row in rows.items()}),
            )
            for name, rows in found.items()
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
        known = "" if hint.startswith("Known") else f" Known here: {', '.join(CHAINS)}."
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
    z, x = whole("teeth", teeth, *WHEEL_TEETH, "teeth"), whole("final_drive.links", links, *LINKS, "links")
    return z // np.gcd(z, x)


def coprime(teeth: Any, links: Any) -> Any:
    """Whether teeth and links share no factor, so that every tooth meets every link and both wear evenly.

    Parameters
    ----------
    teeth : int or array
        [-]
    links : int or array
        [links]

    Returns
    -------
    bool or array
        gcd(z, X) = 1. [-]

    Examples
    --------
    >>> bool(coprime(15, 108)), bool(coprime(17, 108))
    (False, True)
    """
    z, x = whole("teeth", teeth, *WHEEL_TEETH, "teeth"), whole("final_drive.links", links, *LINKS, "links")
    return np.gcd(z, x) == 1
