"""The weigher: keeps several hands open, throws what serves them least, commits late."""

from __future__ import annotations

import math
from collections.abc import Callable
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
from handread.simulate.kinds.worth import value_of, weights_of, worth_of
from handread.simulate.playcard import PlayCard
from handread.simulate.player import Habit, Style
from handread.simulate.view import Private, View, live_copies, look_at_floor
from handread.tiles import JOKER, N_KINDS

Array = NDArray[np.float64]


@dataclass(frozen=True)
class Judgement:
    """Constants of a weighing player, in tiles unless said otherwise; all of them guesses.

    Attributes
    ----------
    pair_cost
        What a missing tile of a pair or single counts.
    joker_cost
        What a joker counts more that is needed and not held.
    aware
        Share of the judgement that looks at the copies left.
    taste
        What points count at full taste: tiles for each factor of e in points.
    spread
        Softness of the weights at temperature 1.
    throw_spread
        Softness of throws at temperature 1.
    stay
        What the plan is worth more for being the plan, at no flexibility; half of it at full.
    sure
        Weight of the best target at which committing is as likely as not, at the start.
    toll
        What a claim must gain, at no eagerness.
    joker_toll
        What a joker laid in an exposure costs, at full thrift.
    """

    pair_cost: float = 1.0
    joker_cost: float = 1.4
    aware: float = 0.2
    taste: float = 3.7
    spread: float = 0.45
    throw_spread: float = 0.1
    stay: float = 1.8
    sure: float = 0.6
    toll: float = 0.6
    joker_toll: float = 1.2


@njit(cache=True)
def commit_scores(weights: Array, n_shown: int, turn: int, sure: float) -> Array:
    """Scores of committing to each target or staying open, for a player with no plan.

    It commits the more readily the heavier its best target, the more it has shown and the
    longer the game has gone.
    """
    n = weights.shape[0]
    scores = np.full(n + 2, -np.inf)
    top = 0.0
    for g in range(n):
        top = max(top, weights[g])
    if top <= 0.0:
        scores[n] = 0.0
        return scores
    pull = 9.0 * (top - sure) + 0.18 * (turn - 4) + 1.0 * n_shown
    commits = 1.0 / (1.0 + math.exp(-pull))
    for g in range(n):
        if weights[g] > 0.0:
            scores[g] = math.log(weights[g]) + math.log(commits)
    scores[n] = math.log(1.0 - commits)
    return scores


@njit(cache=True)
def throw_scores(use: Array, spread: float) -> Array:
    """Scores of throwing each kind: what serves the weighted targets least."""
    scores = np.zeros(N_KINDS)
    for k in range(N_KINDS):
        scores[k] = -use[k] / spread
    scores[JOKER] -= 0.35 / spread  # a joker always serves something
    return scores


