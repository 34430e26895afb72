"""Hands by name, targets in words, and example racks."""

from __future__ import annotations

import difflib
from dataclasses import dataclass

import numpy as np

from handread.card.compiled import CompiledCard
from handread.card.notation import SIZES
from handread.card.tokens import CardError
from handread.errors import closest
from handread.tiles import KINDS


@dataclass(frozen=True)
class ExampleRack:
    """One finished form of a hand.

    Attributes
    ----------
    target
        Index of the target on the card.
    groups
        Groups in words, in the card's order.
    tiles
        The kinds of the tiles, group by group.
    """

    target: int
    groups: tuple[str, ...]
    tiles: tuple[int, ...]


def hand_index(card: CompiledCard, name: str) -> int:
    """Index of the hand called `name`; capitals do not matter.

    Raises
    ------
    CardError
        If no hand has that name; the message names the closest ones.

    Examples
    --------
    >>> from handread.card import house_card
    >>> card = house_card()
    >>> hand_index(card, card.hands[3].name.upper())
    3
    """
    wanted = " ".join(name.split()).casefold()
    places = {hand.name.casefold(): place for place, hand in enumerate(card.hands)}
    if wanted not in places:
        names = [hand.name for hand in card.hands]
        near = difflib.get_close_matches(wanted, places, n=1)
        likely = names[places[near[0]]] if near else name
        raise CardError(f"no hand {name!r} on {card.name!r}; {closest(likely, names)}")
    return places[wanted]


def target_words(card: CompiledCard, target: int) -> tuple[str, ...]:
    """Groups of a target in words, in the card's order.

    >>> from handread.card import house_card
    >>> all(" of " in group for group in target_words(house_card(), 0))
    True
    """
    kinds, sizes = card.group_kind[target], card.group_size[target]
    return tuple(
        f"{SIZES[size - 1]} of {KINDS[kind]}"
        for kind, size in zip(kinds, sizes, strict=True)
        if size
    )


def example_racks(card: CompiledCard, hand: str, most: int = 3) -> tuple[ExampleRack, ...]:
    """Some finished forms of a hand, spread evenly over its targets.

    Parameters
    ----------
    card
        The card.
    hand
        Name of the hand.
    most
        How many, at most.

    Returns
    -------
    tuple of ExampleRack
        Empty if the hand has no target of its own.

    Raises
    ------
    CardError
        If no hand has that name.

    Examples
    --------
    >>> from handread.card import house_card
    >>> card = house_card()
    >>> [len(rack.tiles) for rack in example_racks(card, card.hands[0].name, 2)]
    [14, 14]
    """
    targets = np.flatnonzero(card.hand_of == hand_index(card, hand))
    count = min(most, len(targets))
    chosen = targets[np.arange(count) * len(targets) // max(count, 1)]
    return tuple(_example(card, int(target)) for target in chosen)


def _example(card: CompiledCard, target: int) -> ExampleRack:
    kinds, sizes = card.group_kind[target], card.group_size[target]
    used = sizes > 0
    tiles = np.repeat(kinds[used], sizes[used])
    return ExampleRack(target, target_words(card, target), tuple(int(kind) for kind in tiles))
