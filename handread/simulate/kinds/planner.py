"""The planner: reckons its chance of finishing each hand in the draws left, and hedges."""

from __future__ import annotations

import math
from dataclasses import dataclass, field

import numpy as np
from numba import njit
from numpy.typing import NDArray

from handread.simulate.actions import WIN, group_of, redeem_of
from handread.simulate.choice import Scores, with_slips
from handread.simulate.kernels import group_mass, tile_use
from handread.simulate.kinds.common import (
    MISFIT,
    SHARED_HABITS,
    call_scores,
    early_scores,
    pass_numbers,
    shown_without_last,
    win_scores,
)
from handread.simulate.kinds.outlook import Outlook, in_mind, stay_of
from handread.simulate.kinds.worth import LEAST
from handread.simulate.playcard import PlayCard
from handread.simulate.player import Habit, Style
from handread.simulate.view import Private, View, look_at_floor
from handread.tiles import JOKER, N_KINDS

Array = NDArray[np.float64]

#: Softness of the choice of a plan, nats at temperature 1.
PLAN_SPREAD = 0.25
#: Rivals of the plan that it hedges for: how many, how far below the best, what they count.
RIVALS = 2
REACH = 1.2
HEDGE = 0.5
HEDGE_SPREAD = 0.6
#: Most that the loss of a tile counts, nats, and the softness of throws at temperature 1.
MOST_LOSS = 3.0
THROW_SPREAD = 0.05
#: What a joker counts more than its chance when it is thrown, nats.
JOKER_KEPT = 0.5
#: What a claim must gain at no eagerness, nats, and each joker laid at full thrift; softness.
TOLL = 1.0
JOKER_TOLL = 0.5
CLAIM_SPREAD = 0.15
#: What a redeem is worth beyond the chance, nats.
JOKER_LIKED = 0.15
#: Gains and losses that are not finite.
NEVER = -30.0


@njit(cache=True)
def pick_rivals(value: Array, which: NDArray[np.int64], plan: int, wide: Array) -> None:
    """Weights of the plan and its rivals: the few best that are not far below, in `wide`.

    Parameters
    ----------
    value
        Value of each of some targets, nats.
    which
        Those targets, in order.
    plan
        The plan, one of them.
    wide
        Written: a weight for each of them, summing to 1.
    """
    top, total = -np.inf, 1.0
    for i in range(len(which)):
        top = max(top, value[i])
        wide[i] = 1.0 if which[i] == plan else 0.0
    for _ in range(RIVALS):
        found = -1
        for i in range(len(which)):
            open_to = wide[i] == 0.0 and value[i] >= top - REACH
            if open_to and (found < 0 or value[i] > value[found]):
                found = i
        if found >= 0:
            wide[found] = HEDGE * math.exp((value[found] - top) / HEDGE_SPREAD)
            total += wide[found]
    for i in range(len(which)):
        wide[i] /= total


