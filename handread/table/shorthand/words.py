"""Words of the shorthand, and a cursor over one line of it."""

from __future__ import annotations

import json
import re
from collections.abc import Iterable
from typing import Final

from handread.errors import ParseError, closest
from handread.tiles import FIRST_WIND, KINDS, parse_kind

SEAT_LETTERS: Final = "eswn"
SEAT_WORDS: Final = ("east", "south", "west", "north")
SIZES: Final = ("single", "pair", "pung", "kong", "quint", "sextet")
HEADINGS: Final = (
    "card", "title", "dealer", "viewer", "people", "unit", "hash", "format", "rule",
)  # fmt: skip
AMENDMENTS: Final = ("fix", "cut", "add", "undo")
TABLE_WORDS: Final = ("pass", "stop", "missed", "joined", "wall", "rack", "drew")
VERBS: Final = (
    "pung", "kong", "quint", "sextet", "claim", "redeem", "swap", "win", "maj", "dead", "correct",
    "reveal", "had", "rack", "drew", "absent", "error", "pair", "single",
)  # fmt: skip
#: What a letter stands for when several words begin with it.
FIRST_CHOICE: Final = {"p": "pung", "c": "claim", "l": "left"}
TILE_WORDS: Final = KINDS[FIRST_WIND:]

_TOKEN: Final = re.compile(r"\S+")
_AWKWARD: Final = re.compile(r"[\n\r]|(^|\s)#")
_SPACE: Final = re.compile(r"\s")
_NUMBER: Final = re.compile(r"[0-9]{1,9}")
_DECIMAL: Final = re.compile(r"[0-9]{1,300}(\.[0-9]{1,300})?(e[+-]?[0-9]{1,3})?")


def cut(text: str, most: int) -> str:
    """Text of at most so many characters, for messages.

    >>> cut("a very long word", 9)
    'a very...'
    """
    return text if len(text) <= most else text[: most - 3] + "..."


class WrongWord(Exception):
    """A word that cannot stand where it does; becomes a ParseError with the line's number."""

    def __init__(self, place: int, word: str | None, message: str) -> None:
        self.place, self.word, self.message = place, word, message
        super().__init__(message)

    def at_line(self, number: int) -> ParseError:
        """Error with line, place and word."""
        what = "the end" if self.word is None else repr(cut(self.word, 60))
        return ParseError(f"line {number}, place {self.place}, {what}: {cut(self.message, 600)}")


