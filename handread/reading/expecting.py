"""Compiled kernels of who holds what and what can be finished, held to plain loops by tests."""

from __future__ import annotations

import numpy as np
from numba import njit
from numpy.typing import NDArray

from handread.tiles import JOKER

#: Rounds of matrix scaling at most, and how far from 1 the last factors may be.
_MOST_ROUNDS = 200
_CLOSE = 1e-10
#: Tiles of one kind that a target may need at most.
MOST_NEEDED = 14


@njit(cache=True)
def fill_needs(
    kinds: NDArray[np.uint8],
    probs: NDArray[np.float64],
    finish: NDArray[np.float64],
    out: NDArray[np.float64],
) -> None:
    """Add the probability that each target is the plan and can be finished to what it needs.

    `kinds` is that of ``clues.wants.Wants``.
    """
    n_kinds = len(out)
    sums = np.zeros((4, n_kinds))  # neighbours want the same kinds, and one sum waits for itself
    for g in range(kinds.shape[0]):
        plan = probs[g] * finish[g]
        if plan == 0.0:
            continue
        for j in range(kinds.shape[1]):
            if kinds[g, j] == n_kinds:
                break
            sums[g % 4, kinds[g, j]] += plan
    out += sums.sum(axis=0)


@njit(cache=True)
def fill_mended(
    open_kinds: NDArray[np.uint8],
    open_sizes: NDArray[np.uint8],
    fits: NDArray[np.bool_],
    unseen: NDArray[np.int64],
    mends: NDArray[np.float64],
    out: NDArray[np.float64],
) -> None:
    """Probability that jokers mend the groups of each target that lack naturals, in place.

    The first two are those of ``clues.wants.Wants``; `mends` is the chance of at least m jokers,
    shape (m + 1,). 0 for targets that do not fit.
    """
    most = mends.shape[0] - 1
    for g in range(open_sizes.shape[0]):
        out[g] = 0.0
        if not fits[g]:
            continue
        short = 0
        for j in range(open_sizes.shape[1]):
            if open_sizes[g, j] == 0:
                break
            short += max(0, open_sizes[g, j] - unseen[open_kinds[g, j]])
        out[g] = mends[min(short, most)]


@njit(cache=True)
def fill_finish(
    bare_kinds: NDArray[np.uint8],
    bare: NDArray[np.uint8],
    enough: NDArray[np.float64],
    mended: NDArray[np.float64],
    out: NDArray[np.float64],
) -> None:
    """Probability that each target can be finished, in place; see ``holdings.prob_finish``.

    The first two are those of ``clues.wants.Wants``; `enough` is the chance of having at least m
    naturals of each kind, shape (36, m + 1); `mended` that of ``fill_mended``.
    """
    most = enough.shape[1] - 1
    for g in range(bare.shape[0]):
        prob = mended[g]
        if prob > 0.0:
            for j in range(bare.shape[1]):
                if bare[g, j] == 0:
                    break
                prob *= enough[bare_kinds[g, j], min(bare[g, j], most)]
        out[g] = prob


@njit(cache=True)
def fill_tails(
    trials: NDArray[np.int64], prob: NDArray[np.float64], out: NDArray[np.float64]
) -> None:
    """Chance of at least 0, 1, ... successes, one row a binomial; see ``holding.binomial_tails``.

    `out` has shape (n, most + 1).
    """
    n_rows, n_cols = out.shape
    misses = np.ones(max(trials.max(), 0) + 1)  # chance that so many trials all fail
    for r in range(n_rows):
        for n in range(1, trials[r] + 1):
            misses[n] = misses[n - 1] * (1.0 - prob[r])
        below = 0.0
        ways = 1.0
        hits = 1.0
        for n in range(n_cols):
            if n > trials[r]:
                out[r, n] = 0.0
                continue
            out[r, n] = max(1.0 - below, 0.0)
            below += ways * hits * misses[trials[r] - n]
            ways *= (trials[r] - n) / (n + 1.0)
            hits *= prob[r]


@njit(cache=True)
def fill_outlook(
    kinds: NDArray[np.uint8],
    bare_kinds: NDArray[np.uint8],
    bare: NDArray[np.uint8],
    probs: NDArray[np.float64],
    unseen: NDArray[np.int64],
    kept: NDArray[np.float64],
    mended: NDArray[np.float64],
    finish: NDArray[np.float64],
    needs: NDArray[np.float64],
) -> None:
    """Fill `finish` and `needs` of one seat in place; see ``holdings.prob_finish``.

    `kept` is the chance of each copy to be within reach, shape (36,).
    """
    enough = np.empty((len(unseen), MOST_NEEDED + 1))
    fill_tails(unseen, kept, enough)
    fill_finish(bare_kinds, bare, enough, mended, finish)
    fill_needs(kinds, probs, finish, needs)


