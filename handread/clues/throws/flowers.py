"""Flower timing: an early flower was not needed; a late one may have been part of the plan."""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np

from handread.clues.codes import N_CODES, NEEDED, SPARE, Use
from handread.clues.context import PHASES, Context
from handread.clues.contract import Clue, Table
from handread.tiles import FLOWER, N_KINDS


def keep(context: Context, weights: Mapping[str, float]) -> Table:
    """Unneeded flowers go early and seldom lie about until late."""
    score = np.zeros((N_CODES, N_KINDS))
    value = weights[f"not_needed_{PHASES[context.phase]}"]
    score[list(SPARE), FLOWER] = value
    score[Use.UNDECIDED, FLOWER] = weights["undecided"]
    return score


def change(context: Context, weights: Mapping[str, float]) -> Table:
    """A flower of the old plan goes when that plan is left."""
    score = keep(context, weights)
    score[np.array(NEEDED), FLOWER] = weights["leaving"]
    return score


CLUE = Clue(
    name="flowers",
    version=1,
    about="Early flowers were not needed; the first flower late speaks of a change.",
    fits="a flower thrown at this turn fits {family}",
    fits_not="a flower thrown at this turn does not fit {family}",
    against="{seat} showing flowers",
    group="order of throws",
    strength="fair",
    defaults={
        "not_needed_early": 0.4, "not_needed_middle": 0.0, "not_needed_late": -0.6,
        "undecided": -0.2, "leaving": 0.6,
    },
    keep=keep,
    change=change,
    order=40,
    looks_at=("phase",),
)  # fmt: skip
