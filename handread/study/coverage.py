"""Credible sets: do sets that state 80 % hold the truth in 80 % of the moments, and how large?"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from handread.study._arrays import Bools, Floats, Ints, between, distributions, pair
from handread.study.clusters import GameIndex, game_index
from handread.study.intervals import LEVEL, RESAMPLES, Estimate, bootstrap_figures, column

#: Levels at which sets are reported.
LEVELS = (0.5, 0.8, 0.95)

#: Room for rounding when masses that should equal the level are compared with it.
_ROUNDING = 1e-12


def _sorted_rows(forecast: Floats) -> tuple[Ints, Floats, Floats]:
    """Rows from the likeliest down, their probabilities, and the mass before each."""
    order = np.argsort(-forecast, axis=1, kind="stable")
    ranked = np.take_along_axis(forecast, order, axis=1)
    before = np.cumsum(ranked, axis=1) - ranked
    return order.astype(np.int64), ranked, before


def _chance_inside(ranked: Floats, before: Floats, level: float) -> Floats:
    """Probability of each ranked row to be in the randomised set of exactly `level`."""
    part = np.zeros_like(ranked)
    np.divide(level - before, ranked, out=part, where=ranked > 0.0)
    return np.clip(part, 0.0, 1.0)


def credible_set(prob: ArrayLike, level: float) -> Bools:
    """Return the smallest set of rows whose probability reaches `level`.

    Its own stated mass is usually above the level, since rows are whole; hold its coverage
    against that mass, not against the level.

    Parameters
    ----------
    prob
        Forecast probabilities, shape (n_moments, n_rows).
    level
        Mass to be reached, between 0 and 1.

    Returns
    -------
    numpy.ndarray
        True for members, shape (n_moments, n_rows). Ties go to the earlier row.

    Examples
    --------
    >>> credible_set([[0.5, 0.3, 0.2]], 0.6).tolist()
    [[True, True, False]]
    """
    forecast = distributions(prob, "prob")
    between(level, "level", 0.0, 1.0)
    order, ranked, before = _sorted_rows(forecast)
    inside = (before < level - _ROUNDING) & (ranked > 0.0)
    members = np.zeros(forecast.shape, dtype=np.bool_)
    np.put_along_axis(members, order, inside, axis=1)
    return members


def chance_in_randomised_set(prob: ArrayLike, level: float) -> Floats:
    """Probability that each row is in the randomised set that states exactly `level`.

    The likeliest rows are in for certain, the one at the edge with the probability that
    brings the stated mass to `level` exactly, the others not at all.

    Parameters
    ----------
    prob
        Forecast probabilities, shape (n_moments, n_rows).
    level
        Mass to be stated, between 0 and 1.

    Returns
    -------
    numpy.ndarray
        Probabilities; sum_k prob_k times it is `level`, shape (n_moments, n_rows).

    Examples
    --------
    >>> chance_in_randomised_set([[0.5, 0.25, 0.25]], 0.625).tolist()
    [[1.0, 0.5, 0.0]]
    """
    forecast = distributions(prob, "prob")
    between(level, "level", 0.0, 1.0)
    order, ranked, before = _sorted_rows(forecast)
    chance = np.zeros_like(forecast)
    np.put_along_axis(chance, order, _chance_inside(ranked, before, level), axis=1)
    return chance


def randomised_set(prob: ArrayLike, level: float, *, rng: np.random.Generator) -> Bools:
    """Draw a set of rows that states exactly `level`.

    Parameters
    ----------
    prob
        Forecast probabilities, shape (n_moments, n_rows).
    level
        Mass to be stated, between 0 and 1.
    rng
        Source of the lot for the row at the edge.

    Returns
    -------
    numpy.ndarray
        True for members, shape (n_moments, n_rows).
    """
    chance = chance_in_randomised_set(prob, level)
    return np.asarray(rng.random((len(chance), 1)) < chance)


@dataclass(frozen=True)
class Coverage:
    """How often credible sets of one level held the truth.

    Attributes
    ----------
    level
        Mass asked for.
    covered
        Share of moments at which the smallest set held the truth.
    stated
        Mass that these sets stated, on average.
    excess
        Covered less stated: 0 when calibrated, below 0 when the sets are too small.
    size
        Rows in the set.
    randomised_covered
        Share of moments at which the randomised set held the truth, averaged over its lots:
        `level` itself when calibrated.
    randomised_size
        Rows in the randomised set, averaged over its lots.
    """

    level: float
    covered: Estimate
    stated: Estimate
    excess: Estimate
    size: Estimate
    randomised_covered: Estimate
    randomised_size: Estimate


def _excess(means: Floats) -> Floats:
    return np.asarray(means[..., 0] - means[..., 1])


def set_coverage(
    prob: ArrayLike,
    truth: ArrayLike,
    *,
    game: ArrayLike | GameIndex | None,
    rng: np.random.Generator,
    levels: tuple[float, ...] = LEVELS,
    confidence: float = LEVEL,
    resamples: int = RESAMPLES,
) -> tuple[Coverage, ...]:
    """Measure coverage and size of credible sets.

    Parameters
    ----------
    prob
        Forecast probabilities, shape (n_moments, n_rows).
    truth
        Weights of the true rows, shape (n_moments, n_rows).
    game
        Game of each moment, shape (n_moments,).
    rng
        Source of the resampling of games.
    levels
        Masses of the sets.
    confidence
        Confidence level of the intervals.
    resamples
        Bootstrap sets of games.

    Returns
    -------
    tuple of Coverage
        One a level.

    Examples
    --------
    >>> rng = np.random.default_rng(0)
    >>> half = set_coverage([[0.7, 0.3]] * 2, [[1, 0], [0, 1]], game=[1, 2], rng=rng)[0]
    >>> half.covered.value, half.stated.value, round(half.randomised_covered.value, 4)
    (0.5, 0.7, 0.3571)
    """
    forecast, weight = pair(prob, truth)
    index = game_index(game, len(forecast))
    order, ranked, before = _sorted_rows(forecast)
    true = np.take_along_axis(weight, order, axis=1)
    units = ("probability", "probability", "probability", "rows", "probability", "rows")
    reports = []
    for level in levels:
        between(level, "level", 0.0, 1.0)
        inside = ((before < level - _ROUNDING) & (ranked > 0.0)).astype(np.float64)
        lot = _chance_inside(ranked, before, level)
        per_moment = np.stack(
            [(true * inside).sum(1), (ranked * inside).sum(1), inside.sum(1),
             (true * lot).sum(1), lot.sum(1)],
            axis=1,
        )  # fmt: skip
        figures = (column(0), column(1), _excess, column(2), column(3), column(4))
        told = bootstrap_figures(
            index.means(per_moment), list(zip(figures, units, strict=True)),
            rng=rng, n_moments=index.n_moments, level=confidence, resamples=resamples,
        )  # fmt: skip
        reports.append(Coverage(level, *told))
    return tuple(reports)
