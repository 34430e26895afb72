"""Wins, and drawing on without winning: how ready a seat is, and for which kind."""

from __future__ import annotations

import math
from collections.abc import Mapping
from typing import Final

import numpy as np
from numpy.typing import NDArray

from handread.clues.codes import N_UNMODELLED
from handread.clues.context import Context

VERSION: Final = 1
SENTENCES: Final = (
    "{family} was within reach of this win",
    "{family} was hardly within reach of this win",
)

Array = NDArray[np.float64]


def prob_ready(context: Context, weights: Mapping[str, float]) -> float:
    """Probability that a seat on a target is one tile away, by its turns and exposures."""
    x = weights["ready"] + weights["per_turn"] * (context.turn - 12)
    x += weights["per_exposure"] * context.n_exposed
    grown = math.exp(-abs(x))  # in time that one call of an array function would take thrice
    return (1.0 if x >= 0.0 else grown) / (1.0 + grown)


def prob_win_on(
    share: Array, finish: Array, context: Context, weights: Mapping[str, float]
) -> Array:
    """Probability that each row wins on a thrown kind.

    Parameters
    ----------
    share
        Part of the tiles that each target still needs that are of this kind, shape (n_targets,).
    finish
        Probability that each target can still be finished, shape (n_targets,).
    context
        The seat's, with the throw on the floor.
    weights
        Block ``wins``.

    Returns
    -------
    Array
        Shape (n_targets + 3,); never 0, since a win may be called in error.
    """
    out = np.full(len(share) + N_UNMODELLED, weights["in_error"])
    out[:-N_UNMODELLED] += weights["takes"] * prob_ready(context, weights) * finish * share
    return out


def prob_win_late(win: Array, weights: Mapping[str, float]) -> Array:
    """Probability that each row wins over a group just laid, on a tile that it let go before.

    A complete hand that was overlooked gets a second look when somebody shows a group.

    Parameters
    ----------
    win
        Probability that each row wins on the tile when it is thrown, shape (n_rows,).
    weights
        Block ``wins``.

    Examples
    --------
    >>> weights = {"takes": 0.9, "late": 0.5, "in_error": 0.0}
    >>> late = prob_win_late(np.array([0.0, 0.9]), weights)  # off the hand; complete for certain
    >>> [float(p) for p in late.round(12)]
    [0.0, 0.5]
    """
    error, takes = weights["in_error"], weights["takes"]
    share = (1.0 - takes) / takes if takes > 0 else 0.0
    overlooked = np.maximum(win - error, 0.0) * share
    out: Array = error + weights["late"] * overlooked / np.maximum(1.0 - win, 1e-12)
    return out


def prob_win_drawn(finish: Array, context: Context, weights: Mapping[str, float]) -> Array:
    """Probability that each row wins on its own draw, shape (n_targets + 3,)."""
    out = np.full(len(finish) + N_UNMODELLED, weights["in_error"])
    out[:-N_UNMODELLED] += draws_it(context, weights) * finish
    return out


def draws_it(context: Context, weights: Mapping[str, float]) -> float:
    """Probability that a seat on a target that can be finished draws its last tile now."""
    return weights["draws_it"] * prob_ready(context, weights)
