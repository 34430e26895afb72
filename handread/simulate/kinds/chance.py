"""Chance of finishing a target in the draws left: compiled, for a player who plans by it.

The model is small. Every copy that a seat has not seen comes to it by its own draws with
probability `own`, independently of the others; a copy that is forgotten in part is there with that
probability. Jokers come by own draws alone and stand in any open group. One tile of each open
group may be another seat's throw, if a copy that does not come by drawing is thrown, with
probability `others` each; a concealed target has no such luck, and tiles of bare groups are only
taken so when they are the last one missing.
"""

from __future__ import annotations

import math
from typing import Final

import numpy as np
from numba import njit
from numpy.typing import NDArray

from handread.simulate.kernels import keep_left
from handread.simulate.playcard import Targets
from handread.tiles import FLOWER, JOKER, N_KINDS

Array = NDArray[np.float64]
Words = NDArray[np.int64]

#: Columns of the tables: copies 0 to 16 of a kind.
MOST_COPIES: Final = 17
#: Room that ``log_chance`` works in: deficits, then those of one kind.
ROOM: Final = 64
_ONE_KIND: Final = 32
#: A chance below this counts as none.
NO_CHANCE: Final = 1e-12
#: Largest probability that one copy comes.
SUREST: Final = 0.95


@njit(cache=True)
def come_rates(
    live: Array, wall: int, n_live: int, patience: float, generous: float
) -> tuple[float, float]:
    """Probability that a copy comes by own draws, and that another seat throws it.

    Parameters
    ----------
    live
        Copies of each kind not seen, shape (36,).
    wall
        Tiles in the wall.
    n_live
        Seats that still play, 1 at least.
    patience
        Share of its draws that a seat counts on before another seat wins.
    generous
        Share of what the others draw that they throw when it could be taken.
    """
    unseen = 0.0
    for k in range(N_KINDS):
        unseen += live[k]
    draws = patience * wall / n_live / max(unseen, 1.0)
    return min(draws, SUREST), min(generous * (n_live - 1) * draws, SUREST)


@njit(cache=True)
def chance_tables(
    live: Array, own: float, others: float, came: Array, luck: Array, tail: Array
) -> None:  # fmt: skip
    """Fill the tables that the chance of every target is made of.

    Parameters
    ----------
    live
        Copies of each kind that may come, shape (36,); a fraction is a copy that may be there.
    own, others
        As of ``come_rates``.
    came
        Written: probability that i copies of a kind are drawn, shape (36, MOST_COPIES).
    luck
        Written: probability that a copy is thrown by others when i were drawn, same shape.
    tail
        Written: probability that so many jokers come or more, shape (MOST_COPIES,).
    """
    for k in range(N_KINDS):
        for i in range(MOST_COPIES):
            came[k, i] = 0.0
            luck[k, i] = 0.0
        there = min(live[k], MOST_COPIES - 1.0)
        whole = int(math.floor(there))
        part = there - whole
        for more in range(2):
            weight = part if more == 1 else 1.0 - part
            if weight <= 0.0:
                continue
            n = whole + more
            p = weight
            for _ in range(n):
                p *= 1.0 - own
            for i in range(n + 1):
                came[k, i] += p
                p *= own / (1.0 - own) * (n - i) / (i + 1)
        none = 1.0 - part * others
        for i in range(whole, -1, -1):
            luck[k, i] = 1.0 - none
            none *= 1.0 - others
    above = 1.0
    for i in range(MOST_COPIES):
        tail[i] = max(above, 0.0)
        above -= came[JOKER, i]
        if above < NO_CHANCE:
            above = 0.0


