"""A whole card as a value, and how it is written as a card file."""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from typing import Final

from handread.card.compiled import Rules
from handread.card.notation import SIZES, Block, Either, Group, Pattern, format_hand
from handread.tiles import COPIES, FLOWER, JOKER

#: What a hand pays where the card does not say.
USUAL_POINTS: Final = 25


@dataclass(frozen=True)
class ClubRules:
    """Tile set and rule parameters as a card states them.

    Attributes
    ----------
    jokers, flowers
        Copies in the set.
    hand_size
        Tiles of a finished hand.
    claimable
        Sizes of group that may be claimed for an exposure.
    """

    jokers: int = 8
    flowers: int = 8
    hand_size: int = 14
    claimable: tuple[int, ...] = (3, 4, 5, 6)

    def compiled(self) -> Rules:
        """The same as arrays."""
        copies = COPIES.copy()
        copies[JOKER], copies[FLOWER] = self.jokers, self.flowers
        copies.flags.writeable = False
        return Rules(copies, self.hand_size, self.claimable)


@dataclass(frozen=True)
class CardHand:
    """One hand as a card file writes it; `line` is where its tiles stand, 0 where unknown."""

    name: str
    pattern: Pattern
    concealed: bool = False
    points: int = USUAL_POINTS
    note: str = ""
    line: int = field(default=0, compare=False)


@dataclass(frozen=True)
class Family:
    """Hands that the card's author puts under one heading."""

    name: str
    hands: tuple[CardHand, ...]
    note: str = ""


@dataclass(frozen=True)
class Card:
    """A card as its author writes it.

    Attributes
    ----------
    name
        Title.
    families
        In the author's order.
    rules
        Tile set and rule parameters.
    note
        Free words; no part of the card's content.
    source
        Name of the file, for errors; no part of the card's content.
    """

    name: str
    families: tuple[Family, ...]
    rules: ClubRules = ClubRules()
    note: str = ""
    source: str = field(default="card", compare=False)


def without_jokers(pattern: Pattern) -> Pattern:
    """The same pattern with jokers barred from every group."""

    def barred(part: Group | Block) -> Group | Block:
        return replace(part, barred=part.size > 2) if isinstance(part, Group) else part

    groups = tuple(
        Either(tuple(tuple(barred(piece) for piece in branch) for branch in part.branches))
        if isinstance(part, Either)
        else barred(part)
        for part in pattern.groups
    )
    return replace(pattern, groups=groups)


def format_card(card: Card) -> str:
    """Write a card as a card file; ``parse_card`` takes it back.

    >>> from handread.card import parse_card, read_card
    >>> card = read_card("house")
    >>> parse_card(format_card(card)) == card
    True
    """
    rules = card.rules
    sizes = ", ".join(f'"{SIZES[size - 1]}"' for size in rules.claimable)
    lines = [f"name = {_quoted(card.name)}", *_note(card.note), "", "[rules]"]
    lines += [f"jokers = {rules.jokers}", f"flowers = {rules.flowers}"]
    lines += [f"hand_size = {rules.hand_size}", f"claimable = [{sizes}]"]
    for family in card.families:
        lines += ["", "[[family]]", f"name = {_quoted(family.name)}", *_note(family.note)]
        for hand in family.hands:
            lines += ["", "[[family.hand]]", f"name = {_quoted(hand.name)}"]
            lines += [f"tiles = {_quoted(format_hand(hand.pattern))}"]
            lines += ["concealed = true"] * hand.concealed
            lines += [f"points = {hand.points}", *_note(hand.note)]
    return "\n".join(lines) + "\n"


def _note(note: str) -> list[str]:
    return [f"note = {_quoted(note)}"] if note else []


def _quoted(text: str) -> str:
    escaped = text.replace("\\", "\\\\").replace('"', '\\"')
    return '"' + "".join(c if c.isprintable() else f"\\U{ord(c):08x}" for c in escaped) + '"'
