"""A card as the players at a simulated table hold it: the compiled card as plain arrays."""

from __future__ import annotations

from dataclasses import dataclass
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from handread.card.compiled import CompiledCard


class Targets(NamedTuple):
    """The arrays of a card that the compiled kernels take.

    Attributes
    ----------
    kind, size, joker
        Groups of each target as in ``CompiledCard``, those without jokers first, shape
        (n_targets, n_groups).
    again
        Whether a group's kind stands in an earlier group of its target too, same shape.
    n
        Groups of each target, shape (n_targets,).
    concealed
        Whether each target forbids exposures, shape (n_targets,).
    points
        What each target pays, 1 at least, shape (n_targets,).
    copies
        Copies of each kind in the set, shape (36,).
    """

    kind: NDArray[np.int8]
    size: NDArray[np.uint8]
    joker: NDArray[np.bool_]
    again: NDArray[np.bool_]
    n: NDArray[np.int64]
    concealed: NDArray[np.bool_]
    points: NDArray[np.float64]
    copies: NDArray[np.int64]


@dataclass(frozen=True, eq=False)
class PlayCard:
    """A compiled card with what the engine and the players ask of it again and again.

    Attributes
    ----------
    card
        The compiled card.
    targets
        Its arrays for the kernels.
    pure
        Whether each hand has neither pairs nor singles, shape (n_hands,); a hand without
        any target counts as none such.
    takes_jokers
        Whether jokers may stand anywhere in each target, shape (n_targets,).
    """

    card: CompiledCard
    targets: Targets
    pure: NDArray[np.bool_]
    takes_jokers: NDArray[np.bool_]

    def __eq__(self, other: object) -> bool:
        return isinstance(other, PlayCard) and self.card == other.card

    __hash__ = None  # type: ignore[assignment]  # values that hold arrays are unhashable

    @property
    def n_targets(self) -> int:
        """Number of targets."""
        return self.card.n_targets


def play_card(card: CompiledCard) -> PlayCard:
    """Prepare a card for play.

    Examples
    --------
    >>> import handread as hr
    >>> table_card = play_card(hr.house_card())
    >>> table_card.targets.points.shape == (table_card.n_targets,)
    True
    """
    paid = [max(hand.points, 1) for hand in card.hands]
    points = np.array(paid, dtype=np.float64)[card.hand_of]
    there = card.group_size > 0
    order = np.argsort(np.where(there, card.group_joker, 2), axis=1, kind="stable")
    kind = np.take_along_axis(card.group_kind, order, axis=1)
    again = np.zeros_like(there)
    for j in range(1, kind.shape[1]):
        again[:, j] = (kind[:, :j] == kind[:, j : j + 1]).any(axis=1)
    targets = Targets(
        kind=kind,
        size=np.take_along_axis(card.group_size, order, axis=1),
        joker=np.take_along_axis(card.group_joker, order, axis=1),
        again=again,
        n=there.sum(axis=1),
        concealed=card.concealed,
        points=points,
        copies=card.rules.copies.astype(np.int64),
    )
    small = ((card.group_size > 0) & (card.group_size < 3)).any(axis=1)
    pure = np.bincount(card.hand_of, minlength=len(card.hands)) > 0
    pure[card.hand_of[small]] = False
    takes_jokers = np.asarray(card.group_joker.any(axis=1))
    for array in (*targets, pure, takes_jokers):
        array.flags.writeable = False
    return PlayCard(card, targets, pure, takes_jokers)
