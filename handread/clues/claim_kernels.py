"""Compiled kernels of claims and refusals; each has a plain twin that the tests hold it to."""

from __future__ import annotations

import numpy as np
from numba import njit
from numpy.typing import NDArray

from handread.clues.claims import N_JOKERS, N_MASKS, OPEN_TO, SIZES
from handread.clues.holding import log_factorials
from handread.tiles import MOST_COPIES
from handread.values import frozen

_N_SHAPES = len(SIZES)
_LOG_FACTORIAL = log_factorials()
#: Sizes in each set of open sizes, 1 in the empty one.
_N_OPEN = frozen(np.array([max(mask.bit_count(), 1) for mask in range(N_MASKS)]))


@njit(cache=True, error_model="numpy")
def _make_one(chances: NDArray[np.float64]) -> None:
    """Divide by the sum, in place; a loop, which compiles in no time."""
    total = 0.0
    for held in range(len(chances)):
        total += chances[held]
    for held in range(len(chances)):
        chances[held] /= total


@njit(cache=True)
def fill_copies(copies: int, pool: int, reach: int, out: NDArray[np.float64]) -> None:
    """Fill `out` (17,) with the chance of holding 0, 1, ... of `copies` tiles.

    Plain twin: ``holding.prob_copies``, which says what counts cannot be.
    """
    log_fact, rest = _LOG_FACTORIAL, pool - copies
    for held in range(len(out)):
        out[held] = 0.0
        if held > copies or held > reach or reach - held > rest:
            continue
        log_prob = (
            log_fact[copies] - log_fact[held] - log_fact[copies - held]
            + log_fact[rest] - log_fact[reach - held] - log_fact[rest - reach + held]
            - log_fact[pool] + log_fact[reach] + log_fact[pool - reach]
        )  # fmt: skip
        out[held] = np.exp(log_prob)
    _make_one(out)


@njit(cache=True)
def fill_held(
    copies: int,
    jokers: int,
    pool: int,
    unknown: int,
    turn: int,
    known: int,
    within: float,
    out: NDArray[np.float64],
) -> None:
    """Fill `out` (3, 17) with what a seat may hold; see ``claims.Holdings``.

    `copies` of the kind and `jokers` are among a `pool` of tiles, of which `unknown` are with the
    seat. It has thrown as many as it had turns, and no tile that it keeps; `within` are the copies
    expected with it, `known` the jokers that come on top.
    """
    n = out.shape[1]
    blind = copies * unknown / max(pool, 1)
    ratio = within / blind if blind > 0.0 else 1.0
    fill_copies(jokers, pool + turn, unknown + turn, out[0])
    for held in range(n):
        out[2, (held + known) % n] = out[0, held]
    fill_copies(copies, pool + turn, unknown + turn, out[0])
    fill_copies(copies, pool, unknown, out[1])
    tilt = 1.0
    for held in range(n):
        out[0, held] *= tilt
        out[1, held] *= tilt
        tilt *= ratio
    _make_one(out[0])
    _make_one(out[1])


@njit(cache=True)
def _tilt(chances: NDArray[np.float64], nats: float) -> NDArray[np.float64]:
    """Plain twin: ``claims.tilted``."""
    if nats == 0.0:
        return chances
    out = np.empty(len(chances))
    for held in range(len(chances)):
        chance = chances[held]  # mostly 0, where there is no need of the exponential
        out[held] = chance * np.exp(nats * held) if chance > 0.0 else 0.0
    _make_one(out)
    return out


@njit(cache=True)
def _fill_made(
    copies: NDArray[np.float64], jokers: NDArray[np.float64], out: NDArray[np.float64]
) -> None:
    """Chance that the tiles for each group are there; plain twin: ``claims.can_make``."""
    at_least, enough_jokers = copies.copy(), jokers.copy()
    for held in range(len(copies) - 2, -1, -1):
        at_least[held] += at_least[held + 1]
        enough_jokers[held] += enough_jokers[held + 1]
    for s in range(_N_SHAPES):
        needed = SIZES[s] - 1 - N_JOKERS[s]
        naturals = at_least[needed] if N_JOKERS[s] == 0 else copies[needed]
        out[s] = naturals * enough_jokers[N_JOKERS[s]]


