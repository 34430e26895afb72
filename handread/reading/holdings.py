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
from handread.clues.codes import N_UNMODELLED
from handread.reading.around import Surroundings
from handread.reading.belief import Belief
from handread.reading.kernels import fill_finish, fill_needs, fill_tails, scale_matrix
from handread.reading.look import free_copies
from handread.reading.model import Model
from handread.reading.seated import still_there
from handread.table.own import OwnRack
from handread.table.state import TableState
from handread.tiles import JOKER, N_KINDS

Array = NDArray[np.float64]

SWEEPS: Final = 2
DAMPING: Final = 0.5
_MOST_NEEDED: Final = 14


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
    hoarded = np.zeros((4, N_KINDS))
    needs = finish = np.zeros(0)
    odds = np.ones((4, N_KINDS))
    holds = np.zeros((5, N_KINDS))
    for sweep in range(SWEEPS):
        finish, needs = prob_finish(model.card, beliefs, unseen, hoarded, state)
        fresh = 1.0 + needs * (keeping[:, None] - 1.0)
        fresh[:, JOKER] = keeping
        odds = fresh if sweep == 0 else DAMPING * odds + (1.0 - DAMPING) * fresh
        there = still_there(model, state, own, unseen, sizes, needs)
        full = np.vstack([odds * there, np.ones(N_KINDS)])
        holds = scale_matrix(full, unseen.astype(np.float64), sizes)
        hoarded = _hoarded(needs, odds, holds)
    floor = None if viewer is None else surroundings(model, beliefs, state)
    return Surroundings(unseen, holds, odds, needs, finish, viewer, floor)


def _margins(
    state: TableState, viewer: int | None, own: OwnRack | None
) -> tuple[NDArray[np.int64], Array]:
    """Copies that the viewer has not seen, and the unknown tiles of each seat and the wall."""
    known = np.stack([state.known_in_rack(seat) for seat in range(4)])
    sizes = np.array([*state.concealed, 0], dtype=np.float64)
    sizes[:4] -= known.sum(axis=1)
    unseen = free_copies(state)
    redeemed = sum(state.jokers_held)  # those of a returned group have been seen
    if viewer is not None and own is not None:
        unseen -= own.tiles
        sizes[viewer], redeemed = own.unknown, redeemed - state.jokers_held[viewer]
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


def _hoarded(needs: Array, odds: Array, holds: Array) -> Array:
    """Copies that seats other than each one hold because they need them, shape (4, 36)."""
    kept = holds[:4] * np.minimum(needs * odds / np.maximum(1.0 + needs * (odds - 1.0), 1e-9), 1.0)
    out: Array = kept.sum(axis=0) - kept
    return out


def prob_finish(
    card: CompiledCard,
    beliefs: tuple[Belief, ...],
    unseen: NDArray[np.int64],
    hoarded: Array,
    state: TableState,
) -> tuple[Array, Array]:
    """Probability that each target can still be finished, and that each kind is needed for it.

    Every single and pair needs its naturals: of the copies unseen, those that others keep are
    lost, each by chance. Groups short of naturals need jokers, and of the jokers unseen each
    reaches the seat by chance. 0 where the copies unseen cannot do it at all, and for targets
    that the seat's own exposures exclude.

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
    state
        The table.

    Returns
    -------
    finish
        Shape (4, n_targets).
    needs
        Probability that the seat's plan needs the kind and can be finished, shape (4, 36).
    """
    kept = 1.0 - np.minimum(hoarded / np.maximum(unseen, 1), 0.95)
    enough, mends = np.empty((4, N_KINDS, _MOST_NEEDED + 1)), np.empty((4, _MOST_NEEDED + 1))
    pool = max(int(unseen.sum()), 1)
    share = np.minimum((np.array(state.concealed) + state.wall / 4) / pool, 1.0)
    jokers = np.array([unseen[JOKER] + state.known_in_rack(seat)[JOKER] for seat in range(4)])
    fill_tails(jokers, share, mends)
    finish, needs = np.zeros((4, card.n_targets)), np.zeros((4, N_KINDS))
    for seat, belief in enumerate(beliefs):
        fill_tails(unseen, kept[seat], enough[seat])
        fill_finish(
            card.group_kind, card.group_size, card.group_joker, belief.left, belief.fits,
            unseen, enough[seat], mends[seat], finish[seat],
        )  # fmt: skip
        plan = belief.probs[:-N_UNMODELLED] * finish[seat]
        fill_needs(card.group_kind, belief.left, plan, needs[seat])
    return finish, needs
