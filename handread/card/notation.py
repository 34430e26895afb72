"""A hand as a value: groups of tiles, variables, conditions; and its words.

A teacher writes ``"pair of n in one suit, kong of n + 1 in the other suit"``; this module
holds what such words mean, as frozen values, and writes them back in one fixed form.
``handread.card.grammar`` reads them.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from itertools import product
from math import prod
from typing import Final

from handread.errors import ParseError
from handread.tiles import KINDS

#: Words for the sizes of a group, single to sextet.
SIZES: Final = ("single", "pair", "pung", "kong", "quint", "sextet")
#: Suit variables: always different suits within one hand.
SUIT_VARIABLES: Final = ("one", "other", "third")
#: Wind variables: always different winds within one hand.
WIND_VARIABLES: Final = ("one", "other", "third", "last")
#: Dragon variables: always different dragons within one hand.
DRAGON_VARIABLES: Final = ("one", "other", "third")
#: What may be said of two numbers after ``where``.
RELATIONS: Final = ("is", "is not", "is above", "is below", "is at least", "is at most")


@dataclass(frozen=True)
class Number:
    """A sum of number variables and a constant, such as ``n + 1`` or ``10 - n``.

    Attributes
    ----------
    constant
        What is added to the variables.
    terms
        Variable and its factor, in alphabetical order, no factor zero.
    """

    constant: int
    terms: tuple[tuple[str, int], ...] = ()

    @property
    def variables(self) -> tuple[str, ...]:
        """Letters that occur."""
        return tuple(name for name, _ in self.terms)


@dataclass(frozen=True)
class NumberTile:
    """A suit tile; `suit` is bam, crak, dot, a suit variable, or any. Number 0 is white."""

    number: Number
    suit: str


@dataclass(frozen=True)
class NamedTile:
    """A wind, a dragon or the flower by name; `kind` as in ``handread.tiles``."""

    kind: int


@dataclass(frozen=True)
class WindTile:
    """A wind that the player chooses; `which` is a wind variable or any."""

    which: str


@dataclass(frozen=True)
class DragonTile:
    """A dragon that the player chooses; `which` is a dragon variable or any."""

    which: str


@dataclass(frozen=True)
class SuitDragon:
    """A dragon tied to a suit.

    Attributes
    ----------
    relation
        ``"own"`` for the dragon that matches the suit, ``"opposite"`` for one of the two
        that do not (the same one throughout the hand), ``"other opposite"`` for the second.
    suit
        bam, crak, dot or a suit variable.
    """

    relation: str
    suit: str


Tile = NumberTile | NamedTile | WindTile | DragonTile | SuitDragon


@dataclass(frozen=True)
class Group:
    """`size` tiles alike; `barred` where jokers may not stand although the size allows them."""

    size: int
    tile: Tile
    barred: bool = False


@dataclass(frozen=True)
class Block:
    """Different tiles side by side, each needed once and never a joker; choices that make two of
    them alike are left out.
    """

    tiles: tuple[Tile, ...]


@dataclass(frozen=True)
class Either:
    """Two or more ways to build one part of a hand."""

    branches: tuple[tuple[Group | Block, ...], ...]


@dataclass(frozen=True)
class Range:
    """``n from low to high by step but not these``."""

    variable: str
    low: int
    high: int
    step: int = 1
    without: tuple[int, ...] = ()


@dataclass(frozen=True)
class Compare:
    """A relation of ``RELATIONS`` between `left` and one or more numbers, read as "or"."""

    left: Number
    relation: str
    right: tuple[Number, ...]


@dataclass(frozen=True)
class Parity:
    """``n is odd`` or ``n is even``."""

    left: Number
    odd: bool


@dataclass(frozen=True)
class ZeroIsWhite:
    """``0 is white``: a number that comes to 0 is the white dragon, beside any suit."""


Condition = Range | Compare | Parity | ZeroIsWhite


@dataclass(frozen=True)
class Pattern:
    """What one hand of a card asks for: its groups in order and the conditions on its numbers."""

    groups: tuple[Group | Block | Either, ...]
    where: tuple[Condition, ...] = ()

    def ways(self) -> Iterator[Way]:
        """Ways through the hand's alternatives, blocks written out as singles."""
        choices = [
            part.branches if isinstance(part, Either) else ((part,),) for part in self.groups
        ]
        for chosen in product(*choices):
            yield _way(tuple(part for branch in chosen for part in branch))

    @property
    def n_ways(self) -> int:
        """Number of ways that ``ways`` would give."""
        return prod(len(part.branches) for part in self.groups if isinstance(part, Either))


@dataclass(frozen=True)
class Way:
    """A hand with its alternatives chosen.

    Attributes
    ----------
    groups
        The groups, the tiles of a block as singles.
    blocks
        For each block the places of its tiles in `groups`: first, and one past the last.
    """

    groups: tuple[Group, ...]
    blocks: tuple[tuple[int, int], ...] = ()


