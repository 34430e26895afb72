"""Compiled kernels of the change of plan; the tests hold them to plain sums."""

from __future__ import annotations

import numpy as np
from numba import njit
from numpy.typing import NDArray


@njit(cache=True)
def nearest(demand: NDArray[np.uint8], size: int) -> tuple[NDArray[np.int32], NDArray[np.int32]]:
    """Targets that share most tiles with each target, and how many they share.

    Ties go to the lower index. Shapes (n_targets, size).
    """
    n = demand.shape[0]
    near = np.zeros((n, size), dtype=np.int32)
    shared = np.full((n, size), -1, dtype=np.int32)
    kinds = np.zeros(demand.shape[1], dtype=np.int32)
    for g in range(n):
        n_kinds = 0
        for k in range(demand.shape[1]):
            if demand[g, k] > 0:
                kinds[n_kinds] = k
                n_kinds += 1
        for other in range(n):
            if other == g:
                continue
            common = 0
            for i in range(n_kinds):
                common += min(demand[g, kinds[i]], demand[other, kinds[i]])
            if size == 0 or common <= shared[g, size - 1]:
                continue
            place = size - 1
            while place > 0 and shared[g, place - 1] < common:
                shared[g, place] = shared[g, place - 1]
                near[g, place] = near[g, place - 1]
                place -= 1
            shared[g, place] = common
            near[g, place] = other
    return near, shared


@njit(cache=True)
def scatter_near(
    near: NDArray[np.int32], weight: NDArray[np.float64], mass: NDArray[np.float64], n: int
) -> NDArray[np.float64]:
    """Send `mass` from each target to its near targets: the transpose of ``gather_near``."""
    out = np.zeros(n)
    for g in range(near.shape[0]):
        if mass[g] == 0.0:
            continue
        for j in range(near.shape[1]):
            out[near[g, j]] += mass[g] * weight[g, j]
    return out


@njit(cache=True)
def gather_near(
    near: NDArray[np.int32], weight: NDArray[np.float64], value: NDArray[np.float64]
) -> NDArray[np.float64]:
    """Mean of `value` over the near targets of each target."""
    out = np.zeros(near.shape[0])
    for g in range(near.shape[0]):
        total = 0.0
        for j in range(near.shape[1]):
            total += weight[g, j] * value[near[g, j]]
        out[g] = total
    return out


@njit(cache=True)
def fill_needs(
    kinds: NDArray[np.int8],
    left: NDArray[np.bool_],
    plan: NDArray[np.float64],
    out: NDArray[np.float64],
) -> None:
    """Add the probability of each target to each kind that it still needs, once a kind."""
    for g in range(kinds.shape[0]):
        if plan[g] == 0.0:
            continue
        for j in range(kinds.shape[1]):
            if not left[g, j]:
                continue
            first = True
            for i in range(j):
                first = first and not (left[g, i] and kinds[g, i] == kinds[g, j])
            if first:
                out[kinds[g, j]] += plan[g]


@njit(cache=True)
def fill_finish(
    kinds: NDArray[np.int8],
    sizes: NDArray[np.uint8],
    jokers: NDArray[np.bool_],
    left: NDArray[np.bool_],
    fits: NDArray[np.bool_],
    unseen: NDArray[np.int64],
    enough: NDArray[np.float64],
    mends: NDArray[np.float64],
    out: NDArray[np.float64],
) -> None:
    """Probability that each target can be finished; see ``holdings.prob_finish``.

    `enough` is the chance of having at least m naturals of each kind, shape (36, m + 1);
    `mends` that of at least m jokers, shape (m + 1,). Targets that do not fit are left as they
    are.
    """
    for g in range(kinds.shape[0]):
        if not fits[g]:
            continue
        prob = 1.0
        short = 0
        for j in range(kinds.shape[1]):
            if not left[g, j]:
                continue
            if jokers[g, j]:
                short += max(0, sizes[g, j] - unseen[kinds[g, j]])
                continue
            needed = 0
            first = True
            for i in range(kinds.shape[1]):
                if left[g, i] and not jokers[g, i] and kinds[g, i] == kinds[g, j]:
                    needed += sizes[g, i]
                    first = first and i >= j
            if first:
                prob *= enough[kinds[g, j], min(needed, enough.shape[1] - 1)]
        out[g] = prob * mends[min(short, mends.shape[0] - 1)]


@njit(cache=True)
def scale_matrix(
    odds: NDArray[np.float64], columns: NDArray[np.float64], rows: NDArray[np.float64]
) -> NDArray[np.float64]:
    """Matrix proportional to `odds` by rows and columns with the sums given.

    Iterative proportional fitting; columns are fitted last and hold exactly.
    """
    out = odds.copy()
    n, m = out.shape
    for _ in range(200):
        worst = 0.0
        for i in range(n):
            total = 0.0
            for j in range(m):
                total += out[i, j] * (columns[j] > 0)
            factor = rows[i] / total if total > 0 else 0.0
            for j in range(m):
                out[i, j] *= factor
        for j in range(m):
            total = 0.0
            for i in range(n):
                total += out[i, j]
            factor = columns[j] / total if total > 0 else 0.0
            worst = max(worst, abs(factor - 1.0) if columns[j] > 0 else 0.0)
            for i in range(n):
                out[i, j] *= factor
        if worst < 1e-10:
            break
    return out


@njit(cache=True)
def fill_tails(
    trials: NDArray[np.int64], prob: NDArray[np.float64], out: NDArray[np.float64]
) -> None:
    """Chance of at least 0, 1, ... successes, one row a binomial; see ``holding.binomial_tails``.

    `out` has shape (n, most + 1).
    """
    n_rows, n_cols = out.shape
    for r in range(n_rows):
        below = 0.0
        ways = 1.0
        for n in range(n_cols):
            out[r, n] = max(1.0 - below, 0.0) if n <= trials[r] else 0.0
            if n <= trials[r]:
                below += ways * prob[r] ** n * (1.0 - prob[r]) ** (trials[r] - n)
                ways *= (trials[r] - n) / (n + 1.0)
