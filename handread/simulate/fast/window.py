"""The claim window and the calling of dead hands, compiled; see ``game.window``, ``game.calls``."""

from __future__ import annotations

from typing import Any

from handread.simulate.actions import LARGEST, N_CLAIMS, NO, WIN
from handread.simulate.fast.asking import decide, distance_with, note_mind, possible
from handread.simulate.fast.compiled import compiled
from handread.simulate.fast.events import (
    do_correct,
    do_dead,
    do_expose,
    do_voiced,
    do_win,
    do_win_in_error,
)
from handread.simulate.fast.layout import (
    CALL,
    CLAIM,
    DEAD,
    MEND,
    MINUS,
    N_CLAIMS_,
    NONE,
    ONE,
    TWO,
    word,
)
from handread.tiles import JOKER

_N_CALLS = word(5)


@compiled
def call_dead(t: Any, book: Any) -> None:
    """Let the others call every hand dead that can be seen to be; each is asked once."""
    if not t.dead_hands or t.over:
        return
    for seat in range(4):
        if t.live[seat] and (t.offence[seat] >= 0 or proved_dead(t, seat)):
            _ask(t, book, seat)


@compiled
def proved_dead(t: Any, seat: int) -> bool:
    """Whether exposures and copies left rule out every target for a seat, as all can see."""
    if t.n_groups[seat] == 0:
        return False
    return not possible(t, seat)


@compiled
def _ask(t: Any, book: Any, seat: int) -> None:
    for step in range(1, 4):
        caller = (seat + step) % 4
        if not t.live[caller]:
            continue
        for a in range(_N_CALLS):
            t.legal[a] = 1 if a == 0 or a == 1 + seat else 0
        t.offered, t.distance = -1, 0
        if decide(t, caller, CALL, _N_CALLS):
            do_dead(t, book, seat, caller, ONE if t.offence[seat] == 1 else NONE)
            note_mind(t, seat, DEAD)
            return


@compiled
def allow_groups(t: Any, naturals: int, jokers: int, n_concealed: int) -> int:
    """Make the groups legal that a rack makes up with one claimed tile; returns how many."""
    n = 0
    for i in range(len(t.claimable)):
        size = t.claimable[i]
        if size < 2 or size > min(LARGEST, n_concealed):
            continue
        for used in range(size):
            if size - 1 - used <= naturals and used <= jokers:
                t.legal[2 + (size - 1) * LARGEST + used] = 1
                n += 1
    return n


@compiled
def claim(t: Any, book: Any, seat: int, kind: int, distance: int, wins: int) -> int:
    """Ask a seat what it does with a throw, if there is anything to do."""
    for a in range(N_CLAIMS):
        t.legal[a] = 0
    t.legal[NO] = 1
    n = 0
    if wins and distance <= 1:
        t.legal[WIN] = 1
        n += 1
    if t.wall_left > 0 or t.last_exposure:
        naturals, jokers = t.racks[seat, kind], t.racks[seat, JOKER]
        n += allow_groups(t, naturals, jokers, t.concealed[seat])
    if n == 0:
        return NO
    t.offered, t.distance = kind, distance
    return decide(t, seat, CLAIM, N_CLAIMS_)


@compiled
def _distance(t: Any, seat: int, kind: int) -> int:
    """Distance of a seat with a throw; 2, for all that it matters, where it is surely that or more.

    A throw brings a seat no nearer than one tile less than it was at its own turn; and a seat
    that can neither win nor show a group is not asked.
    """
    held = t.racks[seat, kind] + t.racks[seat, JOKER]
    if t.nearest[seat] > 2 and held < t.fewest - 1:
        return TWO
    return distance_with(t, seat, kind)


@compiled
def answer(t: Any, book: Any, thrower: int, kind: int) -> None:
    """Let the other live seats answer a throw, and carry out what has priority."""
    if kind == JOKER:
        return
    order, n = t.given[0], NONE
    for step in range(1, 4):
        if t.live[(thrower + step) % 4]:
            order[n] = (thrower + step) % 4
            n += 1
    for i in range(n):
        t.distances[i] = _distance(t, order[i], kind)
    for i in range(n):
        t.answers[i] = claim(t, book, order[i], kind, t.distances[i], ONE)
    for i in range(n):
        if t.answers[i] == WIN and t.distances[i] > 0:
            t.answers[i] = _win_in_error(t, book, order[i], kind)
    for i in range(n):
        if t.answers[i] == WIN:
            _say_lost(t, book, order, n, NONE, i)
            do_win(t, book, order[i], ONE, MINUS)
            return
    for i in range(n):
        if t.answers[i] != NO and t.live[order[i]]:
            _say_lost(t, book, order, n, i + 1, i)
            _show(t, book, order, n, i)
            return


@compiled
def _say_lost(t: Any, book: Any, order: Any, n: int, first: int, kept: int) -> None:
    """Put claims on record that were said and lost to another seat."""
    for i in range(first, n):
        if i != kept and t.answers[i] != NO and t.heard and t.live[order[i]]:
            do_voiced(t, book, order[i])


@compiled
def _win_in_error(t: Any, book: Any, seat: int, kind: int) -> int:
    """What becomes of a win that is none: an exposure, or an error."""
    action = claim(t, book, seat, kind, TWO, NONE)
    do_win_in_error(t, book, seat, ONE if action == NO else NONE)
    if action == NO:
        t.offence[seat] = 0
        call_dead(t, book)
    return action


@compiled
def _show(t: Any, book: Any, order: Any, n: int, i: int) -> None:
    """Show the group that seat ``order[i]`` claims; others may still win; it may be mended."""
    seat, action = order[i], t.answers[i]
    size, jokers = (action - 2) // LARGEST + 1, (action - 2) % LARGEST
    do_expose(t, book, seat, size, jokers)
    if t.win_over_exposure:
        for j in range(n):
            if t.distances[j] != 0 or order[j] == seat or not t.live[order[j]]:
                continue
            for a in range(N_CLAIMS):
                t.legal[a] = 1 if a in (NO, WIN) else 0
            t.offered, t.distance = t.last_kind, 0
            if decide(t, order[j], CLAIM, N_CLAIMS_) == WIN:
                do_win(t, book, order[j], ONE, MINUS)
                return
    _mend(t, book, seat)


@compiled
def _mend(t: Any, book: Any, seat: int) -> None:
    """Let the seat correct the group it has shown; what then fits no hand is an offence."""
    if t.correction:
        group = t.groups[seat, t.n_groups[seat] - 1]
        kind, size, jokers = group[0], group[1], group[2]
        for a in range(N_CLAIMS):
            t.legal[a] = 0
        t.legal[NO] = 1
        naturals = t.racks[seat, kind] + size - 1 - jokers
        n_concealed = t.concealed[seat] + size - 1
        n = allow_groups(t, naturals, t.racks[seat, JOKER] + jokers, n_concealed)
        shown = 2 + (size - 1) * LARGEST + jokers
        n -= t.legal[shown]
        t.legal[shown] = 0
        if n > 0:
            t.offered, t.distance = -1, 0
            action = decide(t, seat, MEND, N_CLAIMS_)
            if action != NO:
                size, jokers = (action - 2) // LARGEST + 1, (action - 2) % LARGEST
                do_correct(t, book, seat, size, jokers)
    if t.n_fits[seat] == 0:
        t.offence[seat] = 1
        call_dead(t, book)
