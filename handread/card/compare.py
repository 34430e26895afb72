"""What changed from one card to another."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from handread.card.compile import keys, pack
from handread.card.compiled import CompiledCard, Hand, Rules
from handread.card.notation import SIZES
from handread.tiles import KINDS


@dataclass(frozen=True)
class HandChange:
    """A hand that is on both cards and not the same; `what` says how, in words."""

    name: str
    what: tuple[str, ...]


@dataclass(frozen=True)
class CardDiff:
    """What ``card_diff`` finds.

    Attributes
    ----------
    card
        Changes of title, rules and families, in words.
    added, removed
        Names of hands that only the second, only the first card has.
    renamed
        Hands with the same targets under another name: old name, new name.
    changed
        Hands on both cards that differ.
    n_same
        Hands that are the same on both.
    """

    card: tuple[str, ...]
    added: tuple[str, ...]
    removed: tuple[str, ...]
    renamed: tuple[tuple[str, str], ...]
    changed: tuple[HandChange, ...]
    n_same: int

    @property
    def is_empty(self) -> bool:
        """Whether the two cards are the same."""
        return not (self.card or self.added or self.removed or self.renamed or self.changed)


def card_diff(before: CompiledCard, after: CompiledCard) -> CardDiff:
    """Say what changed from one card to another.

    Hands are matched by name, then those left over by their targets.

    Parameters
    ----------
    before, after
        The cards.

    Examples
    --------
    >>> from handread.card import house_card
    >>> card_diff(house_card(), house_card()).is_empty
    True
    """
    old, new = _contents(before), _contents(after)
    both = [name for name in old if name in new]
    removed = [name for name in old if name not in new]
    added = [name for name in new if name not in old]
    renamed: list[tuple[str, str]] = []
    for name in list(removed):
        same = [other for other in added if new[other][1] == old[name][1] and old[name][1]]
        if same:
            renamed.append((name, same[0]))
            removed.remove(name)
            added.remove(same[0])
    changes = [HandChange(name, _hand_changes(name, before, after, old, new)) for name in both]
    changed = tuple(change for change in changes if change.what)
    return CardDiff(
        _card_changes(before, after),
        tuple(added),
        tuple(removed),
        tuple(renamed),
        changed,
        len(both) - len(changed),
    )


_Contents = dict[str, tuple[Hand, frozenset[bytes]]]


def _contents(card: CompiledCard) -> _Contents:
    found: dict[int, set[bytes]] = {}
    codes = pack(card.group_kind, card.group_size, card.group_joker)
    for hand, key in zip(card.hand_of.tolist(), keys(codes), strict=True):
        found.setdefault(hand, set()).add(key)
    return {
        hand.name: (hand, frozenset(found.get(index, ()))) for index, hand in enumerate(card.hands)
    }


def _hand_changes(
    name: str, before: CompiledCard, after: CompiledCard, old: _Contents, new: _Contents
) -> tuple[str, ...]:
    (was, targets_were), (now, targets_are) = old[name], new[name]
    words = []
    family_was, family_is = before.families[was.family], after.families[now.family]
    if family_was != family_is:
        words.append(f"family {family_was!r} to {family_is!r}")
    if was.words != now.words:
        words.append(f"tiles {was.words!r} to {now.words!r}")
    if targets_were != targets_are:
        gained, lost = len(targets_are - targets_were), len(targets_were - targets_are)
        words.append(f"targets {len(targets_were)} to {len(targets_are)} (+{gained}, -{lost})")
    if was.concealed != now.concealed:
        words.append("open to concealed" if now.concealed else "concealed to open")
    if was.points != now.points:
        words.append(f"points {was.points} to {now.points}")
    return tuple(words)


def _card_changes(before: CompiledCard, after: CompiledCard) -> tuple[str, ...]:
    words = []
    if before.name != after.name:
        words.append(f"title {before.name!r} to {after.name!r}")
    words += _rule_changes(before.rules, after.rules)
    gone = [name for name in before.families if name not in after.families]
    come = [name for name in after.families if name not in before.families]
    words += [f"family {name!r} is gone" for name in gone]
    words += [f"family {name!r} is new" for name in come]
    return tuple(words)


def _rule_changes(before: Rules, after: Rules) -> list[str]:
    words = [
        f"copies of {KINDS[kind]} {before.copies[kind]} to {after.copies[kind]}"
        for kind in np.flatnonzero(before.copies != after.copies)
    ]
    if before.hand_size != after.hand_size:
        words.append(f"hand size {before.hand_size} to {after.hand_size}")
    if before.claimable != after.claimable:
        words.append(f"claimable {_sizes(before)} to {_sizes(after)}")
    return words


def _sizes(rules: Rules) -> str:
    return ", ".join(SIZES[size - 1] for size in rules.claimable)
