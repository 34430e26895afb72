"""Tables that play at random within the rules, every tile dealt: for tests of any layer.

Not a simulation of people: throws are uniform, claims, redeems and dead hands are far too
frequent, so that a few games meet every rule.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from handread.card.compiled import CompiledCard, Rules
from handread.table import TableState, apply, check, start
from handread.table.events import (
    Absent,
    AnyEvent,
    Comment,
    Correct,
    Dead,
    Discard,
    Drew,
    Expose,
    Header,
    Passed,
    Rack,
    Record,
    Redeem,
    Reveal,
    Stopped,
    Voiced,
    WallGame,
    Win,
)
from handread.tiles import JOKER


@dataclass(frozen=True)
class Habits:
    """How often, as probabilities, the random players do what they may."""

    claim: float = 0.35
    redeem: float = 0.5
    dead: float = 0.004
    win: float = 0.003
    correct: float = 0.1
    voice: float = 0.02
    comment: float = 0.01
    marks: float = 0.3
    pass_tiles: bool = True


class _Table:
    """The hidden tiles of one game, changed as it goes on."""

    def __init__(
        self, rng: np.random.Generator, header: Header, rules: Rules, seats: tuple[int, ...]
    ) -> None:
        tiles = np.repeat(np.arange(36), rules.copies).tolist()
        self.wall = [int(tile) for tile in rng.permutation(tiles)]
        self.racks: list[list[int]] = [[] for _ in range(4)]
        opens = next(s % 4 for s in range(header.dealer, header.dealer + 4) if s % 4 in seats)
        for seat in seats:
            size = rules.hand_size - (seat != opens)
            self.racks[seat] = [self.wall.pop() for _ in range(size)]

    def take(self, seat: int, kind: int, copies: int = 1) -> None:
        for _ in range(copies):
            self.racks[seat].remove(kind)

    def draw(self, seat: int) -> int:
        kind = self.wall.pop()
        self.racks[seat].append(kind)
        return kind


class RandomGame:
    """A game at random; iterate for its events, ``state`` is the table after the last one."""

    def __init__(
        self,
        rng: np.random.Generator,
        card: CompiledCard | None = None,
        *,
        header: Header | None = None,
        seats: tuple[int, ...] = (0, 1, 2, 3),
        habits: Habits | None = None,
        hidden: bool = False,
    ) -> None:
        self.rng, self.card = rng, card
        self.habits = habits or Habits()
        self.header = header or Header(dealer=int(rng.integers(4)))
        self.seats, self.hidden = seats, hidden
        rules = card.rules if card is not None else Rules()
        self.state: TableState = start(self.header, rules)
        self.table = _Table(rng, self.header, rules, seats)

    def chance(self, probability: float) -> bool:
        return bool(self.rng.random() < probability)

    def do(self, event: AnyEvent) -> AnyEvent:
        """Move the table on; a breach of the rules is a fault of this generator."""
        reasons = check(self.state, event, self.card)
        if reasons:
            raise RuntimeError(f"{event!r} is not legal: {reasons}")
        self.state = apply(self.state, event, self.card)
        return event

    def __iter__(self) -> Iterator[AnyEvent]:
        for seat in set(range(4)) - set(self.seats):
            yield self.do(Absent(seat))
        if len(self.seats) == 4 and self.habits.pass_tiles:
            yield from self.passes()
        if self.hidden:
            for seat in self.seats:
                yield self.do(Rack(seat, tuple(sorted(self.table.racks[seat]))))
        while not self.state.over:
            yield from self.turn()
        for seat in self.seats:
            yield self.do(Reveal(seat, None, tuple(sorted(self.table.racks[seat]))))

    def passes(self) -> Iterator[AnyEvent]:
        for step in ("right", "across", "left"):
            yield self.do(Passed(step=step))
        if self.chance(0.5):
            yield self.do(Stopped(int(self.rng.integers(4)) if self.chance(0.5) else None))
        else:
            for step in ("second left", "second across"):
                yield self.do(Passed(step=step))
            blind = tuple(int(n) for n in self.rng.integers(0, 4, size=4))
            yield self.do(Passed(step="last right", blind=blind))
        one, two = (int(n) for n in self.rng.integers(0, 4, size=2))
        yield self.do(Passed(step="courtesy", counts=(one, two, one, two)))

    def turn(self) -> Iterator[AnyEvent]:
        """One turn: draw unless 14 are held, redeem, throw; then the claims."""
        state, rng = self.state, self.rng
        seat = state.turn
        if seat is None:
            raise RuntimeError("a random game knows whose turn it is")
        if state.holder is None and (not self.table.wall or sum(state.live) < 2):
            yield self.do(WallGame())
            return
        if self.chance(self.habits.comment):
            yield self.do(Comment("the table pauses"))
        if state.holder is None:
            kind = self.table.draw(seat)
            if self.hidden:
                yield self.do(Drew(seat, kind))
            if self.chance(self.habits.win):
                yield self.do(Win(seat, False, kind if self.chance(0.5) else None))
                return
        yield from self.redeems(seat)
        rack = self.table.racks[seat]
        kind = int(rack[rng.integers(len(rack))])
        if kind == JOKER and self.chance(0.8):
            kind = int(rack[rng.integers(len(rack))])
        self.table.take(seat, kind)
        yield self.do(self.marked(Discard(seat, kind)))
        yield from self.answers(seat, kind)

    def marked(self, throw: Discard) -> Discard:
        if not self.chance(self.habits.marks):
            return throw
        position = ("end", "middle", None)[int(self.rng.integers(3))]
        pause = float(self.rng.integers(1, 30)) if self.chance(0.5) else None
        drew = self.state.holder is None
        drawn = self.chance(0.3) if drew else None
        return Discard(throw.seat, throw.kind, drawn, position, pause)

    def redeems(self, seat: int) -> Iterator[AnyEvent]:
        for owner in range(4):
            for group in self.state.exposures[owner]:
                held = group.kind in self.table.racks[seat]
                if group.jokers and held and self.chance(self.habits.redeem):
                    self.table.take(seat, group.kind)
                    self.table.racks[seat].append(JOKER)
                    yield self.do(Redeem(seat, owner, group.kind))

    def answers(self, thrower: int, kind: int) -> Iterator[AnyEvent]:
        """What the other seats make of a throw."""
        others = [s for s in ((thrower + i) % 4 for i in (1, 2, 3)) if self.state.live[s]]
        for seat in others:
            if len(others) > 1 and self.chance(self.habits.dead):
                caller = next(s for s in others if s != seat)
                returned = bool(self.state.exposures[seat]) and self.chance(0.5)
                if returned:
                    group = self.state.exposures[seat][-1]
                    naturals = [group.kind] * (group.size - group.jokers)
                    self.table.racks[seat] += naturals + [JOKER] * group.jokers
                yield self.do(Dead(seat, caller, returned))
                return
        if kind == JOKER:
            return
        if others and self.chance(self.habits.voice):
            yield self.do(Voiced(others[0], lost=self.chance(0.5)))
        for seat in others:
            if self.chance(self.habits.win):
                self.table.racks[seat].append(kind)
                yield self.do(Win(seat, True))
                return
            found = self.group(seat, kind) if self.chance(self.habits.claim) else None
            if found is not None:
                yield from self.expose(seat, kind, found)
                return

    def group(self, seat: int, kind: int) -> Expose | None:
        """A legal exposure that the seat's tiles allow, at random."""
        held = Counter(self.table.racks[seat])
        options = []
        for size in self.state.rules.claimable:
            for jokers in range(min(held[JOKER], size - 1) + 1):
                if held[kind] >= size - 1 - jokers:
                    event = Expose(seat, size, jokers)
                    if not check(self.state, event, self.card):
                        options.append(event)
        return options[int(self.rng.integers(len(options)))] if options else None

    def expose(self, seat: int, kind: int, event: Expose) -> Iterator[AnyEvent]:
        self.lay(seat, kind, event.size - 1 - event.jokers, event.jokers)
        yield self.do(event)
        if not self.chance(self.habits.correct):
            return
        larger = Correct(seat, event.size + 1, event.jokers + 1)
        if JOKER in self.table.racks[seat] and not check(self.state, larger, self.card):
            self.lay(seat, kind, 0, 1)
            yield self.do(larger)

    def lay(self, seat: int, kind: int, naturals: int, jokers: int) -> None:
        self.table.take(seat, kind, naturals)
        self.table.take(seat, JOKER, jokers)


def random_record(
    rng: np.random.Generator,
    card: CompiledCard | None = None,
    n_events: int | None = None,
    *,
    seats: tuple[int, ...] = (0, 1, 2, 3),
    habits: Habits | None = None,
    hidden: bool = False,
) -> Record:
    """Record of legal events by players at random.

    Parameters
    ----------
    rng
        Source of all chance.
    card
        With a card, exposures fit its hands and its tile set is dealt.
    n_events
        Stop after so many events; None plays to the end.
    seats
        Seats that are taken.
    hidden
        Write down racks and drawn tiles of all seats.
    """
    game = RandomGame(rng, card, seats=seats, habits=habits, hidden=hidden)
    events = []
    for event in game:
        events.append(event)
        if n_events is not None and len(events) >= n_events:
            break
    return Record(game.header, tuple(events))
