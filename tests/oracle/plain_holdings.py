"""Who holds what in plain loops and sums over whole matrices: what the compiled pass is held to.

Works from the groups of the card and those that each seat has left, one target at a time, and
calls none of the kernels of ``handread.reading.expecting`` and ``finishing``.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from handread.card.compiled import CompiledCard
from handread.clues.holding import binomial_tails
from handread.reading import Belief, Model
from handread.table import TableState
from handread.table.own import OwnRack
from handread.tiles import JOKER, N_KINDS

Array = NDArray[np.float64]
Counts = NDArray[np.int64]
_MOST = 14


@dataclass(frozen=True, eq=False)
class Plain:
    """The arrays of ``Surroundings``, and the expected copies of 13 tiles of each seat."""

    unseen: Counts
    holds: Array
    odds: Array
    needs: Array
    finish: Array
    reach: Array


def plain_surroundings(
    model: Model,
    beliefs: tuple[Belief, ...],
    state: TableState,
    viewer: int | None = None,
    own: OwnRack | None = None,
) -> Plain:
    """Two sweeps of what can be finished and who keeps what, the second half-way."""
    unseen, sizes = plain_margins(state, viewer, own)
    pool = int(unseen.sum())
    turns = np.array(state.turns)
    share = sizes[:4] / max(pool, 1)
    kept = (sizes[:4] + turns) / (pool + turns + 1e-9)
    keeping = np.where(sizes[:4] > 0, kept / np.maximum(share, 1e-9), 1.0)
    odds, hoarded = np.ones((4, N_KINDS)), np.zeros((4, N_KINDS))
    holds = finish = needs = np.zeros(0)
    for old in (0.0, 0.5):
        finish = plain_finish(model.card, beliefs, state, unseen, hoarded)
        needs = np.array([plain_needs(model.card, b, finish[b.seat]) for b in beliefs])
        there = plain_there(model, state, own, unseen, share, needs)
        fresh = 1.0 + needs * (keeping[:, None] - 1.0)
        fresh[:, JOKER] = keeping
        odds = old * odds + (1.0 - old) * fresh
        holds = plain_scaling(np.vstack([odds * there, np.ones(N_KINDS)]), unseen, sizes)
        by_need = np.minimum(needs * odds / (1.0 + needs * (odds - 1.0)), 1.0) * holds[:4]
        hoarded = np.array([np.delete(by_need, seat, axis=0).sum(axis=0) for seat in range(4)])
    reach = np.array([plain_reach(holds[s], odds[s], unseen, 13.0) for s in range(4)])
    return Plain(unseen, holds, odds, needs, finish, reach)


def plain_margins(
    state: TableState, viewer: int | None, own: OwnRack | None
) -> tuple[Counts, Array]:  # fmt: skip
    """Copies that the viewer has not seen, and the unknown tiles of each seat and the wall."""
    unseen = state.rules.copies.astype(np.int64) - state.seen
    sizes = [float(state.concealed[s] - state.known_in_rack(s).sum()) for s in range(4)]
    for seat in range(4):
        if seat != viewer or own is None:
            unseen[JOKER] -= state.jokers_held[seat]
    if viewer is not None and own is not None:
        placed = state.known_in_rack(viewer).copy()
        placed[JOKER] -= state.jokers_held[viewer]
        for kind in range(N_KINDS):
            unseen[kind] -= max(own.tiles[kind] - placed[kind], 0)
        sizes[viewer] = float(own.unknown - np.maximum(placed - own.tiles, 0).sum())
    unseen = np.maximum(unseen, 0)
    sizes = [max(size, 0.0) for size in sizes]
    return unseen, np.array([*sizes, max(unseen.sum() - sum(sizes), 0.0)])


def groups_left(card: CompiledCard, belief: Belief, target: int) -> list[tuple[int, int, bool]]:
    """Kind, size and whether jokers may stand in it, of each group a target has left to make."""
    return [
        (int(card.group_kind[target, j]), int(card.group_size[target, j]),
         bool(card.group_joker[target, j]))
        for j in np.flatnonzero(belief.left[target])
    ]  # fmt: skip


def plain_finish(
    card: CompiledCard, beliefs: tuple[Belief, ...], state: TableState, unseen: Counts,
    hoarded: Array,
) -> Array:  # fmt: skip
    """Chance that jokers mend what lacks naturals, and that others leave the other naturals."""
    finish = np.zeros((4, card.n_targets))
    for belief in beliefs:
        seat = belief.seat
        share = min((state.concealed[seat] + state.wall / 4) / max(unseen.sum(), 1), 1.0)
        jokers = unseen[JOKER] + state.known_in_rack(seat)[JOKER]
        mends = binomial_tails(np.array([jokers]), np.array([share]), _MOST)[0]
        kept = 1.0 - np.minimum(hoarded[seat] / np.maximum(unseen, 1), 0.95)
        enough = binomial_tails(unseen, kept, _MOST)
        for target in np.flatnonzero(belief.fits):
            groups = groups_left(card, belief, target)
            short = sum(max(size - unseen[kind], 0) for kind, size, joker in groups if joker)
            prob = mends[min(short, _MOST)]
            for bare in {kind for kind, _, joker in groups if not joker}:
                naturals = sum(n for kind, n, joker in groups if kind == bare and not joker)
                prob *= enough[bare, naturals]
            finish[seat, target] = prob
    return finish


def plain_needs(card: CompiledCard, belief: Belief, finish: Array) -> Array:
    """Probability that the plan needs each kind and can be finished."""
    needs = np.zeros(N_KINDS)
    for target in np.flatnonzero(belief.fits):
        for kind in {kind for kind, _, _ in groups_left(card, belief, target)}:
            needs[kind] += belief.probs[target] * finish[target]
    return needs


def plain_there(
    model: Model, state: TableState, own: OwnRack | None, unseen: Counts, share: Array,
    needs: Array,
) -> Array:  # fmt: skip
    """Odds for copies that the viewer passed on, 1 where it passed on none."""
    odds, extra = np.ones((4, N_KINDS)), np.zeros((4, N_KINDS))
    w = model.weights["passes"]
    for each in () if own is None else own.given:
        idle = w["kept_pass"] ** each.passes * w["kept_turn"] ** state.turns[each.seat]
        need = needs[each.seat, each.kind]
        extra[each.seat, each.kind] += max(need + (1 - need) * idle - share[each.seat], 0.0)
    for seat, kind in zip(*np.nonzero(extra), strict=True):
        if unseen[kind] >= 1 and 0.0 < share[seat] < 1.0:
            chance = min(share[seat] + extra[seat, kind] / unseen[kind], 1.0 - 1e-6)
            odds[seat, kind] = chance / (1.0 - chance) / (share[seat] / (1.0 - share[seat]))
    return odds


def plain_scaling(odds: Array, columns: NDArray[np.generic], rows: Array) -> Array:
    """Rows and columns scaled in turn, the whole matrix each time."""
    out = odds * (columns > 0)
    for _ in range(200):
        totals = out.sum(axis=1)
        out = out * np.where(totals > 0, rows / np.where(totals > 0, totals, 1.0), 0.0)[:, None]
        totals = out.sum(axis=0)
        factors = np.where(totals > 0, columns / np.where(totals > 0, totals, 1.0), 0.0)
        out = out * factors
        if np.abs(factors - 1.0)[columns > 0].max(initial=0.0) < 1e-10:
            break
    return out


def plain_reach(holds: Array, odds: Array, unseen: Counts, tiles: float) -> Array:
    """Expected copies among so many tiles of a seat, its own odds taken out but for jokers."""
    own = odds.copy()
    own[JOKER] = 1.0
    bare = holds / own
    reach = unseen * bare / np.maximum(unseen - holds + bare, 1e-12)
    if not reach.any():
        reach = unseen.astype(np.float64)
    return tiles * reach / max(reach.sum(), 1e-300)
