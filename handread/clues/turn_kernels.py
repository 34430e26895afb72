"""Compiled kernels of one turn: who throws a kind, and keeps or changes a plan.

Each pass goes over all rows: a row cut out of an array, or an array handed on row by row, costs
more (its owner is counted in and out) than what is then done with it.
"""

from __future__ import annotations

import numpy as np
from numba import njit
from numpy.typing import NDArray

from handread.clues.codes import N_CODES, Use
from handread.tiles import JOKER, N_KINDS

_SINGLE = int(Use.SINGLE)
_PAIR = int(Use.PAIR)
_DEAD = int(Use.DEAD)
_MOST_BARE = 16
_MOST_OPEN = 8
#: Part of a sum that must be left when differences are taken from it; less is summed afresh.
_LITTLE = 1.0 / 16.0


@njit(cache=True, inline="always")
def _number_cell(
    number: NDArray[np.int64], what: NDArray[np.uint8], n_cells: int, kind: int, code: int,
    wanted: int, size: int,
) -> int:  # fmt: skip
    """Find the number of a cell, a new one where it has not been met."""
    key = ((kind * N_CODES + code) * _MOST_BARE + wanted) * _MOST_OPEN + size
    if number[key] < 0:
        number[key] = n_cells
        what[n_cells, 0], what[n_cells, 1] = kind, code
        what[n_cells, 2], what[n_cells, 3] = wanted, size
    return int(number[key])


@njit(cache=True)
def list_cells(
    codes: NDArray[np.uint8],
    bare_kinds: NDArray[np.uint8],
    bare: NDArray[np.uint8],
    open_kinds: NDArray[np.uint8],
    open_sizes: NDArray[np.uint8],
    first: NDArray[np.int64],
    cell: NDArray[np.uint16],
    what: NDArray[np.uint8],
) -> int:
    """Fill the last three in place, see ``wants.Cells``, and return how many cells there are."""
    number = np.empty(N_KINDS * N_CODES * _MOST_BARE * _MOST_OPEN, dtype=np.int64)
    for key in range(len(number)):
        number[key] = -1
    naked, size = np.empty(N_KINDS, dtype=np.uint8), np.empty(N_KINDS, dtype=np.uint8)
    n_cells, n_entries = 0, 0
    for g in range(len(bare)):
        for k in range(N_KINDS):
            naked[k], size[k] = 0, 0
        first[g] = n_entries
        for j in range(bare.shape[1]):
            if bare[g, j] > 0:
                naked[bare_kinds[g, j]] = bare[g, j]
        for j in range(open_sizes.shape[1]):
            k = open_kinds[g, j]
            if open_sizes[g, j] > 0 and size[k] == 0:
                size[k] = open_sizes[g, j]
            elif open_sizes[g, j] > 0:  # one more group of the kind: a cell without a use
                cell[n_entries] = _number_cell(number, what, n_cells, k, 0, 0, open_sizes[g, j])
                n_cells = max(n_cells, cell[n_entries] + 1)
                n_entries += 1
        for k in range(N_KINDS):
            if codes[g, k] > 0:
                cell[n_entries] = _number_cell(
                    number, what, n_cells, k, codes[g, k], naked[k], size[k]
                )
                n_cells = max(n_cells, cell[n_entries] + 1)
                n_entries += 1
    first[len(bare)] = n_entries
    return n_cells


@njit(cache=True)
def scale_by_count(
    odds: NDArray[np.float64], by_count: NDArray[np.float64], counts: NDArray[np.int64]
) -> None:
    """Multiply the odds of each kind, in place, by those of its count; the last are for more.

    `odds` has shape (36, 16, 2), `by_count` (n, 36, 16, 2).
    """
    for k in range(N_KINDS):
        factors = by_count[min(max(counts[k], 0), len(by_count) - 1), k]
        for code in range(N_CODES):
            odds[k, code, 0] *= factors[code, 0]
            odds[k, code, 1] *= factors[code, 1]


