"""Compiled kernels: how far a rack is from every target, and what each tile is worth to it.

All of them are plain loops over arrays; ``kernel.py_func`` is the same function uncompiled. Each
walks over all targets at once, since a compiled call for every target would cost more than its
work.
`shown` holds the groups that a seat has exposed, one row (kind, size, jokers) each, those with
jokers first; `live` holds how many copies of each kind may still come to the seat. A group of a
target is *bare* when no joker may stand in it (singles, pairs, blocks) and *open* otherwise.
"""

from __future__ import annotations

from typing import Any, Final

import numpy as np
from numba import njit
from numpy.typing import NDArray

from handread.simulate.playcard import Targets
from handread.tiles import JOKER, N_KINDS

#: Distance of a target that the seat's own exposures rule out.
FAR: Final = 99
#: Live copies of a kind at which a missing tile costs one.
USUAL: Final = 3.0
#: Where a natural stands in a target.
NOWHERE: Final = 0
BARE: Final = 1
OPEN: Final = 2
#: Most tiles of one kind that a target can lack.
MOST_ASKED: Final = 16
#: Live jokers that help as much as one live natural.
JOKERS_PER_NATURAL: Final = 5.0


@njit(cache=True)
def keep_left(
    targets: Targets, shown: NDArray[np.int64]
) -> tuple[NDArray[np.bool_], NDArray[np.bool_]]:  # fmt: skip
    """Which targets allow the groups shown, and which groups they leave to be made.

    Parameters
    ----------
    targets
        The card's arrays.
    shown
        Own exposures, shape (n_shown, 3).

    Returns
    -------
    fits
        Shape (n_targets,).
    left
        Shape (n_targets, n_groups); False throughout where a target does not fit.
    """
    kind, size, joker, _, n_groups, concealed, _, _ = targets
    n, width = kind.shape
    fits = np.ones(n, dtype=np.bool_)
    left = np.zeros((n, width), dtype=np.bool_)
    for g in range(n):
        for j in range(n_groups[g]):
            left[g, j] = True
        for s in range(shown.shape[0]):
            found = False
            for j in range(n_groups[g]):
                if (
                    left[g, j]
                    and kind[g, j] == shown[s, 0]
                    and size[g, j] == shown[s, 1]
                    and (shown[s, 2] == 0 or joker[g, j])
                ):
                    left[g, j] = False
                    found = True
                    break
            if concealed[g] or not found:
                fits[g] = False
                break
        if not fits[g]:
            for j in range(width):
                left[g, j] = False
    return fits, left


@njit(cache=True)
def take_naturals(
    targets: Targets, rack: NDArray[np.uint8], left: NDArray[np.bool_]
) -> tuple[NDArray[np.int64], NDArray[np.bool_]]:  # fmt: skip
    """Put naturals of a rack into the groups left of every target, bare groups first.

    Parameters
    ----------
    targets
        The card's arrays.
    rack
        Concealed tiles, shape (36,).
    left
        Groups to be made, as ``keep_left`` returns them.

    Returns
    -------
    missing
        Tiles that each group lacks, shape (n_targets, n_groups); 0 for groups not left.
    over
        Whether the rack holds more of the group's kind than all groups left take, same shape.
    """
    kind, size, _, again, n_groups, _, _, _ = targets
    n, width = kind.shape
    missing = np.zeros((n, width), dtype=np.int64)
    over = np.zeros((n, width), dtype=np.bool_)
    rest = np.zeros(N_KINDS, dtype=np.int64)
    for g in range(n):
        for j in range(n_groups[g]):
            k = kind[g, j]
            held = rest[k] if again[g, j] else np.int64(rack[k])
            if left[g, j]:
                wanted = np.int64(size[g, j])
                have = held if held < wanted else wanted
                held -= have
                missing[g, j] = wanted - have
            rest[k] = held
        for j in range(n_groups[g]):
            over[g, j] = rest[kind[g, j]] > 0
    return missing, over


@njit(cache=True)
def shortfall(
    targets: Targets, rack: NDArray[np.uint8], shown: NDArray[np.int64]
) -> NDArray[np.int64]:  # fmt: skip
    """Tiles that a seat is short of each target, jokers used as well as they can be.

    Parameters
    ----------
    targets
        The card's arrays.
    rack
        Concealed tiles, shape (36,).
    shown
        Own exposures, shape (n_shown, 3).

    Returns
    -------
    NDArray
        Shape (n_targets,); 0 for a complete hand, FAR where the exposures do not fit.
    """
    _, _, joker, _, n_groups, _, _, _ = targets
    fits, left = keep_left(targets, shown)
    missing, _ = take_naturals(targets, rack, left)
    jokers = np.int64(rack[JOKER])
    short = np.full(len(fits), FAR, dtype=np.int64)
    for g in range(len(fits)):
        if not fits[g]:
            continue
        bare = np.int64(0)
        opened = np.int64(0)
        for j in range(n_groups[g]):
            if joker[g, j]:
                opened += missing[g, j]
            else:
                bare += missing[g, j]
        short[g] = bare + (opened - jokers if opened > jokers else np.int64(0))
    return short


