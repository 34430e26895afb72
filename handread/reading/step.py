"""One event as a linear map on one seat's belief: what stays, what moves, what goes off the card.

Every observation has this form, so that filter, smoother and evidence are written once.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from handread.reading.kernel import MaskedKernel
from handread.reading.weighing import normalise, weigh
from handread.values import ArrayValue, frozen, made

Array = NDArray[np.float64]


@dataclass(frozen=True, eq=False)
class Step(ArrayValue):
    """Joint probability of an observation and of where each row goes, given the row.

    Attributes
    ----------
    keep
        P(observation and stays | row), shape (n_rows,).
    move
        P(observation and leaves | row), shape (n_rows,); None where nobody can leave.
    kernel
        Where rows go that leave; needed with `move`.
    leak
        P(observation and goes where `leak_to` says | row), shape (n_rows,); None where nobody
        does.
    leak_to
        Distribution over rows of what leaks, shape (n_rows,); None for *other* alone.
    """

    keep: Array
    move: Array | None = None
    kernel: MaskedKernel | None = None
    leak: Array | None = None
    leak_to: Array | None = None

    def forward(self, belief: Array) -> Array:
        """Joint probability of the observation and each row after it, shape (n_rows,).

        Its sum is the probability of the observation.
        """
        out = self.keep * belief
        if self.move is not None and self.kernel is not None:
            out += self.kernel.forward(self.move * belief)
        if self.leak is not None and self.leak_to is not None:
            out += float(self.leak @ belief) * self.leak_to
        elif self.leak is not None:
            out[-1] += float(self.leak @ belief)
        return out

    def advance(self, belief: Array) -> tuple[Array, float]:
        """Belief after the observation, and the probability of the observation.

        Returns
        -------
        probs
            ``forward`` divided by its sum, shape (n_rows,), read-only; not divided where that is
            0 or no number.
        prob
            The sum.
        """
        if self.move is None and self.leak is None:
            probs = np.empty(len(belief))
            total = weigh(self.keep, belief, probs)
        else:
            probs = self.forward(belief)
            total = normalise(probs)
        return frozen(probs), total

    def backward(self, message: Array) -> Array:
        """Message one step back: P(observation and all later ones | row before)."""
        out = self.keep * message
        if self.move is not None and self.kernel is not None:
            out += self.move * self.kernel.backward(message)
        if self.leak is not None:
            arriving = message[-1] if self.leak_to is None else float(self.leak_to @ message)
            out += self.leak * arriving
        return out

    def total(self) -> Array:
        """P(observation | row), shape (n_rows,)."""
        return self.backward(np.ones_like(self.keep))


def told(keep: Array) -> Step:
    """Step of an observation that moves nobody, out of what is read-only already."""
    return made(Step, keep=keep)
