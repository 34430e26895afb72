"""What all kinds do alike, none of it a judgement of a hand: slips, calls, the last tile."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from handread.simulate.choice import Scores, with_slips
from handread.simulate.player import Habit, Style
from handread.simulate.view import View

#: Of the decisions in which a person could err, those in which the error is a win that is
#: none, and a redeem before drawing, per unit of carelessness (guesses).
FALSE_WIN = 0.02
EARLY_REDEEM = 0.1
MISFIT = 0.1
#: Probability that a person who has the floor in mind calls a hand that is plainly dead.
CALLS = 0.6

SHARED_HABITS = (
    Habit(
        "overlooks a win", "scripted",
        "with probability `carelessness` a complete hand is not seen; a guess",
    ),
    Habit(
        "errs", "scripted",
        "rarely says a win that is none, shows a group that fits no hand, or redeems before "
        "drawing; rates per unit of `carelessness` are guesses",
    ),
    Habit(
        "calls dead hands", "scripted",
        "more often the better it remembers the floor; some tables never do",
    ),
    Habit(
        "stops the passes when near", "scripted",
        "the fewer tiles it can spare, the likelier; lore",
    ),
    Habit(
        "sends tiles on unseen when it has none to give", "scripted",
        "and offers more in the courtesy the more it has; lore",
    ),
    Habit(
        "lifts a tile out of its groups", "scripted",
        "what it holds twice comes from the middle of the rack more often than a reject; lore, "
        "rates are guesses; turned round with probability `bluff`",
    ),
    Habit(
        "thinks over what it let pass", "scripted",
        "longer when it holds copies of the throw before, briefly when it has just shown; lore, "
        "rates and seconds are guesses; turned round with probability `bluff`",
    ),
)  # fmt: skip


def win_scores(style: Style, view: View) -> Scores:
    """Scores of saying nothing and of saying "I have won"."""
    says = 1 - style.carelessness if view.distance == 0 else FALSE_WIN * style.carelessness
    return np.log([1 - says, says])


def early_scores(style: Style, view: View) -> Scores:
    """Scores of redeeming before drawing: a slip."""
    slips = view.legal.copy()
    slips[0] = False
    scores = np.where(view.legal, 0.0, -np.inf)
    return with_slips(scores, slips, EARLY_REDEEM * style.carelessness)


def call_scores(style: Style, view: View) -> Scores:
    """Scores of calling a hand dead that all can see is dead."""
    calls = CALLS * style.memory
    scores = np.full(len(view.legal), np.log(calls))
    scores[0] = np.log(1 - calls)
    return scores


def pass_numbers(style: Style, view: View, spare: float) -> Scores:
    """Scores of numbers in the passes, by how many tiles a seat can spare.

    Parameters
    ----------
    style
        The person's way.
    view
        A "blind", "courtesy" or "stop" decision.
    spare
        Expected number of tiles that no target wants.
    """
    n = np.arange(len(view.legal))
    if view.decision == "blind":
        scores = -1.15 * np.abs(n - np.clip(3 - spare, 0, 3))
    elif view.decision == "courtesy":
        scores = -1.15 * np.abs(n - np.clip(spare - 1, 0, 3))
    else:
        scores = np.where(n == 1, 0.85 * (2.5 - spare) - 1.1, 0.0)
    return np.asarray(scores / style.temperature, dtype=np.float64)


def shown_without_last(view: View) -> NDArray[np.int64]:
    """The seat's exposures but the one just shown, for the kernels."""
    groups = view.state.exposures[view.seat][:-1]
    rows = sorted(((g.kind, g.size, g.jokers) for g in groups), key=lambda row: row[2] == 0)
    return np.array(rows, dtype=np.int64).reshape(-1, 3)
