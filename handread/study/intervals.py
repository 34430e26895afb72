"""Intervals by bootstrap over games, and comparisons paired by game."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from handread.errors import HandreadError
from handread.study._arrays import Floats, between, vector
from handread.study.clusters import GameIndex, game_index

#: Maps weighted means over games, shape (..., n_columns), to the figure, shape (...,).
Statistic = Callable[[Floats], Floats]

RESAMPLES = 2000
#: Entries of a block of bootstrap weights, so that a block fits into the processor's cache.
_BLOCK = 400_000
LEVEL = 0.95


@dataclass(frozen=True)
class Estimate:
    """A figure with its interval over games and the counts that it rests on.

    Attributes
    ----------
    value
        The figure from the games as they are.
    low, high
        Ends of the interval: were the study repeated with as many new games, intervals made
        this way would hold the true figure in a share `level` of the studies. NaN where the
        figure is not finite.
    standard_error
        Standard deviation of the figure over resampled sets of games.
    level
        Confidence level of the interval.
    unit
        Unit of `value`, `low`, `high` and `standard_error`.
    n_games
        Games that had at least one moment.
    n_moments
        Moments in all of them.
    """

    value: float
    low: float
    high: float
    standard_error: float
    level: float
    unit: str
    n_games: int
    n_moments: int

    def __str__(self) -> str:
        """Print the figure with its unit, interval and counts."""
        if np.isfinite(self.low):
            span = f"[{self.low:.4g}, {self.high:.4g}] at {100 * self.level:g} %"
        else:
            span = "no interval"
        return (
            f"{self.value:.4g} {self.unit} {span} "
            f"({self.n_games:,} games, {self.n_moments:,} moments)"
        )


def resampled_weights(
    n_games: int, resamples: int, *, rng: np.random.Generator
) -> Iterator[Floats]:  # fmt: skip
    """Yield blocks of bootstrap weights over games.

    Parameters
    ----------
    n_games
        Games to draw from, with replacement.
    resamples
        How many sets of games to draw in all.
    rng
        Source of the draws; the same state gives the same weights.

    Yields
    ------
    numpy.ndarray
        How often each game was drawn over `n_games`, rows sum to 1, shape (n_block, n_games).
    """
    from handread.study.kernels import share_drawn

    block = max(1, min(resamples, _BLOCK // n_games))
    for start in range(0, resamples, block):
        size = min(block, resamples - start)
        drawn = rng.integers(n_games, size=(size, n_games), dtype=np.int32)
        shares = np.empty((size, n_games))
        share_drawn(drawn, shares)
        yield shares


def expanded_tails(n_games: int, level: float) -> tuple[float, float]:
    """Probabilities at which to read a bootstrap distribution so that the interval keeps `level`.

    The plain percentile interval is too short for few games by sqrt((n - 1) / n) and by the
    normal quantile in the place of Student's; the tails are widened by both.

    Parameters
    ----------
    n_games
        Games that were resampled, at least 2.
    level
        Confidence level wanted.

    Returns
    -------
    tuple of float
        Lower and upper probability.

    References
    ----------
    Hesterberg, T. C. (2015), "What teachers should know about the bootstrap", The American
    Statistician 69, 371-386 (the expanded percentile interval; from memory).

    Examples
    --------
    >>> [round(tail, 4) for tail in expanded_tails(10, 0.95)]
    [0.0086, 0.9914]
    """
    from scipy.special import ndtr, stdtrit

    quantile = float(stdtrit(n_games - 1, 0.5 + level / 2.0))
    high = float(ndtr(np.sqrt(n_games / (n_games - 1.0)) * quantile))
    return 1.0 - high, high


def bootstrap_figures(
    per_game: Floats,
    statistics: Sequence[tuple[Statistic, str]],
    *,
    rng: np.random.Generator,
    n_moments: int,
    level: float = LEVEL,
    resamples: int = RESAMPLES,
) -> tuple[Estimate, ...]:
    """Estimate figures that are functions of means over games, all from the same resamples.

    Parameters
    ----------
    per_game
        What each game contributes, shape (n_games, n_columns).
    statistics
        For each figure, the function from means over games, shape (..., n_columns), to the
        figure, shape (...,), and its unit.
    rng
        Source of the resampling.
    n_moments
        Moments in all games, to be printed.
    level
        Confidence level.
    resamples
        Bootstrap sets of games.

    Returns
    -------
    tuple of Estimate
        In the order of `statistics`. A figure that is not finite, or not finite in some
        resample, has no interval.

    Raises
    ------
    HandreadError
        If there are fewer than two games.
    """
    between(level, "level", 0.0, 1.0)
    n_games = len(per_game)
    if n_games < 2:
        raise HandreadError(f"an interval over {n_games} game; accepted: two games or more")
    tails = expanded_tails(n_games, level)
    means = per_game.mean(axis=0)
    with np.errstate(invalid="ignore", divide="ignore"):
        blocks = [
            weights @ per_game for weights in resampled_weights(n_games, resamples, rng=rng)
        ]  # fmt: skip
        drawn = np.concatenate(blocks)
        pairs = [(float(figure(means)), figure(drawn)) for figure, _ in statistics]
    return tuple(
        _read(value, figures, tails, level, unit, n_games, n_moments)
        for (value, figures), (_, unit) in zip(pairs, statistics, strict=True)
    )


def _read(
    value: float,
    figures: Floats,
    tails: tuple[float, float],
    level: float,
    unit: str,
    n_games: int,
    n_moments: int,
) -> Estimate:
    """Read the interval off a bootstrap distribution; none if anything is not finite."""
    if not (np.isfinite(value) and np.isfinite(figures).all()):
        return Estimate(value, np.nan, np.nan, np.nan, level, unit, n_games, n_moments)
    low, high = np.quantile(figures, tails)
    spread = float(figures.std(ddof=1))
    return Estimate(value, float(low), float(high), spread, level, unit, n_games, n_moments)


def column(place: int) -> Statistic:
    """Return the statistic that is the mean over games of one column."""

    def read(means: Floats) -> Floats:
        return np.asarray(means[..., place])

    return read


def estimate(
    values: ArrayLike,
    *,
    game: ArrayLike | GameIndex | None,
    rng: np.random.Generator,
    unit: str,
    level: float = LEVEL,
    resamples: int = RESAMPLES,
) -> Estimate:
    """Average a score within games, then over games, with an interval over games.

    Parameters
    ----------
    values
        One number a moment, shape (n_moments,).
    game
        Game of each moment, shape (n_moments,). Required: there is no interval without it.
    rng
        Source of the resampling.
    unit
        Unit of `values`.
    level
        Confidence level.
    resamples
        Bootstrap sets of games.

    Returns
    -------
    Estimate

    Raises
    ------
    HandreadError
        If there is no cluster key, or fewer than two games.

    Examples
    --------
    >>> rng = np.random.default_rng(3)
    >>> print(estimate([0.0, 0.2, 0.4, 0.6], game=[1, 1, 2, 2], rng=rng, unit="bits").value)
    0.3
    """
    scores = vector(values, "values")
    index = game_index(game, len(scores))
    return bootstrap_figures(
        index.means(scores)[:, None], [(column(0), unit)],
        rng=rng, n_moments=index.n_moments, level=level, resamples=resamples,
    )[0]  # fmt: skip


@dataclass(frozen=True)
class PairedDifference:
    """Two forecasters on the same moments.

    Attributes
    ----------
    first, second
        Mean score of each over games.
    difference
        First minus second with its interval; games that are hard for both cancel, so it is
        far narrower than the two intervals laid side by side.
    first_better
        Share of games in which the first had the higher mean; ties count half.
    """

    first: float
    second: float
    difference: Estimate
    first_better: float


def paired_difference(
    first: ArrayLike,
    second: ArrayLike,
    *,
    game: ArrayLike | GameIndex | None,
    rng: np.random.Generator,
    unit: str,
    level: float = LEVEL,
    resamples: int = RESAMPLES,
) -> PairedDifference:
    """Compare two forecasters, paired by game, on the same moments.

    Parameters
    ----------
    first, second
        Scores of the two at the same moments in the same order, shape (n_moments,).
    game
        Game of each moment, shape (n_moments,).
    rng
        Source of the resampling.
    unit
        Unit of the scores.
    level
        Confidence level.
    resamples
        Bootstrap sets of games.

    Returns
    -------
    PairedDifference

    Raises
    ------
    HandreadError
        If the two do not hold the same number of moments, or both are infinite at one.

    Examples
    --------
    >>> rng = np.random.default_rng(3)
    >>> both = paired_difference([1.0, 2.0], [0.5, 1.0], game=[1, 2], rng=rng, unit="bits")
    >>> both.difference.value, both.first_better
    (0.75, 1.0)
    """
    one = vector(first, "first")
    two = vector(second, "second", len(one))
    index = game_index(game, len(one))
    with np.errstate(invalid="ignore"):
        gap = one - two
    if np.isnan(gap).any():
        where = int(np.argmax(np.isnan(gap)))
        raise HandreadError(
            f"scores are {float(one[where])!r} and {float(two[where])!r} at moment {where}; "
            "accepted: scores of which at most one is infinite"
        )
    by_game = index.means(gap)
    (difference,) = bootstrap_figures(
        by_game[:, None], [(column(0), unit)],
        rng=rng, n_moments=index.n_moments, level=level, resamples=resamples,
    )  # fmt: skip
    better = float(np.mean((by_game > 0.0) + 0.5 * (by_game == 0.0)))
    return PairedDifference(
        float(index.means(one).mean()), float(index.means(two).mean()), difference, better
    )
