"""Slow and plain twins of what the engine computes, written from the rules alone."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator
from itertools import permutations, product

import numpy as np

from handread.card import CompiledCard
from handread.simulate import SimulatedGame
from handread.simulate.playcard import PlayCard
from handread.table import TableState, apply, start
from handread.table.events import AnyEvent, Correct, Dead, Discard, Expose, Redeem, Win
from handread.tiles import JOKER

Group = tuple[int, int, bool]  # kind, size, whether jokers may stand there
Shown = list[tuple[int, int, int]]  # kind, size, jokers


def groups_of(card: CompiledCard, target: int) -> list[Group]:
    return [
        (int(card.group_kind[target, j]), int(card.group_size[target, j]),
         bool(card.group_joker[target, j]))
        for j in range(card.group_kind.shape[1])
        if card.group_size[target, j]
    ]  # fmt: skip


def left_after(card: CompiledCard, target: int, shown: Shown) -> list[Group] | None:
    """Groups left when the exposures are taken away in any way that works; None if none does."""
    groups = groups_of(card, target)
    if not shown:
        return groups
    if card.concealed[target]:
        return None
    for chosen in permutations(range(len(groups)), len(shown)):
        if all(
            groups[i][:2] == (kind, size) and (jokers == 0 or groups[i][2])
            for i, (kind, size, jokers) in zip(chosen, shown, strict=True)
        ):
            return [group for i, group in enumerate(groups) if i not in chosen]
    return None


def shortage(groups: list[Group], held: Counter[int]) -> int:
    """Fewest tiles missing, over every way to lay the naturals into the groups."""
    best = sum(size for _, size, _ in groups)
    ranges = [range(min(size, held[kind]) + 1) for kind, size, _ in groups]
    for laid in product(*ranges):
        used: Counter[int] = Counter()
        for (kind, _, _), n in zip(groups, laid, strict=True):
            used[kind] += n
        if any(used[kind] > held[kind] for kind in used):
            continue
        bare = sum(s - n for (_, s, j), n in zip(groups, laid, strict=True) if not j)
        opened = sum(s - n for (_, s, j), n in zip(groups, laid, strict=True) if j)
        best = min(best, bare + max(0, opened - held[JOKER]))
    return best


def short_of(card: CompiledCard, target: int, held: Counter[int], shown: Shown) -> int | None:
    groups = left_after(card, target, shown)
    return None if groups is None else shortage(groups, held)


def follow(
    card: PlayCard, game: SimulatedGame
) -> Iterator[tuple[AnyEvent, TableState, TableState, list[Counter[int]], int]]:
    """Every event with the states around it, the racks after it and the tiles left in the wall.

    Tiles are moved by rules written here once more, not by the engine's.
    """
    racks = [Counter(rack) for rack in game.truth.dealt]
    for step in game.truth.passes:
        for seat in range(4):
            racks[seat].subtract(step.given[seat])
            racks[seat].update(step.received[seat])
    draws = list(game.truth.draws)
    wall = len(game.truth.wall)
    state = start(game.record.header, card.card.rules)
    for number, event in enumerate(game.record.events):
        while draws and draws[0][0] == number:
            _, seat, kind = draws.pop(0)
            assert kind == game.truth.wall[len(game.truth.wall) - wall]
            racks[seat][kind] += 1
            wall -= 1
        after = apply(state, event, card.card)
        _move(racks, state, after, event)
        yield event, state, after, racks, wall
        state = after
    assert not draws


def _move(racks: list[Counter[int]], state: TableState, after: TableState, event: AnyEvent) -> None:
    match event:
        case Discard(seat=seat, kind=kind):
            racks[seat][kind] -= 1
        case Expose(seat=seat, size=size, jokers=jokers):
            racks[seat][state.floor[-1].kind] -= size - 1 - jokers
            racks[seat][JOKER] -= jokers
        case Correct(seat=seat, size=size, jokers=jokers):
            old = state.exposures[seat][-1]
            racks[seat][old.kind] += (old.size - old.jokers) - (size - jokers)
            racks[seat][JOKER] += old.jokers - jokers
        case Redeem(seat=seat, kind=kind):
            racks[seat][kind] -= 1
            racks[seat][JOKER] += 1
        case Dead(seat=seat, returned=True):
            group = state.exposures[seat][-1]
            racks[seat][group.kind] += group.size - group.jokers
            racks[seat][JOKER] += group.jokers
        case Win(seat=seat, claimed=True):
            kind = state.floor[-1].kind
            robbed = state.holder
            if robbed == seat:
                return
            if robbed is not None:
                group = state.exposures[robbed][-1]
                racks[robbed][group.kind] += group.size - group.jokers - 1
                racks[robbed][JOKER] += group.jokers
            racks[seat][kind] += 1
        case _:
            pass


def counted(racks: list[Counter[int]], state: TableState) -> np.ndarray[tuple[int], np.dtype]:
    """Copies of each kind in racks, exposures and on the floor."""
    total = np.zeros(36, dtype=np.int64)
    for rack in racks:
        for kind, n in rack.items():
            assert n >= 0
            total[kind] += n
    for groups in state.exposures:
        for group in groups:
            total[group.kind] += group.size - group.jokers
            total[JOKER] += group.jokers
    for throw in state.floor:
        if throw.taken_by is None:
            total[throw.kind] += 1
    return total
