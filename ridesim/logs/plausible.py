"""What no ride does: jumps that no tire gives, lost fixes written as zero, positions far off; left out before anything is fitted."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from ridesim.logs.log import Array
from ridesim.logs.reading.positions import great_circle_m

HARDEST_M_S2 = 15.0  # 1.5 g: no street tire holds on so well
NOISE_M_S = 2.0  # what a receiver may jump by itself
ZERO_M_S = 0.3
LONGEST_ZERO_S, LONGEST_JUMP_S = 60.0, 5.0
LEAP_M_S = 30.0  # by which a position may run ahead of twice the speed


def jumps(time_s: Array, speed_m_s: Array) -> tuple[NDArray[np.bool_], NDArray[np.bool_]]:
    """Rows that lie between two jumps there and back which no tire gives: those written as zero, and the others.

    Examples
    --------
    >>> t = np.arange(8.0)
    >>> zero, other = jumps(t, np.array([30.0, 30, 0, 0, 29, 90, 29, 28]))
    >>> np.flatnonzero(zero).tolist(), np.flatnonzero(other).tolist()
    ([2, 3], [5])
    """
    zero, other = np.zeros((2, time_s.size), dtype=bool)
    step, change = np.diff(time_s), np.diff(speed_m_s)
    places = np.flatnonzero(np.abs(change) > HARDEST_M_S2 * step + NOISE_M_S)
    k = 0
    while k < places.size - 1:
        a, b = places[k], places[k + 1]
        inside = slice(a + 1, b + 1)
        lasts = time_s[b + 1] - time_s[a]
        at_zero = bool(np.all(speed_m_s[inside] < ZERO_M_S))
        if change[a] * change[b] < 0 and lasts < (LONGEST_ZERO_S if at_zero else LONGEST_JUMP_S):
            (zero if at_zero else other)[inside] = True
            k += 2
        else:
            k += 1
    return zero, other


def stray(time_s: Array, speed_m_s: Array, latitude_deg: Array, longitude_deg: Array) -> NDArray[np.bool_]:
    """Rows whose position lies further from both its neighbors than the speeds there allow.

    Examples
    --------
    >>> t, lat = np.arange(6.0), 45 + 1e-4 * np.arange(6)
    >>> lat[3] += 0.1
    >>> np.flatnonzero(stray(t, np.full(6, 11.0), lat, np.zeros(6))).tolist()
    [3]
    """
    out = np.zeros(time_s.size, dtype=bool)
    known = np.flatnonzero(np.isfinite(latitude_deg) & np.isfinite(longitude_deg))
    if known.size < 3:
        return out
    moved = great_circle_m(latitude_deg[known], longitude_deg[known]) / np.maximum(np.diff(time_s[known]), 1e-3)
    fastest = np.maximum(speed_m_s[known][1:], speed_m_s[known][:-1])
    far = moved > 2 * fastest + LEAP_M_S
    out[known[1:-1]] = far[1:] & far[:-1]
    return out
