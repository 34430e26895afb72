"""What the viewer knows about one seat at one moment: the table turned into a ``Context``."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from handread.clues.context import Context
from handread.reading.around import Surroundings
from handread.reading.model import Model
from handread.table.state import TableState
from handread.tiles import JOKER
from handread.values import frozen, made

Counts = NDArray[np.int64]


def free_copies(state: TableState) -> Counts:
    """Copies of each kind that the table has not seen, shape (36,)."""
    return state.free


def look(
    model: Model, state: TableState, around: Surroundings, seat: int, *, acting: bool = False
) -> Context:
    """Context of a seat.

    Parameters
    ----------
    model
        The model of the reading.
    state
        The table before the event.
    around
        What the viewer expects the seats to hold.
    seat
        The seat to look at.
    acting
        Whether the seat is on turn: it then holds the tile that it has drawn.
    """
    known = int(state.known[seat, JOKER]) if state.n_known[seat] else 0
    concealed = state.concealed[seat] + int(acting and state.holder != seat)
    reach = around.reach(seat, max(concealed - state.n_known[seat], 0))
    if known:
        reach[JOKER] += known
    last = state.floor[-1] if state.floor else None
    if last is not None and (last.taken_by is not None or last.seat == seat):
        last = None
    return made(
        Context,
        seat=seat,
        turn=state.turns[seat],
        within_reach=frozen(reach),
        unseen=around.unseen,
        seen=state.seen_copies,
        own_thrown=state.thrown[seat],
        concealed=concealed,
        pool=around.pool,
        n_exposed=len(state.exposures[seat]),
        threat=_threat(state, seat),
        wall=state.wall,
        known_jokers=known,
        may_show=may_show(state),
        demand=model.demand,
        last_unclaimed=None if last is None else last.kind,
    )


def may_show(state: TableState) -> bool:
    """Whether the rules allow a group to be shown now."""
    return state.wall > 0 or not state.certain or "last exposure" in state.switches


def _threat(state: TableState, seat: int) -> int:
    """Most groups that any other live seat has shown."""
    most = 0
    for other, groups in enumerate(state.exposures):
        if other != seat and len(groups) > most and state.live[other]:
            most = len(groups)
    return most