@dataclass(frozen=True)
class Planner:
    """See the module."""

    name: str = "planner"
    version: int = 1
    about: str = "Reckons its chance of finishing each hand in the draws left, and hedges."
    weights_mean: str = (
        "All weight on the target that it plans for; before its first look, and when no target "
        "is left to it, the same on every target."
    )
    habits: tuple[Habit, ...] = field(
        default=(
            Habit("reckons chances", "emergent", "of the copies left coming in the draws left"),
            Habit("weighs chance against points", "scripted", "points to the power of its taste"),
            Habit(
                "looks at near hands", "scripted", "no farther than two tiles beyond the nearest"
            ),
            Habit("takes speed seriously", "emergent", "long hands lose chance first"),
            Habit("plans anew", "emergent", "at each look, at a small cost of changing"),
            Habit("hedges", "scripted", "keeps what the next best targets would use, less firmly"),
            Habit("throws what costs least", "emergent", "chance with a tile less chance without"),
            Habit("sheds dangerous tiles early", "scripted", "before anybody is ready: lore"),
            Habit("holds dangerous tiles late", "scripted", "what exposures may want: lore"),
            Habit("leaves the easy group", "emergent", "many copies to come: little is gained"),
            Habit("claims the scarce group", "emergent", "few copies to come: much is gained"),
            Habit("is loath to show", "scripted", "a toll on each claim, less if eager"),
            Habit("keeps jokers back", "emergent", "they fill any group; and a toll by thrift"),
            Habit("redeems what pays", "emergent", "by the chance with the joker"),
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
        _, spare = tile_use(card.targets, private.weights, view.rack, view.shown, 1.0)
        return pass_numbers(style, view, spare)

    def settle(
        self, card: PlayCard, style: Style, view: View, private: Private, action: int
    ) -> Private:
        """Mind after a "plan" decision."""
        n = card.n_targets
        remembered, noticed = look_at_floor(private, view, style.memory)
        if action >= n:
            even = np.full(n, 1.0 / n)
            return Private(even, even.copy(), -1, "searching", remembered, noticed)
        one, wide = np.zeros(n), np.zeros(n)
        value, short = Outlook(card, style, view, private).survey()
        pick_rivals(value, np.arange(n), action, wide)
        one[action] = 1.0
        mode = "waiting" if short[action] <= 1 else "building"
        return Private(one, wide, action, mode, remembered, noticed)

    def _plan(self, card: PlayCard, style: Style, view: View, private: Private) -> Scores:
        """Commit to the best of chance and points."""
        n = card.n_targets
        value, _ = Outlook(card, style, view, private).survey()
        if private.plan >= 0:
            value[private.plan] += stay_of(style)
        scores = np.full(n + 2, -np.inf)
        if value.max() == -np.inf:
            scores[n] = 0.0
            return scores
        scores[:n] = value / (PLAN_SPREAD * style.temperature)
        scores[:n][scores[:n] < scores.max() + math.log(LEAST)] = -np.inf
        return scores

    def _throw(self, card: PlayCard, style: Style, view: View, private: Private) -> Scores:
        """What costs least chance; of that, what others want, early and not late."""
        outlook = Outlook(card, style, view, private)
        which, weights = in_mind(private)
        loss = np.zeros(N_KINDS)
        now = outlook.values(which, view.rack, view.shown)
        for k in np.flatnonzero(view.rack):
            rack = view.rack.copy()
            rack[k] -= 1
            with np.errstate(invalid="ignore"):  # a target that has no chance loses none
                less = np.minimum(now - outlook.values(which, rack, view.shown), MOST_LOSS)
            loss[k] = (weights * np.where(np.isfinite(now), less, 0.0)).sum()
        loss[JOKER] += JOKER_KEPT
        scores = -loss / (THROW_SPREAD * style.temperature)
        if view.decision == "throw":
            scores += outlook.push() * outlook.heat()
        return np.asarray(scores)

    def _claim(self, card: PlayCard, style: Style, view: View, private: Private) -> Scores:
        """Show what raises the chance by more than a toll."""
        scores = np.full(len(view.legal), -np.inf)
        scores[0] = 0.0
        mending = view.decision == "mend"
        rack, toll = view.rack.copy(), TOLL * (1.0 - style.eagerness)
        if mending:
            last = view.state.exposures[view.seat][-1]
            kind, shown = last.kind, shown_without_last(view)
            rack[kind] += last.size - last.jokers
            rack[JOKER] += last.jokers
        else:
            kind, shown = view.offered or 0, view.shown
            rack[kind] += 1
            if view.distance == 0:
                scores[WIN] = np.log(1 / style.carelessness - 1)
        fitting = group_mass(card.targets, private.wide, shown, kind)
        if mending:
            toll = 3.0 if fitting[last.size] > 0 else 1.0
        outlook = Outlook(card, style, view, private)
        now = outlook.value(view.rack, view.shown)
        slips = view.legal.copy()
        slips[0] = False
        slips[WIN] &= view.distance > 0
        for action in np.flatnonzero(view.legal[2:]) + 2:
            group = group_of(int(action))
            if fitting[group.size] <= 0:
                continue
            slips[action] = False
            after = rack.copy()
            after[kind] -= group.size - group.jokers
            after[JOKER] -= group.jokers
            row = np.array([[kind, group.size, group.jokers]], dtype=np.int64)
            laid = np.concatenate([row, shown] if group.jokers else [shown, row])
            gain = _gain(outlook.value(after, laid), now)
            cost = toll + JOKER_TOLL * style.thrift * group.jokers
            scores[action] = NEVER
            if gain > NEVER:
                scores[action] = (gain - cost) / (CLAIM_SPREAD * style.temperature)
        return with_slips(scores, slips, MISFIT * style.carelessness)

    def _redeem(self, card: PlayCard, style: Style, view: View, private: Private) -> Scores:
        """Give a natural for a joker where that does not cost chance."""
        scores = np.zeros(len(view.legal))
        outlook = Outlook(card, style, view, private)
        now = outlook.value(view.rack, view.shown)
        for action in np.flatnonzero(view.legal[1:]) + 1:
            _, kind = redeem_of(int(action))
            rack = view.rack.copy()
            rack[kind] -= 1
            rack[JOKER] += 1
            gain = max(_gain(outlook.value(rack, view.shown), now), -MOST_LOSS)
            scores[action] = (gain + JOKER_LIKED) / (CLAIM_SPREAD * style.temperature)
        return scores


def _gain(after: float, now: float) -> float:
    """What a change gains, nats, MOST_LOSS at most; NEVER if no chance is left."""
    if after == -np.inf:
        return NEVER
    return min(after - now, MOST_LOSS)


KIND = Planner()
