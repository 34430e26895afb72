"""Compiled kernels of the change of plan; the tests hold them to plain sums."""

from __future__ import annotations

import numpy as np
from numba import njit
from numpy.typing import NDArray


@njit(cache=True)
def nearest(demand: NDArray[np.uint8], size: int) -> tuple[NDArray[np.int32], NDArray[np.int32]]:
    """Targets that share most tiles with each target, and how many they share.

    Ties go to the lower index. Shapes (n_targets, size).
    """
    n = demand.shape[0]
    near = np.zeros((n, size), dtype=np.int32)
    shared = np.full((n, size), -1, dtype=np.int32)
    kinds = np.zeros(demand.shape[1], dtype=np.int32)
    for g in range(n):
        n_kinds = 0
        for k in range(demand.shape[1]):
            if demand[g, k] > 0:
                kinds[n_kinds] = k
                n_kinds += 1
        for other in range(n):
            if other == g:
                continue
            common = 0
            for i in range(n_kinds):
                common += min(demand[g, kinds[i]], demand[other, kinds[i]])
            if size == 0 or common <= shared[g, size - 1]:
                continue
            place = size - 1
            while place > 0 and shared[g, place - 1] < common:
                shared[g, place] = shared[g, place - 1]
                near[g, place] = near[g, place - 1]
                place -= 1
            shared[g, place] = common
            near[g, place] = other
    return near, shared


@njit(cache=True)
def scatter_near(
    near: NDArray[np.int32], weight: NDArray[np.float64], mass: NDArray[np.float64], n: int
) -> NDArray[np.float64]:
    """Send `mass` from each target to its near targets: the transpose of ``gather_near``."""
    out = np.zeros(n)
    for g in range(near.shape[0]):
        if mass[g] == 0.0:
            continue
        for j in range(near.shape[1]):
            out[near[g, j]] += mass[g] * weight[g, j]
    return out


@njit(cache=True)
def gather_near(
    near: NDArray[np.int32], weight: NDArray[np.float64], value: NDArray[np.float64]
) -> NDArray[np.float64]:
    """Mean of `value` over the near targets of each target."""
    out = np.zeros(near.shape[0])
    for g in range(near.shape[0]):
        total = 0.0
        for j in range(near.shape[1]):
            total += weight[g, j] * value[near[g, j]]
        out[g] = total
    return out
