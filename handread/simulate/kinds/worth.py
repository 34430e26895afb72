"""What a rack is worth to a player who weighs its chances: compiled, for several kinds."""

from __future__ import annotations

import math

import numpy as np
from numba import njit
from numpy.typing import NDArray

Array = NDArray[np.float64]

#: Weights below this share of the largest are dropped: nobody weighs such hands.
LEAST = 1e-2


@njit(cache=True)
def worth_of(
    bare: NDArray[np.int64], short: NDArray[np.int64], cost_bare: Array, cost_open: Array,
    thirst: NDArray[np.int64], blocked: NDArray[np.bool_], concealed: NDArray[np.bool_],
    points: Array,
    pair_cost: float, joker_cost: float, aware: float, taste: float,
) -> Array:  # fmt: skip
    """Worth of each target, in tiles, higher is better; ``-inf`` where it is blocked.

    Parameters
    ----------
    bare, short, cost_bare, cost_open, thirst, blocked
        As ``kernels.measure`` returns them.
    concealed, points
        Of each target.
    pair_cost
        What a missing tile of a pair or single counts; one of a longer group counts 1.
    joker_cost
        What a joker counts more that is needed and not held.
    aware
        Share of the judgement that looks at the copies left, the rest counts tiles, 0 to 1.
    taste
        What points count: tiles for each factor of e in points.
    """
    n = short.shape[0]
    worth = np.full(n, -np.inf)
    for g in range(n):
        if blocked[g]:
            continue
        counted = (short[g] - bare[g]) + pair_cost * bare[g]
        weighed = cost_open[g] + pair_cost * cost_bare[g]
        way = (1.0 - aware) * counted + aware * weighed + joker_cost * thirst[g]
        if concealed[g]:
            way *= 1.25
        worth[g] = taste * math.log(points[g] / 30.0) - way
    return worth


@njit(cache=True)
def weights_of(worth: Array, plan: int, stay: float, spread: float) -> Array:
    """Weights of the targets: softmax of worth over spread, small ones dropped.

    The plan, if there is one, is worth `stay` tiles more. All zeros if every target is blocked.
    """
    n = worth.shape[0]
    weights = np.zeros(n)
    best = -np.inf
    for g in range(n):
        best = max(best, worth[g] + (stay if g == plan else 0.0))
    if best == -np.inf:
        return weights
    total = 0.0
    for g in range(n):
        w = math.exp((worth[g] + (stay if g == plan else 0.0) - best) / spread)
        if w >= LEAST:
            weights[g] = w
            total += w
    return weights / total


@njit(cache=True)
def value_of(worth: Array, plan: int, stay: float, spread: float) -> float:
    """Value of a rack in tiles: soft maximum of worth over targets; ``-inf`` if there is none."""
    best = -np.inf
    for g in range(worth.shape[0]):
        best = max(best, worth[g] + (stay if g == plan else 0.0))
    if best == -np.inf:
        return best
    total = 0.0
    for g in range(worth.shape[0]):
        total += math.exp((worth[g] + (stay if g == plan else 0.0) - best) / spread)
    value: float = best + spread * math.log(total)
    return value
