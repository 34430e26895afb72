"""Own earlier throws: a kind thrown before and thrown again was truly not needed."""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np

from handread.clues.codes import N_CODES, NEEDED, SPARE
from handread.clues.context import Context
from handread.clues.contract import Clue, Table
from handread.tiles import JOKER, N_KINDS
from handread.values import frozen

_NEEDED, _SPARE = frozen(np.array(NEEDED)), frozen(np.array(SPARE))


def keep(context: Context, weights: Mapping[str, float]) -> Table:
    """Each earlier throw of the kind, up to two, counts against plans that need it."""
    score = np.zeros((N_CODES, N_KINDS))
    earlier = np.minimum(context.own_thrown[:JOKER], 2)
    score[_NEEDED, :JOKER] = weights["needed"] * earlier
    score[_SPARE, :JOKER] = weights["not_needed"] * earlier
    return score


CLUE = Clue(
    name="repeats",
    version=1,
    about="A kind that the seat threw before is thrown again by plans without it.",
    fits="{seat} has thrown {tile} before, and {family} throws it again",
    fits_not="{seat} has thrown {tile} before; thrown again, it was never part of {family}",
    against="{seat} taking {tile}",
    group="order of throws",
    strength="strong",
    defaults={"needed": -0.7, "not_needed": 0.3},
    keep=keep,
    order=50,
    counts=("own_thrown", 2),
)
