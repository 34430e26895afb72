"""Claims and refusals of an exposure: what a seat on a target would take, and lets pass.

Seats decide at once and apart. A seat whose target has an open group of the thrown kind takes
it if it holds enough naturals and jokers, and if it is willing; the willingness is a rate, since
people decline. A refusal is the rest of the probability.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from functools import lru_cache
from typing import Final

import numpy as np
from numpy.typing import NDArray

from handread.clues.codes import N_UNMODELLED, UNMODELLED
from handread.clues.context import PHASES, Context
from handread.tiles import JOKER, MOST_COPIES
from handread.values import ArrayValue, frozen

VERSION: Final = 2
#: Groups that can be shown on a claim, as (size, jokers); the thrown tile is a natural.
SHAPES: Final = tuple((size, jokers) for size in (3, 4, 5, 6) for jokers in range(size))
SIZES: Final = frozen(np.array([size for size, _ in SHAPES]))
N_JOKERS: Final = frozen(np.array([jokers for _, jokers in SHAPES]))
#: Naturals that the seat needs of its own for each group, and its jokers, three or more as one.
_NATURALS: Final = frozen(SIZES - 1 - N_JOKERS)
_FEW_JOKERS: Final = frozen(np.minimum(N_JOKERS, 3))
_BY_JOKERS: Final = tuple(f"jokers_{jokers}" for jokers in range(4))
_BY_SIZE: Final = tuple(f"size_{size}" for size in (3, 4, 5, 6))
N_MASKS: Final = 16
#: Row of a table of claims for a target whose seat looks at the tile for another plan.
ANEW: Final = N_MASKS + N_UNMODELLED
#: Whether each group is among each set of open sizes, shape (16, 18).
OPEN_TO: Final = frozen(
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


@dataclass(frozen=True, eq=False)
class ClaimRates(ArrayValue):
    """Weights of claims as tables of claims take them: the same for a whole model.

    Attributes
    ----------
    willing
        Probability of taking a group that can be made, by phase and group, shape (3, 18).
    loose
        The same for groups of each size by who is undecided, defending, off the card, and by who
        looks at the tile for another plan, shape (4,).
    anew
        Probability that a seat on a target looks at the tile for another plan.
    held_copies, held_jokers
        Nats for each copy, and joker, that a seat on a target holds.
    misplay
        Probability of a group shown in error, after which the seat is off the card.
    """

    willing: Table
    loose: Table
    anew: float
    held_copies: float
    held_jokers: float
    misplay: float


def claim_rates(weights: Mapping[str, float]) -> ClaimRates:
    """Work out the rates of a block ``claims``."""
    by_jokers = np.array([weights[name] for name in _BY_JOKERS])[_FEW_JOKERS]
    groups = by_jokers * np.array([weights[name] for name in _BY_SIZE])[SIZES - 3]
    by_phase = np.array([weights[f"take_{phase}"] for phase in PHASES])
    loose = np.array([*(weights[name] for name in UNMODELLED), weights["anew"]]) / 4
    return ClaimRates(
        np.outer(by_phase, groups), loose, weights["anew"], weights["held_copies"],
        weights["held_jokers"], weights["misplay"],
    )  # fmt: skip


def can_make(copies: Table, jokers: Table) -> Table:
    """Probability that the tiles for each group are there, all naturals used first.

    Parameters
    ----------
    copies, jokers
        Distribution of copies of the kind, and of jokers, among the seat's tiles, shape (..., 17).

    Returns
    -------
    Table
        Shape (..., 18); for one size the entries sum to at most 1.
    """
    at_least = copies[..., ::-1].cumsum(axis=-1)[..., ::-1]
    jokers_at_least = jokers[..., ::-1].cumsum(axis=-1)[..., ::-1]
    exact = copies[..., _NATURALS]
    naturals = np.where(N_JOKERS == 0, at_least[..., SIZES - 1], exact)
    out: Table = naturals * jokers_at_least[..., N_JOKERS]
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
        Shape (20, 18): one row for each set of open sizes (bits for pung, kong, quint,
        sextet), then undecided, defending, other, and a target whose seat shows the group for
        another plan. The entries of one size sum to at most 1; a target with several open sizes
        looks at each of them with equal probability, so its row is to be divided by their
        number. The rest is a refusal.
    """
    return table_of_claims(context, kind, possible, claim_rates(weights))