@njit(cache=True)
def log_chance(
    n_slots: int, slot_kind: NDArray[np.int8], need: NDArray[np.int8], rack: Words,
    concealed: bool, came: Array, luck: Array, tail: Array, room: Array,
) -> float:  # fmt: skip
    """Logarithm of the chance of finishing one target, nats; ``-inf`` for none.

    Parameters
    ----------
    n_slots, slot_kind
        Kinds that the target wants, those first.
    need
        Copies of each that its groups left want bare and open, shape (n_slots, 2).
    rack
        Concealed tiles, shape (36,).
    concealed
        Whether the target forbids exposures.
    came, luck, tail
        As ``chance_tables`` fills them.
    room
        Room to work in, shape (ROOM,).
    """
    jokers = rack[JOKER]
    n_bare, n_open = 0, 0
    for s in range(n_slots):
        wanted = need[s, 0] + need[s, 1] - rack[slot_kind[s]]
        if wanted > 0:
            bare = max(need[s, 0] - rack[slot_kind[s]], 0)
            n_bare += bare
            n_open += wanted - bare
    last = n_bare + max(n_open - jokers, 0) == 1
    cap = jokers
    while cap - jokers + 1 < MOST_COPIES and tail[cap - jokers + 1] > 0.0:
        cap += 1
    cap = min(cap, n_open)
    for e in range(cap + 1):
        room[e] = 0.0
    room[0] = 1.0
    chance, filled = 1.0, 0
    for s in range(n_slots):
        k = slot_kind[s]
        wanted = need[s, 0] + need[s, 1] - rack[k]
        if wanted <= 0:
            continue
        bare = max(need[s, 0] - rack[k], 0)
        opened = wanted - bare
        below = 0.0
        for i in range(bare):
            below += came[k, i]
        if bare > 0:
            chance *= 1.0 - below * (1.0 - luck[k, 0]) if last else max(1.0 - below, 0.0)
        if opened == 0:
            continue
        # odds of lacking e tiles by own draws, then with the one that others may throw
        rest = 1.0 - below
        for e in range(opened, 0, -1):
            i = bare + opened - e
            odds = came[k, i] + (below if e == opened else 0.0)
            rest -= came[k, i]
            taken = odds * luck[k, i] if last or not concealed else 0.0
            room[_ONE_KIND + e] = (room[_ONE_KIND + e] if e < opened else 0.0) + odds - taken
            room[_ONE_KIND + e - 1] = taken
        room[_ONE_KIND] += max(rest, 0.0)
        filled = min(filled + opened, cap)
        for lacking in range(filled, -1, -1):
            found = 0.0
            for e in range(min(opened, lacking) + 1):
                found += room[_ONE_KIND + e] * room[lacking - e]
            room[lacking] = found
    total = 0.0
    for lacking in range(cap + 1):
        total += room[lacking] * tail[max(lacking - jokers, 0)]
    chance *= total
    return math.log(chance) if chance > NO_CHANCE else -np.inf


@njit(cache=True)
def log_chances(
    targets: Targets, which: Words, rack: Words, shown: Words, came: Array, luck: Array,
    tail: Array,
) -> Array:  # fmt: skip
    """``log_chance`` of some targets, in the order of `which`, from a rack and exposures."""
    kind, size, joker, again, n_groups, concealed, _, _ = targets
    fits, left = keep_left(targets, shown)
    found = np.full(len(which), -np.inf)
    slot_kind = np.zeros(kind.shape[1], dtype=np.int8)
    need = np.zeros((kind.shape[1], 2), dtype=np.int8)
    room = np.zeros(ROOM)
    for at in range(len(which)):
        g = which[at]
        if not fits[g]:
            continue
        n = 0
        for j in range(n_groups[g]):
            s = n
            for before in range(n):
                if again[g, j] and slot_kind[before] == kind[g, j]:
                    s = before
            if s == n:
                slot_kind[n] = kind[g, j]
                need[n, 0] = 0
                need[n, 1] = 0
                n += 1
            if left[g, j]:
                need[s, 1 if joker[g, j] else 0] += size[g, j]
        found[at] = log_chance(n, slot_kind, need, rack, concealed[g], came, luck, tail, room)
    return found


@njit(cache=True)
def bound_chances(
    live: Array, own: float, others: float, jokers: int, tail: Array, bound: Array
) -> float:  # fmt: skip
    """Most that the logarithm of a chance can be, by the tiles missing bare and open alone.

    Each missing tile comes at best as the first copy of the kind with most copies left would:
    n copies or more come with at most the n-th power of that probability, so that the tiles that
    come are, in distribution, no more than as many independent ones of it.

    Parameters
    ----------
    live, own, others, tail
        As of ``chance_tables``.
    jokers
        Jokers held.
    bound
        Written: the bound by 16 x bare + open, nats, shape (256,), flowers counted as if they
        were as scarce as the rest.

    Returns
    -------
    float
        What each flower that a target wants may add to the bound, nats.
    """
    most = 1.0
    for k in range(FLOWER):
        most = max(most, math.ceil(live[k]))
    flowers = max(math.ceil(live[FLOWER]), 1.0)
    of_bare = 1.0 - math.exp(most * math.log(1.0 - own)) + 1e-9
    of_open = 1.0 - math.exp(most * math.log((1.0 - own) * (1.0 - others))) + 1e-9
    by_flower = math.log(1.0 - math.exp(flowers * math.log(1.0 - own)) + 1e-9) - math.log(of_bare)
    by_open = math.log(1.0 - math.exp(flowers * math.log((1.0 - own) * (1.0 - others))) + 1e-9)
    for opened in range(16):
        # p: probability that so many of the open ones do not come
        p, total = 1.0, 0.0
        for _ in range(opened):
            p *= of_open
        for lacking in range(opened + 1):
            if lacking - jokers < MOST_COPIES:
                total += p * tail[max(lacking - jokers, 0)]
            p *= (1.0 - of_open) / of_open * (opened - lacking) / (lacking + 1)
        log_open = math.log(max(total, 1e-300)) + 1e-6
        for bare in range(16):
            last = bare == 1 and opened <= jokers
            each = math.log(of_open if last else of_bare)
            bound[16 * bare + opened] = bare * each + log_open
    return max(by_flower, by_open - math.log(of_open), 0.0)
