"""What the viewer knows about one seat at one moment: the table turned into a ``Context``."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from handread.clues.context import Context
from handread.reading.around import Surroundings
from handread.reading.model import Model
from handread.table.state import TableState
from handread.tiles import JOKER

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
    unseen, in_rack = around.unseen, state.known_in_rack(seat)
    known = int(in_rack[JOKER])
    pool = around.pool
    concealed = state.concealed[seat] + int(acting and state.holder != seat)
    reach = around.reach(seat, max(concealed - state.n_known[seat], 0))
    reach[JOKER] += known
    last = state.floor[-1] if state.floor else None
    unclaimed = last is not None and last.taken_by is None and last.seat != seat
    return Context(
        seat=seat,
        turn=state.turns[seat],
        within_reach=reach,
        unseen=unseen,
        seen=state.seen.astype(np.int64),
        own_thrown=state.thrown[seat],
        concealed=concealed,
        pool=pool,
        n_exposed=len(state.exposures[seat]),
        threat=max(
            (len(state.exposures[s]) for s in range(4) if s != seat and state.live[s]), default=0
        ),
        wall=state.wall,
        known_jokers=known,
        may_show=state.wall > 0 or not state.certain or "last exposure" in state.switches,
        demand=model.demand,
        last_unclaimed=last.kind if last is not None and unclaimed else None,
    )
