"""The decoy, for tests: a chaser whose first throws say that it builds something else.

No population has it. A reader that trusts early throws is led astray by it.
"""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np
from numba import njit
from numpy.typing import NDArray

from handread.simulate.choice import Scores
from handread.simulate.kernels import tile_use
from handread.simulate.kinds.chaser import Chaser
from handread.simulate.kinds.common import SHARED_HABITS
from handread.simulate.playcard import PlayCard
from handread.simulate.player import Habit, Style
from handread.simulate.view import Private, View
from handread.tiles import FIRST_DRAGON, FIRST_WIND, FLOWER, N_KINDS

#: Throws that mislead.
MISLEADING = 8
#: How much sooner a spare tile goes that looks like the plan, nats at temperature 1.
PULL = 4.0
#: Sorts of tiles: the three suits, winds, dragons, flowers, jokers.
N_SORTS = 7


def sort_of(kind: int) -> int:
    """Sort of a kind of tile: 0 to 2 the suits, then winds, dragons, flowers, jokers.

    >>> [sort_of(kind) for kind in (0, 26, 27, 31, 34, 35)]
    [0, 2, 3, 4, 5, 6]
    """
    if kind < FIRST_WIND:
        return kind // 9
    if kind < FIRST_DRAGON:
        return 3
    return 4 if kind < FLOWER else 5 + kind - FLOWER


SORTS = np.array([sort_of(kind) for kind in range(N_KINDS)])
SORTS.flags.writeable = False


@njit(cache=True)
def pull_scores(
    use: NDArray[np.float64], kinds: NDArray[np.int8], sizes: NDArray[np.uint8],
    sorts: NDArray[np.int64], heat: float,
) -> NDArray[np.float64]:  # fmt: skip
    """What a tile is thrown the sooner for looking like the plan and being no use to it.

    `kinds` and `sizes` are the groups of the plan.
    """
    share = np.zeros(N_SORTS)
    for j in range(kinds.shape[0]):
        share[sorts[kinds[j]]] += sizes[j]
    share /= share.max()
    scores = np.zeros(N_KINDS)
    for k in range(N_KINDS):
        scores[k] = PULL * share[sorts[k]] * max(1.0 - use[k], 0.0) / heat
    return scores


@dataclass(frozen=True)
class Decoy(Chaser):
    """See the module."""

    name: str = "decoy"
    version: int = 1
    about: str = "For tests: a chaser that first throws what looks like its own plan."
    for_tests: bool = True
    habits: tuple[Habit, ...] = field(
        default=(
            Habit("misleads", "scripted", "8 throws: spare tiles of its plan's sorts go first"),
            Habit("keeps junk", "emergent", "what the plan has nothing of is kept meanwhile"),
            Habit("then plays as the chaser", "emergent", "and in all else from the start"),
            *SHARED_HABITS,
        )
    )

    def _throw(self, card: PlayCard, style: Style, view: View, private: Private) -> Scores:
        scores = super()._throw(card, style, view, private)
        if view.decision != "throw" or view.own_turns >= MISLEADING or private.plan < 0:
            return scores
        targets, plan = card.targets, private.plan
        use, _ = tile_use(targets, private.weights, view.rack, view.shown, 1.0)
        groups = slice(int(targets.n[plan]))
        return np.asarray(
            scores
            + pull_scores(
                use, targets.kind[plan, groups], targets.size[plan, groups], SORTS,
                style.temperature,
            )
        )  # fmt: skip


KIND = Decoy()
