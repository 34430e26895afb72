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


@njit(cache=True, nogil=True)
def throw_look(
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
    curvature: Array,
) -> float:
    """``throw_sums`` and ``throw_curvature`` in one pass; of a square, the upper half is filled."""
    last = len(products)
    scores, mean = np.empty(64), np.zeros(last + 1)
    touched, since = np.empty(last + 1, dtype=np.int64), np.full(last + 1, -1)
    total = 0.0
    for c in range(len(chosen)):
        begin, end = first_alternative[c], first_alternative[c + 1]
        log_mass = fill_scores(
            begin, end, log_reach, constant, first_entry, feature, value, products, power, scores
        )
        total += weight[c] * (scores[chosen[c]] - log_mass)
        n_touched, reach_mean = 0, 0.0
        for a in range(begin, end):
            prob, reach = np.exp(scores[a - begin] - log_mass), np.float64(log_reach[a])
            share = weight[c] * prob
            pull = -share + (weight[c] if a - begin == chosen[c] else 0.0)
            slope[last] += pull * reach
            reach_mean += prob * reach
            curvature[last, last] += share * reach * reach
            for e in range(first_entry[a], first_entry[a + 1]):
                f, factor = feature[e], np.float64(value[e])
                if since[f] != c:
                    since[f], mean[f] = c, 0.0
                    touched[n_touched] = f
                    n_touched += 1
                slope[f] += pull * factor
                mean[f] += prob * factor
                both = share * factor
                curvature[f, last] += both * reach
                for d in range(e, first_entry[a + 1]):
                    curvature[f, feature[d]] += both * value[d]
        curvature[last, last] -= weight[c] * reach_mean * reach_mean
        for i in range(n_touched):
            f = touched[i]
            pulled = weight[c] * mean[f]
            curvature[f, last] -= pulled * reach_mean
            for j in range(i, n_touched):
                g = touched[j]
                curvature[min(f, g), max(f, g)] -= pulled * mean[g]
    return total


@njit(cache=True, nogil=True)
def throw_counts(
    first_alternative: NDArray[np.int64],
    first_entry: NDArray[np.int64],
    feature: NDArray[np.int16],
    weight: NDArray[np.float32],
    out: Array,
) -> float:
    """Add the weight of the choices in which each product scores an alternative; all weight."""
    since = np.full(len(out), -1)
    total = 0.0
    for c in range(len(weight)):
        total += weight[c]
        for e in range(first_entry[first_alternative[c]], first_entry[first_alternative[c + 1]]):
            if since[feature[e]] != c:
                since[feature[e]] = c
                out[feature[e]] += weight[c]
    return total


@njit(cache=True)
def _fill_held(chances: NDArray[np.float32], powers: Array, out: Array) -> None:
    """Tilt a distribution over tiles held: odds times the power of each number of tiles."""
    total = 0.0
    for n in range(len(chances)):
        out[n] = chances[n] * powers[n]
        total += out[n]
    for n in range(len(chances)):
        out[n] /= total


@njit(cache=True)
def _fill_makes(copies: Array, jokers: Array, out: Array) -> None:
    """Chance that the tiles for each group are there, as ``clues.claims.can_make``."""
    shape = 0
    for size in range(3, 7):
        for j in range(size):
            need = size - 1 - j
            there = 0.0
            for n in range(need, len(copies)):
                there += copies[n]
                if j > 0:
                    break
            with_jokers = 0.0
            for n in range(j, len(jokers)):
                with_jokers += jokers[n]
            out[shape] = there * with_jokers
            shape += 1


@njit(cache=True)
def _answer_prob(
    outcome: int,
    anew: bool,
    makes: Array,
    other: Array,
    rate: Array,
    factor: float,
    rate_anew: float,
) -> float:
    """Probability of one answer to a window: a group shown, or none where `outcome` is below 0."""
    taken, shown = 0.0, 0.0
    for s in range(len(makes)):
        planned = makes[s] * rate[s] * factor
        fresh = other[s] * rate[s] * rate_anew
        taken += planned + fresh
        if s == outcome:
            shown = fresh if anew else planned
    return shown if outcome >= 0 else 1.0 - taken


@njit(cache=True)
def fill_claim_log_probs(
    outcome: NDArray[np.int64],
    anew: NDArray[np.bool_],
    loose: NDArray[np.int64],
    kept: NDArray[np.float32],
    any_plan: NDArray[np.float32],
    jokers: NDArray[np.float32],
    open_to: NDArray[np.float32],
    possible: NDArray[np.bool_],
    rates: Array,
    phase: NDArray[np.int64],
    factors: Array,
    rate_anew: Array,
    tilt_copies: float,
    tilt_jokers: float,
    out: Array,
) -> None:
    """Fill `out` with the log probability of each group shown or let pass, nats, by each setting.

    What a seat can make is worked out once for all settings, which share the tilts.

    Parameters
    ----------
    outcome, anew, loose, kept, any_plan, jokers, open_to, possible
        Columns of the table ``claims``.
    rates, phase
        Rate of taking each group, shape (n_settings, 3, 18), and the phase of each window.
    factors
        Of the rates by `loose`, shape (n_settings, 4).
    rate_anew
        Factor of the rates for a group shown for another plan, shape (n_settings,).
    tilt_copies, tilt_jokers
        Nats a tile held.
    out
        Filled, shape (n_settings, n).
    """
    held, random, wild = np.empty(kept.shape[1]), np.empty(kept.shape[1]), np.empty(jokers.shape[1])
    makes, other = np.empty(open_to.shape[1]), np.empty(open_to.shape[1])
    tiles = np.arange(kept.shape[1])
    flat, by_copies = np.ones(len(tiles)), np.exp(tilt_copies * tiles)
    by_jokers = np.exp(tilt_jokers * tiles)
    for i in range(len(outcome)):
        target = loose[i] == 0
        _fill_held(jokers[i], by_jokers, wild)
        if target:
            _fill_held(kept[i], by_copies, held)
        else:
            _fill_held(any_plan[i], flat, held)
        _fill_makes(held, wild, makes)
        if target:
            _fill_held(any_plan[i], flat, random)
            _fill_makes(random, wild, other)
        for s in range(open_to.shape[1]):
            makes[s] *= open_to[i, s]
            other[s] = possible[i, s] * other[s] if target else 0.0
        for k in range(len(rates)):
            rate, factor = rates[k, phase[i]], factors[k, loose[i]]
            prob = _answer_prob(outcome[i], anew[i], makes, other, rate, factor, rate_anew[k])
            out[k, i] = np.log(max(prob, 1e-300))
