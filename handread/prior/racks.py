"""A first prior: on which target does a random rack settle after the passes?

Combinatorics only: what the deal allows. What people like is for simulated players and for
fits to say. Each rack gives what its nearest target does not use, nine tiles at most, takes as
many at random, and settles on the target nearest then; equals are picked from at random.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from handread.card.compiled import CompiledCard
from handread.errors import HandreadError
from handread.values import ArrayValue

Array = NDArray[np.float64]

#: Tiles given and taken in one round of the passes.
EXCHANGED: Final = 9
#: Share of the prior that gives every hand the same weight, so that none is ruled out.
EQUAL_SHARE: Final = 0.5
_BATCH: Final = 5_000


@dataclass(frozen=True, eq=False)
class RackPrior(ArrayValue):
    """A prior from random racks.

    Attributes
    ----------
    prior
        Probability of each target, shape (n_targets,); sums to 1, never 0.
    counts
        Racks that settled on each target, shape (n_targets,).
    source
        Where it comes from, in words.
    """

    prior: Array
    counts: NDArray[np.int64]
    source: str

    @property
    def standard_error(self) -> Array:
        """Monte Carlo standard error of each probability, shape (n_targets,)."""
        n = self.counts.sum()
        share = self.counts / n
        return np.asarray((1 - EQUAL_SHARE) * np.sqrt(share * (1 - share) / n), dtype=np.float64)


def rack_prior(
    card: CompiledCard,
    *,
    rng: np.random.Generator,
    n_racks: int = 200_000,
    progress: Callable[[int], None] | None = None,
) -> RackPrior:
    """Estimate how often random racks settle on each target of a card.

    Parameters
    ----------
    card
        The card.
    rng
        Source of randomness.
    n_racks
        Racks to deal.
    progress
        Called with the number of racks done so far.

    Returns
    -------
    RackPrior
        Counts smoothed by one rack per target, with half of the mass at equal weight per
        hand.

    Raises
    ------
    HandreadError
        If no rack is asked for.

    Examples
    --------
    >>> import handread as hr, numpy as np
    >>> found = rack_prior(hr.house_card(), rng=np.random.default_rng(1), n_racks=200)
    >>> int(found.counts.sum()), round(float(found.prior.sum()), 9)
    (200, 1.0)
    """
    from handread.prior.kernels import settle

    if n_racks < 1:
        raise HandreadError(f"n_racks={n_racks!r}; 1 or more is accepted")
    kinds, natural, jokered = _sparse(card)
    rules = card.rules
    wall = np.repeat(np.arange(len(rules.copies), dtype=np.uint8), rules.copies)
    dealt = rules.hand_size - 1
    counts = np.zeros(card.n_targets, dtype=np.int64)
    for done in range(0, n_racks, _BATCH):
        n = min(_BATCH, n_racks - done)
        order = rng.permuted(np.tile(wall, (n, 1)), axis=1)[:, : dealt + EXCHANGED]
        ties = rng.random((n, 2))
        counts += settle(
            np.ascontiguousarray(order), ties, kinds, natural, jokered, card.demand, dealt,
        )  # fmt: skip
        if progress is not None:
            progress(done + n)
    return _mixed(card, counts, f"{n_racks:,} random racks after an exchange of {EXCHANGED} tiles")


def _mixed(card: CompiledCard, counts: NDArray[np.int64], source: str) -> RackPrior:
    smooth = counts + 1.0
    per_hand = np.bincount(card.hand_of, minlength=len(card.hands))
    equal = 1.0 / per_hand[card.hand_of]
    equal /= equal.sum()
    prior = (1 - EQUAL_SHARE) * smooth / smooth.sum() + EQUAL_SHARE * equal
    return RackPrior(np.asarray(prior, dtype=np.float64), counts, source)


def _sparse(card: CompiledCard) -> tuple[NDArray[np.int8], NDArray[np.uint8], NDArray[np.uint8]]:
    """Kinds of each target with their copies that jokers may not, and may, stand for."""
    width = int((card.demand > 0).sum(axis=1).max())
    kinds = np.full((card.n_targets, width), -1, dtype=np.int8)
    natural = np.zeros((card.n_targets, width), dtype=np.uint8)
    jokered = np.zeros_like(natural)
    for g in range(card.n_targets):
        found = np.flatnonzero(card.demand[g])
        kinds[g, : len(found)] = found
        for i, kind in enumerate(found):
            of_kind = (card.group_kind[g] == kind) & (card.group_size[g] > 0)
            jokered[g, i] = card.group_size[g][of_kind & card.group_joker[g]].sum()
            natural[g, i] = card.group_size[g][of_kind & ~card.group_joker[g]].sum()
    return kinds, natural, jokered
