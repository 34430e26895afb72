"""The chaser, compiled; see ``handread.simulate.kinds.chaser``."""

from __future__ import annotations

import math
from typing import Any

import numpy as np

from handread.simulate.actions import LARGEST, N_CLAIMS, N_REDEEMS, WIN
from handread.simulate.fast.compiled import compiled, entry, lists_at, sheet_at, table_at
from handread.simulate.fast.layout import (
    BUILDING,
    CARELESSNESS,
    CLAIM,
    EAGERNESS,
    MEND,
    N_CLAIMS_,
    NEAR,
    NONE,
    ONE,
    PASS,
    REDEEM,
    SCORE,
    SCORE_PLAN,
    SEARCHING,
    SETTLE,
    SPREAD,
    STAY,
    TEMPERATURE,
    THRIFT,
    THROW,
    WAITING,
    WEIGHTS,
    WIDE,
    WORTH,
)
from handread.simulate.fast.policies.common import pass_numbers, shared_scores, slip
from handread.simulate.fast.policies.policy import Policy
from handread.simulate.fast.use import mass_of_groups, use_of_tiles
from handread.simulate.fast.ways import rows_of
from handread.simulate.fast.weighted import even_list, one_target
from handread.simulate.kinds import chaser as kind
from handread.simulate.kinds.common import MISFIT
from handread.simulate.kinds.worth import LEAST
from handread.simulate.player import Style
from handread.tiles import FIRST_WIND, FLOWER, JOKER, N_KINDS

_KEEPS, _TIDY, _KEEN, _KEENER = kind.KEEPS, kind.TIDY, kind.KEEN, kind.KEENER
_JOKER_TOLL = kind.JOKER_TOLL


@compiled
def plan(t: Any, lists: Any, sheet: Any, seat: int) -> None:
    """Scores of committing to each near target; it counts tiles and nothing else."""
    worth, score, target = lists.weight[WORTH], lists.weight[SCORE], lists.target[NEAR]
    stay, spread = t.judge[seat, STAY], t.judge[seat, SPREAD]
    best = -np.inf
    for i in range(t.n_near):
        score[i] = (worth[i] + (stay if target[i] == t.plan[seat] else 0.0)) / spread
        best = max(best, score[i])
    for i in range(t.n_near):
        if score[i] < best + math.log(LEAST):
            score[i] = -np.inf
    t.open_score = 0.0 if best == -np.inf else -np.inf
    t.fold_score = -np.inf


@compiled
def settle(t: Any, lists: Any, sheet: Any, seat: int, action: int, place: int) -> None:
    """Mind after a look: all on the plan, or nothing in particular."""
    if place < 0:
        even_list(t, lists, sheet, WEIGHTS + seat)
        even_list(t, lists, sheet, WIDE + seat)
        t.plan[seat] = -1
        t.mode[seat] = SEARCHING
        return
    one_target(t, lists, WEIGHTS + seat, action)
    one_target(t, lists, WIDE + seat, action)
    t.plan[seat] = action
    t.mode[seat] = WAITING if lists.short[place] <= 1 else BUILDING


@compiled
def _throw(t: Any, lists: Any, sheet: Any, seat: int) -> None:
    row = WEIGHTS + seat
    use_of_tiles(t, lists, sheet, seat, row, t.n_list[row], 1.0)
    for k in range(N_KINDS):
        if k == JOKER:
            score = -_KEEPS * (1.0 if t.use[k] > 0 else 0.6)
        else:
            score = -_KEEPS * min(t.use[k], 1.0)
            if FIRST_WIND <= k < FLOWER and t.racks[seat, k] == 1 and t.turns[seat] < 6:
                score += _TIDY
            if t.racks[seat, k] >= 2:
                score -= 0.4
        t.scores[k] = score / t.params[seat, TEMPERATURE]


@compiled
def _claim(t: Any, lists: Any, sheet: Any, seat: int, mending: int) -> None:
    """Take what the plan can show; natural tiles before jokers."""
    row, params = WEIGHTS + seat, t.params[seat]
    careless = params[CARELESSNESS]
    rows_of(t, seat, mending)
    kind = t.groups[seat, t.n_groups[seat] - 1, 0] if mending else t.offered
    mass_of_groups(t, lists, sheet, row, t.n_list[row], kind)
    for a in range(N_CLAIMS):
        t.scores[a] = np.nan if t.legal[a] else -np.inf
    t.scores[0] = 0.0
    if mending:
        if t.mass[t.groups[seat, t.n_groups[seat] - 1, 1]] > 0:
            t.scores[0] = 8.0
    elif t.distance == 0:
        t.scores[WIN] = math.log(1 / careless - 1)
    for a in range(2, N_CLAIMS):
        size, jokers = (a - 2) // LARGEST + 1, (a - 2) % LARGEST
        if t.legal[a] and t.mass[size] > 0:
            toll = _JOKER_TOLL * (0.5 + params[THRIFT]) * jokers
            t.scores[a] = (_KEEN + _KEENER * params[EAGERNESS] - toll) / params[TEMPERATURE]
    slip(t, N_CLAIMS_, MISFIT * careless)


@compiled
def scores(t: Any, lists: Any, sheet: Any, seat: int, decision: int) -> None:
    """Scores of every decision but the plan, in ``t.scores``."""
    if decision in (PASS, THROW):
        _throw(t, lists, sheet, seat)
    elif decision in (CLAIM, MEND):
        _claim(t, lists, sheet, seat, ONE if decision == MEND else NONE)
    elif not shared_scores(t, seat, decision):
        row = WEIGHTS + seat
        spare = use_of_tiles(t, lists, sheet, seat, row, t.n_list[row], 1.0)
        if decision == REDEEM:
            t.scores[0] = 0.0
            for a in range(1, N_REDEEMS):
                use = t.use[(a - 1) % N_KINDS]
                t.scores[a] = (2.0 - 4.0 * use) / t.params[seat, TEMPERATURE]
        else:
            pass_numbers(t, seat, decision, spare)


def judgement(chaser: kind.Chaser, style: Style) -> dict[str, float]:
    """How it judges the way to a target."""
    return {
        "pair_cost": 1.0 + kind.PAIR_EXTRA,
        "joker_cost": kind.THIRST,
        "points": kind.TASTE * style.taste,
        "spread": kind.PLAN_SPREAD * style.temperature,
        "stay": kind.STUBBORN + (kind.SUPPLE - kind.STUBBORN) * style.flexibility,
    }


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


POLICY = Policy(kind.Chaser, unit, judgement)
