"""The weigher, compiled; see ``handread.simulate.kinds.weigher``."""

from __future__ import annotations

import math
from typing import Any

import numpy as np

from handread.simulate.actions import LARGEST, N_CLAIMS, N_REDEEMS, WIN
from handread.simulate.fast.compiled import compiled, entry, lists_at, sheet_at, table_at
from handread.simulate.fast.layout import (
    AWARE,
    BUILDING,
    CARELESSNESS,
    CLAIM,
    EVEN,
    FLEXIBILITY,
    MEND,
    N_CLAIMS_,
    NEAR,
    NONE,
    ONE,
    OWN,
    PAIR_COST,
    PASS,
    REDEEM,
    SCORE,
    SCORE_PLAN,
    SEARCHING,
    SETTLE,
    SPREAD,
    THROW,
    WAITING,
    WEIGHED,
    WEIGHTS,
    WIDE,
    WORK,
)
from handread.simulate.fast.near import look, value_now, value_shown, weigh_near
from handread.simulate.fast.policies.common import pass_numbers, shared_scores, slip
from handread.simulate.fast.policies.policy import Policy
from handread.simulate.fast.use import mass_of_groups, use_of_tiles
from handread.simulate.fast.ways import lay_row, rows_of
from handread.simulate.fast.weighted import copy_list, copy_near, even_list, one_target
from handread.simulate.fast.worth import count_costs
from handread.simulate.kinds import weigher as kind
from handread.simulate.kinds.common import MISFIT
from handread.simulate.player import Style
from handread.tiles import JOKER, N_KINDS

#: Own constants.
SURE, TOLL, JOKER_TOLL, THROW_SPREAD = OWN, OWN + 1, OWN + 2, OWN + 3


@compiled
def plan(t: Any, lists: Any, sheet: Any, seat: int) -> None:
    """Commit, stay open, or leave the plan for another."""
    score, weight, n = lists.weight[SCORE], lists.weight[WEIGHED], t.n_near
    t.open_score = t.fold_score = -np.inf
    if not weigh_near(t, lists, seat):
        t.open_score = 0.0
        return
    top, held = 0.0, False
    for i in range(n):
        top = max(top, weight[i])
        held = held or (weight[i] > 0.0 and lists.target[NEAR, i] == t.plan[seat])
    more = 0.0
    if not held:
        pull = 9.0 * (top - t.params[seat, SURE]) + 0.18 * (t.turns[seat] - 4)
        commits = 1.0 / (1.0 + math.exp(-(pull + 1.0 * t.n_groups[seat])))
        more = math.log(commits)
        t.open_score = math.log(1.0 - commits) if commits < 1.0 else -np.inf
    for i in range(n):
        score[i] += more


@compiled
def settle(t: Any, lists: Any, sheet: Any, seat: int, action: int, place: int) -> None:
    """Mind after a look: one target, or all that weigh."""
    copy_near(t, lists, WIDE + seat)
    wide = t.n_list[WIDE + seat] > 0
    if place >= 0:
        one_target(t, lists, WEIGHTS + seat, action)
        t.plan[seat] = action
        t.mode[seat] = WAITING if lists.short[place] <= 1 else BUILDING
        return
    nearest = len(sheet.n_slots)
    if wide:
        copy_list(t, lists, WIDE + seat, WEIGHTS + seat)
        for i in range(t.n_near):
            if lists.weight[WEIGHED, i] > 0.0:
                nearest = min(nearest, lists.short[i])
    elif t.n_list[WEIGHTS + seat] == EVEN:
        even_list(t, lists, sheet, WEIGHTS + seat)
    t.plan[seat] = -1
    t.mode[seat] = WAITING if nearest <= 1 else SEARCHING


@compiled
def use(t: Any, lists: Any, sheet: Any, seat: int) -> float:
    """Use of each tile to the weights in mind, the plan counting most."""
    plan, row, n = t.plan[seat], WIDE + seat, t.n_list[WIDE + seat]
    target, weight = lists.target[WORK], lists.weight[WORK]
    aside = 0.35 * t.params[seat, FLEXIBILITY] if plan >= 0 else 1.0
    m, laid = NONE, plan < 0
    for i in range(n):
        g = lists.target[row, i]
        if not laid and g > plan:
            target[m], weight[m] = plan, 1.0 - aside
            laid, m = True, m + 1
        target[m], weight[m] = g, aside * lists.weight[row, i]
        if g == plan:
            weight[m] = (1.0 - aside) + weight[m]
            laid = True
        m += 1
    if not laid:
        target[m], weight[m] = plan, 1.0 - aside
        m += 1
    spare: float = use_of_tiles(t, lists, sheet, seat, WORK, m, t.judge[seat, PAIR_COST])
    return spare


