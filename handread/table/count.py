"""The live count: what has been seen of each kind, and what may still come."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from handread.errors import IllegalEvent
from handread.table.events import SEATS
from handread.table.rules.reason import next_live
from handread.table.state import TableState
from handread.tiles import JOKER, KINDS, N_KINDS, format_tiles


@dataclass(frozen=True, eq=False)
class Live:
    """Count of a table at one moment, for one pair of eyes.

    ``copies = floor + exposed + in_racks + own + unseen``, kind by kind.

    Attributes
    ----------
    copies
        Copies of each kind in the set, shape (36,).
    floor
        Copies that lie on the floor, shape (36,).
    exposed
        Copies in exposures, jokers counted as jokers, shape (36,).
    in_racks
        Concealed copies that everybody can place: redeemed jokers, groups that went back
        to a dead rack, the throw a hand was won with; the viewer's own left out, shape (36,).
    own
        The viewer's concealed tiles, shape (36,); zeros for the floor.
    unseen
        Copies that may still be in the wall or in another rack, shape (36,).
    jokers_out
        Jokers that are placed: on the floor, exposed, in a known rack or the viewer's own.
    jokers_of
        Jokers that each seat has exposed or is known to hold.
    wall
        Tiles left to draw.
    draws_left
        Tiles that each seat will draw if nobody claims; where nobody can tell whose turn
        it is, the fewest.
    certain
        False when turns were missed and counts are bounds.
    """

    copies: NDArray[np.int64]
    floor: NDArray[np.int64]
    exposed: NDArray[np.int64]
    in_racks: NDArray[np.int64]
    own: NDArray[np.int64]
    unseen: NDArray[np.int64]
    jokers_out: int
    jokers_of: tuple[int, ...]
    wall: int
    draws_left: tuple[int, ...]
    certain: bool

    def __post_init__(self) -> None:
        for array in (
            self.copies, self.floor, self.exposed, self.in_racks, self.own, self.unseen,
        ):  # fmt: skip
            array.flags.writeable = False

    def __eq__(self, other: object) -> bool:
        if not isinstance(other, Live):
            return NotImplemented
        mine, theirs = self.__dict__, other.__dict__
        return all(np.array_equal(mine[name], theirs[name]) for name in mine)

    __hash__ = None  # type: ignore[assignment]  # values that hold arrays are unhashable


def live(
    state: TableState,
    viewer: int | None = None,
    own_rack: NDArray[np.integer] | None = None,
) -> Live:
    """Count the tiles of a table.

    Parameters
    ----------
    state
        The public state.
    viewer
        Seat that counts; None for somebody who sees no rack.
    own_rack
        The viewer's concealed tiles as counts, shape (36,); may be fewer than it holds.

    Raises
    ------
    IllegalEvent
        If the rack holds copies that are elsewhere already, or there is no such seat.

    Examples
    --------
    >>> from handread.table import replay
    >>> from handread.table.events import Discard, Expose
    >>> count = live(replay([Discard(0, 4), Expose(2, 3, jokers=1)]))
    >>> int(count.unseen[4]), count.jokers_out, count.draws_left
    (2, 1, (25, 25, 24, 25))
    """
    copies = state.rules.copies.astype(np.int64)
    exposed = _exposed(state)
    known = [state.known_in_rack(seat) for seat in range(4)]
    own = np.zeros(N_KINDS, dtype=np.int64)
    if viewer is not None:
        if not 0 <= viewer < 4 or not state.seated[viewer]:
            there = ", ".join(f"{s} {SEATS[s]}" for s in range(4) if state.seated[s])
            raise IllegalEvent(f"no viewer at seat {viewer!r}; playing: {there}")
        if own_rack is not None:
            own += np.asarray(own_rack, dtype=np.int64)
            own = np.maximum(own, known[viewer])
            known[viewer] = np.zeros(N_KINDS, dtype=np.int64)
    in_racks = np.sum(known, axis=0)
    floor = state.seen - exposed - _seen_in_racks(state)
    unseen = copies - floor - exposed - in_racks - own
    if (unseen < 0).any():
        kind = int(np.argmin(unseen))
        words = f"rack {format_tiles(own)!r}: {KINDS[kind]} is counted {-unseen[kind]} too often"
        raise IllegalEvent(f"{words}; {copies[kind]} are in the set")
    return Live(
        copies=copies,
        floor=floor,
        exposed=exposed,
        in_racks=in_racks,
        own=own,
        unseen=unseen,
        jokers_out=int(copies[JOKER] - unseen[JOKER]),
        jokers_of=tuple(
            sum(group.jokers for group in state.exposures[seat]) + state.jokers_held[seat]
            for seat in range(4)
        ),
        wall=state.wall,
        draws_left=draws_left(state),
        certain=state.certain,
    )


def _exposed(state: TableState) -> NDArray[np.int64]:
    exposed = np.zeros(N_KINDS, dtype=np.int64)
    for groups in state.exposures:
        for group in groups:
            exposed[group.kind] += group.size - group.jokers
            exposed[JOKER] += group.jokers
    return exposed


def _seen_in_racks(state: TableState) -> NDArray[np.int64]:
    """Part of ``state.seen`` that lies in racks again."""
    held = np.zeros(N_KINDS, dtype=np.int64)
    held[JOKER] = sum(state.jokers_held)
    placed: NDArray[np.int64] = np.sum([state.known_in_rack(seat) for seat in range(4)], axis=0)
    return placed - held


def draws_left(state: TableState) -> tuple[int, ...]:
    """Tiles that each seat will still draw if nobody claims.

    The live seats share the wall in turn; a claim moves draws from the seats that it skips.
    Where nobody can tell whose turn it is, the fewest that each can get.

    Examples
    --------
    >>> from handread.table import start
    >>> draws_left(start())  # every seat has 25 turns, and East opens without a draw
    (24, 25, 25, 25)
    """
    n_live = sum(state.live)
    if state.over or not n_live:
        return (0, 0, 0, 0)
    if state.turn is None:
        return tuple(state.wall // n_live if playing else 0 for playing in state.live)
    drawer = next_live(state.live, state.turn) if state.holder is not None else state.turn
    rounds, rest = divmod(state.wall, n_live)
    left = [rounds if playing else 0 for playing in state.live]
    for _ in range(rest):
        left[drawer] += 1
        drawer = next_live(state.live, drawer)
    return tuple(left)
