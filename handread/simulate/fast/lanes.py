"""Eight targets at a time: the ways of a seat are one byte each, and eight of them one word.

A byte says how many tiles are missing bare (high half) and how many open (low half). All that is
worked out here for a byte stays below 128, so that the top bit of each tells the outcome of a
comparison and nothing is carried into the next.
"""

from __future__ import annotations

from typing import Any

import numpy as np

from handread.simulate.fast.compiled import compiled, inlined, lowest_bit
from handread.simulate.fast.layout import NONE, word

_EACH = np.uint64(0x0101010101010101)
_TOPS = np.uint64(0x8080808080808080)
_LOWS = np.uint64(0x0F0F0F0F0F0F0F0F)
_FOUR, _SEVEN = np.uint64(4), np.uint64(7)
_ZERO, _ONE, _BYTE = np.uint64(0), np.uint64(1), np.uint64(255)
#: Largest number that a byte can be compared with.
MOST = 127
#: Largest cost of a missing tile, and of a target beside: 15 tiles and it stay below MOST.
STEEPEST = 6
MOST_EXTRA = 36


@inlined
def in_each(number: int) -> Any:
    """The same number, 0 to 127, in each byte."""
    return np.uint64(number) * _EACH


@inlined
def _beyond(codes: Any, jokers: Any) -> Any:
    """Tiles missing open for which there is no joker."""
    over = ((codes & _LOWS) | _TOPS) - jokers
    kept = over & _TOPS
    return over & (kept - (kept >> _SEVEN))


@compiled
def nearest(words: Any, jokers: int) -> int:
    """Fewest tiles short by some codes, eight a word."""
    held, least = in_each(min(jokers, 15)), in_each(MOST)
    for i in range(len(words)):
        short = ((words[i] >> _FOUR) & _LOWS) + _beyond(words[i], held)
        fewer = ((least | _TOPS) - short) & _TOPS
        fewer = (fewer - (fewer >> _SEVEN)) | fewer
        least = (short & fewer) | (least & ~fewer)
    found = word(MOST)
    for i in range(8):
        found = min(found, word((least >> np.uint64(8 * i)) & _BYTE))
    return found


@compiled
def any_within(words: Any, jokers: int, farthest: int) -> bool:
    """Whether any target is short of no more than `farthest` tiles; words come in eights."""
    held, limit = in_each(min(jokers, 15)), in_each(farthest) | _TOPS
    for first in range(0, len(words), 8):
        hits = _ZERO
        for i in range(first, first + 8):
            hits |= limit - (((words[i] >> _FOUR) & _LOWS) + _beyond(words[i], held))
        if hits & _TOPS != _ZERO:
            return True
    return False


@compiled
def find(
    words: Any, extra: Any, jokers: int, of_bare: int, of_open: int, most: int, hits: Any
) -> None:  # fmt: skip
    """Mark in the top bits of `hits` which targets cost `most` at most.

    A tile missing bare costs `of_bare`, one missing open and without a joker `of_open`, STEEPEST
    at most, and the target itself `extra`, MOST_EXTRA at most.
    """
    held, top = in_each(min(jokers, 15)), _TOPS if most >= 0 else _ZERO
    bare, opened = np.uint64(of_bare), np.uint64(of_open)
    limit = in_each(max(min(most, MOST), 0)) | _TOPS
    for i in range(len(words)):
        codes = words[i]
        cost = ((codes >> _FOUR) & _LOWS) * bare + _beyond(codes, held) * opened
        hits[i] = (limit - (cost + extra[i])) & top


@compiled
def list_hits(hits: Any, n: int, more: int, found: Any) -> int:
    """List in order those of n targets that are marked, and target `more`; returns how many.

    `more` is -1 for none.
    """
    if more >= 0:
        hits[more >> 3] |= np.uint64(128) << np.uint64(8 * (more & 7))
    count = NONE
    for i in range(len(hits)):
        bits = hits[i]
        while bits != _ZERO:
            g = 8 * i + (lowest_bit(bits) >> 3)
            bits &= bits - _ONE
            if g < n:
                found[count] = g
                count += 1
    return count
