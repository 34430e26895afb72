"""Worth of a target to a seat by what it lacks; the judgement is that of ``kinds.worth``."""

from __future__ import annotations

import math
from typing import Any

import numpy as np

from handread.simulate.fast.compiled import compiled, inlined
from handread.simulate.fast.layout import (
    AWARE,
    HIDDEN,
    JOKER_COST,
    NONE,
    PAIR_COST,
    POINTS,
    word,
)
from handread.simulate.kernels import JOKERS_PER_NATURAL, USUAL
from handread.tiles import JOKER


@compiled
def count_costs(t: Any, sheet: Any, aware: float) -> None:
    """Cost of the first m missing tiles of each kind, and how many copies are there.

    The costs are the sums of those of ``kernels.tile_costs``, in ``t.dear_bare`` and
    ``t.dear_open``, shape (36, m), for a judgement that looks at copies at all.
    """
    by_joker = t.lives[JOKER] / (USUAL * JOKERS_PER_NATURAL) + 0.05
    for k in range(JOKER):
        t.wet[k] = word(math.floor(t.lives[k] + 0.5))
        if aware == 0.0:
            continue
        bare, opened = 0.0, 0.0
        t.dear_bare[k, 0] = 0.0
        t.dear_open[k, 0] = 0.0
        for i in range(sheet.most[k]):
            there = t.lives[k] - i
            bare += USUAL / max(there, 0.25)
            opened += 1.0 / (max(there, 0.0) / USUAL + by_joker)
            t.dear_bare[k, i + 1] = bare
            t.dear_open[k, i + 1] = opened


@inlined
def _worth(
    t: Any, sheet: Any, g: int, tally: int, sum_bare: float, sum_open: float, jokers: int,
    judge: Any,
) -> float:  # fmt: skip
    """Worth of a target in tiles by what it lacks, as ``count_wants`` tallies it."""
    n_bare, n_open, n_dry, n_gone = (
        tally & 255,
        (tally >> 8) & 255,
        (tally >> 16) & 255,
        tally >> 24,
    )
    lacking = n_open - jokers if n_open > jokers else 0
    thirst = n_dry - jokers if n_dry > jokers else 0
    if n_gone > 0 or thirst > t.lives[JOKER] + 0.5:
        return -np.inf
    aware = judge[AWARE]
    counted = lacking + judge[PAIR_COST] * n_bare
    weighed = sum_open * lacking / n_open if n_open > 0 else 0.0
    weighed += judge[PAIR_COST] * sum_bare
    way = (1.0 - aware) * counted + aware * weighed + judge[JOKER_COST] * thirst
    if sheet.concealed[g]:
        way *= judge[HIDDEN]
    found: float = judge[POINTS] * sheet.log_points[g] - way
    return found


@inlined
def _tally(bare: int, wanted: int, there: int) -> int:
    """What is lacking of one kind, in bytes: bare, open, too few for open, too few for bare."""
    gone, dry = max(bare - there, 0), max(wanted - max(bare, there), 0)
    return bare + ((wanted - bare) << 8) + (dry << 16) + (gone << 24)


@compiled
def worth_of_way(t: Any, sheet: Any, g: int, need: Any, rack: Any, judge: Any) -> float:
    """Worth of a target in tiles, given what its slots want; ``-inf`` where it is blocked.

    ``look`` and ``count_costs`` come first. See ``kinds.worth.worth_of`` for the judgement.
    """
    tally, sum_bare, sum_open, aware = NONE, 0.0, 0.0, judge[AWARE]
    for s in range(sheet.n_slots[g]):
        k = sheet.slot_kind[g, s]
        wanted = need[s, 0] + need[s, 1] - rack[k]
        if wanted <= 0:
            continue
        bare = max(need[s, 0] - rack[k], 0)
        tally += _tally(bare, wanted, t.wet[k])
        if aware > 0.0:
            sum_bare += t.dear_bare[k, bare]
            sum_open += t.dear_open[k, wanted] - t.dear_open[k, bare]
    found: float = _worth(t, sheet, g, tally, sum_bare, sum_open, rack[JOKER], judge)
    return found


@compiled
def count_wants(t: Any, lists: Any, sheet: Any, rack: Any) -> None:
    """What a rack lacks of every want of the card, and the costs of that, for many targets.

    It serves seats that have shown nothing and whose judgement looks at copies.
    """
    tally, cost = lists.tally, lists.cost
    for w in range(len(tally)):
        k = sheet.want_kind[w]
        bare = max(sheet.want_bare[w] - rack[k], 0)
        wanted = max(sheet.want_all[w] - rack[k], 0)
        tally[w] = _tally(bare, wanted, t.wet[k])
        cost[w, 0] = t.dear_bare[k, bare]
        cost[w, 1] = t.dear_open[k, wanted] - t.dear_open[k, bare]


@inlined
def worth_by_wants(t: Any, lists: Any, sheet: Any, g: int, jokers: int, judge: Any) -> float:
    """As ``worth_of_way`` of a target that nothing was shown of; ``count_wants`` comes first."""
    tally, sum_bare, sum_open = NONE, 0.0, 0.0
    for s in range(sheet.want.shape[1]):  # the same number of times for each, which is quicker
        w = word(sheet.want[g, s])
        tally += lists.tally[w]
        sum_bare += lists.cost[w, 0]
        sum_open += lists.cost[w, 1]
    found: float = _worth(t, sheet, g, tally, sum_bare, sum_open, jokers, judge)
    return found
