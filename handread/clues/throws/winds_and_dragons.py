"""Winds and dragons thrown in the first turns: routine tidying by plans that need none."""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np

from handread.clues.codes import N_CODES, SPARE, Use
from handread.clues.context import Context
from handread.clues.contract import Clue, Table
from handread.tiles import FIRST_WIND, FLOWER, N_KINDS


def keep(context: Context, weights: Mapping[str, float]) -> Table:
    """Unneeded winds and dragons go first; seen late, they were not lying there unneeded."""
    score = np.zeros((N_CODES, N_KINDS))
    value = weights[("early", "middle", "late")[context.phase]]
    score[list(SPARE), FIRST_WIND:FLOWER] = value
    score[Use.UNDECIDED, FIRST_WIND:FLOWER] = value * weights["undecided_share"]
    return score


CLUE = Clue(
    name="winds_and_dragons",
    version=1,
    about="Unneeded winds and dragons are thrown in the first turns.",
    fits="{family} without {tile} tidies it away about now",
    fits_not="{family} would have thrown {tile} at another time, or kept it",
    against="{seat} showing winds or dragons",
    group="order of throws",
    strength="weak",
    defaults={"early": 0.5, "middle": 0.0, "late": -0.3, "undecided_share": 0.6},
    keep=keep,
    change=keep,
    order=30,
    looks_at=("phase",),
)
