"""What every score takes in, checked once: probabilities, truths, edges."""

from __future__ import annotations

from typing import TypeAlias

import numpy as np
from numpy.typing import ArrayLike, NDArray

from handread.errors import HandreadError

Floats: TypeAlias = NDArray[np.float64]
Ints: TypeAlias = NDArray[np.int64]
Bools: TypeAlias = NDArray[np.bool_]

#: How far a row of probabilities may sum from 1; beliefs are stored as float32.
SUM_TOLERANCE = 1e-5


def vector(values: ArrayLike, name: str, length: int | None = None) -> Floats:
    """Take `values` as one number a moment, shape (n_moments,)."""
    array = np.asarray(values, dtype=np.float64)
    if array.ndim != 1 or array.size == 0:
        raise HandreadError(
            f"{name} has shape {array.shape}; accepted: one number a moment, shape (n_moments,), "
            "n_moments at least 1"
        )
    if length is not None and array.size != length:
        raise HandreadError(f"{name} has {array.size} moments; accepted: {length}, as the others")
    return array


def chances(values: ArrayLike, name: str, length: int | None = None) -> Floats:
    """Take `values` as one probability a moment, shape (n_moments,)."""
    array = vector(values, name, length)
    outside = ~((array >= 0.0) & (array <= 1.0))
    if outside.any():
        where = int(np.argmax(outside))
        raise HandreadError(
            f"{name} is {float(array[where])!r} at moment {where}; accepted: 0 to 1"
        )
    return array


def distributions(values: ArrayLike, name: str) -> Floats:
    """Take `values` as one distribution a moment, shape (n_moments, n_rows)."""
    array = np.asarray(values, dtype=np.float64)
    if array.ndim != 2 or array.size == 0:
        raise HandreadError(
            f"{name} has shape {array.shape}; accepted: probabilities of shape (n_moments, n_rows)"
        )
    total = array @ np.ones(array.shape[1])
    close = np.abs(total - 1.0) <= SUM_TOLERANCE  # False for NaN too
    if not (array.min() >= 0.0 and close.all()):
        low = np.min(array, axis=1)
        good = (low >= 0.0) & close
        where = int(np.argmin(good))
        raise HandreadError(
            f"{name} at moment {where} has lowest entry {float(low[where])!r} and sum "
            f"{float(total[where])!r}; accepted: entries of 0 or more that sum to 1 "
            f"(to within {SUM_TOLERANCE})"
        )
    return array


def pair(prob: ArrayLike, truth: ArrayLike) -> tuple[Floats, Floats]:
    """Take forecasts and truths of the same moments and rows."""
    forecast = distributions(prob, "prob")
    weight = distributions(truth, "truth")
    if forecast.shape != weight.shape:
        raise HandreadError(
            f"prob has shape {forecast.shape} and truth {weight.shape}; accepted: the same "
            "moments and the same rows in both"
        )
    return forecast, weight


def between(value: float, name: str, low: float, high: float) -> float:
    """Take a number strictly between `low` and `high`."""
    if not low < value < high:
        raise HandreadError(f"{name} is {value!r}; accepted: above {low} and below {high}")
    return float(value)


def sums_by(code: Ints, values: Floats, n_codes: int) -> Floats:
    """Sum `values` over each code from 0 to `n_codes` - 1, shape (n_codes,)."""
    return np.asarray(np.bincount(code, weights=values, minlength=n_codes), dtype=np.float64)


def bin_edges(edges: ArrayLike) -> Floats:
    """Take increasing edges of bins within 0 to 1, at least two."""
    array = np.asarray(edges, dtype=np.float64)
    if array.ndim != 1 or array.size < 2 or not bool(np.all(np.diff(array) > 0)):
        raise HandreadError(
            f"edges are {np.asarray(edges).tolist()!r}; accepted: at least two increasing numbers, "
            "for example (0, 0.25, 0.5, 1)"
        )
    return array


def bin_of(prob: Floats, edges: Floats) -> Ints:
    """Bin of each probability: bins are closed below and open above, the last closed at both ends.

    A probability outside the edges gets -1.
    """
    code = np.searchsorted(edges, prob, side="right") - 1
    code = np.where(prob == edges[-1], len(edges) - 2, code)
    outside = (prob < edges[0]) | (prob > edges[-1])
    return np.where(outside, -1, code).astype(np.int64)
