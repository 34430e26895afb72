"""Following: a tile that another seat has just thrown, and nobody took, is thrown next."""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np

from handread.clues.codes import N_CODES, SPARE, Use
from handread.clues.context import Context
from handread.clues.contract import Clue, Table
from handread.tiles import JOKER, N_KINDS


def keep(context: Context, weights: Mapping[str, float]) -> Table:
    """Unneeded tiles are thrown a little more when they have just been let pass."""
    score = np.zeros((N_CODES, N_KINDS))
    kind = context.last_unclaimed
    if kind is not None and kind != JOKER:
        score[list(SPARE), kind] = weights["not_needed"]
        score[[Use.UNDECIDED, Use.OTHER], kind] = weights["no_plan"]
    return score


CLUE = Clue(
    name="following",
    version=1,
    about="Builders, too, follow a throw that nobody took with an unneeded tile of the kind.",
    fits="{tile} had just been let pass, and {family} follows",
    fits_not="{tile} had just been let pass, which says little for {family}",
    against="{seat} throwing tiles that nobody has seen",
    group="defence",
    strength="weak",
    defaults={"not_needed": 0.15, "no_plan": 0.15},
    keep=keep,
    order=72,
    looks_at=("last_unclaimed",),
)
