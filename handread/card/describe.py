"""What a card holds, and what is wrong with it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from handread.card.cardfile import Card, CardHand
from handread.card.compile import (
    MOST_TARGETS,
    HandTargets,
    compile_card,
    expand_card,
    keys,
    place_of,
)
from handread.card.compiled import CompiledCard
from handread.card.confusable import confusability, family_overlap
from handread.card.symmetry import Relabelling, automorphisms
from handread.values import ArrayValue


@dataclass(frozen=True)
class HandReport:
    """One hand.

    Attributes
    ----------
    name, family
        Names.
    n_targets
        Targets that stand under this hand.
    n_shared
        Targets that stand under an earlier hand instead.
    n_impossible
        Targets that the tile set cannot supply, left out.
    """

    name: str
    family: str
    n_targets: int
    n_shared: int
    n_impossible: int


@dataclass(frozen=True)
class FamilyReport:
    """One family.

    Attributes
    ----------
    name
        Name.
    n_hands, n_targets
        How many.
    confusability
        Share of its targets with nine or more tiles in common with a target of another family.
    nearest
        The other family that most of them are near to; empty if none.
    """

    name: str
    n_hands: int
    n_targets: int
    confusability: float
    nearest: str


@dataclass(frozen=True)
class SharedTargets:
    """Two hands with targets in common, the one that stands first on the card first.

    Attributes
    ----------
    first, second
        Names of the hands.
    n_shared
        Targets in common.
    relation
        ``"identical"``, ``"first contains second"``, ``"second contains first"`` or ``"overlap"``.
    """

    first: str
    second: str
    n_shared: int
    relation: str


@dataclass(frozen=True, eq=False)
class CardReport(ArrayValue):
    """What ``describe_card`` finds.

    Attributes
    ----------
    card
        The compiled card.
    families, hands
        One entry each, in the card's order.
    shared
        Hands with targets in common.
    errors
        What makes the card unfit for play: hands that no set of tiles can finish, and hands
        all of whose targets stand under earlier hands. Empty for a sound card.
    demand
        Mean copies of each kind in a target, every hand that has targets weighing the same,
        shape (36,).
    used_by
        Share of the hands that have a target with the kind in it, shape (36,).
    automorphisms
        Relabellings of the suits that leave the card as it is.
    n_concealed, n_joker_free, n_all_groups
        Hands that are concealed; that jokers cannot enter; that have no single and no pair.
    """

    card: CompiledCard
    families: tuple[FamilyReport, ...]
    hands: tuple[HandReport, ...]
    shared: tuple[SharedTargets, ...]
    errors: tuple[str, ...]
    demand: NDArray[np.float64]
    used_by: NDArray[np.float64]
    automorphisms: tuple[Relabelling, ...]
    n_concealed: int
    n_joker_free: int
    n_all_groups: int


def describe_card(card: Card, *, limit: int = MOST_TARGETS) -> CardReport:
    """Describe and check a card.

    Parameters
    ----------
    card
        The card.
    limit
        Most targets.

    Returns
    -------
    CardReport
        Counts, shared targets, errors, demand, confusability, automorphisms.

    Raises
    ------
    CardError
        If the card cannot be compiled at all.

    Examples
    --------
    >>> from handread.card import read_card
    >>> report = describe_card(read_card("house"))
    >>> report.errors
    ()
    """
    compiled = compile_card(card, limit=limit)
    parts = expand_card(card, limit=limit)
    hands = tuple(
        _hand_report(compiled, index, targets) for index, (_, _, targets) in enumerate(parts)
    )
    demand, used_by = _demand(compiled)
    joker_free, all_groups = _shapes(compiled)
    return CardReport(
        compiled,
        _family_reports(compiled),
        hands,
        _shared(parts),
        _errors(card, [line for _, line, _ in parts], hands),
        demand,
        used_by,
        automorphisms(compiled),
        sum(hand.concealed for hand in compiled.hands),
        joker_free,
        all_groups,
    )


def _hand_report(card: CompiledCard, index: int, targets: HandTargets) -> HandReport:
    hand = card.hands[index]
    kept = int((card.hand_of == index).sum())
    shared = len(targets.codes) - kept
    return HandReport(hand.name, card.families[hand.family], kept, shared, len(targets.impossible))


def _family_reports(card: CompiledCard) -> tuple[FamilyReport, ...]:
    overlap, confused = family_overlap(card), confusability(card)
    targets = np.bincount(card.family_of, minlength=len(card.families))
    hands = np.bincount([hand.family for hand in card.hands], minlength=len(card.families))
    nearest = [card.families[int(row.argmax())] if row.any() else "" for row in overlap]
    return tuple(
        FamilyReport(name, int(hands[i]), int(targets[i]), float(confused[i]), nearest[i])
        for i, name in enumerate(card.families)
    )


def _shared(parts: Sequence[tuple[int, CardHand, HandTargets]]) -> tuple[SharedTargets, ...]:
    owners: dict[tuple[bool, bytes], list[int]] = {}
    for index, (_, line, targets) in enumerate(parts):
        for key in keys(targets.codes):
            owners.setdefault((line.concealed, key), []).append(index)
    counts: dict[tuple[int, int], int] = {}
    for found in owners.values():
        for place, first in enumerate(found):
            for second in found[place + 1 :]:
                counts[first, second] = counts.get((first, second), 0) + 1
    names = [line.name for _, line, _ in parts]
    sizes = [len(targets.codes) for _, _, targets in parts]
    return tuple(
        SharedTargets(names[a], names[b], n, _relation(n, sizes[a], sizes[b]))
        for (a, b), n in sorted(counts.items())
    )


def _relation(n_shared: int, n_first: int, n_second: int) -> str:
    if n_shared == n_first == n_second:
        return "identical"
    if n_shared == n_second:
        return "first contains second"
    return "second contains first" if n_shared == n_first else "overlap"


def _errors(card: Card, lines: Sequence[CardHand], hands: Sequence[HandReport]) -> tuple[str, ...]:
    found = []
    for line, hand in zip(lines, hands, strict=True):
        if hand.n_targets:
            continue
        if hand.n_shared:
            why = "every one of its targets stands under an earlier hand"
        else:
            why = "the tile set cannot supply any of its targets"
        found.append(f"{place_of(card, line)}: {why}")
    return tuple(found)


def _demand(card: CompiledCard) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    per_hand = [card.demand[card.hand_of == hand] for hand in np.unique(card.hand_of)]
    means = np.array([part.mean(axis=0) for part in per_hand])
    used = np.array([part.any(axis=0) for part in per_hand])
    return means.mean(axis=0), used.mean(axis=0)


def _shapes(card: CompiledCard) -> tuple[int, int]:
    small = ((card.group_size == 1) | (card.group_size == 2)).any(axis=1)
    n_hands = len(card.hands)
    has = np.bincount(card.hand_of, minlength=n_hands) > 0
    jokers = np.bincount(card.hand_of, weights=card.group_joker.any(axis=1), minlength=n_hands) > 0
    smalls = np.bincount(card.hand_of, weights=small, minlength=n_hands) > 0
    return int((has & ~jokers).sum()), int((has & ~smalls).sum())
