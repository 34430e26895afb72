"""Simultaneous bands for the distribution function of values that should be uniform.

A uniform sample's distribution function leaves the band anywhere with probability
1 - level in all, so the whole curve can be judged at once (Sailynoja, Buerkner and Vehtari
2022).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from handread.errors import HandreadError
from handread.study._arrays import Bools, Floats, Ints, between, chances, vector
from handread.study.clusters import GameIndex, independent_games
from handread.values import ArrayValue


@dataclass(frozen=True, eq=False)
class EcdfBand(ArrayValue):
    """Counts between which a uniform sample's distribution function stays.

    Attributes
    ----------
    points
        Where the function is read, above 0 and below 1, shape (n_points,).
    low, high
        Fewest and most values at or below each point, both allowed, shape (n_points,).
    n_values
        Size of the sample.
    level
        Simultaneous level that was asked for.
    pointwise
        Pointwise level that gives it.
    coverage
        Exact probability that a uniform sample stays inside at all points; NaN for a
        simulated band.
    """

    points: Floats
    low: Ints
    high: Ints
    n_values: int
    level: float
    pointwise: float
    coverage: float


def even_points(n_points: int) -> Floats:
    """Return `n_points` - 1 points that cut 0 to 1 into `n_points` equal parts.

    Parameters
    ----------
    n_points
        Parts, 2 or more.

    Returns
    -------
    numpy.ndarray
        Shape (n_points - 1,).

    Examples
    --------
    >>> even_points(4).tolist()
    [0.25, 0.5, 0.75]
    """
    if n_points < 2:
        raise HandreadError(f"n_points is {n_points!r}; accepted: 2 or more")
    return np.arange(1, n_points) / float(n_points)


def _checked_points(points: ArrayLike | None, n_values: int) -> Floats:
    if n_values < 1:
        raise HandreadError(f"n_values is {n_values!r}; accepted: 1 or more")
    if points is None:
        return even_points(max(2, min(n_values, 100)))
    cuts = vector(points, "points")
    if not (cuts[0] > 0.0 and cuts[-1] < 1.0 and bool(np.all(np.diff(cuts) > 0.0))):
        raise HandreadError(
            f"points are {cuts.tolist()!r}; accepted: increasing numbers above 0 and below 1"
        )
    return cuts


def _limits(n_values: int, points: Floats, tail: float) -> tuple[Ints, Ints]:
    """Central pointwise intervals of counts with at most `tail` / 2 outside on each side."""
    from scipy.stats import binom

    low = binom.ppf(tail / 2.0, n_values, points)
    high = binom.isf(tail / 2.0, n_values, points)
    return np.asarray(low, dtype=np.int64), np.asarray(high, dtype=np.int64)


def band_coverage(n_values: int, points: ArrayLike, low: ArrayLike, high: ArrayLike) -> float:
    """Exact probability that a uniform sample's counts stay within limits at all points.

    Counts at increasing points form a Markov chain: of the values not yet counted each falls
    into the next step with probability (z' - z) / (1 - z). The chain is run forward over the
    counts inside the limits.

    Parameters
    ----------
    n_values
        Size of the sample.
    points
        Where counts are read, increasing, above 0 and below 1, shape (n_points,).
    low, high
        Allowed counts at each point, both ends included, shape (n_points,).

    Returns
    -------
    float
        Probability.

    Examples
    --------
    >>> round(band_coverage(2, [0.5], [1], [1]), 12)
    0.5
    """
    from scipy.special import gammaln

    cuts = _checked_points(points, n_values)
    first = np.asarray(low, dtype=np.int64)
    final = np.asarray(high, dtype=np.int64)
    log_factorial = gammaln(np.arange(n_values + 1) + 1.0)
    count = np.array([0])
    chance = np.array([1.0])
    previous = 0.0
    for place, cut in enumerate(cuts):
        step = (cut - previous) / (1.0 - previous)
        after = np.arange(first[place], final[place] + 1)
        new = after[:, None] - count[None, :]
        left = n_values - after
        log_pmf = (
            log_factorial[n_values - count][None, :]
            - log_factorial[np.maximum(new, 0)]
            - log_factorial[left][:, None]
            + new * np.log(step)
            + left[:, None] * np.log1p(-step)
        )
        chance = np.exp(np.where(new >= 0, log_pmf, -np.inf)) @ chance
        count, previous = after, float(cut)
    return float(chance.sum())


def ecdf_band(n_values: int, *, points: ArrayLike | None = None, level: float = 0.95) -> EcdfBand:
    """Find the exact simultaneous band.

    The narrowest band of pointwise central binomial intervals, all of one pointwise level,
    inside which a uniform sample stays with probability `level` or more.

    Parameters
    ----------
    n_values
        Size of the sample.
    points
        Where the function is read; by default up to 99 even points. For ranks from 0 to L
        give `even_points(L + 1)`.
    level
        Simultaneous level.

    Returns
    -------
    EcdfBand

    References
    ----------
    Sailynoja, T., Buerkner, P.-C. and Vehtari, A. (2022), "Graphical test for discrete
    uniformity and its applications in goodness-of-fit evaluation and multiple sample
    comparison", Stat. Comput. 32, 32. doi:10.1007/s11222-022-10090-6

    Examples
    --------
    >>> band = ecdf_band(50, points=even_points(20))
    >>> int(band.low[9]), int(band.high[9]), band.coverage >= 0.95
    (16, 34, True)
    """
    between(level, "level", 0.0, 1.0)
    cuts = _checked_points(points, n_values)
    narrow, wide = 1.0, (1.0 - level) / len(cuts)  # tails: too much outside, surely enough inside
    while narrow / wide > 1.0 + 1e-7:
        tail = float(np.sqrt(narrow * wide))
        if band_coverage(n_values, cuts, *_limits(n_values, cuts, tail)) >= level:
            wide = tail
        else:
            narrow = tail
        same = zip(
            _limits(n_values, cuts, narrow), _limits(n_values, cuts, wide), strict=True
        )  # fmt: skip
        if all(np.array_equal(one, two) for one, two in same):
            break
    low, high = _limits(n_values, cuts, wide)
    held = band_coverage(n_values, cuts, low, high)
    return EcdfBand(cuts, low, high, n_values, level, 1.0 - wide, held)


def simulated_ecdf_band(
    n_values: int,
    *,
    rng: np.random.Generator,
    points: ArrayLike | None = None,
    level: float = 0.95,
    simulations: int = 2000,
) -> EcdfBand:
    """Find the simultaneous band by simulating uniform samples.

    For samples so large that the exact band takes long; its coverage has a standard error of
    about sqrt(level (1 - level) / simulations).

    Parameters
    ----------
    n_values
        Size of the sample.
    rng
        Source of the uniform samples.
    points
        Where the function is read; by default up to 99 even points.
    level
        Simultaneous level.
    simulations
        Samples to draw.

    Returns
    -------
    EcdfBand
    """
    from scipy.stats import binom

    between(level, "level", 0.0, 1.0)
    cuts = _checked_points(points, n_values)
    steps = np.diff(np.concatenate(([0.0], cuts, [1.0])))
    counts = np.cumsum(rng.multinomial(n_values, steps, size=simulations)[:, :-1], axis=1)
    below = binom.cdf(counts, n_values, cuts)
    above = binom.sf(counts - 1, n_values, cuts)
    smallest = 2.0 * np.minimum(below, above).min(axis=1)
    tail = float(min(1.0, np.quantile(smallest, 1.0 - level, method="lower")))
    low, high = _limits(n_values, cuts, np.nextafter(tail, 0.0))
    return EcdfBand(cuts, low, high, n_values, level, 1.0 - tail, np.nan)


@dataclass(frozen=True, eq=False)
class EcdfCheck(ArrayValue):
    """A sample's distribution function laid into its band.

    Attributes
    ----------
    band
        The band.
    counts
        Values at or below each point, shape (n_points,).
    outside
        Points at which the count leaves the band, shape (n_points,).
    uniform
        Whether the count stays inside at every point.
    """

    band: EcdfBand
    counts: Ints
    outside: Bools
    uniform: bool


def ecdf_check(
    values: ArrayLike,
    *,
    game: ArrayLike | GameIndex | None,
    band: EcdfBand | None = None,
    level: float = 0.95,
) -> EcdfCheck:
    """Lay the distribution function of values into the simultaneous band.

    Parameters
    ----------
    values
        One value from 0 to 1 a game: randomised PITs, or (rank + 0.5) / (n_draws + 1) for a
        band at `even_points(n_draws + 1)`; shape (n_games,).
    game
        Game of each value, all different, shape (n_games,).
    band
        A band made before for as many values; by default the exact one.
    level
        Simultaneous level of a band that is made here.

    Returns
    -------
    EcdfCheck

    Examples
    --------
    >>> ecdf_check(np.arange(0.5, 50) / 50, game=range(50)).uniform
    True
    """
    sample = chances(values, "values")
    n_values = independent_games(game, len(sample)).n_games
    limits = ecdf_band(n_values, level=level) if band is None else band
    if limits.n_values != n_values:
        raise HandreadError(
            f"the band is for {limits.n_values} values; accepted: one for {n_values}, as given"
        )
    counts = np.searchsorted(np.sort(sample), limits.points, side="right").astype(np.int64)
    outside = (counts < limits.low) | (counts > limits.high)
    return EcdfCheck(limits, counts, outside, not bool(outside.any()))
