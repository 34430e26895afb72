"""A card laid out for the compiled engine, and the arrays of a table over its targets."""

from __future__ import annotations

from typing import Any

import numpy as np
from numpy.typing import NDArray

from handread.errors import HandreadError
from handread.simulate.fast.layout import MOST_TILES, N_ROWS, PADDING, UNTOUCHED, Lists, Sheet
from handread.simulate.playcard import PlayCard, Targets
from handread.tiles import FLOWER, N_KINDS


def sheet_of(card: PlayCard) -> Sheet:
    """Lay a card out for the compiled engine.

    Raises
    ------
    HandreadError
        If the card's tile set or hands are larger than the engine's arrays.
    """
    targets = card.targets
    n, width = targets.kind.shape
    if card.card.rules.n_tiles > MOST_TILES or int(targets.size.sum(axis=1).max(initial=0)) > 15:
        raise HandreadError(
            f"card {card.card.name!r} has {card.card.rules.n_tiles} tiles and hands of "
            f"{int(targets.size.sum(axis=1).max(initial=0))}; accepted: {MOST_TILES} and 15 at most"
        )
    n_slots = np.zeros(n, dtype=np.int64)
    slot_kind = np.full((n, width), -1, dtype=np.int8)
    slot_need = np.zeros((n, width, 2), dtype=np.int8)
    slot_of = np.full((n, N_KINDS), -1, dtype=np.int8)
    every = np.arange(n)
    for j in range(width):
        there = every[j < targets.n]
        kind = targets.kind[there, j].astype(np.int64)
        new = slot_of[there, kind] < 0
        slot_of[there[new], kind[new]] = n_slots[there[new]]
        slot_kind[there[new], n_slots[there[new]]] = kind[new]
        n_slots[there[new]] += 1
        slot = slot_of[there, kind].astype(np.int64)
        slot_need[there, slot, targets.joker[there, j].astype(np.int64)] += targets.size[there, j]
    use_target, use_kind = np.nonzero(slot_of >= 0)
    order = np.argsort(use_kind, kind="stable")
    first_use = np.concatenate([[0], np.cumsum(np.bincount(use_kind, minlength=N_KINDS))])
    most = _most(slot_kind, slot_need)
    return Sheet(
        targets.kind, targets.size, targets.joker, targets.n, targets.concealed, targets.points,
        np.log(targets.points / 30.0), targets.copies, n_slots, slot_kind, slot_need, slot_of,
        first_use.astype(np.int64), use_target[order].astype(np.int32), _base_code(slot_need),
        most, *_touched(slot_need, use_target[order], use_kind[order],
        slot_of[use_target, use_kind][order]), card.card.hand_of, *_steps(slot_kind, slot_need,
        most), *_tiers(targets, slot_kind, slot_need), *_wants(slot_kind, slot_need),
    )  # fmt: skip


