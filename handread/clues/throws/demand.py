"""The card's own demand: a kind that many hands ask for is held back a little by everybody."""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np

from handread.clues.codes import N_CODES, SPARE, Use
from handread.clues.context import Context
from handread.clues.contract import Clue, Table
from handread.tiles import JOKER, N_KINDS


def keep(context: Context, weights: Mapping[str, float]) -> Table:
    """Scores go down with the card's demand; most for a seat that has not decided."""
    score = np.zeros((N_CODES, N_KINDS))
    demand = context.demand[:JOKER]
    for use in (*SPARE, Use.EXPOSED, Use.DEAD):
        score[use, :JOKER] = weights["not_needed"] * demand
    score[Use.UNDECIDED, :JOKER] = weights["undecided"] * demand
    return score


CLUE = Clue(
    name="demand",
    version=1,
    about="Kinds that the card asks for in many hands are held back.",
    fits="{family} lets {tile} go, a tile that few hands of the card ask for",
    fits_not="{family} holds {tile} back, as a tile that many hands of the card ask for",
    against="{seat} taking {tile}",
    group="use of the tile",
    strength="weak",
    defaults={"not_needed": -0.15, "undecided": -0.5},
    keep=keep,
    change=keep,
    order=20,
    looks_at=("demand",),
)
