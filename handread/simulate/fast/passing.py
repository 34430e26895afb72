"""The passes before play, compiled; see ``game.passing``."""

from __future__ import annotations

from typing import Any

from handread.simulate.fast.asking import all_legal, decide, distance_of, look_at_plan
from handread.simulate.fast.compiled import compiled
from handread.simulate.fast.events import do_passed, do_stopped, do_win
from handread.simulate.fast.layout import (
    BLIND,
    COURTESY,
    FOUR,
    MINUS,
    N_KINDS_,
    NONE,
    ONE,
    PASS,
    SAY_WIN,
    STOP,
    TWO,
    word,
)
from handread.tiles import JOKER, N_KINDS

#: Steps by number, in the order of ``PASS_STEPS``; how far to the right each goes.
_LEFT, _LAST_RIGHT, _COURTESY = word(2), word(5), word(6)
_PASSED = word(3)
_DIRECTIONS = (1, 2, 3, 3, 2, 1, TWO)


@compiled
def dealt_win(t: Any, book: Any) -> bool:
    """Whether the seat that opens wins before the play."""
    opener = t.holder
    if opener < 0 or distance_of(t, opener) > 0:
        return False
    all_legal(t, TWO)
    if decide(t, opener, SAY_WIN, TWO):
        do_win(t, book, opener, NONE, MINUS)
    return t.over == 1


@compiled
def play_passes(t: Any, book: Any) -> None:
    """Play the passes of four seats."""
    for step in range(3):
        compulsory(t, book, step)
    if dealt_win(t, book):
        return
    if t.second_round and not stopped(t, book):
        for step in range(3, 6):
            compulsory(t, book, step)
    courtesy(t, book)


@compiled
def stopped(t: Any, book: Any) -> bool:
    """Whether anybody refuses the second round."""
    for seat in range(4):
        all_legal(t, TWO)
        if decide(t, seat, STOP, TWO):
            book.stops[book.n_stops] = seat
            book.n_stops += 1
    if book.n_stops > 0:
        do_stopped(t, book, word(book.stops[0]))
    return book.n_stops > 0


@compiled
def compulsory(t: Any, book: Any, step: int) -> None:
    """One step of three tiles a seat."""
    may_be_blind = ONE if step in (_LEFT, _LAST_RIGHT) else NONE
    for seat in range(4):
        t.blind[seat] = 0
    if may_be_blind and t.blind_pass:
        for seat in range(4):
            all_legal(t, FOUR)
            t.blind[seat] = decide(t, seat, BLIND, FOUR)
    for seat in range(4):
        choose(t, book, seat, _PASSED - t.blind[seat])
    exchange(t, book, step)
    do_passed(t, book, step, t.blind, may_be_blind)
    for seat in range(4):
        look_at_plan(t, seat)


@compiled
def courtesy(t: Any, book: Any) -> None:
    """The exchange between facing seats, of as many tiles as the smaller wish."""
    for seat in range(4):
        all_legal(t, FOUR)
        t.answers[seat] = decide(t, seat, COURTESY, FOUR)
        t.blind[seat] = 0
    for seat in range(4):
        choose(t, book, seat, min(t.answers[seat], t.answers[(seat + 2) % 4]))
    exchange(t, book, _COURTESY)
    do_passed(t, book, _COURTESY, t.n_given, ONE)
    for seat in range(4):
        look_at_plan(t, seat)


@compiled
def choose(t: Any, book: Any, seat: int, n: int) -> None:
    """Let a seat take n tiles out of its rack to give, one decision each; never a joker."""
    for i in range(n):
        all_legal(t, N_KINDS_)
        for k in range(N_KINDS):
            t.legal[k] = 1 if t.racks[seat, k] > 0 and k != JOKER else 0
        kind = decide(t, seat, PASS, N_KINDS_)
        t.racks[seat, kind] -= 1
        t.given[seat, i] = kind
    t.n_given[seat] = n


@compiled
def packet_tile(t: Any, seat: int, place: int, way: int) -> int:
    """Tile at a place of the packet that a seat sends; -1 if it goes round for ever."""
    for _ in range(4 * _PASSED):
        if place < t.n_given[seat]:
            kind: int = t.given[seat, place]
            return kind
        place -= t.n_given[seat]
        seat = (seat - way) % 4
    return -1


@compiled
def exchange(t: Any, book: Any, step: int) -> None:
    """Move the tiles of one step, and put it on the book; see ``rules.passes.exchange``."""
    way, at = _DIRECTIONS[step], book.n_passes
    book.steps[at] = step
    for seat in range(4):
        book.n_given[at, seat] = t.n_given[seat]
        book.blind[at, seat] = t.blind[seat]
        for i in range(t.n_given[seat]):
            book.given[at, seat, i] = t.given[seat, i]
    for seat in range(4):
        giver, n = (seat - way) % 4, 0
        for place in range(t.blind[seat], t.n_given[giver] + t.blind[giver]):
            kind = packet_tile(t, giver, place, way)
            if kind >= 0:
                t.racks[seat, kind] += 1
                book.received[at, seat, n] = kind
                n += 1
        book.n_received[at, seat] = n
    book.n_passes += 1
