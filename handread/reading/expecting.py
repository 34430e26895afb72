"""Compiled pass of who holds what, and its parts, held to a plain twin by tests.

What asks which targets can be finished is in ``finishing``. A function cached on disk does not
notice that one which it calls was edited elsewhere: whoever edits that file clears the cache of
this one, or touches it.
"""

from __future__ import annotations

import numpy as np
from numba import njit

from handread.reading.finishing import (
    Array,
    Counts,
    SeatArrays,
    SeatBools,
    SeatBytes,
    SeatInts,
    alike,
    fill_outlook,
    fill_tails,
    list_targets,
    most_of,
)
from handread.tiles import JOKER, N_KINDS

#: Sweeps of what can be finished and who keeps what; the share of the old odds in the later ones.
_SWEEPS = 2
_DAMPING = 0.5
#: Tiles of one kind that a target may need at most.
_MOST_NEEDED = 14
#: Rounds of matrix scaling at most, and how far from 1 the last factors may be.
_MOST_ROUNDS = 200
_CLOSE = 1e-10


@njit(cache=True)
def scale_matrix(odds: Array, columns: Array | Counts, rows: Array) -> Array:
    """Matrix proportional to `odds` by rows and columns with the sums given.

    Iterative proportional fitting, kept as one factor a row and one a column; columns are fitted
    last and hold exactly. A column that has come to 0 stays there.
    """
    n, m = odds.shape
    by_row, by_column = np.ones(n), np.ones(m)
    for j in range(m):
        by_column[j] = 1.0 if columns[j] > 0 else 0.0
    for _ in range(_MOST_ROUNDS):
        for i in range(n):
            total = 0.0
            for j in range(m):
                total += odds[i, j] * by_column[j]
            by_row[i] = rows[i] / total if total > 0 else 0.0
        worst = 0.0
        for j in range(m):
            if columns[j] <= 0:
                continue
            total = 0.0
            for i in range(n):
                total += odds[i, j] * by_row[i]
            fresh = columns[j] / total if total > 0 and by_column[j] > 0 else 0.0
            factor = fresh / by_column[j] if by_column[j] > 0 else 0.0
            worst = max(worst, abs(factor - 1.0))
            by_column[j] = fresh
        if worst < _CLOSE:
            break
    out = np.empty((n, m))
    for i in range(n):
        for j in range(m):
            out[i, j] = by_row[i] * odds[i, j] * by_column[j]
    return out


@njit(cache=True)
def share_out(
    needs: Array,
    keeping: Array,
    there: Array,
    unseen: Counts,
    sizes: Array,
    damping: float,
    odds: Array,
    holds: Array,
    hoarded: Array,
) -> None:
    """Fill `odds` (4, 36), `holds` (5, 36) and `hoarded` (4, 36) in place, from what is needed.

    The odds go from the old ones, to the share `damping`, to those that `needs` and `keeping`
    give; see ``holdings.surroundings``. `hoarded` are the copies that seats other than each one
    hold because they need them.
    """
    n, m = needs.shape
    full = np.ones((n + 1, m))
    for i in range(n):
        for k in range(m):
            fresh = keeping[i] if k == JOKER else 1.0 + needs[i, k] * (keeping[i] - 1.0)
            odds[i, k] = damping * odds[i, k] + (1.0 - damping) * fresh
            full[i, k] = odds[i, k] * there[i, k]
    scaled = scale_matrix(full, unseen, sizes)
    for k in range(m):
        holds[n, k] = scaled[n, k]
        total = 0.0
        for i in range(n):
            holds[i, k] = scaled[i, k]
            by_need = needs[i, k] * odds[i, k]
            by_need /= max(1.0 + needs[i, k] * (odds[i, k] - 1.0), 1e-9)
            hoarded[i, k] = holds[i, k] * min(by_need, 1.0)
            total += hoarded[i, k]
        for i in range(n):
            hoarded[i, k] = total - hoarded[i, k]