def _way(parts: tuple[Group | Block, ...]) -> Way:
    groups: list[Group] = []
    blocks: list[tuple[int, int]] = []
    for part in parts:
        if isinstance(part, Block):
            blocks.append((len(groups), len(groups) + len(part.tiles)))
            groups += [Group(1, tile) for tile in part.tiles]
        else:
            groups.append(part)
    return Way(tuple(groups), tuple(blocks))


def format_number(number: Number) -> str:
    """Words of a number, such as ``n + 1``, ``10 - n`` or ``2 times n``.

    >>> format_number(Number(10, (("n", -1),)))
    '10 - n'
    """
    signed = [(factor, _term(name, abs(factor))) for name, factor in number.terms]
    parts = [(1, text) for factor, text in signed if factor > 0]
    if number.constant > 0 or (number.constant == 0 and not parts):
        parts.append((1, str(number.constant)))
    parts += [(-1, text) for factor, text in signed if factor < 0]
    if number.constant < 0:
        parts.append((-1, str(-number.constant)))
    if parts[0][0] < 0:
        parts.insert(0, (1, "0"))
    first, *rest = parts
    return first[1] + "".join(f" {'+' if sign > 0 else '-'} {text}" for sign, text in rest)


def _term(name: str, factor: int) -> str:
    return name if factor == 1 else f"{factor} times {name}"


def format_suit(suit: str) -> str:
    """Words of a suit or suit variable, as they stand after a number.

    >>> format_suit("bam"), format_suit("other")
    ('bam', 'in the other suit')
    """
    if suit in ("bam", "crak", "dot"):
        return suit
    return f"in {_article(suit)}{suit} suit"


def _article(which: str) -> str:
    return "the " if which in ("other", "third", "last") else ""


def format_tile(tile: Tile) -> str:
    """Words of one tile of a hand.

    >>> format_tile(SuitDragon("own", "one"))
    'the dragon of one suit'
    """
    match tile:
        case NumberTile(number, suit):
            return f"{format_number(number)} {format_suit(suit)}"
        case NamedTile(kind):
            return KINDS[kind]
        case WindTile(which):
            return f"{_article(which)}{which} wind"
        case DragonTile(which):
            return f"{_article(which)}{which} dragon"
        case SuitDragon(relation, suit):
            of = suit if suit in ("bam", "crak", "dot") else f"{_article(suit)}{suit} suit"
            return f"the {'' if relation == 'own' else relation + ' '}dragon of {of}"


def format_group(part: Group | Block | Either) -> str:
    """Words of one part of a hand.

    >>> format_group(Group(3, NamedTile(32), barred=True))
    'pung of red without jokers'
    """
    match part:
        case Group(size, tile, barred):
            bar = " without jokers" if barred else ""
            return f"{SIZES[size - 1]} of {format_tile(tile)}{bar}"
        case Block(tiles):
            return f"block of ({', '.join(_format_block(tiles))})"
        case Either(branches):
            return "either " + " or ".join(_format_branch(branch) for branch in branches)


def _format_block(tiles: tuple[Tile, ...]) -> Iterator[str]:
    for tile, after in zip(tiles, (*tiles[1:], None), strict=True):
        match tile, after:
            case NumberTile(number, suit), NumberTile(_, same) if suit == same:
                yield format_number(number)  # the suit is said with the last of them
            case _:
                yield format_tile(tile)


def _format_branch(branch: tuple[Group | Block, ...]) -> str:
    words = ", ".join(format_group(part) for part in branch)
    return words if len(branch) == 1 else f"({words})"


def format_condition(condition: Condition) -> str:
    """Words of one condition.

    >>> format_condition(Range("n", 1, 7, 2, (5,)))
    'n from 1 to 7 by 2 but not 5'
    """
    match condition:
        case Range(variable, low, high, step, without):
            by = f" by {step}" if step != 1 else ""
            but = f" but not {' or '.join(map(str, without))}" if without else ""
            return f"{variable} from {low} to {high}{by}{but}"
        case Compare(left, relation, right):
            return f"{format_number(left)} {relation} {' or '.join(map(format_number, right))}"
        case Parity(left, odd):
            return f"{format_number(left)} is {'odd' if odd else 'even'}"
        case ZeroIsWhite():
            return "0 is white"


def format_hand(pattern: Pattern) -> str:
    """Words of a hand, in the one fixed form; ``parse_hand`` takes them back.

    Raises
    ------
    ParseError
        If the pattern has no groups.

    Examples
    --------
    >>> from handread.card import parse_hand
    >>> format_hand(parse_hand("kong n one suit, kong 10-n other suit, sextet flowers"))
    'kong of n in one suit, kong of 10 - n in the other suit, sextet of flower'
    """
    if not pattern.groups:
        raise ParseError(f"{pattern!r} has no groups; a hand needs at least one")
    words = ", ".join(format_group(part) for part in pattern.groups)
    if pattern.where:
        words += " where " + ", ".join(format_condition(part) for part in pattern.where)
    return words