@njit(cache=True)
def tile_costs(live: NDArray[np.float64]) -> tuple[Any, Any, Any]:
    """Cost of the first, second ... missing tile of each kind, and whether none is left for it.

    Parameters
    ----------
    live
        Copies of each kind that may still come, shape (36,).

    Returns
    -------
    bare, opened
        Cost in a bare and in an open group, shape (36, MOST_ASKED).
    dry
        1 where so many copies are not left, same shape.
    """
    bare = np.zeros((N_KINDS, MOST_ASKED))
    opened = np.zeros((N_KINDS, MOST_ASKED))
    dry = np.zeros((N_KINDS, MOST_ASKED), dtype=np.int64)
    by_joker = live[JOKER] / (USUAL * JOKERS_PER_NATURAL) + 0.05
    for k in range(N_KINDS):
        for i in range(MOST_ASKED):
            there = live[k] - i
            bare[k, i] = USUAL / max(there, 0.25)
            opened[k, i] = 1.0 / (max(there, 0.0) / USUAL + by_joker)
            dry[k, i] = 1 if there < 0.5 else 0
    return bare, opened, dry


@njit(cache=True)
def measure(
    targets: Targets, rack: NDArray[np.uint8], shown: NDArray[np.int64],
    live: NDArray[np.float64],
) -> tuple[Any, Any, Any, Any, Any, Any]:  # fmt: skip
    """Everything about the way from a rack to each target.

    Parameters
    ----------
    targets, rack, shown
        As for ``shortfall``.
    live
        Copies of each kind that may still come, as the seat believes, shape (36,).

    Returns
    -------
    short
        As ``shortfall``.
    bare
        Missing tiles for which no joker can stand.
    cost_bare, cost_open
        Difficulty of what is missing, in tiles of USUAL availability; jokers in the rack
        are taken off the open part at its mean cost.
    thirst
        Jokers without which the target cannot be made, beyond those in the rack.
    blocked
        Whether too few copies are left, or the exposures do not fit.

    All of shape (n_targets,).
    """
    kind, _, joker, again, n_groups, _, _, _ = targets
    fits, left = keep_left(targets, shown)
    missing, _ = take_naturals(targets, rack, left)
    n = len(fits)
    short = np.full(n, FAR, dtype=np.int64)
    bare = np.zeros(n, dtype=np.int64)
    cost_bare = np.zeros(n)
    cost_open = np.zeros(n)
    thirst = np.zeros(n, dtype=np.int64)
    blocked = ~fits
    asked = np.zeros(N_KINDS, dtype=np.int64)
    jokers = np.int64(rack[JOKER])
    dear_bare, dear_open, dry = tile_costs(live)
    for g in range(n):
        if not fits[g]:
            continue
        n_bare, n_open, n_dry, n_gone = 0, 0, 0, 0
        sum_bare, sum_open = 0.0, 0.0
        for j in range(n_groups[g]):
            k = kind[g, j]
            first = asked[k] if again[g, j] else 0
            asked[k] = first + missing[g, j]
            for i in range(first, asked[k]):
                if joker[g, j]:
                    n_open += 1
                    n_dry += dry[k, i]
                    sum_open += dear_open[k, i]
                else:
                    n_bare += 1
                    n_gone += dry[k, i]
                    sum_bare += dear_bare[k, i]
        lacking = n_open - jokers if n_open > jokers else 0
        thirst[g] = n_dry - jokers if n_dry > jokers else 0
        blocked[g] = n_gone > 0 or thirst[g] > live[JOKER] + 0.5
        bare[g], short[g] = n_bare, n_bare + lacking
        cost_bare[g] = sum_bare
        cost_open[g] = sum_open * lacking / n_open if n_open > 0 else 0.0
    return short, bare, cost_bare, cost_open, thirst, blocked


@njit(cache=True)
def last_places(
    targets: Targets, left: NDArray[np.bool_], missing: NDArray[np.int64]
) -> NDArray[np.int8]:  # fmt: skip
    """Where the last natural of each kind stands: NOWHERE, in a BARE group or an OPEN one.

    Told at the first group of the kind in each target, shape (n_targets, n_groups).
    """
    kind, size, joker, again, n_groups, _, _, _ = targets
    stands = np.zeros(left.shape, dtype=np.int8)
    first = np.zeros(N_KINDS, dtype=np.int64)
    for g in range(len(left)):
        for j in range(n_groups[g]):
            if not again[g, j]:
                first[kind[g, j]] = j
            if left[g, j] and missing[g, j] < size[g, j]:
                stands[g, first[kind[g, j]]] = OPEN if joker[g, j] else BARE
    return stands


