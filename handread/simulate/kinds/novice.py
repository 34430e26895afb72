"""The novice: knows part of the card, counts what matches, keeps pairs, claims what it can."""

from __future__ import annotations

import hashlib
import math
from dataclasses import astuple, dataclass, field
from functools import lru_cache
from typing import Any

import numpy as np
from numba import njit
from numpy.typing import NDArray

from handread.simulate.actions import WIN, group_of, redeem_of
from handread.simulate.choice import Scores, with_slips
from handread.simulate.kernels import FAR, group_mass, keep_left, shortfall, tile_use
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
from handread.simulate.view import Private, View, floor_copies, look_at_floor
from handread.tiles import FLOWER, JOKER, N_KINDS

Array = NDArray[np.float64]

#: Share of the card's hands that a person knows, of the least and of the most learned.
LEAST_KNOWN = 0.35
MOST_KNOWN = 0.6
#: Keys by which people know different hands, as many as there are.
N_KEYS = 1 << 30
#: Spread of picks among plans, tiles, at temperature 1.
PLAN_SPREAD = 0.4
#: Tiles by which a plan must be beaten, at no flexibility, and what full flexibility takes off.
STAY = 3.2
SUPPLE = 1.0
#: Tiles that a plan loses once a single or pair of it plainly lies on the floor.
GONE = 2.2
#: Tiles more than its nearest hand for which it still has a hand in mind when it claims.
NEARBY = 1
#: What a tile that belongs to the plan is kept by, nats at temperature 1; a joker.
KEEPS = 5.6
KEEPS_JOKER = 5.0
#: What a pair and a longer group are kept by that the plan does not use, nats at temperature 1.
PAIRS = 2.0
TRIPLES = 2.6
#: How much sooner flowers go that the plan does not use, and until which turn.
FLOWERS = 1.5
FLOWERS_UNTIL = 8
#: How keenly it claims, nats at temperature 1: at no eagerness, more at full.
KEEN = 2.4
KEENER = 2.0
#: Less for a group that another hand than the plan can use, for each tile beyond a pung, and
#: for each joker.
ASIDE = 4.2
BEYOND_PUNG = 0.9
JOKER_TOLL = 0.4
#: Log odds of noticing that a joker can be redeemed, at temperature 1.
NOTICES = -0.9


@njit(cache=True)
def place_of(hand: int, key: int, n_hands: int) -> int:
    """Place of a hand in the order in which a person came to know the card's hands.

    For each key a permutation of ``range(n_hands)``: rounds that are one-to-one on the powers of
    two, repeated until the place is one of the card's.
    """
    mask = 1
    while mask < n_hands:
        mask = 2 * mask
    mask = mask - 1
    place = hand
    while True:
        part = key
        for _ in range(4):
            place = (place * (2 * (part & 1023) + 1) + (part >> 7) + 13) & mask
            place = place ^ (place >> 2)
            part = (part * 1103515245 + 12345) & 1073741823
        if place < n_hands:
            return place


@njit(cache=True)
def knows(hand: int, key: int, share: float, n_hands: int) -> bool:
    """Whether a person knows a hand of the card; `share` of them, rounded up."""
    return bool(place_of(hand, key, n_hands) < math.ceil(share * n_hands))


@lru_cache(maxsize=1024)
def memory_of(style: Style) -> tuple[int, float]:
    """Key and share of the hands that a person knows, from the numbers of its style alone.

    Examples
    --------
    >>> key, share = memory_of(Style())
    >>> 0 <= key < N_KEYS, LEAST_KNOWN <= share <= MOST_KNOWN, memory_of(Style()) == (key, share)
    (True, True, True)
    """
    numbers = np.array(astuple(style), dtype=">f8").tobytes()
    digest = hashlib.blake2b(numbers, digest_size=16).digest()
    key = int.from_bytes(digest[:8], "big") % N_KEYS
    part = int.from_bytes(digest[8:], "big") / 2.0**64
    return key, LEAST_KNOWN + (MOST_KNOWN - LEAST_KNOWN) * part


