"""What can still be finished, and so what is needed: compiled, one walk for seats that want alike.

Seats that have shown nothing want the same of every target. What hangs on the copies left alone
is worked out once for them, and one walk over the targets serves them all. The plain twin is in
the tests.
"""

from __future__ import annotations

import numpy as np
from numba import njit
from numpy.typing import NDArray

from handread.tiles import N_KINDS

Bytes = NDArray[np.uint8]
Array = NDArray[np.float64]
#: One array a seat, all of one type and shape.
SeatBytes = tuple[Bytes, Bytes, Bytes, Bytes]
SeatBools = tuple[NDArray[np.bool_], NDArray[np.bool_], NDArray[np.bool_], NDArray[np.bool_]]
SeatArrays = tuple[Array, Array, Array, Array]

#: Tiles of one kind that a target may need at most.
MOST_NEEDED = 14


@njit(cache=True)
def first_alike(kinds: SeatBytes, fits: SeatBools) -> NDArray[np.int64]:
    """First seat that wants the same as each seat, by the arrays themselves, shape (4,)."""
    first = np.arange(4)
    for seat in range(1, 4):
        for other in range(seat):
            same_wants = kinds[seat].ctypes.data == kinds[other].ctypes.data
            if same_wants and fits[seat].ctypes.data == fits[other].ctypes.data:
                first[seat] = other
                break
    return first


@njit(cache=True)
def list_targets(
    bare_kinds: Bytes,
    bare: Bytes,
    open_kinds: Bytes,
    open_sizes: Bytes,
    fits: NDArray[np.bool_],
    unseen: NDArray[np.int64],
    most: int,
    listed: NDArray[np.uint32],
    short: Bytes,
) -> int:
    """List the targets that copies unseen allow, and the jokers that each cannot do without.

    The first four are those of ``clues.wants.Wants``. Fills `listed` and `short`, shape
    (n_targets,), from the front, and returns how many there are. Targets that do not fit, whose
    singles and pairs are gone or that need more jokers than `most` are left out.
    """
    n_listed = 0
    for g in range(len(fits)):
        if not fits[g]:
            continue
        gone = False
        for j in range(bare.shape[1]):
            if bare[g, j] == 0 or gone:
                break
            gone = bare[g, j] > unseen[bare_kinds[g, j]]
        if gone:
            continue
        lacking = 0
        for j in range(open_sizes.shape[1]):
            if open_sizes[g, j] == 0:
                break
            lacking += max(0, open_sizes[g, j] - unseen[open_kinds[g, j]])
        if lacking <= most:
            listed[n_listed], short[n_listed] = g, lacking
            n_listed += 1
    return n_listed


@njit(cache=True)
def _add_wanted(kinds: Bytes, plans: tuple[float, float, float, float], sums: Array) -> None:
    """Add the probability of one target with each seat to all the kinds that it wants."""
    for j in range(len(kinds)):
        if kinds[j] == N_KINDS:
            break
        wanted = sums[kinds[j]]
        wanted[0] += plans[0]
        wanted[1] += plans[1]
        wanted[2] += plans[2]
        wanted[3] += plans[3]


@njit(cache=True)
def fill_outlook(
    seat: int,
    first: NDArray[np.int64],
    kinds: Bytes,
    bare_kinds: Bytes,
    bare: Bytes,
    probs: SeatArrays,
    listed: NDArray[np.uint32],
    short: Bytes,
    mends: Array,
    enough: Array,
    finish: Array,
    needs: Array,
) -> None:
    """Fill `finish` (4, n_targets) and `needs` (4, 36) in place for seats that want as one does.

    `first` is that of ``first_alike``; `listed` and `short`, cut to what they hold, those of
    ``list_targets``; what is not listed is left as it is in `finish`. `mends` is the chance of at
    least m jokers for each seat, shape (4, m + 1); `enough` that of at least m naturals of each
    kind, shape (36, 4, m + 1), or with no kinds at all where every copy unseen is within reach.
    """
    last = len(enough) > 0
    in_0, in_1 = last and first[0] == seat, last and first[1] == seat
    in_2, in_3 = last and first[2] == seat, last and first[3] == seat
    probs_0, probs_1, probs_2, probs_3 = probs
    n_bare = bare.shape[1] if last else 0
    sums = np.zeros((2, N_KINDS, 4))  # neighbours want the same kinds, and one waits for itself
    for i in range(len(listed)):
        g, lacking = listed[i], short[i]
        can_0, can_1 = mends[0, lacking], mends[1, lacking]
        can_2, can_3 = mends[2, lacking], mends[3, lacking]
        for j in range(n_bare):
            n = bare[g, j]
            if n == 0:
                break
            tails = enough[bare_kinds[g, j]]
            can_0, can_1 = can_0 * tails[0, n], can_1 * tails[1, n]
            can_2, can_3 = can_2 * tails[2, n], can_3 * tails[3, n]
        if in_0:
            finish[0, g] = can_0
        if in_1:
            finish[1, g] = can_1
        if in_2:
            finish[2, g] = can_2
        if in_3:
            finish[3, g] = can_3
        plan_0, plan_1 = probs_0[g] * can_0, probs_1[g] * can_1
        plan_2, plan_3 = probs_2[g] * can_2, probs_3[g] * can_3
        _add_wanted(kinds[g], (plan_0, plan_1, plan_2, plan_3), sums[g & 1])
    for other in range(4):
        if first[other] == seat:
            for k in range(N_KINDS):
                needs[other, k] = sums[0, k, other] + sums[1, k, other]
