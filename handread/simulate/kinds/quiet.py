"""The quiet: builds out of sight, claims when nearly done, shows what tells the table least."""

from __future__ import annotations

import math
from dataclasses import dataclass, field
from typing import Any

import numpy as np
from numba import njit
from numpy.typing import NDArray

from handread.simulate.actions import WIN, group_of, redeem_of
from handread.simulate.choice import Scores, with_slips
from handread.simulate.kernels import (
    group_mass,
    keep_left,
    measure,
    take_naturals,
    tile_use,
)
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
from handread.simulate.playcard import PlayCard, Targets
from handread.simulate.player import Habit, Style
from handread.simulate.view import Private, View, floor_copies, live_copies, look_at_floor
from handread.tiles import FIRST_WIND, JOKER, N_KINDS

Array = NDArray[np.float64]

#: What a missing tile counts in a pair or single, and what a joker counts that it lacks, tiles.
PAIR_COST = 1.0
THIRST = 1.6
#: Share of the judgement that looks at the copies left.
AWARE = 0.2
#: Tiles that each factor of e in points counts, at full taste.
TASTE = 3.0
#: What the way to a concealed hand is multiplied by.
HIDDEN = 0.88
#: Tiles that each joker counts less than a natural which the hand would need in its rack, and
#: the most jokers that are counted so.
JOKERED = 0.25
MOST_JOKERED = 2
#: Softness of weights, tiles, at temperature 1; what the plan is worth more, tiles.
SPREAD = 0.38
STAY = 1.6
#: Tiles short at which committing is as likely as not, and how sharply, nats a tile.
CLOSE = 3.6
SHARP = 1.3
#: What a tile that serves is kept by, nats at temperature 1.
KEEPS = 11.0
KEEPS_JOKER = 7.0
#: Of tiles not needed: how much sooner goes what lies on the floor, by copies up to two; what is
#: of the suit that it holds most of; how much later, in the first turns, what it holds twice.
SEEN = 0.8
OWN_SUIT = 2.0
BREAKS = 1.2
BREAKS_FROM = 16.0
#: Tiles short, with the tile claimed, at which a claim that tells nothing is as likely as not for
#: a person of no eagerness; tiles more at full; nats a tile.
READY = 3.6
READIER = 1.0
PULL = 1.8
#: Toll on a claim for each nat by which it narrows the hands that the table can think of.
TELLING = 0.8
#: Toll on each joker laid, nats, at no thrift, and more at full.
JOKER_TOLL = 0.8
JOKER_THRIFT = 1.2
#: How readily it redeems, nats, and what use of the tile given takes off.
TAKES = 3.0
TAKES_LESS = 4.0


@njit(cache=True)
def worth_quiet(
    targets: Targets, rack: NDArray[np.uint8], shown: NDArray[np.int64], live: Array, taste: float
) -> tuple[Array, NDArray[np.int64]]:
    """Worth of each target, tiles, and tiles short; ``-inf`` where it is blocked.

    Ways that are concealed, and those that put few jokers among their tiles, are shorter.
    """
    short, bare, cost_bare, cost_open, thirst, blocked = measure(targets, rack, shown, live)
    _, left = keep_left(targets, shown)
    missing, _ = take_naturals(targets, rack, left)
    n = short.shape[0]
    worth = np.full(n, -np.inf)
    jokers = np.int64(rack[JOKER])
    for g in range(n):
        if blocked[g]:
            continue
        opened = np.int64(0)
        for j in range(targets.n[g]):
            if targets.joker[g, j]:
                opened += missing[g, j]
        counted = (short[g] - bare[g]) + PAIR_COST * bare[g]
        weighed = cost_open[g] + PAIR_COST * cost_bare[g]
        way = (1.0 - AWARE) * counted + AWARE * weighed + THIRST * thirst[g]
        if targets.concealed[g]:
            way *= HIDDEN
        laid = min(int(opened), int(jokers), MOST_JOKERED)
        worth[g] = taste * math.log(targets.points[g] / 30.0) - way - JOKERED * laid
    return worth, short


@njit(cache=True)
def weights_quiet(worth: Array, plan: int, spread: float) -> Array:
    """Weights of the targets: softmax of worth, the plan favoured, small ones dropped."""
    n = worth.shape[0]
    weights = np.zeros(n)
    best = -np.inf
    for g in range(n):
        best = max(best, worth[g] + (STAY if g == plan else 0.0))
    if best == -np.inf:
        return weights
    total = 0.0
    for g in range(n):
        w = math.exp((worth[g] + (STAY if g == plan else 0.0) - best) / spread)
        if w >= LEAST:
            weights[g] = w
            total += w
    return weights / total


