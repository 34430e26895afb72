"""Drawn or held: a tile thrown straight after drawing, or one from the rack."""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np
from scipy.special import expit

from handread.clues.codes import N_CODES, NEEDED, Use
from handread.clues.context import PHASES, Context
from handread.clues.contract import Clue, Table, no_score
from handread.table.events import Discard


def mark(
    context: Context, event: Discard, weights: Mapping[str, float]
) -> tuple[Table, Table] | None:
    """Log probability of the note; the rack has fewer spare tiles to throw as turns go by."""
    if event.drawn is None:
        return None
    odds = np.full(N_CODES, weights[PHASES[context.phase]])
    odds[np.array(NEEDED)] += weights["needed"]
    odds[Use.UNDECIDED] += weights["undecided"]
    odds[Use.DEFENDING] += weights["defending"]
    keep = _log_prob(odds, event.drawn)
    change = _log_prob(np.full(N_CODES, weights["changing"]), event.drawn)
    return keep, change


def _log_prob(odds: Table, drawn: bool) -> Table:
    return np.asarray(np.log(expit(odds if drawn else -odds)), dtype=np.float64)


CLUE = Clue(
    name="drawn_or_held",
    version=1,
    about="Whether the tile thrown had just been drawn, where the record says so.",
    fits="where {tile} came from, wall or rack, fits {family}",
    fits_not="where {tile} came from, wall or rack, does not fit {family}",
    against="the next throws coming off the wall and out of the rack the other way round",
    group="optional notes",
    strength="fair",
    defaults={
        "early": -0.8, "middle": -0.3, "late": 0.4, "needed": -0.4, "undecided": -0.2,
        "defending": -0.6, "changing": -1.5,
    },
    keep=no_score,
    mark=mark,
    order=80,
    looks_at=(),
    mark_looks_at=("phase",),
    mark_reads=("drawn",),
)  # fmt: skip
