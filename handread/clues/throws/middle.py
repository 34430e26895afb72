"""A middle number thrown out of a plan that used it: a plan is being left."""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np

from handread.clues.codes import N_CODES, NEEDED, Use
from handread.clues.context import Context
from handread.clues.contract import Clue, Table, no_score
from handread.tiles import FIRST_WIND, N_KINDS, number_of
from handread.values import frozen

_MIDDLE = frozen(np.array([k for k in range(FIRST_WIND) if number_of(k) in (4, 5, 6)]))


def change(context: Context, weights: Mapping[str, float]) -> Table:
    """On a changing turn the needed middle numbers and pairs of the old plan go first."""
    score = np.zeros((N_CODES, N_KINDS))
    score[np.ix_(np.array(NEEDED), _MIDDLE)] = weights["middle"]
    score[Use.PAIR, :FIRST_WIND] += weights["pair_broken"]
    return score


CLUE = Clue(
    name="middle",
    version=1,
    about="Middle numbers and pairs of the old plan are thrown on a changing turn.",
    fits="{tile} thrown now looks like another plan being left for {family}",
    fits_not="{tile} thrown now looks like {family} being left",
    against="{seat} showing a group of the old plan",
    group="change of plan",
    strength="fair",
    defaults={"middle": 0.4, "pair_broken": 0.4},
    keep=no_score,
    change=change,
    order=60,
    looks_at=(),
)
