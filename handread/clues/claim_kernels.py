"""Compiled kernels of claims and refusals; each has a plain twin that the tests hold it to."""

from __future__ import annotations

import numpy as np
from numba import njit
from numpy.typing import NDArray


@njit(cache=True)
def fill_held(
    kept: NDArray[np.float64],
    loose: NDArray[np.float64],
    jokers: NDArray[np.float64],
    ratio: float,
    known: int,
    out: NDArray[np.float64],
) -> None:
    """Fill `out` (3, 17) with what a seat may hold; see ``claims.Holdings``.

    `ratio` tilts the odds of each copy, `known` jokers come on top of the others.
    """
    n = out.shape[1]
    tilt = 1.0
    for held in range(n):
        out[0, held], out[1, held] = kept[held] * tilt, loose[held] * tilt
        out[2, (held + known) % n] = jokers[held]
        tilt *= ratio
    out[0] /= out[0].sum()
    out[1] /= out[1].sum()


@njit(cache=True)
def _tilt(chances: NDArray[np.float64], nats: float) -> NDArray[np.float64]:
    """Plain twin: ``claims.tilted``."""
    if nats == 0.0:
        return chances
    out = np.empty(len(chances))
    for held in range(len(chances)):
        out[held] = chances[held] * np.exp(nats * held)
    out /= out.sum()
    return out


@njit(cache=True)
def _fill_made(
    copies: NDArray[np.float64],
    jokers: NDArray[np.float64],
    sizes: NDArray[np.int64],
    n_jokers: NDArray[np.int64],
    out: NDArray[np.float64],
) -> None:
    """Chance that the tiles for each group are there; plain twin: ``claims.can_make``."""
    at_least, enough_jokers = copies.copy(), jokers.copy()
    for held in range(len(copies) - 2, -1, -1):
        at_least[held] += at_least[held + 1]
        enough_jokers[held] += enough_jokers[held + 1]
    for s in range(len(sizes)):
        needed = sizes[s] - 1 - n_jokers[s]
        naturals = at_least[needed] if n_jokers[s] == 0 else copies[needed]
        out[s] = naturals * enough_jokers[n_jokers[s]]


@njit(cache=True)
def fill_claim_table(
    held: NDArray[np.float64],
    held_copies: float,
    held_jokers: float,
    rate: NDArray[np.float64],
    open_to: NDArray[np.float64],
    anew: float,
    loose: NDArray[np.float64],
    sizes: NDArray[np.int64],
    n_jokers: NDArray[np.int64],
    table: NDArray[np.float64],
) -> None:
    """Fill `table` in place; see ``claims.claim_table``.

    `held` is that of ``fill_held``, `rate` the chance that each group is taken where it can be
    made, `loose` that of each row without a plan, the last one for a plan made anew.
    """
    n_masks = open_to.shape[0]
    planned, any_plan = np.empty(len(sizes)), np.empty(len(sizes))
    jokers = _tilt(held[2], held_jokers)
    _fill_made(_tilt(held[0], held_copies), jokers, sizes, n_jokers, planned)
    _fill_made(held[1], jokers, sizes, n_jokers, any_plan)
    for s in range(len(sizes)):
        for mask in range(n_masks):
            table[mask, s] = open_to[mask, s] * planned[s] * rate[s] * (1.0 - anew)
        for row in range(len(loose)):
            table[n_masks + row, s] = loose[row] * any_plan[s] * rate[s]


@njit(cache=True)
def _looks(
    kinds: NDArray[np.int8],
    sizes: NDArray[np.uint8],
    jokers: NDArray[np.bool_],
    left: NDArray[np.bool_],
    concealed: bool,
    kind: int,
    claimable: int,
) -> tuple[int, int, float]:
    """Sets of open sizes of one target, any and with jokers, and the share that it wants."""
    wanted, total = 0, 0
    plain, mixed = 0, 0
    for j in range(len(kinds)):
        if not left[j]:
            continue
        size = sizes[j]
        total += size
        if kinds[j] != kind:
            continue
        wanted += size
        if size < 3 or concealed or not (claimable >> (size - 3)) & 1:
            continue
        plain |= 1 << (size - 3)
        if jokers[j]:
            mixed |= 1 << (size - 3)
    return plain, mixed, wanted / max(total, 1)


