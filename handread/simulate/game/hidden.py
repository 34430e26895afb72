"""How an event moves the hidden tiles between racks, wall and exposures."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from handread.table.events import AnyEvent, Correct, Dead, Discard, Expose, Redeem, Win
from handread.table.state import Exposure, TableState
from handread.tiles import JOKER

Racks = list[NDArray[np.int64]]


def move_tiles(racks: Racks, before: TableState, event: AnyEvent) -> None:
    """Change the concealed tiles of all seats by one public event, in place.

    Draws and passes are hidden and moved elsewhere: a tile drawn lies in its rack already.

    Parameters
    ----------
    racks
        Concealed tiles of the four seats, each of shape (36,).
    before
        The public table before the event.
    event
        What happened.
    """
    if isinstance(event, Discard):
        racks[event.seat][event.kind] -= 1
    elif isinstance(event, Expose):
        kind = before.floor[-1].kind
        _lay(racks[event.seat], Exposure(kind, event.size, event.jokers), -1)
        racks[event.seat][kind] += 1  # the tile claimed did not come from the rack
    elif isinstance(event, Correct):
        old = before.exposures[event.seat][-1]
        _lay(racks[event.seat], old, 1)
        _lay(racks[event.seat], Exposure(old.kind, event.size, event.jokers), -1)
    elif isinstance(event, Redeem):
        racks[event.seat][event.kind] -= 1
        racks[event.seat][JOKER] += 1
    elif isinstance(event, Dead) and event.returned:
        _lay(racks[event.seat], before.exposures[event.seat][-1], 1)
    elif isinstance(event, Win) and event.claimed:
        _win(racks, before, event)


def _lay(rack: NDArray[np.int64], group: Exposure, sign: int) -> None:
    rack[group.kind] += sign * (group.size - group.jokers)
    rack[JOKER] += sign * group.jokers


def _win(racks: Racks, before: TableState, event: Win) -> None:
    """Take the thrown tile, out of a group laid with it if need be."""
    holder = before.holder
    if holder == event.seat:
        return  # it lies in the winner's own exposure
    kind = before.floor[-1].kind
    if holder is not None:
        _lay(racks[holder], before.exposures[holder][-1], 1)
        racks[holder][kind] -= 1
    racks[event.seat][kind] += 1
