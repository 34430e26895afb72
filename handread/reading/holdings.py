"""Who holds what: the viewer's expectation over all seats and the wall, made before an event.

Tiles that one seat keeps are not with another. Each seat's odds of holding a kind go up with the
probability that it needs the kind, since it then has kept every copy that came its way; matrix
scaling fits the expected copies to the number of copies unseen and to the size of every rack.
Which plans can be finished depends in turn on who keeps what, so the two are swept twice, the
second time half-way.
"""

from __future__ import annotations

from typing import Final

import numpy as np
from numpy.typing import NDArray

from handread.card.compiled import CompiledCard
from handread.reading.around import Surroundings
from handread.reading.belief import Belief
from handread.reading.expecting import (
    MOST_NEEDED,
    fill_mended,
    fill_outlook,
    fill_tails,
    share_out,
)
from handread.reading.model import Model
from handread.reading.seated import still_there, unknown_in_rack, unseen_from
from handread.table.own import OwnRack
from handread.table.state import TableState
from handread.tiles import JOKER, N_KINDS

Array = NDArray[np.float64]

SWEEPS: Final = 2
DAMPING: Final = 0.5


def surroundings(
    model: Model,
    beliefs: tuple[Belief, ...],
    state: TableState,
    *,
    viewer: int | None = None,
    own: OwnRack | None = None,
) -> Surroundings:
    """Expect who holds what.

    Parameters
    ----------
    model
        The model of the reading.
    beliefs
        About the four seats.
    state
        The table.
    viewer, own
        The viewer's seat and its concealed tiles; None on the floor.
    """
    unseen, sizes = _margins(state, viewer, own)
    pool = int(unseen.sum())
    keeping = _keeping(state, sizes, pool)
    hoarded, odds = np.zeros((4, N_KINDS)), np.ones((4, N_KINDS))
    holds = np.empty((5, N_KINDS))
    needs = finish = np.zeros(0)
    mended = prob_mended(model.card, beliefs, unseen, state)
    for sweep in range(SWEEPS):
        finish, needs = prob_finish(model.card, beliefs, unseen, hoarded, mended)
        there = still_there(model, state, own, unseen, sizes, needs)
        damping = DAMPING if sweep else 0.0
        share_out(needs, keeping, there, unseen, sizes, damping, odds, holds, hoarded)
    floor = None if viewer is None else surroundings(model, beliefs, state)
    return Surroundings(unseen, holds, odds, needs, finish, viewer, floor)


def _margins(
    state: TableState, viewer: int | None, own: OwnRack | None
) -> tuple[NDArray[np.int64], Array]:
    """Copies that the viewer has not seen, and the unknown tiles of each seat and the wall."""
    sizes = np.array([*state.concealed, 0], dtype=np.float64)
    sizes[:4] -= state.n_known
    unseen = state.free.copy()
    redeemed = sum(state.jokers_held)  # those of a returned group have been seen
    if viewer is not None and own is not None:
        unseen = unseen_from(state, viewer, own)
        sizes[viewer] = unknown_in_rack(state, viewer, own)
        redeemed -= state.jokers_held[viewer]
    unseen[JOKER] -= redeemed
    unseen = np.maximum(unseen, 0)
    sizes = np.maximum(sizes, 0.0)
    sizes[4] = max(int(unseen.sum()) - sizes[:4].sum(), 0.0)
    return unseen, sizes


def _keeping(state: TableState, sizes: Array, pool: int) -> Array:
    """Odds of each seat for copies of a kind that it keeps: all that came its way are there."""
    turns = np.array(state.turns, dtype=np.float64)
    share = sizes[:4] / max(pool, 1)
    kept = (sizes[:4] + turns) / (pool + turns + 1e-9)
    return np.where(sizes[:4] > 0, kept / np.maximum(share, 1e-9), 1.0)


def prob_mended(
    card: CompiledCard,
    beliefs: tuple[Belief, ...],
    unseen: NDArray[np.int64],
    state: TableState,
) -> Array:
    """Probability that each seat gets the jokers that each target cannot do without.

    Groups short of naturals need jokers, and of the jokers unseen each reaches the seat by
    chance. 0 for targets that the seat's own exposures exclude.

    Parameters
    ----------
    card
        The card.
    beliefs
        About the four seats.
    unseen
        Copies of each kind not seen by the viewer, shape (36,).
    state
        The table.

    Returns
    -------
    Array
        Shape (4, n_targets).
    """
    share = np.minimum((np.array(state.concealed) + state.wall / 4) / max(unseen.sum(), 1), 1.0)
    jokers = unseen[JOKER] + state.known[:, JOKER]
    mends, out = np.empty((4, MOST_NEEDED + 1)), np.empty((4, card.n_targets))
    fill_tails(jokers, share, mends)
    for seat, belief in enumerate(beliefs):
        wants = belief.wants
        fill_mended(wants.open_kinds, wants.open, belief.fits, unseen, mends[seat], out[seat])
    return out


def prob_finish(
    card: CompiledCard,
    beliefs: tuple[Belief, ...],
    unseen: NDArray[np.int64],
    hoarded: Array,
    mended: Array,
) -> tuple[Array, Array]:
    """Probability that each target can still be finished, and that each kind is needed for it.

    Every single and pair needs its naturals: of the copies unseen, those that others keep are
    lost, each by chance. 0 where the copies unseen cannot do it at all, and for targets that
    the seat's own exposures exclude.

    Parameters
    ----------
    card
        The card.
    beliefs
        About the four seats.
    unseen
        Copies of each kind not seen by the viewer, shape (36,).
    hoarded
        Expected copies of each kind that seats other than each one keep, shape (4, 36).
    mended
        Probability of the jokers that each target needs, see ``prob_mended``; shape
        (4, n_targets).

    Returns
    -------
    finish
        Shape (4, n_targets).
    needs
        Probability that the seat's plan needs the kind and can be finished, shape (4, 36).
    """
    kept = 1.0 - np.minimum(hoarded / np.maximum(unseen, 1), 0.95)
    finish, needs = np.empty((4, card.n_targets)), np.zeros((4, N_KINDS))
    for seat, belief in enumerate(beliefs):
        wants = belief.wants
        fill_outlook(
            wants.kinds, wants.bare_kinds, wants.bare, belief.probs, unseen, kept[seat],
            mended[seat], finish[seat], needs[seat],
        )  # fmt: skip
    return finish, needs
