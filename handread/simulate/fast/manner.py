"""Where a throw comes from and how long it takes, compiled; see ``handread.simulate.manner``."""

from __future__ import annotations

import math
from typing import Any

import numpy as np

from handread.simulate import manner
from handread.simulate.actions import PAUSES
from handread.simulate.fast.compiled import compiled
from handread.simulate.fast.layout import (
    BLUFF,
    MINUS,
    PAUSE,
    PLACE,
    SLOWNESS,
)
from handread.tiles import JOKER

_ALONE, _OF_GROUP = manner.MIDDLE_ALONE, manner.MIDDLE_OF_GROUP
_AFTER_SHOWING, _SPREAD = manner.LONG_AFTER_SHOWING, manner.PAUSE_SPREAD
_WITH_NONE, _WITH_ONE, _WITH_MORE = manner.LONG_WITH
_SHORT, _LONG = manner.SHORT, manner.LONG
_LOG_PAUSES = tuple(math.log(pause) for pause in PAUSES)


@compiled
def passed_up(t: Any, seat: int) -> int:
    """Throw before a seat's turn, if it could have taken it and nobody did; -1 for none."""
    if t.last_seat == seat or t.last_taken >= 0 or t.last_kind == JOKER:
        return MINUS
    kind: int = t.last_kind
    return kind


@compiled
def _turned(prob: float, bluff: float) -> float:
    return (1 - bluff) * prob + bluff * (1 - prob)


@compiled
def _thinks_long(t: Any, seat: int) -> float:
    """Probability of a long thought before the throw."""
    bluff = t.params[seat, BLUFF]
    if t.last_taken == seat:
        return _turned(_AFTER_SHOWING, bluff)
    copies = 0
    if t.offered >= 0:
        copies = t.racks[seat, t.offered]
        if t.just_drawn == t.offered:
            copies -= 1
    if copies <= 0:
        return _turned(_WITH_NONE, bluff)
    return _turned(_WITH_ONE if copies == 1 else _WITH_MORE, bluff)


@compiled
def _add_lengths(t: Any, median: float, share: float) -> None:
    """Add a share of the probability of each pause for a thought of that median."""
    middle, top, total = math.log(median), -np.inf, 0.0
    for a in range(len(_LOG_PAUSES)):
        away = (_LOG_PAUSES[a] - middle) / _SPREAD
        top = max(top, -0.5 * away * away)
    for a in range(len(_LOG_PAUSES)):
        away = (_LOG_PAUSES[a] - middle) / _SPREAD
        t.share[a] = math.exp(-0.5 * away * away - top)
        total += t.share[a]
    for a in range(len(_LOG_PAUSES)):
        t.scores[a] += share * (t.share[a] / total)


@compiled
def manner_scores(t: Any, seat: int, decision: int) -> bool:
    """Scores of "place" and "pause" in ``t.scores``; False for any other decision."""
    if decision == PLACE:
        held = t.racks[seat, t.offered]
        middle = _turned(_OF_GROUP if held >= 2 else _ALONE, t.params[seat, BLUFF])
        t.scores[0] = math.log(1 - middle) if middle < 1 else -np.inf
        t.scores[1] = math.log(middle) if middle > 0 else -np.inf
        return True
    if decision != PAUSE:
        return False
    long, slowness = _thinks_long(t, seat), t.params[seat, SLOWNESS]
    for a in range(len(_LOG_PAUSES)):
        t.scores[a] = 0.0
    _add_lengths(t, _SHORT * slowness, 1 - long)
    _add_lengths(t, _LONG * slowness, long)
    for a in range(len(_LOG_PAUSES)):
        t.scores[a] = math.log(t.scores[a]) if t.scores[a] > 0 else -np.inf
    return True