def known_targets(card: PlayCard, style: Style) -> NDArray[np.bool_]:
    """Which targets belong to hands that a person knows, shape (n_targets,)."""
    key, share = memory_of(style)
    hand_of = card.card.hand_of
    n_hands = int(hand_of[-1]) + 1
    known = np.array([knows(hand, key, share, n_hands) for hand in range(n_hands)])
    return np.asarray(known[hand_of])


@njit(cache=True)
def tiles_missing(short: NDArray[np.int64], known: NDArray[np.bool_]) -> NDArray[np.int64]:
    """Tiles short of each target that comes to mind; -1 for the others.

    Those come to mind that are known and fit the exposures; if there are none, all that fit.
    """
    n = len(short)
    found = np.full(n, -1, dtype=np.int64)
    any_known = False
    for g in range(n):
        any_known = any_known or (short[g] < FAR and known[g])
    for g in range(n):
        if short[g] < FAR and (known[g] or not any_known):
            found[g] = short[g]
    return found


@njit(cache=True)
def plainly_gone(
    targets: Targets, plan: int, rack: NDArray[np.uint8], shown: NDArray[np.int64],
    floor: NDArray[np.int64],
) -> bool:  # fmt: skip
    """Whether a single or pair that the plan lacks lies on the floor, every copy of it."""
    _, left = keep_left(targets, shown)
    for j in range(targets.n[plan]):
        k = targets.kind[plan, j]
        wanted = 0
        for i in range(targets.n[plan]):
            if left[plan, i] and targets.kind[plan, i] == k and not targets.joker[plan, i]:
                wanted += targets.size[plan, i]
        if wanted > rack[k] and targets.copies[k] - floor[k] < wanted:
            return True
    return False


@njit(cache=True)
def plan_scores(
    missing: NDArray[np.int64], plan: int, gone: bool, stay: float, spread: float
) -> Array:  # fmt: skip
    """Scores of committing to each target, then of being open and of folding.

    Tiles that match are counted, and nothing else.
    """
    n = missing.shape[0]
    scores = np.full(n + 2, -np.inf)
    best = -np.inf
    for g in range(n):
        if missing[g] < 0:
            continue
        worth = -1.0 * missing[g]
        if g == plan:
            worth += stay - (GONE if gone else 0.0)
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
    """Scores of throwing each kind: lone tiles that the plan does not use, in no order."""
    scores = np.zeros(N_KINDS)
    for k in range(N_KINDS):
        if k == JOKER:
            scores[k] = -KEEPS_JOKER
        elif use[k] > 0.0:
            scores[k] = -KEEPS * min(use[k], 1.0)
        elif rack[k] >= 3:
            scores[k] = -TRIPLES
        elif rack[k] == 2:
            scores[k] = -PAIRS
        if k == FLOWER and use[k] == 0.0 and turn < FLOWERS_UNTIL:
            scores[k] += FLOWERS
        scores[k] /= heat
    return scores


