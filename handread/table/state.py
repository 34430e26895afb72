"""What everybody can see at one moment: a frozen value, the fold of the events so far."""

from __future__ import annotations

from collections.abc import Container
from dataclasses import dataclass, field, fields
from functools import cached_property
from typing import Any

import numpy as np
from numpy.typing import NDArray

from handread.card.compiled import Rules
from handread.tiles import JOKER, N_KINDS
from handread.values import FrozenCopies, frozen

_NOBODY = (0, 0, 0, 0)


@dataclass(frozen=True)
class Thrown:
    """One throw on the floor: who threw what, and which seat took it (None if it lies there)."""

    seat: int
    kind: int
    taken_by: int | None = None


@dataclass(frozen=True)
class Exposure:
    """One group laid on top of a rack: `size` tiles of `kind`, `jokers` of them jokers now."""

    kind: int
    size: int
    jokers: int


@dataclass(frozen=True, eq=False)
class TableState(FrozenCopies):
    """The public state of a table; compared by content, unhashable.

    Attributes
    ----------
    floor
        Every throw, in order, those taken included.
    exposures
        Groups shown by each seat, in order; four tuples.
    seen
        Copies of each kind that everybody has seen (on the floor or in exposures, and
        those that went back to a dead rack), shape (36,). A redeemed joker leaves this
        count and enters `jokers_held`.
    wall
        Tiles left to draw; after missed turns the least that can be left, each missed turn
        taken for a draw.
    holder
        The seat that holds 14 tiles and must throw; None between a throw and what follows it.
    window
        Index into `floor` of the throw that may still be claimed; None when there is none.
    turns
        Own turns (throws) of each seat so far.
    draws
        Tiles that each seat has drawn from the wall.
    concealed
        Concealed tiles of each seat.
    live
        Whether each seat still plays: False when absent or dead.
    certain
        False after a missed turn or a late start, when counts are bounds and not facts.
    over
        Whether the game has ended.
    flags
        Irregular events so far, in words, with the number of the event.
    seated
        Whether anybody sits at each seat.
    turn
        The seat that holds 14 or is to draw next; None when nobody can tell.
    shown
        Whether the holder has just exposed a group that it may still correct.
    jokers_held
        Jokers that each seat must hold concealed, since it took them by redeeming.
    returned
        Groups that went back to the rack of each seat; four tuples. Their tiles stay in
        `seen`: those of a dead hand are out of play.
    won_with
        Kind of the throw that was claimed for the win; it lies in the winner's hand.
    passed
        Steps of the passes so far.
    stopped
        Whether the second round of passes was stopped.
    n_events
        Events so far, comments included; the next one has number ``n_events + 1``.
    rules
        Tile set and rule parameters of the club.
    switches
        Names in ``events.SWITCHES`` that are on.
    """

    floor: tuple[Thrown, ...]
    exposures: tuple[tuple[Exposure, ...], ...]
    seen: NDArray[np.uint8]
    wall: int
    holder: int | None
    window: int | None
    turns: tuple[int, ...]
    draws: tuple[int, ...]
    concealed: tuple[int, ...]
    live: tuple[bool, ...]
    certain: bool = True
    over: bool = False
    flags: tuple[tuple[int, str], ...] = ()
    seated: tuple[bool, ...] = (True, True, True, True)
    turn: int | None = None
    shown: bool = False
    jokers_held: tuple[int, ...] = _NOBODY
    returned: tuple[tuple[Exposure, ...], ...] = ((), (), (), ())
    won_with: int | None = None
    passed: tuple[str, ...] = ()
    stopped: bool = False
    n_events: int = 0
    rules: Rules = field(default_factory=Rules)
    switches: frozenset[str] = frozenset()

    def __eq__(self, other: object) -> bool:
        if not isinstance(other, TableState):
            return NotImplemented
        return all(_same(getattr(self, name), getattr(other, name)) for name in _NAMES)

    __hash__ = None  # type: ignore[assignment]  # values that hold arrays are unhashable

    @property
    def lying(self) -> int:
        """Throws that lie on the floor, not taken."""
        return sum(throw.taken_by is None for throw in self.floor)

    def known_in_rack(self, seat: int) -> NDArray[np.int64]:
        """Concealed tiles of a seat that everybody knows of, shape (36,).

        Redeemed jokers, groups that went back to its rack, and the throw it won with. All
        but the jokers are counted in `seen`.
        """
        row: NDArray[np.int64] = self.known[seat]
        return row

    @cached_property
    def known(self) -> NDArray[np.int64]:
        """What ``known_in_rack`` says of each seat, shape (4, 36)."""
        known = np.zeros((4, N_KINDS), dtype=np.int64)
        known[:, JOKER] = self.jokers_held
        for seat, groups in enumerate(self.returned):
            for group in groups:
                known[seat, group.kind] += group.size - group.jokers
                known[seat, JOKER] += group.jokers
        if self.won_with is not None and self.holder is not None:
            known[self.holder, self.won_with] += 1
        return frozen(known)

    @cached_property
    def n_known(self) -> tuple[int, ...]:
        """How many tiles ``known_in_rack`` says of each seat."""
        counts: list[int] = self.known.sum(axis=1).tolist()
        return tuple(counts)

    @cached_property
    def thrown(self) -> NDArray[np.int64]:
        """Copies of each kind that each seat has thrown, those taken included, shape (4, 36)."""
        places = [throw.seat * N_KINDS + throw.kind for throw in self.floor]
        counts = np.bincount(np.array(places, dtype=np.int64), minlength=4 * N_KINDS)
        return frozen(counts.astype(np.int64).reshape(4, N_KINDS))

    @cached_property
    def seen_copies(self) -> NDArray[np.int64]:
        """What `seen` says, in numbers that can be reckoned with, shape (36,)."""
        return frozen(self.seen.astype(np.int64))

    @cached_property
    def free(self) -> NDArray[np.int64]:
        """Copies of each kind that the table has not seen, shape (36,)."""
        return frozen(self.rules.copies - self.seen_copies)

    def tiles_of(self, seat: int) -> int:
        """Tiles of a seat, concealed and exposed: 13 at rest, 14 within its turn."""
        total = self.concealed[seat]
        for group in self.exposures[seat]:
            total += group.size
        return total

    def _repr_html_(self) -> str:
        from handread.table.picture import table_picture

        return table_picture(self)._repr_html_()

    def _repr_mimebundle_(
        self, include: Container[str] | None = None, exclude: Container[str] | None = None
    ) -> dict[str, str]:
        from handread.table.picture import table_picture

        return table_picture(self)._repr_mimebundle_(include, exclude)


