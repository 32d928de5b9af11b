"""What the tolerances of the axle's place and of the chain's wear leave open of how a chain fits."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace

import numpy as np

from ridesim.answers.answer import Figure
from ridesim.bike import Bike
from ridesim.buildfile.schema import FinalDrive
from ridesim.components.chain_words import ChainFit
from ridesim.errors import InputError
from ridesim.uncertainty.tolerances import Tolerance, quadrature, through

FIGURES = {"links": "links_to_order", "shift": "axle_shift_m", "center": "center_distance_m", "exact": "links_exact"}


def chain_tolerances(given: FinalDrive, fit: Callable[..., ChainFit]) -> tuple[Tolerance, ...]:
    """What moves the figures of a chain's fit: `fit` works it out for another center_m or wear.

    A figure that the tolerance takes away altogether, as sprockets that would touch, moves by nan.
    """

    def read(**changed: float) -> dict[str, float]:
        try:
            other = fit(**changed)
        except InputError:
            return dict.fromkeys(FIGURES, np.nan)
        figures = {key: getattr(other, name) for key, name in FIGURES.items()}
        return {key: np.nan if value is None else float(value) for key, value in figures.items()}

    return (
        *through("final_drive.centre_distance", given.centre_distance, lambda center: read(center_m=center)),
        *through("final_drive.chain_wear", given.chain_wear, lambda wear: read(wear=wear), 0.0),
    )


def banded(figure: Figure, bike: Bike, tolerances: Sequence[Tolerance]) -> Figure:
    """A figure of the fit with its band; without one where the tolerances ask for another chain."""
    moves = {bike.source(tolerance): tolerance.moves[figure.key] for tolerance in tolerances}
    if not moves or figure.value is None:
        return figure
    another = figure.key != "exact" and any(any(tolerance.moves["links"]) for tolerance in tolerances)
    if another or not np.isfinite(list(moves.values())).all():
        return replace(figure, moves=None)
    down, up = quadrature(moves)
    value = float(figure.value)
    return replace(figure, low=value + down, high=value + up, moves=moves)


def other_chains(links: float | None, tolerances: Sequence[Tolerance]) -> tuple[str, ...]:
    """Where a tolerance is wide enough to ask for another chain: measure before one is ordered."""
    notes = []
    for tolerance in tolerances:
        ends = tolerance.moves["links"]
        if not any(ends):  # nan counts as another chain
            continue
        others = [f"{links + move:.0f} links" for move in ends if move and links is not None and np.isfinite(move)]
        notes.append(
            f"within the tolerance of {tolerance.path} {' or '.join(dict.fromkeys(others)) or 'no chain'} may be right instead: "
            "measure it more closely before a chain is ordered"
        )
    return tuple(notes)
