"""The guarded, compiled; see ``handread.simulate.kinds.guarded``."""

from __future__ import annotations

import math
from typing import Any

import numpy as np

from handread.simulate.actions import N_CLAIMS
from handread.simulate.fast.compiled import compiled, entry, lists_at, sheet_at, table_at
from handread.simulate.fast.layout import (
    CAUTION,
    CLAIM,
    FOLDED,
    SCORE,
    SCORE_PLAN,
    SETTLE,
    TEMPERATURE,
    THROW,
    word,
)
from handread.simulate.fast.near import look
from handread.simulate.fast.policies import weigher
from handread.simulate.fast.policies.policy import Policy
from handread.simulate.fast.possible import wanted_by_seat
from handread.simulate.fast.ways import distance_of
from handread.simulate.kinds import guarded as kind
from handread.tiles import JOKER, N_KINDS

_THROW_SPREAD, _FOLLOWS = weigher.THROW_SPREAD, kind.FOLLOWS


@compiled
def alert(t: Any, seat: int) -> bool:
    """Whether the table is dangerous: a seat with two exposures, or a short wall."""
    most = 0
    for other in range(4):
        if other != seat and t.live[other]:
            most = max(most, t.n_groups[other])
    short = t.wall_left <= 20 + 50 * t.params[seat, CAUTION]
    return t.turns[seat] > 0 and (most >= 2 or short)


@compiled
def heat_of_throws(t: Any, lists: Any, sheet: Any, seat: int) -> None:
    """How dangerous each kind is to throw, up to about 3, in ``t.heat``."""
    look(t, sheet, seat)
    late = 1.0 - t.wall_left / t.play_wall
    for k in range(N_KINDS):
        t.free[k] = word(math.ceil(t.lives[k]))
        t.heat[k] = 0.5 * late * min(t.free[k], 3) / 3.0
    for other in range(4):
        if other != seat and t.live[other] and t.n_groups[other] > 0:
            wanted_by_seat(t, lists, sheet, other)
            for k in range(N_KINDS):
                t.heat[k] += 0.5 * t.n_groups[other] * t.wanted[k]
    if t.last_kind >= 0 and t.last_taken < 0:
        t.heat[t.last_kind] -= _FOLLOWS
    t.heat[JOKER] = 0.0


@compiled
def plan(t: Any, lists: Any, sheet: Any, seat: int) -> None:
    """As the weigher; once alert, fold when far."""
    weigher.plan(t, lists, sheet, seat)
    if not alert(t, seat):
        return
    n_live = max(t.live[0] + t.live[1] + t.live[2] + t.live[3], 1)
    reach = 1.2 + (0.35 - 0.2 * t.params[seat, CAUTION]) * t.wall_left / n_live
    far = distance_of(t, lists, sheet, seat) - reach
    far += -0.7 if t.mode[seat] != FOLDED else 0.7
    folds = 1.0 / (1.0 + math.exp(-1.6 * far / t.params[seat, TEMPERATURE]))
    score, top = lists.weight[SCORE], t.open_score
    for i in range(t.n_near):
        top = max(top, score[i])
    total = math.exp(t.open_score - top)
    for i in range(t.n_near):
        total += math.exp(score[i] - top)
    less = math.log1p(-folds) - (top + math.log(total))
    for i in range(t.n_near):
        score[i] += less
    t.open_score += less
    t.fold_score = math.log(folds)


@compiled
def settle(t: Any, lists: Any, sheet: Any, seat: int, action: int, place: int) -> None:
    """As the weigher; folded is a mode of its own."""
    weigher.settle(t, lists, sheet, seat, action, place)
    if action == len(sheet.n_slots) + 1:
        t.mode[seat] = FOLDED


@compiled
def throw(t: Any, lists: Any, sheet: Any, seat: int) -> None:
    """What is safe: heat against use, use hardly counting once folded."""
    weigher.use(t, lists, sheet, seat)
    heat_of_throws(t, lists, sheet, seat)
    spread, folded = t.params[seat, _THROW_SPREAD], t.mode[seat] == FOLDED
    weight = (1.4 + 2.9 * t.params[seat, CAUTION]) / t.params[seat, TEMPERATURE]
    for k in range(N_KINDS):
        own = 0.08 * t.use[k] if folded else t.use[k]
        t.scores[k] = -own / spread - weight * t.heat[k]
    t.scores[JOKER] -= 1.0 if folded else 0.35 / spread


@compiled
def scores(t: Any, lists: Any, sheet: Any, seat: int, decision: int) -> None:
    """Scores of every decision but the plan, in ``t.scores``."""
    folded = t.mode[seat] == FOLDED
    if decision == THROW and (folded or alert(t, seat)):
        throw(t, lists, sheet, seat)
        return
    weigher.scores(t, lists, sheet, seat, decision)
    if decision == CLAIM and folded:
        for a in range(2, N_CLAIMS):
            t.scores[a] = -np.inf


def unit(said: int) -> Any:
    """Plan, settle and scores behind one address."""

    @entry
    def enter(p: int, what: int, seat: int, a: int, b: int) -> int:
        t = table_at(p)
        lists, sheet = lists_at(t), sheet_at(t)
        if what == SCORE_PLAN:
            plan(t, lists, sheet, seat)
        elif what == SETTLE:
            settle(t, lists, sheet, seat, a, b)
        else:
            scores(t, lists, sheet, seat, a)
        return said

    return enter


POLICY = Policy(kind.Guarded, unit, weigher.judgement, weigher.constants)
