"""What a summary needs of one game: a few numbers, so that thousands of games fit in memory."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from handread.simulate.game.play import SimulatedGame
from handread.simulate.playcard import PlayCard
from handread.simulate.truth import Truth
from handread.simulate.view import STATES
from handread.table.events import Absent, Discard, Expose, Passed, Stopped, WinInError


@dataclass(frozen=True)
class GameFacts:
    """Facts of one game; per-seat tuples have four entries, empty seats hold 0.

    Attributes
    ----------
    how
        As in ``Ending``.
    winner, thrower, redeemed, jokerless
        As in ``Ending``.
    hand
        Hand that won, as an index; None without a win.
    turn
        Own turns of the winner, the one in which it wins included.
    exposures
        Groups shown by each seat in the course of the game.
    throws
        Throws of each seat.
    plan_families
        Weight of each family in each seat's mind right after the passes.
    plan_pure
        Weight of the hands without pairs or singles, right after the passes.
    changes
        Changes of the leading hand since the deal that lasted two own turns or more.
    changes_in_play
        The same since the end of the passes.
    folded, dead
        Whether each seat ended so.
    kinds
        Kind of player of each seat; empty where nobody sits.
    gains
        Points that each seat gained.
    errors
        Wins said in error.
    dealt_pairs
        Kinds, flowers included, that each seat was dealt two or more of.
    pauses
        Pauses before throws, added up in the record's unit, and throws that have one.
    places
        Throws from the middle of a rack, and throws whose place is known.
    """

    how: str
    winner: int | None
    thrower: int | None
    redeemed: bool
    jokerless: bool
    hand: int | None
    turn: int
    exposures: tuple[int, ...]
    throws: tuple[int, ...]
    plan_families: tuple[tuple[float, ...], ...]
    plan_pure: tuple[float, ...]
    changes: tuple[int, ...]
    changes_in_play: tuple[int, ...]
    folded: tuple[bool, ...]
    dead: tuple[bool, ...]
    kinds: tuple[str, ...]
    gains: tuple[int, ...]
    errors: int
    dealt_pairs: tuple[int, ...]
    pauses: tuple[float, int]
    places: tuple[int, int]


def game_facts(card: PlayCard, game: SimulatedGame) -> GameFacts:
    """Facts of a game.

    Parameters
    ----------
    card
        The card that it was played with.
    game
        The game.
    """
    truth, events, end = game.truth, game.record.events, game.truth.ending
    seats = [seat for seat in range(4) if truth.people[seat] is not None]
    throws = tuple(sum(isinstance(e, Discard) and e.seat == s for e in events) for s in range(4))
    shown = tuple(sum(isinstance(e, Expose) and e.seat == s for e in events) for s in range(4))
    before_play = before(game)
    families, pure, changes, in_play = [], [], [], []
    for seat in range(4):
        if seat not in seats:
            families.append((0.0,) * len(card.card.families))
            pure.append(0.0)
            changes.append(0)
            in_play.append(0)
            continue
        rows = _rows(truth, seat, before_play, throws[seat], game)
        weights = truth.moments.weights(rows[1], card.n_targets)
        by_hand = np.bincount(card.card.hand_of, weights, minlength=len(card.card.hands))
        of_family = [hand.family for hand in card.card.hands]
        found = np.bincount(of_family, by_hand, minlength=len(card.card.families))
        families.append(tuple(float(x) for x in found))
        pure.append(float(by_hand[card.pure].sum()))
        hands = [leading_hand(card, truth, row) for row in rows]
        changes.append(lasting_changes([hands[0], *hands[2:]]))
        in_play.append(lasting_changes(hands[1:]))
    last = {seat: int(np.flatnonzero(truth.moments.seat == seat)[-1]) for seat in seats}
    state = [STATES[int(truth.moments.state[last[s]])] if s in last else "" for s in range(4)]
    return GameFacts(
        how=end.how,
        winner=end.winner,
        thrower=end.thrower,
        redeemed=end.redeemed,
        jokerless=end.jokerless,
        hand=None if end.target is None else int(card.card.hand_of[end.target]),
        turn=0 if end.winner is None else throws[end.winner] + 1,
        exposures=shown,
        throws=throws,
        plan_families=tuple(families),
        plan_pure=tuple(pure),
        changes=tuple(changes),
        changes_in_play=tuple(in_play),
        folded=tuple(word == "folded" for word in state),
        dead=tuple(word == "dead" for word in state),
        kinds=tuple(person.kind if person else "" for person in truth.people),
        gains=end.payments,
        errors=sum(isinstance(event, WinInError) for event in events),
        dealt_pairs=tuple(_pairs(rack) for rack in truth.dealt),
        pauses=_pauses(events),
        places=_places(events),
    )


def _pauses(events: Sequence[object]) -> tuple[float, int]:
    found = [e.pause for e in events if isinstance(e, Discard) and e.pause is not None]
    return float(sum(found)), len(found)


def _places(events: Sequence[object]) -> tuple[int, int]:
    found = [e.position for e in events if isinstance(e, Discard) and e.position is not None]
    return found.count("middle"), len(found)


def before(game: SimulatedGame) -> int:
    """How many events come before the play."""
    n = 0
    for event in game.record.events:
        if not isinstance(event, Absent | Passed | Stopped):
            break
        n += 1
    return n


def _rows(
    truth: Truth, seat: int, before_play: int, n_throws: int, game: SimulatedGame
) -> list[int]:  # fmt: skip
    """Rows of a seat at the deal, right after the passes, and at each own throw."""
    moments = truth.moments
    own = np.flatnonzero(moments.seat == seat)
    after = own[moments.at[own] == before_play]
    rows = [int(own[0]), int(after[0]) if len(after) else int(own[0])]
    numbers = [
        number
        for number, event in enumerate(game.record.events, start=1)
        if isinstance(event, Discard) and event.seat == seat
    ]
    return rows + [moments.row(seat, number) for number in numbers[:n_throws]]


def leading_hand(card: PlayCard, truth: Truth, row: int) -> int:
    """Hand with the greatest weight in a row, the first of equals."""
    weights = truth.moments.weights(row, card.n_targets)
    return int(np.bincount(card.card.hand_of, weights, minlength=len(card.card.hands)).argmax())


def lasting_changes(hands: list[int]) -> int:
    """Changes in a row of hands that last for two entries at least; the first is the start.

    >>> lasting_changes([1, 1, 2, 2, 1, 3, 3])
    2
    """
    n, standing = 0, hands[0]
    for now, then in pairwise(hands[1:]):
        if now != standing and then == now:
            n, standing = n + 1, now
    return n


def _pairs(rack: tuple[int, ...]) -> int:
    counts: NDArray[np.int64] = np.bincount(np.array(rack, dtype=np.int64), minlength=36)
    return int((counts[:35] >= 2).sum())
