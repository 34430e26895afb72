"""Safety: a seat that defends throws what the table has seen, and what was just let pass."""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np

from handread.clues.codes import N_CODES, Use
from handread.clues.context import Context
from handread.clues.contract import Clue, Table
from handread.tiles import JOKER, N_KINDS


def keep(context: Context, weights: Mapping[str, float]) -> Table:
    """Copies seen make a kind safe, and so does a throw that nobody took a moment ago."""
    score = np.zeros((N_CODES, N_KINDS))
    score[Use.DEFENDING, :JOKER] = weights["per_copy_seen"] * np.minimum(context.seen[:JOKER], 3)
    score[Use.DEFENDING, JOKER] = weights["joker"] + context.few_left * weights["late_joker"]
    if context.last_unclaimed is not None and context.last_unclaimed != JOKER:
        score[Use.DEFENDING, context.last_unclaimed] += weights["follow"]
    return score


CLUE = Clue(
    name="safety",
    version=1,
    about="A defending seat throws seen tiles and follows throws that nobody took.",
    fits="{tile} was safe, and {family} throws what is safe",
    fits_not="{tile} was not the safest tile for {family} to throw",
    against="{seat} taking a tile, or throwing one that nobody has seen",
    group="defence",
    strength="fair",
    defaults={
        "per_copy_seen": 0.9, "follow": 0.8, "joker": 2.0, "late_joker": 1.0,
    },
    keep=keep,
    order=70,
    counts=("seen", 3),
    counts_beside=("last_unclaimed", "few_left"),
)  # fmt: skip
