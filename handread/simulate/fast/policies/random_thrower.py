"""The random thrower, compiled; see ``handread.simulate.kinds.random_thrower``."""

from __future__ import annotations

import math
from typing import Any

import numpy as np

from handread.simulate.actions import NO, WIN
from handread.simulate.fast.compiled import compiled, entry, lists_at, sheet_at, table_at
from handread.simulate.fast.layout import (
    CARELESSNESS,
    CLAIM,
    MEND,
    MOST_ACTIONS,
    REDEEM,
    SCORE,
    SCORE_PLAN,
    SEARCHING,
    SETTLE,
    WEIGHTS,
    WIDE,
)
from handread.simulate.fast.policies.common import shared_scores
from handread.simulate.fast.policies.policy import Policy
from handread.simulate.fast.weighted import even_list
from handread.simulate.kinds import random_thrower as kind
from handread.simulate.player import Style
from handread.tiles import JOKER

_KEEPS_JOKERS = kind.KEEPS_JOKERS


@compiled
def plan(t: Any, lists: Any, sheet: Any, seat: int) -> None:
    """Never one."""
    for i in range(t.n_near):
        lists.weight[SCORE, i] = -np.inf
    t.open_score = 0.0
    t.fold_score = -np.inf


@compiled
def settle(t: Any, lists: Any, sheet: Any, seat: int, action: int, place: int) -> None:
    """Mind after a look: nothing in it."""
    even_list(t, lists, sheet, WEIGHTS + seat)
    even_list(t, lists, sheet, WIDE + seat)
    t.plan[seat] = -1
    t.mode[seat] = SEARCHING


@compiled
def scores(t: Any, lists: Any, sheet: Any, seat: int, decision: int) -> None:
    """Any tile but a joker; no claim but a win; what is no judgement as all."""
    if shared_scores(t, seat, decision):
        return
    declines = decision in (CLAIM, MEND, REDEEM)
    for a in range(MOST_ACTIONS):
        t.scores[a] = -np.inf if declines else 0.0
    if not declines:
        t.scores[JOKER] = -_KEEPS_JOKERS
        return
    t.scores[NO] = 0.0
    if decision == CLAIM and t.distance == 0:
        t.scores[WIN] = math.log(1 / t.params[seat, CARELESSNESS] - 1)


def judgement(thrower: kind.RandomThrower, style: Style) -> dict[str, float]:
    """It judges nothing."""
    return {}


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


POLICY = Policy(kind.RandomThrower, unit, judgement)
