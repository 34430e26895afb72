"""What a planner reckons with at a look: chances against points, and what others want."""

from __future__ import annotations

from typing import Any

import numpy as np
from numba import njit
from numpy.typing import NDArray

from handread.simulate.kernels import shortfall, wanted_by
from handread.simulate.kinds.chance import MOST_COPIES, chance_tables, come_rates, log_chances
from handread.simulate.playcard import PlayCard, Targets
from handread.simulate.player import Style
from handread.simulate.view import Private, View, live_copies, look_at_floor, shown_rows
from handread.tiles import JOKER, N_KINDS

Array = NDArray[np.float64]

# All numbers here and in ``planner`` are guesses, tuned by how tables of planners look.
#: Share of its draws that it counts on before another seat wins.
PATIENCE = 0.8
#: Share of the others' draws that they throw while it could take them.
GENEROUS = 0.6
#: Power of points in expected points, at full taste.
TASTE = 2.0
#: What the plan is worth more for being the plan, nats, at no flexibility; half of it at full.
STAY = 1.2
#: How many tiles farther than its nearest hand it still looks at hands.
ATTENTION = 2
#: What danger counts: how early it sheds what others want, and how late it holds it.
DANGER = 8.0
READY = 0.5


@njit(cache=True)
def demand(targets: Targets) -> Array:
    """Share of all targets that want each kind, shape (36,)."""
    kind, _, _, again, n_groups, _, _, _ = targets
    share = np.zeros(N_KINDS)
    for g in range(len(n_groups)):
        for j in range(n_groups[g]):
            if not again[g, j]:
                share[kind[g, j]] += 1.0
    return share / len(n_groups)


class Outlook:
    """What a planner reckons with at one decision.

    Parameters
    ----------
    card, style, view, private
        As of ``Kind.scores``.
    """

    def __init__(self, card: PlayCard, style: Style, view: View, private: Private) -> None:
        self.card, self.style, self.view, self.private = card, style, view, private
        remembered, _ = look_at_floor(private, view, style.memory)
        self.live = live_copies(card.targets.copies, view, remembered)
        own, others = come_rates(
            self.live, view.state.wall, max(sum(view.state.live), 1), PATIENCE, GENEROUS
        )
        self.tables = (
            np.zeros((N_KINDS, MOST_COPIES)), np.zeros((N_KINDS, MOST_COPIES)),
            np.zeros(MOST_COPIES),
        )  # fmt: skip
        room = np.zeros((MOST_COPIES, MOST_COPIES))
        chance_tables(self.live, own, others, *self.tables, room)

    def values(self, which: NDArray[np.int64], rack: Any, shown: Any) -> Array:
        """Logarithm of expected points, to the taste, of some targets; ``-inf`` for no chance."""
        targets = self.card.targets
        found = log_chances(targets, which, rack.astype(np.int64), shown, *self.tables)
        found += TASTE * self.style.taste * np.log(targets.points[which] / 30.0)
        return np.asarray(np.round(found, 7))

    def survey(self) -> tuple[Array, NDArray[np.int64]]:
        """Value of each target that it looks at, ``-inf`` for the rest, and the tiles short."""
        view, plan = self.view, self.private.plan
        short = shortfall(self.card.targets, view.rack, view.shown)
        value = np.full(len(short), -np.inf)
        looks = short <= short.min() + ATTENTION
        looks[plan if plan >= 0 else slice(0)] = True
        which = np.flatnonzero(looks)
        value[which] = self.values(which, view.rack, view.shown)
        if value.max() == -np.inf:  # none of them can be finished
            value = self.values(np.arange(len(short)), view.rack, view.shown)
        return value, short

    def value(self, rack: Any, shown: Any) -> float:
        """Best value among the targets in mind, the plan favoured; ``-inf`` for none."""
        which, _ = in_mind(self.private)
        found = self.values(which, rack, shown)
        found[which == self.private.plan] += stay_of(self.style)
        return float(found.max(initial=-np.inf))

    def push(self) -> float:
        """What danger counts for a throw: above 0 early, below 0 late and when a seat is near."""
        state = self.view.state
        share = state.wall / state.rules.play_wall
        most = max((len(state.exposures[seat]) for seat in self._others()), default=0)
        early = 2.0 * share - 1.0 - (READY if most >= 2 else 0.0)
        return DANGER * (0.5 + self.style.caution) * early / self.style.temperature

    def heat(self) -> Array:
        """Mean over the other seats of the share of their targets that want each kind."""
        heat, state, others = np.zeros(N_KINDS), self.view.state, self._others()
        unseen = np.ceil(self.live).astype(np.int64)
        for seat in others:
            if state.exposures[seat]:
                heat += wanted_by(self.card.targets, shown_rows(state, seat), unseen)[0]
            else:
                heat += demand(self.card.targets)
        heat[JOKER] = 0.0
        return heat / max(len(others), 1)

    def _others(self) -> list[int]:
        return [s for s in range(4) if s != self.view.seat and self.view.state.live[s]]


def stay_of(style: Style) -> float:
    """What a plan is worth more for being the plan, nats."""
    return STAY * (1.0 - 0.5 * style.flexibility)


def in_mind(private: Private) -> tuple[NDArray[np.int64], Array]:
    """Targets that a planner has in mind and their weights: the plan and its rivals."""
    if private.plan < 0:
        return np.zeros(0, dtype=np.int64), np.zeros(0)
    which = np.flatnonzero(private.wide)
    return which, private.wide[which]
