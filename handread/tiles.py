"""The 152 tiles: 36 kinds in one fixed order, their words, counts and code points.

A kind is a plain ``int`` from 0 to 35; a set of tiles is an array of 36 counts.
Tiles are written in words (``5 bam``, ``red``, ``north``, ``flower``, ``joker``) or
in unique prefixes of those words (``5 b``, ``r``, ``n``, ``f``, ``j``).
"""

from __future__ import annotations

import re
from functools import lru_cache
from typing import Final

import numpy as np
from numpy.typing import NDArray

from handread.errors import ParseError, closest, is_whole

Counts = NDArray[np.uint8]

SUITS: Final = ("bam", "crak", "dot")
WINDS: Final = ("east", "south", "west", "north")
DRAGONS: Final = ("green", "red", "white")  # in the order of the suits that they match
KINDS: Final[tuple[str, ...]] = (
    *(f"{number} {suit}" for suit in SUITS for number in range(1, 10)),
    *WINDS,
    *DRAGONS,
    "flower",
    "joker",
)
N_KINDS: Final = len(KINDS)
FIRST_WIND: Final = 27
FIRST_DRAGON: Final = 31
WHITE: Final = 33
FLOWER: Final = 34
JOKER: Final = 35


def _copies() -> Counts:
    counts = np.full(N_KINDS, 4, dtype=np.uint8)
    counts[[FLOWER, JOKER]] = 8
    counts.flags.writeable = False
    return counts


#: Copies of each kind in the standard set of 152 tiles, shape (36,).
COPIES: Final[Counts] = _copies()

#: Most copies of a kind that a card may put into the set.
MOST_COPIES: Final = 16

_WHOLE_WORDS: Final = {"soap": WHITE, "bird": 0}
_SUIT_WORDS: Final = {
    "bams": "bam", "bamboo": "bam", "bamboos": "bam", "craks": "crak", "crack": "crak",
    "cracks": "crak", "character": "crak", "characters": "crak", "dots": "dot",
    "circle": "dot", "circles": "dot",
}  # fmt: skip
_NUMBERED: Final = re.compile(r"([1-9])\s+([a-z]+)")
_TIMES: Final = re.compile(r"([0-9]+)\s*(?:x|times|\*)\s+(.+)")


def kind_of(number: int, suit: int) -> int:
    """Kind of a suit tile.

    Parameters
    ----------
    number
        1 to 9.
    suit
        0 bam, 1 crak, 2 dot.

    Examples
    --------
    >>> KINDS[kind_of(5, 2)]
    '5 dot'
    """
    if not (1 <= number <= 9 and 0 <= suit <= 2):
        raise ParseError(f"no tile has number {number!r} and suit {suit!r}: 1 to 9 and 0 to 2")
    return suit * 9 + number - 1


def suit_of(kind: int) -> int | None:
    """Suit of a kind, 0 bam, 1 crak, 2 dot; None for winds, dragons, flower, joker.

    >>> suit_of(parse_kind("3 dot")), suit_of(parse_kind("red"))
    (2, None)
    """
    return kind // 9 if 0 <= kind < FIRST_WIND else None


def number_of(kind: int) -> int | None:
    """Number of a kind, 1 to 9; None for winds, dragons, flower, joker.

    >>> number_of(parse_kind("3 dot"))
    3
    """
    return kind % 9 + 1 if 0 <= kind < FIRST_WIND else None


def dragon_of(suit: int) -> int:
    """Kind of the dragon that matches a suit: green with bams, red with craks, white with dots.

    >>> KINDS[dragon_of(1)]
    'red'
    """
    return FIRST_DRAGON + suit


def is_wind_or_dragon(kind: int) -> bool:
    """Whether a kind is one of the four winds or three dragons."""
    return FIRST_WIND <= kind < FLOWER


def parse_kind(text: str) -> int:
    """Kind named by `text`: a tile's words or a unique prefix of them.

    Raises
    ------
    ParseError
        If no kind, or more than one, answers to `text`; the message says what would.

    Examples
    --------
    >>> parse_kind("5 bam"), parse_kind("5 b"), parse_kind("Red"), parse_kind("soap")
    (4, 4, 32, 33)
    """
    if not isinstance(text, str):
        raise ParseError(f"no tile {text!r}; accepted: a tile in words, such as '5 bam' or 'red'")
    return _parse_kind(text)


@lru_cache(maxsize=4096)
def _parse_kind(text: str) -> int:
    word = " ".join(text.lower().split())
    if word in _WHOLE_WORDS:
        return _WHOLE_WORDS[word]
    if numbered := _NUMBERED.fullmatch(word):
        number, suit = numbered.groups()
        suit = _SUIT_WORDS.get(suit, suit)
        found = [s for s in SUITS if s.startswith(suit)]
        if len(found) == 1:
            return kind_of(int(number), SUITS.index(found[0]))
        raise ParseError(f"no suit {suit!r} in tile {text!r}; {closest(suit, SUITS)}")
    words = KINDS[FIRST_WIND:]
    found = [name for name in words if name.startswith(word)] if word else []
    if len(found) == 1:
        return KINDS.index(found[0])
    if found:
        raise ParseError(f"tile {text!r} could be {' or '.join(found)}; write one letter more")
    said = closest(word, words)
    raise ParseError(f"no tile {text!r}; {said}; or a number and a suit, such as 5 bam")


