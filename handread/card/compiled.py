"""A card as arrays: what every later layer reads of it."""

from __future__ import annotations

from dataclasses import dataclass, field
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from handread.tiles import COPIES, Counts
from handread.values import ArrayValue, FrozenCopies, frozen


@dataclass(frozen=True, eq=False)
class Rules(ArrayValue):
    """Tile set and rule parameters of a club, as a card states them.

    Attributes
    ----------
    copies
        Copies of each kind in the set, shape (36,).
    hand_size
        Tiles of a finished hand.
    claimable
        Sizes of group that may be claimed for an exposure.
    """

    copies: Counts = field(default_factory=lambda: COPIES)
    hand_size: int = 14
    claimable: tuple[int, ...] = (3, 4, 5, 6)

    @property
    def n_tiles(self) -> int:
        """Tiles in the set."""
        return int(self.copies.sum())

    @property
    def play_wall(self) -> int:
        """Tiles left to draw once four seats have theirs.

        >>> Rules().play_wall
        99
        """
        return self.n_tiles - 4 * (self.hand_size - 1) - 1


@dataclass(frozen=True)
class Hand:
    """One line of a card.

    Attributes
    ----------
    name
        Unique on the card.
    family
        Index into ``CompiledCard.families``.
    words
        The groups as the card writes them.
    concealed
        Whether the hand may be claimed for only as the last tile.
    points
        What it pays.
    """

    name: str
    family: int
    words: str
    concealed: bool
    points: int


@dataclass(frozen=True, eq=False)
class CompiledCard(FrozenCopies):
    """A card compiled to deduplicated targets; equal when the content hash is equal.

    Targets are sorted by hand. Groups of one target are in the card's order; a block of
    different tiles stands as one group of size 1 for each of its tiles.

    Attributes
    ----------
    name
        Title of the card.
    hash
        Content hash, 16 hexadecimal digits.
    families
        Names of the families, in the card's order.
    hands
        The hands, in the card's order.
    hand_of
        Hand of each target, shape (n_targets,).
    group_kind
        Kind of each group, -1 where a target has no more groups, shape (n_targets, n_groups).
    group_size
        Size of each group, 0 where there is none, shape (n_targets, n_groups).
    group_joker
        Whether jokers may stand in the group, shape (n_targets, n_groups).
    demand
        Copies of each kind in each target, shape (n_targets, 36).
    rules
        Tile set and rule parameters.
    """

    name: str
    hash: str
    families: tuple[str, ...]
    hands: tuple[Hand, ...]
    hand_of: NDArray[np.int32]
    group_kind: NDArray[np.int8]
    group_size: NDArray[np.uint8]
    group_joker: NDArray[np.bool_]
    demand: NDArray[np.uint8]
    rules: Rules = field(default_factory=Rules)

    def __post_init__(self) -> None:
        for array in (
            self.hand_of, self.group_kind, self.group_size, self.group_joker, self.demand,
        ):  # fmt: skip
            array.flags.writeable = False

    def __repr__(self) -> str:
        counts = f"{len(self.families)} families, {len(self.hands)} hands, {self.n_targets} targets"
        return f"<CompiledCard {self.name!r}: {counts}, hash {self.hash}>"

    def __eq__(self, other: object) -> bool:
        return isinstance(other, CompiledCard) and self.hash == other.hash

    __hash__ = None  # type: ignore[assignment]  # values that hold arrays are unhashable

    @property
    def n_targets(self) -> int:
        """Number of targets."""
        return len(self.hand_of)

    @cached_property
    def family_of(self) -> NDArray[np.int32]:
        """Family of each target, shape (n_targets,)."""
        families = np.array([hand.family for hand in self.hands], dtype=np.int32)
        return frozen(families[self.hand_of])

    @cached_property
    def demand_by_kind(self) -> NDArray[np.uint8]:
        """`demand` turned round, to go through all targets that want a kind; (36, n_targets)."""
        return frozen(np.ascontiguousarray(self.demand.T))

    @cached_property
    def wanted(self) -> tuple[NDArray[np.int64], NDArray[np.uint32], NDArray[np.uint8]]:
        """Targets that want each kind, one kind after the other.

        Entries ``first[kind]`` to ``first[kind + 1]`` of the other two are a kind's targets and how
        many copies each of them wants. Shapes (37,), (n_entries,), (n_entries,).
        """
        kind, target = np.nonzero(self.demand_by_kind)
        first = np.searchsorted(kind, np.arange(len(self.demand_by_kind) + 1))
        copies = self.demand_by_kind[kind, target]
        return frozen(first.astype(np.int64)), frozen(target.astype(np.uint32)), frozen(copies)

    @cached_property
    def wanting(self) -> tuple[NDArray[np.uint32], ...]:
        """Targets that want each kind, in order; one array a kind, parts of ``wanted``."""
        first, target, _ = self.wanted
        return tuple(target[first[k] : first[k + 1]] for k in range(len(first) - 1))

    @cached_property
    def concealed(self) -> NDArray[np.bool_]:
        """Whether each target forbids exposures, shape (n_targets,)."""
        concealed = np.array([hand.concealed for hand in self.hands], dtype=np.bool_)
        return frozen(concealed[self.hand_of])