@njit(cache=True)
def fill_claims(
    kinds: NDArray[np.int8],
    sizes: NDArray[np.uint8],
    jokers: NDArray[np.bool_],
    demand: NDArray[np.uint8],
    concealed: NDArray[np.bool_],
    left: NDArray[np.bool_],
    kind: int,
    claimable: int,
    masks: NDArray[np.uint8],
    share: NDArray[np.float64],
) -> None:
    """Fill `masks` (2, n_targets) and `share` (n_targets,) in place; see ``codes.claim_masks``.

    `claimable` has bits 0 to 3 for pung to sextet; `share` is the part of the tiles still
    needed that are of this kind.
    """
    for g in range(kinds.shape[0]):
        masks[0, g], masks[1, g], share[g] = 0, 0, 0.0
        if demand[g, kind] > 0:
            masks[0, g], masks[1, g], share[g] = _looks(
                kinds[g], sizes[g], jokers[g], left[g], concealed[g], kind, claimable
            )


@njit(cache=True)
def fill_answers(
    kinds: NDArray[np.int8],
    sizes: NDArray[np.uint8],
    jokers: NDArray[np.bool_],
    demand: NDArray[np.uint8],
    concealed: NDArray[np.bool_],
    left: NDArray[np.bool_],
    fits: NDArray[np.bool_],
    finish: NDArray[np.float64],
    kind: int,
    claimable: int,
    error: float,
    ready: float,
    table: NDArray[np.float64],
    n_jokers: NDArray[np.int64],
    wrong: float,
    win: NDArray[np.float64],
    takes: NDArray[np.float64],
    refuses: NDArray[np.float64],
) -> None:
    """Fill the last three (n_rows,) in place: chance of a win, of a group given none, of neither.

    `demand` has shape (36, n_targets). `error` and `ready` are the chances of a win called in
    error, and of one by a target that is certain and wants the kind alone; `table` is that of
    ``claims.claim_table``, `wrong` the chance of a group shown in error. Plain twin:
    ``likelihood.Claims``.
    """
    n_targets, n_masks = kinds.shape[0], 16
    plain, mixed = np.zeros(table.shape[0]), np.zeros(table.shape[0])
    for row in range(table.shape[0]):
        for s in range(table.shape[1]):
            if n_jokers[s] > 0:
                mixed[row] += table[row, s]
            else:
                plain[row] += table[row, s]
    anew = (plain[-1] + mixed[-1]) * (1.0 - wrong)
    for g in range(n_targets):
        win[g], takes[g] = error, wrong + anew
        if demand[kind, g] == 0 or (finish[g] == 0.0 and not fits[g]):
            continue
        any_group, joker_group, share = _looks(
            kinds[g], sizes[g], jokers[g], left[g], concealed[g], kind, claimable
        )
        win[g] += ready * finish[g] * share
        if any_group == 0 or not fits[g]:
            continue
        n_open = 0
        for bit in range(4):
            n_open += (any_group >> bit) & 1
        takes[g] += (plain[any_group] + mixed[joker_group]) / n_open * (1.0 - wrong)
    for i in range(len(win) - n_targets):
        win[n_targets + i] = error
        row = n_masks + i
        takes[n_targets + i] = (plain[row] + mixed[row]) * (1.0 - wrong) + wrong
    for row in range(len(win)):
        refuses[row] = (1.0 - win[row]) * (1.0 - takes[row])


@njit(cache=True)
def fill_shown(
    masks: NDArray[np.uint8],
    fits: NDArray[np.bool_],
    probs: NDArray[np.float64],
    table: NDArray[np.float64],
    n_jokers: NDArray[np.int64],
    misplay: NDArray[np.float64],
    out: NDArray[np.float64],
) -> None:
    """Fill `out` (n_shapes,) with the chance of each group shown; see ``Claims.shown_by``."""
    n_targets, n_masks = masks.shape[1], 16
    plain, mixed = np.zeros(table.shape[0]), np.zeros(table.shape[0])
    everybody = 0.0
    for g in range(n_targets):
        everybody += probs[g]
        if masks[0, g] == 0 or not fits[g]:
            continue
        n_open = 0
        for bit in range(4):
            n_open += (masks[0, g] >> bit) & 1
        plain[masks[0, g]] += probs[g] / n_open
        mixed[masks[1, g]] += probs[g] / n_open
    plain[-1] = mixed[-1] = everybody  # on targets, looking at the tile for another plan
    for row in range(n_masks, table.shape[0] - 1):
        plain[row] = mixed[row] = probs[n_targets + row - n_masks]
        everybody += plain[row]
    right = 1.0 - misplay.sum()
    for s in range(table.shape[1]):
        mass = 0.0
        for row in range(table.shape[0]):
            mass += table[row, s] * (mixed[row] if n_jokers[s] > 0 else plain[row])
        out[s] = mass * right + everybody * misplay[s]
