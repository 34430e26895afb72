"""Claims and refusals of an exposure: what a seat on a target would take, and lets pass.

Seats decide at once and apart. A seat whose target has an open group of the thrown kind takes
it if it holds enough naturals and jokers, and if it is willing; the willingness is a rate, since
people decline. A refusal is the rest of the probability.
"""

from __future__ import annotations

from collections.abc import Mapping
from functools import lru_cache
from typing import Final

import numpy as np
from numpy.typing import NDArray

from handread.clues.codes import N_UNMODELLED, UNMODELLED
from handread.clues.context import PHASES, Context
from handread.clues.holding import prob_copies
from handread.tiles import JOKER
from handread.values import frozen

VERSION: Final = 1
#: Groups that can be shown on a claim, as (size, jokers); the thrown tile is a natural.
SHAPES: Final = tuple((size, jokers) for size in (3, 4, 5, 6) for jokers in range(size))
_SIZES: Final = frozen(np.array([size for size, _ in SHAPES]))
_JOKERS: Final = frozen(np.array([jokers for _, jokers in SHAPES]))
N_MASKS: Final = 16
#: Whether each group is among each set of open sizes.
_OPEN: Final = frozen(
    np.array([[float(mask >> (size - 3) & 1) for size, _ in SHAPES] for mask in range(N_MASKS)])
)
SENTENCES: Final = ("{family} shows {tile} gladly", "{family} shows {tile} less gladly than others")
REFUSALS: Final = ("{family} does not want {tile}", "{family} would often have taken {tile}")

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
    by_jokers = np.array([weights[f"jokers_{jokers}"] for jokers in range(4)])
    by_size = np.array([weights[f"size_{size}"] for size in (3, 4, 5, 6)])
    rates: Table = take * by_jokers[np.minimum(_JOKERS, 3)] * by_size[_SIZES - 3]
    return rates


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
    naturals = np.where(_JOKERS == 0, at_least[_SIZES - 1], copies[_SIZES - 1 - _JOKERS])
    out: Table = naturals * jokers_at_least[_JOKERS]
    return out


def claim_table(
    context: Context, kind: int, possible: NDArray[np.bool_], weights: Mapping[str, float]
) -> Table:
    """Probability that a row shows each group, given that it does not win on the tile.

    Parameters
    ----------
    context
        The claiming seat's, with the throw on the floor.
    kind
        The tile thrown.
    possible
        Groups that there is room for, see ``possible_shapes``.
    weights
        Block ``claims``.

    Returns
    -------
    Table
        Shape (19, 18): one row for each set of open sizes (bits for pung, kong, quint,
        sextet), then undecided, defending, other. The entries of one size sum to at most 1; a
        target with several open sizes looks at each of them with equal probability, so its row
        is to be divided by their number. The rest is a refusal.
    """
    table = np.zeros((N_MASKS + N_UNMODELLED, len(SHAPES)))
    if not possible.any():
        return table
    kept, any_plan = _holdings(context, kind)
    jokers, rate = _jokers(context), willing(context, weights) * possible
    table[:N_MASKS] = _OPEN * (can_make(kept, jokers) * rate)
    loose = np.array([weights[name] for name in UNMODELLED])
    table[N_MASKS:] = np.outer(loose / 4, can_make(any_plan, jokers) * rate)
    return table


def possible_shapes(context: Context, kind: int, claimable: tuple[int, ...]) -> NDArray[np.bool_]:
    """Groups that the tiles not seen and the seat's rack leave room for, shape (18,)."""
    naturals, jokers = int(context.unseen[kind]), int(context.unseen[JOKER]) + context.known_jokers
    room: NDArray[np.bool_] = (
        _claimable(claimable)
        & (naturals >= _SIZES - 1 - _JOKERS)
        & (jokers >= _JOKERS)
        & (context.concealed > _SIZES - 1)
        & (kind != JOKER)
        & context.may_show
    )
    return room


@lru_cache(maxsize=16)
def _claimable(sizes: tuple[int, ...]) -> NDArray[np.bool_]:
    return np.isin(_SIZES, sizes)


def _holdings(context: Context, kind: int) -> tuple[Table, Table]:
    """Copies held by a seat that keeps the kind, and by one that does not care.

    What others keep is out of reach: the odds of each copy are tilted by the ratio of the
    expected copies within reach to what counts alone would give.
    """
    copies = int(context.unseen[kind])
    blind = copies * context.unknown / max(context.pool, 1)
    ratio = context.within_reach[kind] / blind if blind > 0 else 1.0
    kept = prob_copies(copies, context.pool + context.turn, context.unknown + context.turn)
    loose = prob_copies(copies, context.pool, context.unknown)
    tilt = ratio ** np.arange(len(kept))
    kept, loose = kept * tilt, loose * tilt
    return kept / kept.sum(), loose / loose.sum()


def _jokers(context: Context) -> Table:
    """Jokers held: everybody keeps them; those known to be there come on top."""
    copies, known = int(context.unseen[JOKER]), context.known_jokers
    held = prob_copies(copies, context.pool + context.turn, context.unknown + context.turn)
    return np.roll(held, known) if known else held
