"""The decoy, compiled; see ``handread.simulate.kinds.decoy``."""

from __future__ import annotations

from typing import Any

from handread.simulate.fast.compiled import compiled, entry, lists_at, sheet_at, table_at
from handread.simulate.fast.layout import SCORE_PLAN, SETTLE, TEMPERATURE, THROW
from handread.simulate.fast.policies import chaser
from handread.simulate.fast.policies.policy import Policy
from handread.simulate.kinds import decoy as kind
from handread.tiles import N_KINDS

_MISLEADING, _PULL, _N_SORTS = kind.MISLEADING, kind.PULL, kind.N_SORTS
_SORTS = tuple(int(sort) for sort in kind.SORTS)

plan, settle = chaser.plan, chaser.settle


@compiled
def _share(t: Any, sheet: Any, g: int, sort: int) -> float:
    """Tiles of a sort in a target."""
    n = 0.0
    for j in range(sheet.n_groups[g]):
        if _SORTS[sheet.kind[g, j]] == sort:
            n += sheet.size[g, j]
    return n


@compiled
def scores(t: Any, lists: Any, sheet: Any, seat: int, decision: int) -> None:
    """As the chaser; in the first throws, spare tiles that look like the plan go first."""
    chaser.scores(t, lists, sheet, seat, decision)
    g = t.plan[seat]
    if decision != THROW or t.turns[seat] >= _MISLEADING or g < 0:
        return
    most = 0.0
    for sort in range(_N_SORTS):
        most = max(most, _share(t, sheet, g, sort))
    for k in range(N_KINDS):
        share = _share(t, sheet, g, _SORTS[k]) / most
        pull = _PULL * share * max(1.0 - t.use[k], 0.0)
        t.scores[k] += pull / t.params[seat, TEMPERATURE]


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


POLICY = Policy(kind.Decoy, unit, chaser.judgement)