@njit(cache=True)
def scale_matrix(
    odds: NDArray[np.float64], columns: NDArray[np.float64], rows: NDArray[np.float64]
) -> NDArray[np.float64]:
    """Matrix proportional to `odds` by rows and columns with the sums given.

    Iterative proportional fitting, kept as one factor a row and one a column; columns are fitted
    last and hold exactly. A column that has come to 0 stays there.
    """
    n, m = odds.shape
    by_row, by_column = np.ones(n), np.ones(m)
    for j in range(m):
        by_column[j] = 1.0 if columns[j] > 0 else 0.0
    for _ in range(_MOST_ROUNDS):
        for i in range(n):
            total = 0.0
            for j in range(m):
                total += odds[i, j] * by_column[j]
            by_row[i] = rows[i] / total if total > 0 else 0.0
        worst = 0.0
        for j in range(m):
            if columns[j] <= 0:
                continue
            total = 0.0
            for i in range(n):
                total += odds[i, j] * by_row[i]
            fresh = columns[j] / total if total > 0 and by_column[j] > 0 else 0.0
            factor = fresh / by_column[j] if by_column[j] > 0 else 0.0
            worst = max(worst, abs(factor - 1.0))
            by_column[j] = fresh
        if worst < _CLOSE:
            break
    out = np.empty((n, m))
    for i in range(n):
        for j in range(m):
            out[i, j] = by_row[i] * odds[i, j] * by_column[j]
    return out


@njit(cache=True)
def share_out(
    needs: NDArray[np.float64],
    keeping: NDArray[np.float64],
    there: NDArray[np.float64],
    unseen: NDArray[np.int64],
    sizes: NDArray[np.float64],
    damping: float,
    odds: NDArray[np.float64],
    holds: NDArray[np.float64],
    hoarded: NDArray[np.float64],
) -> None:
    """Fill `odds` (4, 36), `holds` (5, 36) and `hoarded` (4, 36) in place, from what is needed.

    The odds go from the old ones, to the share `damping`, to those that `needs` and `keeping`
    give; see ``holdings.surroundings``. `hoarded` are the copies that seats other than each one
    hold because they need them.
    """
    n, m = needs.shape
    full = np.ones((n + 1, m))
    for i in range(n):
        for k in range(m):
            fresh = keeping[i] if k == JOKER else 1.0 + needs[i, k] * (keeping[i] - 1.0)
            odds[i, k] = damping * odds[i, k] + (1.0 - damping) * fresh
            full[i, k] = odds[i, k] * there[i, k]
    holds[:] = scale_matrix(full, unseen.astype(np.float64), sizes)
    for k in range(m):
        total = 0.0
        for i in range(n):
            by_need = needs[i, k] * odds[i, k]
            by_need /= max(1.0 + needs[i, k] * (odds[i, k] - 1.0), 1e-9)
            hoarded[i, k] = holds[i, k] * min(by_need, 1.0)
            total += hoarded[i, k]
        for i in range(n):
            hoarded[i, k] = total - hoarded[i, k]


@njit(cache=True)
def fill_reach(
    holds: NDArray[np.float64],
    odds: NDArray[np.float64],
    unseen: NDArray[np.int64],
    tiles: float,
    out: NDArray[np.float64],
) -> None:
    """Expected copies of each kind among `tiles` tiles of a seat; see ``around.reach``.

    All for one seat but `unseen`, shape (36,).
    """
    reached, pool = 0.0, 0.0
    for k in range(len(unseen)):
        bare = holds[k] if k == JOKER else holds[k] / odds[k]
        share = bare / max(unseen[k] - holds[k] + bare, 1e-12)
        out[k] = unseen[k] * share if unseen[k] > 0 else 0.0
        reached += out[k]
        pool += unseen[k]
    if reached == 0.0:  # every tile is shown: what has just been drawn may be any tile unseen
        out[:] = unseen
        reached = pool
    for k in range(len(unseen)):
        out[k] *= tiles / reached if reached > 0.0 else 0.0
