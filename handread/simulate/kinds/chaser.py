"""The chaser: picks a hand at once, runs after it, and takes every tile that belongs to it."""

from __future__ import annotations

import math
from dataclasses import dataclass, field
from typing import Any

import numpy as np
from numba import njit
from numpy.typing import NDArray

from handread.simulate.actions import WIN, group_of, redeem_of
from handread.simulate.choice import Scores, with_slips
from handread.simulate.kernels import group_mass, measure, tile_use
from handread.simulate.kinds.common import (
    MISFIT,
    SHARED_HABITS,
    call_scores,
    early_scores,
    pass_numbers,
    shown_without_last,
    win_scores,
)
from handread.simulate.kinds.worth import LEAST
from handread.simulate.playcard import PlayCard
from handread.simulate.player import Habit, Style
from handread.simulate.view import Private, View, live_copies, look_at_floor
from handread.tiles import FIRST_WIND, FLOWER, JOKER, N_KINDS

Array = NDArray[np.float64]

#: Tiles that a pair or single counts more than a tile of a longer group, when it counts tiles.
PAIR_EXTRA = 0.12
#: Tiles that a joker counts more which it needs and does not hold.
THIRST = 1.5
#: Tiles that each factor of e in points counts, at full taste.
TASTE = 3.7
#: Spread of picks among plans, tiles, at temperature 1.
PLAN_SPREAD = 0.31
#: What a tile that belongs to the plan is kept by, nats at temperature 1.
KEEPS = 5.0
#: How much sooner a lone wind or dragon goes in the first turns, nats at temperature 1.
TIDY = 1.2
#: How keenly it claims, nats at temperature 1: at no eagerness, more at full, less a joker laid.
KEEN = 2.6
KEENER = 2.1
JOKER_TOLL = 2.1
#: How many tiles nearer another plan must be, for a person of no flexibility and of full.
STUBBORN = 3.2
SUPPLE = 1.4


@njit(cache=True)
def plan_scores(
    short: NDArray[np.int64], bare: NDArray[np.int64], thirst: NDArray[np.int64],
    blocked: NDArray[np.bool_], points: Array, plan: int, stay: float, taste: float, spread: float,
) -> Array:  # fmt: skip
    """Scores of committing to each target, then of being open and of folding.

    Tiles are counted and nothing else: a blocked target is seen, a scarce one is not.
    """
    n = short.shape[0]
    scores = np.full(n + 2, -np.inf)
    best = -np.inf
    for g in range(n):
        if blocked[g]:
            continue
        worth = -short[g] - PAIR_EXTRA * bare[g] - THIRST * thirst[g]
        worth += taste * math.log(points[g] / 30.0)
        if g == plan:
            worth += stay
        scores[g] = worth / spread
        best = max(best, scores[g])
    for g in range(n):
        if scores[g] < best + math.log(LEAST):
            scores[g] = -np.inf
    if best == -np.inf:
        scores[n] = 0.0
    return scores


@njit(cache=True)
def throw_scores(use: Array, rack: NDArray[np.uint8], turn: int, heat: float) -> Array:
    """Scores of throwing each kind: what the plan does not use, lone winds and dragons first."""
    scores = np.zeros(N_KINDS)
    for k in range(N_KINDS):
        if k == JOKER:
            scores[k] = -KEEPS * (1.0 if use[k] > 0 else 0.6)
        else:
            scores[k] = -KEEPS * min(use[k], 1.0)
            if FIRST_WIND <= k < FLOWER and rack[k] == 1 and turn < 6:
                scores[k] += TIDY
            if rack[k] >= 2:
                scores[k] -= 0.4
        scores[k] /= heat
    return scores


