"""Compiled sums over throws; the tests hold them to plain ones."""

from __future__ import annotations

import numpy as np
from numba import njit
from numpy.typing import NDArray

Array = NDArray[np.float64]


@njit(cache=True)
def fill_scores(
    begin: int,
    end: int,
    log_reach: NDArray[np.float32],
    constant: NDArray[np.float32],
    first_entry: NDArray[np.int64],
    feature: NDArray[np.int16],
    value: NDArray[np.float32],
    products: Array,
    power: float,
    scores: Array,
) -> float:
    """Fill `scores` with the score of each alternative of one choice; the log of their mass."""
    top = -np.inf
    for a in range(begin, end):
        s = power * log_reach[a] + constant[a]
        for e in range(first_entry[a], first_entry[a + 1]):
            s += products[feature[e]] * value[e]
        scores[a - begin] = s
        top = max(top, s)
    mass = 0.0
    for i in range(end - begin):
        mass += np.exp(scores[i] - top)
    log_mass: float = top + np.log(mass)
    return log_mass


@njit(cache=True)
def throw_sums(
    first_alternative: NDArray[np.int64],
    chosen: NDArray[np.int16],
    weight: NDArray[np.float32],
    log_reach: NDArray[np.float32],
    constant: NDArray[np.float32],
    first_entry: NDArray[np.int64],
    feature: NDArray[np.int16],
    value: NDArray[np.float32],
    products: Array,
    power: float,
    slope: Array,
    each: Array,
) -> float:
    """Log likelihood of throws, nats, with its slope by product and, last, by the power.

    Parameters
    ----------
    first_alternative, chosen, weight, log_reach, constant, first_entry, feature, value
        Columns of ``ThrowTable``.
    products
        Value of each product of weights, shape (n_products,).
    power
        Power of the expected copies within reach.
    slope
        Added to, shape (n_products + 1,).
    each
        Filled with the log probability of each choice, not weighted, shape (n_choices,).
    """
    n = len(chosen)
    last = len(products)
    scores = np.empty(64)
    total = 0.0
    for c in range(n):
        begin, end = first_alternative[c], first_alternative[c + 1]
        log_mass = fill_scores(
            begin, end, log_reach, constant, first_entry, feature, value, products, power, scores
        )
        each[c] = scores[chosen[c]] - log_mass
        total += weight[c] * each[c]
        for a in range(begin, end):
            pull = -np.exp(scores[a - begin] - log_mass)
            if a - begin == chosen[c]:
                pull += 1.0
            pull *= weight[c]
            slope[last] += pull * log_reach[a]
            for e in range(first_entry[a], first_entry[a + 1]):
                slope[feature[e]] += pull * value[e]
    return total


@njit(cache=True)
def throw_curvature(
    first_alternative: NDArray[np.int64],
    chosen: NDArray[np.int16],
    weight: NDArray[np.float32],
    log_reach: NDArray[np.float32],
    constant: NDArray[np.float32],
    first_entry: NDArray[np.int64],
    feature: NDArray[np.int16],
    value: NDArray[np.float32],
    products: Array,
    power: float,
    out: Array,
) -> None:
    """Add the expected curvature of the log loss by product and power, both shapes plus one."""
    last = len(products)
    scores = np.empty(64)
    mean = np.zeros(last + 1)
    touched = np.empty(last + 1, dtype=np.int64)
    for c in range(len(chosen)):
        begin, end = first_alternative[c], first_alternative[c + 1]
        log_mass = fill_scores(
            begin, end, log_reach, constant, first_entry, feature, value, products, power, scores
        )
        n_touched = 1
        touched[0] = last
        mean[last] = 0.0
        for a in range(begin, end):
            prob = np.exp(scores[a - begin] - log_mass)
            reach = log_reach[a]
            mean[last] += prob * reach
            out[last, last] += weight[c] * prob * reach * reach
            for e in range(first_entry[a], first_entry[a + 1]):
                f = feature[e]
                found = False
                for t in range(n_touched):
                    found = found or touched[t] == f
                if not found:
                    touched[n_touched] = f
                    n_touched += 1
                    mean[f] = 0.0
                mean[f] += prob * value[e]
                both = weight[c] * prob * value[e]
                out[f, last] += both * reach
                out[last, f] += both * reach
                for d in range(first_entry[a], first_entry[a + 1]):
                    out[f, feature[d]] += both * value[d]
        for i in range(n_touched):
            for j in range(n_touched):
                out[touched[i], touched[j]] -= weight[c] * mean[touched[i]] * mean[touched[j]]
