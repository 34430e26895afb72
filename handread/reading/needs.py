"""Tile level of a reading: which kinds a seat needs, and which live tiles each hand still wants."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from handread.card.compiled import CompiledCard
from handread.reading.look import free_copies
from handread.table.state import TableState
from handread.tiles import FLOWER, format_kind, number_of, suit_of

SIZE_WORDS = {1: "single", 2: "pair", 3: "pung", 4: "kong", 5: "quint", 6: "sextet"}


def describe_groups(card: CompiledCard, target: int) -> str:
    """Groups of a target in words, neighbours of one size and suit together.

    For example ``"pairs of 5 6 bam, pung of red, kong of flowers"``.
    """
    runs: list[tuple[int, list[int]]] = []
    for kind, size in zip(card.group_kind[target], card.group_size[target], strict=True):
        if not size:
            continue
        suit = suit_of(int(kind))
        last = runs[-1] if runs and suit is not None else (0, [0])
        if last[0] == size and suit_of(last[1][-1]) == suit:
            last[1].append(int(kind))
        else:
            runs.append((int(size), [int(kind)]))
    return ", ".join(_run(size, kinds) for size, kinds in runs)


def _run(size: int, kinds: list[int]) -> str:
    word = SIZE_WORDS[size] + ("s" if len(kinds) > 1 else "")
    return f"{word} of {together(kinds)}" + ("s" if kinds == [FLOWER] and size > 1 else "")


def together(kinds: list[int]) -> str:
    """Kinds of one suit in words, numbers first: ``"5 6 bam"``; other kinds by their word.

    >>> together([4, 5])
    '5 6 bam'
    """
    if suit_of(kinds[0]) is None:
        return ", ".join(format_kind(kind) for kind in kinds)
    numbers = " ".join(str(number_of(kind)) for kind in sorted(kinds))
    return f"{numbers} {format_kind(kinds[0]).split()[1]}"


def live_needs(
    card: CompiledCard, target: int, left: NDArray[np.bool_], state: TableState
) -> dict[str, int]:
    """Kinds that a target still needs, with the copies that the table has not seen."""
    free = free_copies(state)
    kinds = sorted({int(card.group_kind[target, j]) for j in np.flatnonzero(left[target])})
    return {format_kind(kind): int(free[kind]) for kind in kinds}
