"""Copies that turn up elsewhere: a tile that another seat throws or shows was never with this one.

A seat settles on a hand that the tiles it got speak for, and it cannot have got what lies
elsewhere. Each copy that turns up makes the targets that want the kind less likely, by the share
of the copies left that it was.
"""

from __future__ import annotations

import math
from typing import Final

import numpy as np
from numpy.typing import NDArray

from handread.tiles import JOKER

VERSION: Final = 1
SENTENCES: Final = (
    "few of the tiles that {family} needs have turned up elsewhere",
    "tiles that {family} needs have turned up elsewhere",
)
#: Added to the copies left, so that the last one does not count without end.
HALF: Final = 0.5

Array = NDArray[np.float64]


def log_shares(before: NDArray[np.integer], after: NDArray[np.integer]) -> Array:
    """Log of the share of the copies left that is still left, nats.

    Parameters
    ----------
    before, after
        Copies of each kind that the table has not seen, before and after an event, shape (36,).

    Returns
    -------
    Array
        Shape (36,); 0 for jokers, which stand for any tile.

    Examples
    --------
    >>> before, after = np.full(36, 4), np.full(36, 4)
    >>> after[5] = 3
    >>> np.exp(log_shares(before, after)[[4, 5]]).round(3).tolist()
    [1.0, 0.778]
    """
    out = np.zeros(len(before))
    for kind in (before != after).nonzero()[0].tolist():  # few, as a rule one
        if kind != JOKER:
            was, left = max(int(before[kind]), 0), max(int(after[kind]), 0)
            out[kind] = math.log((left + HALF) / (was + HALF))
    return out