@dataclass(frozen=True)
class Weigher:
    """See the module."""

    name: str = "weigher"
    version: int = 3
    about: str = "Keeps several hands open, throws what serves them least, commits late."
    weights_mean: str = (
        "While open, how much it has each target in mind: a softmax of the way to it, by "
        "difficulty and points, small weights dropped. All on the plan once committed."
    )
    judgement: Judgement = field(default_factory=Judgement)
    habits: tuple[Habit, ...] = field(
        default=(
            Habit("keeps hands open", "emergent", "weights follow the way to every target"),
            Habit("commits late", "scripted", "one target outweighs, it has shown, or it is late"),
            Habit("sees what no joker fills", "emergent", "a pair's tile is dearer when copies go"),
            Habit("goes for points", "scripted", "as far as its taste: worth grows with points"),
            Habit("minds scarcity", "emergent", "copies left enter the way, as it remembers"),
            Habit("throws what serves least", "emergent", "by the weighted use of each tile"),
            Habit("sheds winds and dragons early", "emergent", "where they serve few targets"),
            Habit("claims what pays", "emergent", "the value after it less the value before"),
            Habit("is loath to show", "scripted", "a toll on each claim, less if eager"),
            Habit("keeps jokers back", "scripted", "a toll on jokers laid, more if thrifty"),
            Habit("redeems what pays", "emergent", "by the value of the rack after it"),
            Habit("does not defend", "scripted", "others' exposures count as copies gone only"),
            *SHARED_HABITS,
        )
    )  # fmt: skip

    def scores(self, card: PlayCard, style: Style, view: View, private: Private) -> Scores:
        """Scores of the actions of a decision, nats up to a constant."""
        match view.decision:
            case "plan":
                return self.plan(card, style, view, private)
            case "pass" | "throw":
                return self.throw(card, style, view, private)
            case "claim" | "mend":
                return self.claim(card, style, view, private)
            case "redeem":
                return self.redeem(card, style, view, private)
            case "win":
                return win_scores(style, view)
            case "early":
                return early_scores(style, view)
            case "call":
                return call_scores(style, view)
        return pass_numbers(style, view, self.use(card, style, view, private)[1])

    def settle(
        self, card: PlayCard, style: Style, view: View, private: Private, action: int
    ) -> Private:
        """Mind after a "plan" decision."""
        n = card.n_targets
        remembered, noticed = look_at_floor(private, view, style.memory)
        live = live_copies(card.targets.copies, view, remembered)
        worth, short = self.worth(card, style, view.rack, view.shown, live)
        wide = self.weigh(worth, private.plan, style)
        if action == n:
            near = int(short[wide > 0].min()) if wide.any() else n
            mode = "waiting" if near <= 1 else "searching"
            weights = wide if wide.any() else private.weights
            return Private(weights.copy(), wide, -1, mode, remembered, noticed)
        one = np.zeros(n)
        one[action] = 1.0
        mode = "waiting" if short[action] <= 1 else "building"
        return Private(one, wide, action, mode, remembered, noticed)

    def worth(
        self, card: PlayCard, style: Style, rack: Any, shown: Any, live: Array
    ) -> tuple[Array, NDArray[np.int64]]:
        """Worth of each target to a rack, and the tiles that it is short of it."""
        short, bare, cost_bare, cost_open, thirst, blocked = measure(
            card.targets, rack, shown, live
        )  # fmt: skip
        found = worth_of(
            bare, short, cost_bare, cost_open, thirst, blocked, card.targets.concealed,
            card.targets.points, self.judgement.pair_cost, self.judgement.joker_cost,
            self.judgement.aware, self.judgement.taste * style.taste,
        )  # fmt: skip
        return found, short

    def stay(self, style: Style) -> float:
        """What a plan is worth more for being the plan, tiles."""
        return self.judgement.stay * (1.0 - 0.5 * style.flexibility)

    def weigh(self, worth: Array, plan: int, style: Style) -> Array:
        """Weights by worth, the plan favoured."""
        spread = self.judgement.spread * style.temperature
        return np.asarray(weights_of(worth, plan, self.stay(style), spread))

    def live(self, card: PlayCard, style: Style, view: View, private: Private) -> Array:
        """Copies that may still come, with the floor as remembered."""
        remembered, _ = look_at_floor(private, view, style.memory)
        return live_copies(card.targets.copies, view, remembered)

    def plan(self, card: PlayCard, style: Style, view: View, private: Private) -> Scores:
        """Commit, stay open, or leave the plan for another."""
        live = self.live(card, style, view, private)
        worth, _ = self.worth(card, style, view.rack, view.shown, live)
        wide = self.weigh(worth, private.plan, style)
        if private.plan >= 0 and wide[private.plan] > 0:
            with np.errstate(divide="ignore"):
                return np.concatenate([np.log(wide), [-np.inf, -np.inf]])
        return np.asarray(
            commit_scores(wide, len(view.shown), view.own_turns, self.judgement.sure)
        )  # fmt: skip

    def use(self, card: PlayCard, style: Style, view: View, private: Private) -> Any:
        """Use of each tile to the weights in mind, the plan counting most."""
        aside = 0.35 * style.flexibility if private.plan >= 0 else 1.0
        weights = (1 - aside) * private.weights + aside * private.wide
        return tile_use(
            card.targets, weights, view.rack, view.shown, self.judgement.pair_cost
        )  # fmt: skip

    def throw(self, card: PlayCard, style: Style, view: View, private: Private) -> Scores:
        """What serves least."""
        use, _ = self.use(card, style, view, private)
        return np.asarray(throw_scores(use, self.judgement.throw_spread * style.temperature))

    def valuer(
        self, card: PlayCard, style: Style, view: View, private: Private
    ) -> Callable[[Any, Any], float]:
        """Function from a rack and exposures to their value, tiles, to the hands in mind."""
        live = self.live(card, style, view, private)
        spread = self.judgement.spread * style.temperature

        def value(rack: Any, shown: Any) -> float:
            worth, _ = self.worth(card, style, rack, shown, live)
            worth = np.where(private.wide > 0, worth, -np.inf)
            return float(value_of(worth, private.plan, self.stay(style), spread))

        return value

    def toll(self, style: Style, view: View) -> float:
        """What a claim must gain before it is as likely as not, tiles."""
        return self.judgement.toll * (1.0 - style.eagerness)

    def claim(self, card: PlayCard, style: Style, view: View, private: Private) -> Scores:
        """Show what is worth more shown than not."""
        scores = np.full(len(view.legal), -np.inf)
        scores[0] = 0.0
        mending = view.decision == "mend"
        if view.distance == 0 and not mending:
            scores[WIN] = np.log(1 / style.carelessness - 1)
        kind, rack, shown, size = _before_showing(view)
        mass = group_mass(card.targets, private.wide, shown, kind)
        value = self.valuer(card, style, view, private)
        now = value(view.rack, view.shown)
        toll = 1.0 if mending else self.toll(style, view)
        if mending and mass[size] > 0:
            toll += 2.0
        slips = view.legal.copy()
        slips[0] = False
        slips[WIN] &= view.distance > 0
        spread = self.judgement.spread * style.temperature
        for action in np.flatnonzero(view.legal[2:]) + 2:
            group = group_of(int(action))
            if mass[group.size] <= 0:
                continue
            slips[action] = False
            after, laid = _shown_with(rack, shown, kind, group.size, group.jokers)
            gain = value(after, laid) - now
            cost = toll + self.judgement.joker_toll * style.thrift * group.jokers
            scores[action] = (gain - cost) / spread if np.isfinite(gain) else -30.0
        return with_slips(scores, slips, MISFIT * style.carelessness)

    def redeem(self, card: PlayCard, style: Style, view: View, private: Private) -> Scores:
        """Give a natural for a joker where the rack is worth more with it."""
        scores = np.zeros(len(view.legal))
        value = self.valuer(card, style, view, private)
        now = value(view.rack, view.shown)
        for action in np.flatnonzero(view.legal[1:]) + 1:
            _, kind = redeem_of(int(action))
            rack = view.rack.copy()
            rack[kind] -= 1
            rack[JOKER] += 1
            gain = value(rack, view.shown) - now
            gain = gain if np.isfinite(gain) else 0.0
            scores[action] = gain / (self.judgement.spread * style.temperature)
        return scores


def _before_showing(view: View) -> tuple[int, Any, Any, int]:
    """Kind in question, rack with it, exposures without the group shown, and its size."""
    rack = view.rack.copy()
    if view.decision == "claim":
        kind = view.offered if view.offered is not None else 0
        rack[kind] += 1
        return kind, rack, view.shown, 0
    last = view.state.exposures[view.seat][-1]
    rack[last.kind] += last.size - last.jokers
    rack[JOKER] += last.jokers
    return last.kind, rack, shown_without_last(view), last.size


def _shown_with(rack: Any, shown: Any, kind: int, size: int, jokers: int) -> tuple[Any, Any]:
    """Rack and exposures after a group is shown."""
    after = rack.copy()
    after[kind] -= size - jokers
    after[JOKER] -= jokers
    row = np.array([[kind, size, jokers]], dtype=np.int64)
    return after, np.concatenate([row, shown] if jokers else [shown, row])


KIND = Weigher()
