"""Compiled kernels of the clues; each has a plain twin that the tests hold it to."""

from __future__ import annotations

import numpy as np
from numba import njit
from numpy.typing import NDArray

from handread.clues.codes import Use
from handread.tiles import JOKER, N_KINDS

_EXPOSED = int(Use.EXPOSED)
_DEAD = int(Use.DEAD)
_PAIR = int(Use.PAIR)
_WANTED = int(Use.JOKER_WANTED)
_UNWANTED = int(Use.JOKER_UNWANTED)


@njit(cache=True)
def _add_want(kinds: NDArray[np.uint8], counts: NDArray[np.uint8], kind: int, count: int) -> None:
    """Count more of a kind in one row of kinds and counts, put at its end where it is new."""
    for j in range(len(kinds)):
        if counts[j] == 0 or kinds[j] == kind:
            kinds[j] = kind
            counts[j] += count
            return


@njit(cache=True)
def fill_wants(
    group_kind: NDArray[np.int8],
    group_size: NDArray[np.uint8],
    group_joker: NDArray[np.bool_],
    left: NDArray[np.bool_],
    kinds: NDArray[np.uint8],
    bare_kinds: NDArray[np.uint8],
    bare: NDArray[np.uint8],
    open_kinds: NDArray[np.uint8],
    open_sizes: NDArray[np.uint8],
    codes: NDArray[np.uint8],
) -> None:
    """Fill the last six in place, from zeros, `kinds` from 36; see ``wants.Wants``."""
    n_targets, n_groups = group_kind.shape
    for g in range(n_targets):
        codes[g, JOKER] = _UNWANTED
        n_open = 0
        for j in range(n_groups):
            size, k = group_size[g, j], group_kind[g, j]
            if size == 0:
                continue
            if not left[g, j]:
                if codes[g, k] == 0:
                    codes[g, k] = _EXPOSED
                continue
            held = codes[g, k] if codes[g, k] != _EXPOSED else 0
            codes[g, k] = max(held, size)
            place = 0
            while kinds[g, place] != N_KINDS and kinds[g, place] != k:
                place += 1
            kinds[g, place] = k
            if group_joker[g, j]:
                codes[g, JOKER] = _WANTED
                open_kinds[g, n_open], open_sizes[g, n_open] = k, size
                n_open += 1
            else:
                _add_want(bare_kinds[g], bare[g], k, size)


@njit(cache=True)
def fill_dead(
    bare_kinds: NDArray[np.uint8],
    bare: NDArray[np.uint8],
    open_kinds: NDArray[np.uint8],
    open_sizes: NDArray[np.uint8],
    free: NDArray[np.int64],
    codes: NDArray[np.uint8],
    blocked: NDArray[np.uint8],
) -> None:
    """Mark dead singles and pairs in `codes` and fill `blocked`; see ``wants.codes_now``."""
    n_targets, n_groups = bare.shape
    for g in range(n_targets):
        gone = 0
        for j in range(n_groups):
            if bare[g, j] == 0:
                break
            k = bare_kinds[g, j]
            if bare[g, j] > free[k]:
                gone += 1
                if codes[g, k] <= _PAIR:
                    codes[g, k] = _DEAD
        short = 0
        for j in range(n_groups):
            if open_sizes[g, j] == 0:
                break
            short += max(0, open_sizes[g, j] - free[open_kinds[g, j]])
        blocked[g] = gone + max(0, short - free[JOKER])


