"""Pause over a throw: a needed tile, or a changing plan, takes thought.

An optional note with weight 0 until it has been fitted on real records.
"""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np

from handread.clues.codes import N_CODES, NEEDED
from handread.clues.context import Context
from handread.clues.contract import Clue, Table, no_score
from handread.table.events import Discard


def mark(
    context: Context, event: Discard, weights: Mapping[str, float]
) -> tuple[Table, Table] | None:
    """Log probability of a pause longer, or not longer, than `long`, times the clue's weight."""
    if event.pause is None or weights["weight"] == 0.0:
        return None
    slow = np.full(N_CODES, weights["slow_spare"])
    slow[np.array(NEEDED)] = weights["slow_needed"]
    changing = np.full(N_CODES, weights["slow_changing"])
    if event.pause <= weights["long"]:
        slow, changing = 1.0 - slow, 1.0 - changing
    return weights["weight"] * np.log(slow), weights["weight"] * np.log(changing)


CLUE = Clue(
    name="pause",
    version=1,
    about="A long pause before the throw, where the record says so.",
    fits="the time taken over {tile} fits {family}",
    fits_not="the time taken over {tile} does not fit {family}",
    against="quick throws from here on",
    group="optional notes",
    strength="lore",
    defaults={
        "weight": 0.0, "long": 6.0, "slow_spare": 0.2, "slow_needed": 0.45, "slow_changing": 0.6,
    },
    keep=no_score,
    mark=mark,
    order=84,
    looks_at=(),
    mark_looks_at=(),
)  # fmt: skip
