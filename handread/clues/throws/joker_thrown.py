"""A joker thrown: the seat cannot use it, or waits for a single or a pair only."""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np

from handread.clues.codes import N_CODES, Use
from handread.clues.context import Context
from handread.clues.contract import Clue, Table
from handread.tiles import JOKER, N_KINDS


def keep(context: Context, weights: Mapping[str, float]) -> Table:
    """Plans with no group left for a joker throw one more the more groups they have shown."""
    score = np.zeros((N_CODES, N_KINDS))
    shown = min(context.n_exposed, 3)
    score[Use.JOKER_UNWANTED, JOKER] = weights["per_exposure"] * shown
    score[Use.JOKER_UNWANTED, JOKER] += weights["late"] * (context.phase == 2)
    return score


CLUE = Clue(
    name="joker_thrown",
    version=1,
    about="Jokers are thrown by plans that have no group left for them, above all when near.",
    fits="{family} has no group left for a joker",
    fits_not="{family} could still use a joker",
    against="{seat} taking a joker in a redeem",
    group="jokers",
    strength="strong",
    defaults={"per_exposure": 0.5, "late": 0.5},
    keep=keep,
    order=75,
    looks_at=("n_exposed", "phase"),
)
