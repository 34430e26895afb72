"""Compiled passes of the figures; the tests hold them to plain numpy."""

from __future__ import annotations

import numpy as np
from numba import njit
from numpy.typing import NDArray

Array = NDArray[np.float64]
#: Moments that are looked at together, so that their sums stay in the processor's cache.
_TOGETHER = 512


@njit(cache=True)
def share_drawn(drawn: NDArray[np.int32], out: Array) -> None:
    """Share of each resample that each game is, in place of `out`, shape (n_resamples, n_games).

    `drawn` holds the games drawn for each resample, in the same shape.
    """
    n = drawn.shape[1]
    counts = np.empty(n, dtype=np.int32)
    for draw in range(len(drawn)):
        counts[:] = 0
        for place in range(n):
            counts[drawn[draw, place]] += 1
        for game in range(n):
            out[draw, game] = counts[game] / float(n)


@njit(cache=True)
def raised_moments(raised: Array, logs: Array, out: Array) -> None:
    """Total of each moment's column, and mean and mean square of its logs, in place of `out`.

    `raised` and `logs` have shape (n_rows, n_moments), `out` (3, n_moments).
    """
    n_rows, n_moments = raised.shape
    for start in range(0, n_moments, _TOGETHER):
        end = min(start + _TOGETHER, n_moments)
        out[:, start:end] = 0.0
        for row in range(n_rows):
            for moment in range(start, end):
                weight, log = raised[row, moment], logs[row, moment]
                out[0, moment] += weight
                out[1, moment] += weight * log
                out[2, moment] += weight * log * log
        for moment in range(start, end):
            out[1, moment] /= out[0, moment]
            out[2, moment] /= out[0, moment]


@njit(cache=True)
def signed_gaps(
    residual: Array,
    code: NDArray[np.int64],
    sign: Array,
    start: NDArray[np.int64],
    weight: Array,
    out: Array,
) -> None:
    """Mean residual at each stated value with the signs of games, in place of `out`, (n_values,).

    `start` is where the moments of each value begin; those of the last go to the end.
    """
    for value in range(len(start)):
        end = start[value + 1] if value + 1 < len(start) else len(residual)
        total = 0.0
        for moment in range(start[value], end):
            total += residual[moment] * sign[code[moment]]
        out[value] = total / weight[value]


@njit(cache=True)
def loss_saved(stated: Array, gap: Array, best: Array, weight: Array) -> float:
    """Brier loss of `stated` less that of `best`, for events stated + gap."""
    total = 0.0
    for value in range(len(stated)):
        left = best[value] - stated[value] - gap[value]
        total += weight[value] * (gap[value] * gap[value] - left * left)
    return total
