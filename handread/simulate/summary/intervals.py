"""Intervals of a summary: binomial for shares of games, bootstrap over games for the rest."""

from __future__ import annotations

from collections.abc import Callable
from typing import Final

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]
Interval = tuple[float, float]

RESAMPLES: Final = 2000
LEVEL: Final = 0.95
#: Seed of the resampling: the same games give the same interval.
_SEED: Final = 20_000


def wilson(successes: int, n: int, level: float = LEVEL) -> Interval:
    """Score interval of a binomial share.

    Parameters
    ----------
    successes, n
        How many of how many.
    level
        Confidence level.

    Returns
    -------
    tuple of float
        Lower and upper end; (0, 1) if there is nothing to count.

    References
    ----------
    Wilson, E. B. (1927), "Probable inference, the law of succession, and statistical
    inference", Journal of the American Statistical Association 22, 209-212 (from memory).

    Examples
    --------
    >>> [round(end, 4) for end in wilson(81, 263)]
    [0.2553, 0.3662]
    """
    from scipy.special import ndtri

    if n == 0:
        return 0.0, 1.0
    z = float(ndtri(0.5 + level / 2))
    share = successes / n
    middle = (share + z * z / (2 * n)) / (1 + z * z / n)
    half = z / (1 + z * z / n) * float(np.sqrt(share * (1 - share) / n + z * z / (4 * n * n)))
    return max(0.0, middle - half), min(1.0, middle + half)


def over_games(
    per_game: Array, figure: Callable[[Array], Array], level: float = LEVEL
) -> tuple[float, Interval]:  # fmt: skip
    """Figure of the means over games, with its percentile interval from resampled games.

    Parameters
    ----------
    per_game
        What each game contributes, shape (n_games, n_columns).
    figure
        From means, shape (..., n_columns), to the figure, shape (...,).
    level
        Confidence level.

    Returns
    -------
    value, interval
        NaN ends where the figure is not finite in some resample.
    """
    n = len(per_game)
    rng = np.random.default_rng(_SEED)
    with np.errstate(invalid="ignore", divide="ignore"):
        value = float(figure(per_game.mean(axis=0)))
        drawn = []
        for _ in range(RESAMPLES // 100):
            counts = rng.multinomial(n, np.full(n, 1 / n), size=100)
            drawn.append(figure(counts @ per_game / n))
    found = np.concatenate(drawn)
    if not np.isfinite(found).all():
        return value, (float("nan"), float("nan"))
    low, high = np.quantile(found, [(1 - level) / 2, (1 + level) / 2])
    return value, (float(low), float(high))


def ratio(columns: Array) -> Array:
    """First column over the second: a mean over unequal numbers of moments in each game."""
    return np.asarray(columns[..., 0] / columns[..., 1])
