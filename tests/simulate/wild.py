"""A kind of player for tests alone: everything that is possible is equally likely.

It errs all the time, so that a few games meet every rule: groups that fit no hand, wins that are
none, redeems before drawing, dead hands.
"""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np

from handread.simulate import Habit, PlayCard, Private, Style, View
from handread.simulate.choice import Scores
from handread.simulate.view import look_at_floor


@dataclass(frozen=True)
class Wild:
    name: str = "wild"
    version: int = 1
    about: str = "Does anything that is possible."
    weights_mean: str = "All weight on the plan."
    habits: tuple[Habit, ...] = field(
        default=(Habit("does anything", "scripted", "all that is possible, equally"),)
    )
    #: Decisions that are answered as a sober player would, by a large score on action 0.
    sober: tuple[str, ...] = ()

    def scores(self, card: PlayCard, style: Style, view: View, private: Private) -> Scores:
        scores = np.zeros(len(view.legal))
        if view.decision == "plan":
            scores[-1] = -np.inf
        elif view.decision in self.sober:
            scores[0] = 40.0
        elif view.decision in ("claim", "win") and view.distance == 0:
            scores[1] = 3.0
        return scores

    def settle(
        self, card: PlayCard, style: Style, view: View, private: Private, action: int
    ) -> Private:
        remembered, noticed = look_at_floor(private, view, style.memory)
        n = card.n_targets
        if action >= n:
            even = np.full(n, 1.0 / n)
            return Private(even, even.copy(), -1, "searching", remembered, noticed)
        one = np.zeros(n)
        one[action] = 1.0
        return Private(one, one.copy(), action, "building", remembered, noticed)
