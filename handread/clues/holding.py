"""Who can hold what: hypergeometric chances under counts that everybody can check."""

from __future__ import annotations

from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from handread.tiles import MOST_COPIES


@lru_cache(maxsize=1)
def log_factorials() -> NDArray[np.float64]:
    """Logarithms of 0!, 1!, ..., 399!, nats."""
    table = np.concatenate([[0.0], np.cumsum(np.log(np.arange(1, 400)))])
    table.flags.writeable = False
    return table


@lru_cache(maxsize=1 << 16)
def prob_copies(copies: int, pool: int, reach: int) -> NDArray[np.float64]:
    """Chance of holding 0, 1, ... of `copies` tiles when `reach` of `pool` tiles are held.

    Parameters
    ----------
    copies
        Copies of the kind among the pool, at most 16.
    pool
        Tiles from which the holding is a random part.
    reach
        Tiles held.

    Returns
    -------
    NDArray
        Probabilities for 0 to 16 copies, shape (17,); they sum to 1.

    Notes
    -----
    The hypergeometric distribution. For a seat that keeps a kind, the tiles that it has thrown
    belong to both `pool` and `reach`: all of them passed through its hands, and none was this
    kind.

    Examples
    --------
    >>> prob_copies(2, 26, 13)[1].round(2)  # two missing cards split one and one
    np.float64(0.52)
    """
    if not 0 <= copies <= MOST_COPIES or not 0 <= reach <= pool or copies > pool:
        raise ValueError(
            f"copies={copies!r}, pool={pool!r}, reach={reach!r}: "
            f"0 <= copies <= {MOST_COPIES} and 0 <= reach <= pool and copies <= pool are needed"
        )
    log_fact = log_factorials()
    held = np.arange(MOST_COPIES + 1)
    rest = pool - copies
    possible = (held <= copies) & (held <= reach) & (reach - held <= rest)
    h = held[possible]
    log_prob = (
        log_fact[copies] - log_fact[h] - log_fact[copies - h]
        + log_fact[rest] - log_fact[reach - h] - log_fact[rest - reach + h]
        - log_fact[pool] + log_fact[reach] + log_fact[pool - reach]
    )  # fmt: skip
    out = np.zeros(MOST_COPIES + 1)
    out[possible] = np.exp(log_prob)
    out /= out.sum()
    out.flags.writeable = False
    return out


def binomial_tails(
    trials: NDArray[np.integer], prob: NDArray[np.float64], most: int
) -> NDArray[np.float64]:
    """Chance of at least 0, 1, ... `most` successes.

    Parameters
    ----------
    trials
        Number of trials, at most 32, shape (n,).
    prob
        Chance of each, shape (n,).
    most
        Largest number asked for.

    Returns
    -------
    NDArray
        Shape (n, most + 1).

    Examples
    --------
    >>> binomial_tails(np.array([2]), np.array([0.5]), 3)[0].tolist()
    [1.0, 0.75, 0.25, 0.0]
    """
    count = np.arange(33)
    n = np.asarray(trials, dtype=np.int64)[:, None]
    p = np.asarray(prob, dtype=np.float64)[:, None]
    log_fact = log_factorials()
    possible = count <= n
    rest = np.where(possible, n - count, 0)
    choose = np.exp(log_fact[n] - log_fact[count] - log_fact[rest])
    pmf = np.where(possible, choose * p**count * (1.0 - p) ** rest, 0.0)
    tails = pmf[:, ::-1].cumsum(axis=1)[:, ::-1]
    tails[:, 0] = 1.0
    return tails[:, : most + 1]
