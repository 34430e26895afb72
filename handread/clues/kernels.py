"""Compiled kernels of the clues; each has a plain twin that the tests hold it to."""

from __future__ import annotations

import numpy as np
from numba import njit
from numpy.typing import NDArray

from handread.clues.codes import Use
from handread.tiles import JOKER

_EXPOSED = int(Use.EXPOSED)
_DEAD = int(Use.DEAD)
_PAIR = int(Use.PAIR)
_WANTED = int(Use.JOKER_WANTED)
_UNWANTED = int(Use.JOKER_UNWANTED)


@njit(cache=True)
def _naturals_gone(
    kinds: NDArray[np.int8],
    sizes: NDArray[np.uint8],
    jokers: NDArray[np.bool_],
    left: NDArray[np.bool_],
    free: NDArray[np.int64],
    codes: NDArray[np.uint8],
) -> int:
    """Count the kinds of one target of which more naturals are needed than are left.

    Singles and pairs among them become dead in `codes`.
    """
    gone = 0
    for j in range(len(kinds)):
        if sizes[j] == 0 or jokers[j] or not left[j]:
            continue
        needed = 0
        first = True
        for i in range(len(kinds)):
            if kinds[i] == kinds[j] and sizes[i] > 0 and left[i] and not jokers[i]:
                needed += sizes[i]
                first = first and i >= j
        if first and needed > free[kinds[j]]:
            gone += 1
            if codes[kinds[j]] <= _PAIR:
                codes[kinds[j]] = _DEAD
    return gone


@njit(cache=True)
def fill_codes(
    kinds: NDArray[np.int8],
    sizes: NDArray[np.uint8],
    jokers: NDArray[np.bool_],
    left: NDArray[np.bool_],
    free: NDArray[np.int64],
    codes: NDArray[np.uint8],
    blocked: NDArray[np.uint8],
) -> None:
    """Fill `codes` and `blocked` in place; see ``codes.use_codes``."""
    n_targets, n_groups = kinds.shape
    for g in range(n_targets):
        wants = False
        short = 0
        for j in range(n_groups):
            size = sizes[g, j]
            if size == 0:
                continue
            k = kinds[g, j]
            held = codes[g, k]
            if not left[g, j]:
                if held == 0:
                    codes[g, k] = _EXPOSED
                continue
            if held == _EXPOSED:
                held = 0
            codes[g, k] = max(held, size)
            if jokers[g, j]:
                wants = True
                short += max(0, size - free[k])
        blocked[g] = _naturals_gone(kinds[g], sizes[g], jokers[g], left[g], free, codes[g])
        blocked[g] += max(0, short - free[JOKER])
        codes[g, JOKER] = _WANTED if wants else _UNWANTED


@njit(cache=True)
def gather_throws(
    weight: NDArray[np.float64], codes: NDArray[np.uint8], kind: int
) -> NDArray[np.float64]:
    """Probability that each row throws `kind`.

    Parameters
    ----------
    weight
        exp of the score of each code and kind, 0 for kinds that are not there; shape (16, 36).
    codes
        Use codes, shape (n_rows, 36).
    kind
        The tile thrown.
    """
    n_rows, n_kinds = codes.shape
    out = np.empty(n_rows)
    for r in range(n_rows):
        total = 0.0
        for k in range(n_kinds):
            total += weight[codes[r, k], k]
        out[r] = weight[codes[r, kind], kind] / total
    return out


@njit(cache=True)
def gather_many(tables: NDArray[np.float64], codes: NDArray[np.uint8]) -> NDArray[np.float64]:
    """Sum over kinds of each table's entry for each row's use code.

    Parameters
    ----------
    tables
        Shape (n_tables, 16, 36).
    codes
        Use codes, shape (n_rows, 36).

    Returns
    -------
    NDArray
        Shape (n_tables, n_rows).
    """
    n_rows, n_kinds = codes.shape
    out = np.zeros((tables.shape[0], n_rows))
    for t in range(tables.shape[0]):
        for r in range(n_rows):
            total = 0.0
            for k in range(n_kinds):
                total += tables[t, codes[r, k], k]
            out[t, r] = total
    return out


@njit(cache=True)
def fill_claims(
    kinds: NDArray[np.int8],
    sizes: NDArray[np.uint8],
    jokers: NDArray[np.bool_],
    left: NDArray[np.bool_],
    concealed: NDArray[np.bool_],
    kind: int,
    claimable: int,
    masks: NDArray[np.uint8],
    share: NDArray[np.float64],
) -> None:
    """Fill `masks` (2, n_targets) and `share` (n_targets,) in place; see ``codes.claim_masks``.

    `claimable` has bits 0 to 3 for pung to sextet; `share` is the part of the tiles still
    needed that are of this kind.
    """
    for g in range(kinds.shape[0]):
        wanted = 0
        total = 0
        for j in range(kinds.shape[1]):
            if not left[g, j]:
                continue
            size = sizes[g, j]
            total += size
            if kinds[g, j] != kind:
                continue
            wanted += size
            if size < 3 or concealed[g] or not (claimable >> (size - 3)) & 1:
                continue
            masks[0, g] |= 1 << (size - 3)
            if jokers[g, j]:
                masks[1, g] |= 1 << (size - 3)
        share[g] = wanted / max(total, 1)
