"""What a list of weighted targets makes of tiles: use of each kind, groups that could be shown."""

from __future__ import annotations

from typing import Any

from handread.simulate.fast.compiled import compiled
from handread.simulate.fast.layout import (
    word,
)
from handread.simulate.fast.ways import catch_up, groups_left, left_row
from handread.tiles import JOKER, N_KINDS


@compiled
def use_of_tiles(
    t: Any, lists: Any, sheet: Any, seat: int, row: int, n: int, bare_weight: float
) -> float:
    """Use of one copy of each kind to a list of weighted targets, in ``t.use``.

    As ``kernels.tile_use``; returns the expected number of tiles that no target wants.
    """
    catch_up(t, lists, sheet, seat)
    rack, use, codes = t.racks[seat], t.use, lists.code[seat]
    jokers, total = rack[JOKER], t.hand_size
    for i in range(t.n_groups[seat]):
        total -= t.groups[seat, i, 1]
    spare, left = 0.0, left_row(t, seat)
    for k in range(N_KINDS):
        use[k] = 0.0
        if k != JOKER:
            spare += rack[k]
    for i in range(n):
        g, weight = lists.target[row, i], lists.weight[row, i]
        if weight <= 0.0 or not lists.fits[seat, g]:
            continue
        code, need = word(codes[g]), lists.left[left, g]
        opened = code & 15
        of_bare, of_open = weight * bare_weight, weight if opened >= jokers else 0.0
        spare -= weight * (total - opened - (code >> 4))
        for s in range(sheet.n_slots[g]):
            k = sheet.slot_kind[g, s]
            held, bare = rack[k], need[s, 0]
            counts = of_bare if held <= bare else of_open
            use[k] += counts if (held > 0) & (held <= bare + need[s, 1]) else 0.0
        if 0 < jokers <= opened:
            use[JOKER] += weight
    return spare


@compiled
def mass_of_groups(t: Any, lists: Any, sheet: Any, row: int, n: int, kind: int) -> None:
    """Weight of the targets that could show `kind` in a group of each size, in ``t.mass``.

    The exposures so far are those in ``t.rows``.
    """
    for size in range(8):
        t.mass[size] = 0.0
    for i in range(n):
        g, weight = lists.target[row, i], lists.weight[row, i]
        if weight <= 0.0 or sheet.concealed[g] or sheet.slot_of[g, kind] < 0:
            continue
        left = groups_left(t, sheet, g)
        if left < 0:
            continue
        told = 0
        for j in range(sheet.n_groups[g]):
            size = sheet.size[g, j]
            if (left >> j) & 1 and sheet.kind[g, j] == kind and not (told >> size) & 1:
                told |= 1 << size
                if size < 7:
                    t.mass[size] += weight
