"""Compiled kernels of the change of plan; the tests hold them to plain sums."""

from __future__ import annotations

import numpy as np
from numba import njit
from numpy.typing import NDArray

from handread.values import frozen

#: What is left of a sum of prior probabilities once all of them have been taken away, at most.
_NOTHING = 1e-15
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
    shared = np.zeros((n, size), dtype=np.int32)
    kinds = np.zeros(demand.shape[1], dtype=np.int32)
    for g in range(n):
        for place in range(size):
            shared[g, place] = -1
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
def _close_to_few(
    first: NDArray[np.int64],
    origin: NDArray[np.unsignedinteger],
    apart: NDArray[np.uint8],
    near: NDArray[np.float64],
    fits: NDArray[np.float64],
    close: NDArray[np.float64],
) -> None:
    """Fill `close` with the mass, halved by each tile apart, that is near each target that fits."""
    for h in range(len(fits)):
        close[h] = 0.0
        if fits[h] > 0.0:
            for i in range(first[h], first[h + 1]):
                close[h] += HALVES[apart[i]] * near[origin[i]]


@njit(cache=True)
def _close_to_all(
    first: NDArray[np.int64],
    steps: NDArray[np.unsignedinteger],
    n_steps: int,
    near: NDArray[np.float64],
    close: NDArray[np.float64],
) -> None:
    """Fill `close` as ``_close_to_few`` does, for every target: one look for each entry.

    Entries come by fours, so that no sum has to wait for itself.
    """
    n = len(near)
    halved = np.empty(n_steps * n)
    for step in range(n_steps):
        for g in range(n):
            halved[step * n + g] = HALVES[step] * near[g]
    for h in range(n):
        start, n_places = np.uint64(first[h]), first[h + 1] - first[h]
        a, b, c, d = 0.0, 0.0, 0.0, 0.0
        for j in range(n_places // 4):
            i = start + np.uint64(4) * np.uint64(j)
            a += halved[steps[i]]
            b += halved[steps[i + np.uint64(1)]]
            c += halved[steps[i + np.uint64(2)]]
            d += halved[steps[i + np.uint64(3)]]
        for j in range(n_places // 4 * 4, n_places):
            a += halved[steps[start + np.uint64(j)]]
        close[h] = (a + b) + (c + d)


@njit(cache=True)
def _n_groups(group_of: NDArray[np.int32]) -> int:
    """Number of hands, or of families; by a loop, which compiles sooner than a maximum."""
    last = -1
    for g in range(len(group_of)):
        last = max(last, group_of[g])
    return last + 1


@njit(cache=True)
def land(
    first: NDArray[np.int64],
    origin: NDArray[np.unsignedinteger],
    apart: NDArray[np.uint8],
    pull: NDArray[np.float64],
    steps: NDArray[np.unsignedinteger],
    n_steps: int,
    whole: NDArray[np.float64],
    prior: NDArray[np.float64],
    hand_of: NDArray[np.int32],
    family_of: NDArray[np.int32],
    shares: NDArray[np.float64],
    fits: NDArray[np.float64],
    stuck: NDArray[np.float64],
    any_mass: float,
    leaving: NDArray[np.float64],
    where: NDArray[np.float64],
    out: NDArray[np.float64],
) -> None:
    """Add where the mass that leaves each row arrives to `out` (n_rows,), in place.

    `first`, `origin` and `apart` are those of ``turn_round``, `pull`, `steps`, `n_steps` and
    `whole` those of ``kernel.ChangeKernel``; `where` are destinations outside the targets. See
    ``kernel.MaskedKernel``.
    """
    n = len(fits)
    near, close = np.empty(n), np.empty(n)
    by_hand, by_family = np.zeros(_n_groups(hand_of)), np.zeros(_n_groups(family_of))
    anywhere, total, n_fit = 0.0, 0.0, 0
    for g in range(n):
        mass = leaving[g]
        total += mass
        n_fit += fits[g] > 0.0
        near[g] = shares[0, g] * mass * whole[g]
        by_hand[hand_of[g]] += shares[1, g] * mass
        by_family[family_of[g]] += shares[2, g] * mass
        anywhere += shares[3, g] * mass
    to_any = 0.0
    for i in range(3):
        to_any += leaving[n + i] * where[i + 1, 0]
        out[n + i] += total * where[0, i + 1]
        for j in range(3):
            out[n + i] += leaving[n + j] * where[j + 1, i + 1]
    if any_mass <= 0.0:
        out[n + 2] += total * where[0, 0] + to_any
        return
    if 2 * n_fit < n:
        _close_to_few(first, origin, apart, near, fits, close)
    else:
        _close_to_all(first, steps, n_steps, near, close)
    by_prior = to_any / any_mass
    for h in range(n):
        if fits[h] > 0.0:
            own = (shares[1, h] + shares[2, h] + shares[3, h]) * leaving[h]
            flat = by_hand[hand_of[h]] + by_family[family_of[h]] + anywhere - own
            arriving = close[h] * pull[h] + flat * prior[h] + stuck[h] * leaving[h]
            out[h] += where[0, 0] * arriving + by_prior * prior[h]


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
            for i in range(first[h], first[h + 1]):
                out[origin[i]] += HALVES[apart[i]] * pull[h]
    return out


@njit(cache=True)
def share_what_fits(
    near: NDArray[np.float64],
    prior: NDArray[np.float64],
    hand_of: NDArray[np.int32],
    family_of: NDArray[np.int32],
    whole_shares: NDArray[np.float64],
    fits: NDArray[np.float64],
    shares: NDArray[np.float64],
    stuck: NDArray[np.float64],
) -> float:
    """Fill `shares` (4, n_targets) and `stuck` in place, see ``kernel.MaskedKernel``.

    `near` is the part of its near targets that each target may go to, `whole_shares` those of near,
    hand, family and anywhere while nothing is forbidden. Returns the prior mass that fits.
    """
    n = len(fits)
    by_hand, by_family = np.zeros(_n_groups(hand_of)), np.zeros(_n_groups(family_of))
    anywhere = 0.0
    for g in range(n):
        weighted = fits[g] * prior[g]
        by_hand[hand_of[g]] += weighted
        by_family[family_of[g]] += weighted
        anywhere += weighted
    for g in range(n):
        weighted = fits[g] * prior[g]
        shares[0, g] = near[g]
        shares[1, g] = by_hand[hand_of[g]] - weighted
        shares[2, g] = by_family[family_of[g]] - weighted
        shares[3, g] = anywhere - weighted
        total = 0.0
        for part in range(4):
            if shares[part, g] > _NOTHING:
                total += whole_shares[part]
        for part in range(4):
            there = shares[part, g] > _NOTHING and total > 0.0
            shares[part, g] = whole_shares[part] / total / shares[part, g] if there else 0.0
        stuck[g] = 0.0 if total > 0.0 else fits[g]
    return anywhere


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
