"""What a viewer at the table knows more than the floor: its own rack, and what it passed on.

The own rack bears on what the others set out to build, since they cannot be dealt what the viewer
holds. A tile that the viewer passed on was with the seat that received it, and is there still
unless it was passed on, thrown or shown since; a seat that needs it keeps it.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import Final

import numpy as np
from numpy.typing import NDArray

from handread.clues.codes import N_UNMODELLED
from handread.reading.evidence import Observed
from handread.reading.model import Model
from handread.reading.step import Step
from handread.table.events import Rack
from handread.table.own import OwnRack
from handread.table.rules.passes import played
from handread.table.state import TableState
from handread.tiles import JOKER, N_KINDS
from handread.values import frozen

Array = NDArray[np.float64]

#: Share of a kind's copies that counts as left where the viewer holds them all.
_LEAST: Final = 0.05
#: What ``passed_on`` says where nothing was passed on.
_NOTHING: Final = frozen(np.zeros((0, 2), dtype=np.int64)), frozen(np.zeros(0))


def start_ratio(model: Model, own: NDArray[np.int64]) -> Array:
    """How much likelier each row becomes at the start, once the viewer has seen its own rack.

    Each tile of a target counts as far as the viewer's rack leaves more or fewer copies of it to
    the others, to the power ``start.own_rack``.

    Parameters
    ----------
    model
        The model of the reading.
    own
        Copies that the viewer was dealt, shape (36,).

    Returns
    -------
    Array
        Shape (n_rows,); 1 for the unmodelled states, and 1 on average over the targets, by prior.
    """
    copies = model.card.rules.copies.astype(np.float64)
    left = np.maximum((copies - own) / np.maximum(copies, 1.0), _LEAST)
    ratio = left * copies.sum() / (copies.sum() - own.sum())
    power = model.weights["start"]["own_rack"]
    rows = np.ones(model.n_rows)
    rows[:-N_UNMODELLED] = np.exp(power * (model.card.demand @ np.log(ratio)))
    rows[:-N_UNMODELLED] /= model.prior @ rows[:-N_UNMODELLED]
    return rows


def own_rack_seen(
    model: Model, event: Rack, state: TableState, own: OwnRack | None, viewer: int | None
) -> Iterator[Observed]:
    """What the viewer's rack, first seen before play, says of the plans of the others."""
    if own is None or event.seat != viewer or played(state) or own.tiles.any():
        return
    ratio = start_ratio(model, np.bincount(event.tiles, minlength=N_KINDS))
    for seat in range(4):
        if seat != viewer and state.live[seat]:
            yield Observed("own rack", seat, None, Step(ratio))


def unseen_from(state: TableState, viewer: int, own: OwnRack) -> NDArray[np.int64]:
    """Copies of each kind that neither the table nor a viewer with a seat has seen, shape (36,).

    What lies in the viewer's rack and has been seen by all, as a group that went back to it, is
    taken off once. Jokers that others took by redeeming are among the unseen here.

    Parameters
    ----------
    state
        The table.
    viewer
        The viewer's seat.
    own
        Its concealed tiles.
    """
    unseen: NDArray[np.int64] = state.free - own.tiles
    return unseen + np.minimum(_placed(state, viewer), own.tiles)


def unknown_in_rack(state: TableState, viewer: int, own: OwnRack) -> int:
    """Concealed tiles of the viewer that neither it wrote down nor the table knows of."""
    return int(own.unknown - np.maximum(_placed(state, viewer) - own.tiles, 0).sum())


def _placed(state: TableState, seat: int) -> NDArray[np.int64]:
    """Concealed tiles of a seat that the table has seen, shape (36,)."""
    placed: NDArray[np.int64] = state.known[seat].copy()
    placed[JOKER] -= state.jokers_held[seat]  # these are not counted as seen
    return placed


def passed_on(
    model: Model, state: TableState, own: OwnRack | None
) -> tuple[NDArray[np.int64], Array]:  # fmt: skip
    """Tiles that the viewer has passed on, and how likely each is where it went.

    Parameters
    ----------
    model
        The model of the reading.
    state
        The table.
    own
        The viewer's rack, with the tiles that it has passed on; None on the floor.

    Returns
    -------
    given
        Seat and kind of each tile, shape (n, 2).
    stays
        Probability that a seat that does not need the tile has it still, shape (n,).
    """
    if own is None or not own.given:
        return _NOTHING
    weights = model.weights["passes"]
    given = np.array([(each.seat, each.kind) for each in own.given], dtype=np.int64)
    stays = [
        weights["kept_pass"] ** each.passes * weights["kept_turn"] ** state.turns[each.seat]
        for each in own.given
    ]
    return frozen(given), frozen(np.array(stays))
