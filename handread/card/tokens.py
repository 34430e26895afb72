"""Words of a hand one by one, each with its place, and the errors that point at them."""

from __future__ import annotations

import re
from collections.abc import Iterable
from typing import Final

from handread.card.notation import Number
from handread.errors import ParseError, closest

#: Longest text of one hand, in characters.
LONGEST_HAND: Final = 2000
_WORD: Final = re.compile(r"[^\W_]+|\S")


class CardError(ParseError):
    """A card that cannot be read.

    Attributes
    ----------
    problem
        What is wrong, without the place.
    offset
        Place of the word in the text of the hand, in characters; None where unknown.
    """

    def __init__(self, problem: str, *, place: str = "", offset: int | None = None) -> None:
        self.problem = problem
        self.place = place
        self.offset = offset
        super().__init__(f"{place}: {problem}" if place else problem)


class Tokens:
    """The words of one hand, with a place to stand.

    Parameters
    ----------
    text
        The words of a hand.

    Raises
    ------
    CardError
        If the text is longer than ``LONGEST_HAND``.
    """

    def __init__(self, text: str) -> None:
        if len(text) > LONGEST_HAND:
            raise CardError(
                f"{text[:40]!r}... has {len(text)} characters; a hand has at most {LONGEST_HAND}"
            )
        found = list(_WORD.finditer(text))
        self._words = [_plain(match[0]) for match in found]
        self._offsets = [match.start() for match in found]
        self._end = len(text)
        self._at = 0
        self._what = "group"
        self._counts = {"group": 0, "condition": 0}
        self._letters: list[tuple[str, int, str, int]] = []

    @property
    def word(self) -> str:
        """The word at the present place, empty at the end."""
        return self._words[self._at] if self._at < len(self._words) else ""

    @property
    def ahead(self) -> str:
        """The word after the present one, empty at the end."""
        return self._words[self._at + 1] if self._at + 1 < len(self._words) else ""

    @property
    def at(self) -> int:
        """Number of words read so far."""
        return self._at

    @property
    def at_end(self) -> bool:
        """Whether every word has been read."""
        return self._at >= len(self._words)

    @property
    def at_number(self) -> bool:
        """Whether a number or a letter for one begins here."""
        word = self.word
        mixed = word.isalnum() and not word.isalpha() and not word.isdigit()
        return word.isdigit() or mixed or _is_letter(word)

    def begin(self, what: str) -> None:
        """Note that the next group or condition begins here."""
        self._what = what
        self._counts[what] += 1

    def step(self) -> str:
        """Read one word."""
        word = self.word
        self._at += 1
        return word

    def take(self, word: str) -> bool:
        """Read `word` if it stands here; say whether it did."""
        if self.word != word:
            return False
        self._at += 1
        return True

    def skip(self, *words: str) -> None:
        """Pass over filling words."""
        while self.word in words and self.word:
            self._at += 1

    def need(self, word: str, why: str) -> None:
        """Read `word`, or fail and say why it is needed."""
        if not self.take(word):
            raise self.error(f"cannot stand here: {word!r} {why}", (word,))

    def error(self, problem: str, accepted: Iterable[str], at: int | None = None) -> CardError:
        """Return an error that points at the present word, or at word number `at`."""
        return self._error_at(self._at if at is None else at, problem, accepted)

    def _error_at(self, at: int, problem: str, accepted: Iterable[str]) -> CardError:
        ended = at >= len(self._words)
        word = "" if ended else self._words[at]
        place = f"{self._what} {self._counts[self._what]}"
        before = sum(other.isalnum() for other in self._words[: at + 1])
        if ended:
            shown = "the end of the hand"
        elif word.isalnum():
            shown = f"word {before}, {word[:40]!r},"
        else:
            shown = f"{word!r} after word {before}"
        offset = self._end if ended else self._offsets[at]
        return CardError(
            f"{shown} {problem}; {closest(word, accepted)}", place=place, offset=offset
        )

    def number(self) -> Number:
        """Read a sum of numbers and letters."""
        start = self._at
        constant = 0
        factors: dict[str, int] = {}
        sign = 1
        while True:
            letter, value = self._term()
            if letter:
                factors[letter] = factors.get(letter, 0) + sign * value
            else:
                constant += sign * value
            if self.word not in ("+", "-"):
                break
            sign = 1 if self.step() == "+" else -1
        if max(abs(constant), *map(abs, factors.values()), 0) > 99:
            raise self._error_at(start, "begins a sum that is too large", ("sums up to 99",))
        terms = tuple((name, factors[name]) for name in sorted(factors) if factors[name])
        return Number(constant, terms)

    def count(self) -> int:
        """Read a plain number from 0 to 99."""
        word = self.word
        if word.isalnum() and not word.isalpha() and not word.isdigit():
            raise self.error("runs figures and letters together", ("5 bam", "n + 1", "2 times n"))
        if not (word.isdigit() and word.isascii() and len(word) <= 2):
            raise self.error("is no number here", ("0 to 99",))
        return int(self.step())

    def letter(self) -> str:
        """Read a letter that stands for a number."""
        if not _is_letter(self.word):
            raise self.error("is no letter for a number", ("n", "m", "any letter but a"))
        self._letters.append((self.word, self._at, self._what, self._counts[self._what]))
        return self.step()

    def _term(self) -> tuple[str, int]:
        if _is_letter(self.word):
            return self.letter(), 1
        value = self.count()
        return (self.letter(), value) if self.take("times") else ("", value)

    def check_letters(self, used: set[str]) -> None:
        """Fail if a condition speaks of a letter that stands on no tile."""
        for letter, at, what, count in self._letters:
            if what == "condition" and letter not in used:
                self._what, self._counts[what] = what, count
                accepted = sorted(used) or ["a letter that stands on a tile"]
                raise self._error_at(at, "stands on no tile of this hand", accepted)


def _plain(word: str) -> str:
    lower = word.lower()
    return "-" if lower in ("\u2212", "\u2013") else lower


def _is_letter(word: str) -> bool:
    return len(word) == 1 and "b" <= word <= "z"
