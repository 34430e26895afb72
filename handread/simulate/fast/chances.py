"""Chances of finishing targets, for a seat that plans by them; the numbers are ``kinds.chance``.

A target is reckoned in full only where a bound by its missing tiles says that it may matter.
"""

from __future__ import annotations

from typing import Any

import numpy as np

from handread.simulate.fast.compiled import compiled
from handread.simulate.fast.layout import (
    MINUS,
    NEAR,
    NONE,
    ONE,
    WIDE,
    WORK,
    WORTH,
    word,
)
from handread.simulate.fast.near import look
from handread.simulate.fast.ways import groups_left, short_of, slots_left
from handread.simulate.kinds import chance
from handread.tiles import JOKER

#: A list of more targets than this is no list of what a seat has in mind.
_FEW = 8

_come_rates: Any = compiled(chance.come_rates.py_func)
_chance_tables: Any = compiled(chance.chance_tables.py_func)
_log_chance: Any = compiled(chance.log_chance.py_func)
_bound_chances: Any = compiled(chance.bound_chances.py_func)


@compiled
def reckon(t: Any, sheet: Any, seat: int, patience: float, generous: float) -> None:
    """Look at the floor, and fill the tables that chances are made of."""
    look(t, sheet, seat)
    n_live = max(t.live[0] + t.live[1] + t.live[2] + t.live[3], ONE)
    own, others = _come_rates(t.lives[:], t.wall_left, n_live, patience, generous)
    t.come[0] = own
    t.come[1] = others
    _chance_tables(t.lives[:], own, others, t.came[:], t.luck[:], t.tail[:])


@compiled
def value_of(t: Any, sheet: Any, g: int, need: Any, rack: Any, taste: float) -> float:
    """Logarithm of expected points of a target, given what its slots want; ``reckon`` first."""
    found = _log_chance(
        sheet.n_slots[g], sheet.slot_kind[g], need, rack, sheet.concealed[g], t.came[:],
        t.luck[:], t.tail[:], t.room[:],
    )  # fmt: skip
    value: float = np.rint((found + taste * sheet.log_points[g]) * 1e7) / 1e7
    return value


@compiled
def list_best(
    t: Any, lists: Any, sheet: Any, seat: int, taste: float, stay: float, window: float,
    reach: float,
) -> None:  # fmt: skip
    """List the targets of most value in rows NEAR and WORTH, in order; ``reckon`` first.

    All are there whose value, the plan's raised by `stay`, is within `window` of the best so
    raised, and all within `reach` of the best as it is.
    """
    n_fits, plan, rack = t.n_fits[seat], t.plan[seat], t.racks[seat]
    every, upper = n_fits == len(sheet.n_slots), lists.weight[WORK]
    gain = _bound_chances(
        t.lives[:], t.come[0], t.come[1], rack[JOKER], t.tail[:], t.most[:]
    )  # fmt: skip
    best, top, guess, highest = -np.inf, -np.inf, MINUS, -np.inf
    for i in range(n_fits):
        g = i if every else word(lists.fitting[seat, i])
        upper[i] = taste * sheet.log_points[g] + gain * sheet.flowers[g]
        upper[i] += t.most[word(lists.code[seat, g])]
        if upper[i] > highest:
            guess, highest = g, upper[i]
    n_mind = t.n_list[WIDE + seat] if t.n_list[WIDE + seat] <= _FEW else NONE
    for i in range(n_mind + 1):
        g = lists.target[WIDE + seat, i] if i < n_mind else guess
        if g >= 0 and lists.fits[seat, g]:
            found = value_of(t, sheet, g, lists.left[seat, g], rack, taste)
            top = max(top, found)
            best = max(best, found + (stay if g == plan else 0.0))
    target, worth, n = lists.target[NEAR], lists.weight[WORTH], NONE
    for i in range(n_fits):
        g = i if every else word(lists.fitting[seat, i])
        more = stay if g == plan else 0.0
        if upper[i] + more < best - window and upper[i] < top - reach:
            continue
        found = value_of(t, sheet, g, lists.left[seat, g], rack, taste)
        if found > -np.inf and (found + more >= best - window or found >= top - reach):
            top = max(top, found)
            best = max(best, found + more)
            target[n], worth[n] = g, found
            n += 1
    t.n_near = NONE
    for i in range(n):
        more = stay if target[i] == plan else 0.0
        if worth[i] + more >= best - window or worth[i] >= top - reach:
            target[t.n_near], worth[t.n_near] = target[i], worth[i]
            lists.short[t.n_near] = short_of(word(lists.code[seat, target[i]]), rack[JOKER])
            t.n_near += 1


@compiled
def best_now(
    t: Any, lists: Any, sheet: Any, seat: int, rack: Any, taste: float, stay: float
) -> float:
    """Best value of a rack among the targets in mind, with the exposures as they are."""
    row, best = WIDE + seat, -np.inf
    for i in range(t.n_list[row] if t.plan[seat] >= 0 else NONE):
        g = lists.target[row, i]
        if lists.fits[seat, g]:
            found = value_of(t, sheet, g, lists.left[seat, g], rack, taste)
            best = max(best, found + (stay if g == t.plan[seat] else 0.0))
    return best


@compiled
def best_shown(
    t: Any, lists: Any, sheet: Any, seat: int, rack: Any, taste: float, stay: float
) -> float:
    """As ``best_now``, with the exposures in ``t.rows``."""
    row, best = WIDE + seat, -np.inf
    for i in range(t.n_list[row] if t.plan[seat] >= 0 else NONE):
        g = lists.target[row, i]
        left = groups_left(t, sheet, g)
        if left >= 0:
            slots_left(sheet, g, left, lists.spare)
            found = value_of(t, sheet, g, lists.spare, rack, taste)
            best = max(best, found + (stay if g == t.plan[seat] else 0.0))
    return best
