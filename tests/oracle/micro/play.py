"""Micro-games played out with real tiles: the player stated in ``player``, one rack at a time."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from handread.clues.claims import SHAPES
from handread.table import TableState, apply
from handread.table.events import AnyEvent, Discard, Expose
from tests.oracle.micro.game import RESTING, Array, Game, Ints
from tests.oracle.micro.player import Stance


@dataclass(frozen=True, eq=False)
class Played:
    """A game that was played.

    Attributes
    ----------
    events
        What the table saw.
    states
        The table before each event, and after the last.
    rows
        The row of each seat after each event; -1 where nobody sits.
    """

    events: tuple[AnyEvent, ...]
    states: tuple[TableState, ...]
    rows: tuple[tuple[int, ...], ...]


#: Stances by what was seen before and by seat: many games begin alike.
Known = dict[tuple[tuple[AnyEvent, ...], int], Stance]


class Table:
    """A table in play: the wall in its order, racks and rows of the seats."""

    def __init__(self, game: Game, rng: np.random.Generator, known: Known | None = None) -> None:
        self.game, self.rng = game, rng
        self.known: Known = {} if known is None else known
        self.events: tuple[AnyEvent, ...] = ()
        tiles = np.repeat(np.arange(len(game.used)), game.copies)
        self.wall: list[int] = rng.permutation(tiles).tolist()
        self.state = game.opening()
        self.racks: dict[int, Ints] = {}
        self.rows = [-1] * 4
        for seat in game.seats:
            self.racks[seat] = np.zeros(len(game.used), dtype=np.int64)
            for _ in range(RESTING):
                self.racks[seat][self.wall.pop()] += 1
            self.rows[seat] = self.pick(game.choices[self.rack_number(seat)])
        self.racks[game.dealer][self.wall.pop()] += 1

    def rack_number(self, seat: int) -> int:
        """Place of a resting rack in the list of all of them."""
        racks = self.game.racks[RESTING]
        return int(np.flatnonzero((racks == self.racks[seat]).all(axis=1))[0])

    def pick(self, probs: Array) -> int:
        """Draw an index with these probabilities; they must sum to 1."""
        return int(self.rng.choice(len(probs), p=probs))

    def stance(self, seat: int) -> Stance:
        """How a seat stands now."""
        key = (self.events, seat)
        if key not in self.known:
            self.known[key] = Stance(self.game, self.state, seat)
        return self.known[key]

    def claim(self) -> Expose | None:
        """Let the seats decide on the open throw; the nearest willing one takes it."""
        state = self.state
        if state.window is None:
            return None
        thrown = state.floor[state.window]
        found = None
        for step in (1, 2, 3):
            seat = (thrown.seat + step) % 4
            if seat not in self.game.seats:
                continue
            takes = self.stance(seat).takes(self.racks[seat][None], thrown.kind)
            shapes = takes[0, self.rows[seat]]
            choice = self.pick(np.append(shapes, 1.0 - shapes.sum()))
            if choice < len(SHAPES) and found is None:
                found = Expose(seat, *SHAPES[choice])
        return found

    def expose(self, event: Expose) -> None:
        """Take the tiles of the group out of the rack."""
        kind = self.state.floor[-1].kind
        place = int(np.flatnonzero(self.game.used == kind)[0])
        self.racks[event.seat][place] -= event.size - 1 - event.jokers
        self.racks[event.seat][-1] -= event.jokers

    def throw(self) -> Discard:
        """Draw if need be, keep or leave the row, throw, move."""
        seat = self.state.turn
        assert seat is not None
        if self.state.holder is None:
            self.racks[seat][self.wall.pop()] += 1
        stance, rack, row = self.stance(seat), self.racks[seat], self.rows[seat]
        leaves = self.rng.random() < stance.leaves(rack[None])[0, row]
        probs = stance.throws(rack[None])[int(leaves)][0, row]
        place = self.pick(probs)
        rack[place] -= 1
        if leaves:
            mass = np.zeros((1, self.game.model.n_rows))
            mass[0, row] = 1.0
            self.rows[seat] = self.pick(stance.arrives(rack[None], mass)[0])
        return Discard(seat, int(self.game.used[place]))

    def step(self) -> AnyEvent | None:
        """Play the next event; None after the last throw of the wall."""
        event: AnyEvent | None = self.claim()
        if isinstance(event, Expose):
            self.expose(event)
        elif self.state.wall == 0 and self.state.holder is None:
            return None
        else:
            event = self.throw()
        self.state = apply(self.state, event, self.game.card)
        self.events = (*self.events, event)
        return event


def play(
    game: Game, *, rng: np.random.Generator, most: int = 1000, known: Known | None = None
) -> Played:
    """Play a game to its end, or for `most` events; `known` may be shared by games."""
    table = Table(game, rng, known)
    states, rows = [table.state], []
    while len(table.events) < most and table.step() is not None:
        states.append(table.state)
        rows.append(tuple(table.rows))
    assert all(rack.min() >= 0 for rack in table.racks.values())
    return Played(table.events, tuple(states), tuple(rows))
