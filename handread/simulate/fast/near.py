"""What a seat makes of its ways: copies that may come, worth of targets, values.

A target that is worth less than the best by more than WINDOW spreads has no weight with any kind of
player, so it is left out as soon as a bound on its worth says so; the worth of the others is
reckoned in full, in the order of the targets.
"""

from __future__ import annotations

import math
from typing import Any

import numpy as np

from handread.simulate.fast.compiled import compiled
from handread.simulate.fast.lanes import MOST, find, list_hits
from handread.simulate.fast.layout import (
    AWARE,
    EVERY,
    MEMORY,
    MINUS,
    NEAR,
    NONE,
    SCORE,
    SPREAD,
    STAY,
    WEIGHED,
    WIDE,
    WORK,
    WORTH,
    word,
)
from handread.simulate.fast.ways import (
    catch_up,
    distance_of,
    groups_left,
    left_row,
    short_of,
    slots_left,
    within,
)
from handread.simulate.fast.worth import count_costs, count_wants, worth_by_wants, worth_of_way
from handread.simulate.kinds.worth import LEAST
from handread.tiles import JOKER, N_KINDS

#: Spreads below the best at which a target is left out; a little beyond the smallest weight kept.
WINDOW = 0.01 - math.log(LEAST)
#: Targets from which on it pays to look at what each slot wants once for all of them.
_MANY = 16


@compiled
def look(t: Any, sheet: Any, seat: int) -> None:
    """Floor as a seat remembers it now, and the copies that it thinks may still come."""
    memory = t.params[seat, MEMORY]
    for k in range(N_KINDS):
        new = max(t.floor[k] - t.noticed[seat, k], 0)
        kept = np.rint(t.remembered[seat, k] * memory * 1e6) / 1e6
        t.fresh[k] = min(kept + new, t.floor[k])
        left = sheet.copies[k] - t.exposed[k] - t.fresh[k] - t.racks[seat, k]
        t.lives[k] = max(left, 0.0)


@compiled
def list_near(t: Any, lists: Any, sheet: Any, seat: int) -> None:
    """Targets that may matter to a seat, with their worth, in rows NEAR and WORTH.

    Every target that could have a weight with this judgement is among them; all that fit and
    are not blocked where ``judge[EVERY]`` is 1, simply all where it is 2, and none where it is 3.
    """
    catch_up(t, lists, sheet, seat)
    look(t, sheet, seat)
    count_costs(t, sheet, t.judge[seat, AWARE])
    judge, jokers = t.judge[seat], t.racks[seat, JOKER]
    target, worth = lists.target[NEAR], lists.weight[WORTH]
    t.n_near = 0
    if judge[EVERY] == 3.0:
        return
    if judge[EVERY] == 2.0:
        for g in range(len(sheet.n_slots)):
            target[g] = g
            worth[g] = 0.0
            lists.short[g] = short_of(word(lists.code[seat, g]), jokers)
        t.n_near = len(sheet.n_slots)
        return
    window = WINDOW * judge[SPREAD] if judge[EVERY] == 0.0 else np.inf
    n = _gather(t, lists, sheet, seat, window, target, worth)
    t.n_near = n
    for i in range(n):
        lists.short[i] = short_of(word(lists.code[seat, target[i]]), jokers)


@compiled
def _gather(
    t: Any, lists: Any, sheet: Any, seat: int, window: float, target: Any, worth: Any
) -> int:
    """List the targets worth more than the best less a window, in order; returns how many."""
    judge, rack = t.judge[seat], t.racks[seat]
    plan, stay = t.plan[seat], judge[STAY]
    best = -np.inf
    guess = _likely(t, lists, sheet, seat)
    if guess >= 0:
        best = worth_of_way(t, sheet, guess, lists.left[left_row(t, seat), guess], rack, judge)
        best += stay if guess == plan else 0.0
    n_open, upper = _candidates(t, lists, sheet, seat, best - window), lists.weight[WORK]
    by_wants = t.whole[seat] > 0 and judge[AWARE] > 0.0 and n_open > _MANY
    if by_wants:
        count_wants(t, lists, sheet, rack)
    n, row = NONE, left_row(t, seat)
    for i in range(n_open):
        g = word(lists.candidate[i])
        more = stay if g == plan else 0.0
        if upper[i] + more < best - window:
            continue
        if by_wants:
            found = worth_by_wants(t, lists, sheet, g, rack[JOKER], judge)
        else:
            found = worth_of_way(t, sheet, g, lists.left[row, g], rack, judge)
        if found == -np.inf or found + more < best - window:
            continue
        best = max(best, found + more)
        target[n] = g
        worth[n] = found
        n += 1
    kept: int = _keep_best(target, worth, n, best - window, plan, stay)
    return kept


