"""The quiet, compiled; see ``handread.simulate.kinds.quiet``."""

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
    MINUS,
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
from handread.simulate.fast.near import WINDOW
from handread.simulate.fast.policies.common import pass_numbers, shared_scores, slip
from handread.simulate.fast.policies.policy import Policy
from handread.simulate.fast.use import mass_of_groups, use_of_tiles
from handread.simulate.fast.ways import groups_left, lay_row, rows_of
from handread.simulate.fast.weighted import copy_list, copy_near, even_list, one_target
from handread.simulate.kinds import quiet as kind
from handread.simulate.kinds.common import MISFIT
from handread.simulate.kinds.worth import LEAST
from handread.simulate.player import Style
from handread.tiles import FIRST_WIND, JOKER, N_KINDS

#: Own constant: softness of its weights, tiles.
SOFT = OWN
_JOKERED, _MOST_JOKERED, _CLOSE, _SHARP = kind.JOKERED, kind.MOST_JOKERED, kind.CLOSE, kind.SHARP
_KEEPS, _KEEPS_JOKER, _SEEN, _OWN_SUIT = kind.KEEPS, kind.KEEPS_JOKER, kind.SEEN, kind.OWN_SUIT
_BREAKS, _BREAKS_FROM, _TELLING = kind.BREAKS, kind.BREAKS_FROM, kind.TELLING
_READY, _READIER, _PULL = kind.READY, kind.READIER, kind.PULL
_JOKER_TOLL, _JOKER_THRIFT = kind.JOKER_TOLL, kind.JOKER_THRIFT
_TAKES, _TAKES_LESS = kind.TAKES, kind.TAKES_LESS


@compiled
def _weigh(t: Any, lists: Any, seat: int) -> bool:
    """Weights of the near targets in row WEIGHED; False if every target is blocked."""
    target, worth, weight = lists.target[NEAR], lists.weight[WORTH], lists.weight[WEIGHED]
    jokers, plan, stay = t.racks[seat, JOKER], t.plan[seat], t.judge[seat, STAY]
    best = -np.inf
    for i in range(t.n_near):
        laid = min(lists.code[seat, target[i]] & 15, jokers, _MOST_JOKERED)
        worth[i] += (stay if target[i] == plan else 0.0) - _JOKERED * laid
        best = max(best, worth[i])
    total = 0.0
    for i in range(t.n_near):
        w = math.exp((worth[i] - best) / t.params[seat, SOFT])
        weight[i] = w if w >= LEAST else 0.0
        total += weight[i]
    for i in range(t.n_near):
        weight[i] /= total
    return total > 0.0


@compiled
def plan(t: Any, lists: Any, sheet: Any, seat: int) -> None:
    """Commit once the hands in mind are near; leave a plan only for another."""
    score, weight = lists.weight[SCORE], lists.weight[WEIGHED]
    t.open_score = t.fold_score = -np.inf
    if not _weigh(t, lists, seat):
        t.open_score = 0.0
        return
    mean, held = 0.0, False
    for i in range(t.n_near):
        mean += weight[i] * lists.short[i]
        held = held or (weight[i] > 0.0 and lists.target[NEAR, i] == t.plan[seat])
    commits = 1.0
    if not held:
        commits = 1.0 / (1.0 + math.exp(-_SHARP * (_CLOSE - mean)))
        t.open_score = math.log(1.0 - commits)
    for i in range(t.n_near):
        score[i] = math.log(weight[i]) + math.log(commits) if weight[i] > 0.0 else -np.inf


@compiled
def settle(t: Any, lists: Any, sheet: Any, seat: int, action: int, place: int) -> None:
    """Mind after a look: one target, or all that weigh."""
    copy_near(t, lists, WIDE + seat)
    if place >= 0:
        one_target(t, lists, WEIGHTS + seat, action)
        t.plan[seat] = action
        t.mode[seat] = WAITING if lists.short[place] <= 1 else BUILDING
        return
    nearest = len(sheet.n_slots)
    if t.n_list[WIDE + seat] > 0:
        copy_list(t, lists, WIDE + seat, WEIGHTS + seat)
        for i in range(t.n_near):
            if lists.weight[WEIGHED, i] > 0.0:
                nearest = min(nearest, lists.short[i])
    elif t.n_list[WEIGHTS + seat] == EVEN:
        even_list(t, lists, sheet, WEIGHTS + seat)
    t.plan[seat] = -1
    t.mode[seat] = WAITING if nearest <= 1 else SEARCHING


