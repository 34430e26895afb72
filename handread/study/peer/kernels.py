"""Sums of the leaves that rows fall into: compiled, for one row at a time as games are watched."""

from __future__ import annotations

import numpy as np
from numba import njit
from numpy.typing import NDArray


@njit(cache=True)
def leaf_sums(
    rows: NDArray[np.float32],
    first: NDArray[np.int64],
    feature: NDArray[np.int16],
    threshold: NDArray[np.float64],
    missing_left: NDArray[np.bool_],
    left: NDArray[np.int32],
    right: NDArray[np.int32],
    value: NDArray[np.float64],
    n_classes: int,
) -> NDArray[np.float64]:
    """Sum over trees of the leaf that each row falls into, shape (n_rows, n_classes).

    Tree i speaks for class ``i % n_classes``; its nodes start at ``first[i]``, `left` and `right`
    count from there, and `left` is -1 in a leaf.
    """
    out = np.zeros((rows.shape[0], n_classes))
    for row in range(rows.shape[0]):
        for tree in range(first.shape[0]):
            node = first[tree]
            while left[node] >= 0:
                x = rows[row, feature[node]]
                goes_left = missing_left[node] if np.isnan(x) else x <= threshold[node]
                node = first[tree] + (left[node] if goes_left else right[node])
            out[row, tree % n_classes] += value[node]
    return out
