"""Most that each target can be worth to a seat: a bound that costs next to nothing to keep up."""

from __future__ import annotations

import math
from typing import Any

from handread.simulate.fast.compiled import compiled
from handread.simulate.fast.lanes import MOST_EXTRA, STEEPEST
from handread.simulate.fast.layout import AWARE, HIDDEN, JOKER_COST, PAIR_COST, POINTS, word
from handread.simulate.kernels import JOKERS_PER_NATURAL, USUAL
from handread.tiles import FLOWER, JOKER

#: Live jokers that cost as little as one usual copy.
BY_JOKER = USUAL * JOKERS_PER_NATURAL


@compiled
def bound_all(t: Any, lists: Any, sheet: Any, seat: int) -> None:
    """Most that each target can be worth to a seat by its missing tiles alone.

    No missing tile costs less than it would with every copy of its kind to come, and what the
    set does not have must be jokers. The bound is ``lists.tier`` of the target's tier and
    ``t.bound`` of its code. ``t.steep`` holds what the second takes off in whole parts of the
    cost of the dearer tile, rounded down: parts a unit of worth, a tile bare, a tile open.
    """
    judge, jokers = t.judge[seat], t.racks[seat, JOKER]
    aware, pair, most = judge[AWARE], judge[PAIR_COST], 0.0
    for k in range(FLOWER):
        most = max(most, sheet.copies[k])
    flowers, by_joker = sheet.copies[FLOWER], sheet.copies[JOKER] / BY_JOKER + 0.05
    bare_cost, open_cost = USUAL / most, 1.0 / (most / USUAL + by_joker)
    gain = pair * (bare_cost - USUAL / flowers)
    gain = aware * max(gain, open_cost - 1.0 / (flowers / USUAL + by_joker), 0.0)
    scale = min(judge[HIDDEN], 1.0)
    of_bare = scale * pair * (1.0 - aware + aware * bare_cost)
    of_open = scale * (1.0 - aware + aware * open_cost)
    for bare in range(16):
        for opened in range(16):
            lacking = opened - jokers if opened > jokers else 0
            t.bound[seat, 16 * bare + opened] = 1e-3 - of_bare * bare - of_open * lacking
    dearer = max(of_bare, of_open, 1e-6)
    t.steep[seat, 0] = STEEPEST / dearer
    t.steep[seat, 1] = math.floor(STEEPEST * of_bare / dearer + 1e-6)
    t.steep[seat, 2] = math.floor(STEEPEST * of_open / dearer + 1e-6)
    # what a seat has shown may hold the jokers that its target must have
    beyond = scale * judge[JOKER_COST] if t.whole[seat] else 0.0
    t.highest[seat] = -math.inf
    for i in range(len(sheet.tier_points)):
        more = judge[POINTS] * sheet.tier_points[i] + gain * sheet.tier_flowers[i]
        more -= beyond * max(sheet.tier_over[i] - jokers, 0.0)
        lists.tier[seat, i] = more
        t.highest[seat] = max(t.highest[seat], more)
    if t.whole[seat]:
        _lay_extra(t, lists, sheet, seat)


@compiled
def _lay_extra(t: Any, lists: Any, sheet: Any, seat: int) -> None:
    """What each target is worth less than the best at no tile missing, in parts, rounded down."""
    changed, extra = False, lists.extra[seat]
    for i in range(len(sheet.tier_points)):
        less = t.steep[seat, 0] * (t.highest[seat] - lists.tier[seat, i])
        parts = word(math.floor(min(less + 1e-6, 1.0 * MOST_EXTRA)))
        changed = changed or parts != lists.tier_extra[seat, i]
        lists.tier_extra[seat, i] = parts
    if changed:
        for g in range(len(sheet.tier)):
            extra[g] = lists.tier_extra[seat, sheet.tier[g]]
