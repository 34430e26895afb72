"""Relabellings of the suits that leave a card as it is."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import permutations

import numpy as np
from numpy.typing import NDArray

from handread.card.compile import keys, pack
from handread.card.compiled import CompiledCard
from handread.tiles import FIRST_DRAGON, N_KINDS, SUITS
from handread.values import ArrayValue


@dataclass(frozen=True, eq=False)
class Relabelling(ArrayValue):
    """A relabelling of the suits, dragons carried along, under which a card is unchanged.

    Attributes
    ----------
    suits
        The suit that bam, crak and dot become.
    kinds
        The kind that each kind becomes, shape (36,).
    targets
        The target, of the same hand, that each target becomes, shape (n_targets,).
    """

    suits: tuple[int, int, int]
    kinds: NDArray[np.int8]
    targets: NDArray[np.int32]

    @property
    def words(self) -> str:
        """The relabelling in words, such as ``bam to crak, crak to bam``; empty if none moves."""
        moved = [(old, new) for old, new in enumerate(self.suits) if old != new]
        return ", ".join(f"{SUITS[old]} to {SUITS[new]}" for old, new in moved)


def relabelled_kinds(suits: tuple[int, int, int]) -> NDArray[np.int8]:
    """The kind that each kind becomes when the suits are relabelled, shape (36,).

    Each dragon goes with its suit; winds, flower and joker stay.

    >>> from handread.tiles import KINDS
    >>> KINDS[relabelled_kinds((1, 0, 2))[KINDS.index("green")]]
    'red'
    """
    kinds = np.arange(N_KINDS, dtype=np.int8)
    for old, new in enumerate(suits):
        kinds[old * 9 : old * 9 + 9] = np.arange(new * 9, new * 9 + 9)
        kinds[FIRST_DRAGON + old] = FIRST_DRAGON + new
    return kinds


def automorphisms(card: CompiledCard) -> tuple[Relabelling, ...]:
    """The relabellings of the suits that map every hand's targets to themselves.

    White as zero breaks those that move the dots: white goes with the dots as their dragon,
    but as zero it stands beside any suit. A suit named in a hand breaks those that move it.

    Parameters
    ----------
    card
        The card.

    Returns
    -------
    tuple of Relabelling
        One to six, the identity first.

    Examples
    --------
    >>> from handread.card import house_card
    >>> automorphisms(house_card())[0].suits
    (0, 1, 2)
    """
    place = {key: target for target, key in enumerate(_keys(card, relabelled_kinds((0, 1, 2))))}
    found = []
    for bam, crak, dot in permutations(range(3)):
        kinds = relabelled_kinds((bam, crak, dot))
        images = [place.get(key) for key in _keys(card, kinds)]
        targets = [image for image in images if image is not None]
        if len(targets) == card.n_targets:
            found.append(Relabelling((bam, crak, dot), kinds, np.array(targets, dtype=np.int32)))
    return tuple(found)


def _keys(card: CompiledCard, kinds: NDArray[np.int8]) -> list[tuple[int, bytes]]:
    """Hand and groups of each target under a relabelling, whatever the order of the groups."""
    kind = np.append(kinds, np.int8(-1))[card.group_kind]  # index -1 is "no group"
    found = keys(pack(kind, card.group_size, card.group_joker))
    return list(zip(card.hand_of.tolist(), found, strict=True))
