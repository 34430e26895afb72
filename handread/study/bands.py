"""Bands for reliability curves: what chance alone does to a calibrated reader, and to this one."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from handread.errors import HandreadError
from handread.study._arrays import Floats, between, chances, vector
from handread.study.clusters import GameIndex, game_index
from handread.study.intervals import LEVEL, expanded_tails, resampled_weights
from handread.study.reliability import isotonic
from handread.values import ArrayValue

#: Where bands are drawn unless told otherwise.
GRID = tuple(point / 40.0 for point in range(41))


@dataclass(frozen=True, eq=False)
class ReliabilityBand(ArrayValue):
    """A pointwise band around a reliability curve.

    Attributes
    ----------
    kind
        "null": where the curve of a calibrated reader would lie, in games as dependent as
        these; "bootstrap": where this reader's own curve may lie.
    grid
        Stated probabilities, shape (n_grid,).
    low, high
        Recalibrated probabilities, shape (n_grid,); NaN outside the data.
    level
        Pointwise level: at each stated probability by itself.
    n_games
        Games that were flipped or resampled.
    """

    kind: str
    grid: Floats
    low: Floats
    high: Floats
    level: float
    n_games: int


@dataclass(frozen=True, eq=False)
class NullBand(ReliabilityBand):
    """The null band, and where this reader's miscalibration stands in it.

    Attributes
    ----------
    miscalibration
        Brier miscalibration of the forecasts, squared probability.
    null_miscalibration
        Its upper `level` quantile for a calibrated reader, squared probability.
    p_value
        How often a calibrated reader would look at least as miscalibrated.
    """

    miscalibration: float
    null_miscalibration: float
    p_value: float


class _Sorted:
    """Moments in order of their forecasts, for many isotonic fits with other events."""

    def __init__(self, prob: ArrayLike, event: ArrayLike, game: ArrayLike | GameIndex | None):
        stated = chances(prob, "prob")
        happened = chances(event, "event", len(stated))
        index = game_index(game, len(stated))
        if index.n_games < 2:
            raise HandreadError("a band over 1 game; accepted: two games or more")
        order = np.argsort(stated, kind="stable")
        self.stated, self.event = stated[order], happened[order]
        self.code, self.share = index.code[order], index.weight[order]
        self.n_games = index.n_games
        self.start = np.flatnonzero(np.diff(self.stated, prepend=-1.0))
        self.values = self.stated[self.start]

    def pooled(self, per_moment: Floats) -> Floats:
        """Sum over the moments at each stated value, shape (n_values,)."""
        return np.asarray(np.add.reduceat(per_moment, self.start))


def _grid(grid: ArrayLike | None) -> Floats:
    return np.asarray(GRID) if grid is None else vector(grid, "grid")


def null_band(
    prob: ArrayLike,
    event: ArrayLike,
    *,
    game: ArrayLike | GameIndex | None,
    rng: np.random.Generator,
    level: float = LEVEL,
    resamples: int = 400,
    grid: ArrayLike | None = None,
) -> NullBand:
    """Draw the band in which a calibrated reader's curve would lie.

    The residuals event - prob of whole games have their sign flipped at random: their mean is
    then 0 at every stated probability, as calibration asks, while the dependence within a
    game, and between seats, stays as it is. Flipping moments one by one would not keep it.

    Parameters
    ----------
    prob
        Stated probabilities, shape (n_moments,).
    event
        1 where it happened, 0 where not, or the weight of the truth, shape (n_moments,).
    game
        Game of each moment, shape (n_moments,).
    rng
        Source of the signs.
    level
        Pointwise level.
    resamples
        Sets of signs.
    grid
        Stated probabilities at which to give the band.

    Returns
    -------
    NullBand

    References
    ----------
    Wild bootstrap by cluster: Cameron, A. C., Gelbach, J. B. and Miller, D. L. (2008), Rev.
    Econ. Stat. 90, 414-427 (from memory); consistency bands: Dimitriadis, Gneiting and
    Jordan (2021).
    """
    from handread.study.kernels import loss_saved, signed_gaps

    between(level, "level", 0.0, 1.0)
    data = _Sorted(prob, event, game)
    points = _grid(grid)
    weight = data.pooled(data.share)
    residual = data.share * (data.event - data.stated)
    curves = np.empty((resamples, len(points)))
    saved = np.empty(resamples)
    gap = np.empty_like(weight)
    for draw in range(resamples):
        sign = rng.choice(np.array([-1.0, 1.0]), size=data.n_games)
        signed_gaps(residual, data.code, sign, data.start, weight, gap)
        best = isotonic(data.values + gap, weight)
        curves[draw] = np.interp(points, data.values, best, left=np.nan, right=np.nan)
        saved[draw] = loss_saved(data.values, gap, best, weight)
    gap = data.pooled(residual) / weight
    own = loss_saved(data.values, gap, isotonic(data.values + gap, weight), weight)
    low, high = _quantiles(curves, ((1.0 - level) / 2.0, (1.0 + level) / 2.0))
    p_value = float((1 + np.sum(saved >= own * (1.0 - 1e-12))) / (1 + resamples))
    return NullBand(
        "null", points, low, high, level, data.n_games,
        own, float(np.quantile(saved, level)), p_value,
    )  # fmt: skip


def _quantiles(curves: Floats, tails: tuple[float, float]) -> tuple[Floats, Floats]:
    """Lower and upper curve; NaN where more than half of the curves have no value."""
    low = np.full(curves.shape[1], np.nan)
    high = low.copy()
    known = np.isfinite(curves).mean(axis=0) >= 0.5
    if known.any():
        low[known], high[known] = np.nanquantile(curves[:, known], tails, axis=0)
    return low, high


def bootstrap_band(
    prob: ArrayLike,
    event: ArrayLike,
    *,
    game: ArrayLike | GameIndex | None,
    rng: np.random.Generator,
    level: float = LEVEL,
    resamples: int = 400,
    grid: ArrayLike | None = None,
) -> ReliabilityBand:
    """Draw the band in which this reader's curve may lie, by resampling games.

    Parameters
    ----------
    prob, event, game, level, resamples, grid
        As in `null_band`.
    rng
        Source of the resampling.

    Returns
    -------
    ReliabilityBand
    """
    between(level, "level", 0.0, 1.0)
    data = _Sorted(prob, event, game)
    points = _grid(grid)
    curves = np.empty((resamples, len(points)))
    draw = 0
    for block in resampled_weights(data.n_games, resamples, rng=rng):
        for drawn in block:
            share = data.share * drawn[data.code]
            weight = data.pooled(share)
            kept = weight > 0.0
            observed = data.pooled(share * data.event)[kept] / weight[kept]
            best = isotonic(observed, weight[kept])
            curves[draw] = np.interp(
                points, data.values[kept], best, left=np.nan, right=np.nan
            )  # fmt: skip
            draw += 1
    low, high = _quantiles(curves, expanded_tails(data.n_games, level))
    return ReliabilityBand("bootstrap", points, low, high, level, data.n_games)
