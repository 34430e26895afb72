"""The novice, compiled; see ``handread.simulate.kinds.novice``."""

from __future__ import annotations

import math
from typing import Any

import numpy as np

from handread.simulate.actions import LARGEST, N_CLAIMS, N_REDEEMS, WIN
from handread.simulate.fast.compiled import compiled, entry, lists_at, sheet_at, table_at
from handread.simulate.fast.layout import (
    BUILDING,
    CARELESSNESS,
    CLAIM,
    EAGERNESS,
    EVEN,
    MEND,
    N_CLAIMS_,
    NEAR,
    NONE,
    ONE,
    OWN,
    PASS,
    REDEEM,
    SCORE,
    SCORE_PLAN,
    SEARCHING,
    SETTLE,
    SPREAD,
    STAY,
    TEMPERATURE,
    THRIFT,
    THROW,
    WAITING,
    WEIGHED,
    WEIGHTS,
    WIDE,
    WORTH,
    word,
)
from handread.simulate.fast.policies.common import pass_numbers, shared_scores, slip
from handread.simulate.fast.policies.policy import Policy
from handread.simulate.fast.use import mass_of_groups, use_of_tiles
from handread.simulate.fast.ways import (
    FAR,
    FARTHEST,
    distance_of,
    left_row,
    rows_of,
    short_of,
    within,
)
from handread.simulate.fast.weighted import copy_near, even_list, one_target
from handread.simulate.kinds import novice as kind
from handread.simulate.kinds.common import MISFIT
from handread.simulate.kinds.novice import knows
from handread.simulate.kinds.worth import LEAST
from handread.simulate.player import Style
from handread.tiles import FLOWER, JOKER, N_KINDS

#: Own constants: which hands it knows.
KEY, SHARE = OWN, OWN + 1
_GONE, _NEARBY, _KEEPS, _KEEPS_JOKER = kind.GONE, kind.NEARBY, kind.KEEPS, kind.KEEPS_JOKER
_PAIRS, _TRIPLES, _FLOWERS = kind.PAIRS, kind.TRIPLES, kind.FLOWERS
_FLOWERS_UNTIL, _KEEN, _KEENER, _ASIDE = kind.FLOWERS_UNTIL, kind.KEEN, kind.KEENER, kind.ASIDE
_BEYOND_PUNG, _JOKER_TOLL, _NOTICES = kind.BEYOND_PUNG, kind.JOKER_TOLL, kind.NOTICES


@compiled
def _plainly_gone(t: Any, lists: Any, sheet: Any, seat: int) -> bool:
    """Whether a single or pair that the plan lacks lies on the floor, every copy of it."""
    g = t.plan[seat]
    if g < 0 or not lists.fits[seat, g]:
        return False
    need = lists.left[left_row(t, seat), g]
    for s in range(sheet.n_slots[g]):
        k, wanted = sheet.slot_kind[g, s], need[s, 0]
        if wanted > t.racks[seat, k] and sheet.copies[k] - t.floor[k] < wanted:
            return True
    return False


@compiled
def _recall(t: Any, lists: Any, seat: int) -> None:
    """Put in ``lists.known`` which hands a seat knows."""
    key, share = word(t.params[seat, KEY]), t.params[seat, SHARE]
    n_hands = word(lists.known.shape[1])
    for hand in range(n_hands):
        lists.known[seat, hand] = knows(word(hand), key, share, n_hands)


@compiled
def _in_mind(t: Any, lists: Any, sheet: Any, seat: int, reach: float, all_hands: bool) -> int:
    """List the targets that come to mind within a reach of the nearest; returns how many.

    They are in row NEAR, the tiles short of them in row WORTH, in order; so is the plan.
    """
    target, lacking, plan = lists.target[NEAR], lists.weight[WORTH], t.plan[seat]
    known, codes, jokers = lists.known[seat], lists.code[seat], t.racks[seat, JOKER]
    nearest, beyond = distance_of(t, lists, sheet, seat), word(math.floor(reach))
    while True:
        n, best = NONE, word(FAR)
        for i in range(within(t, lists, sheet, seat, nearest + beyond, plan)):
            g = word(lists.candidate[i])
            if all_hands or known[sheet.hand[g]]:
                missing = short_of(word(codes[g]), jokers)
                best = min(best, missing)
                target[n] = g
                lacking[n] = missing
                n += 1
        if best <= nearest or nearest + beyond >= FARTHEST:
            return n
        # what it knows is farther than the nearest of all: look as far again from there
        nearest = best if best < FAR else nearest + beyond + 1


@compiled
def plan(t: Any, lists: Any, sheet: Any, seat: int) -> None:
    """Scores of committing to each target that comes to mind; tiles that match are counted.

    The near targets are listed anew: those with a score and those nearby, which row WEIGHED marks.
    """
    stay, spread = t.judge[seat, STAY], t.judge[seat, SPREAD]
    reach = max(_NEARBY, 0.01 - math.log(LEAST) * spread)
    if t.n_list[WIDE + seat] == EVEN:
        _recall(t, lists, seat)
    n = _in_mind(t, lists, sheet, seat, reach, False)
    if n == 0:
        n = _in_mind(t, lists, sheet, seat, reach, True)
    t.open_score = 0.0 if n == 0 else -np.inf
    t.fold_score = -np.inf
    target, lacking, score = lists.target[NEAR], lists.weight[WORTH], lists.weight[SCORE]
    marked = lists.weight[WEIGHED]
    if _plainly_gone(t, lists, sheet, seat):
        stay -= _GONE
    best, fewest = -np.inf, np.inf
    for i in range(n):
        score[i] = (-lacking[i] + (stay if target[i] == t.plan[seat] else 0.0)) / spread
        best = max(best, score[i])
        fewest = min(fewest, lacking[i])
    kept = NONE
    for i in range(n):
        likely, nearby = score[i] >= best + math.log(LEAST), lacking[i] <= fewest + _NEARBY
        if likely or nearby:
            target[kept] = target[i]
            score[kept] = score[i] if likely else -np.inf
            marked[kept] = 1.0 if nearby else 0.0
            lists.short[kept] = word(lacking[i])
            kept += 1
    t.n_near = kept