def format_kind(kind: int) -> str:
    """Words of a kind; ``parse_kind`` takes them back.

    >>> format_kind(4)
    '5 bam'
    """
    if not (is_whole(kind) and 0 <= kind < N_KINDS):
        raise ParseError(f"no kind {kind!r}: kinds are 0 to {N_KINDS - 1}")
    return KINDS[kind]


def as_counts(kinds: list[int] | tuple[int, ...]) -> Counts:
    """Count kinds into an array of shape (36,).

    >>> int(as_counts([4, 4, 35])[4])
    2
    """
    return np.bincount(np.asarray(kinds, dtype=np.int64), minlength=N_KINDS).astype(np.uint8)


def parse_tiles(text: str, *, copies: NDArray[np.integer] | None = None) -> Counts:
    """Count the tiles of a list such as ``"2x 5 bam, red, flower"``.

    Tiles are separated by commas; ``2x`` before a tile repeats it, 1 to 16 times
    (``MOST_COPIES``).

    Parameters
    ----------
    text
        The list.
    copies
        Copies of each kind in the set, shape (36,), as a card's ``rules.copies``; None for the
        standard set.

    Returns
    -------
    Counts
        Copies of each kind, shape (36,).

    Raises
    ------
    ParseError
        If an entry is no tile or is repeated otherwise than 1 to 16 times, or a kind is
        counted more often than the set holds it.

    Examples
    --------
    >>> format_tiles(parse_tiles("red, 2x 5 bam, flower"))
    '2x 5 bam, red, flower'
    """
    if not isinstance(text, str):
        raise ParseError(f"no tiles {text!r}; accepted: a list in words, such as '2x 5 bam, red'")
    held_by_set = COPIES if copies is None else np.asarray(copies)
    if held_by_set.shape != (N_KINDS,):
        wanted = f"{N_KINDS}, one number for each kind, such as card.rules.copies"
        raise ParseError(f"copies of shape {held_by_set.shape}; accepted: {wanted}")
    kinds: list[int] = []
    for entry in (part.strip() for part in text.split(",")):
        if not entry:
            continue
        times = _TIMES.fullmatch(entry.lower())
        if times and not (len(times[1]) < 3 and 1 <= int(times[1]) <= MOST_COPIES):
            raise ParseError(f"{times[1]} times in {entry!r}; accepted: 1 to {MOST_COPIES} times")
        kinds += [parse_kind(times[2] if times else entry)] * (int(times[1]) if times else 1)
    counts = np.bincount(np.asarray(kinds, dtype=np.int64), minlength=N_KINDS)
    for kind in np.flatnonzero(counts > held_by_set):
        held = f"{counts[kind]} times {KINDS[kind]}"
        raise ParseError(f"{text!r} has {held}; the set has {held_by_set[kind]}")
    return counts.astype(np.uint8)


def format_tiles(counts: NDArray[np.integer]) -> str:
    """Words of an array of counts, in the order of kinds; ``parse_tiles`` takes them back.

    >>> format_tiles(as_counts([33, 33, 0]))
    '1 bam, 2x white'
    """
    shown = ((int(n), KINDS[kind]) for kind, n in enumerate(counts) if n)
    return ", ".join(f"{n}x {name}" if n > 1 else name for n, name in shown)


# The Unicode Standard, block Mahjong Tiles (U+1F000 to U+1F02F): winds, dragons in the
# order red, green, white, characters, bamboos, circles, four plants, four seasons, joker.
_BLOCK: Final = 0x1F000
_BLOCK_ORDER: Final[tuple[int, ...]] = (
    27, 28, 29, 30, 32, 31, 33,
    *range(9, 18), *range(0, 9), *range(18, 27),
    *[FLOWER] * 8, JOKER,
)  # fmt: skip
_TEXT_STYLE: Final = "\ufe0e"  # the red dragon alone would be drawn as an emoji


def from_unicode(text: str) -> list[int]:
    """Kinds of the code points of the Unicode block Mahjong Tiles in `text`.

    Plants and seasons are all the one kind flower; variation selectors and white space
    between tiles are passed over.

    Examples
    --------
    >>> [KINDS[kind] for kind in from_unicode("\U0001f007\U0001f022\U0001f02a")]
    ['1 crak', 'flower', 'joker']
    """
    kinds: list[int] = []
    for place, char in enumerate(text):
        index = ord(char) - _BLOCK
        if 0 <= index < len(_BLOCK_ORDER):
            kinds.append(_BLOCK_ORDER[index])
        elif not (char.isspace() or char in "\ufe0e\ufe0f"):
            accepted = "code points U+1F000 to U+1F02A are"
            raise ParseError(f"{char!r} at place {place} of {text!r} is no tile; {accepted}")
    return kinds


def to_unicode(kind: int) -> str:
    """Code point of a kind in the Unicode block Mahjong Tiles, in text style.

    >>> from_unicode(to_unicode(FLOWER)) == [FLOWER]
    True
    """
    format_kind(kind)
    return chr(_BLOCK + _BLOCK_ORDER.index(kind)) + _TEXT_STYLE
