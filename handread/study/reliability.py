"""CORP reliability: what happens when a probability is stated, without bins.

The recalibrated curve is the isotonic regression of events on stated probabilities, found by
pooling adjacent violators. It needs no bins, so no choice of bins can flatter it, and it
splits a score exactly into miscalibration, discrimination and uncertainty (Dimitriadis,
Gneiting and Jordan 2021).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from handread.errors import HandreadError
from handread.study._arrays import Floats, chances, pair, sums_by, vector
from handread.study.clusters import GameIndex, game_index
from handread.values import ArrayValue


@dataclass(frozen=True)
class ScoreParts:
    """A mean loss split into parts: loss = miscalibration - discrimination + uncertainty.

    Attributes
    ----------
    loss
        Mean loss of the forecasts, smaller is better.
    miscalibration
        What recalibration would save, 0 or more. Noise alone makes it positive: hold it
        against `null_band`.
    discrimination
        What the order of the forecasts is worth over the base rate, 0 or more.
    uncertainty
        Mean loss of the base rate: how hard the question is, whoever answers.
    unit
        "squared probability" for the Brier loss, "bits" for the log loss.
    """

    loss: float
    miscalibration: float
    discrimination: float
    uncertainty: float
    unit: str


@dataclass(frozen=True, eq=False)
class Reliability(ArrayValue):
    """A CORP reliability curve of yes-or-no forecasts.

    Attributes
    ----------
    stated
        Distinct probabilities that were stated, increasing, shape (n_values,).
    recalibrated
        Conditional probability of the event at each, by isotonic regression, shape
        (n_values,). Below `stated` the forecaster was too sure that it would happen.
    observed
        Mean of the event at each, shape (n_values,).
    weight
        Share of the moments at each, games counting alike; sums to 1, shape (n_values,).
    n_games
        Games behind the curve; 0 if no game key was given.
    n_moments
        Moments behind the curve.
    """

    stated: Floats
    recalibrated: Floats
    observed: Floats
    weight: Floats
    n_games: int
    n_moments: int

    def at(self, grid: ArrayLike) -> Floats:
        """Recalibrated probability at any stated one, linear between, NaN outside the data.

        Parameters
        ----------
        grid
            Stated probabilities, shape (n_grid,).

        Returns
        -------
        numpy.ndarray
            Probabilities, shape (n_grid,).
        """
        points = vector(grid, "grid")
        return np.interp(points, self.stated, self.recalibrated, left=np.nan, right=np.nan)

    @property
    def brier(self) -> ScoreParts:
        """Parts of the Brier loss (p - y)^2, from 0 to 1."""
        return self._parts(_square_loss, "squared probability")

    @property
    def log(self) -> ScoreParts:
        """Parts of the log loss -log2 p(what happened), in bits."""
        return self._parts(_log_loss, "bits")

    def _parts(self, loss: object, unit: str) -> ScoreParts:
        def mean(prob: Floats) -> float:
            return float(self.weight @ loss(prob, self.observed))  # type: ignore[operator]

        rate = np.full_like(self.observed, self.weight @ self.observed)
        stated, best, base = mean(self.stated), mean(self.recalibrated), mean(rate)
        return ScoreParts(stated, stated - best, base - best, base, unit)


def _square_loss(prob: Floats, rate: Floats) -> Floats:
    return np.asarray(rate * (1.0 - prob) ** 2 + (1.0 - rate) * prob**2)


def _log_loss(prob: Floats, rate: Floats) -> Floats:
    yes = np.zeros_like(prob)
    no = np.zeros_like(prob)
    with np.errstate(divide="ignore"):
        np.log2(prob, out=yes, where=rate > 0.0)
        np.log2(1.0 - prob, out=no, where=rate < 1.0)
    return np.asarray(-(rate * yes + (1.0 - rate) * no))


def isotonic(values: Floats, weight: Floats) -> Floats:
    """Weighted isotonic regression: the nearest non-decreasing sequence in least squares.

    Parameters
    ----------
    values
        Numbers in order, shape (n,).
    weight
        Weights, above 0, shape (n,).

    Returns
    -------
    numpy.ndarray
        Non-decreasing means of blocks of neighbours, shape (n,).

    References
    ----------
    Ayer, M. et al. (1955), Ann. Math. Stat. 26, 641-647 (pool adjacent violators).

    Examples
    --------
    >>> isotonic(np.array([1.0, 3.0, 2.0]), np.ones(3)).tolist()
    [1.0, 2.5, 2.5]
    """
    from scipy.optimize import isotonic_regression

    return np.asarray(isotonic_regression(values, weights=weight).x)


def reliability_curve(
    prob: ArrayLike, event: ArrayLike, *, game: ArrayLike | GameIndex | None = None
) -> Reliability:
    """Fit the CORP curve of yes-or-no forecasts.

    Parameters
    ----------
    prob
        Stated probabilities, shape (n_moments,).
    event
        1 where it happened and 0 where it did not, or the weight of the truth between,
        shape (n_moments,).
    game
        Game of each moment; games then count alike. Without it moments do.

    Returns
    -------
    Reliability

    References
    ----------
    Dimitriadis, T., Gneiting, T. and Jordan, A. I. (2021), "Stable reliability diagrams for
    probabilistic classifiers", PNAS 118, e2016191118. doi:10.1073/pnas.2016191118

    Examples
    --------
    >>> curve = reliability_curve([0.2, 0.2, 0.6, 0.9], [0, 0, 1, 1])
    >>> curve.recalibrated.tolist()
    [0.0, 1.0, 1.0]
    """
    stated = chances(prob, "prob")
    happened = chances(event, "event", len(stated))
    if game is None:
        share, n_games = np.full(len(stated), 1.0 / len(stated)), 0
    else:
        index = game_index(game, len(stated))
        share, n_games = index.weight, index.n_games
    values, place = np.unique(stated, return_inverse=True)
    weight = sums_by(place, share, len(values))
    # a mean of weights that are all 1 must be 1 to the bit, or log losses of certainty blur
    observed = np.clip(sums_by(place, share * happened, len(values)) / weight, 0.0, 1.0)
    best = np.clip(isotonic(observed, weight), 0.0, 1.0)
    return Reliability(values, best, observed, weight, n_games, len(stated))


def stated_top(prob: ArrayLike, truth: ArrayLike) -> tuple[Floats, Floats]:
    """Probability of the row that is named first, and whether it was right.

    Parameters
    ----------
    prob
        Forecast probabilities, shape (n_moments, n_rows).
    truth
        Weights of the true rows, shape (n_moments, n_rows).

    Returns
    -------
    tuple of numpy.ndarray
        The highest probability, and the weight of the truth on it (averaged over the rows
        that share the highest), each of shape (n_moments,).

    Examples
    --------
    >>> [part.tolist() for part in stated_top([[0.5, 0.5], [0.2, 0.8]], [[1, 0], [0, 1]])]
    [[0.5, 0.8], [0.5, 1.0]]
    """
    forecast, weight = pair(prob, truth)
    highest = forecast.max(axis=1)
    named = forecast == highest[:, None]
    right = (weight * named).sum(axis=1) / named.sum(axis=1)
    return np.clip(highest, 0.0, 1.0), np.clip(right, 0.0, 1.0)


def reliability_of_top(
    prob: ArrayLike, truth: ArrayLike, *, game: ArrayLike | GameIndex | None = None
) -> Reliability:
    """CORP curve of the row named first: when it says 0.7, is it right in 0.7 of the moments?

    Parameters
    ----------
    prob
        Forecast probabilities, shape (n_moments, n_rows).
    truth
        Weights of the true rows, shape (n_moments, n_rows).
    game
        Game of each moment; games then count alike.

    Returns
    -------
    Reliability
    """
    stated, right = stated_top(prob, truth)
    return reliability_curve(stated, right, game=game)


def reliability_by_row(
    prob: ArrayLike, truth: ArrayLike, *, game: ArrayLike | GameIndex | None = None
) -> tuple[Reliability, ...]:
    """CORP curve of each row against the rest.

    A reader may be calibrated about what he names first and not about the long shots, which
    are what a careful defender acts on.

    Parameters
    ----------
    prob
        Forecast probabilities, shape (n_moments, n_rows).
    truth
        Weights of the true rows, shape (n_moments, n_rows).
    game
        Game of each moment; games then count alike.

    Returns
    -------
    tuple of Reliability
        One a row, in the order of the rows.
    """
    forecast, weight = pair(prob, truth)
    if forecast.shape[1] > 500:
        raise HandreadError(
            f"prob has {forecast.shape[1]} rows; accepted: up to 500 (families, not targets)"
        )
    index = None if game is None else game_index(game, len(forecast))
    clipped = np.clip(forecast, 0.0, 1.0)
    return tuple(
        reliability_curve(clipped[:, row], np.clip(weight[:, row], 0.0, 1.0), game=index)
        for row in range(forecast.shape[1])
    )
