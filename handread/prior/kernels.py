"""Compiled kernels: the target nearest to a rack, before and after an exchange of tiles."""

from __future__ import annotations

import numpy as np
from numba import njit
from numpy.typing import NDArray

from handread.tiles import JOKER


@njit(cache=True)
def distance(
    rack: NDArray[np.uint8],
    kinds: NDArray[np.int8],
    natural: NDArray[np.uint8],
    jokered: NDArray[np.uint8],
) -> int:
    """How far a rack is from one target: missing tiles, in half tiles.

    A tile that no joker can stand for, and nobody can claim before the win, counts one and a
    half (a guess).

    Parameters
    ----------
    rack
        Copies of each kind, shape (36,).
    kinds
        Kinds of the target, -1 after the last.
    natural, jokered
        Copies of each of them that jokers may not, and may, stand for.
    """
    bound = 0
    open_to_jokers = 0
    for i in range(kinds.shape[0]):
        k = kinds[i]
        if k < 0:
            break
        held = rack[k]
        plain = min(held, natural[i])
        rest = min(held - plain, jokered[i])
        bound += natural[i] - plain
        open_to_jokers += jokered[i] - rest
    far: int = 3 * bound + 2 * max(0, open_to_jokers - rack[JOKER])
    return far


@njit(cache=True)
def nearest_target(
    rack: NDArray[np.uint8],
    kinds: NDArray[np.int8],
    natural: NDArray[np.uint8],
    jokered: NDArray[np.uint8],
    tie: float,
) -> int:
    """Target with the least distance to a rack; `tie` in [0, 1) picks among equals."""
    best = 1000
    n_best = 0
    for g in range(kinds.shape[0]):
        d = distance(rack, kinds[g], natural[g], jokered[g])
        if d < best:
            best = d
            n_best = 1
        elif d == best:
            n_best += 1
    wanted = int(tie * n_best)
    for g in range(kinds.shape[0]):
        if distance(rack, kinds[g], natural[g], jokered[g]) == best:
            if wanted == 0:
                return g
            wanted -= 1
    return -1


@njit(cache=True)
def settle(
    tiles: NDArray[np.uint8],
    ties: NDArray[np.float64],
    kinds: NDArray[np.int8],
    natural: NDArray[np.uint8],
    jokered: NDArray[np.uint8],
    demand: NDArray[np.uint8],
    dealt: int,
) -> NDArray[np.int64]:
    """Count the targets on which random racks settle after an exchange.

    Each row of `tiles` holds kinds: the first `dealt` are the rack, the others come in for
    tiles that the target nearest at first does not use; jokers are never given.
    """
    counts = np.zeros(kinds.shape[0], dtype=np.int64)
    rack = np.zeros(demand.shape[1], dtype=np.uint8)
    for row in range(tiles.shape[0]):
        rack[:] = 0
        for i in range(dealt):
            rack[tiles[row, i]] += 1
        first = nearest_target(rack, kinds, natural, jokered, ties[row, 0])
        incoming = dealt
        for i in range(dealt):
            k = tiles[row, i]
            if k == JOKER or incoming >= tiles.shape[1]:
                continue
            if rack[k] > demand[first, k]:
                rack[k] -= 1
                rack[tiles[row, incoming]] += 1
                incoming += 1
        counts[nearest_target(rack, kinds, natural, jokered, ties[row, 1])] += 1
    return counts
