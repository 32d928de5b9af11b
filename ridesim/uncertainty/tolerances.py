"""What a build file leaves open: its tolerances, by how much each moves the figures a bike is made of, and those that move none."""

from __future__ import annotations

from collections.abc import Callable, Hashable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any, NamedTuple

import numpy as np
from numpy.typing import ArrayLike, NDArray
from pydantic import BaseModel

from ridesim.units import Measured

Array = NDArray[np.float64]
PER_SD = 1.645  # standard deviations in the half-width of a stated tolerance, which is half of a 90 % range


class Source(NamedTuple):
    """Where an error comes from. Two figures share the error of one source, and of nothing else: two bikes share none.

    bike    the bike it is an error about, as Build.bike
    cause   what was measured on it: the key and whatever tells one measurement under that key from another
    """

    bike: Hashable
    cause: tuple[Hashable, ...]


@dataclass(frozen=True, kw_only=True)
class Tolerance:
    """A figure that is known only within a tolerance.

    path         its key in the build file
    value        the figure, in SI
    plus_minus   half the width of its band
    moves        by how much each raw figure of the bike moves at its upper and at its lower end
    of           what was measured, where the figure itself does not tell: a tire by its marking, a curve by its points
    """

    path: str
    value: float
    plus_minus: float
    moves: Mapping[str, tuple[float, float]]
    of: tuple[Hashable, ...] | None = None

    @property
    def cause(self) -> tuple[Hashable, ...]:
        """What two set-ups of one bike share when they share this error; a figure measured anew is another measurement."""
        return self.of or (self.path, self.value, self.plus_minus)


def single(path: str, raw: str, value: float, plus_minus: float) -> Tolerance:
    """The tolerance of a raw figure itself.

    >>> single("masses.rider", "rider_kg", 79.0, 2.0).moves
    {'rider_kg': (2.0, -2.0)}
    """
    return Tolerance(path=path, value=value, plus_minus=plus_minus, moves={raw: (plus_minus, -plus_minus)})


def through(
    path: str,
    written: Measured | None,
    read: Callable[[float], Mapping[str, float]],
    least: float = -np.inf,
    most: float = np.inf,
    of: tuple[Hashable, ...] | None = None,
) -> Iterator[Tolerance]:
    """The tolerance of a figure that raw figures follow from, if it carries a tolerance.

    Parameters
    ----------
    path : str
    written : Measured or None
    read : callable
        The raw figures for a value of it.
    least, most : float
        Where it ends by nature, as a humidity does at 1.
    of : tuple, optional
        As in Tolerance.

    >>> [tolerance] = through("air.humidity", Measured(0.9, 0.2), lambda h: {"dry": 1.0 - h}, 0.0, 1.0)
    >>> [round(move, 6) for move in tolerance.moves["dry"]]
    [-0.1, 0.2]
    """
    if written is None or not written.plus_minus:
        return
    own, spread = read(float(written)), written.plus_minus
    upper, lower = (read(min(max(float(written) + turn * spread, least), most)) for turn in (1.0, -1.0))
    moves = {raw: (upper[raw] - value, lower[raw] - value) for raw, value in own.items()}
    yield Tolerance(path=path, value=float(written), plus_minus=spread, moves=moves, of=of)


def perturbed(raw: Mapping[str, Any], tolerances: Sequence[Tolerance], turns: ArrayLike) -> dict[str, Any]:
    """Raw figures where every tolerance stands somewhere in its band.

    Parameters
    ----------
    raw : mapping
        The figures of a bike.
    tolerances : sequence of Tolerance
    turns : array, (n, tolerances)
        From -1 at the lower end of a band to 1 at its upper end.

    Returns
    -------
    dict
        Figures that a tolerance moves are (n,); what is above zero stays so.

    >>> perturbed({"rider_kg": 79.0}, [single("masses.rider", "rider_kg", 79.0, 2.0)], [[0.0], [-1.0]])["rider_kg"].tolist()
    [79.0, 77.0]
    """
    values = dict(raw)
    for turn, tolerance in zip(np.asarray(turns, dtype=float).T, tolerances, strict=True):
        for name, (up, down) in tolerance.moves.items():
            own = np.asarray(values[name], dtype=float)
            moved = own + np.where(turn > 0.0, turn * up, -turn * down)
            # a place behind the rear axle is below zero from the start
            values[name] = np.where(own > 0.0, np.maximum(moved, 1e-9), moved)
    return values