@njit(cache=True)
def scale_by_reach(odds: NDArray[np.float64], reach: NDArray[np.float64], power: float) -> None:
    """Multiply the odds of each kind, in place, by a power of its copies within reach."""
    for k in range(N_KINDS):
        factor = reach[k] ** power if reach[k] > 0.0 else 0.0
        for code in range(N_CODES):
            odds[k, code, 0] *= factor
            odds[k, code, 1] *= factor


@njit(cache=True)
def _cell_values(
    odds: NDArray[np.float64], what: NDArray[np.uint8], free: NDArray[np.int64]
) -> NDArray[np.float64]:
    """What each cell adds to its row: odds beyond those of no use, kinds gone, tiles short."""
    values = np.empty((len(what), 4))
    for c in range(len(what)):
        k, code, wanted, size = what[c, 0], what[c, 1], what[c, 2], what[c, 3]
        gone = wanted > free[k]
        if gone and code <= _PAIR:
            code = _DEAD
        values[c, 0] = odds[k, code, 0] - odds[k, 0, 0]
        values[c, 1] = odds[k, code, 1] - odds[k, 0, 1]
        values[c, 2] = 1.0 if gone else 0.0
        values[c, 3] = max(0, size - free[k])
    return values


@njit(cache=True)
def _sum_cells(
    belief: NDArray[np.float64], odds: NDArray[np.float64], values: NDArray[np.float64],
    jokers: int, first: NDArray[np.int64], cell: NDArray[np.uint16], sums: NDArray[np.float64],
    lost: NDArray[np.uint8], rest: NDArray[np.int64],
) -> int:  # fmt: skip
    """Fill `sums` (n_rows, 2) and `lost` of the targets that are believed in, by their cells.

    `sums` are the odds of all kinds, plans kept and changed; `lost` the kinds gone and the tiles
    short beyond the `jokers` left, 2 at most. Targets of whose odds too little is left when
    differences are taken are put into `rest`; returns how many.
    """
    all_stays, all_goes, n_rest = 0.0, 0.0, 0  # of a target without use for any kind
    for k in range(N_KINDS):
        all_stays += odds[k, 0, 0]
        all_goes += odds[k, 0, 1]
    for g in range(len(first) - 1):
        if belief[g] == 0.0:
            continue
        stays, goes, gone, short = all_stays, all_goes, 0.0, 0.0
        for i in range(first[g], first[g + 1]):
            c = cell[i]
            stays += values[c, 0]
            goes += values[c, 1]
            gone += values[c, 2]
            short += values[c, 3]
        sums[g, 0], sums[g, 1] = stays, goes
        lost[g] = min(gone + max(0.0, short - jokers), 2.0)
        if not (stays > _LITTLE * all_stays and goes > _LITTLE * all_goes):
            rest[n_rest] = g
            n_rest += 1
    return n_rest


@njit(cache=True)
def _sum_rows(
    rows: NDArray[np.int64],
    odds: NDArray[np.float64],
    free: NDArray[np.int64],
    codes: NDArray[np.uint8],
    bare_kinds: NDArray[np.uint8],
    bare: NDArray[np.uint8],
    open_kinds: NDArray[np.uint8],
    open_sizes: NDArray[np.uint8],
    sums: NDArray[np.float64],
    lost: NDArray[np.uint8],
) -> None:
    """Fill `sums` and `lost` as ``_sum_cells`` does, each of the `rows` from its own codes."""
    now = np.empty(N_KINDS, dtype=np.uint8)
    for r in rows:
        gone, short = 0, 0
        for k in range(N_KINDS):
            now[k] = codes[r, k]
        if r < len(bare):
            for j in range(bare.shape[1]):
                k = bare_kinds[r, j]
                if bare[r, j] > 0 and bare[r, j] > free[k]:
                    gone += 1
                    if now[k] <= _PAIR:
                        now[k] = _DEAD
            for j in range(open_sizes.shape[1]):
                short += max(0, open_sizes[r, j] - free[open_kinds[r, j]])
        stays, goes, more_stays, more_goes = 0.0, 0.0, 0.0, 0.0
        for k in range(0, N_KINDS, 2):  # by twos, so that no sum has to wait for itself
            code, next_code = now[k], now[k + 1]
            stays += odds[k, code, 0]
            goes += odds[k, code, 1]
            more_stays += odds[k + 1, next_code, 0]
            more_goes += odds[k + 1, next_code, 1]
        sums[r, 0], sums[r, 1] = stays + more_stays, goes + more_goes
        lost[r] = min(gone + max(0, short - free[JOKER]), 2)