def still_counted(before: TableState, after: TableState) -> dict[str, Any]:
    """Counts of one state that hold of the next, or nearly so, by name, for ``evolve``.

    Parameters
    ----------
    before, after
        Two states, one after the other.

    Examples
    --------
    >>> from handread.table import Discard, apply, start
    >>> state = start()
    >>> counts = still_counted(state, apply(state, Discard(seat=0, kind=4)))
    >>> list(counts), int(counts["thrown"].sum())
    (['thrown', 'known', 'n_known'], 1)
    """
    counts: dict[str, Any] = {}
    old, new = before.floor, after.floor
    if new is old:
        counts["thrown"] = before.thrown
    elif len(new) == len(old) + 1 and new[:-1] == old:
        thrown = before.thrown.copy()
        thrown[new[-1].seat, new[-1].kind] += 1
        counts["thrown"] = frozen(thrown)
    if after.seen is before.seen:
        counts |= {"seen_copies": before.seen_copies, "free": before.free}
    alike = after.jokers_held is before.jokers_held and after.returned is before.returned
    if alike and before.won_with is None and after.won_with is None:
        counts |= {"known": before.known, "n_known": before.n_known}
    return counts


_NAMES = tuple(each.name for each in fields(TableState))


def _same(one: Any, other: Any) -> bool:
    if isinstance(one, np.ndarray):
        return bool(np.array_equal(one, other))
    if isinstance(one, Rules):
        mine = (one.copies.tolist(), one.hand_size, one.claimable)
        return bool(mine == (other.copies.tolist(), other.hand_size, other.claimable))
    return bool(one == other)


def put(values: tuple[Any, ...], seat: int, value: Any) -> tuple[Any, ...]:
    """Copy of a tuple with the entry of one seat replaced."""
    return (*values[:seat], value, *values[seat + 1 :])
