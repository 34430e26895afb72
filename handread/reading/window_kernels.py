"""Compiled pass of what all seats would do with an open throw; tests hold it to the plain path.

What it calls is in ``clues.claim_kernels``: whoever edits that file clears the cache of this one.
"""

from __future__ import annotations

import math

import numpy as np
from numba import njit
from numpy.typing import NDArray

from handread.clues.claim_kernels import answer
from handread.clues.claims import N_JOKERS, SIZES
from handread.clues.context import LATE_TURN, MIDDLE_TURN
from handread.reading.finishing import Array, Bools, Counts, SeatArrays, SeatBools, SeatInts
from handread.tiles import JOKER


@njit(cache=True)
def _fill_room(
    naturals: int, jokers: int, concealed: int, claimable: int, out: NDArray[np.bool_]
) -> None:
    """Groups that there is room for, in place; plain twin: ``claims.possible_shapes``."""
    for s in range(len(out)):
        size, with_jokers = SIZES[s], N_JOKERS[s]
        out[s] = (
            (claimable >> (size - 3)) & 1 == 1
            and naturals >= size - 1 - with_jokers
            and jokers >= with_jokers
            and concealed > size - 1
        )


@njit(cache=True)
def _ready(turn: int, n_exposed: int, wins: tuple[float, float, float, float, float]) -> float:
    """Chance that a target is one tile away; plain twin: ``wins.prob_ready``."""
    x = wins[2] + wins[3] * (turn - 12) + wins[4] * n_exposed
    grown = math.exp(-abs(x))
    return (1.0 if x >= 0.0 else grown) / (1.0 + grown)


@njit(cache=True)
def answer_all(
    asked: tuple[bool, bool, bool, bool],
    kind: int,
    may_show: bool,
    unseen: tuple[Counts, Counts, Counts, Counts],
    pools: SeatInts,
    shares: SeatArrays,
    finish: SeatArrays,
    known: Counts,
    n_known: SeatInts,
    concealed: SeatInts,
    turns: SeatInts,
    n_exposed: SeatInts,
    left: SeatBools,
    fits: SeatBools,
    rates: tuple[Array, Array, float, float, float, float],
    wins: tuple[float, float, float, float, float],
    group_kind: NDArray[np.int8],
    group_size: NDArray[np.uint8],
    group_joker: Bools,
    never: Bools,
    wanting: NDArray[np.uint32],
    claimable: int,
    possible: SeatBools,
    tables: SeatArrays,
    answers: SeatArrays,
) -> tuple[float, float, float, float]:
    """Fill the last three of each seat that is `asked` in place; see ``claiming.Claims``.

    `unseen`, `pools`, `shares` and `finish` are what is expected around each seat, `known` the
    tiles known to be in each rack, shape (4, 36), and `n_known` how many they are. `rates` are
    those of ``claims.ClaimRates`` in order, `wins` the weights of wins in error, taken, ready,
    by turn and by group; `never` are the targets that show no group. Returns the chance that each
    seat shows a group in error.
    """
    willing, loose, anew, held_copies, held_jokers, misplay = rates
    error, takes = wins[0], wins[1]
    wrong = [0.0, 0.0, 0.0, 0.0]
    for seat in range(4):
        if not asked[seat]:
            continue
        copies, jokers, held = unseen[seat][kind], unseen[seat][JOKER], known[seat, JOKER]
        tiles, turn, pool = concealed[seat], turns[seat], pools[seat]
        possible[seat][:] = False
        if may_show:
            _fill_room(copies, jokers + held, tiles, claimable, possible[seat])
        unknown = min(max(tiles - held, 0), pool)
        within = shares[seat][seat, kind] * max(tiles - n_known[seat], 0)
        phase = int(turn >= MIDDLE_TURN) + int(turn >= LATE_TURN)
        wrong[seat] = answer(
            copies, jokers, pool, unknown, turn, held, within, held_copies, held_jokers,
            willing[phase], possible[seat], anew, loose, group_kind, group_size, group_joker,
            never, left[seat], fits[seat], finish[seat][seat], wanting, kind, claimable, error,
            takes * _ready(turn, n_exposed[seat], wins), misplay, tables[seat], answers[seat],
        )  # fmt: skip
    return wrong[0], wrong[1], wrong[2], wrong[3]
