"""A game from the deal to its end, compiled; see ``game.play`` and ``game.turns``."""

from __future__ import annotations

from typing import Any

from handread.simulate.actions import N_REDEEMS, NO
from handread.simulate.fast.asking import all_legal, decide, distance_of, lay_ways, look_at_plan
from handread.simulate.fast.compiled import (
    book_at,
    compiled,
    cycles,
    entry,
    start_clock,
    table_at,
)
from handread.simulate.fast.events import (
    do_absent,
    do_discard,
    do_drew,
    do_redeem,
    do_wall_game,
    do_win,
    do_win_in_error,
)
from handread.simulate.fast.layout import (
    EARLY,
    EVEN,
    MINUS,
    N_KINDS_,
    N_PAUSES_,
    N_PLACES_,
    N_REDEEMS_,
    NONE,
    ONE,
    PAUSE,
    PLACE,
    PLACED,
    REDEEM,
    SAY_WIN,
    THROW,
    TWO,
)
from handread.simulate.fast.manner import passed_up
from handread.simulate.fast.passing import dealt_win, play_passes
from handread.simulate.fast.window import answer, call_dead
from handread.tiles import JOKER, N_KINDS


@compiled
def play(t: Any, book: Any) -> None:
    """Play one game from what ``engine`` has dealt and written into the table."""
    for seat in range(4):
        t.plan[seat] = -1
        t.offence[seat] = -1
        t.n_list[seat] = t.n_list[4 + seat] = EVEN
    for seat in range(4):
        if t.policy_at[seat] == 0:
            do_absent(t, book, seat)
    n_seats = 0
    for seat in range(4):
        if t.seated[seat]:
            n_seats += 1
            lay_ways(t, seat)
    for seat in range(4):
        if t.seated[seat]:
            look_at_plan(t, seat)
    if not dealt_win(t, book) and n_seats == 4:
        play_passes(t, book)
    while not t.until_passes and not t.over and t.status == 0:
        take_turn(t, book)


@compiled
def take_turn(t: Any, book: Any) -> None:
    """Play the turn of the seat that holds 14 or is to draw, and what others make of its throw."""
    seat, drawn = t.turn, MINUS
    if t.holder < 0:
        n_live = t.live[0] + t.live[1] + t.live[2] + t.live[3]
        if t.drawn >= t.n_wall or n_live < 2:
            do_wall_game(t, book)
            return
        if _early(t, book, seat):
            return
        drawn = draw_tile(t, book, seat)
    look_at_plan(t, seat)
    if _says_win(t, book, seat, drawn, NONE) or t.turn != seat:
        return
    while _redeems(t, book, seat):
        look_at_plan(t, seat)
        if _says_win(t, book, seat, MINUS, ONE) or t.turn != seat:
            return
        if t.status != 0:
            return
    _throw(t, book, seat, drawn)


@compiled
def draw_tile(t: Any, book: Any, seat: int) -> int:
    """Draw the next tile of the wall into a rack; nothing of it is public."""
    kind = t.wall[t.drawn]
    t.drawn += 1
    t.racks[seat, kind] += 1
    at = book.n_draws
    book.draws[at, 0] = t.n_events
    book.draws[at, 1] = seat
    book.draws[at, 2] = kind
    book.n_draws += 1
    return kind


@compiled
def _throw(t: Any, book: Any, seat: int, drawn: int) -> None:
    for k in range(N_KINDS):
        t.legal[k] = 1 if t.racks[seat, k] > 0 else 0
    t.offered, t.distance = -1, 0
    kind = decide(t, seat, THROW, N_KINDS_)
    flag = MINUS
    if drawn >= 0 and t.holder != seat:
        flag = ONE if kind == drawn else NONE
    do_discard(t, book, seat, kind, flag, _manner(t, seat, kind, drawn))
    answer(t, book, seat, kind)
    call_dead(t, book)


@compiled
def _manner(t: Any, seat: int, kind: int, drawn: int) -> int:
    """From where in the rack a tile is thrown and after how long, as one number."""
    place = NONE
    if kind != drawn:
        all_legal(t, N_PLACES_)
        t.offered = kind
        place = 1 + decide(t, seat, PLACE, N_PLACES_)
    all_legal(t, N_PAUSES_)
    t.offered, t.just_drawn = passed_up(t, seat), drawn
    return place + PLACED * (1 + decide(t, seat, PAUSE, N_PAUSES_))


@compiled
def _says_win(t: Any, book: Any, seat: int, drawn: int, redeemed: int) -> bool:
    """Whether a seat says that its 14 tiles are a hand; True when the game ends by it."""
    distance = distance_of(t, seat)
    t.nearest[seat] = distance
    if distance > 1:
        return False
    all_legal(t, TWO)
    t.distance = distance
    if not decide(t, seat, SAY_WIN, TWO):
        return False
    if distance == 0:
        on_claim = ONE if t.shown == 1 and not redeemed else NONE
        do_win(t, book, seat, on_claim, drawn if t.holder != seat else MINUS)
        return True
    if t.holder != seat:
        do_drew(t, book, seat)
    do_win_in_error(t, book, seat, ONE)
    t.offence[seat] = 0
    call_dead(t, book)
    return False


@compiled
def allow_redeems(t: Any, seat: int) -> int:
    """Make the redeems legal that a seat can make; returns how many exposures allow one."""
    n = 0
    for owner in range(4):
        if not t.live[owner] and not t.dead_swap:
            continue
        for i in range(t.n_groups[owner]):
            kind = t.groups[owner, i, 0]
            if t.groups[owner, i, 2] > 0 and t.racks[seat, kind] > 0 and kind != JOKER:
                if n == 0:
                    for a in range(N_REDEEMS):
                        t.legal[a] = 0
                    t.legal[NO] = 1
                t.legal[1 + owner * N_KINDS + kind] = 1
                n += 1
    return n


@compiled
def _redeems(t: Any, book: Any, seat: int) -> bool:
    """One redeem, if the seat can and wants to make one."""
    if allow_redeems(t, seat) == 0:
        return False
    t.offered, t.distance = -1, 0
    action = decide(t, seat, REDEEM, N_REDEEMS_)
    if action == NO:
        return False
    owner, kind = (action - 1) // N_KINDS, (action - 1) % N_KINDS
    do_redeem(t, book, seat, owner, kind, NONE)
    return True


@compiled
def _early(t: Any, book: Any, seat: int) -> bool:
    """A redeem before drawing, in error; True when the seat was called dead for it."""
    if allow_redeems(t, seat) == 0:
        return False
    t.offered, t.distance = -1, 0
    action = decide(t, seat, EARLY, N_REDEEMS_)
    if action == NO:
        return False
    owner, kind = (action - 1) // N_KINDS, (action - 1) % N_KINDS
    do_redeem(t, book, seat, owner, kind, ONE)
    t.offence[seat] = 0
    call_dead(t, book)
    return not t.live[seat]


def unit(said: int) -> Any:
    """A whole game as a unit."""

    @entry
    def enter(p: int, what: int, seat: int, a: int, b: int) -> int:
        t = table_at(p)
        since = start_clock(t)
        play(t, book_at(t.book_at))
        if t.timed:
            t.cycles = cycles() - since
        return said

    return enter
