"""The check every figure from outside goes through: a number, and inside its range."""

from __future__ import annotations

from typing import Any

import numpy as np

from ridesim.errors import InputError


def within(where: str, value: Any, least: float, most: float, unit: str, fix: str = "") -> Any:
    """The value as a float or array of floats; InputError unless all of it is a number from least to most.

    Parameters
    ----------
    where : str
        Path to name in the error.
    value : float or array
        What was given.
    least, most : float
        Bounds, both allowed. [unit]
    unit : str
        For the message.
    fix : str
        What to do about it, as a whole sentence.

    Returns
    -------
    float or array
        [unit]

    Raises
    ------
    InputError
        Not a number, not finite, or outside the bounds.

    Examples
    --------
    >>> within("air.humidity", 0.5, 0, 1, "")
    0.5
    >>> within("air.humidity", float("nan"), 0, 1, "")
    Traceback (most recent call last):
    ridesim.errors.InputError: air.humidity = nan: must be a number from 0 to 1.
    """
    number = np.asarray(value)
    # nan fails both comparisons, infinity one of them
    if number.dtype.kind not in "iuf" or not np.all((number >= least) & (number <= most)):
        raise InputError(where, value, f"must be a number from {least:g} to {most:g} {unit}".rstrip(), fix)
    return number.astype(float) if number.ndim else float(number)


def one(where: str, value: Any, least: float, most: float, unit: str, fix: str = "") -> float:
    """As `within`, for a figure of which there is only one: an array is refused too.

    Parameters
    ----------
    where : str
        Path to name in the error.
    value : float
        What was given.
    least, most : float
        Bounds, both allowed. [unit]
    unit : str
        For the message.
    fix : str
        What to do about it, as a whole sentence.

    Returns
    -------
    float
        [unit]

    Raises
    ------
    InputError
        Not one number, not finite, or outside the bounds.

    Examples
    --------
    >>> one("masses", [200.0, 300.0], 1, 5000, "kg")
    Traceback (most recent call last):
    ridesim.errors.InputError: masses = [200.0, 300.0]: must be one number, not several.
    """
    if np.ndim(value):
        raise InputError(where, value, "must be one number, not several", fix)
    return float(within(where, value, least, most, unit, fix))
