"""Compiled passes that sum rows of beliefs by family; the tests hold them to plain sums."""

from __future__ import annotations

import numpy as np
from numba import njit
from numpy.typing import NDArray

Array = NDArray[np.float64]


@njit(cache=True)
def sum_families(
    east: Array,
    south: Array,
    west: Array,
    north: Array,
    family_rows: NDArray[np.int64],
    out: Array,
) -> None:
    """Sum the beliefs about the four seats by family, in place of `out`, shape (4, n)."""
    for seat in range(4):
        for row in range(out.shape[1]):
            out[seat, row] = 0.0
    for row in range(len(family_rows)):
        family = family_rows[row]
        out[0, family] += east[row]
        out[1, family] += south[row]
        out[2, family] += west[row]
        out[3, family] += north[row]


@njit(cache=True)
def drift_families(
    probs: Array,
    quiet: Array,
    hazard: Array,
    to_family: Array,
    prior_by_family: Array,
    any_mass: float,
    where: Array,
    family_rows: NDArray[np.int64],
    out: Array,
) -> None:
    """Sum by family what a quiet turn and its drift make of a belief, in place of `out`.

    `quiet` is the chance of each row to do nothing else on the turn, `hazard` that it then leaves
    its plan, and `where` the destinations of those who leave; the others are those of a
    ``MaskedKernel``. As ``drift_step(seen).forward``, summed, without its rows.
    """
    n, n_families = to_family.shape
    total = 0.0
    for row in range(len(probs)):
        total += quiet[row] * probs[row]
    near, gone_by_origin = np.zeros(n_families), np.zeros(4)
    out[:] = 0.0
    for row in range(len(probs)):
        held = quiet[row] * probs[row] / total
        gone = hazard[row] * held
        out[family_rows[row]] += held - gone
        if row < n:
            gone_by_origin[0] += gone
            for family in range(n_families):
                near[family] += gone * to_family[row, family]
        else:
            gone_by_origin[1 + row - n] += gone
    to_any = 0.0
    for origin in range(1, 4):
        to_any += gone_by_origin[origin] * where[origin, 0]
    for family in range(n_families):
        out[family] += where[0, 0] * near[family]
        if any_mass > 0.0:
            out[family] += to_any / any_mass * prior_by_family[family]
    for origin in range(4):
        for loose in range(3):
            out[len(out) - 3 + loose] += gone_by_origin[origin] * where[origin, 1 + loose]
        if any_mass <= 0.0:  # no target is left to go to
            out[-1] += gone_by_origin[origin] * where[origin, 0]


@njit(cache=True)
def pass_and_show(win: Array, takes: Array, probs: Array) -> tuple[float, float]:
    """Chance that a seat does not win on a throw, and that it shows a group instead."""
    passes, shows = 0.0, 0.0
    for row in range(len(probs)):
        left = (1.0 - win[row]) * probs[row]
        passes += left
        shows += takes[row] * left
    return passes, shows
