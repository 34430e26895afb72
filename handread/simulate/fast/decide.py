"""One decision of a seat: legal actions in, scores asked for, one number drawn, one action out."""

from __future__ import annotations

from typing import Any

import numpy as np

from handread.simulate.fast.choice import draw_action, draw_plan, next_uniform, note_decision
from handread.simulate.fast.compiled import (
    book_at,
    call_at,
    compiled,
    entry,
    lists_at,
    sheet_at,
    start_clock,
    stop_clock,
    table_at,
)
from handread.simulate.fast.layout import (
    CHOICE,
    DEAD,
    DECIDE,
    DISTANCE,
    DISTANCES,
    EVEN,
    FOLDED,
    LAY_WAYS,
    LOOK,
    MORE_ROOM,
    MOST_ROWS,
    NEAR,
    NEAR_TARGETS,
    NONE,
    NOTE_MIND,
    ONE,
    PLANS,
    POSSIBLE,
    PROOF,
    RECORDING,
    SCORE_OTHERS,
    SCORE_PLAN,
    SETTLE,
    WAYS,
    WEIGHTS,
    word,
)
from handread.simulate.fast.manner import manner_scores
from handread.simulate.fast.near import list_near
from handread.simulate.fast.possible import any_possible
from handread.simulate.fast.ways import (
    audit,
    catch_up,
    distance_of,
    distance_with,
    lay_ways,
    left_row,
    short_of,
)
from handread.simulate.fast.weighted import even_list
from handread.simulate.fast.worth import worth_of_way
from handread.tiles import JOKER, N_KINDS

_FOLDED_WHY, _RESUMED, _COMMITTED, _EXPOSED, _BLOCKED, _OPENED, _NEARER, _DRIFTED = range(8)


@compiled
def _decide(t: Any, lists: Any, sheet: Any, book: Any, seat: int, decision: int, n: int) -> int:
    """Let a seat decide among the first n of ``t.legal``."""
    if t.audit:
        audit(t, lists, sheet)
    since = start_clock(t)
    if not manner_scores(t, seat, decision):
        call_at(t.policy_at[seat], t, SCORE_OTHERS, seat, decision, NONE)
    stop_clock(t, decision, since)
    since = start_clock(t)
    action = draw_action(t, next_uniform(t, lists), n)
    note_decision(t, book, seat, decision, action)
    stop_clock(t, CHOICE, since)
    return action


@compiled
def _look_at_plan(t: Any, lists: Any, sheet: Any, book: Any, seat: int) -> None:
    """Let a seat look at its plan, and note down what it is about."""
    if t.audit:
        audit(t, lists, sheet)
    n = len(sheet.n_slots)
    since = start_clock(t)
    list_near(t, lists, sheet, seat)
    stop_clock(t, NEAR_TARGETS, since)
    since = start_clock(t)
    call_at(t.policy_at[seat], t, SCORE_PLAN, seat, NONE, NONE)
    stop_clock(t, PLANS, since)
    since = start_clock(t)
    action = draw_plan(t, lists, book, n, seat)
    stop_clock(t, CHOICE, since)
    since = start_clock(t)
    place = word(-1)
    if action < n:
        for i in range(t.n_near):
            if lists.target[NEAR, i] == action:
                place = i
    plan, mode = t.plan[seat], t.mode[seat]
    call_at(t.policy_at[seat], t, SETTLE, seat, action, place)
    stop_clock(t, PLANS, since)
    since = start_clock(t)
    for k in range(N_KINDS):
        t.remembered[seat, k] = t.fresh[k]
        t.noticed[seat, k] = t.floor[k]
    _note_mind(t, lists, sheet, book, seat, t.mode[seat])
    if t.plan[seat] != plan or (t.mode[seat] == FOLDED) != (mode == FOLDED):
        _note_change(t, lists, sheet, book, seat, plan, mode)
    stop_clock(t, RECORDING, since)


