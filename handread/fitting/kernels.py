"""Compiled kernel of the walk; its plain twin stands beside it."""

from __future__ import annotations

from typing import Any

import numpy as np
from numba import njit
from numpy.typing import NDArray


@njit(cache=True)
def fill_entries(
    tables: NDArray[np.float64],
    codes: NDArray[np.uint8],
    kinds: NDArray[np.int64],
    counts: NDArray[np.int64],
    feature: NDArray[np.int16],
    value: NDArray[np.float32],
) -> int:
    """Fill the last three with the entries of one choice, and return how many there are.

    Parameters
    ----------
    tables
        Table of each product, shape (n_products, 16, 36).
    codes, kinds
        Use code and number of each alternative, shape (n,).
    counts
        Entries of each alternative, shape (n,).
    feature, value
        Product of each entry and its factor, one alternative after the other, with room for all.
    """
    n = 0
    for i in range(len(kinds)):
        before = n
        for product in range(tables.shape[0]):
            factor = tables[product, codes[i], kinds[i]]
            if factor != 0.0:
                feature[n], value[n] = product, factor
                n += 1
        counts[i] = n - before
    return n


def fill_entries_plain(
    tables: NDArray[np.float64], codes: NDArray[np.uint8], kinds: NDArray[np.int64],
    counts: NDArray[Any], feature: NDArray[Any], value: NDArray[Any],
) -> int:  # fmt: skip
    """Slow twin of ``fill_entries``, for tests."""
    factors = tables[:, codes, kinds].T
    alternative, product = np.nonzero(factors)
    counts[:] = np.bincount(alternative, minlength=len(kinds))
    feature[: len(product)], value[: len(product)] = product, factors[alternative, product]
    return len(product)