@njit(cache=True)
def tile_use(
    targets: Targets, weights: NDArray[np.float64], rack: NDArray[np.uint8],
    shown: NDArray[np.int64], bare_weight: float,
) -> tuple[Any, float]:  # fmt: skip
    """What one copy of each kind in a rack is worth to a weighted set of targets.

    Parameters
    ----------
    targets
        The card's arrays.
    weights
        Weight of each target, summing to at most 1.
    rack, shown
        As for ``shortfall``.
    bare_weight
        What a tile of a bare group counts, a tile of an open group counting 1.

    Returns
    -------
    use
        Weighted loss if one copy is given away, shape (36,); 0 where none is held.
    spare
        Expected number of tiles in the rack, jokers aside, that no target wants.
    """
    kind, size, joker, again, n_groups, _, _, _ = targets
    fits, left = keep_left(targets, shown)
    missing, over = take_naturals(targets, rack, left)
    stands = last_places(targets, left, missing)
    use = np.zeros(N_KINDS)
    jokers = np.int64(rack[JOKER])
    spare = rack[:JOKER].sum() * 1.0
    for g in range(len(fits)):
        weight = weights[g]
        if weight <= 0.0 or not fits[g]:
            continue
        opened = np.int64(0)
        for j in range(n_groups[g]):
            if left[g, j]:
                spare -= weight * (size[g, j] - missing[g, j])
                opened += missing[g, j] * joker[g, j]
        for j in range(n_groups[g]):
            if again[g, j] or over[g, j]:
                continue  # of a kind of which some are over, one more or less is nothing
            if stands[g, j] == BARE:
                use[kind[g, j]] += weight * bare_weight
            elif stands[g, j] == OPEN and opened >= jokers:
                use[kind[g, j]] += weight
        if 0 < jokers <= opened:
            use[JOKER] += weight
    return use, spare


@njit(cache=True)
def group_mass(
    targets: Targets, weights: NDArray[np.float64], shown: NDArray[np.int64], claimed: int
) -> NDArray[np.float64]:  # fmt: skip
    """Weight of the targets that could show `claimed` in a group of each size, shape (7,)."""
    kind, size, _, _, n_groups, concealed, _, _ = targets
    _, left = keep_left(targets, shown)
    mass = np.zeros(7)
    for g in range(len(weights)):
        if weights[g] <= 0.0 or concealed[g]:
            continue
        for wanted in range(1, 7):
            for j in range(n_groups[g]):
                if left[g, j] and kind[g, j] == claimed and size[g, j] == wanted:
                    mass[wanted] += weights[g]
                    break
    return mass


@njit(cache=True)
def wanted_by(
    targets: Targets, shown: NDArray[np.int64], free: NDArray[np.int64]
) -> tuple[Any, int]:  # fmt: skip
    """What a seat may still want, as far as its exposures and the copies left say.

    Parameters
    ----------
    targets
        The card's arrays.
    shown
        The seat's exposures.
    free
        Copies of each kind that may be in its rack or still come to it, shape (36,).

    Returns
    -------
    wanted
        Share of the targets still possible that have a group left of each kind, shape (36,).
    n_possible
        How many targets are possible; 0 proves the hand dead if `free` is what all can see.
    """
    kind, size, joker, again, n_groups, _, _, _ = targets
    fits, left = keep_left(targets, shown)
    wanted = np.zeros(N_KINDS)
    need = np.zeros(N_KINDS, dtype=np.int64)
    n_possible = 0
    for g in range(len(fits)):
        if not fits[g]:
            continue
        possible = True
        lacking = np.int64(0)  # jokers without which the groups cannot be made
        for j in range(n_groups[g]):
            k = kind[g, j]
            if not again[g, j]:
                need[k] = 0
            if left[g, j]:
                need[k] += size[g, j]
                over = need[k] - free[k]
                if over > 0:
                    possible = possible and joker[g, j]
                    lacking += over if over < size[g, j] else np.int64(size[g, j])
        if not possible or lacking > free[JOKER]:
            continue
        n_possible += 1
        for j in range(n_groups[g]):
            k = kind[g, j]
            if need[k] > 0:
                wanted[k] += 1.0
                need[k] = 0  # a kind counts once
    if n_possible > 0:
        wanted /= n_possible
    return wanted, n_possible
