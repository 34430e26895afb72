"""Small hidden Markov chains run by the library's own kernel, step and smoother.

A card of one target with the three rows beside it is a chain of up to four states: all that
leaves goes where the destinations say. Larger chains are given by any ``MaskedKernel``.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray

from handread.reading.kernel import ChangeKernel, MaskedKernel
from handread.reading.smoother import smooth_steps
from handread.reading.step import Step

Array = NDArray[np.float64]
N_STATES = 4


def padded(values: ArrayLike) -> Array:
    """Row of a chain of fewer states, filled up with zeros."""
    row = np.asarray(values, dtype=np.float64)
    return np.concatenate([row, np.zeros(N_STATES - len(row))])


def kernel_of(transition: ArrayLike) -> MaskedKernel:
    """The kernel that moves as a transition matrix of up to four states says.

    States beyond those given stay where they are.
    """
    given = np.asarray(transition, dtype=np.float64)
    whole = np.eye(N_STATES)
    whole[: len(given), : len(given)] = given
    one = np.zeros(1, dtype=np.int32)
    base = ChangeKernel(
        near=one[:, None], apart=np.zeros((1, 1), dtype=np.uint8), prior=np.ones(1), hand_of=one,
        family_of=one, shares=(0.25, 0.25, 0.25, 0.25),
    )  # fmt: skip
    return MaskedKernel(base, np.ones(1), np.zeros((4, 1)), np.ones(1), 1.0, whole)


def move(kernel: MaskedKernel) -> Step:
    """A step on which every row moves and nothing is seen."""
    n = len(kernel.fits) + 3
    return Step(np.zeros(n), np.ones(n), kernel)


def see(likelihood: ArrayLike) -> Step:
    """A step on which something is seen and nobody moves."""
    return Step(np.asarray(likelihood, dtype=np.float64))


def run(start: Array, steps: list[Step]) -> tuple[list[Array], list[Array], float]:
    """Filtered and smoothed rows after each step, and the log probability of all that was seen."""
    filtered, log_prob, now = [], 0.0, start
    for step in steps:
        joint = step.forward(now)
        total = float(joint.sum())
        log_prob += float(np.log(total))
        now = joint / total
        filtered.append(now)
    return filtered, smooth_steps(steps, filtered), log_prob
