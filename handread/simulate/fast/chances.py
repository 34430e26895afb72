"""Chances of finishing targets, for a seat that plans by them; the model is ``kinds.chance``."""

from __future__ import annotations

import math
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
from handread.simulate.fast.ways import (
    FAR,
    distance_of,
    groups_left,
    left_row,
    short_of,
    slots_left,
    within,
)
from handread.simulate.kinds import chance
from handread.tiles import JOKER

_come_rates: Any = compiled(chance.come_rates.py_func)
_chance_tables: Any = compiled(chance.chance_tables.py_func)
_log_chance: Any = compiled(chance.log_chance.py_func)


@compiled
def reckon(t: Any, sheet: Any, seat: int, patience: float, generous: float) -> None:
    """Look at the floor, and fill the tables that chances are made of."""
    look(t, sheet, seat)
    n_live = max(t.live[0] + t.live[1] + t.live[2] + t.live[3], ONE)
    own, others = _come_rates(t.lives[:], t.wall_left, n_live, patience, generous)
    _chance_tables(t.lives[:], own, others, t.came[:], t.luck[:], t.tail[:], t.odds[:])


@compiled
def value_of(
    t: Any, sheet: Any, g: int, need: Any, rack: Any, taste: float, least: float
) -> float:  # fmt: skip
    """Logarithm of expected points of a target, given what its slots want; ``reckon`` first.

    A value below `least` may be told as ``-inf``.
    """
    enough = math.exp(least - taste * sheet.log_points[g]) if least > -np.inf else 0.0
    found = _log_chance(
        sheet.n_slots[g], sheet.slot_kind[g], need, rack, sheet.concealed[g], t.came[:],
        t.luck[:], t.tail[:], t.room[:], enough,
    )  # fmt: skip
    value: float = np.rint((found + taste * sheet.log_points[g]) * 1e7) / 1e7
    return value


@compiled
def bound_wants(t: Any, sheet: Any) -> float:
    """Most that the tiles missing of each kind leave of the chance; returns the odds of a joker.

    In ``t.dear_bare`` the chance of m tiles bare, in ``t.dear_open`` the mean over what comes of
    m tiles open, other seats' throws with it, of the odds of a joker to the power of what is
    lacking. That as many jokers come as are lacking is no likelier than that power, divided by
    the same power of the jokers held.
    """
    joker = max(t.tail[1], 1e-6)
    for k in range(JOKER):
        t.dear_bare[k, 0] = 1.0
        t.dear_open[k, 0] = 1.0
        rest = 1.0
        for m in range(1, sheet.most[k] + 1):
            rest -= t.came[k, m - 1]
            mean, power = max(rest, 0.0), 1.0
            for lacking in range(1, m + 1):
                i = m - lacking
                lucky = t.came[k, i] * t.luck[k, i]
                mean += lucky * power
                power *= joker
                mean += (t.came[k, i] - lucky) * power
            t.dear_bare[k, m] = max(rest, 0.0)
            t.dear_open[k, m] = min(mean, 1.0)
    return joker


@compiled
def chance_at_most(t: Any, sheet: Any, g: int, need: Any, rack: Any, held: float) -> float:
    """No less than the chance of a target; `held` is the odds of a joker to as many as are held.

    ``bound_wants`` comes first. A target that may lack one tile only is not bounded.
    """
    chance, lacking = 1.0 / held, NONE
    for s in range(sheet.n_slots[g]):
        k = sheet.slot_kind[g, s]
        bare = max(need[s, 0] - rack[k], 0)
        wanted = max(need[s, 0] + need[s, 1] - rack[k], 0)
        lacking += wanted
        if bare == 0:
            chance *= t.dear_open[k, wanted]
        elif bare == wanted:
            chance *= t.dear_bare[k, bare]
    return 1.0 if lacking <= 1 + rack[JOKER] else min(chance, 1.0)


