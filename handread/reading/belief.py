"""Belief about one seat: a distribution over targets and unmodelled states, frozen."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from handread.clues.wants import Wants
from handread.reading.around import Surroundings
from handread.reading.kernel import MaskedKernel
from handread.reading.model import Model
from handread.table.state import Exposure, TableState
from handread.values import ArrayValue, evolve, read_only

Array = NDArray[np.float64]


@dataclass(frozen=True, eq=False)
class Belief(ArrayValue):
    """What is believed about one seat, and what the next update needs.

    Attributes
    ----------
    seat
        0 East, 1 South, 2 West, 3 North.
    probs
        Probability of each target, then undecided, defending, other; shape (n_rows,), sum 1.
    exposures
        Groups that the seat has shown.
    fits
        Targets that the exposures allow, shape (n_targets,).
    left
        Groups that each target still has to make, shape (n_targets, n_groups).
    wants
        What each target wants of the groups left.
    kernel
        Where the seat goes if it changes its plan.
    reopen
        Belief, table and surroundings before the last exposure, from which a corrected one
        starts again.
    """

    seat: int
    probs: Array
    exposures: tuple[Exposure, ...]
    fits: NDArray[np.bool_]
    left: NDArray[np.bool_]
    wants: Wants
    kernel: MaskedKernel
    reopen: tuple[Belief, TableState, Surroundings] | None = None

    def with_probs(self, probs: Array) -> Belief:
        """Return the same belief with other probabilities."""
        return evolve(self, probs=read_only(probs))


def start_belief(model: Model, seat: int) -> Belief:
    """Belief about a seat before its first event.

    Parameters
    ----------
    model
        The model of the reading.
    seat
        0 East, 1 South, 2 West, 3 North.
    """
    return Belief(seat, model.start, (), *model.shown(()))


def start_beliefs(model: Model) -> tuple[Belief, ...]:
    """Beliefs about the four seats before the first event, East first."""
    first = start_belief(model, 0)
    return tuple(replace(first, seat=seat) for seat in range(4))


def show(model: Model, belief: Belief, exposures: tuple[Exposure, ...]) -> Belief:
    """Return the belief with other groups shown; probabilities are left as they are.

    A joker redeemed out of a group lets the group stand for a hand that bars jokers there. Such
    a hand stays at probability zero, since the seat was not building it when it showed the joker,
    until a change of plan leads there.
    """
    fits, left, wants, kernel = model.shown(exposures)
    if np.array_equal(fits, belief.fits) and np.array_equal(left, belief.left):
        return evolve(belief, exposures=exposures)
    return evolve(belief, exposures=exposures, fits=fits, left=left, wants=wants, kernel=kernel)
