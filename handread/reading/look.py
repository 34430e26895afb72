"""What the viewer knows about one seat at one moment: the table turned into a ``Context``."""

from __future__ import annotations

from typing import Final

import numpy as np
from numpy.typing import NDArray

from handread.clues.context import Context
from handread.reading.around import Surroundings
from handread.reading.model import Model
from handread.table.state import TableState
from handread.tiles import JOKER, N_KINDS
from handread.values import evolve, frozen

Counts = NDArray[np.int64]
_NOTHING: Final = frozen(np.zeros(N_KINDS, dtype=np.int64))
#: A seat of which nothing is said, to be filled in: contexts are made by the million.
_NOWHERE: Final = Context(
    0, 0, _NOTHING.astype(np.float64), _NOTHING, _NOTHING, _NOTHING, 0, 0, 0, 0, 0, 0,
    _NOTHING.astype(np.float64),
)  # fmt: skip


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
    known = int(state.known[seat, JOKER])
    concealed = state.concealed[seat] + int(acting and state.holder != seat)
    reach = around.reach(seat, max(concealed - state.n_known[seat], 0))
    if known:
        reach[JOKER] += known
    last = state.floor[-1] if state.floor else None
    if last is not None and (last.taken_by is not None or last.seat == seat):
        last = None
    return evolve(
        _NOWHERE,
        seat=seat,
        turn=state.turns[seat],
        within_reach=frozen(reach),
        unseen=around.unseen,
        seen=frozen(state.seen.astype(np.int64)),
        own_thrown=state.thrown[seat],
        concealed=concealed,
        pool=around.pool,
        n_exposed=len(state.exposures[seat]),
        threat=_threat(state, seat),
        wall=state.wall,
        known_jokers=known,
        may_show=state.wall > 0 or not state.certain or "last exposure" in state.switches,
        demand=model.demand,
        last_unclaimed=None if last is None else last.kind,
    )


def _threat(state: TableState, seat: int) -> int:
    """Most groups that any other live seat has shown."""
    most = 0
    for other, groups in enumerate(state.exposures):
        if other != seat and len(groups) > most and state.live[other]:
            most = len(groups)
    return most
