"""From scores to probabilities to one action: the only place where a player meets chance."""

from __future__ import annotations

from typing import Final

import numpy as np
from numpy.typing import NDArray

from handread.errors import HandreadError

Scores = NDArray[np.float64]

#: Decimals to which scores are rounded, so that engines which add up in another order agree.
DECIMALS: Final = 6


def log_probabilities(scores: Scores, legal: NDArray[np.bool_]) -> Scores:
    """Turn scores into log probabilities over the legal actions.

    Parameters
    ----------
    scores
        One score per action, nats up to a constant; ``-inf`` for what is never done.
    legal
        Which actions are possible.

    Returns
    -------
    NDArray
        Log probabilities, nats; ``-inf`` where not legal.

    Raises
    ------
    HandreadError
        If no legal action has a finite score, or a score is NaN or ``+inf``.

    Examples
    --------
    >>> found = log_probabilities(np.zeros(3), np.array([True, True, False]))
    >>> [round(float(p), 3) for p in np.exp(found)]
    [0.5, 0.5, 0.0]
    """
    rounded = np.where(legal, np.round(scores, DECIMALS), -np.inf)
    top = rounded.max() if rounded.size else -np.inf
    if not np.isfinite(top):
        raise HandreadError(f"no legal action has a finite score: the best of them is {top!r}")
    shifted = rounded - top
    return np.asarray(shifted - np.log(np.exp(shifted).sum()), dtype=np.float64)


def pick(log_probs: Scores, u: float) -> int:
    """Action at quantile `u` of the distribution: inverse CDF in the order of the actions.

    Parameters
    ----------
    log_probs
        Log probability of each action.
    u
        A uniform draw in [0, 1).

    Examples
    --------
    >>> two = np.log([0.25, 0.75])
    >>> pick(two, 0.2), pick(two, 0.3)
    (0, 1)
    """
    total = np.cumsum(np.exp(log_probs))
    found = int(np.searchsorted(total, u * total[-1], side="right"))
    if found < len(total):
        return found
    return int(np.flatnonzero(np.isfinite(log_probs))[-1])  # u * total rounded up to the end


def with_slips(scores: Scores, slips: NDArray[np.bool_], rate: float) -> Scores:
    """Give a share `rate` of the probability to slips, in equal parts.

    Parameters
    ----------
    scores
        Scores of the actions; those of slips are overwritten.
    slips
        Which actions are slips.
    rate
        Their probability together; 0 bars them.

    Examples
    --------
    >>> mixed = with_slips(np.zeros(4), np.array([False, False, True, True]), 0.1)
    >>> found = np.exp(log_probabilities(mixed, np.ones(4, dtype=bool)))
    >>> [round(float(p), 3) for p in found]
    [0.45, 0.45, 0.05, 0.05]
    """
    mixed = np.where(slips, -np.inf, scores)
    n = int(slips.sum())
    top = mixed.max()
    if n == 0 or rate <= 0 or not np.isfinite(top):
        return mixed
    rest = top + np.log(np.exp(mixed - top).sum())
    mixed[slips] = rest + np.log(rate / (1 - rate)) - np.log(n)
    return mixed
