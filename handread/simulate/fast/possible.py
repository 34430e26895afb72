"""What all can see leaves possible for a seat, and what its possible targets want."""

from __future__ import annotations

from typing import Any

from handread.simulate.fast.compiled import compiled
from handread.simulate.fast.layout import (
    NONE,
    word,
)
from handread.tiles import JOKER, N_KINDS


@compiled
def _can_be(t: Any, lists: Any, sheet: Any, seat: int, g: int) -> bool:
    """Whether the copies in ``t.free`` leave a target possible for a seat."""
    lacking = 0
    for s in range(sheet.n_slots[g]):
        bare, wide = lists.left[seat, g, s, 0], lists.left[seat, g, s, 1]
        free = t.free[sheet.slot_kind[g, s]]
        if bare > free:
            return False
        over = bare + wide - free
        if over > 0:
            lacking += over if over < wide else wide
    return lacking <= t.free[JOKER]


@compiled
def wanted_by_seat(t: Any, lists: Any, sheet: Any, seat: int) -> int:
    """Share of a seat's possible targets that want each kind, in ``t.wanted``.

    As ``kernels.wanted_by`` with the copies in ``t.free``; returns how many are possible.
    """
    n = NONE
    for k in range(N_KINDS):
        t.wanted[k] = 0.0
    for i in range(t.n_fits[seat]):
        g = word(lists.fitting[seat, i])
        if not _can_be(t, lists, sheet, seat, g):
            continue
        n += 1
        for s in range(sheet.n_slots[g]):
            if lists.left[seat, g, s, 0] + lists.left[seat, g, s, 1] > 0:
                t.wanted[sheet.slot_kind[g, s]] += 1.0
    if n > 0:
        for k in range(N_KINDS):
            t.wanted[k] /= n
    return n


@compiled
def free_copies(t: Any, sheet: Any, seat: int) -> None:
    """Copies that a seat may hold concealed or still get, as all can see, in ``t.free``."""
    for k in range(N_KINDS):
        t.free[k] = sheet.copies[k] - t.seen[k] + t.returned[seat, k]
    for other in range(4):
        if other != seat:
            for i in range(t.n_groups[other]):
                t.free[JOKER] += t.groups[other, i, 2]


@compiled
def any_possible(t: Any, lists: Any, sheet: Any, seat: int) -> bool:
    """Whether what all can see leaves a seat any target; the last witness is asked first."""
    free_copies(t, sheet, seat)
    n = t.n_fits[seat]
    for i in range(n):
        at = (t.witness[seat] + i) % n
        if _can_be(t, lists, sheet, seat, word(lists.fitting[seat, at])):
            t.witness[seat] = at
            return True
    return False
