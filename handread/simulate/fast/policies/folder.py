"""The folder, compiled; see ``handread.simulate.kinds.folder``."""

from __future__ import annotations

from typing import Any

import numpy as np

from handread.simulate.actions import N_CLAIMS
from handread.simulate.fast.compiled import compiled, entry, lists_at, sheet_at, table_at
from handread.simulate.fast.layout import CLAIM, FOLDED, SCORE, SCORE_PLAN, SETTLE, THROW
from handread.simulate.fast.policies import guarded, weigher
from handread.simulate.fast.policies.policy import Policy
from handread.simulate.kinds import folder as kind

_FOLDS_AT = kind.FOLDS_AT

settle = guarded.settle


@compiled
def plan(t: Any, lists: Any, sheet: Any, seat: int) -> None:
    """Fold, or weigh as the weigher."""
    weigher.plan(t, lists, sheet, seat)  # a folded mind has weights too
    shown = t.n_groups[0] + t.n_groups[1] + t.n_groups[2] + t.n_groups[3]
    if t.mode[seat] == FOLDED or shown > 0 or t.turns[seat] + 1 >= _FOLDS_AT:
        for i in range(t.n_near):
            lists.weight[SCORE, i] = -np.inf
        t.open_score = -np.inf
        t.fold_score = 0.0


@compiled
def scores(t: Any, lists: Any, sheet: Any, seat: int, decision: int) -> None:
    """Scores of every decision but the plan, in ``t.scores``."""
    if decision == THROW and t.mode[seat] == FOLDED:
        guarded.throw(t, lists, sheet, seat)
        return
    weigher.scores(t, lists, sheet, seat, decision)
    if decision == CLAIM:
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


POLICY = Policy(kind.Folder, unit, weigher.judgement, weigher.constants)
