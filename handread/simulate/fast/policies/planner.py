"""The planner, compiled; see ``handread.simulate.kinds.planner``."""

from __future__ import annotations

import math
from typing import Any

import numpy as np

from handread.simulate.actions import LARGEST, N_CLAIMS, N_REDEEMS, WIN
from handread.simulate.fast.chances import best_now, best_shown, list_best, reckon, value_of
from handread.simulate.fast.compiled import compiled, entry, lists_at, sheet_at, table_at
from handread.simulate.fast.layout import (
    BUILDING,
    CARELESSNESS,
    CLAIM,
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
from handread.simulate.fast.possible import wanted_by_seat
from handread.simulate.fast.use import mass_of_groups, use_of_tiles
from handread.simulate.fast.ways import lay_row, left_row, rows_of
from handread.simulate.fast.weighted import copy_near, even_list, one_target
from handread.simulate.kinds import outlook
from handread.simulate.kinds import planner as kind
from handread.simulate.kinds.common import MISFIT
from handread.simulate.kinds.worth import LEAST
from handread.simulate.player import Style
from handread.tiles import JOKER, N_KINDS

#: Own constants.
TASTE, STAY, PLAN_SPREAD, THROW_SPREAD, DANGER, TOLL, JOKER_TOLL, CLAIM_SPREAD = range(OWN, OWN + 8)

_PATIENCE, _GENEROUS = outlook.PATIENCE, outlook.GENEROUS
_REACH, _ATTENTION = kind.REACH, word(outlook.ATTENTION)
_MOST_LOSS, _NEVER, _READY = kind.MOST_LOSS, kind.NEVER, outlook.READY
_JOKER_KEPT, _JOKER_LIKED = kind.JOKER_KEPT, kind.JOKER_LIKED
_pick_rivals: Any = compiled(kind.pick_rivals.py_func)


@compiled
def plan(t: Any, lists: Any, sheet: Any, seat: int) -> None:
    """Commit to the best of chance and points."""
    worth, score, target = lists.weight[WORTH], lists.weight[SCORE], lists.target[NEAR]
    params = t.params[seat]
    stay, spread = params[STAY], params[PLAN_SPREAD]
    reckon(t, sheet, seat, _PATIENCE, _GENEROUS)
    window = spread * (0.01 - math.log(LEAST))
    list_best(t, lists, sheet, seat, params[TASTE], stay, window, _REACH, _ATTENTION)
    best = -np.inf
    for i in range(t.n_near):
        score[i] = (worth[i] + (stay if target[i] == t.plan[seat] else 0.0)) / spread
        best = max(best, score[i])
    for i in range(t.n_near):
        if score[i] < best + math.log(LEAST):
            score[i] = -np.inf
    t.open_score = 0.0 if best == -np.inf else -np.inf
    t.fold_score = -np.inf


@compiled
def settle(t: Any, lists: Any, sheet: Any, seat: int, action: int, place: int) -> None:
    """Mind after a look: the plan, and its rivals to hedge for."""
    if place < 0:
        even_list(t, lists, sheet, WEIGHTS + seat)
        even_list(t, lists, sheet, WIDE + seat)
        t.plan[seat] = -1
        t.mode[seat] = SEARCHING
        return
    n = t.n_near
    _pick_rivals(lists.weight[WORTH, :n], lists.target[NEAR, :n], action, lists.weight[WEIGHED, :n])
    one_target(t, lists, WEIGHTS + seat, action)
    copy_near(t, lists, WIDE + seat)
    t.plan[seat] = action
    t.mode[seat] = WAITING if lists.short[place] <= 1 else BUILDING


@compiled
def lose(t: Any, lists: Any, sheet: Any, seat: int) -> None:
    """What the targets in mind lose by giving away one copy of each kind, in ``t.use``, nats."""
    row, rack, taste = WIDE + seat, t.racks[seat], t.params[seat, TASTE]
    reckon(t, sheet, seat, _PATIENCE, _GENEROUS)
    for k in range(N_KINDS):
        t.rack[k] = rack[k]
        t.use[k] = 0.0
    for i in range(t.n_list[row] if t.plan[seat] >= 0 else NONE):
        g, weight = lists.target[row, i], lists.weight[row, i]
        if not lists.fits[seat, g]:
            continue
        need = lists.left[left_row(t, seat), g]
        now = value_of(t, sheet, g, need, rack, taste, -np.inf)
        if now == -np.inf:
            continue
        n = sheet.n_slots[g]
        for s in range(n + 1):
            k = word(sheet.slot_kind[g, s]) if s < n else word(JOKER)
            if rack[k] == 0 or (s < n and rack[k] > need[s, 0] + need[s, 1]):
                continue
            t.rack[k] -= 1
            less = now - value_of(t, sheet, g, need, t.rack[:], taste, -np.inf)
            t.rack[k] += 1
            t.use[k] += weight * min(less, _MOST_LOSS)


@compiled
def warm(t: Any, lists: Any, sheet: Any, seat: int) -> float:
    """What others want, in ``t.heat``; returns what danger counts."""
    most, n = NONE, NONE
    for k in range(N_KINDS):
        t.free[k] = word(math.ceil(t.lives[k]))
        t.heat[k] = 0.0
    for other in range(4):
        if other == seat or not t.live[other]:
            continue
        n += 1
        most = max(most, t.n_groups[other])
        if t.n_groups[other] > 0:
            wanted_by_seat(t, lists, sheet, other)
            for k in range(N_KINDS):
                t.heat[k] += t.wanted[k]
        else:
            for k in range(N_KINDS):
                uses = sheet.first_use[k + 1] - sheet.first_use[k]
                t.heat[k] += uses / len(sheet.n_slots)
    for k in range(N_KINDS):
        t.heat[k] = t.heat[k] / max(n, ONE) if k != JOKER else 0.0
    early = 2.0 * t.wall_left / t.play_wall - 1.0
    if most >= 2:
        early -= _READY
    danger: float = t.params[seat, DANGER] * early
    return danger


@compiled
def throw(t: Any, lists: Any, sheet: Any, seat: int, passing: int) -> None:
    """What costs least chance; of that, what others want, early and not late."""
    lose(t, lists, sheet, seat)
    push = 0.0 if passing else warm(t, lists, sheet, seat)
    t.use[JOKER] += _JOKER_KEPT
    for k in range(N_KINDS):
        t.scores[k] = -t.use[k] / t.params[seat, THROW_SPREAD]
        if not passing:
            t.scores[k] += push * t.heat[k]


@compiled
def gain_of(after: float, now: float) -> float:
    """What a change gains, nats; see ``kinds.planner``."""
    return _NEVER if after == -np.inf else min(after - now, _MOST_LOSS)


@compiled
def claim(t: Any, lists: Any, sheet: Any, seat: int, mending: int) -> None:
    """Show what raises the chance by more than a toll."""
    params, row, taste = t.params[seat], WIDE + seat, t.params[seat, TASTE]
    careless, stay = params[CARELESSNESS], params[STAY]
    last = t.groups[seat, t.n_groups[seat] - 1]
    tile = last[0] if mending else t.offered
    rows_of(t, seat, mending)
    mass_of_groups(t, lists, sheet, row, t.n_list[row], tile)
    for a in range(N_CLAIMS):
        t.scores[a] = np.nan if t.legal[a] else -np.inf
    t.scores[0] = 0.0
    toll = params[TOLL]
    if mending:
        toll = 3.0 if t.mass[last[1]] > 0 else 1.0
    elif t.distance == 0:
        t.scores[WIN] = math.log(1 / careless - 1)
    now, known = 0.0, False
    for a in range(2, N_CLAIMS):
        size, jokers = (a - 2) // LARGEST + 1, (a - 2) % LARGEST
        if not t.legal[a] or t.mass[size] <= 0:
            continue
        if not known:
            reckon(t, sheet, seat, _PATIENCE, _GENEROUS)
            now, known = best_now(t, lists, sheet, seat, t.racks[seat], taste, stay), True
        for k in range(N_KINDS):
            t.rack[k] = t.racks[seat, k]
        t.rack[tile] += (last[1] - last[2] if mending else 1) - (size - jokers)
        t.rack[JOKER] += (last[2] if mending else 0) - jokers
        rows_of(t, seat, mending)
        lay_row(t, tile, size, jokers)
        gain = gain_of(best_shown(t, lists, sheet, seat, t.rack[:], taste, stay), now)
        t.scores[a] = _NEVER
        if gain > _NEVER:
            t.scores[a] = (gain - (toll + params[JOKER_TOLL] * jokers)) / params[CLAIM_SPREAD]
    slip(t, N_CLAIMS_, MISFIT * careless)


@compiled
def redeem(t: Any, lists: Any, sheet: Any, seat: int) -> None:
    """Give a natural for a joker where that does not cost chance."""
    taste, stay = t.params[seat, TASTE], t.params[seat, STAY]
    reckon(t, sheet, seat, _PATIENCE, _GENEROUS)
    now = best_now(t, lists, sheet, seat, t.racks[seat], taste, stay)
    for k in range(N_KINDS):
        t.rack[k] = t.racks[seat, k]
    t.scores[0] = 0.0
    for a in range(1, N_REDEEMS):
        t.scores[a] = 0.0
        if t.legal[a]:
            tile = (a - 1) % N_KINDS
            t.rack[tile] -= 1
            t.rack[JOKER] += 1
            gain = gain_of(best_now(t, lists, sheet, seat, t.rack[:], taste, stay), now)
            t.rack[tile] += 1
            t.rack[JOKER] -= 1
            t.scores[a] = (max(gain, -_MOST_LOSS) + _JOKER_LIKED) / t.params[seat, CLAIM_SPREAD]


@compiled
def scores(t: Any, lists: Any, sheet: Any, seat: int, decision: int) -> None:
    """Scores of every decision but the plan, in ``t.scores``."""
    if decision in (PASS, THROW):
        throw(t, lists, sheet, seat, ONE if decision == PASS else NONE)
    elif decision in (CLAIM, MEND):
        claim(t, lists, sheet, seat, ONE if decision == MEND else NONE)
    elif decision == REDEEM:
        redeem(t, lists, sheet, seat)
    elif not shared_scores(t, seat, decision):
        row = WEIGHTS + seat
        spare = use_of_tiles(t, lists, sheet, seat, row, t.n_list[row], 1.0)
        pass_numbers(t, seat, decision, spare)


def judgement(planner: kind.Planner, style: Style) -> dict[str, float]:
    """It lists its targets itself."""
    return {"points": 1.0, "spread": 1e-6, "every": 3.0}


def constants(planner: kind.Planner, style: Style) -> tuple[float, ...]:
    """Its own constants, in the order of the places above."""
    return (
        outlook.TASTE * style.taste,
        outlook.stay_of(style),
        kind.PLAN_SPREAD * style.temperature,
        kind.THROW_SPREAD * style.temperature,
        outlook.DANGER * (0.5 + style.caution) / style.temperature,
        kind.TOLL * (1.0 - style.eagerness),
        kind.JOKER_TOLL * style.thrift,
        kind.CLAIM_SPREAD * style.temperature,
    )


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


POLICY = Policy(kind.Planner, unit, judgement, constants)
