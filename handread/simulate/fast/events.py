"""What each event does to the public table and to the hidden tiles; each goes on the book.

The compiled twin of ``handread.table`` and ``game.hidden``, for the events that a simulated table
makes; nothing is checked here, the tests hold every game to ``handread.table.check``.
"""

from __future__ import annotations

from typing import Any

from handread.simulate.fast.asking import distance_of, lay_ways
from handread.simulate.fast.compiled import compiled
from handread.simulate.fast.layout import (
    ABSENT,
    CORRECT,
    DEAD_HAND,
    DISCARD,
    DREW,
    EXPOSE,
    MINUS,
    MORE_ROOM,
    MOST_EVENTS,
    NONE,
    ONE,
    PASSED,
    REDEEMED,
    STOPPED,
    VOICED,
    WALL_GAME,
    WIN,
    WIN_IN_ERROR,
)
from handread.tiles import JOKER


@compiled
def _note(t: Any, book: Any, code: int, seat: int, a: int, b: int, c: int) -> None:
    """Put an event on the book."""
    if t.n_events < MOST_EVENTS:
        event = book.events[t.n_events]
        event[0] = code
        event[1] = seat
        event[2] = a
        event[3] = b
        event[4] = c
    else:
        t.status = MORE_ROOM
    t.n_events += 1


@compiled
def next_live(t: Any, seat: int) -> int:
    """The next live seat to the right; the seat itself if there is none."""
    for step in range(1, 4):
        if t.live[(seat + step) % 4]:
            return (seat + step) % 4
    return seat


@compiled
def do_absent(t: Any, book: Any, seat: int) -> None:
    """Leave a seat empty: its tiles stay in the wall."""
    t.live[seat] = 0
    t.seated[seat] = 0
    t.concealed[seat] = 0
    t.wall_left += t.hand_size - 1
    if t.holder == seat:
        t.holder = t.turn = next_live(t, seat)
        t.concealed[t.holder] += 1
    _note(t, book, ABSENT, seat, NONE, NONE, NONE)


@compiled
def do_passed(t: Any, book: Any, step: int, numbers: Any, told: int) -> None:
    """Note a step of the passes, with the numbers of tiles sent on unseen or offered."""
    at = t.n_events
    _note(t, book, PASSED, MINUS, step, told, NONE)
    if at < MOST_EVENTS:
        for seat in range(4):
            book.events[at, 4 + seat] = numbers[seat]


@compiled
def do_stopped(t: Any, book: Any, seat: int) -> None:
    """Note that a seat stops the second round."""
    _note(t, book, STOPPED, seat, NONE, NONE, NONE)


@compiled
def do_draw(t: Any) -> None:
    """Make the draw of the seat whose turn it is public."""
    t.wall_left = max(t.wall_left - 1, 0)
    t.concealed[t.turn] += 1
    t.holder = t.turn
    t.shown = 0


@compiled
def do_drew(t: Any, book: Any, seat: int) -> None:
    """Say a draw outright."""
    do_draw(t)
    _note(t, book, DREW, seat, NONE, NONE, NONE)


@compiled
def do_discard(t: Any, book: Any, seat: int, kind: int, flag: int, manner: int) -> None:
    """Throw a tile; `flag` is 1 for the tile drawn, 0 for another, -1 where nothing was drawn.

    `manner` says from where and after how long, see ``layout.PLACED``.
    """
    if t.holder == seat:
        t.concealed[seat] -= 1
    else:
        t.wall_left = max(t.wall_left - 1, 0)
    t.holder = -1
    t.turn = next_live(t, seat)
    t.floor[kind] += 1
    t.seen[kind] += 1
    t.turns[seat] += 1
    t.shown = 0
    t.last_seat = seat
    t.last_kind = kind
    t.last_taken = -1
    t.racks[seat, kind] -= 1
    _note(t, book, DISCARD, seat, kind, flag, manner)


@compiled
def do_voiced(t: Any, book: Any, seat: int) -> None:
    """Note a claim that came to nothing."""
    _note(t, book, VOICED, seat, NONE, NONE, NONE)