@njit(cache=True)
def _fill_codes(
    kind: int,
    free: NDArray[np.int64],
    codes: NDArray[np.uint8],
    bare_kinds: NDArray[np.uint8],
    bare: NDArray[np.uint8],
    out: NDArray[np.uint8],
) -> None:
    """Fill `out` (n_rows,) with the code of one kind in each row, dead or not."""
    for r in range(len(out)):
        code = codes[r, kind]
        if r < len(bare) and _SINGLE <= code <= _PAIR:
            for j in range(bare.shape[1]):
                if bare[r, j] > free[kind] and bare_kinds[r, j] == kind:
                    code = _DEAD
        out[r] = code


@njit(cache=True)
def fill_turn(
    belief: NDArray[np.float64],
    kind: int,
    odds: NDArray[np.float64],
    notes: NDArray[np.float64],
    free: NDArray[np.int64],
    codes: NDArray[np.uint8],
    bare_kinds: NDArray[np.uint8],
    bare: NDArray[np.uint8],
    open_kinds: NDArray[np.uint8],
    open_sizes: NDArray[np.uint8],
    first: NDArray[np.int64],
    cell: NDArray[np.uint16],
    what: NDArray[np.uint8],
    hazard: NDArray[np.float64],
    in_error: float,
    draws: float,
    finish: NDArray[np.float64],
    kinds: NDArray[np.int64],
    rates: NDArray[np.float64],
    keep: NDArray[np.float64],
    move: NDArray[np.float64],
) -> None:
    """Fill `keep` and `move` (n_rows,) in place: who throws `kind` and keeps, or changes, a plan.

    `odds` are those of ``throwing.throw_odds``, `notes` what was noted beside the throw by plans
    kept and changed and use code, shape (2, 16). The next ones are those of ``wants.Wants`` and its
    cells; without entries in `first`, every row is summed on its own. `hazard` is that of
    ``hazard.leaving_rates``; `in_error` and `draws` times `finish` are a win on the draw; `rates`
    those of redeems of `kinds` by use code, shape (n_kinds, 16). Rows without belief are left out.
    """
    n, n_rows, n_sum = len(finish), len(belief), 0
    sums, rows = np.empty((n_rows, 2)), np.empty(n_rows, dtype=np.int64)
    lost = np.empty(n_rows, dtype=np.uint8)
    if len(first) > 0:
        values = _cell_values(odds, what, free)
        n_sum = _sum_cells(
            belief, odds, values, free[JOKER], first, cell, sums, lost, rows
        )  # fmt: skip
    for r in range(n if len(first) > 0 else 0, n_rows):
        if belief[r] != 0.0:
            rows[n_sum] = r
            n_sum += 1
    _sum_rows(
        rows[:n_sum], odds, free, codes, bare_kinds, bare, open_kinds, open_sizes, sums, lost
    )  # fmt: skip
    thrown, held = np.empty(n_rows, dtype=np.uint8), np.empty((len(kinds), n_rows), dtype=np.uint8)
    _fill_codes(kind, free, codes, bare_kinds, bare, thrown)
    for i in range(len(kinds)):
        _fill_codes(kinds[i], free, codes, bare_kinds, bare, held[i])
    for r in range(n_rows):
        keep[r], move[r] = 0.0, 0.0
        if belief[r] == 0.0:
            continue
        code = thrown[r]
        ready = draws * finish[r] if r < n else 0.0
        leaves = hazard[lost[r]] if r < n else hazard[r - n + 3]
        chance = belief[r] * (1.0 - (in_error + ready))
        for i in range(len(kinds)):
            chance *= 1.0 - rates[i, held[i, r]]
        keeps, changes = odds[kind, code, 0] / sums[r, 0], odds[kind, code, 1] / sums[r, 1]
        keep[r] = chance * (1.0 - leaves) * keeps * notes[0, code]
        move[r] = chance * leaves * changes * notes[1, code]
