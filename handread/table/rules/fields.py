"""What the fields of an event may hold, whatever the table: seats, kinds, sizes, counts."""

from __future__ import annotations

import contextlib
import math
import numbers
from collections.abc import Callable
from functools import lru_cache
from typing import Any, Final

import msgspec
import numpy as np

from handread.errors import ParseError, is_whole
from handread.table.events import SEATS, Event, seat_named
from handread.table.state import TableState
from handread.tiles import JOKER, parse_kind

_ROWS: Final = (tuple, list, np.ndarray)

_Wrong = Callable[[TableState, str, Any], str | None]


def wrong_field(state: TableState, event: Event) -> str | None:
    """What is wrong with the first field that cannot hold what it holds; None if all can.

    >>> from handread.table import start
    >>> from handread.table.events import Discard
    >>> wrong_field(start(), Discard("East", 4))
    "no seat 'East'; accepted: 0 to 3, East first, so East is 0"
    >>> wrong_field(start(), Discard(0, 4)) is None
    True
    """
    for name, default, most, wrong in _checked(type(event)):
        value = getattr(event, name)
        if value is default or (type(value) is int and 0 <= value <= most):
            continue  # nearly all, in the least time
        words = wrong(state, name, value)
        if words is not None:
            return words
    return None


def _seat(state: TableState, name: str, value: Any) -> str | None:
    if is_whole(value) and 0 <= value < 4:
        return None
    hint = ""
    if isinstance(value, str):
        with contextlib.suppress(ParseError):
            hint = f", so {SEATS[seat_named(value)]} is {seat_named(value)}"
    what = "" if name == "seat" else f" as {name}"
    return f"no seat {value!r}{what}; accepted: 0 to 3, East first{hint}"


def _kind(state: TableState, name: str, value: Any) -> str | None:
    if is_whole(value) and 0 <= value <= JOKER:
        return None
    hint = "as hr.parse_kind('5 bam') gives"
    if isinstance(value, str):
        try:
            hint = f"and hr.parse_kind({value!r}) is {parse_kind(value)}"
        except ParseError as error:
            hint = f"{hint}; {error}"
    return f"no kind {value!r}; accepted: 0 to {JOKER}, {hint}"


def _kinds(state: TableState, name: str, value: Any) -> str | None:
    if not isinstance(value, _ROWS):
        accepted = "a tuple of kinds, each as hr.parse_kind('5 bam') gives"
        return f"{name} are {value!r}; accepted: {accepted}"
    return next((words for each in value if (words := _kind(state, name, each))), None)


def _size(state: TableState, name: str, value: Any) -> str | None:
    """A group larger than any copies of one kind; smaller ones may be a breach, not a slip."""
    if is_whole(value) and 1 <= value <= state.rules.copies.max():
        return None
    return f"no group of {value!r}; accepted: {', '.join(map(str, state.rules.claimable))}"


def _count(state: TableState, name: str, value: Any) -> str | None:
    least = 1 if name == "turns" else 0
    if is_whole(value) and value >= least:
        return None
    return f"{name} {value!r}; accepted: {least} or more, a whole number"


def _counts(state: TableState, name: str, value: Any) -> str | None:
    if not isinstance(value, _ROWS) or not all(map(is_whole, value)):
        return f"{name} {value!r}: four numbers, 0 to 3, East first"
    return None


def _pause(state: TableState, name: str, value: Any) -> str | None:
    number = isinstance(value, numbers.Real) and not isinstance(value, bool)
    if number and 0 <= value < math.inf:
        return None
    return (
        f"pause {value!r}; accepted: a number, 0 or more, in the record's unit; None if not timed"
    )


def _flag(state: TableState, name: str, value: Any) -> str | None:
    if isinstance(value, bool | np.bool_):
        return None
    also = "; None if not noted" if name == "drawn" else ""
    return f"{name} {value!r}; accepted: True or False{also}"


#: Check of each field by name, and the largest int that is right without asking it.
_CHECKS: Final[dict[str, tuple[int, _Wrong]]] = {
    **dict.fromkeys(("seat", "owner", "caller"), (3, _seat)),
    **dict.fromkeys(("tiles", "floor", "given", "received", "rack"), (-1, _kinds)),
    **dict.fromkeys(("blind", "counts"), (-1, _counts)),
    **dict.fromkeys(("jokers", "wall"), (999, _count)),
    **dict.fromkeys(("drawn", "lost", "early", "returned", "shown", "claimed"), (-1, _flag)),
    "turns": (-1, _count),
    "kind": (JOKER, _kind),
    "size": (-1, _size),
    "pause": (999, _pause),
}


@lru_cache(maxsize=64)
def _checked(event: type[Event]) -> tuple[tuple[str, Any, int, _Wrong], ...]:
    """Field, its default, the largest int that is right unasked, and its check."""
    return tuple(
        (field.name, field.default, *_CHECKS[field.name])
        for field in msgspec.structs.fields(event)
        if field.name in _CHECKS
    )
