"""The errors that users meet: a small family under ``ValueError``.

A message always holds the ``repr`` of the input, the place, and what would have
been accepted.
"""

from __future__ import annotations

import difflib
import numbers
from collections.abc import Iterable


class HandreadError(ValueError):
    """Base of every error that handread raises about its input."""


class ParseError(HandreadError):
    """A text that cannot be read: a tile, a card, a line of shorthand, a record."""


class IllegalEvent(HandreadError):
    """An event that cannot have happened at this table."""


class ImpossibleEvidence(HandreadError):
    """Evidence to which the model gives probability zero."""


def closest(word: str, accepted: Iterable[str], most: int = 3) -> str:
    """Say what would have been accepted instead of `word`, nearest spelling first.

    Parameters
    ----------
    word
        What was written.
    accepted
        Every spelling that would have been taken.
    most
        How many to name.

    Returns
    -------
    str
        For example ``"did you mean 'crak'? accepted: bam, crak, dot"``.

    Examples
    --------
    >>> closest("crack", ["bam", "crak", "dot"])
    "did you mean 'crak'? accepted: bam, crak, dot"
    """
    names = list(dict.fromkeys(accepted))
    near = difflib.get_close_matches(word.lower(), names, n=most, cutoff=0.6)
    hint = "did you mean " + " or ".join(repr(name) for name in near) + "? " if near else ""
    shown = names if len(names) <= 12 else [*names[:12], "..."]
    return f"{hint}accepted: {', '.join(shown)}"


def is_whole(value: object) -> bool:
    """Whether a value is a whole number: an int or an integer of numpy, no boolean.

    >>> is_whole(3), is_whole("3"), is_whole(3.0), is_whole(True)
    (True, False, False, False)
    """
    if type(value) is int:  # of nearly all, in the least time
        return True
    return isinstance(value, numbers.Integral) and not isinstance(value, bool)