@njit(cache=True)
def fill_claim_table(
    held: NDArray[np.float64],
    held_copies: float,
    held_jokers: float,
    rate: NDArray[np.float64],
    anew: float,
    loose: NDArray[np.float64],
    table: NDArray[np.float64],
) -> None:
    """Fill `table` in place; see ``claims.claim_table``.

    `held` is that of ``fill_held``, `rate` the chance that each group is taken where it can be
    made, `loose` that of each row without a plan, the last one for a plan made anew.
    """
    planned, any_plan = np.empty(_N_SHAPES), np.empty(_N_SHAPES)
    jokers = _tilt(held[2], held_jokers)
    _fill_made(_tilt(held[0], held_copies), jokers, planned)
    _fill_made(held[1], jokers, any_plan)
    for s in range(_N_SHAPES):
        for mask in range(N_MASKS):
            table[mask, s] = OPEN_TO[mask, s] * planned[s] * rate[s] * (1.0 - anew)
        for row in range(len(loose)):
            table[N_MASKS + row, s] = loose[row] * any_plan[s] * rate[s]


@njit(cache=True, inline="always")
def _looks(
    kinds: NDArray[np.int8],
    sizes: NDArray[np.uint8],
    jokers: NDArray[np.bool_],
    left: NDArray[np.bool_],
    g: int,
    kind: int,
    claimable: int,
) -> tuple[int, int, float]:
    """Sets of open sizes of target `g`, any and with jokers, and the share that it wants."""
    wanted, total = 0, 0
    plain, mixed = 0, 0
    for j in range(kinds.shape[1]):  # without branches, since nobody could foretell them
        size = sizes[g, j] * left[g, j]
        of_kind = size * (kinds[g, j] == kind)
        total += size
        wanted += of_kind
        bit = ((1 << of_kind) >> 3) & claimable
        plain |= bit
        mixed |= bit * jokers[g, j]
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
                kinds, sizes, jokers, left, g, kind, 0 if concealed[g] else claimable
            )


@njit(cache=True)
def fill_answers(
    kinds: NDArray[np.int8],
    sizes: NDArray[np.uint8],
    jokers: NDArray[np.bool_],
    concealed: NDArray[np.bool_],
    left: NDArray[np.bool_],
    fits: NDArray[np.bool_],
    finish: NDArray[np.float64],
    wanting: NDArray[np.uint32],
    kind: int,
    claimable: int,
    error: float,
    ready: float,
    table: NDArray[np.float64],
    wrong: float,
    out: NDArray[np.float64],
) -> None:
    """Fill `out` (3, n_rows) in place: chance of a win, of a group given none, of neither.

    `wanting` are the targets that have a use for the kind, all others answer alike. `error` and
    `ready` are the chances of a win called in error, and of one by a target that is certain and
    wants the kind alone; `table` is that of ``claims.claim_table``, `wrong` the chance of a group
    shown in error. Plain twin: in ``tests/oracle/test_claim_kernels.py``.
    """
    n_targets, n_rows = kinds.shape[0], out.shape[1]
    plain, mixed = np.zeros(table.shape[0]), np.zeros(table.shape[0])
    for row in range(table.shape[0]):
        without_jokers, with_jokers = 0.0, 0.0
        for s in range(_N_SHAPES):
            if N_JOKERS[s] > 0:
                with_jokers += table[row, s]
            else:
                without_jokers += table[row, s]
        plain[row], mixed[row] = without_jokers, with_jokers
    idle = wrong + (plain[-1] + mixed[-1]) * (1.0 - wrong)
    for g in range(n_rows):
        out[0, g], out[1, g], out[2, g] = error, idle, (1.0 - error) * (1.0 - idle)
    for g in wanting:
        if finish[g] == 0.0 and not fits[g]:
            continue
        any_group, joker_group, share = _looks(
            kinds, sizes, jokers, left, g, kind, 0 if concealed[g] else claimable
        )
        out[0, g] += ready * finish[g] * share
        groups = (plain[any_group] + mixed[joker_group]) / _N_OPEN[any_group] * fits[g]
        out[1, g] += groups * (1.0 - wrong)
        out[2, g] = (1.0 - out[0, g]) * (1.0 - out[1, g])
    for i in range(n_rows - n_targets):
        row = N_MASKS + i
        out[1, n_targets + i] = (plain[row] + mixed[row]) * (1.0 - wrong) + wrong
        out[2, n_targets + i] = (1.0 - error) * (1.0 - out[1, n_targets + i])


