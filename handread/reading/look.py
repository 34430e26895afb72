"""What the viewer knows about one seat at one moment: the table turned into a ``Context``."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from handread.clues.context import Context
from handread.clues.holding import expected_copies
from handread.reading.model import Model
from handread.table.state import TableState
from handread.tiles import JOKER

Counts = NDArray[np.int64]


def free_copies(state: TableState) -> Counts:
    """Copies of each kind that the table has not seen, shape (36,)."""
    return state.rules.copies.astype(np.int64) - state.seen


def finishable(blocked: NDArray[np.integer]) -> NDArray[np.float64]:
    """Probability that each target can still be finished, from what is gone; shape (n_targets,).

    A first form: 0 where a needed single or pair, or the jokers to mend a group, are gone.
    """
    return np.where(np.equal(blocked, 0), 1.0, 0.0)


def look(model: Model, state: TableState, seat: int, *, acting: bool = False) -> Context:
    """Context of a seat.

    Parameters
    ----------
    model
        The model of the reading.
    state
        The table before the event.
    seat
        The seat to look at.
    acting
        Whether the seat is on turn: it then holds the tile that it has drawn.
    """
    unseen = free_copies(state)
    known = state.jokers_held
    unseen[JOKER] = max(int(unseen[JOKER]) - sum(known), 0)
    pool = int(unseen.sum())
    concealed = state.concealed[seat] + int(acting and state.holder != seat)
    random_tiles = max(concealed - known[seat], 0)
    reach = expected_copies(unseen, pool, random_tiles)
    reach[JOKER] += known[seat]
    throws = [thrown.kind for thrown in state.floor if thrown.seat == seat]
    last = state.floor[-1] if state.floor else None
    unclaimed = last is not None and last.taken_by is None and last.seat != seat
    return Context(
        seat=seat,
        turn=state.turns[seat],
        within_reach=reach,
        unseen=unseen,
        seen=state.seen.astype(np.int64),
        own_thrown=np.bincount(np.array(throws, dtype=np.int64), minlength=len(unseen)),
        concealed=concealed,
        pool=pool,
        n_exposed=len(state.exposures[seat]),
        threat=max(len(state.exposures[s]) for s in range(4) if s != seat),
        wall=state.wall,
        known_jokers=known[seat],
        demand=model.demand,
        last_unclaimed=last.kind if last is not None and unclaimed else None,
    )
