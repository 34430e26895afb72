"""What a seat lets others see while it throws: from where in the rack, after how long.

No judgement of a hand, the same for every kind of player: ``Player`` answers these decisions
before it asks its kind. All of it is scripted, the rates are guesses. A tile lifted from the
middle of a rack comes out of a group, one from its end from the rejects; a pause says that the
throw before was worth a thought. Both are lore, and both are common practice with no source.
A person shows the opposite with probability ``Style.bluff``.
"""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Final

import numpy as np
from numpy.typing import NDArray

from handread.simulate.actions import PAUSES
from handread.tiles import JOKER

if TYPE_CHECKING:
    from handread.simulate.player import Style
    from handread.simulate.view import View
    from handread.table.state import TableState

#: Decisions that are answered here.
MANNERS: Final = ("place", "pause")
#: Probability that a tile comes from the middle: one that is held once, and one held more often.
MIDDLE_ALONE: Final = 0.2
MIDDLE_OF_GROUP: Final = 0.7
#: Probability of thinking long: just after an exposure, and with no copy, one, and two or more of
#: the throw before.
LONG_AFTER_SHOWING: Final = 0.05
LONG_WITH: Final = (0.2, 0.45, 0.75)
#: Median seconds of a short and a long thought, and the standard deviation of their logarithm.
SHORT: Final = 1.8
LONG: Final = 6.0
PAUSE_SPREAD: Final = 0.5


def turned(prob: float, bluff: float) -> float:
    """Probability of a sign by a person who shows the opposite with probability `bluff`.

    >>> turned(0.7, 0.0), turned(0.7, 0.5), turned(0.7, 1.0)
    (0.7, 0.5, 0.30000000000000004)
    """
    return (1 - bluff) * prob + bluff * (1 - prob)


def middle(style: Style, view: View) -> float:
    """Probability that the tile thrown comes from the middle of the rack."""
    held = 0 if view.offered is None else int(view.rack[view.offered])
    return turned(MIDDLE_OF_GROUP if held >= 2 else MIDDLE_ALONE, style.bluff)


def thinks_long(style: Style, view: View) -> float:
    """Probability of a long thought before the throw."""
    floor = view.state.floor
    if floor and floor[-1].taken_by == view.seat:
        return turned(LONG_AFTER_SHOWING, style.bluff)
    copies = 0
    if view.offered is not None:  # a copy drawn since then could not have gone with it
        copies = int(view.rack[view.offered]) - (view.drawn == view.offered)
    return turned(LONG_WITH[min(max(copies, 0), 2)], style.bluff)


def passed_up(state: TableState, seat: int) -> int | None:
    """The throw before a seat's turn, if the seat could have taken it and nobody did."""
    last = state.floor[-1] if state.floor else None
    if last is None or last.seat == seat or last.taken_by is not None or last.kind == JOKER:
        return None
    return last.kind


def lengths(median: float) -> NDArray[np.float64]:
    """Probability of each of ``PAUSES`` for a thought of that median, shape (n_pauses,).

    >>> [round(float(p), 2) for p in lengths(2.0)]
    [0.01, 0.16, 0.43, 0.31, 0.08, 0.01, 0.0, 0.0]
    """
    away = (np.log(PAUSES) - math.log(median)) / PAUSE_SPREAD
    scores = -0.5 * away * away
    odds = np.exp(scores - scores.max())
    return np.asarray(odds / odds.sum(), dtype=np.float64)


def manner_scores(style: Style, view: View) -> NDArray[np.float64]:
    """Scores of the actions of one of ``MANNERS``: log probabilities."""
    if view.decision == "place":
        from_middle = middle(style, view)
        probs = np.array([1 - from_middle, from_middle])
    else:
        long = thinks_long(style, view)
        short, slow = lengths(SHORT * style.slowness), lengths(LONG * style.slowness)
        probs = (1 - long) * short + long * slow
    with np.errstate(divide="ignore"):  # nobody thinks so long, or so briefly
        return np.asarray(np.log(probs), dtype=np.float64)
