"""Compiled kernels of the change of plan; the tests hold them to plain sums."""

from __future__ import annotations

import numpy as np
from numba import njit
from numpy.typing import NDArray

from handread.values import frozen

#: In the place of tiles apart: a target that is left out.
FAR = 255
#: Weight of a near target by the tiles that it is further apart than the nearest.
HALVES = frozen(2.0 ** -np.arange(float(FAR)))


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
def turn_round(
    near: NDArray[np.int32], apart: NDArray[np.uint8]
) -> tuple[NDArray[np.int64], NDArray[np.uint32], NDArray[np.uint8]]:
    """For each target the targets that it is near to, and how far apart they are.

    Returns
    -------
    first
        Entries ``first[h]`` to ``first[h + 1]`` of the next two are those of target h, shape
        (n_targets + 1,).
    origin, apart
        Those that are not left out, shape (n_entries,).
    """
    n = near.shape[0]
    first = np.zeros(n + 1, dtype=np.int64)
    for g in range(n):
        for j in range(near.shape[1]):
            if apart[g, j] < FAR:
                first[near[g, j] + 1] += 1
    for h in range(n):
        first[h + 1] += first[h]
    place = first[:n].copy()
    origin = np.empty(first[n], dtype=np.uint32)  # numba need not look for indices below 0
    turned = np.empty(first[n], dtype=np.uint8)
    for g in range(n):
        for j in range(near.shape[1]):
            if apart[g, j] < FAR:
                h = near[g, j]
                origin[place[h]], turned[place[h]] = g, apart[g, j]
                place[h] += 1
    return first, origin, turned


@njit(cache=True)
def land(
    first: NDArray[np.int64],
    origin: NDArray[np.unsignedinteger],
    apart: NDArray[np.uint8],
    pull: NDArray[np.float64],
    whole: NDArray[np.float64],
    prior: NDArray[np.float64],
    hand_of: NDArray[np.int32],
    family_of: NDArray[np.int32],
    shares: NDArray[np.float64],
    fits: NDArray[np.float64],
    stuck: NDArray[np.float64],
    mass: NDArray[np.float64],
    to_targets: float,
    by_prior: float,
    out: NDArray[np.float64],
) -> None:
    """Where `mass` that leaves each target arrives among the targets that fit, in place.

    `to_targets` is the part of the mass that goes to a target at all; `by_prior` the mass from
    elsewhere for a target of prior 1.

    `first`, `origin` and `apart` are those of ``turn_round``, `pull` and `whole` those of
    ``kernel.ChangeKernel``; see ``kernel.MaskedKernel``.
    """
    n = len(mass)
    near = np.empty(n)
    by_hand, by_family = np.zeros(hand_of.max() + 1), np.zeros(family_of.max() + 1)
    anywhere = 0.0
    for g in range(n):
        near[g] = shares[0, g] * mass[g] * whole[g]
        by_hand[hand_of[g]] += shares[1, g] * mass[g]
        by_family[family_of[g]] += shares[2, g] * mass[g]
        anywhere += shares[3, g] * mass[g]
    for h in range(n):
        if fits[h] == 0.0:
            out[h] = 0.0
            continue
        close = 0.0
        origins, steps = origin[first[h] : first[h + 1]], apart[first[h] : first[h + 1]]
        for i in range(len(origins)):
            close += HALVES[steps[i]] * near[origins[i]]
        own = (shares[1, h] + shares[2, h] + shares[3, h]) * mass[h]
        flat = by_hand[hand_of[h]] + by_family[family_of[h]] + anywhere - own
        arriving = close * pull[h] + flat * prior[h] + stuck[h] * mass[h]
        out[h] = to_targets * arriving + by_prior * prior[h]


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


@njit(cache=True)
def mass_near(
    first: NDArray[np.int64],
    origin: NDArray[np.unsignedinteger],
    apart: NDArray[np.uint8],
    pull: NDArray[np.float64],
    keep: NDArray[np.bool_],
) -> NDArray[np.float64]:
    """Weight of the near targets of each target that are kept, before it is shared out.

    `first`, `origin` and `apart` are those of ``turn_round``: few kept targets cost little.
    """
    out = np.zeros(len(keep))
    for h in range(len(keep)):
        if keep[h]:
            origins, steps = origin[first[h] : first[h + 1]], apart[first[h] : first[h + 1]]
            for i in range(len(origins)):
                out[origins[i]] += HALVES[steps[i]] * pull[h]
    return out


@njit(cache=True)
def near_by_family(
    first: NDArray[np.int64],
    origin: NDArray[np.unsignedinteger],
    apart: NDArray[np.uint8],
    pull: NDArray[np.float64],
    fits: NDArray[np.float64],
    family_of: NDArray[np.int32],
    out: NDArray[np.float64],
) -> None:
    """Add the weight of the near targets of each target that fit to their families, in place.

    As in ``mass_near``, before it is shared out; `out` has shape (n_targets, n_families).
    """
    for h in range(len(fits)):
        if fits[h] > 0.0:
            for i in range(first[h], first[h + 1]):
                out[origin[i], family_of[h]] += HALVES[apart[i]] * pull[h]
