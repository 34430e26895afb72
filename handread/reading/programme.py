"""Expected holdings exactly, by dynamic programming over kinds; slow, for tests and review.

All ways to deal the unseen tiles to the hands and the wall are weighed by each seat's odds for
each kind. The state is the number of tiles that each hand has got so far.
"""

from __future__ import annotations

from itertools import product
from math import factorial

import numpy as np
from numpy.typing import NDArray

from handread.errors import HandreadError

Array = NDArray[np.float64]
Shape = tuple[int, ...]


def exact_holdings(unseen: NDArray[np.integer], sizes: NDArray[np.integer], odds: Array) -> Array:
    """Expected copies of each kind in each hand and in the wall.

    Parameters
    ----------
    unseen
        Copies of each kind not seen, shape (n_kinds,).
    sizes
        Tiles of each hand, shape (n_hands,); what is left is the wall.
    odds
        Odds of each hand for a copy of each kind, against the wall, shape (n_hands, n_kinds).

    Returns
    -------
    Array
        Shape (n_hands + 1, n_kinds), the wall last. Columns sum to `unseen`, rows to the sizes.

    Raises
    ------
    HandreadError
        If the hands hold more tiles than there are.

    Notes
    -----
    P(deal) is proportional to the product over kinds of the multinomial coefficient of its
    copies times odds to the power of the copies in each hand.

    Examples
    --------
    >>> exact_holdings(np.array([2, 2]), np.array([2]), np.ones((1, 2))).tolist()
    [[1.0, 1.0], [1.0, 1.0]]
    """
    total, wanted = int(np.sum(unseen)), tuple(int(size) for size in sizes)
    if sum(wanted) > total:
        raise HandreadError(f"hands of {wanted} tiles and {total} unseen; at most that is accepted")
    shape: Shape = tuple(size + 1 for size in wanted)
    moves = [_moves(int(copies), wanted, odds[:, k]) for k, copies in enumerate(unseen)]
    forward = [np.zeros(shape)]
    forward[0][(0,) * len(wanted)] = 1.0
    for kind_moves in moves:
        forward.append(_scaled(_spread(forward[-1], kind_moves)))
    backward = np.zeros(shape)
    backward[wanted] = 1.0
    out = np.zeros((len(wanted) + 1, len(moves)))
    for k in range(len(moves) - 1, -1, -1):
        mass = 0.0
        gathered = np.zeros(shape)
        for taken, weight in moves[k]:
            here, there = _windows(shape, taken)
            joint = weight * float((forward[k][here] * backward[there]).sum())
            gathered[here] += weight * backward[there]
            mass += joint
            out[:-1, k] += joint * np.array(taken)
        out[:-1, k] /= mass
        backward = _scaled(gathered)
    out[-1] = np.asarray(unseen, dtype=np.float64) - out[:-1].sum(axis=0)
    return out


def _moves(copies: int, sizes: Shape, odds: Array) -> list[tuple[Shape, float]]:
    """Every way to share the copies of one kind, with its weight."""
    found = []
    for taken in product(*(range(min(copies, size) + 1) for size in sizes)):
        rest = copies - sum(taken)
        if rest < 0:
            continue
        ways = factorial(copies) / factorial(rest)
        for n in taken:
            ways /= factorial(n)
        found.append((taken, ways * float(np.prod(odds ** np.array(taken)))))
    return found


def _windows(shape: Shape, taken: Shape) -> tuple[tuple[slice, ...], tuple[slice, ...]]:
    here = tuple(slice(0, size - n) for size, n in zip(shape, taken, strict=True))
    there = tuple(slice(n, size) for size, n in zip(shape, taken, strict=True))
    return here, there


def _spread(mass: Array, moves: list[tuple[Shape, float]]) -> Array:
    out = np.zeros_like(mass)
    for taken, weight in moves:
        here, there = _windows(mass.shape, taken)
        out[there] += weight * mass[here]
    return out


def _scaled(mass: Array) -> Array:
    scaled: Array = mass / mass.max()
    return scaled
