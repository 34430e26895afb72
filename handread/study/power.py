"""Calibration power: the power of the posterior that would have scored best.

A posterior raised to a power and normalised again keeps its order and changes its
confidence. If the best power is below 1 the reader was overconfident (he multiplied hints
that were not independent, say); if it is above 1 he was too shy.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from handread.errors import HandreadError, ImpossibleEvidence
from handread.study._arrays import Floats, Ints, distributions, pair
from handread.study.clusters import GameIndex, game_index
from handread.study.intervals import LEVEL, RESAMPLES, Estimate, bootstrap_figures, column

#: Powers beyond these are reported as the bound.
LEAST, MOST = 1.0 / 32.0, 32.0


def tempered(prob: ArrayLike, power: float) -> Floats:
    """Raise forecasts to a power and normalise them.

    Parameters
    ----------
    prob
        Forecast probabilities, shape (n_moments, n_rows).
    power
        Above 0: below 1 flattens, above 1 sharpens; zeros stay zeros.

    Returns
    -------
    numpy.ndarray
        Probabilities, shape (n_moments, n_rows).

    Examples
    --------
    >>> tempered([[0.2, 0.8]], 0.5).round(4).tolist()
    [[0.3333, 0.6667]]
    """
    forecast = distributions(prob, "prob")
    if not power > 0.0:
        raise HandreadError(f"power is {power!r}; accepted: above 0")
    raised = (forecast / forecast.max(axis=1, keepdims=True)) ** power
    return np.asarray(raised / raised.sum(axis=1, keepdims=True))


def power_matters(prob: ArrayLike) -> bool:
    """Whether a power would change any forecast: not if all are flat or certain.

    Parameters
    ----------
    prob
        Forecast probabilities, shape (n_moments, n_rows).

    Returns
    -------
    bool

    Examples
    --------
    >>> power_matters([[0.5, 0.5, 0.0], [0.0, 0.0, 1.0]]), power_matters([[0.6, 0.4]])
    (False, True)
    """
    forecast = distributions(prob, "prob")
    highest = forecast.max(axis=1, keepdims=True)
    return bool(((forecast > 0.0) & (forecast < highest)).any())


@dataclass(frozen=True)
class CalibrationPower:
    """The power of the posterior with the best log score.

    Attributes
    ----------
    power
        Best over all games, with its interval over games; 1 is right, below 1 overconfident.
    fold_powers
        Best power of the games outside each fold.
    held_out_gain
        Bits a moment that the games of each fold gain from the power found outside it: what
        recalibration by one number is worth in games that it has not seen. Below 0 it is
        not worth doing.
    at_bound
        Whether the best power lies beyond the bounds 1/32 and 32, as for a reader whose first
        choice is always right; the figure is then the bound.
    """

    power: Estimate
    fold_powers: tuple[float, ...]
    held_out_gain: Estimate
    at_bound: bool


class _Curve:
    """Log score of tempered forecasts as a function of the power, in nats a moment."""

    def __init__(self, forecast: Floats, truth: Floats):
        zero = forecast <= 0.0
        lost = (zero & (truth > 0.0)).any(axis=1)
        if lost.any():
            raise ImpossibleEvidence(
                f"the truth has probability 0 at {int(lost.sum())} moments, first at moment "
                f"{int(np.argmax(lost))}; no power mends that; accepted: moments at which every "
                "true row has some probability"
            )
        # relative to the likeliest row, so that no power overflows; rows lie under one another
        shares = np.ascontiguousarray(forecast.T) / forecast.max(axis=1)
        with np.errstate(divide="ignore"):
            self.logs = np.log(shares, out=shares)
        self.finite = np.where(zero.T, 0.0, self.logs)
        if not power_matters(forecast):
            raise HandreadError(
                "every forecast gives its rows equal probabilities, so every power scores the "
                "same; accepted: forecasts of which at least one is neither flat nor certain"
            )
        self.of_truth = np.einsum("mk,km->m", truth, self.finite)
        self._raised: Floats = np.empty_like(self.logs)

    def score(self, power: float) -> Floats:
        """Log score in nats, shape (n_moments,)."""
        total = self._powered(power).sum(axis=0)
        return np.asarray(power * self.of_truth - np.log(total))

    def _powered(self, power: float) -> Floats:
        """Forecasts to a power, not normalised, shape (n_rows, n_moments); good until the next."""
        np.multiply(self.logs, power, out=self._raised)
        np.exp(self._raised, out=self._raised)
        return self._raised

    def slopes(self, power: float) -> Floats:
        """First and second derivative of `score` by the power, shape (n_moments, 2)."""
        from handread.study.kernels import raised_moments

        told = np.empty((3, len(self.of_truth)))
        raised_moments(self._powered(power), self.finite, told)
        _, mean, square = told
        return np.stack([self.of_truth - mean, mean**2 - square], axis=1)


def _best_power(
    curve: _Curve, weight: Floats, start: float, first: Floats | None = None
) -> tuple[float, bool]:
    """Maximise the concave mean score: Newton in the power, kept inside a shrinking bracket.

    `first` are the slopes at the start, where they are known.
    """
    low, high, power = LEAST, MOST, start
    for _ in range(80):
        slope, bend = weight @ (curve.slopes(power) if first is None else first)
        first = None
        if slope == 0.0:
            break
        if slope > 0.0:
            low = power
        else:
            high = power
        step = float(power - slope / bend) if bend < 0.0 else np.inf if slope > 0.0 else -np.inf
        if abs(step - power) < 1e-9 * power:  # there; the bracket may be narrower than rounding
            power = step
            break
        if not low < step < high:
            step = float(np.sqrt(low * high))
        moved = abs(step - power)
        power = step
        if moved < 1e-9 * power:
            break
    if power > MOST * (1.0 - 1e-6):
        return MOST, True
    if power < LEAST * (1.0 + 1e-6):
        return LEAST, True
    return power, False


def _folds(n_games: int, folds: int, rng: np.random.Generator) -> Ints:
    if not 2 <= folds <= n_games:
        raise HandreadError(f"folds is {folds!r}; accepted: 2 to the number of games, {n_games}")
    return np.asarray(rng.permutation(n_games) % folds, dtype=np.int64)


def _one_step(best: float) -> object:
    """Power of resampled games by one Newton step from the best of all games."""

    def read(means: Floats) -> Floats:
        with np.errstate(invalid="ignore", divide="ignore"):
            return np.clip(best - means[..., 0] / means[..., 1], LEAST, MOST)

    return read


def calibration_power(
    prob: ArrayLike,
    truth: ArrayLike,
    *,
    game: ArrayLike | GameIndex | None,
    rng: np.random.Generator,
    folds: int = 5,
    level: float = LEVEL,
    resamples: int = RESAMPLES,
) -> CalibrationPower:
    """Find the power of the posterior with the best log score, and what it gains held out.

    Parameters
    ----------
    prob
        Forecast probabilities, shape (n_moments, n_rows), above 0 for every true row.
    truth
        Weights of the true rows, shape (n_moments, n_rows).
    game
        Game of each moment, shape (n_moments,); folds and resamples are made of whole games.
    rng
        Source of the folds and the resampling.
    folds
        Parts into which the games are split; each is scored with the power of the others.
    level
        Confidence level.
    resamples
        Bootstrap sets of games; each is refitted by one Newton step, which is close since the
        score is a concave function of one number.

    Returns
    -------
    CalibrationPower

    Raises
    ------
    ImpossibleEvidence
        If a truth has probability 0.
    HandreadError
        If all forecasts are flat or certain, so that the power makes no difference.

    Examples
    --------
    >>> rng = np.random.default_rng(0)
    >>> truth = [[1, 0], [1, 0], [1, 0], [0, 1]] * 2
    >>> told = calibration_power([[0.9, 0.1]] * 8, truth, game=range(8), rng=rng, folds=2)
    >>> round(told.power.value, 3)  # 3 of 4 are right: log odds of 3 over log odds of 9
    0.5
    """
    forecast, weight = pair(prob, truth)
    index = game_index(game, len(forecast))
    fold = _folds(index.n_games, folds, rng)
    curve = _Curve(forecast, weight)
    best, at_bound = _best_power(curve, index.weight, 1.0)
    at_best = curve.slopes(best)
    powers = []
    gain = np.empty(index.n_games)
    plain = index.means(curve.score(1.0))
    for part in range(folds):
        inside = fold == part
        outside = np.where(inside[index.code], 0.0, index.weight)
        power, _ = _best_power(curve, outside, best, at_best)
        powers.append(power)
        gain[inside] = (index.means(curve.score(power)) - plain)[inside] / np.log(2.0)
    options = {"rng": rng, "n_moments": index.n_moments, "level": level, "resamples": resamples}
    slopes = index.means(at_best)
    (spread,) = bootstrap_figures(slopes, [(_one_step(best), "power")], **options)  # type: ignore[arg-type, list-item]
    (held_out,) = bootstrap_figures(gain[:, None], [(column(0), "bits")], **options)  # type: ignore[arg-type]
    return CalibrationPower(spread, tuple(powers), held_out, at_bound)
