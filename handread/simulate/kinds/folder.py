"""The folder, for tests: gives up as soon as anybody shows anything, and throws what is safe.

No population has it. Most of the game there is nothing to read in it.
"""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np

from handread.simulate.choice import Scores
from handread.simulate.kinds.common import SHARED_HABITS
from handread.simulate.kinds.guarded import Guarded
from handread.simulate.kinds.weigher import Weigher
from handread.simulate.playcard import PlayCard
from handread.simulate.player import Habit, Style
from handread.simulate.view import Private, View

#: Own turn at which it folds at the latest.
FOLDS_AT = 6


@dataclass(frozen=True)
class Folder(Guarded):
    """See the module."""

    name: str = "folder"
    version: int = 1
    about: str = "For tests: folds for good at the first exposure, or at its sixth turn."
    for_tests: bool = True
    habits: tuple[Habit, ...] = field(
        default=(
            Habit("weighs until it folds", "emergent", "as the weigher"),
            Habit("folds for good", "scripted", "an exposure of anybody, or its sixth turn"),
            Habit("throws safe tiles once folded", "emergent", "as the guarded when folded"),
            Habit("claims nothing", "scripted", "but a win, which is an accident"),
            *SHARED_HABITS,
        )
    )

    def alert(self, style: Style, view: View) -> bool:
        """Never: it is folded or it is not."""
        return False

    def plan(self, card: PlayCard, style: Style, view: View, private: Private) -> Scores:
        """Fold, or weigh as the weigher."""
        shown = any(view.state.exposures)
        if private.mode == "folded" or shown or view.own_turns + 1 >= FOLDS_AT:
            scores = np.full(card.n_targets + 2, -np.inf)
            scores[-1] = 0.0
            return scores
        return Weigher.plan(self, card, style, view, private)

    def claim(self, card: PlayCard, style: Style, view: View, private: Private) -> Scores:
        """Nothing but a win."""
        scores = Weigher.claim(self, card, style, view, private)
        scores[2:] = -np.inf
        return scores


KIND = Folder()