@compiled
def _note_mind(t: Any, lists: Any, sheet: Any, book: Any, seat: int, state: int) -> None:
    """Note down what a seat is about: plan, distance, weights."""
    row = WEIGHTS + seat
    if t.n_list[row] == EVEN:
        even_list(t, lists, sheet, row)
    at, first, n = book.n_rows, book.n_entries, t.n_list[row]
    if at >= MOST_ROWS or first + n > len(lists.entry_target):
        t.status = MORE_ROOM
        return
    plan = t.plan[seat]
    line = book.rows[at]
    line[0] = t.n_events
    line[1] = seat
    line[2] = state
    line[3] = plan
    if plan >= 0 and state != DEAD:
        line[4] = _short(t, lists, sheet, seat, plan)
    else:
        line[4] = distance_of(t, lists, sheet, seat)
    line[5] = first
    for i in range(n):
        lists.entry_target[first + i] = lists.target[row, i]
        lists.entry_weight[first + i] = lists.weight[row, i]
    book.n_rows = at + 1
    book.n_entries = first + n


@compiled
def _short(t: Any, lists: Any, sheet: Any, seat: int, g: int) -> int:
    """Tiles that a seat is short of a target; 99 where its exposures do not fit."""
    catch_up(t, lists, sheet, seat)
    if not lists.fits[seat, g]:
        return 99
    return short_of(word(lists.code[seat, g]), t.racks[seat, JOKER])


@compiled
def _note_change(
    t: Any, lists: Any, sheet: Any, book: Any, seat: int, plan: int, mode: int
) -> None:
    """Note down a change of plan, and what was so."""
    if book.n_changes >= MOST_ROWS:
        t.status = MORE_ROOM
        return
    line = book.changes[book.n_changes]
    line[0] = t.n_events
    line[1] = seat
    line[2] = plan
    line[3] = t.plan[seat]
    line[4] = _why(t, lists, sheet, seat, plan, mode)
    book.n_changes += 1


@compiled
def _why(t: Any, lists: Any, sheet: Any, seat: int, plan: int, mode: int) -> int:
    """What was so when a plan changed, as a number in ``layout.WHYS``."""
    if t.mode[seat] == FOLDED:
        return _FOLDED_WHY
    if mode == FOLDED:
        return _RESUMED
    if plan < 0:
        return _COMMITTED
    if not lists.fits[seat, plan]:
        return _EXPOSED
    # what the seat remembers was stored just now; the copies that it counts on are in t.lives
    rack, judge = t.racks[seat], t.judge[seat]
    need = lists.left[left_row(t, seat), plan]
    if worth_of_way(t, sheet, plan, need, rack, judge) == -np.inf:
        return _BLOCKED
    if t.plan[seat] < 0:
        return _OPENED
    new, old = _short(t, lists, sheet, seat, t.plan[seat]), _short(t, lists, sheet, seat, plan)
    return _NEARER if new < old else _DRIFTED


def unit(said: int) -> Any:
    """The decisions as a unit."""

    @entry
    def enter(p: int, what: int, seat: int, a: int, b: int) -> int:
        t = table_at(p)
        lists, sheet, book = lists_at(t), sheet_at(t), book_at(t.book_at)
        if what == DECIDE:
            return _decide(t, lists, sheet, book, seat, a, b)
        since = start_clock(t)
        if what == LOOK:
            _look_at_plan(t, lists, sheet, book, seat)
        elif what == LAY_WAYS:
            lay_ways(t, lists, sheet, seat)
            stop_clock(t, WAYS, since)
        elif what == NOTE_MIND:
            _note_mind(t, lists, sheet, book, seat, a)
        elif what == POSSIBLE:
            found = ONE if any_possible(t, lists, sheet, seat) else NONE
            stop_clock(t, PROOF, since)
            return found
        else:
            if what == DISTANCE:
                found = distance_of(t, lists, sheet, seat)
            else:
                found = distance_with(t, lists, sheet, seat, a)
            stop_clock(t, DISTANCES, since)
            return found
        return said

    return enter
