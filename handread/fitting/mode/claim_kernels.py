"""Compiled look at claims: log likelihood, slope and curvature in one pass over the windows.

The tests hold it to differences of ``kernels.fill_claim_log_probs``.
"""

from __future__ import annotations

from typing import Final

import numpy as np
from numba import njit
from numpy.typing import NDArray

Array = NDArray[np.float64]

#: Places of what a window hangs on: the rates of its phase, then these.
FACTOR: Final = 18
ANEW: Final = 19
COPIES: Final = 20
JOKERS: Final = 21
N_PLACES: Final = 22
_TINY: Final = 1e-300


@njit(cache=True, nogil=True)
def _fill_tails(chances: NDArray[np.float32], tilt: float, powers: Array, out: Array) -> None:
    """Tilted chances of tiles held and of at least so many, with their slopes by the tilt.

    `out` is filled, shape (3, 2, n): values, first and second slopes of chances and of tails;
    the slopes are 0 where there is no tilt to be moved, of which `tilt` is the flag.
    """
    n = len(chances)
    total, mean, square = 0.0, 0.0, 0.0
    for i in range(n):
        out[0, 0, i] = chances[i] * powers[i]
        total += out[0, 0, i]
        mean += i * out[0, 0, i]
        square += i * i * out[0, 0, i]
    mean /= total
    variance = square / total - mean * mean
    out[:, 1, n - 1] = 0.0
    for i in range(n - 1, -1, -1):
        away = i - mean
        out[0, 0, i] /= total
        out[1, 0, i] = tilt * out[0, 0, i] * away
        out[2, 0, i] = tilt * out[0, 0, i] * (away * away - variance)
        for order in range(3):
            above = out[order, 1, i + 1] if i + 1 < n else 0.0
            out[order, 1, i] = above + out[order, 0, i]


@njit(cache=True, nogil=True)
def _fill_makes(held: Array, wild: Array, out: Array) -> None:
    """Chance that the tiles for each group are there, and its slopes, shape (6, 18).

    Rows: the chance, by copies, by jokers, by copies twice, by both, by jokers twice.
    """
    shape = 0
    for size in range(3, 7):
        for j in range(size):
            need, row = size - 1 - j, 1 if j == 0 else 0
            out[0, shape] = held[0, row, need] * wild[0, 1, j]
            out[1, shape] = held[1, row, need] * wild[0, 1, j]
            out[2, shape] = held[0, row, need] * wild[1, 1, j]
            out[3, shape] = held[2, row, need] * wild[0, 1, j]
            out[4, shape] = held[1, row, need] * wild[1, 1, j]
            out[5, shape] = held[0, row, need] * wild[2, 1, j]
            shape += 1


@njit(cache=True, nogil=True)
def _shown(
    s: int, place: int, makes: Array, rate: float, share: float, allowed: float, own: Array,
    more: Array,
) -> float:  # fmt: skip
    """Chance of a group shown; slopes of its log, and what its curvature is beside their squares.

    All but the tilts multiply, so that nothing bends across.
    """
    own[:], more[:] = 0.0, 0.0
    own[s], own[place] = 1.0 / rate, 1.0 / share
    own[COPIES], own[JOKERS] = makes[1, s] / makes[0, s], makes[2, s] / makes[0, s]
    for other in (place, COPIES, JOKERS):
        more[other - FACTOR, s] = -own[s] * own[other]
    for tilt in (COPIES, JOKERS):
        more[place - FACTOR, tilt] = -own[place] * own[tilt]
    more[COPIES - FACTOR, COPIES] = -makes[3, s] / makes[0, s]
    more[COPIES - FACTOR, JOKERS] = -makes[4, s] / makes[0, s]
    more[JOKERS - FACTOR, JOKERS] = -makes[5, s] / makes[0, s]
    prob: float = max(makes[0, s] * rate * share * allowed, _TINY)
    return prob


