"""Calibration error of the family named first, with its bias removed and its noise shown.

The plain binned error is never 0, even for a perfect reader: squared noise adds up. Split
the games into two halves, and the product of the halves' mean residuals has no such bias.
Here it is averaged over every way of splitting, which has a closed form.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from handread.errors import HandreadError
from handread.study._arrays import (
    Floats,
    Ints,
    between,
    bin_edges,
    bin_of,
    chances,
    sums_by,
)
from handread.study.clusters import GameIndex, game_index
from handread.study.intervals import LEVEL
from handread.study.reliability import stated_top
from handread.values import ArrayValue

#: Bins of the probability stated for the family named first, fixed once for every study.
TOP_EDGES = tuple(round(0.1 * edge, 1) for edge in range(11))
#: Signs that are looked at together.
_SIGNS = 100_000


@dataclass(frozen=True, eq=False)
class CalibrationError(ArrayValue):
    """How far stated probabilities are from what happened, over fixed bins.

    Attributes
    ----------
    error
        Root mean square distance, a probability, bias removed: the square root of `squared`,
        with its sign. At or below 0 means that nothing beyond noise was found.
    squared
        Mean squared distance over bins, bias removed by splitting games; its expectation is
        0 for a calibrated reader.
    plain
        Root mean square distance with its bias, for comparison with other reports.
    null_error
        Upper `level` quantile of `error` for a calibrated reader in games like these.
    p_value
        How often a calibrated reader would show at least this error.
    level
        Level of `null_error`.
    edges
        Edges of the bins, shape (n_bins + 1,).
    stated, observed
        Mean probability and share of hits of each bin, NaN in empty ones, shape (n_bins,).
    weight
        Share of the moments in each bin, games counting alike, shape (n_bins,).
    moments, games
        Moments and games in each bin, shape (n_bins,).
    n_games, n_moments
        Counts in all.
    """

    error: float
    squared: float
    plain: float
    null_error: float
    p_value: float
    level: float
    edges: Floats
    stated: Floats
    observed: Floats
    weight: Floats
    moments: Ints
    games: Ints
    n_games: int
    n_moments: int


def binned_error(
    prob: ArrayLike, event: ArrayLike, *, edges: ArrayLike, norm: str = "mean"
) -> float:
    """Plain calibration error over bins: what most reports give, noise included.

    Parameters
    ----------
    prob
        Stated probabilities, shape (n_moments,).
    event
        1 where it happened, 0 where not, shape (n_moments,).
    edges
        Edges of the bins.
    norm
        "mean" of the distances, "square" for root mean square, "most" for the largest.

    Returns
    -------
    float
        A probability, 0 or more; never 0 on average, even for a calibrated reader.

    Examples
    --------
    >>> round(binned_error([0.2, 0.2, 0.7], [0, 1, 1], edges=(0, 0.5, 1)), 6)
    0.3
    """
    stated = chances(prob, "prob")
    happened = chances(event, "event", len(stated))
    code = _bins(stated, bin_edges(edges))
    count = np.bincount(code)
    gap = np.bincount(code, weights=happened - stated)
    used = count > 0
    share = count[used] / len(stated)
    distance = np.abs(gap[used] / count[used])
    if norm == "mean":
        return float(share @ distance)
    if norm == "square":
        return float(np.sqrt(share @ distance**2))
    if norm == "most":
        return float(distance.max())
    raise HandreadError(f"norm is {norm!r}; accepted: mean, square, most")


def _bins(stated: Floats, cuts: Floats) -> Ints:
    code = bin_of(stated, cuts)
    if code.min() < 0:
        where = int(np.argmin(code))
        raise HandreadError(
            f"prob is {float(stated[where])!r} at moment {where}, outside the edges; accepted: "
            f"{float(cuts[0])!r} to {float(cuts[-1])!r}"
        )
    return code


def _by_game_and_bin(values: Floats, index: GameIndex, code: Ints, n_bins: int) -> Floats:
    """Sum values / moments of the game over each game and bin, shape (n_games, n_bins)."""
    cell = index.code * n_bins + code
    share = values / index.moments[index.code]
    table = sums_by(cell, share, index.n_games * n_bins)
    return table.reshape(index.n_games, n_bins)


def split_squared_error(residual: Floats, weight: Floats) -> float:
    """Mean squared distance over bins, averaged over every split of the games in halves.

    Parameters
    ----------
    residual
        Sum of event - prob in each bin over a game's moments, divided by the game's moments,
        shape (n_games, n_bins).
    weight
        Share of a game's moments in each bin, shape (n_games, n_bins).

    Returns
    -------
    float
        Squared probability; may be below 0.
    """
    return float(_split(residual.sum(axis=0)[None], residual, weight.sum(axis=0))[0])


def _split(totals: Floats, residual: Floats, weight: Floats) -> Floats:
    """`split_squared_error` of many totals over games, shape (n_draws, n_bins) -> (n_draws,)."""
    n_games = len(residual)
    used = weight > 0.0
    own = (residual[:, used] ** 2).sum(axis=0)
    cross = (totals[:, used] ** 2 - own) * n_games / (n_games - 1.0)
    return np.asarray((cross / weight[used]).sum(axis=1) / n_games)


def _signed_root(square: Floats) -> Floats:
    return np.asarray(np.sign(square) * np.sqrt(np.abs(square)))


def calibration_error(
    prob: ArrayLike,
    event: ArrayLike,
    *,
    edges: ArrayLike,
    game: ArrayLike | GameIndex | None,
    rng: np.random.Generator,
    level: float = LEVEL,
    resamples: int = 2000,
) -> CalibrationError:
    """Calibration error of yes-or-no forecasts, with a null band.

    Parameters
    ----------
    prob
        Stated probabilities, shape (n_moments,).
    event
        1 where it happened, 0 where not, or the weight of the truth, shape (n_moments,).
    edges
        Edges of the bins, to be fixed before looking.
    game
        Game of each moment, shape (n_moments,).
    rng
        Source of the signs of the null band.
    level
        Level of the null band.
    resamples
        Sets of signs: the residuals of whole games are flipped, so that their mean is 0 and
        their dependence stays.

    Returns
    -------
    CalibrationError

    References
    ----------
    Bias of binned errors: Kumar, A., Liang, P. and Ma, T. (2019), "Verified uncertainty
    calibration", NeurIPS 32 (from memory); signs by cluster: Cameron, Gelbach and Miller
    (2008).
    """
    between(level, "level", 0.0, 1.0)
    stated = chances(prob, "prob")
    happened = chances(event, "event", len(stated))
    index = game_index(game, len(stated))
    if index.n_games < 2:
        raise HandreadError("a null band over 1 game; accepted: two games or more")
    cuts = bin_edges(edges)
    n_bins = len(cuts) - 1
    code = _bins(stated, cuts)
    residual = _by_game_and_bin(happened - stated, index, code, n_bins)
    weight = _by_game_and_bin(np.ones_like(stated), index, code, n_bins)
    said = _by_game_and_bin(stated, index, code, n_bins).sum(axis=0)
    total = weight.sum(axis=0)
    with np.errstate(invalid="ignore"):
        mean_stated = said / total
        mean_gap = residual.sum(axis=0) / total
    squared = split_squared_error(residual, weight)
    null = _null(residual, total, resamples, rng)
    return CalibrationError(
        error=float(_signed_root(np.array(squared))),
        squared=squared,
        plain=float(np.sqrt(np.nansum(total * mean_gap**2) / index.n_games)),
        null_error=float(np.quantile(_signed_root(null), level)),
        p_value=float((1 + np.sum(null >= squared - 1e-12 * abs(squared))) / (1 + resamples)),
        level=level, edges=cuts, stated=mean_stated, observed=mean_stated + mean_gap,
        weight=total / index.n_games,
        moments=np.bincount(code, minlength=n_bins).astype(np.int64),
        games=(weight > 0.0).sum(axis=0).astype(np.int64),
        n_games=index.n_games, n_moments=len(stated),
    )  # fmt: skip


def _null(
    residual: Floats, weight: Floats, resamples: int, rng: np.random.Generator
) -> Floats:  # fmt: skip
    """Split squared errors with the signs of whole games flipped, shape (resamples,)."""
    n_games = len(residual)
    block = max(1, min(resamples, 4_000_000 // n_games))
    parts = []
    for start in range(0, resamples, block):
        size = min(block, resamples - start)
        heads = rng.integers(2, size=(size, n_games), dtype=np.int8)
        few = max(1, _SIGNS // n_games)  # as many as the processor's cache holds
        signed = [
            (heads[first : first + few] * 2.0 - 1.0) @ residual for first in range(0, size, few)
        ]
        parts.append(_split(np.concatenate(signed), residual, weight))
    return np.concatenate(parts)


def top_label_error(
    prob: ArrayLike,
    truth: ArrayLike,
    *,
    game: ArrayLike | GameIndex | None,
    rng: np.random.Generator,
    edges: ArrayLike = TOP_EDGES,
    level: float = LEVEL,
    resamples: int = 2000,
) -> CalibrationError:
    """Calibration error of the row that is named first.

    Parameters
    ----------
    prob
        Forecast probabilities, shape (n_moments, n_rows).
    truth
        Weights of the true rows, shape (n_moments, n_rows).
    game, rng, edges, level, resamples
        As in `calibration_error`.

    Returns
    -------
    CalibrationError

    Examples
    --------
    >>> told = top_label_error([[0.75, 0.25]] * 4, [[1, 0], [1, 0], [1, 0], [0, 1]],
    ...                        game=[1, 2, 3, 4], rng=np.random.default_rng(0))
    >>> float(told.observed[7]), told.error < told.null_error
    (0.75, True)
    """
    stated, right = stated_top(prob, truth)
    return calibration_error(
        stated, right, edges=edges, game=game, rng=rng, level=level, resamples=resamples
    )