@compiled
def list_best(
    t: Any, lists: Any, sheet: Any, seat: int, taste: float, stay: float, window: float,
    reach: float, beyond: int,
) -> None:  # fmt: skip
    """List the plan and the best targets near by, in order, in rows NEAR and WORTH.

    ``reckon`` comes first. Looked at are those no more than `beyond` tiles farther than the
    nearest; all targets, if none of them can be finished. Listed are at least those whose value,
    the plan's raised by `stay`, is within `window` of the best so raised, and those within
    `reach` of the best as it is.
    """
    nearest, joker = distance_of(t, lists, sheet, seat), bound_wants(t, sheet)
    for farthest in (nearest + beyond, word(FAR)):
        _list_within(t, lists, sheet, seat, taste, stay, window, reach, farthest, joker)
        if t.n_near > 0:
            return


@compiled
def _list_within(
    t: Any, lists: Any, sheet: Any, seat: int, taste: float, stay: float, window: float,
    reach: float, farthest: int, joker: float,
) -> None:  # fmt: skip
    """List of ``list_best`` from the plan and the targets short of no more than `farthest`."""
    plan, rack = t.plan[seat], t.racks[seat]
    jokers, n, row = rack[JOKER], NONE, left_row(t, seat)
    least, of_plan, of_first = -np.inf, -np.inf, -np.inf
    if plan >= 0 and lists.fits[seat, plan]:
        of_plan = value_of(t, sheet, plan, lists.left[row, plan], rack, taste, least)
        least = min(of_plan + stay - window, of_plan - reach) - 1e-6
    n_open, most = within(t, lists, sheet, seat, farthest, plan), lists.weight[WORK]
    first = _bound_values(t, lists, sheet, seat, taste, n_open, joker**jokers)
    if first >= 0:
        g = word(lists.candidate[first])
        of_first = value_of(t, sheet, g, lists.left[row, g], rack, taste, least)
        least = max(least, min(of_first - window, of_first - reach) - 1e-6)
    enough = 0.999 * math.exp(least)
    for i in range(n_open):
        g = word(lists.candidate[i])
        if g == plan:
            found = of_plan
        elif i == first:
            found = of_first
        elif most[i] < enough:
            continue
        else:
            found = value_of(t, sheet, g, lists.left[row, g], rack, taste, least)
        if found > -np.inf and (found >= least or g == plan):
            lists.target[NEAR, n] = g
            lists.weight[WORTH, n] = found
            lists.short[n] = short_of(word(lists.code[seat, g]), jokers)
            n += 1
            if min(found - window, found - reach) - 1e-6 > least:
                least = min(found - window, found - reach) - 1e-6
                enough = 0.999 * math.exp(least)
    t.n_near = n


@compiled
def _bound_values(
    t: Any, lists: Any, sheet: Any, seat: int, taste: float, n: int, held: float
) -> int:  # fmt: skip
    """Bounds on what n candidates are worth, points and all, in row WORK; the place of the best.

    The plan is left out of the best; -1 where there is none else.
    """
    first, most, row, plan = MINUS, lists.weight[WORK], left_row(t, seat), t.plan[seat]
    for i in range(n):
        g = word(lists.candidate[i])
        chance = chance_at_most(t, sheet, g, lists.left[row, g], t.racks[seat], held)
        most[i] = chance * math.exp(taste * sheet.log_points[g])
        if g != plan and (first < 0 or most[i] > most[first]):
            first = i
    return first


@compiled
def best_now(
    t: Any, lists: Any, sheet: Any, seat: int, rack: Any, taste: float, stay: float
) -> float:
    """Best value of a rack among the targets in mind, with the exposures as they are."""
    row, best = WIDE + seat, -np.inf
    for i in range(t.n_list[row] if t.plan[seat] >= 0 else NONE):
        g = lists.target[row, i]
        if lists.fits[seat, g]:
            need = lists.left[left_row(t, seat), g]
            found = value_of(t, sheet, g, need, rack, taste, -np.inf)
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
            found = value_of(t, sheet, g, lists.spare, rack, taste, -np.inf)
            best = max(best, found + (stay if g == t.plan[seat] else 0.0))
    return best
