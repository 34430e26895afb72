"""Scores of one forecast against one truth, moment by moment.

Every function takes `prob`, what a forecaster said, and `truth`, the weight of each row at
that moment (one-hot where the seat is committed to one target), both of shape
(n_moments, n_rows), and returns one number a moment. A truth that is spread over rows is
scored in expectation: the score is what a row drawn by these weights would get on average.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike

from handread.errors import HandreadError
from handread.study._arrays import Floats, Ints, distributions, pair, sums_by
from handread.study.clusters import GameIndex, average


def bits_log_score(prob: ArrayLike, truth: ArrayLike) -> Floats:
    """Log score: log2 of the probability given to the truth.

    Strictly proper: nobody gains, on average, by saying anything but what he believes.
    0 is a certain and right forecast, -1 a coin well used, minus infinity a truth that was
    called impossible.

    Parameters
    ----------
    prob
        Forecast probabilities, shape (n_moments, n_rows).
    truth
        Weights of the true rows, shape (n_moments, n_rows).

    Returns
    -------
    numpy.ndarray
        sum_k w_k log2 p_k in bits, at most 0, shape (n_moments,).

    References
    ----------
    Good, I. J. (1952), "Rational decisions", J. R. Stat. Soc. B 14, 107-114.

    Examples
    --------
    >>> bits_log_score([[0.25, 0.75], [0.5, 0.5]], [[1, 0], [0.5, 0.5]]).tolist()
    [-2.0, -1.0]
    """
    forecast, weight = pair(prob, truth)
    return np.asarray(weighted_log2(forecast, weight).sum(axis=1))


def weighted_log2(ratio: Floats, weight: Floats) -> Floats:
    """Return weight * log2(ratio), taking 0 log 0 as 0; shapes of the arguments."""
    logs = np.zeros(np.broadcast_shapes(ratio.shape, weight.shape))
    with np.errstate(divide="ignore"):
        np.log2(ratio, out=logs, where=weight > 0.0)
    return np.asarray(logs * weight)


def bits_gain(prob: ArrayLike, base: ArrayLike, truth: ArrayLike) -> Floats:
    """Log score over a base: how many bits the forecast knew that the base did not.

    Above 0 the forecast is the better of the two, below 0 the base is. Over games the mean
    gain is the number of bits by which a record of truths could be written shorter.

    Parameters
    ----------
    prob
        Forecast probabilities, shape (n_moments, n_rows).
    base
        What one would say without watching: base rates of the turn, or these adjusted for
        visible copies; shape (n_moments, n_rows) or (n_rows,).
    truth
        Weights of the true rows, shape (n_moments, n_rows).

    Returns
    -------
    numpy.ndarray
        In bits, shape (n_moments,); minus infinity where the truth had probability 0.

    Raises
    ------
    HandreadError
        If the base gives probability 0 to a truth: nothing can be measured from there.

    Examples
    --------
    >>> bits_gain([[0.5, 0.5], [0.25, 0.75]], [0.5, 0.5], [[1, 0], [1, 0]]).tolist()
    [0.0, -1.0]
    """
    forecast, weight = pair(prob, truth)
    floor = distributions(np.broadcast_to(np.asarray(base, dtype=np.float64), weight.shape), "base")
    impossible = ((floor <= 0.0) & (weight > 0.0)).any(axis=1)
    if impossible.any():
        raise HandreadError(
            f"base gives probability 0 to the truth at moment {int(np.argmax(impossible))}; "
            "accepted: a base that is above 0 wherever truth can be"
        )
    scored = weighted_log2(forecast, weight) - weighted_log2(floor, weight)
    return np.asarray(scored.sum(axis=1))


def true_state_ratio(
    prob: ArrayLike,
    base: ArrayLike,
    truth: ArrayLike,
    *,
    game: ArrayLike | GameIndex | None,
) -> float:
    """Geometric mean, over games, of probability given to the truth over the base's.

    2 to the power of the mean gain. A ratio of 3 says that the forecast typically gave the
    truth three times what the base gave it.

    Parameters
    ----------
    prob, base, truth
        As in `bits_gain`.
    game
        Game of each moment, shape (n_moments,).

    Returns
    -------
    float
        A ratio, 0 or more; 0 if a truth once had probability 0.

    Examples
    --------
    >>> true_state_ratio([[0.8, 0.2], [0.2, 0.8]], [0.1, 0.9], [[1, 0], [1, 0]], game=[1, 2])
    4.0
    """
    gain = average(bits_gain(prob, base, truth), game=game, unit="bits").value
    return float(2.0**gain)


def brier_score(prob: ArrayLike, truth: ArrayLike) -> Floats:
    """Brier score: squared distance of the forecast from the row that was true.

    Strictly proper, and bounded, so that one disaster cannot hide the other games. 0 is
    certain and right, 2 certain and wrong; two rows give twice Brier's binary score.

    Parameters
    ----------
    prob
        Forecast probabilities, shape (n_moments, n_rows).
    truth
        Weights of the true rows, shape (n_moments, n_rows).

    Returns
    -------
    numpy.ndarray
        sum_j w_j sum_k (p_k - [k = j])^2, from 0 to 2, shape (n_moments,).

    References
    ----------
    Brier, G. W. (1950), "Verification of forecasts expressed in terms of probability",
    Mon. Weather Rev. 78, 1-3.

    Examples
    --------
    >>> brier_score([[0.5, 0.5], [1.0, 0.0]], [[1, 0], [0, 1]]).tolist()
    [0.5, 2.0]
    """
    forecast, weight = pair(prob, truth)
    square = np.einsum("mk,mk->m", forecast, forecast)
    cross = np.einsum("mk,mk->m", forecast, weight)
    return np.asarray(square - 2.0 * cross + 1.0)


def _standing(forecast: Floats, weight: Floats) -> tuple[Ints, Floats, Floats, Floats]:
    """Moment, weight, rows above and rows level, for each true row of each moment."""
    moment, row = np.nonzero(weight)
    above = np.empty(len(moment))
    level = np.empty(len(moment))
    block = max(1, 4_000_000 // forecast.shape[1])
    for start in range(0, len(moment), block):
        part = slice(start, start + block)
        others = forecast[moment[part]]
        own = forecast[moment[part], row[part]][:, None]
        above[part] = (others > own).sum(axis=1)
        level[part] = (others == own).sum(axis=1)
    return moment.astype(np.int64), weight[moment, row], above, level


def rank_of_truth(prob: ArrayLike, truth: ArrayLike) -> Floats:
    """Place of the truth among the rows, likeliest first; ties get the middle place.

    A forecast that says nothing puts the truth at (n_rows + 1) / 2. Not a proper score: it
    sees order only, and a reader who is twice too sure keeps his ranks.

    Parameters
    ----------
    prob
        Forecast probabilities, shape (n_moments, n_rows).
    truth
        Weights of the true rows, shape (n_moments, n_rows).

    Returns
    -------
    numpy.ndarray
        From 1 to n_rows, shape (n_moments,).

    Examples
    --------
    >>> rank_of_truth([[0.5, 0.3, 0.2], [0.4, 0.3, 0.3]], [[0, 1, 0], [0, 0, 1]]).tolist()
    [2.0, 2.5]
    """
    forecast, weight = pair(prob, truth)
    moment, share, above, level = _standing(forecast, weight)
    place = 1.0 + above + 0.5 * (level - 1.0)
    return sums_by(moment, share * place, len(forecast))


def top_k_hit(prob: ArrayLike, truth: ArrayLike, k: int) -> Floats:
    """Probability that the truth is among the `k` likeliest rows, ties broken by lot.

    Parameters
    ----------
    prob
        Forecast probabilities, shape (n_moments, n_rows).
    truth
        Weights of the true rows, shape (n_moments, n_rows).
    k
        How many rows are named, 1 or more.

    Returns
    -------
    numpy.ndarray
        From 0 to 1, shape (n_moments,).

    Examples
    --------
    >>> top_k_hit([[0.5, 0.25, 0.25], [0.2, 0.4, 0.4]], [[1, 0, 0], [0, 1, 0]], 1).tolist()
    [1.0, 0.5]
    """
    if k < 1:
        raise HandreadError(f"k is {k!r}; accepted: a number of rows, 1 or more")
    forecast, weight = pair(prob, truth)
    moment, share, above, level = _standing(forecast, weight)
    hit = np.clip((k - above) / level, 0.0, 1.0)
    return sums_by(moment, share * hit, len(forecast))


def truth_called_impossible(prob: ArrayLike, truth: ArrayLike) -> Floats:
    """Whether a true row had probability 0: must never be.

    Its average is the share of moments at which the reader called the truth impossible.
    Any share above 0 makes the mean log score minus infinity, and is a fault whatever else
    the reader does well.

    Parameters
    ----------
    prob
        Forecast probabilities, shape (n_moments, n_rows).
    truth
        Weights of the true rows, shape (n_moments, n_rows).

    Returns
    -------
    numpy.ndarray
        0 or 1, shape (n_moments,).

    Examples
    --------
    >>> truth_called_impossible([[1.0, 0.0], [0.5, 0.5]], [[0.9, 0.1], [0, 1]]).tolist()
    [1.0, 0.0]
    """
    forecast, weight = pair(prob, truth)
    return np.asarray(((forecast <= 0.0) & (weight > 0.0)).any(axis=1), dtype=np.float64)