@compiled
def _candidates(t: Any, lists: Any, sheet: Any, seat: int, least: float) -> int:
    """List the targets that may be worth so much, and the plan, in order; returns how many.

    They are in ``lists.candidate``, the most that each can be worth in row WORK.
    """
    candidate, upper, plan = lists.candidate, lists.weight[WORK], t.plan[seat]
    tiers, bound, codes = lists.tier[seat], t.bound[seat], lists.code[seat]
    if t.whole[seat]:
        parts, bare, opened = t.steep[seat, 0], t.steep[seat, 1], t.steep[seat, 2]
        most = min(max(parts * (t.highest[seat] + 1e-3 - least) + 0.01, -1.0), 1.0 * MOST)
        find(
            lists.words[seat], lists.extra_words[seat], t.racks[seat, JOKER], word(bare),
            word(opened), word(math.floor(most)), lists.hits,
        )  # fmt: skip
        n_open = list_hits(lists.hits, len(sheet.n_slots), plan, candidate)
    else:
        n_open = t.n_fits[seat]
        for i in range(n_open):
            candidate[i] = lists.fitting[seat, i]
    n = NONE
    for i in range(n_open):
        g = word(candidate[i])
        candidate[n] = g
        upper[n] = tiers[sheet.tier[g]] + bound[codes[g]]
        n += 1 if (upper[n] >= least) | (g == plan) else 0
    return n


@compiled
def _likely(t: Any, lists: Any, sheet: Any, seat: int) -> int:
    """Target with the most weight at the last look, or the first nearest; -1 for none."""
    n, found, most = t.n_list[WIDE + seat], MINUS, 0.0
    for i in range(n):
        if lists.weight[WIDE + seat, i] > most:
            most = lists.weight[WIDE + seat, i]
            found = lists.target[WIDE + seat, i]
    if found >= 0 and lists.fits[seat, found]:
        return found
    if within(t, lists, sheet, seat, distance_of(t, lists, sheet, seat), MINUS) == 0:
        return MINUS
    return word(lists.candidate[0])


@compiled
def _keep_best(target: Any, worth: Any, n: int, least: float, plan: int, stay: float) -> int:
    """Drop from a list what is worth less than `least`; returns how many are left."""
    kept = NONE
    for i in range(n):
        if worth[i] + (stay if target[i] == plan else 0.0) >= least:
            target[kept] = target[i]
            worth[kept] = worth[i]
            kept += 1
    return kept


@compiled
def weigh_near(t: Any, lists: Any, seat: int) -> bool:
    """Weights of the near targets in row WEIGHED, their logarithms in row SCORE.

    A softmax of worth over spread, the plan favoured, small weights dropped. False if every
    target is blocked.
    """
    target, worth, score = lists.target[NEAR], lists.weight[WORTH], lists.weight[WEIGHED]
    log_weight = lists.weight[SCORE]
    plan, stay, spread = t.plan[seat], t.judge[seat, STAY], t.judge[seat, SPREAD]
    best = -np.inf
    for i in range(t.n_near):
        best = max(best, worth[i] + (stay if target[i] == plan else 0.0))
    if best == -np.inf:
        for i in range(t.n_near):
            score[i] = 0.0
            log_weight[i] = -np.inf
        return False
    total = 0.0
    for i in range(t.n_near):
        log_weight[i] = (worth[i] + (stay if target[i] == plan else 0.0) - best) / spread
        w = math.exp(log_weight[i])
        score[i] = w if w >= LEAST else 0.0
        total += score[i]
    log_total = math.log(total)
    for i in range(t.n_near):
        log_weight[i] = log_weight[i] - log_total if score[i] > 0.0 else -np.inf
        score[i] /= total
    return True


@compiled
def _soft_best(t: Any, lists: Any, seat: int, n: int) -> float:
    """Soft maximum of the worth of n targets in row WORK; ``-inf`` if there is none."""
    target, worth = lists.target[WORK], lists.weight[WORK]
    plan, stay, spread = t.plan[seat], t.judge[seat, STAY], t.judge[seat, SPREAD]
    best = -np.inf
    for i in range(n):
        worth[i] += stay if target[i] == plan else 0.0
        best = max(best, worth[i])
    if best == -np.inf:
        return best
    total = 0.0
    for i in range(n):
        total += math.exp((worth[i] - best) / spread)
    value: float = best + spread * math.log(total)
    return value


@compiled
def value_now(t: Any, lists: Any, sheet: Any, seat: int, rack: Any) -> float:
    """Value of a rack to the targets that a seat has in mind, with its exposures, tiles.

    The targets in mind are those of its list WIDE; ``look`` and ``count_costs`` come first.
    """
    row, n = WIDE + seat, NONE
    for i in range(t.n_list[row]):
        g = lists.target[row, i]
        if lists.fits[seat, g]:
            need = lists.left[left_row(t, seat), g]
            lists.weight[WORK, n] = worth_of_way(t, sheet, g, need, rack, t.judge[seat])
            lists.target[WORK, n] = g
            n += 1
    value: float = _soft_best(t, lists, seat, n)
    return value


@compiled
def value_shown(t: Any, lists: Any, sheet: Any, seat: int, rack: Any, kind: int) -> float:
    """Value of a rack as ``value_now``, with the exposures in ``t.rows``, one of `kind`."""
    row, n = WIDE + seat, NONE
    for i in range(t.n_list[row]):
        g = lists.target[row, i]
        left = groups_left(t, sheet, g) if sheet.slot_of[g, kind] >= 0 else MINUS
        if left >= 0:
            slots_left(sheet, g, left, lists.spare)
            found = worth_of_way(t, sheet, g, lists.spare, rack, t.judge[seat])
            lists.weight[WORK, n] = found
            lists.target[WORK, n] = g
            n += 1
    value: float = _soft_best(t, lists, seat, n)
    return value
