"""Log probability of many choices and its gradient in one pass, over the features that are there.

Compiled by numba, which is imported with this module; see ``handread.fitting.posterior.sparse``
for what the arrays are.
"""

from __future__ import annotations

from typing import Any

import numpy as np
from numba import njit
from numpy.typing import NDArray

Array = NDArray[Any]

#: Scores are at most this far below the best before they count as so far below, nats.
_FAR = 700.0
#: Adding it to a small number leaves the nearest whole number in the low bits.
_WHOLE = 6755399441055744.0
_LOG2E = 1.4426950408889634
_LN2_HIGH, _LN2_LOW = 0.693147180369123816490, 1.90821492927058770002e-10


@njit(cache=True, nogil=True, fastmath={"nnan", "nsz", "reassoc"})
def _largest(x: Array, n: int) -> float:
    top: float = x[0]
    for i in range(n):
        top = x[i] if x[i] > top else top
    return top


@njit(cache=True, nogil=True, fastmath={"nsz", "reassoc", "contract"})
def _total(x: Array, n: int) -> float:
    out = 0.0
    for i in range(n):
        out += x[i]
    return out


@njit(cache=True, nogil=True, fastmath={"nsz", "reassoc", "contract"})
def _add(x: Array, times: float, y: Array, first: int, n: int) -> None:
    for i in range(n):
        x[i] += times * y[first + i]


@njit(cache=True, nogil=True, fastmath={"nsz", "reassoc", "contract"})
def _product(x: Array, y: Array, first: int, n: int) -> float:
    out = 0.0
    for i in range(n):
        out += x[i] * y[first + i]
    return out


# said outright, since a caller's fast mathematics would be taken over, and would undo the rounding
@njit(cache=True, nogil=True, fastmath=False)
def _exp_below(x: Array, top: float, power: Array, bits: Array, n: int) -> None:
    """Put exp(x - top) in the place of x, for x not above top.

    As powers of 2 times a polynomial, written so that it becomes vector instructions; `power` and
    `bits` are one and the same memory as floats and as whole numbers.
    """
    for i in range(n):
        v = x[i] - top
        v = v if v > -_FAR else -_FAR
        shifted = v * _LOG2E + _WHOLE
        power[i] = shifted
        whole = shifted - _WHOLE
        r = (v - whole * _LN2_HIGH) - whole * _LN2_LOW
        # Taylor polynomial to r^12: |r| is below 0.3466, so what is left out is below 2e-16
        p = 1.0 / 479001600.0
        p = p * r + 1.0 / 39916800.0
        p = p * r + 1.0 / 3628800.0
        p = p * r + 1.0 / 362880.0
        p = p * r + 1.0 / 40320.0
        p = p * r + 1.0 / 5040.0
        p = p * r + 1.0 / 720.0
        p = p * r + 1.0 / 120.0
        p = p * r + 1.0 / 24.0
        p = p * r + 1.0 / 6.0
        p = p * r + 0.5
        p = p * r + 1.0
        x[i] = p * r + 1.0
    for i in range(n):
        bits[i] = (bits[i] << 52) + (1023 << 52)
    for i in range(n):
        x[i] *= power[i]


@njit(cache=True, nogil=True, error_model="numpy", fastmath=False)
def choices_log_prob(
    own: Array,
    first_choice: Array,
    first_alternative: Array,
    weight: Array,
    offset: Array,
    filled: Array,
    filled_name: Array,
    first_entry: Array,
    place: Array,
    name: Array,
    value: Array,
    chosen: Array,
    chosen_offset: Array,
) -> tuple[float, Array]:
    """Weighted log probability of all choices and its gradient.

    Parameters
    ----------
    own
        Weights of each person, shape (n_people, n_names).
    first_choice, first_alternative, weight, offset, filled, filled_name, first_entry, place, name
        See ``SparseBlock``.
    value, chosen, chosen_offset
        See ``SparseBlock``.

    Returns
    -------
    log_prob
        Nats.
    gradient
        Shape (n_people, n_names).
    """
    n_people, n_names = own.shape
    most = 1
    for choice in range(len(weight)):
        most = max(most, first_alternative[choice + 1] - first_alternative[choice])
    score, power = np.empty(most), np.empty(most)
    bits = power.view(np.int64)
    expected = np.empty(n_names)
    gradient = np.empty((n_people, n_names))
    total = 0.0
    for person in range(n_people):
        expected[:] = 0.0
        total += chosen_offset[person]
        for choice in range(first_choice[person], first_choice[person + 1]):
            first = first_alternative[choice]
            n = first_alternative[choice + 1] - first
            for i in range(n):
                score[i] = offset[first + i] if len(offset) else 0.0
            for column in range(len(filled_name)):
                _add(score, own[person, filled_name[column]], filled[column], first, n)
            for entry in range(first_entry[choice], first_entry[choice + 1]):
                score[place[entry]] += own[person, name[entry]] * value[entry]
            top = _largest(score, n)
            _exp_below(score, top, power, bits, n)
            mass = _total(score, n)
            total -= weight[choice] * (top + np.log(mass))
            share = weight[choice] / mass
            for column in range(len(filled_name)):
                expected[filled_name[column]] += share * _product(score, filled[column], first, n)
            for entry in range(first_entry[choice], first_entry[choice + 1]):
                expected[name[entry]] += share * score[place[entry]] * value[entry]
        for i in range(n_names):
            total += chosen[person, i] * own[person, i]
            gradient[person, i] = chosen[person, i] - expected[i]
    return total, gradient
