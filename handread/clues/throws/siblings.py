"""Hedging: a tile that the plan does not need is kept while targets near the plan could use it."""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np

from handread.clues.codes import N_CODES, Use
from handread.clues.context import PHASES, Context
from handread.clues.contract import Clue, Table
from handread.tiles import JOKER, N_KINDS


def keep(context: Context, weights: Mapping[str, float]) -> Table:
    """Less likely the more of the near targets need the kind; hedging fades with the turns."""
    score = np.zeros((N_CODES, N_KINDS))
    scale = weights[f"scale_{PHASES[context.phase]}"]
    score[Use.NEAR_SOME, :JOKER] = weights["some"] * scale
    score[Use.NEAR_MUCH, :JOKER] = weights["much"] * scale
    return score


CLUE = Clue(
    name="siblings",
    version=1,
    about="Tiles that targets near the plan could use are kept a little.",
    fits="no plan near {family} wants {tile}",
    fits_not="plans near {family} could use {tile}, so whoever builds it would hold it a while",
    against="{seat} showing a group next to {tile}",
    group="use of the tile",
    strength="weak",
    defaults={
        "some": -0.35, "much": -0.8, "scale_early": 1.0, "scale_middle": 0.8, "scale_late": 0.5,
    },
    keep=keep,
    order=15,
    looks_at=("phase",),
)  # fmt: skip
