"""Rack position: a tile from the middle of the rack is cut out of a group, so a plan changes.

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
    """Log probability of the note, times the weight of the clue."""
    if event.position not in ("middle", "end") or weights["weight"] == 0.0:
        return None
    middle = np.full(N_CODES, weights["middle_spare"])
    middle[np.array(NEEDED)] = weights["middle_needed"]
    changing = np.full(N_CODES, weights["middle_changing"])
    if event.position == "end":
        middle, changing = 1.0 - middle, 1.0 - changing
    return weights["weight"] * np.log(middle), weights["weight"] * np.log(changing)


CLUE = Clue(
    name="rack_position",
    version=1,
    about="A tile lifted from the middle of the rack, where the record says so.",
    fits="the place of {tile} in the rack fits {family}",
    fits_not="the place of {tile} in the rack does not fit {family}",
    against="the next throws coming from the other place",
    group="optional notes",
    strength="lore",
    defaults={
        "weight": 0.0, "middle_spare": 0.3, "middle_needed": 0.6, "middle_changing": 0.7,
    },
    keep=no_score,
    mark=mark,
    order=82,
    looks_at=(),
    mark_looks_at=(),
    mark_reads=("position",),
)  # fmt: skip