@compiled
def throw(t: Any, lists: Any, sheet: Any, seat: int) -> None:
    """What serves least."""
    use(t, lists, sheet, seat)
    spread = t.params[seat, THROW_SPREAD]
    for k in range(N_KINDS):
        t.scores[k] = -t.use[k] / spread
    t.scores[JOKER] -= 0.35 / spread


@compiled
def claim(t: Any, lists: Any, sheet: Any, seat: int, mending: int) -> None:
    """Show what is worth more shown than not."""
    params, row = t.params[seat], WIDE + seat
    careless, spread = params[CARELESSNESS], t.judge[seat, SPREAD]
    last = t.groups[seat, t.n_groups[seat] - 1]
    kind = last[0] if mending else t.offered
    rows_of(t, seat, mending)
    mass_of_groups(t, lists, sheet, row, t.n_list[row], kind)
    for a in range(N_CLAIMS):
        t.scores[a] = np.nan if t.legal[a] else -np.inf
    t.scores[0] = 0.0
    if not mending and t.distance == 0:
        t.scores[WIN] = math.log(1 / careless - 1)
    toll = 1.0 if mending else params[TOLL]
    if mending and t.mass[last[1]] > 0:
        toll += 2.0
    now, known = 0.0, False
    for a in range(2, N_CLAIMS):
        size, jokers = (a - 2) // LARGEST + 1, (a - 2) % LARGEST
        if not t.legal[a] or t.mass[size] <= 0:
            continue
        if not known:
            look(t, sheet, seat)
            count_costs(t, sheet, t.judge[seat, AWARE])
            now, known = value_now(t, lists, sheet, seat, t.racks[seat]), True
        _rack_before(t, seat, kind, mending)
        t.rack[kind] -= size - jokers
        t.rack[JOKER] -= jokers
        rows_of(t, seat, mending)
        lay_row(t, kind, size, jokers)
        gain = value_shown(t, lists, sheet, seat, t.rack[:], kind) - now
        t.scores[a] = (gain - (toll + params[JOKER_TOLL] * jokers)) / spread
        if not math.isfinite(gain):
            t.scores[a] = -30.0
    slip(t, N_CLAIMS_, MISFIT * careless)


@compiled
def _rack_before(t: Any, seat: int, kind: int, mending: int) -> None:
    """Rack with the tile claimed, or with the group just shown, in ``t.rack``."""
    for k in range(N_KINDS):
        t.rack[k] = t.racks[seat, k]
    if mending:
        last = t.groups[seat, t.n_groups[seat] - 1]
        t.rack[kind] += last[1] - last[2]
        t.rack[JOKER] += last[2]
    else:
        t.rack[kind] += 1


@compiled
def redeem(t: Any, lists: Any, sheet: Any, seat: int) -> None:
    """Give a natural for a joker where the rack is worth more with it."""
    look(t, sheet, seat)
    count_costs(t, sheet, t.judge[seat, AWARE])
    now = value_now(t, lists, sheet, seat, t.racks[seat])
    for k in range(N_KINDS):
        t.rack[k] = t.racks[seat, k]
    t.scores[0] = 0.0
    for a in range(1, N_REDEEMS):
        t.scores[a] = 0.0
        if t.legal[a]:
            kind = (a - 1) % N_KINDS
            t.rack[kind] -= 1
            t.rack[JOKER] += 1
            gain = value_now(t, lists, sheet, seat, t.rack[:]) - now
            t.rack[kind] += 1
            t.rack[JOKER] -= 1
            t.scores[a] = gain / t.judge[seat, SPREAD] if math.isfinite(gain) else 0.0


@compiled
def scores(t: Any, lists: Any, sheet: Any, seat: int, decision: int) -> None:
    """Scores of every decision but the plan, in ``t.scores``."""
    if decision in (PASS, THROW):
        throw(t, lists, sheet, seat)
    elif decision in (CLAIM, MEND):
        claim(t, lists, sheet, seat, ONE if decision == MEND else NONE)
    elif decision == REDEEM:
        redeem(t, lists, sheet, seat)
    elif not shared_scores(t, seat, decision):
        pass_numbers(t, seat, decision, use(t, lists, sheet, seat))


def judgement(weigher: kind.Weigher, style: Style) -> dict[str, float]:
    """How it judges the way to a target."""
    by = weigher.judgement
    return {
        "pair_cost": by.pair_cost,
        "joker_cost": by.joker_cost,
        "aware": by.aware,
        "points": by.taste * style.taste,
        "hidden": 1.25,
        "spread": by.spread * style.temperature,
        "stay": weigher.stay(style),
    }


def constants(weigher: kind.Weigher, style: Style) -> tuple[float, ...]:
    """Its own constants, in the order of the places above."""
    by = weigher.judgement
    return (
        by.sure,
        by.toll * (1.0 - style.eagerness),
        by.joker_toll * style.thrift,
        by.throw_spread * style.temperature,
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


POLICY = Policy(kind.Weigher, unit, judgement, constants)