class Cursor:
    """One line of shorthand, word by word.

    Everything from a word that begins with ``#`` is the line's comment.
    """

    def __init__(self, text: str) -> None:
        self.text = text
        self.comment: str | None = None
        self.stop = len(text)
        self.words: list[tuple[str, int]] = []
        for match in _TOKEN.finditer(text):
            if match[0].startswith("#"):
                self.comment = unquote(text[match.start() + 1 :])
                self.stop = match.start()
                break
            self.words.append((match[0].lower(), match.start() + 1))
        self.at = 0

    def peek(self) -> str | None:
        """Next word, None at the end."""
        return self.words[self.at][0] if self.at < len(self.words) else None

    def wrong(self, message: str, back: int = 0) -> WrongWord:
        """Error about the next word, or the one `back` words before it."""
        at = self.at - back
        if 0 <= at < len(self.words):
            word, place = self.words[at]
            return WrongWord(place, word, message)
        return WrongWord(len(self.text.rstrip()) + 1, None, message)

    def take(self, accepted: str) -> str:
        """Next word; an error that says what was `accepted` if there is none."""
        word = self.peek()
        if word is None:
            raise self.wrong(f"the line ends too soon; accepted: {accepted}")
        self.at += 1
        return word

    def choose(self, words: Iterable[str], *, optional: bool = False) -> str | None:
        """Next word as the one of `words` that it begins; None, and no step, if optional."""
        names = list(words)
        word = self.peek()
        if word is None:
            if optional:
                return None
            raise self.wrong(f"the line ends too soon; accepted: {', '.join(names)}")
        found = [name for name in names if name.startswith(word)]
        if len(found) > 1:
            exact = word if word in found else FIRST_CHOICE.get(word, "")
            if exact not in found:
                which = " or ".join(found)
                raise self.wrong(f"could be {which}; write one letter more")
            found = [exact]
        if found:
            self.at += 1
            return found[0]
        if optional:
            return None
        raise self.wrong(closest(cut(word, 60), names))

    def seat(self, *, optional: bool = False) -> int | None:
        """Next word as a seat: its letter or its name."""
        word = self.peek()
        if word is not None and word in SEAT_LETTERS and len(word) == 1:
            self.at += 1
            return SEAT_LETTERS.index(word)
        if word in SEAT_WORDS:
            self.at += 1
            return SEAT_WORDS.index(word)
        if optional:
            return None
        raise self.wrong("no seat; accepted: e, s, w, n or the seat's name")

    def number(self, accepted: str) -> int:
        """Next word as a whole number."""
        word = self.take(accepted)
        if not _NUMBER.fullmatch(word):
            raise self.wrong(f"no number; accepted: {accepted}", back=1)
        return int(word)

    def is_number(self) -> bool:
        """Whether the next word is a whole number."""
        return bool(_NUMBER.fullmatch(self.peek() or ""))

    def decimal(self, accepted: str) -> float:
        """Next word as a number with or without decimals."""
        word = self.take(accepted)
        if not _DECIMAL.fullmatch(word) or float(word) == float("inf"):
            raise self.wrong(f"no number; accepted: {accepted}", back=1)
        return float(word)

    def tile(self) -> int:
        """Next one or two words as a tile."""
        word = self.take("a tile: a number and a suit (5 bam), or a word (red)")
        if not word.isascii() or not word.isdigit():
            try:
                return parse_kind(cut(word, 60))
            except ParseError as error:
                raise self.wrong(str(error), back=1) from None
        if word not in "123456789" or len(word) > 1:
            raise self.wrong("no tile has that number; accepted: 1 to 9 and a suit", back=1)
        suit = self.peek()
        if suit is None:
            words = f"{word} needs a suit after it; accepted: bam, crak, dot"
            raise self.wrong(words, back=1)
        self.at += 1
        try:
            return parse_kind(f"{word} {cut(suit, 60)}")
        except ParseError as error:
            raise self.wrong(str(error), back=1) from None

    def starts_tile(self) -> bool:
        """Whether the next word can begin a tile."""
        word = self.peek()
        if word is None:
            return False
        if word[0] in "0123456789" or word in ("soap", "bird"):
            return True
        return any(name.startswith(word) for name in TILE_WORDS)

    def tiles(self) -> tuple[int, ...]:
        """Tiles as long as words can begin one."""
        found = []
        while self.starts_tile():
            found.append(self.tile())
        return tuple(found)

    def raw_rest(self, accepted: str) -> str:
        """Whatever is left of the line up to its comment, as it was typed."""
        if self.at >= len(self.words):
            raise self.wrong(f"the line ends too soon; accepted: {accepted}")
        left = self.text[self.words[self.at][1] - 1 : self.stop]
        self.at = len(self.words)
        return left

    def rest(self, accepted: str) -> str:
        """Free words up to the end of the line or its comment."""
        return unquote(self.raw_rest(accepted))

    def end(self, accepted: str = "nothing more") -> None:
        """Fail if words are left over."""
        if self.peek() is not None:
            raise self.wrong(f"not understood here; accepted: {accepted}")


def quote(text: str) -> str:
    r"""Free words as they stand in a line: as they are, or quoted where that would not do.

    >>> quote("a fine game"), quote(" two\nlines")
    ('a fine game', '" two\\nlines"')
    """
    if text and text == text.strip() and text[0] != '"' and not _AWKWARD.search(text):
        return text
    return json.dumps(text).replace("#", "\\u0023")


def quote_word(text: str) -> str:
    r"""Free text as one word of a line; ``unquote`` takes it back.

    >>> quote_word("two words")
    '"two\\u0020words"'
    """
    quoted = quote(text)
    if quoted == text and text != "-" and not _SPACE.search(text):
        return text
    return json.dumps(text).replace("#", "\\u0023").replace(" ", "\\u0020")


def unquote(text: str) -> str:
    r"""Free words of a line; the reverse of ``quote``.

    >>> unquote(' "two\\nlines" ')
    'two\nlines'
    """
    stripped = text.strip()
    if len(stripped) > 1 and stripped[0] == stripped[-1] == '"':
        try:
            value = json.loads(stripped)
        except ValueError:
            return stripped
        return value if isinstance(value, str) else stripped
    return stripped
