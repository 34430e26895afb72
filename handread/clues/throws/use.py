"""Use of the tile: what a plan still needs is kept, what it does not need is thrown."""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np

from handread.clues.codes import N_CODES, NEEDED, Use
from handread.clues.context import PHASES, Context
from handread.clues.contract import Clue, Table
from handread.tiles import JOKER, N_KINDS

_NAMES = {
    Use.SINGLE: "single", Use.PAIR: "pair", Use.PUNG: "pung", Use.KONG: "kong",
    Use.QUINT: "quint", Use.SEXTET: "sextet", Use.EXPOSED: "exposed", Use.DEAD: "dead",
}  # fmt: skip


def keep(context: Context, weights: Mapping[str, float]) -> Table:
    """Less likely the more the plan needs the kind, and the later the phase."""
    score = np.zeros((N_CODES, N_KINDS))
    scale = weights[f"scale_{PHASES[context.phase]}"]
    for use, name in _NAMES.items():
        score[use, :JOKER] = weights[name] * (scale if use in NEEDED else 1.0)
    return _jokers(score, weights)


def change(context: Context, weights: Mapping[str, float]) -> Table:
    """On a changing turn the tiles of the old plan are on their way out."""
    score = np.zeros((N_CODES, N_KINDS))
    for use in NEEDED:
        score[use, :JOKER] = weights["leaving"]
    return _jokers(score, weights)


def _jokers(score: Table, weights: Mapping[str, float]) -> Table:
    score[Use.JOKER_WANTED, JOKER] = weights["joker_wanted"]
    score[Use.JOKER_UNWANTED, JOKER] = weights["joker_unwanted"]
    score[Use.UNDECIDED :, JOKER] = weights["joker_no_plan"]
    return score


CLUE = Clue(
    name="use",
    version=1,
    about="Needed tiles are kept, tiles without use are thrown.",
    fits="{family} has no use for {tile}",
    fits_not="{tile} is of use to {family}, and whoever builds it would rather keep it",
    against="{seat} taking {tile}, or keeping it when others throw it",
    group="use of the tile",
    strength="fair",
    defaults={
        "single": -1.6, "pair": -2.2, "pung": -1.9, "kong": -2.0, "quint": -2.0, "sextet": -2.0,
        "exposed": -0.2, "dead": 0.3, "leaving": 0.6,
        "joker_wanted": -5.0, "joker_unwanted": -2.0, "joker_no_plan": -4.0,
        "scale_early": 0.6, "scale_middle": 1.0, "scale_late": 1.15,
    },
    keep=keep,
    change=change,
    order=10,
    looks_at=("phase",),
)  # fmt: skip