def ends(count: int) -> Array:
    """Where `count` tolerances stand when none has moved, then each alone at its upper and at its lower end, (1 + 2 count, count).

    >>> ends(1).tolist()
    [[0.0], [1.0], [-1.0]]
    """
    turns = np.zeros((1 + 2 * count, count))
    for n in range(count):
        turns[1 + 2 * n, n], turns[2 + 2 * n, n] = 1.0, -1.0
    return turns


def quadrature(moves: Mapping[Any, tuple[float, float]]) -> tuple[float, float]:
    """(downward, upward) width of a band: each tolerance's larger move either way, added in quadrature.

    First order: the tolerances are independent of each other.

    >>> quadrature({"a": (3.0, -3.0), "b": (-4.0, 4.0)})
    (-5.0, 5.0)
    """
    both = np.array(list(moves.values())).reshape(-1, 2)
    up = float(np.sqrt(np.sum(np.maximum(both.max(axis=1), 0.0) ** 2)))
    down = float(np.sqrt(np.sum(np.minimum(both.min(axis=1), 0.0) ** 2)))
    return -down, up


def merged(tolerances: Sequence[Tolerance], raw: str, values: Array) -> tuple[Tolerance, ...]:
    """The tolerances with what they do to one raw figure more, whose values stand as in `ends`.

    >>> rider = single("masses.rider", "rider_kg", 79.0, 2.0)
    >>> [one.moves["efficiency"] for one in merged([rider], "efficiency", np.array([0.5, 0.75, 0.25]))]
    [(0.25, -0.25)]
    """
    changes = values[1:] - values[0]
    pairs = zip(tolerances, changes[0::2].tolist(), changes[1::2].tolist(), strict=True)
    return tuple(
        replace(tolerance, moves={**tolerance.moves, raw: (up, down)}) if up or down else tolerance
        for tolerance, up, down in pairs
    )


def carried_over(
    from_tolerances: Sequence[Tolerance], to_tolerances: Sequence[Tolerance], raw: str
) -> tuple[Tolerance, ...]:
    """The tolerances of a bike with what those of another one do to a raw figure that it has from there; what both share moves both.

    >>> [one] = merged([single("masses.rider", "rider_kg", 79.0, 2.0)], "efficiency", np.array([0.5, 0.75, 0.25]))
    >>> [sorted(tolerance.moves) for tolerance in carried_over([one], [single("masses.rider", "rider_kg", 79.0, 2.0)], "efficiency")]
    [['efficiency', 'rider_kg']]
    >>> [sorted(tolerance.moves) for tolerance in carried_over([one], [], "efficiency")]
    [['efficiency']]
    """
    others = {tolerance.cause: tolerance for tolerance in from_tolerances if raw in tolerance.moves}
    own = []
    for tolerance in to_tolerances:
        other = others.pop(tolerance.cause, None)
        own.append(tolerance if other is None else replace(tolerance, moves={**tolerance.moves, raw: other.moves[raw]}))
    return (*own, *(replace(tolerance, moves={raw: tolerance.moves[raw]}) for tolerance in others.values()))


def toleranced(value: object, path: str = "") -> Iterator[str]:
    """The keys of a record, or of a part of one, whose figures carry a tolerance.

    >>> list(toleranced({"mass": Measured(158.0, 2.0), "points": (1.0, Measured(2.0, 0.1))}, "bike"))
    ['bike.mass', 'bike.points[2]']
    """
    if isinstance(value, Measured):
        if value.plus_minus:
            yield path
    elif isinstance(value, BaseModel):
        for name in type(value).model_fields:
            yield from toleranced(getattr(value, name), f"{path}.{name}".lstrip("."))
    elif isinstance(value, tuple):
        for place, one in enumerate(value, start=1):
            yield from toleranced(one, f"{path}[{place}]")
    elif isinstance(value, dict):
        for name, one in value.items():
            yield from toleranced(one, f"{path}.{name}")
