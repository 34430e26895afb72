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
from handread.tiles import JOKER, N_KINDS

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
    live: Array, own: float, others: float, came: Array, luck: Array, tail: Array, odds: Array
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
    odds
        Room to work in, shape (MOST_COPIES, MOST_COPIES).
    """
    most = 1.0
    for k in range(N_KINDS):
        most = max(most, live[k])
    # odds[n, i]: that i of n copies are drawn; tail[n], for now: that none of n is thrown
    for i in range(MOST_COPIES):
        odds[0, i] = 1.0 if i == 0 else 0.0
    tail[0] = 1.0
    for n in range(1, min(math.ceil(most), MOST_COPIES - 1) + 1):
        odds[n, 0] = odds[n - 1, 0] * (1.0 - own)
        for i in range(1, MOST_COPIES):
            odds[n, i] = odds[n - 1, i] * (1.0 - own) + odds[n - 1, i - 1] * own
        tail[n] = tail[n - 1] * (1.0 - others)
    for k in range(N_KINDS):
        there = min(live[k], MOST_COPIES - 1.0)
        whole = math.floor(there)
        part = there - whole
        above = whole + 1 if part > 0.0 else whole
        for i in range(MOST_COPIES):
            came[k, i] = (1.0 - part) * odds[whole, i] + part * odds[above, i]
            luck[k, i] = 0.0
        for i in range(whole + 1):
            luck[k, i] = 1.0 - tail[whole - i] * (1.0 - part * others)
    more = 1.0
    for i in range(MOST_COPIES):
        tail[i] = more
        more -= came[JOKER, i]
        if more < NO_CHANCE:
            more = 0.0


@njit(cache=True)
def log_chance(
    n_slots: int, slot_kind: NDArray[np.int8], need: NDArray[np.int8], rack: Words,
    concealed: bool, came: Array, luck: Array, tail: Array, room: Array,
    least: float,
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
    least
        A chance that is no larger may be told as none, 0 to 1.
    """
    jokers = rack[JOKER]
    n_bare, n_open = 0, 0
    for s in range(n_slots):
        k = slot_kind[s]
        bare = max(need[s, 0] - rack[k], 0)
        n_bare += bare
        n_open += max(need[s, 0] + need[s, 1] - rack[k], 0) - bare
    last = n_bare + max(n_open - jokers, 0) == 1
    lucky = 1.0 if last or not concealed else 0.0
    room[0] = 1.0  # odds of lacking so many open tiles, up to `filled`
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
        if bare > 0 and (last or opened == 0):
            chance *= 1.0 - below * (1.0 - luck[k, 0]) if last else max(1.0 - below, 0.0)
            if chance <= least:
                return -np.inf
        if opened == 0:
            continue
        # odds of lacking e of this kind by own draws, then with the one that others may throw
        # (none of that counts if too few come for the bare groups of the kind)
        rest, few, taken = 1.0 - below, below if last else 0.0, 0.0
        for e in range(opened, 0, -1):
            i = bare + opened - e
            odds = came[k, i] + few
            rest -= came[k, i]
            few = 0.0
            luckless = odds * (1.0 - lucky * luck[k, i])
            room[_ONE_KIND + e] = taken + luckless
            taken = odds - luckless
        room[_ONE_KIND] = max(rest, 0.0) + taken
        for lacking in range(filled + opened, -1, -1):
            found = 0.0
            for e in range(max(lacking - filled, 0), min(opened, lacking) + 1):
                found += room[_ONE_KIND + e] * room[lacking - e]
            room[lacking] = found
        filled += opened
    total = 0.0
    for lacking in range(filled + 1):
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
        found[at] = log_chance(n, slot_kind, need, rack, concealed[g], came, luck, tail, room, 0.0)
    return found
