"""Compiled passes from a joint probability to a belief; the tests hold them to plain sums."""

from __future__ import annotations

import numpy as np
from numba import njit
from numpy.typing import NDArray

#: Least sum that one is divided by without loss.
LEAST = 1e-300


@njit(cache=True)
def normalise(joint: NDArray[np.float64]) -> float:
    """Divide by the sum, in place, and return the sum; as it is where that is 0 or no number.

    Every fourth row has a sum of its own, so that no sum has to wait for itself.
    """
    n = len(joint)
    rest = n % 4
    first, second, third, total = 0.0, 0.0, 0.0, 0.0
    for r in range(rest):
        total += joint[r]
    for r in range(rest, n, 4):
        first += joint[r]
        second += joint[r + 1]
        third += joint[r + 2]
        total += joint[r + 3]
    total = (first + second) + (third + total)
    if LEAST < total < np.inf:
        scale = 1.0 / total  # to multiply takes a third of the time
        for r in range(n):
            joint[r] *= scale
    elif 0.0 < total <= LEAST:
        for r in range(n):
            joint[r] /= total
    return total


@njit(cache=True)
def weigh(keep: NDArray[np.float64], probs: NDArray[np.float64], out: NDArray[np.float64]) -> float:
    """Weigh each row by what it gives to an observation: Bayes' rule where nobody moves.

    Parameters
    ----------
    keep
        P(observation | row), shape (n_rows,).
    probs
        The belief before, shape (n_rows,).
    out
        Filled in place with the belief after, as ``normalise`` leaves it, shape (n_rows,).

    Returns
    -------
    float
        Probability of the observation.
    """
    for r in range(len(out)):
        out[r] = keep[r] * probs[r]
    total: float = normalise(out)
    return total