@compiled
def _throw(t: Any, lists: Any, sheet: Any, seat: int) -> None:
    """Of what serves least, that by which it shows least."""
    row, rack, heat = WEIGHTS + seat, t.racks[seat], t.params[seat, TEMPERATURE]
    use_of_tiles(t, lists, sheet, seat, row, t.n_list[row], 1.0)
    total = 0.0
    for k in range(FIRST_WIND):
        total += rack[k]
    late = max(1.0 - t.turns[seat] / _BREAKS_FROM, 0.0)
    for k in range(N_KINDS):
        if k == JOKER:
            t.scores[k] = (-_KEEPS_JOKER - _KEEPS * t.use[k]) / heat
            continue
        hides = _SEEN * min(t.floor[k], 2)
        if k < FIRST_WIND:
            first, held = k - k % 9, 0.0
            for i in range(first, first + 9):
                held += rack[i]
            hides += _OWN_SUIT * held / max(total, 1.0)
        if rack[k] >= 2:
            hides -= _BREAKS * late
        t.scores[k] = (-_KEEPS * t.use[k] + max(1.0 - t.use[k], 0.0) * hides) / heat


@compiled
def hands_left(t: Any, sheet: Any) -> int:
    """Hands of the card with a target that allows the exposures in ``t.rows``."""
    n, last = NONE, MINUS
    if t.n_rows == 0:
        for g in range(len(sheet.n_slots)):
            n += 1 if sheet.hand[g] != last else 0
            last = word(sheet.hand[g])
        return n
    shown = t.rows[0, 0]
    for i in range(sheet.first_use[shown], sheet.first_use[shown + 1]):
        g = word(sheet.use_target[i])
        if sheet.hand[g] != last and groups_left(t, sheet, g) >= 0:
            n += 1
            last = word(sheet.hand[g])
    return n


@compiled
def _claim(t: Any, lists: Any, sheet: Any, seat: int, mending: int) -> None:
    """Show when nearly done, what tells least."""
    params, row = t.params[seat], WIDE + seat
    careless, heat = params[CARELESSNESS], params[TEMPERATURE]
    last = t.groups[seat, t.n_groups[seat] - 1]
    claimed = last[0] if mending else t.offered
    rows_of(t, seat, mending)
    mass_of_groups(t, lists, sheet, row, t.n_list[row], claimed)
    for a in range(N_CLAIMS):
        t.scores[a] = np.nan if t.legal[a] else -np.inf
    t.scores[0] = 0.0
    pull = 0.0
    if mending:
        if t.mass[last[1]] > 0:
            t.scores[0] = 6.0
    else:
        pull = _PULL * (_READY + _READIER * params[EAGERNESS] - t.distance)
        if t.distance == 0:
            t.scores[WIN] = math.log(1 / careless - 1)
    before = NONE
    for a in range(2, N_CLAIMS):
        size, jokers = (a - 2) // LARGEST + 1, (a - 2) % LARGEST
        if not t.legal[a] or t.mass[size] <= 0:
            continue
        rows_of(t, seat, mending)
        if before == 0:
            before = max(hands_left(t, sheet), 1)
        lay_row(t, claimed, size, jokers)
        toll = _TELLING * math.log(before / max(hands_left(t, sheet), 1))
        toll += (_JOKER_TOLL + _JOKER_THRIFT * params[THRIFT]) * jokers
        t.scores[a] = (pull + math.log(t.mass[size]) - toll) / heat
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
                t.scores[a] = (_TAKES - _TAKES_LESS * use) / t.params[seat, TEMPERATURE]
        else:
            pass_numbers(t, seat, decision, spare)


def judgement(quiet: kind.Quiet, style: Style) -> dict[str, float]:
    """How it judges the way to a target; the spread leaves room for what jokers take off."""
    return {
        "pair_cost": kind.PAIR_COST,
        "joker_cost": kind.THIRST,
        "aware": kind.AWARE,
        "points": kind.TASTE * style.taste,
        "hidden": kind.HIDDEN,
        "spread": kind.SPREAD * style.temperature + kind.JOKERED * kind.MOST_JOKERED / WINDOW,
        "stay": kind.STAY,
    }


def constants(quiet: kind.Quiet, style: Style) -> tuple[float, ...]:
    """Its own constant."""
    return (kind.SPREAD * style.temperature,)


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


POLICY = Policy(kind.Quiet, unit, judgement, constants)
