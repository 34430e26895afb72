"""Checks of what callers hand over; the messages say what would have been accepted."""

from __future__ import annotations

import operator
import reprlib
from collections.abc import Iterable, Mapping, Set
from typing import Final

from handread.errors import HandreadError, ParseError
from handread.tiles import JOKER, KINDS, N_KINDS, parse_kind

SEATS: Final = ("East", "South", "West", "North")
MOST_IN_A_ROW: Final = 30
MOST_IN_A_GROUP: Final = 14

Group = tuple[int, int, int]
Throw = tuple[int, int, int | None]


_REPR: Final = reprlib.Repr()
_REPR.maxstring = _REPR.maxother = 120
_REPR.maxlist = _REPR.maxtuple = 8


def shown(value: object) -> str:
    """The ``repr`` of what was given, cut in the middle where it is long."""
    return _REPR.repr(value)


def whole(value: object, where: str, what: str, low: int, high: int) -> int:
    """A whole number from `low` to `high`; numpy integers count, booleans do not."""
    accepted = f"{what} is a whole number from {low} to {high}"
    if isinstance(value, str) or type(value).__name__ in ("bool", "bool_"):
        raise HandreadError(f"{where}: got {shown(value)}; {accepted}")
    try:
        taken = operator.index(value)  # type: ignore[arg-type]
    except TypeError:
        raise HandreadError(f"{where}: got {shown(value)}; {accepted}") from None
    if not low <= taken <= high:
        raise HandreadError(f"{where}: got {shown(value)}; {accepted}")
    return taken


def kind(value: object, where: str) -> int:
    """A kind, 0 to 35; a tile in words is answered with its number."""
    if isinstance(value, str):
        try:
            found = parse_kind(value)
        except ParseError as error:
            raise HandreadError(
                f"{where}: got {shown(value)}; give a kind by number; {error}"
            ) from None
        hint = f"give a kind by number: parse_kind({value!r}) is {found}"
        raise HandreadError(f"{where}: got {shown(value)}; {hint}")
    return whole(value, where, "a kind", 0, N_KINDS - 1)


def seat(value: object, where: str) -> int:
    """A seat, 0 to 3; the name of a seat is answered with its number."""
    accepted = "a seat is 0 East, 1 South, 2 West or 3 North"
    if isinstance(value, str):
        if value.title() in SEATS:
            accepted += f", so {SEATS.index(value.title())} here"
        raise HandreadError(f"{where}: got {shown(value)}; {accepted}")
    try:
        return whole(value, where, "a seat", 0, 3)
    except HandreadError:
        raise HandreadError(f"{where}: got {shown(value)}; {accepted}") from None


def items(values: object, where: str, what: str, length: int | None = None) -> tuple[object, ...]:
    """The items of a sequence, `length` of them where that is fixed.

    Texts, sets and mappings are refused: their items are no tiles or have no order.
    """
    accepted = f"{what}, in a list or tuple" + (f" of {length}" if length is not None else "")
    if isinstance(values, str | bytes | Set | Mapping) or not isinstance(values, Iterable):
        raise HandreadError(f"{where}: got {shown(values)}; accepted: {accepted}")
    taken = tuple(values)
    if length is not None and len(taken) != length:
        raise HandreadError(
            f"{where}: got {len(taken)} items, {shown(values)}; accepted: {accepted}"
        )
    return taken


def kinds(values: object, where: str) -> tuple[int, ...]:
    """Tiles, one kind each, at most ``MOST_IN_A_ROW``."""
    taken = items(values, where, "kinds (whole numbers 0 to 35), one for each tile")
    if len(taken) > MOST_IN_A_ROW:
        hint = "give one kind for each tile; from counts: numpy.repeat(numpy.arange(36), counts)"
        raise HandreadError(f"{where}: {len(taken)} tiles, more than {MOST_IN_A_ROW}; {hint}")
    return tuple(kind(value, f"{where}, tile {n}") for n, value in enumerate(taken, 1))


def group(value: object, where: str) -> Group:
    """One exposed group, ``(kind, size, jokers)``."""
    taken = items(value, where, "(kind, size, jokers)", 3)
    of = kind(taken[0], f"{where}, kind")
    size = whole(taken[1], f"{where}, size", "the size of a group", 1, MOST_IN_A_GROUP)
    jokers = whole(taken[2], f"{where}, jokers", f"jokers in a group of {size}", 0, size)
    if of == JOKER and jokers not in (0, size):
        raise HandreadError(f"{where}: got {shown(value)}; every tile of a group of jokers is one")
    return of, size, jokers


def groups(values: object, where: str) -> tuple[Group, ...]:
    """Exposed groups, in order."""
    taken = items(values, where, "groups (kind, size, jokers)")
    return tuple(group(value, f"{where}, group {n}") for n, value in enumerate(taken, 1))


def throws(values: object, where: str) -> tuple[Throw, ...]:
    """Throws in order, ``(seat, kind, taken_by)``; nobody takes what he threw."""
    found: list[Throw] = []
    for n, value in enumerate(items(values, where, "throws (seat, kind, taken_by)"), 1):
        here = f"{where}, throw {n}"
        by, what, taken = items(value, here, "(seat, kind, taken_by)", 3)
        thrower = seat(by, f"{here}, seat")
        taker = None if taken is None else seat(taken, f"{here}, taken_by")
        if taker == thrower:
            name = SEATS[thrower]
            raise HandreadError(f"{here}: got {shown(value)}; {name} cannot take what {name} threw")
        found.append((thrower, kind(what, f"{here}, kind"), taker))
    return tuple(found)


def counts(values: object, where: str, most: tuple[int, ...] | int) -> tuple[int, ...]:
    """A count of each of the 36 kinds, none above `most` of its kind."""
    taken = items(values, where, "counts, one for each kind", N_KINDS)
    limits = (most,) * N_KINDS if isinstance(most, int) else most
    return tuple(
        whole(value, f"{where}, {name}", f"a count of {name}", 0, limit)
        for name, value, limit in zip(KINDS, taken, limits, strict=True)
    )


def yes_or_no(value: object, where: str) -> bool:
    """A truth value, of Python or numpy."""
    if type(value).__name__ not in ("bool", "bool_"):
        raise HandreadError(f"{where}: got {shown(value)}; accepted: True or False")
    return bool(value)


def text(value: object, where: str) -> str:
    """A line of the caller's; None is no line."""
    if value is None:
        return ""
    if not isinstance(value, str):
        raise HandreadError(f"{where}: got {shown(value)}; accepted: text, or None for none")
    return value
