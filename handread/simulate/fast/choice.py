"""From scores to one action: the compiled twin of ``handread.simulate.choice``."""

from __future__ import annotations

import math
from typing import Any

import numpy as np

from handread.simulate.fast.compiled import compiled
from handread.simulate.fast.layout import (
    MINUS,
    MORE_UNIFORMS,
    MOST_DECISIONS,
    NEAR,
    NO_ACTION,
    PLAN,
    SCORE,
    WORK,
)


@compiled
def rounded(score: float) -> float:
    """Score to six decimals, so that sums in another order agree."""
    value: float = np.rint(score * 1e6) / 1e6
    return value


@compiled
def next_uniform(t: Any, lists: Any) -> float:
    """Next number in [0, 1); asks for a longer supply when it is used up."""
    at = t.next_uniform
    t.next_uniform += 1
    if at >= len(lists.uniforms):
        t.status = MORE_UNIFORMS
        return 0.5
    value: float = lists.uniforms[at]
    return value


@compiled
def note_decision(t: Any, book: Any, seat: int, decision: int, action: int) -> None:
    """Put a decision on the book, if decisions are kept."""
    if book.keep_decisions and book.n_decisions < MOST_DECISIONS:
        at = book.n_decisions
        book.decisions[at, 0] = seat
        book.decisions[at, 1] = decision
        book.decisions[at, 2] = action
        book.log_probs[at] = t.log_prob
        book.n_decisions += 1


@compiled
def draw_action(t: Any, u: float, n: int) -> int:
    """Action at quantile `u` by ``t.scores`` over ``t.legal``; its log probability is noted."""
    top = -np.inf
    for a in range(n):
        if t.legal[a]:
            t.scores[a] = rounded(t.scores[a])
            top = max(top, t.scores[a])
    if not (top > -np.inf and top < np.inf):
        t.status = NO_ACTION
        return 0
    total = 0.0
    for a in range(n):
        if t.legal[a]:
            t.share[a] = math.exp(t.scores[a] - top)
            total += t.share[a]
    aim, so_far, found = u * total, 0.0, MINUS
    for a in range(n):
        if t.legal[a] and t.scores[a] > -np.inf:
            found = a
            so_far += t.share[a]
            if so_far > aim:
                break
    t.log_prob = t.scores[found] - top - math.log(total)
    return found


@compiled
def draw_plan(t: Any, lists: Any, book: Any, n_targets: int, seat: int) -> int:
    """Plan at the next quantile: the scores of near targets in row SCORE, then open, then fold."""
    score, odds, n = lists.weight[SCORE], lists.weight[WORK], t.n_near
    score[n] = t.open_score
    score[n + 1] = t.fold_score
    top = -np.inf
    for i in range(n + 2):
        score[i] = rounded(score[i])
        top = max(top, score[i])
    if not (top > -np.inf and top < np.inf):
        t.status = NO_ACTION
        return n_targets
    total = 0.0
    for i in range(n + 2):
        odds[i] = math.exp(score[i] - top) if score[i] > -np.inf else 0.0
        total += odds[i]
    aim, so_far, found = next_uniform(t, lists) * total, 0.0, MINUS
    for i in range(n + 2):
        if odds[i] > 0.0:
            found = i
            so_far += odds[i]
            if so_far > aim:
                break
    t.log_prob = score[found] - top - math.log(total)
    action = lists.target[NEAR, found] if found < n else n_targets + found - n
    note_decision(t, book, seat, PLAN, action)
    return action
