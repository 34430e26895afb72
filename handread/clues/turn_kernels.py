"""Compiled kernels of one turn: who throws a kind, and keeps or changes a plan."""

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
def _row_odds(odds: NDArray[np.float64], codes: NDArray[np.uint8]) -> tuple[float, float]:
    """Sums over the kinds of the odds, plans kept and changed, for one row's use codes.

    Kinds come by twos, so that no sum has to wait for itself.
    """
    stays, goes, more_stays, more_goes = 0.0, 0.0, 0.0, 0.0
    for k in range(0, N_KINDS, 2):
        code, next_code = codes[k], codes[k + 1]
        stays += odds[k, code, 0]
        goes += odds[k, code, 1]
        more_stays += odds[k + 1, next_code, 0]
        more_goes += odds[k + 1, next_code, 1]
    return stays + more_stays, goes + more_goes


@njit(cache=True)
def _codes_now(
    codes: NDArray[np.uint8],
    bare_kinds: NDArray[np.uint8],
    bare: NDArray[np.uint8],
    free: NDArray[np.int64],
    now: NDArray[np.uint8],
) -> int:
    """Fill `now` with one target's codes, dead ones marked; the kinds of singles and pairs gone."""
    for k in range(N_KINDS):
        now[k] = codes[k]
    gone = 0
    for j in range(len(bare)):
        if bare[j] == 0:
            break
        k = bare_kinds[j]
        if bare[j] > free[k]:
            gone += 1
            if codes[k] <= _PAIR:
                now[k] = _DEAD
    return gone


@njit(cache=True)
def _code_now(
    code: int,
    kind: int,
    bare_kinds: NDArray[np.uint8],
    bare: NDArray[np.uint8],
    free: NDArray[np.int64],
) -> int:
    """One target's code of one kind, dead or not."""
    if _SINGLE <= code <= _PAIR:
        for j in range(len(bare)):
            if bare[j] > free[kind] and bare_kinds[j] == kind:
                return _DEAD
    return code


@njit(cache=True)
def _tiles_short(
    open_kinds: NDArray[np.uint8], open_sizes: NDArray[np.uint8], free: NDArray[np.int64]
) -> int:
    """Tiles that one target's groups with jokers lack, beyond the copies left."""
    short = 0
    for j in range(len(open_sizes)):
        if open_sizes[j] == 0:
            break
        short += max(0, open_sizes[j] - free[open_kinds[j]])
    return short


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
    n = len(finish)
    values = _cell_values(odds, what, free)
    all_stays, all_goes = 0.0, 0.0  # of a target without use for any kind
    for k in range(N_KINDS):
        all_stays += odds[k, 0, 0]
        all_goes += odds[k, 0, 1]
    now = np.empty(N_KINDS, dtype=np.uint8)
    for r in range(len(belief)):
        keep[r], move[r] = 0.0, 0.0
        if belief[r] == 0.0:
            continue
        code, lost, ready = int(codes[r, kind]), r - n + 3, 0.0
        stays, goes = 0.0, 0.0
        if r < n:
            ready = draws * finish[r]
            code = _code_now(code, kind, bare_kinds[r], bare[r], free)
            gone, short, wide = 0, 0, len(first) > 0
            if wide:
                stays, goes, away, lack = all_stays, all_goes, 0.0, 0.0
                for i in range(first[r], first[r + 1]):
                    c = cell[i]
                    stays += values[c, 0]
                    goes += values[c, 1]
                    away += values[c, 2]
                    lack += values[c, 3]
                gone, short = int(away), int(lack)
                wide = stays > _LITTLE * all_stays and goes > _LITTLE * all_goes
            if not wide:
                gone = _codes_now(codes[r], bare_kinds[r], bare[r], free, now)
                short = _tiles_short(open_kinds[r], open_sizes[r], free)
                stays, goes = _row_odds(odds, now)
            lost = min(gone + max(0, short - free[JOKER]), 2)
        else:
            for k in range(N_KINDS):
                now[k] = codes[r, k]
            stays, goes = _row_odds(odds, now)
        chance = belief[r] * (1.0 - (in_error + ready))
        for i in range(len(kinds)):
            held = codes[r, kinds[i]]
            if r < n:
                held = _code_now(held, kinds[i], bare_kinds[r], bare[r], free)
            chance *= 1.0 - rates[i, held]
        keep[r] = chance * (1.0 - hazard[lost]) * (odds[kind, code, 0] / stays) * notes[0, code]
        move[r] = chance * hazard[lost] * (odds[kind, code, 1] / goes) * notes[1, code]
