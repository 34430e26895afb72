"""Who can hold what: hypergeometric chances under counts that everybody can check."""

from __future__ import annotations

from functools import lru_cache

import numpy as np
from numpy.typing import NDArray


@lru_cache(maxsize=1)
def _log_factorials() -> NDArray[np.float64]:
    table = np.concatenate([[0.0], np.cumsum(np.log(np.arange(1, 400)))])
    table.flags.writeable = False
    return table


def prob_copies(copies: int, pool: int, reach: int) -> NDArray[np.float64]:
    """Chance of holding 0, 1, ... of `copies` tiles when `reach` of `pool` tiles are held.

    Parameters
    ----------
    copies
        Copies of the kind among the pool, at most 10.
    pool
        Tiles from which the holding is a random part.
    reach
        Tiles held.

    Returns
    -------
    NDArray
        Probabilities for 0 to 10 copies, shape (11,); they sum to 1.

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
    if not 0 <= copies <= 10 or not 0 <= reach <= pool or copies > pool:
        raise ValueError(
            f"copies={copies!r}, pool={pool!r}, reach={reach!r}: "
            "0 <= copies <= 10 and 0 <= reach <= pool and copies <= pool are needed"
        )
    log_fact = _log_factorials()
    held = np.arange(11)
    rest = pool - copies
    possible = (held <= copies) & (held <= reach) & (reach - held <= rest)
    h = held[possible]
    log_prob = (
        log_fact[copies] - log_fact[h] - log_fact[copies - h]
        + log_fact[rest] - log_fact[reach - h] - log_fact[rest - reach + h]
        - log_fact[pool] + log_fact[reach] + log_fact[pool - reach]
    )  # fmt: skip
    out = np.zeros(11)
    out[possible] = np.exp(log_prob)
    out /= out.sum()
    return out


def expected_copies(unseen: NDArray[np.integer], pool: int, concealed: int) -> NDArray[np.float64]:
    """Expected copies of each kind among `concealed` tiles drawn at random from those unseen.

    Parameters
    ----------
    unseen
        Copies of each kind not seen, shape (36,).
    pool
        Their sum.
    concealed
        Tiles that the seat holds.

    Returns
    -------
    NDArray
        Shape (36,); sums to `concealed`.
    """
    share = concealed / max(pool, 1)
    return np.asarray(np.asarray(unseen, dtype=np.float64) * share, dtype=np.float64)
