"""Whether everybody can see that a hand is dead."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from handread.simulate.playcard import PlayCard
from handread.simulate.view import shown_rows
from handread.table.state import TableState
from handread.tiles import JOKER


def free_for(state: TableState, seat: int) -> NDArray[np.int64]:
    """Copies of each kind that a seat may hold concealed or still get, shape (36,).

    From what all can see: not those on the floor or in exposures. Jokers in another seat's
    exposures count as free, since they can be redeemed; those that went back to the rack of
    another, dead seat do not.
    """
    free = state.rules.copies.astype(np.int64) - state.seen
    for group in state.returned[seat]:
        free[group.kind] += group.size - group.jokers
        free[JOKER] += group.jokers
    for other, groups in enumerate(state.exposures):
        if other != seat:
            free[JOKER] += sum(group.jokers for group in groups)
    return free


def proved_dead(card: PlayCard, state: TableState, seat: int) -> bool:
    """Whether the exposures and the copies left rule out every target for a seat.

    Public proof only: exposures that fit no target, or a needed single or pair of which too
    few copies are left unseen. Seats that have shown nothing are never proved dead here.

    Parameters
    ----------
    card
        The card.
    state
        The public table.
    seat
        Whose hand it is.
    """
    from handread.simulate.kernels import wanted_by

    if not state.exposures[seat]:
        return False
    _, n_possible = wanted_by(card.targets, shown_rows(state, seat), free_for(state, seat))
    return bool(n_possible == 0)