@dataclass(frozen=True)
class Chaser:
    """See the module."""

    name: str = "chaser"
    version: int = 3
    about: str = "Picks a hand at once, runs after it, and takes every tile that belongs to it."
    weights_mean: str = (
        "All weight on the target that it chases; before its first look, and when no target "
        "is left to it, the same on every target."
    )
    habits: tuple[Habit, ...] = field(
        default=(
            Habit("commits early", "scripted", "has a plan from its first look at the deal"),
            Habit("counts tiles", "scripted", "a pair counts little more; scarcity is not seen"),
            Habit("counts the jokers it lacks", "scripted", "long groups want jokers: lore"),
            Habit("goes for points", "scripted", "as far as its taste"),
            Habit("sticks to a plan", "scripted", "until it is blocked or another is far nearer"),
            Habit("winds and dragons first", "scripted", "lone ones go in the first turns: lore"),
            Habit("keeps its own tiles", "emergent", "what the plan uses is thrown last"),
            Habit("claims at the first chance", "scripted", "whatever the plan can show"),
            Habit("breaks pairs late", "scripted", "of tiles not needed, singles go first"),
            Habit("redeems whenever it can", "scripted", "a joker is a joker"),
            Habit("does not defend", "scripted", "others' exposures mean nothing to it"),
            Habit("leaves a plan too late", "emergent", "a blocked plan is noticed as remembered"),
            *SHARED_HABITS,
        )
    )

    def scores(self, card: PlayCard, style: Style, view: View, private: Private) -> Scores:
        """Scores of the actions of a decision, nats up to a constant."""
        match view.decision:
            case "plan":
                return self._plan(card, style, view, private)
            case "pass" | "throw":
                return self._throw(card, style, view, private)
            case "claim" | "mend":
                return self._claim(card, style, view, private)
            case "redeem":
                return self._redeem(card, style, view, private)
            case "win":
                return win_scores(style, view)
            case "early":
                return early_scores(style, view)
            case "call":
                return call_scores(style, view)
        return pass_numbers(style, view, _use(card, view, private)[1])

    def settle(
        self, card: PlayCard, style: Style, view: View, private: Private, action: int
    ) -> Private:
        """Mind after a "plan" decision."""
        n = card.n_targets
        remembered, noticed = look_at_floor(private, view, style.memory)
        if action >= n:
            even = np.full(n, 1.0 / n)
            return Private(even, even.copy(), -1, "searching", remembered, noticed)
        one = np.zeros(n)
        one[action] = 1.0
        short = _measure(card, style, view, private)[0]
        mode = "waiting" if short[action] <= 1 else "building"
        return Private(one, one.copy(), action, mode, remembered, noticed)

    def _plan(self, card: PlayCard, style: Style, view: View, private: Private) -> Scores:
        short, bare, _, _, thirst, blocked = _measure(card, style, view, private)
        stay = STUBBORN + (SUPPLE - STUBBORN) * style.flexibility
        scores: Scores = plan_scores(
            short, bare, thirst, blocked, card.targets.points, private.plan, stay,
            TASTE * style.taste, PLAN_SPREAD * style.temperature,
        )  # fmt: skip
        return scores

    def _throw(self, card: PlayCard, style: Style, view: View, private: Private) -> Scores:
        use, _ = _use(card, view, private)
        scores: Scores = throw_scores(use, view.rack, view.own_turns, style.temperature)
        return scores

    def _claim(self, card: PlayCard, style: Style, view: View, private: Private) -> Scores:
        """Take what the plan can show; natural tiles before jokers."""
        scores = np.full(len(view.legal), -np.inf)
        scores[0] = 0.0
        if view.decision == "claim":
            kind, shown = view.offered or 0, view.shown
            if view.distance == 0:
                scores[WIN] = np.log(1 / style.carelessness - 1)
            fitting = group_mass(card.targets, private.weights, shown, kind)
        else:
            last = view.state.exposures[view.seat][-1]
            fitting = group_mass(card.targets, private.weights, shown_without_last(view), last.kind)
            scores[0] = 8.0 if fitting[last.size] > 0 else 0.0
        slips = view.legal.copy()
        slips[0] = False
        slips[WIN] &= view.distance > 0
        for action in np.flatnonzero(view.legal[2:]) + 2:
            group = group_of(int(action))
            if fitting[group.size] > 0:
                slips[action] = False
                toll = JOKER_TOLL * (0.5 + style.thrift) * group.jokers
                keen = KEEN + KEENER * style.eagerness - toll
                scores[action] = keen / style.temperature
        return with_slips(scores, slips, MISFIT * style.carelessness)

    def _redeem(self, card: PlayCard, style: Style, view: View, private: Private) -> Scores:
        use, _ = _use(card, view, private)
        scores = np.zeros(len(view.legal))
        for action in np.flatnonzero(view.legal[1:]) + 1:
            _, kind = redeem_of(int(action))
            scores[action] = (2.0 - 4.0 * use[kind]) / style.temperature
        return scores


def _measure(card: PlayCard, style: Style, view: View, private: Private) -> Any:
    remembered, _ = look_at_floor(private, view, style.memory)
    live = live_copies(card.targets.copies, view, remembered)
    return measure(card.targets, view.rack, view.shown, live)


def _use(card: PlayCard, view: View, private: Private) -> Any:
    return tile_use(card.targets, private.weights, view.rack, view.shown, 1.0)


KIND = Chaser()