@njit(cache=True)
def fill_reach(holds: Array, odds: Array, unseen: Counts, out: Array) -> None:
    """Share of each kind among the tiles that each seat may have, in place, shape (4, 36).

    Whatever its own plan; see ``around.Surroundings``. Rows add up to 1, or to 0 where no tile is
    unseen.
    """
    for seat in range(len(out)):
        reached, pool = 0.0, 0.0
        for k in range(len(unseen)):
            held = holds[seat, k]
            bare = held if k == JOKER else held / odds[seat, k]
            share = bare / max(unseen[k] - held + bare, 1e-12)
            out[seat, k] = unseen[k] * share if unseen[k] > 0 else 0.0
            reached += out[seat, k]
            pool += unseen[k]
        for k in range(len(unseen)):
            if reached > 0.0:
                out[seat, k] /= reached
            else:  # every tile is shown: what has just been drawn may be any tile unseen
                out[seat, k] = unseen[k] / pool if pool > 0.0 else 0.0


@njit(cache=True)
def fill_there(
    given: Counts, stays: Array, needs: Array, unseen: Counts, chance: Array, out: Array
) -> None:
    """Odds of each seat for copies of each kind, by what the viewer passed on, in place.

    `given` are seat and kind of each tile passed on, shape (n, 2), `stays` the chance that it is
    there still with a seat that does not need it, `chance` that of any tile unseen to be with
    each seat. `out`, shape (4, 36), is 1 where nothing was passed on.
    """
    out[:] = 1.0
    there = np.zeros(out.shape)
    for i in range(len(given)):
        seat, k = given[i, 0], given[i, 1]
        need = needs[seat, k]
        there[seat, k] += max(need + (1.0 - need) * stays[i] - chance[seat], 0.0)
    for i in range(len(given)):
        seat, k = given[i, 0], given[i, 1]
        if there[seat, k] > 0.0 and unseen[k] >= 1 and 0.0 < chance[seat] < 1.0:
            share = min(chance[seat] + there[seat, k] / unseen[k], 1.0 - 1e-6)
            out[seat, k] = share / (1.0 - share) * (1.0 - chance[seat]) / chance[seat]


@njit(cache=True)
def _margins(
    copies: Counts, redeemed: int, racks: SeatInts, unseen: Counts, sizes: Array, chance: Array
) -> int:
    """Copies unseen (36,), unknown tiles of each seat and the wall (5,), in place.

    And the chance of any tile unseen to be with each seat, (4,). Returns the tiles of the pool.
    """
    pool = 0
    for k in range(N_KINDS):
        unseen[k] = max(copies[k] - (redeemed if k == JOKER else 0), 0)
        pool += unseen[k]
    sizes[4] = pool
    for seat in range(4):
        sizes[seat] = max(racks[seat], 0)
        sizes[4] = sizes[4] - sizes[seat]
        chance[seat] = sizes[seat] / max(pool, 1)
    sizes[4] = max(sizes[4], 0.0)
    return pool


@njit(cache=True)
def _keeping(chance: Array, sizes: Array, turns: SeatInts, pool: int) -> Array:
    """Odds of each seat for copies of a kind that it keeps: all that came its way are there."""
    keeping = np.ones(4)
    for seat in range(4):
        if sizes[seat] > 0:
            kept = (sizes[seat] + turns[seat]) / (pool + turns[seat] + 1e-9)
            keeping[seat] = kept / max(chance[seat], 1e-9)
    return keeping


@njit(cache=True)
def _mends(tiles: SeatInts, wall: int, pool: int, jokers: Counts) -> Array:
    """Chance of each seat to get at least m jokers, each by chance, shape (4, m + 1)."""
    reach, mends = np.empty(4), np.empty((4, _MOST_NEEDED + 1))
    for seat in range(4):
        reach[seat] = min((tiles[seat] + wall / 4) / max(pool, 1), 1.0)
    fill_tails(jokers, reach, mends)
    return mends