@compiled
def settle(t: Any, lists: Any, sheet: Any, seat: int, action: int, place: int) -> None:
    """Mind after a look: all on the plan, the hands near it beside; or nothing in particular."""
    if place < 0:
        even_list(t, lists, sheet, WEIGHTS + seat)
        even_list(t, lists, sheet, WIDE + seat)
        t.plan[seat] = -1
        t.mode[seat] = SEARCHING
        return
    one_target(t, lists, WEIGHTS + seat, action)
    marked, total = lists.weight[WEIGHED], 0.0
    marked[place] = 1.0
    for i in range(t.n_near):
        total += marked[i]
    for i in range(t.n_near):
        marked[i] /= total
    copy_near(t, lists, WIDE + seat)
    t.plan[seat] = action
    t.mode[seat] = WAITING if lists.short[place] <= 1 else BUILDING


@compiled
def _throw(t: Any, lists: Any, sheet: Any, seat: int) -> None:
    """Lone tiles that the plan does not use, in no order."""
    row = WEIGHTS + seat
    use_of_tiles(t, lists, sheet, seat, row, t.n_list[row], 1.0)
    for k in range(N_KINDS):
        score, held = 0.0, t.racks[seat, k]
        if k == JOKER:
            score = -_KEEPS_JOKER
        elif t.use[k] > 0.0:
            score = -_KEEPS * min(t.use[k], 1.0)
        elif held >= 3:
            score = -_TRIPLES
        elif held == 2:
            score = -_PAIRS
        if k == FLOWER and t.use[k] == 0.0 and t.turns[seat] < _FLOWERS_UNTIL:
            score += _FLOWERS
        t.scores[k] = score / t.params[seat, TEMPERATURE]


@compiled
def _claim(t: Any, lists: Any, sheet: Any, seat: int, mending: int) -> None:
    """Take what the plan or a hand near it can show; small groups first."""
    params, careless = t.params[seat], t.params[seat, CARELESSNESS]
    rows_of(t, seat, mending)
    last = t.groups[seat, t.n_groups[seat] - 1]
    claimed = last[0] if mending else t.offered
    row, planned = WEIGHTS + seat, NONE
    mass_of_groups(t, lists, sheet, row, t.n_list[row], claimed)
    for size in range(1, 7):
        if t.mass[size] > 0:
            planned |= 1 << size
    row = WIDE + seat
    mass_of_groups(t, lists, sheet, row, t.n_list[row], claimed)
    for a in range(N_CLAIMS):
        t.scores[a] = np.nan if t.legal[a] else -np.inf
    t.scores[0] = 0.0
    if mending:
        if t.mass[last[1]] > 0:
            t.scores[0] = 6.0
    elif t.distance == 0:
        t.scores[WIN] = math.log(1 / careless - 1)
    for a in range(2, N_CLAIMS):
        size, jokers = (a - 2) // LARGEST + 1, (a - 2) % LARGEST
        if t.legal[a] and t.mass[size] > 0:
            keen = _KEEN + _KEENER * params[EAGERNESS]
            keen -= 0.0 if (planned >> size) & 1 else _ASIDE
            keen -= _BEYOND_PUNG * max(size - 3, 0)
            keen -= _JOKER_TOLL * (0.5 + params[THRIFT]) * jokers
            t.scores[a] = keen / params[TEMPERATURE]
    slip(t, N_CLAIMS_, MISFIT * careless)


@compiled
def scores(t: Any, lists: Any, sheet: Any, seat: int, decision: int) -> None:
    """Scores of every decision but the plan, in ``t.scores``."""
    if decision in (PASS, THROW):
        _throw(t, lists, sheet, seat)
    elif decision in (CLAIM, MEND):
        _claim(t, lists, sheet, seat, ONE if decision == MEND else NONE)
    elif not shared_scores(t, seat, decision):
        row = WEIGHTS + seat
        spare = use_of_tiles(t, lists, sheet, seat, row, t.n_list[row], 1.0)
        if decision == REDEEM:
            t.scores[0] = 0.0
            for a in range(1, N_REDEEMS):
                use = t.use[(a - 1) % N_KINDS]
                t.scores[a] = (_NOTICES - 2.0 * use) / t.params[seat, TEMPERATURE]
        else:
            pass_numbers(t, seat, decision, spare)


def judgement(novice: kind.Novice, style: Style) -> dict[str, float]:
    """It lists the targets itself, by what it knows."""
    return {
        "every": 3.0,
        "spread": kind.PLAN_SPREAD * style.temperature,
        "stay": kind.STAY - kind.SUPPLE * style.flexibility,
    }


def constants(novice: kind.Novice, style: Style) -> tuple[float, ...]:
    """What it knows of the card, in the order of the places above."""
    return kind.memory_of(style)


def unit(said: int) -> Any:
    """Plan, settle and scores behind one address."""

    @entry
    def enter(p: int, what: int, seat: int, a: int, b: int) -> int:
        t = table_at(p)
        lists, sheet = lists_at(t), sheet_at(t)
        if what == SCORE_PLAN:
            plan(t, lists, sheet, seat)
        elif what == SETTLE:
            settle(t, lists, sheet, seat, a, b)
        else:
            scores(t, lists, sheet, seat, a)
        return said

    return enter


POLICY = Policy(kind.Novice, unit, judgement, constants)
