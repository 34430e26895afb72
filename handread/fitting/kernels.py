"""Compiled kernels of the walk; the plain twin of each stands beside it."""

from __future__ import annotations

import numpy as np
from numba import njit
from numpy.typing import NDArray

from handread.clues.claim_kernels import fill_claim_table, fill_claims
from handread.clues.claims import ANEW, N_JOKERS, N_MASKS, OPEN_TO, SHAPES

Array = NDArray[np.float64]


@njit(cache=True)
def add_choice(
    within_reach: Array,
    codes: NDArray[np.uint8],
    constants: Array,
    tables: Array,
    alternatives: int,
    entries: int,
    kind: NDArray[np.int8],
    reach: Array,
    constant: NDArray[np.float32],
    first_entry: NDArray[np.int64],
    feature: NDArray[np.int16],
    value: NDArray[np.float32],
) -> tuple[int, int]:
    """Add one choice to the last six, in place, and return how long they then are.

    Parameters
    ----------
    within_reach, codes
        Expected copies and use code of each kind, shape (36,); the kinds within reach are the
        alternatives.
    constants, tables
        Score at weights of 0, shape (16, 36), and table of each product, (36, 16, n_products).
    alternatives, entries
        How many alternatives, and entries, there are before; there is room for those to come.
    kind, reach, constant, first_entry
        Of each alternative: kind, copies, score at weights of 0, and the place of its first entry.
    feature, value
        Of each entry: product, and its factor.
    """
    for k in range(len(within_reach)):
        if not within_reach[k] > 0.0:
            continue
        code = codes[k]
        kind[alternatives], reach[alternatives] = k, within_reach[k]
        constant[alternatives], first_entry[alternatives] = constants[code, k], entries
        alternatives += 1
        for product in range(tables.shape[2]):
            factor = tables[k, code, product]
            if factor != 0.0:
                feature[entries], value[entries] = product, factor
                entries += 1
    return alternatives, entries


def add_choice_plain(
    within_reach: Array, codes: NDArray[np.uint8], constants: Array, tables: Array,
    alternatives: int, entries: int, kind: NDArray[np.int8], reach: Array,
    constant: NDArray[np.float32], first_entry: NDArray[np.int64], feature: NDArray[np.int16],
    value: NDArray[np.float32],
) -> tuple[int, int]:  # fmt: skip
    """Slow twin of ``add_choice``, for tests."""
    kinds = np.flatnonzero(within_reach > 0)
    factors = tables[kinds, codes[kinds]]
    alternative, product = np.nonzero(factors)
    here = slice(alternatives, alternatives + len(kinds))
    there = slice(entries, entries + len(product))
    kind[here], reach[here] = kinds, within_reach[kinds]
    constant[here] = constants[codes[kinds], kinds]
    first_entry[here] = entries + np.searchsorted(alternative, np.arange(len(kinds)))
    feature[there], value[there] = product, factors[alternative, product]
    return here.stop, there.stop


@njit(cache=True)
def fill_by_count(
    by_count: Array,
    codes: NDArray[np.int64],
    counts: NDArray[np.int64],
    first: int,
    tables: Array,
) -> None:
    """Fill some products of `tables` in place, each kind by its own count; the last are for more.

    Parameters
    ----------
    by_count
        Tables of some products for each count of a kind, (n_counts, 36, n_codes, n_some).
    codes
        Use codes that these have, shape (n_codes,).
    counts
        Count of each kind, shape (36,).
    first
        Place of the first of these products.
    tables
        Shape (36, 16, n_products).
    """
    most = by_count.shape[0] - 1
    for k in range(len(counts)):
        count = min(counts[k], most)
        for i in range(len(codes)):
            for product in range(by_count.shape[3]):
                tables[k, codes[i], first + product] = by_count[count, k, i, product]


def fill_by_count_plain(
    by_count: Array, codes: NDArray[np.int64], counts: NDArray[np.int64], first: int, tables: Array
) -> None:
    """Slow twin of ``fill_by_count``, for tests."""
    count, products = np.minimum(counts, len(by_count) - 1), slice(first, first + by_count.shape[3])
    tables[:, codes, products] = by_count[count, np.arange(len(counts))]


@njit(cache=True)
def fill_answer(
    row: int,
    kind: int,
    held: Array,
    possible: NDArray[np.bool_],
    willing: Array,
    loose: Array,
    anew: float,
    held_copies: float,
    held_jokers: float,
    group_kind: NDArray[np.int8],
    group_size: NDArray[np.uint8],
    group_joker: NDArray[np.bool_],
    demand: NDArray[np.uint8],
    concealed: NDArray[np.bool_],
    left: NDArray[np.bool_],
    fits: NDArray[np.bool_],
    claimable: int,
    allowed: Array,
    open_to: Array,
) -> tuple[float, bool]:
    """Fill the last two, shape (18,), in place with what one row can do about an open tile.

    See ``asking.Answer``. `held` are the holdings of ``asking.Offer``, the next six those of
    ``claim_kernels.fill_claim_table``, the others those of ``fill_claims``. Returns the part of
    the tiles still needed that are of this kind, and whether any group is allowed. Plain twin: in
    the tests, by the claims of all rows of a reading.
    """
    n_shapes = len(SHAPES)
    table = np.zeros((ANEW + 1, n_shapes))
    if possible.any():
        fill_claim_table(held, held_copies, held_jokers, willing * possible, anew, loose, table)
    if row >= len(fits):
        allowed[:] = table[N_MASKS + row - len(fits)]
        open_to[:] = possible
        return 0.0, bool(allowed.any())
    masks, wanted = np.empty((2, 1), dtype=np.uint8), np.empty(1)
    fill_claims(
        group_kind[row : row + 1], group_size[row : row + 1], group_joker[row : row + 1],
        demand[row : row + 1], concealed[row : row + 1], left[row : row + 1], kind, claimable,
        masks, wanted,
    )  # fmt: skip
    plain, mixed, n_open = masks[0, 0] * fits[row], masks[1, 0] * fits[row], 0
    for bit in range(4):
        n_open += (plain >> bit) & 1
    share = 1.0 / max(n_open, 1)
    for s in range(n_shapes):
        mask = mixed if N_JOKERS[s] > 0 else plain
        allowed[s] = table[mask, s] * share
        open_to[s] = OPEN_TO[mask, s] * possible[s] * share
    return float(wanted[0]), bool(allowed.any())