@njit(cache=True)
def _enough(unseen: Counts, hoarded: Array) -> Array:
    """Chance that each kind is left with at least m naturals for each seat, (36, 4, m + 1).

    Of the copies unseen, those that others keep are lost, each by chance.
    """
    most = min(most_of(unseen), _MOST_NEEDED)
    trials, kept = np.empty(4 * N_KINDS, dtype=np.int64), np.empty(4 * N_KINDS)
    for k in range(N_KINDS):
        for seat in range(4):
            trials[4 * k + seat] = unseen[k]
            kept[4 * k + seat] = 1.0 - min(hoarded[seat, k] / max(unseen[k], 1), 0.95)
    enough = np.empty((4 * N_KINDS, most + 1))
    fill_tails(trials, kept, enough)
    return enough.reshape((N_KINDS, 4, most + 1))


@njit(cache=True)
def expect(
    kinds: SeatBytes,
    bare_kinds: SeatBytes,
    bare: SeatBytes,
    open_kinds: SeatBytes,
    open_sizes: SeatBytes,
    fits: SeatBools,
    probs: SeatArrays,
    copies: Counts,
    redeemed: int,
    racks: SeatInts,
    known: Counts,
    tiles: SeatInts,
    turns: SeatInts,
    wall: int,
    given: Counts,
    stays: Array,
) -> tuple[Counts, Array, Array, Array, Array, Array, int]:
    """Expect who holds what, in one pass; see ``holdings.surroundings``.

    The first five are those of ``clues.wants.Wants``, the next two those of each belief. `copies`
    are those that the viewer has not seen, jokers `redeemed` by others among them; `racks` the
    unknown tiles of each seat; `known` the tiles known to be in each rack, shape (4, 36); `tiles`
    all that are concealed there; `given` and `stays` those of ``fill_there``. Returns the arrays
    of ``around.Surroundings`` in its order, and the tiles of the pool.
    """
    unseen, sizes, chance = np.empty(N_KINDS, dtype=np.int64), np.empty(5), np.empty(4)
    pool = _margins(copies, redeemed, racks, unseen, sizes, chance)
    keeping = _keeping(chance, sizes, turns, pool)
    jokers = np.empty(4, dtype=np.int64)
    for seat in range(4):
        jokers[seat] = unseen[JOKER] + known[seat, JOKER]
    mends, most = _mends(tiles, wall, pool, jokers), min(most_of(jokers), _MOST_NEEDED)
    n_targets = len(fits[0])
    listed = np.empty((4, n_targets), dtype=np.uint32)
    short, n_listed = np.empty((4, n_targets), dtype=np.uint8), np.zeros(4, dtype=np.int64)
    seats, n_seats = alike(kinds, fits)
    for seat in range(4):
        if n_seats[seat]:
            n_listed[seat] = list_targets(
                bare_kinds[seat], bare[seat], open_kinds[seat], open_sizes[seat], fits[seat],
                unseen, most, listed[seat], short[seat],
            )  # fmt: skip
    finish, needs = np.zeros((4, n_targets)), np.zeros((4, N_KINDS))
    there, odds = np.ones((4, N_KINDS)), np.ones((4, N_KINDS))
    holds, hoarded = np.empty((5, N_KINDS)), np.zeros((4, N_KINDS))
    enough = np.empty((0, 4, 1))
    for sweep in range(_SWEEPS):
        if sweep:
            enough = _enough(unseen, hoarded)
        for seat in range(4):
            if n_seats[seat]:
                n = n_listed[seat]
                fill_outlook(
                    seats[seat, : n_seats[seat]], kinds[seat], bare_kinds[seat], bare[seat], probs,
                    listed[seat, :n], short[seat, :n], mends, enough, finish, needs,
                )  # fmt: skip
        fill_there(given, stays, needs, unseen, chance, there)
        damping = _DAMPING if sweep else 0.0
        share_out(needs, keeping, there, unseen, sizes, damping, odds, holds, hoarded)
    reach = np.empty((4, N_KINDS))
    fill_reach(holds, odds, unseen, reach)
    return unseen, holds, odds, needs, finish, reach, pool
