"""The passes: how formed a rack is, and what a seat gives away.

Stopping, passing blind and asking for few courtesy tiles speak of a formed rack. Tiles that the
viewer receives, not passed blind, are thrown ones of an early turn, at a reduced weight.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Final

import numpy as np
from numpy.typing import NDArray

VERSION: Final = 1
SENTENCES: Final = (
    "what {seat} did in the passes fits {family}",
    "what {seat} did in the passes does not fit {family}",
)
Array = NDArray[np.float64]
#: Steps of the passes on which tiles may be sent on unseen.
BLIND_STEPS: Final = ("left", "last right")


def formed_or_not(name: str, outcome: int, n_rows: int, weights: Mapping[str, float]) -> Array:
    """Probability of an outcome for every row: one rate for undecided, one for all others.

    Parameters
    ----------
    name
        ``"stop"`` (1 or 0), ``"blind"`` or ``"courtesy"`` (0 to 3).
    outcome
        What was seen.
    n_rows
        Rows of the belief.
    weights
        Block ``passes``.

    Returns
    -------
    Array
        Shape (n_rows,).
    """
    out = np.full(n_rows, _chance(name, "formed", outcome, weights))
    out[-3] = _chance(name, "undecided", outcome, weights)
    return out


def _chance(name: str, who: str, outcome: int, weights: Mapping[str, float]) -> float:
    """Chance of an outcome: binomial out of three for counts, plain for stopping."""
    rate = weights[f"{name}_{who}"]
    if name == "stop":
        return rate if outcome else 1.0 - rate
    choose = (1, 3, 3, 1)[outcome]
    return float(choose * rate**outcome * (1.0 - rate) ** (3 - outcome))


def giver(viewer: int, step: str) -> int:
    """Seat whose tiles the viewer receives on a step of the passes.

    >>> giver(0, "right"), giver(0, "across"), giver(0, "second left")
    (3, 2, 1)
    """
    if step.endswith("right"):
        return (viewer + 3) % 4
    return (viewer + 1) % 4 if step.endswith("left") else (viewer + 2) % 4