@compiled
def _lay(t: Any, seat: int, kind: int, size: int, jokers: int, sign: int) -> None:
    """Move the tiles of a group from a rack to the table, all but the tile claimed; or back."""
    naturals = size - 1 - jokers
    t.racks[seat, kind] -= sign * naturals
    t.racks[seat, JOKER] -= sign * jokers
    t.seen[kind] += sign * naturals
    t.seen[JOKER] += sign * jokers
    t.concealed[seat] -= sign * (size - 1)
    t.exposed[kind] += sign * (size - jokers)
    t.exposed[JOKER] += sign * jokers


@compiled
def do_expose(t: Any, book: Any, seat: int, size: int, jokers: int) -> None:
    """Take the last throw and show a group with it."""
    kind, at = t.last_kind, t.n_groups[seat]
    t.floor[kind] -= 1
    t.last_taken = seat
    t.holder = t.turn = seat
    t.shown = 1
    t.groups[seat, at, 0] = kind
    t.groups[seat, at, 1] = size
    t.groups[seat, at, 2] = jokers
    t.n_groups[seat] += 1
    _lay(t, seat, kind, size, jokers, ONE)
    lay_ways(t, seat)
    _note(t, book, EXPOSE, seat, size, jokers, NONE)


@compiled
def do_correct(t: Any, book: Any, seat: int, size: int, jokers: int) -> None:
    """Mend the group just shown."""
    group = t.groups[seat, t.n_groups[seat] - 1]
    _lay(t, seat, group[0], group[1], group[2], MINUS)
    group[1] = size
    group[2] = jokers
    _lay(t, seat, group[0], size, jokers, ONE)
    lay_ways(t, seat)
    _note(t, book, CORRECT, seat, size, jokers, NONE)


@compiled
def do_redeem(t: Any, book: Any, seat: int, owner: int, kind: int, early: int) -> None:
    """Give a natural for a joker, drawing first if that was not public yet."""
    if not early and t.holder != seat:
        do_draw(t)
    for i in range(t.n_groups[owner]):
        if t.groups[owner, i, 0] == kind and t.groups[owner, i, 2] > 0:
            t.groups[owner, i, 2] -= 1
            break
    t.seen[kind] += 1
    t.seen[JOKER] -= 1
    t.exposed[kind] += 1
    t.exposed[JOKER] -= 1
    t.racks[seat, kind] -= 1
    t.racks[seat, JOKER] += 1
    t.shown = 0
    lay_ways(t, owner)
    _note(t, book, REDEEMED, seat, owner, kind, early)


@compiled
def do_dead(t: Any, book: Any, seat: int, caller: int, returned: int) -> None:
    """Call a hand dead; its last exposure may go back to its rack."""
    t.live[seat] = 0
    if returned:
        group = t.groups[seat, t.n_groups[seat] - 1]
        kind, size, jokers = group[0], group[1], group[2]
        t.n_groups[seat] -= 1
        t.racks[seat, kind] += size - jokers
        t.racks[seat, JOKER] += jokers
        t.returned[seat, kind] += size - jokers
        t.returned[seat, JOKER] += jokers
        t.exposed[kind] -= size - jokers
        t.exposed[JOKER] -= jokers
        t.concealed[seat] += size
        lay_ways(t, seat)
    if t.turn == seat:
        t.turn = next_live(t, seat)
        t.holder = -1
        t.shown = 0
    _note(t, book, DEAD_HAND, seat, caller, returned, NONE)


@compiled
def do_win_in_error(t: Any, book: Any, seat: int, seen: int) -> None:
    """Note a win that is none."""
    _note(t, book, WIN_IN_ERROR, seat, seen, NONE, NONE)


@compiled
def do_win(t: Any, book: Any, seat: int, claimed: int, drawn: int) -> None:
    """End the game with a win; a claimed tile may come out of another seat's new exposure."""
    holder, kind = t.holder, t.last_kind
    if claimed and holder != seat:
        if holder >= 0:
            group = t.groups[holder, t.n_groups[holder] - 1]
            t.racks[holder, kind] += group[1] - group[2] - 1
            t.racks[holder, JOKER] += group[2]
            t.n_groups[holder] -= 1
            lay_ways(t, holder)
        t.racks[seat, kind] += 1
    t.over = 1
    distance_of(t, seat)  # brings the winner's ways up to date, of which the ending is told
    _note(t, book, WIN, seat, claimed, drawn, NONE)


@compiled
def do_wall_game(t: Any, book: Any) -> None:
    """End the game without a win."""
    t.over = 1
    _note(t, book, WALL_GAME, MINUS, NONE, NONE, NONE)
