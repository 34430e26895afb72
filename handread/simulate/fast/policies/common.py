"""What all kinds do alike, compiled; the numbers are those of ``kinds.common``."""

from __future__ import annotations

import math
from typing import Any

import numpy as np

from handread.simulate.actions import N_REDEEMS
from handread.simulate.fast.compiled import compiled
from handread.simulate.fast.layout import (
    BLIND,
    CALL,
    CARELESSNESS,
    COURTESY,
    EARLY,
    MEMORY,
    N_REDEEMS_,
    SAY_WIN,
    TEMPERATURE,
)
from handread.simulate.kinds.common import CALLS, EARLY_REDEEM, FALSE_WIN


@compiled
def pass_numbers(t: Any, seat: int, decision: int, spare: float) -> None:
    """Scores of numbers in the passes, by how many tiles a seat can spare."""
    heat = t.params[seat, TEMPERATURE]
    if decision in (BLIND, COURTESY):
        wish = 3.0 - spare if decision == BLIND else spare - 1.0
        wish = min(max(wish, 0.0), 3.0)
        for n in range(4):
            t.scores[n] = -1.15 * abs(n - wish) / heat
    else:
        t.scores[0] = 0.0
        t.scores[1] = (0.85 * (2.5 - spare) - 1.1) / heat


@compiled
def slip(t: Any, n: int, rate: float) -> None:
    """Give a share `rate` to the legal actions whose score is NaN, in equal parts."""
    top, n_slips = -np.inf, 0
    for a in range(n):
        if math.isnan(t.scores[a]):
            n_slips += 1
        else:
            top = max(top, t.scores[a])
    each = -np.inf
    if n_slips > 0 and rate > 0 and top > -np.inf:
        total = 0.0
        for a in range(n):
            if t.scores[a] > -np.inf:
                total += math.exp(t.scores[a] - top)
        each = top + math.log(total) + math.log(rate / (1 - rate)) - math.log(n_slips)
    for a in range(n):
        if math.isnan(t.scores[a]):
            t.scores[a] = each


@compiled
def shared_scores(t: Any, seat: int, decision: int) -> bool:
    """Scores of the decisions that are no judgement of a hand; False for any other decision."""
    careless = t.params[seat, CARELESSNESS]
    if decision == SAY_WIN:
        says = 1 - careless if t.distance == 0 else FALSE_WIN * careless
        t.scores[0] = math.log(1 - says) if says < 1 else -np.inf
        t.scores[1] = math.log(says) if says > 0 else -np.inf
    elif decision == EARLY:
        for a in range(N_REDEEMS):
            t.scores[a] = np.nan if t.legal[a] else -np.inf
        t.scores[0] = 0.0
        slip(t, N_REDEEMS_, EARLY_REDEEM * careless)
    elif decision == CALL:
        calls = CALLS * t.params[seat, MEMORY]
        for a in range(5):
            t.scores[a] = math.log(calls) if calls > 0 else -np.inf
        t.scores[0] = math.log(1 - calls) if calls < 1 else -np.inf
    else:
        return False
    return True
