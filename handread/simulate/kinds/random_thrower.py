"""The random thrower, for tests: throws any tile it holds, whatever is on the table.

No population has it. There is nothing to read in it: it builds nothing, so that it is undecided
from the deal to the end.
"""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np

from handread.simulate.actions import NO, WIN
from handread.simulate.choice import Scores
from handread.simulate.kinds.common import (
    SHARED_HABITS,
    call_scores,
    early_scores,
    win_scores,
)
from handread.simulate.playcard import PlayCard
from handread.simulate.player import Habit, Style
from handread.simulate.view import Private, View, look_at_floor
from handread.tiles import JOKER

#: How much later a joker goes than any other tile, nats: it goes where there is no other.
KEEPS_JOKERS = 50.0


@dataclass(frozen=True)
class RandomThrower:
    """See the module."""

    name: str = "random"
    version: int = 1
    about: str = "For tests: throws any tile but a joker, claims nothing, builds nothing."
    weights_mean: str = "Nothing: it has no hand in mind, and the weights are always all alike."
    for_tests: bool = True
    habits: tuple[Habit, ...] = field(
        default=(
            Habit("throws at random", "scripted", "every kind it holds alike, jokers last"),
            Habit("builds nothing", "scripted", "it never has a plan, nor a leaning"),
            Habit("claims nothing", "scripted", "nor redeems; a win that falls to it, it says"),
            Habit("throws often what it holds once", "emergent", "kinds are drawn, not tiles"),
            *SHARED_HABITS,
        )
    )

    def scores(self, card: PlayCard, style: Style, view: View, private: Private) -> Scores:
        """Scores of the actions of a decision, nats up to a constant."""
        scores = np.zeros(len(view.legal))
        match view.decision:
            case "plan":
                scores[:] = -np.inf
                scores[card.n_targets] = 0.0
            case "pass" | "throw":
                scores[JOKER] = -KEEPS_JOKERS
            case "claim" | "mend" | "redeem":
                scores[:] = -np.inf
                scores[NO] = 0.0
                if view.decision == "claim" and view.distance == 0:
                    scores[WIN] = np.log(1 / style.carelessness - 1)
            case "win":
                return win_scores(style, view)
            case "early":
                return early_scores(style, view)
            case "call":
                return call_scores(style, view)
        return scores

    def settle(
        self, card: PlayCard, style: Style, view: View, private: Private, action: int
    ) -> Private:
        """Mind after a "plan" decision: nothing in it but the floor."""
        remembered, noticed = look_at_floor(private, view, style.memory)
        even = np.full(card.n_targets, 1.0 / card.n_targets)
        return Private(even, even.copy(), -1, "searching", remembered, noticed)


KIND = RandomThrower()
