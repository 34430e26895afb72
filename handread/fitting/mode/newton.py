"""Newton's steps to the bottom of a loss, within bounds: few looks at the data, and exact ones."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from handread.values import ArrayValue

Array = NDArray[np.float64]

#: Steps, at most.
MOST_STEPS: Final = 200
#: A step so far below the standard deviations there is the last; by the square of their number.
SMALL: Final = 1e-14
#: Times that a step is halved, at most.
MOST_HALVES: Final = 40


@dataclass(frozen=True, eq=False)
class Look(ArrayValue):
    """A loss at one place.

    Attributes
    ----------
    loss
        Its value, nats.
    slope
        Its slope, shape (n,).
    curvature
        Its curvature, shape (n, n).
    safe
        A curvature near it that is positive definite, shape (n, n): for steps from where the loss
        bends the wrong way.
    """

    loss: float
    slope: Array
    curvature: Array
    safe: Array


def descend(
    look: Callable[[Array], Look],
    start: Array,
    *,
    low: Array | float = -np.inf,
    high: Array | float = np.inf,
) -> tuple[Array, Look]:
    """Find the bottom of a loss.

    Parameters
    ----------
    look
        Gives the loss at a place.
    start
        Where to begin, shape (n,).
    low, high
        Bounds of each coordinate, shape (n,) or one for all.

    Returns
    -------
    place
        The bottom, shape (n,).
    there
        The loss there.

    Examples
    --------
    >>> bend = np.array([[2.0, 0.5], [0.5, 1.0]])
    >>> def bowl(x):
    ...     return Look(0.5 * x @ bend @ x - x.sum(), bend @ x - 1.0, bend, bend)
    >>> descend(bowl, np.zeros(2))[0].round(6), descend(bowl, np.zeros(2), high=0.5)[0]
    (array([0.285714, 0.857143]), array([0.375, 0.5  ]))
    """
    place = np.clip(start, low, high)
    now = look(place)
    for _ in range(MOST_STEPS):
        step = _step(now, place, low, high)
        if -float(step @ now.slope) <= SMALL:
            break
        for _ in range(MOST_HALVES):
            there = np.clip(place + step, low, high)
            after = look(there)
            if after.loss <= now.loss + _noise(now.loss):
                break
            step = step / 2.0
        else:
            break
        if after.loss >= now.loss and np.abs(after.slope).sum() >= np.abs(now.slope).sum():
            break  # as low as rounding lets it be
        place, now = there, after
    return place, now


def _noise(loss: float) -> float:
    """How far a sum of this size is off by rounding."""
    return 1e-13 * abs(loss)


def _step(now: Look, place: Array, low: Array | float, high: Array | float) -> Array:
    """Newton's step in the coordinates that no bound holds."""
    held = ((place <= low) & (now.slope > 0)) | ((place >= high) & (now.slope < 0))
    free = np.flatnonzero(~held)
    step = np.zeros(len(place))
    pull = -now.slope[free]
    for curvature in (now.curvature, now.safe):
        inner = curvature[np.ix_(free, free)]
        try:
            np.linalg.cholesky(inner)
        except np.linalg.LinAlgError:
            continue
        step[free] = np.linalg.solve(inner, pull)
        return step
    step[free] = pull / max(float(np.abs(np.diag(now.safe)).max()), 1.0)
    return step