def _padded(n: int) -> int:
    """Bytes for so many targets, a multiple of 64, at least one more."""
    return 64 * (n // 64 + 1)


def _base_code(slot_need: NDArray[np.int8]) -> NDArray[np.uint8]:
    """Codes with nothing in the rack."""
    wanted = slot_need.astype(np.int64).sum(axis=1)
    code = np.full(_padded(len(wanted)), PADDING, dtype=np.uint8)
    code[: len(wanted)] = 16 * wanted[:, 0] + wanted[:, 1]
    return code


def _steps(
    slot_kind: NDArray[np.int8], slot_need: NDArray[np.int8], most: NDArray[np.int64]
) -> tuple[NDArray[np.int64], NDArray[np.uint8]]:
    """What each further copy of each kind takes off the codes."""
    first = np.concatenate([[0], np.cumsum(most)]).astype(np.int64)
    steps = np.zeros((int(first[-1]), _padded(len(slot_kind))), dtype=np.uint8)
    target, slot = np.nonzero(slot_kind >= 0)
    kind, need = slot_kind[target, slot].astype(np.int64), slot_need[target, slot]
    for m in range(int(most.max(initial=0))):
        wanted = np.where(m < need[:, 0], 16, np.where(m < need.sum(axis=1), 1, 0))
        there = wanted > 0
        steps[first[kind[there]] + m, target[there]] = wanted[there]
    return first, steps


def _most(slot_kind: NDArray[np.int8], slot_need: NDArray[np.int8]) -> NDArray[np.int64]:
    """Most copies of each kind that a target wants."""
    most = np.zeros(N_KINDS, dtype=np.int64)
    there = slot_kind >= 0
    np.maximum.at(most, slot_kind[there].astype(np.int64), slot_need.sum(axis=2)[there])
    return most


def _touched(
    slot_need: NDArray[np.int8], target: NDArray[np.int64], kind: NDArray[np.int64],
    slot: NDArray[np.int8],
) -> tuple[Any, Any, Any]:  # fmt: skip
    """Uses of each kind, those that want most copies first: target, copies bare, copies in all."""
    need = slot_need[target, slot]
    total = need.sum(axis=1, dtype=np.int8)
    order = np.lexsort((-total, kind))
    return target[order].astype(np.int32), need[order, 0].copy(), total[order]


def _tiers(
    targets: Targets, slot_kind: NDArray[np.int8], slot_need: NDArray[np.int8]
) -> tuple[Any, ...]:
    """Tier of each target, and of each tier points, flowers and open copies that are not there."""
    total = slot_need.sum(axis=2, dtype=np.int64)
    there = slot_kind >= 0
    flowers = np.where(there & (slot_kind == FLOWER), total, 0).sum(axis=1)
    beyond = total - targets.copies[slot_kind.astype(np.int64)]
    over = np.where(there & (beyond > 0), np.minimum(beyond, slot_need[:, :, 1]), 0).sum(axis=1)
    rows = np.column_stack([np.log(targets.points / 30.0), flowers, over])
    tiers, tier = np.unique(rows, axis=0, return_inverse=True)
    found = tuple(np.ascontiguousarray(column) for column in tiers.T)
    return (tier.reshape(-1).astype(np.int32), *found)


def _wants(slot_kind: NDArray[np.int8], slot_need: NDArray[np.int8]) -> tuple[Any, ...]:
    """Number of what each slot wants; by number the kind, copies bare and copies in all."""
    need = slot_need.astype(np.int64)
    rows = np.stack([np.maximum(slot_kind, 0), need[:, :, 0], need.sum(axis=2)], axis=2)
    rows = rows.reshape(-1, 3)
    rows = np.concatenate([np.zeros((1, 3), dtype=np.int64), rows])  # 0 is for nothing
    wants, want = np.unique(rows, axis=0, return_inverse=True)
    found = tuple(np.ascontiguousarray(column) for column in wants.T)
    return (want.reshape(-1)[1:].reshape(slot_kind.shape).astype(np.int16), *found)


def lists_for(sheet: Sheet, *, n_uniforms: int, n_entries: int) -> Lists:
    """Room for one table over a card's targets."""
    n, width = sheet.slot_kind.shape
    left = np.zeros((5, n, width, 2), dtype=np.int8)
    left[UNTOUCHED] = sheet.slot_need
    extra = np.zeros((5, len(sheet.base_code)), dtype=np.uint8)
    code = np.tile(sheet.base_code, (4, 1))
    return Lists(
        target=np.zeros((N_ROWS, n + 2), dtype=np.int64),
        weight=np.zeros((N_ROWS, n + 2)),
        short=np.zeros(n + 2, dtype=np.int64),
        code=code,
        words=code.view(np.uint64),
        fits=np.zeros((4, n), dtype=np.bool_),
        fitting=np.zeros((4, n), dtype=np.int32),
        left=left,
        spare=np.zeros((width, 2), dtype=np.int8),
        uniforms=np.zeros(n_uniforms),
        entry_target=np.zeros(n_entries, dtype=np.int32),
        entry_weight=np.zeros(n_entries, dtype=np.float32),
        tier=np.zeros((4, len(sheet.tier_points))),
        candidate=np.zeros(n + 2, dtype=np.int32),
        known=np.zeros((4, int(sheet.hand[-1]) + 1), dtype=np.bool_),
        extra=extra,
        extra_words=extra.view(np.uint64),
        tier_extra=np.zeros((4, len(sheet.tier_points)), dtype=np.int64),
        hits=np.zeros(len(sheet.base_code) // 8, dtype=np.uint64),
        tally=np.zeros(len(sheet.want_kind), dtype=np.int64),
        cost=np.zeros((len(sheet.want_kind), 2)),
    )
