"""Compiled parts of who holds what: which targets can be finished, and what is needed for them.

Seats that have shown nothing want the same of every target. What hangs on the copies left alone
is worked out once for them, and one walk over the targets serves them all.
"""

from __future__ import annotations

import numpy as np
from numba import njit
from numpy.typing import NDArray

from handread.tiles import N_KINDS

Array = NDArray[np.float64]
Counts = NDArray[np.int64]
Bytes = NDArray[np.uint8]
Bools = NDArray[np.bool_]
#: One of each seat; arrays are all of one shape.
SeatInts = tuple[int, int, int, int]
SeatBytes = tuple[Bytes, Bytes, Bytes, Bytes]
SeatBools = tuple[Bools, Bools, Bools, Bools]
SeatArrays = tuple[Array, Array, Array, Array]


@njit(cache=True)
def most_of(counts: Counts) -> int:
    """Greatest of some counts, 0 at least; by a loop, which compiles sooner than a maximum."""
    most = 0
    for i in range(len(counts)):
        most = max(most, counts[i])
    return most


@njit(cache=True)
def fill_tails(trials: Counts, prob: Array, out: Array) -> None:
    """Chance of at least 0, 1, ... successes, one row a binomial; see ``holding.binomial_tails``.

    `out` has shape (n, most + 1).
    """
    n_rows, n_cols = out.shape
    misses = np.empty(most_of(trials) + 1)  # chance that so many trials all fail
    misses[0] = 1.0
    for r in range(n_rows):
        for n in range(1, trials[r] + 1):
            misses[n] = misses[n - 1] * (1.0 - prob[r])
        below = 0.0
        ways = 1.0
        hits = 1.0
        for n in range(n_cols):
            if n > trials[r]:
                out[r, n] = 0.0
                continue
            out[r, n] = max(1.0 - below, 0.0)
            below += ways * hits * misses[trials[r] - n]
            ways *= (trials[r] - n) / (n + 1.0)
            hits *= prob[r]


@njit(cache=True)
def alike(kinds: SeatBytes, fits: SeatBools) -> tuple[Counts, Counts]:
    """Seats that want the same, told by the arrays themselves.

    Returns the seats that want what each seat does, itself first, shape (4, 4), and how many they
    are, shape (4,); none for a seat that stands with an earlier one.
    """
    seats, n_seats = np.zeros((4, 4), dtype=np.int64), np.zeros(4, dtype=np.int64)
    for seat in range(4):
        first = 0
        while (
            kinds[first].ctypes.data != kinds[seat].ctypes.data
            or fits[first].ctypes.data != fits[seat].ctypes.data
        ):
            first += 1
        seats[first, n_seats[first]] = seat
        n_seats[first] += 1
    return seats, n_seats


@njit(cache=True)
def list_targets(
    bare_kinds: Bytes,
    bare: Bytes,
    open_kinds: Bytes,
    open_sizes: Bytes,
    fits: Bools,
    unseen: Counts,
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
def fill_outlook(
    seats: Counts,
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
    """Fill `finish` (4, n_targets) and `needs` (4, 36) in place for one to four seats.

    The seats want the same. `listed` and `short`, cut to what they hold, are those of
    ``list_targets``; what is not listed is left as it is in `finish`. `mends` is the chance of at
    least m jokers for each seat, shape (4, m + 1); `enough` that of at least m naturals of each
    kind, shape (36, 4, m + 1), or with no kinds at all where every copy unseen is within reach.
    """
    n, last = len(seats), len(seats) - 1
    s_0, s_1, s_2, s_3 = seats[0], seats[min(1, last)], seats[min(2, last)], seats[last]
    probs_0, probs_1, probs_2, probs_3 = probs[s_0], probs[s_1], probs[s_2], probs[s_3]
    n_bare = bare.shape[1] if len(enough) else 0
    sums = np.zeros((2, N_KINDS, 4))  # neighbours want the same kinds, and one waits for itself
    for i in range(len(listed)):
        g, lacking = listed[i], short[i]
        can_0, can_1 = mends[s_0, lacking], mends[s_1, lacking]
        can_2, can_3 = mends[s_2, lacking], mends[s_3, lacking]
        for j in range(n_bare):
            m = bare[g, j]
            if m == 0:
                break
            k = bare_kinds[g, j]
            can_0, can_1 = can_0 * enough[k, s_0, m], can_1 * enough[k, s_1, m]
            can_2, can_3 = can_2 * enough[k, s_2, m], can_3 * enough[k, s_3, m]
        finish[s_0, g] = can_0
        if n > 1:
            finish[s_1, g], finish[s_2, g], finish[s_3, g] = can_1, can_2, can_3
        half, plan_0, plan_1 = g & 1, probs_0[g] * can_0, probs_1[g] * can_1
        plan_2, plan_3 = probs_2[g] * can_2, probs_3[g] * can_3
        for j in range(kinds.shape[1]):
            k = kinds[g, j]
            if k == N_KINDS:
                break
            sums[half, k, 0] += plan_0
            sums[half, k, 1] += plan_1
            sums[half, k, 2] += plan_2
            sums[half, k, 3] += plan_3
    for i in range(n):
        for k in range(N_KINDS):
            needs[seats[i], k] = sums[0, k, i] + sums[1, k, i]