@njit(cache=True, nogil=True)
def _let_pass(
    makes: Array, other: Array, planned: Array, fresh: Array, rate: Array, factor: float,
    rate_anew: float, own: Array, more: Array,
) -> float:  # fmt: skip
    """Chance of no group; slopes of its log, and what its curvature is beside their squares."""
    own[:], more[:] = 0.0, 0.0
    prob = 1.0
    for s in range(len(rate)):
        some, anew = makes[0, s] * planned[s], other[0, s] * fresh[s]
        own[s] = some * factor + anew * rate_anew
        if own[s] == 0.0:
            continue
        prob -= own[s] * rate[s]
        here, there = planned[s] * factor, fresh[s] * rate_anew
        more[0, s], more[1, s] = some, anew
        more[2, s], more[3, s] = makes[1, s] * here, makes[2, s] * here + other[2, s] * there
        for place in range(4):
            own[FACTOR + place] += more[place, s] * rate[s]
        more[0, COPIES] += makes[1, s] * planned[s] * rate[s]
        more[0, JOKERS] += makes[2, s] * planned[s] * rate[s]
        more[1, JOKERS] += other[2, s] * fresh[s] * rate[s]
        more[2, COPIES] += makes[3, s] * here * rate[s]
        more[2, JOKERS] += makes[4, s] * here * rate[s]
        more[3, JOKERS] += (makes[5, s] * here + other[5, s] * there) * rate[s]
    if prob <= _TINY:  # beyond what rates may be: no slope leads back, shorter steps do
        own[:], more[:] = 0.0, 0.0
        return _TINY
    own /= -prob
    more /= prob
    return prob


@njit(cache=True, nogil=True)
def _add(
    weight: float, own: Array, more: Array, there: NDArray[np.int64], slope: Array, squares: Array,
    bend: Array,
) -> None:  # fmt: skip
    """Add one window to the sums."""
    for k in range(len(there)):
        a = there[k]
        part = weight * own[a]
        slope[a] += part
        for m in range(k, len(there)):
            squares[a, there[m]] += part * own[there[m]]
        for place in range(4):
            bend[place, a] += weight * more[place, a]


@njit(cache=True, nogil=True)
def claim_look(
    outcome: NDArray[np.int64],
    anew: NDArray[np.bool_],
    loose: NDArray[np.int64],
    kept: NDArray[np.float32],
    any_plan: NDArray[np.float32],
    jokers: NDArray[np.float32],
    open_to: NDArray[np.float32],
    possible: NDArray[np.bool_],
    weight: NDArray[np.float64],
    phase: NDArray[np.int64],
    rates: Array,
    factors: Array,
    rate_anew: float,
    tilt_copies: float,
    tilt_jokers: float,
    slope: Array,
    squares: Array,
    bend: Array,
) -> float:
    """Weighted log likelihood of groups shown and let pass, nats.

    Parameters
    ----------
    outcome, anew, loose, kept, any_plan, jokers, open_to, possible, weight
        Columns of the table ``claims``.
    phase
        Of each window.
    rates, factors, rate_anew, tilt_copies, tilt_jokers
        As for ``kernels.fill_claim_log_probs``, of one setting; rates of shape (3, 18).
    slope, squares, bend
        Added to, by phase, `loose` and place: the slope, shape (3, 4, 22); the upper half of the
        sum of the squares of the slopes of each window, shape (3, 4, 22, 22); and by what minus
        the curvature differs from it, for the last four places and all, shape (3, 4, 4, 22).
    """
    n_tiles, n_shapes = kept.shape[1], open_to.shape[1]
    held, free, wild = np.empty((3, 3, 2, n_tiles))
    makes, other = np.zeros((2, 6, n_shapes))
    tiles = np.arange(n_tiles)
    flat, by_copies = np.ones(n_tiles), np.exp(tilt_copies * tiles)
    by_jokers = np.exp(tilt_jokers * tiles)
    planned, fresh = np.empty(n_shapes), np.empty(n_shapes)
    own, there = np.zeros(N_PLACES), np.empty(N_PLACES, dtype=np.int64)
    more = np.zeros((4, N_PLACES))
    total = 0.0
    for i in range(len(outcome)):
        target, rate, factor = loose[i] == 0, rates[phase[i]], factors[loose[i]]
        _fill_tails(jokers[i], 1.0, by_jokers, wild)
        _fill_tails(any_plan[i], 0.0, flat, free)
        if target:
            _fill_tails(kept[i], 1.0, by_copies, held)
            _fill_makes(held, wild, makes)
            _fill_makes(free, wild, other)
        else:
            _fill_makes(free, wild, makes)
        for s in range(n_shapes):
            planned[s] = open_to[i, s]
            fresh[s] = possible[i, s] if target else 0.0
        s = outcome[i]
        if s < 0:
            prob = _let_pass(makes, other, planned, fresh, rate, factor, rate_anew, own, more)
        elif anew[i]:
            prob = _shown(s, ANEW, other, rate[s], rate_anew, fresh[s], own, more)
        else:
            prob = _shown(s, FACTOR, makes, rate[s], factor, planned[s], own, more)
        total += weight[i] * np.log(prob)
        n_there = 0
        for place in range(N_PLACES):
            if own[place] != 0.0:
                there[n_there] = place
                n_there += 1
        _add(weight[i], own, more, there[:n_there], slope[phase[i], loose[i]],
             squares[phase[i], loose[i]], bend[phase[i], loose[i]])  # fmt: skip
    return total
