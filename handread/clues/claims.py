"""Claims and refusals of an exposure: what a seat on a target would take, and lets pass.

Seats decide at once and apart. A seat whose target has an open group of the thrown kind takes
it if it holds enough naturals and jokers, and if it is willing; the willingness is a rate, since
people decline. A refusal is the rest of the probability.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Final

import numpy as np
from numpy.typing import NDArray

from handread.clues.codes import N_UNMODELLED
from handread.clues.context import PHASES, Context
from handread.clues.holding import prob_copies
from handread.tiles import JOKER

VERSION: Final = 1
#: Groups that can be shown on a claim, as (size, jokers); the thrown tile is a natural.
SHAPES: Final = tuple((size, jokers) for size in (3, 4, 5, 6) for jokers in range(size))
N_MASKS: Final = 16
SENTENCE: Final = "{family} has a group of {tile} to show; other plans would not have taken it"
REFUSAL_SENTENCE: Final = "a seat on {family} would often have taken {tile}"

Table = NDArray[np.float64]


def shape_index(size: int, jokers: int) -> int:
    """Column of a group in the table of claims.

    >>> SHAPES[shape_index(4, 1)]
    (4, 1)
    """
    return SHAPES.index((size, jokers))


def willing(context: Context, weights: Mapping[str, float]) -> Table:
    """Probability of taking a group that can be made, by size and jokers, shape (18,)."""
    take = weights[f"take_{PHASES[context.phase]}"]
    by_jokers = [weights[f"jokers_{min(jokers, 3)}"] for _, jokers in SHAPES]
    return take * np.array(by_jokers)


def can_make(copies: Table, jokers: Table) -> Table:
    """Probability that the tiles for each group are there, all naturals used first.

    Parameters
    ----------
    copies, jokers
        Distribution of copies of the kind, and of jokers, among the seat's tiles.

    Returns
    -------
    Table
        Shape (18,); for one size the entries sum to at most 1.
    """
    at_least = copies[::-1].cumsum()[::-1]
    jokers_at_least = jokers[::-1].cumsum()[::-1]
    out = [
        (at_least[size - 1] if j == 0 else copies[size - 1 - j]) * jokers_at_least[j]
        for size, j in SHAPES
    ]
    return np.array(out)


def claim_table(
    context: Context, kind: int, claimable: tuple[int, ...], weights: Mapping[str, float]
) -> Table:
    """Probability that a row shows each group, given that it does not win on the tile.

    Parameters
    ----------
    context
        The claiming seat's, with the throw on the floor.
    kind
        The tile thrown.
    claimable
        Sizes of group that the club allows on a claim.
    weights
        Block ``claims``.

    Returns
    -------
    Table
        Shape (19, 18): one row for each set of open sizes (bits for pung, kong, quint,
        sextet), then undecided, defending, other. Rows sum to at most 1; the rest is a refusal.
    """
    table = np.zeros((N_MASKS + N_UNMODELLED, len(SHAPES)))
    possible = possible_shapes(context, kind, claimable)
    if not possible.any():
        return table
    kept, any_plan = _holdings(context, kind)
    ready = can_make(kept, _jokers(context)) * willing(context, weights)
    loose = can_make(any_plan, _jokers(context)) * willing(context, weights)
    bit = np.array([1 << (size - 3) for size, _ in SHAPES])
    for mask in range(1, N_MASKS):
        table[mask] = np.where(bit & mask, ready, 0.0) / mask.bit_count()
    for row, name in enumerate(("undecided", "defending", "other")):
        table[N_MASKS + row] = weights[name] * loose / 4
    table[:, ~possible] = 0.0
    return table


def possible_shapes(context: Context, kind: int, claimable: tuple[int, ...]) -> NDArray[np.bool_]:
    """Groups that the tiles not seen and the seat's rack leave room for, shape (18,)."""
    naturals, jokers = int(context.unseen[kind]), int(context.unseen[JOKER]) + context.known_jokers
    possible = [
        size in claimable
        and size - 1 - j <= naturals
        and j <= jokers
        and size - 1 <= context.concealed
        for size, j in SHAPES
    ]
    return np.array(possible) & (kind != JOKER)


def _holdings(context: Context, kind: int) -> tuple[Table, Table]:
    """Copies held by a seat that keeps the kind, and by one that does not care."""
    copies = int(context.unseen[kind])
    kept = prob_copies(copies, context.pool + context.turn, context.concealed + context.turn)
    return kept, prob_copies(copies, context.pool, context.concealed)


def _jokers(context: Context) -> Table:
    """Jokers held: everybody keeps them; those known to be there come on top."""
    copies, known = int(context.unseen[JOKER]), context.known_jokers
    reach = max(context.concealed - known, 0) + context.turn
    return np.roll(prob_copies(copies, context.pool + context.turn, reach), known)