@njit(cache=True)
def answer(
    copies: int,
    jokers: int,
    pool: int,
    unknown: int,
    turn: int,
    known: int,
    within: float,
    held_copies: float,
    held_jokers: float,
    willing: NDArray[np.float64],
    possible: NDArray[np.bool_],
    anew: float,
    loose: NDArray[np.float64],
    group_kind: NDArray[np.int8],
    group_size: NDArray[np.uint8],
    group_joker: NDArray[np.bool_],
    concealed: NDArray[np.bool_],
    left: NDArray[np.bool_],
    fits: NDArray[np.bool_],
    finish: NDArray[np.float64],
    wanting: NDArray[np.uint32],
    kind: int,
    claimable: int,
    error: float,
    ready: float,
    misplay: float,
    table: NDArray[np.float64],
    out: NDArray[np.float64],
) -> float:
    """Fill `table` and `out` of one seat and one throw in place, all at once.

    The first seven are those of ``fill_held``, the next six those of ``fill_claim_table``, whose
    rate is that of the `willing`, and 0 for groups that are not `possible`; the others are those
    of ``fill_answers``. Returns the chance of a group shown in error: `misplay`, where any group
    is possible.
    """
    rate, any_possible = np.zeros(_N_SHAPES), False
    for s in range(_N_SHAPES):
        if possible[s]:
            rate[s], any_possible = willing[s], True
    wrong = misplay if any_possible else 0.0
    if any_possible:
        held = np.empty((3, MOST_COPIES + 1))
        fill_held(copies, jokers, pool, unknown, turn, known, within, held)
        fill_claim_table(held, held_copies, held_jokers, rate, anew, loose, table)
    else:
        for row in range(table.shape[0]):
            for s in range(_N_SHAPES):
                table[row, s] = 0.0
    fill_answers(
        group_kind, group_size, group_joker, concealed, left, fits, finish, wanting, kind,
        claimable, error, ready, table, wrong, out,
    )  # fmt: skip
    return wrong


@njit(cache=True)
def fill_shown(
    masks: NDArray[np.uint8],
    fits: NDArray[np.bool_],
    probs: NDArray[np.float64],
    table: NDArray[np.float64],
    misplay: NDArray[np.float64],
    out: NDArray[np.float64],
) -> None:
    """Fill `out` (n_shapes,) with the chance of each group shown; see ``Claims.shown_by``."""
    n_targets = masks.shape[1]
    plain, mixed = np.zeros(table.shape[0]), np.zeros(table.shape[0])
    everybody = 0.0
    for g in range(n_targets):
        everybody += probs[g]
        if masks[0, g] == 0 or not fits[g]:
            continue
        share = probs[g] / _N_OPEN[masks[0, g]]
        plain[masks[0, g]] += share
        mixed[masks[1, g]] += share
    plain[-1] = mixed[-1] = everybody  # on targets, looking at the tile for another plan
    for row in range(N_MASKS, table.shape[0] - 1):
        plain[row] = mixed[row] = probs[n_targets + row - N_MASKS]
        everybody += plain[row]
    right = 1.0 - misplay.sum()
    for s in range(table.shape[1]):
        mass = 0.0
        for row in range(table.shape[0]):
            mass += table[row, s] * (mixed[row] if N_JOKERS[s] > 0 else plain[row])
        out[s] = mass * right + everybody * misplay[s]