@njit(cache=True)
def fill_turned_up(
    first: NDArray[np.int64],
    target: NDArray[np.uint32],
    copies: NDArray[np.uint8],
    shown: NDArray[np.int64],
    kinds: NDArray[np.int64],
    nats: NDArray[np.float64],
    prior: NDArray[np.float64],
    fits: NDArray[np.float64],
    mass: float,
    out: NDArray[np.float64],
) -> None:
    """Fill `out` (n_targets,) in place with what copies elsewhere say of each target.

    The first three are ``CompiledCard.wanted``. `shown` are the tiles of each kind in the groups
    that the seat has shown, shape (36,), `nats` what each copy wanted of `kinds` counts for. On
    average, by `prior`, 1 over those that fit, as 0.0 or 1.0; `mass` is their part of the prior.
    """
    out[:] = 1.0
    for i in range(len(kinds)):
        entries = range(first[kinds[i]], first[kinds[i] + 1])
        most = 0
        for j in entries:
            most = max(most, copies[j])
        ratio = np.empty(most + 1)
        for n in range(most + 1):
            ratio[n] = np.exp(nats[i] * max(n - shown[kinds[i]], 0))
        for j in entries:
            out[target[j]] *= ratio[copies[j]]
    n = len(out)
    rest = n % 4
    one, two, three, after = 0.0, 0.0, 0.0, 0.0
    for g in range(rest):
        after += fits[g] * prior[g] * out[g]
    for g in range(rest, n, 4):
        one += fits[g] * prior[g] * out[g]
        two += fits[g + 1] * prior[g + 1] * out[g + 1]
        three += fits[g + 2] * prior[g + 2] * out[g + 2]
        after += fits[g + 3] * prior[g + 3] * out[g + 3]
    out *= mass / ((one + two) + (three + after))


@njit(cache=True)
def gather_throws(
    weight: NDArray[np.float64], codes: NDArray[np.uint8], kind: int
) -> NDArray[np.float64]:
    """Probability that each row throws `kind`.

    Parameters
    ----------
    weight
        exp of the score of each code and kind, 0 for kinds that are not there; shape (16, 36).
    codes
        Use codes, shape (n_rows, 36).
    kind
        The tile thrown.
    """
    n_rows, n_kinds = codes.shape
    out = np.empty(n_rows)
    for r in range(n_rows):
        total = 0.0
        for k in range(n_kinds):
            total += weight[codes[r, k], k]
        out[r] = weight[codes[r, kind], kind] / total
    return out


@njit(cache=True)
def gather_pair(
    stays: NDArray[np.float64], goes: NDArray[np.float64], codes: NDArray[np.uint8], kind: int
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Probability that each row throws `kind` by two tables, each as for ``gather_throws``."""
    n_rows, n_kinds = codes.shape
    out, other = np.empty(n_rows), np.empty(n_rows)
    for r in range(n_rows):
        total, total_other = 0.0, 0.0
        for k in range(n_kinds):
            code = codes[r, k]
            total += stays[code, k]
            total_other += goes[code, k]
        code = codes[r, kind]
        out[r] = stays[code, kind] / total
        other[r] = goes[code, kind] / total_other
    return out, other


@njit(cache=True)
def fill_redeems(
    rates: NDArray[np.float64],
    codes: NDArray[np.uint8],
    kinds: NDArray[np.int64],
    each: NDArray[np.float64],
    none: NDArray[np.float64],
) -> None:
    """Fill `each` (n_rows, n_kinds) and `none` (n_rows,) in place; see ``redeems.redeem_probs``.

    `rates` are those of each of `kinds` by use code, shape (n_kinds, 16).
    """
    for r in range(codes.shape[0]):
        nothing, total = 1.0, 0.0
        for i in range(len(kinds)):
            rate = rates[i, codes[r, kinds[i]]]
            each[r, i] = rate
            nothing *= 1.0 - rate
            total += rate
        none[r] = nothing
        for i in range(len(kinds)):
            each[r, i] *= (1.0 - nothing) / total if total > 0.0 else 0.0


@njit(cache=True)
def gather_many(tables: NDArray[np.float64], codes: NDArray[np.uint8]) -> NDArray[np.float64]:
    """Sum over kinds of each table's entry for each row's use code.

    Parameters
    ----------
    tables
        Shape (n_tables, 16, 36).
    codes
        Use codes, shape (n_rows, 36).

    Returns
    -------
    NDArray
        Shape (n_tables, n_rows).
    """
    n_rows, n_kinds = codes.shape
    out = np.zeros((tables.shape[0], n_rows))
    for t in range(tables.shape[0]):
        for r in range(n_rows):
            total = 0.0
            for k in range(n_kinds):
                total += tables[t, codes[r, k], k]
            out[t, r] = total
    return out