def table_of_claims(
    context: Context, kind: int, possible: NDArray[np.bool_], rates: ClaimRates
) -> Table:  # fmt: skip
    """Table of ``claim_table``, from rates that are known already."""
    from handread.clues.claim_kernels import fill_claim_table

    table = np.zeros((ANEW + 1, len(SHAPES)))
    if not np.count_nonzero(possible):
        return table
    fill_claim_table(
        _held(context, kind), rates.held_copies, rates.held_jokers,
        rates.willing[context.phase] * possible, rates.anew, rates.loose, table,
    )  # fmt: skip
    return table


def possible_shapes(context: Context, kind: int, claimable: tuple[int, ...]) -> NDArray[np.bool_]:
    """Groups that the tiles not seen and the seat's rack leave room for, shape (18,)."""
    naturals, jokers = int(context.unseen[kind]), int(context.unseen[JOKER]) + context.known_jokers
    if kind == JOKER or not context.may_show:
        return np.zeros(len(SHAPES), dtype=np.bool_)
    return _room(naturals, jokers, context.concealed, claimable)


@lru_cache(maxsize=1 << 12)
def _room(
    naturals: int, jokers: int, concealed: int, claimable: tuple[int, ...]
) -> NDArray[np.bool_]:
    """Groups that so many naturals, jokers and concealed tiles leave room for, shape (18,)."""
    enough = (naturals >= _NATURALS) & (jokers >= N_JOKERS) & (concealed > SIZES - 1)
    return frozen(enough & np.isin(SIZES, claimable))


@dataclass(frozen=True, eq=False)
class Holdings(ArrayValue):
    """What a seat may have in its rack by counts alone, as distributions over 0 to 16 tiles.

    Attributes
    ----------
    kept
        Copies of a kind, by a seat that keeps it, shape (17,).
    any_plan
        Copies of the kind, by a seat that does not care, shape (17,).
    jokers
        Jokers: everybody keeps them, and those known to be there come on top; shape (17,).
    """

    kept: Table
    any_plan: Table
    jokers: Table


def holdings(context: Context, kind: int) -> Holdings:
    """Expect what a seat holds of a kind, and of jokers.

    What others keep is out of reach: the odds of each copy are tilted by the ratio of the
    expected copies within reach to what counts alone would give.
    """
    return Holdings(*_held(context, kind))


def _held(context: Context, kind: int) -> Table:
    """The distributions of ``Holdings``, shape (3, 17)."""
    from handread.clues.claim_kernels import fill_held

    held = np.empty((3, MOST_COPIES + 1))
    fill_held(*counts(context, kind), held)
    return held


def counts(context: Context, kind: int) -> tuple[int, int, int, int, int, int, float]:
    """What ``Holdings`` follow from.

    Parameters
    ----------
    context
        The seat's.
    kind
        The tile thrown.

    Returns
    -------
    copies, jokers, pool
        Copies of the kind, jokers, and all tiles that the viewer has not seen.
    unknown, turn
        How many of them the seat has, and how many it has thrown.
    known
        Jokers that it is known to hold beside those.
    within
        Copies of the kind expected with the seat.
    """
    unseen = context.unseen
    return (
        int(unseen[kind]), int(unseen[JOKER]), context.pool, context.unknown, context.turn,
        context.known_jokers, float(context.within_reach[kind]),
    )  # fmt: skip


def tilted(chances: Table, nats: float) -> Table:
    """The same chances when each tile held is by so many nats likelier: plans follow holdings.

    Parameters
    ----------
    chances
        Distributions over the number of tiles held, last axis.
    nats
        For each tile.

    Examples
    --------
    >>> tilted(np.array([0.5, 0.5]), 1.0).round(3).tolist()
    [0.269, 0.731]
    """
    if nats == 0.0:
        return chances
    odds = chances * np.exp(nats * np.arange(chances.shape[-1]))
    out: Table = odds / odds.sum(axis=-1, keepdims=True)
    return out
