"""The viewer's own rack, followed through a record."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from handread.table.events import (
    AnyEvent,
    Correct,
    Dead,
    Discard,
    Drew,
    Expose,
    Header,
    Passed,
    Rack,
    Redeem,
    Win,
)
from handread.table.play import apply, start
from handread.table.state import TableState
from handread.tiles import JOKER, N_KINDS
from handread.values import FrozenCopies


@dataclass(frozen=True)
class Given:
    """A tile that the seat has passed to another, and that has not been seen since.

    Attributes
    ----------
    seat
        Who received it.
    kind
        The tile.
    passes
        Steps of the passes since, in each of which it may have been passed on.
    """

    seat: int
    kind: int
    passes: int = 0


@dataclass(frozen=True, eq=False)
class OwnRack(FrozenCopies):
    """What is known of the concealed tiles of one seat.

    Attributes
    ----------
    tiles
        Copies known to be there, shape (36,).
    unknown
        How many more it holds, of kinds that nobody wrote down.
    given
        Tiles that it has passed on, in order.
    """

    tiles: NDArray[np.int64]
    unknown: int
    given: tuple[Given, ...] = ()

    def __post_init__(self) -> None:
        self.tiles.flags.writeable = False

    def __eq__(self, other: object) -> bool:
        if not isinstance(other, OwnRack):
            return NotImplemented
        same = self.unknown == other.unknown and self.given == other.given
        return same and np.array_equal(self.tiles, other.tiles)

    __hash__ = None  # type: ignore[assignment]  # values that hold arrays are unhashable


def no_rack(state: TableState, seat: int) -> OwnRack:
    """Rack of which nothing was written down."""
    return OwnRack(np.zeros(N_KINDS, dtype=np.int64), state.concealed[seat])


def follow_rack(
    rack: OwnRack, before: TableState, event: AnyEvent, seat: int, after: TableState | None = None
) -> OwnRack:
    """Rack of `seat` after an event.

    Parameters
    ----------
    rack
        What is known before it.
    before
        The public state before it.
    event
        What happened; draws that nobody wrote down count as unknown tiles.
    seat
        Whose rack it is.
    after
        The public state after the event, where that is known already.

    Examples
    --------
    >>> state = start()
    >>> rack = follow_rack(no_rack(state, 0), state, Rack(0, (4,) * 3 + (5,) * 3), 0)
    >>> follow_rack(rack, state, Discard(0, 4), 0).tiles[4]
    np.int64(2)
    """
    after = apply(before, event) if after is None else after
    tiles = rack.tiles.copy()
    if isinstance(event, Rack) and event.seat == seat:
        tiles = np.bincount(event.tiles, minlength=N_KINDS).astype(np.int64)
    elif isinstance(event, Passed):
        _move(tiles, event.given, -1)
        _move(tiles, event.received, 1)
    elif isinstance(event, Drew | Win) and event.seat == seat:
        won = before.floor[-1].kind if isinstance(event, Win) and event.claimed else event.kind
        if won is not None and after.concealed[seat] > before.concealed[seat]:
            tiles[won] += 1
    elif isinstance(event, Discard) and event.seat == seat:
        if not (event.drawn and before.holder != seat):
            _move(tiles, (event.kind,), -1)
    elif isinstance(event, Redeem) and event.seat == seat:
        _move(tiles, (event.kind,), -1)
        tiles[JOKER] += 1
    elif isinstance(event, Expose | Correct | Dead) and event.seat == seat:
        _lay(tiles, before, after, seat)
    known = int(tiles.sum())
    given = _follow_given(rack.given, before, after, event, seat)
    return OwnRack(tiles, max(after.concealed[seat] - known, 0), given)


def receiver(giver: int, step: str) -> int:
    """Seat that receives what a seat passes on a step of the passes.

    >>> receiver(0, "right"), receiver(0, "across"), receiver(0, "second left")
    (1, 2, 3)
    """
    if step.endswith("right"):
        return (giver + 1) % 4
    return (giver + 3) % 4 if step.endswith("left") else (giver + 2) % 4


def _follow_given(
    given: tuple[Given, ...], before: TableState, after: TableState, event: AnyEvent, seat: int
) -> tuple[Given, ...]:
    """Tiles passed on and not seen since: aged by a step, added to, taken off as they show."""
    if isinstance(event, Passed):
        older = [Given(each.seat, each.kind, each.passes + 1) for each in given]
        to = receiver(seat, event.step)
        return (*older, *(Given(to, kind) for kind in event.given or ()))
    acting = getattr(event, "seat", None)
    if not given or (isinstance(event, Discard) and event.drawn):
        return given
    shown = after.seen.astype(np.int64) - before.seen
    left = []
    for each in given:
        if each.seat == acting and shown[each.kind] > 0:
            shown[each.kind] -= 1
        else:
            left.append(each)
    return tuple(left)


def _move(tiles: NDArray[np.int64], kinds: tuple[int, ...] | None, step: int) -> None:
    for kind in kinds or ():
        tiles[kind] = max(tiles[kind] + step, 0)


def _lay(tiles: NDArray[np.int64], before: TableState, after: TableState, seat: int) -> None:
    """Take from the rack what the exposures have gained, and give back what they have lost."""
    gained = _shown(after, seat) - _shown(before, seat)
    if before.window is not None and after.window is None:
        gained[before.floor[-1].kind] -= 1
    np.maximum(tiles - gained, 0, out=tiles)


def _shown(state: TableState, seat: int) -> NDArray[np.int64]:
    shown = np.zeros(N_KINDS, dtype=np.int64)
    for group in state.exposures[seat]:
        shown[group.kind] += group.size - group.jokers
        shown[JOKER] += group.jokers
    return shown


def own_rack(events: Iterable[AnyEvent], header: Header, seat: int) -> OwnRack:
    """Rack of a seat after a run of events.

    Parameters
    ----------
    events
        The events, with the racks, draws and passes that the seat wrote down.
    header
        The record's header.
    seat
        Whose rack it is.
    """
    state = start(header)
    rack = no_rack(state, seat)
    for event in events:
        rack = follow_rack(rack, state, event, seat)
        state = apply(state, event)
    return rack