@dataclass(frozen=True)
class Novice:
    """See the module."""

    name: str = "novice"
    version: int = 1
    about: str = "Knows part of the card, counts what matches, keeps pairs, claims what it can."
    weights_mean: str = (
        "All weight on the target that it is after, one of a hand that it knows; before its "
        "first look, and when no target is left to it, the same on every target."
    )
    habits: tuple[Habit, ...] = field(
        default=(
            Habit("knows part of the card", "scripted", "35 to 60 in 100 hands; a guess"),
            Habit("looks the card up", "scripted", "when no hand that it knows fits what it shows"),
            Habit("counts what matches", "scripted", "points, pairs, scarcity are nothing to it"),
            Habit("changes its mind", "emergent", "by noise, among hands that match alike"),
            Habit("leaves a plan late", "scripted", "sees only a single or pair gone, and clings"),
            Habit("loves pairs", "scripted", "keeps pairs and more that it has no use for: lore"),
            Habit("throws lone tiles in no order", "scripted", "what is no use is all alike to it"),
            Habit("flowers early", "scripted", "in the first turns, if the plan has none: lore"),
            Habit("claims at the first chance", "scripted", "for its plan or any near known hand"),
            Habit("pungs rather than kongs", "scripted", "the smaller group where both fit"),
            Habit("lays jokers freely", "scripted", "hardly any toll on a joker shown"),
            Habit("is carried off by its claims", "emergent", "a group shown can end its plan"),
            Habit("redeems when it notices", "scripted", "about one chance in four"),
            Habit("does not defend", "scripted", "others' exposures mean nothing to it"),
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
                found: Scores = throw_scores(use, view.rack, view.own_turns, style.temperature)
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
        if action >= n:
            even = np.full(n, 1.0 / n)
            return Private(even, even.copy(), -1, "searching", remembered, noticed)
        one = np.zeros(n)
        one[action] = 1.0
        missing = _missing(card, style, view)
        near = (missing >= 0) & (missing <= missing[missing >= 0].min() + NEARBY)
        near[action] = True
        mode = "waiting" if missing[action] <= 1 else "building"
        return Private(one, near / near.sum(), action, mode, remembered, noticed)

    def _plan(self, card: PlayCard, style: Style, view: View, private: Private) -> Scores:
        missing = _missing(card, style, view)
        floor = floor_copies(view.state)
        gone = private.plan >= 0 and plainly_gone(
            card.targets, private.plan, view.rack, view.shown, floor
        )
        scores: Scores = plan_scores(
            missing, private.plan, gone, STAY - SUPPLE * style.flexibility,
            PLAN_SPREAD * style.temperature,
        )  # fmt: skip
        return scores

    def _claim(self, card: PlayCard, style: Style, view: View, private: Private) -> Scores:
        """Take what the plan or a hand near it can show; small groups first."""
        scores = np.full(len(view.legal), -np.inf)
        scores[0] = 0.0
        mending = view.decision == "mend"
        shown = shown_without_last(view) if mending else view.shown
        kind = _kind(view)
        planned = group_mass(card.targets, private.weights, shown, kind)
        nearby = group_mass(card.targets, private.wide, shown, kind)
        if mending:
            if nearby[view.state.exposures[view.seat][-1].size] > 0:
                scores[0] = 6.0
        elif view.distance == 0:
            scores[WIN] = np.log(1 / style.carelessness - 1)
        slips = view.legal.copy()
        slips[0] = False
        slips[WIN] &= view.distance > 0
        for action in np.flatnonzero(view.legal[2:]) + 2:
            group = group_of(int(action))
            if nearby[group.size] > 0:
                slips[action] = False
                keen = KEEN + KEENER * style.eagerness
                keen -= 0.0 if planned[group.size] > 0 else ASIDE
                keen -= BEYOND_PUNG * max(group.size - 3, 0)
                keen -= JOKER_TOLL * (0.5 + style.thrift) * group.jokers
                scores[action] = keen / style.temperature
        return with_slips(scores, slips, MISFIT * style.carelessness)

    def _redeem(self, card: PlayCard, style: Style, view: View, private: Private) -> Scores:
        """Now and then, if the tile is not wanted for the plan."""
        use, _ = _use(card, view, private)
        scores = np.zeros(len(view.legal))
        for action in np.flatnonzero(view.legal[1:]) + 1:
            _, kind = redeem_of(int(action))
            scores[action] = (NOTICES - 2.0 * use[kind]) / style.temperature
        return scores


def _kind(view: View) -> int:
    """Kind that a claim or a mend is about."""
    if view.decision == "mend":
        return view.state.exposures[view.seat][-1].kind
    return view.offered if view.offered is not None else 0


def _missing(card: PlayCard, style: Style, view: View) -> NDArray[np.int64]:
    short = shortfall(card.targets, view.rack, view.shown)
    found: NDArray[np.int64] = tiles_missing(short, known_targets(card, style))
    return found


def _use(card: PlayCard, view: View, private: Private) -> Any:
    return tile_use(card.targets, private.weights, view.rack, view.shown, 1.0)


KIND = Novice()