@njit(cache=True)
def plan_scores(weights: Array, short: NDArray[np.int64], plan: int) -> Array:
    """Scores of committing to each target, of staying open, and of folding.

    It commits once the hands in mind are near, and leaves a plan only for another.
    """
    n = weights.shape[0]
    scores = np.full(n + 2, -np.inf)
    mean = 0.0
    total = 0.0
    for g in range(n):
        if weights[g] > 0.0:
            mean += weights[g] * short[g]
            total += weights[g]
    if total <= 0.0:
        scores[n] = 0.0
        return scores
    commits = 1.0
    if plan < 0 or weights[plan] <= 0.0:
        commits = 1.0 / (1.0 + math.exp(-SHARP * (CLOSE - mean)))
        scores[n] = math.log(1.0 - commits)
    for g in range(n):
        if weights[g] > 0.0:
            scores[g] = math.log(weights[g]) + math.log(commits)
    return scores


@njit(cache=True)
def throw_scores(
    use: Array, rack: NDArray[np.uint8], floor: NDArray[np.int64], turn: int, heat: float
) -> Array:  # fmt: skip
    """Scores of throwing each kind: of what serves least, that by which it shows least."""
    scores = np.zeros(N_KINDS)
    total = 0.0
    for k in range(FIRST_WIND):
        total += rack[k]
    for k in range(N_KINDS):
        if k == JOKER:
            scores[k] = (-KEEPS_JOKER - KEEPS * use[k]) / heat
            continue
        hides = SEEN * min(floor[k], 2)
        if k < FIRST_WIND:
            first = k - k % 9
            held = 0.0
            for i in range(first, first + 9):
                held += rack[i]
            hides += OWN_SUIT * held / max(total, 1.0)
        if rack[k] >= 2:
            hides -= BREAKS * max(1.0 - turn / BREAKS_FROM, 0.0)
        scores[k] = (-KEEPS * use[k] + max(1.0 - use[k], 0.0) * hides) / heat
    return scores


@njit(cache=True)
def hands_left(
    targets: Targets, hand_of: NDArray[np.int32], shown: NDArray[np.int64]
) -> int:  # fmt: skip
    """Hands of the card with a target that allows some exposures."""
    fits, _ = keep_left(targets, shown)
    n = 0
    last = -1
    for g in range(len(fits)):
        if fits[g] and hand_of[g] != last:
            n += 1
            last = hand_of[g]
    return n


def telling(card: PlayCard, shown: NDArray[np.int64], after: NDArray[np.int64]) -> float:
    """Nats by which more exposures narrow the hands that a table can think of.

    Parameters
    ----------
    card
        The card.
    shown, after
        Exposures before and after, rows (kind, size, jokers), those with jokers first.

    Returns
    -------
    float
        Logarithm of the number of hands before over that after, which counts as one at least.
    """
    hand_of = card.card.hand_of
    before = hands_left(card.targets, hand_of, shown)
    return math.log(max(before, 1) / max(hands_left(card.targets, hand_of, after), 1))


