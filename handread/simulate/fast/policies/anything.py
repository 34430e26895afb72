"""A kind for tests of the rules: everything that is possible is equally likely.

It errs all the time, so that a few games meet every rule. No population has it.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Any

import numpy as np

from handread.simulate.actions import WIN
from handread.simulate.choice import Scores
from handread.simulate.fast.compiled import compiled, entry, lists_at, sheet_at, table_at
from handread.simulate.fast.layout import (
    BUILDING,
    CLAIM,
    MOST_ACTIONS,
    SAY_WIN,
    SCORE,
    SCORE_PLAN,
    SEARCHING,
    SETTLE,
    WEIGHTS,
    WIDE,
)
from handread.simulate.fast.policies.policy import Policy
from handread.simulate.fast.weighted import even_list, one_target
from handread.simulate.playcard import PlayCard
from handread.simulate.player import Habit, Style
from handread.simulate.view import Private, View, look_at_floor


@dataclass(frozen=True)
class Anything:
    """See the module."""

    name: str = "anything"
    version: int = 1
    about: str = "Does anything that is possible."
    weights_mean: str = "All weight on the plan."
    habits: tuple[Habit, ...] = field(
        default=(Habit("does anything", "scripted", "all that is possible, equally"),)
    )

    def scores(self, card: PlayCard, style: Style, view: View, private: Private) -> Scores:
        """Scores of the actions of a decision, nats up to a constant."""
        found = np.zeros(len(view.legal))
        if view.decision == "plan":
            found[-1] = -np.inf
        elif view.decision in ("claim", "win") and view.distance == 0:
            found[WIN] = 3.0
        return found

    def settle(
        self, card: PlayCard, style: Style, view: View, private: Private, action: int
    ) -> Private:
        """Mind after a "plan" decision."""
        remembered, noticed = look_at_floor(private, view, style.memory)
        n = card.n_targets
        if action >= n:
            even = np.full(n, 1.0 / n)
            return Private(even, even.copy(), -1, "searching", remembered, noticed)
        one = np.zeros(n)
        one[action] = 1.0
        return Private(one, one.copy(), action, "building", remembered, noticed)


@compiled
def plan(t: Any, lists: Any, sheet: Any, seat: int) -> None:
    """Any target, or none."""
    for i in range(t.n_near):
        lists.weight[SCORE, i] = 0.0
    t.open_score = 0.0
    t.fold_score = -np.inf


@compiled
def settle(t: Any, lists: Any, sheet: Any, seat: int, action: int, place: int) -> None:
    """Mind after a look."""
    t.plan[seat] = action if place >= 0 else -1
    t.mode[seat] = BUILDING if place >= 0 else SEARCHING
    for row in (WEIGHTS + seat, WIDE + seat):
        if place >= 0:
            one_target(t, lists, row, action)
        else:
            even_list(t, lists, sheet, row)


@compiled
def scores(t: Any, lists: Any, sheet: Any, seat: int, decision: int) -> None:
    """All that is possible, equally; wins that are there more readily."""
    for a in range(MOST_ACTIONS):
        t.scores[a] = 0.0
    if (decision in (CLAIM, SAY_WIN)) and t.distance == 0:
        t.scores[WIN] = 3.0


def judgement(anything: Anything, style: Style) -> dict[str, float]:
    """It lists every target."""
    return {"every": 2.0}


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


KIND = Anything()
POLICY = Policy(Anything, unit, judgement)