@dataclass(frozen=True)
class Quiet:
    """See the module."""

    name: str = "quiet"
    version: int = 1
    about: str = "Builds out of sight, claims when nearly done, shows what tells least."
    weights_mean: str = (
        "While open, how much it has each target in mind: a softmax of the way to it, concealed "
        "hands and natural tiles favoured, small weights dropped. All on the plan once committed."
    )
    habits: tuple[Habit, ...] = field(
        default=(
            Habit("keeps hands open", "emergent", "weights follow the way to every target"),
            Habit("commits when near", "scripted", "once the hands in mind are a few tiles off"),
            Habit("likes concealed hands", "scripted", "the way to them counts less"),
            Habit("likes natural tiles", "scripted", "a hand pays for jokers that it would use up"),
            Habit("minds scarcity", "emergent", "copies left enter the way, as it remembers"),
            Habit("shows what tells least", "emergent", "a toll on the hands that it rules out"),
            Habit("claims when nearly done", "scripted", "a pull that grows as tiles short go"),
            Habit("the second claim comes easier", "emergent", "most is told by the first"),
            Habit("keeps jokers in the rack", "scripted", "a toll on jokers laid, more if thrifty"),
            Habit("redeems to hold jokers", "scripted", "whenever the tile is not needed"),
            Habit("throws what lies there", "scripted", "of tiles not needed, those seen: lore"),
            Habit("hides its suit", "scripted", "of tiles not needed, those of its longest suit"),
            Habit("breaks late", "scripted", "in the first turns it keeps what it holds twice"),
            Habit("does not defend", "scripted", "others' exposures count as copies gone only"),
            *SHARED_HABITS,
        )
    )

    def scores(self, card: PlayCard, style: Style, view: View, private: Private) -> Scores:
        """Scores of the actions of a decision, nats up to a constant."""
        match view.decision:
            case "plan":
                return self._plan(card, style, view, private)
            case "pass" | "throw":
                use, _ = _use(card, view, private)
                found: Scores = throw_scores(
                    use, view.rack, floor_copies(view.state), view.own_turns, style.temperature
                )
                return found
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
        wide, short = _weigh(card, style, view, private)
        if action == n:
            near = int(short[wide > 0].min()) if wide.any() else n
            mode = "waiting" if near <= 1 else "searching"
            weights = wide if wide.any() else private.weights
            return Private(weights.copy(), wide, -1, mode, remembered, noticed)
        one = np.zeros(n)
        one[action] = 1.0
        mode = "waiting" if short[action] <= 1 else "building"
        return Private(one, wide, action, mode, remembered, noticed)

    def _plan(self, card: PlayCard, style: Style, view: View, private: Private) -> Scores:
        wide, short = _weigh(card, style, view, private)
        scores: Scores = plan_scores(wide, short, private.plan)
        return scores

    def _claim(self, card: PlayCard, style: Style, view: View, private: Private) -> Scores:
        """Show when nearly done, what tells least."""
        scores = np.full(len(view.legal), -np.inf)
        scores[0] = 0.0
        mending = view.decision == "mend"
        pull = PULL * (READY + READIER * style.eagerness - view.distance)
        if mending:
            last = view.state.exposures[view.seat][-1]
            shown, kind, pull = shown_without_last(view), last.kind, 0.0
        else:
            shown, kind = view.shown, view.offered if view.offered is not None else 0
        mass = group_mass(card.targets, private.wide, shown, kind)
        if mending:
            scores[0] = 6.0 if mass[last.size] > 0 else 0.0
        elif view.distance == 0:
            scores[WIN] = np.log(1 / style.carelessness - 1)
        slips = view.legal.copy()
        slips[0] = False
        slips[WIN] &= view.distance > 0
        for action in np.flatnonzero(view.legal[2:]) + 2:
            group = group_of(int(action))
            if mass[group.size] <= 0:
                continue
            slips[action] = False
            after = _shown_with(shown, kind, group.size, group.jokers)
            toll = TELLING * telling(card, shown, after)
            toll += (JOKER_TOLL + JOKER_THRIFT * style.thrift) * group.jokers
            kept = math.log(mass[group.size])
            scores[action] = (pull + kept - toll) / style.temperature
        return with_slips(scores, slips, MISFIT * style.carelessness)

    def _redeem(self, card: PlayCard, style: Style, view: View, private: Private) -> Scores:
        """A joker for the rack, if the tile is not needed."""
        use, _ = _use(card, view, private)
        scores = np.zeros(len(view.legal))
        for action in np.flatnonzero(view.legal[1:]) + 1:
            _, kind = redeem_of(int(action))
            scores[action] = (TAKES - TAKES_LESS * use[kind]) / style.temperature
        return scores


def _weigh(card: PlayCard, style: Style, view: View, private: Private) -> Any:
    """Weights without commitment, and tiles short."""
    remembered, _ = look_at_floor(private, view, style.memory)
    live = live_copies(card.targets.copies, view, remembered)
    worth, short = worth_quiet(card.targets, view.rack, view.shown, live, TASTE * style.taste)
    return weights_quiet(worth, private.plan, SPREAD * style.temperature), short


def _use(card: PlayCard, view: View, private: Private) -> Any:
    return tile_use(card.targets, private.weights, view.rack, view.shown, 1.0)


def _shown_with(shown: NDArray[np.int64], kind: int, size: int, jokers: int) -> NDArray[np.int64]:
    """Exposures with one group more."""
    row = np.array([[kind, size, jokers]], dtype=np.int64)
    return np.concatenate([row, shown] if jokers else [shown, row])


KIND = Quiet()
