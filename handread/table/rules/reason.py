"""Why an event does not fit a table, and the arithmetic that the rules share."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from handread.table.events import SEATS
from handread.table.state import TableState
from handread.tiles import FIRST_WIND, JOKER, KINDS, number_of, suit_of

IMPOSSIBLE = "impossible"
IRREGULAR = "irregular"


@dataclass(frozen=True)
class Reason:
    """One thing against an event.

    Attributes
    ----------
    kind
        ``"impossible"``: it cannot have happened, the record is wrong. ``"irregular"``: a
        breach of the rules, which happens at tables and is ground for a dead hand.
    words
        What is wrong, the likely slip, and what would have been accepted.
    """

    kind: str
    words: str


def impossible(words: str) -> Reason:
    """Reason of the kind that refuses an event."""
    return Reason(IMPOSSIBLE, words)


def irregular(words: str) -> Reason:
    """Reason of the kind that flags an event."""
    return Reason(IRREGULAR, words)


def next_live(live: tuple[bool, ...], seat: int) -> int:
    """Seat whose turn follows: the next live one to the right.

    >>> next_live((True, False, False, True), 0)
    3
    """
    for step in (1, 2, 3):
        other = (seat + step) % 4
        if live[other]:
            return other
    return seat


def unseen_copies(state: TableState, kind: int) -> int:
    """Copies of a kind that may still turn up: not seen, and not known to be in a rack."""
    left = int(state.rules.copies[kind]) - int(state.seen[kind])
    return left - sum(state.jokers_held) if kind == JOKER else left


def needs_draw(state: TableState, seat: int) -> bool:
    """Whether a seat holds a resting hand, so that its throw implies a draw."""
    return state.tiles_of(seat) < state.rules.hand_size


def add_seen(state: TableState, *changes: tuple[int, int]) -> Any:
    """Read-only copy of ``state.seen`` with ``(kind, copies)`` added for each change."""
    seen = state.seen.copy()
    for kind, copies in changes:
        seen[kind] = int(seen[kind]) + copies
    seen.flags.writeable = False
    return seen


def none_left(state: TableState, kind: int, more: int = 1) -> Reason:
    """Reason against a copy too many, with the kinds that the recorder may have meant."""
    copies = int(state.rules.copies[kind])
    away = copies - unseen_copies(state, kind)
    near = [KINDS[other] for other in _neighbours(kind) if unseen_copies(state, other) >= more]
    hint = f"; likely meant: {', '.join(near)}" if near else ""
    need = "one more" if more == 1 else f"{more} more"
    return impossible(
        f"{need} {KINDS[kind]} cannot be: {away} of {copies} are accounted for already{hint}"
    )


def _neighbours(kind: int) -> list[int]:
    """Kinds that are easily typed or said for this one."""
    suit, number = suit_of(kind), number_of(kind)
    if suit is None or number is None:
        return [other for other in range(FIRST_WIND, JOKER) if other != kind]
    others = [other * 9 + number - 1 for other in range(3) if other != suit]
    return others + [suit * 9 + n - 1 for n in (number - 1, number + 1) if 1 <= n <= 9]


def turn_words(state: TableState) -> str:
    """Who was to act, in words."""
    if state.holder is not None:
        return f"{SEATS[state.holder]} holds 14 and was to throw"
    if state.turn is not None:
        return f"{SEATS[state.turn]} was to draw and throw"
    return "nobody can tell whose turn it is"


def last_throw(state: TableState) -> str:
    """Say the last throw in words."""
    if not state.floor:
        return "nothing has been thrown yet"
    throw = state.floor[-1]
    words = f"the last throw is {KINDS[throw.kind]} by {SEATS[throw.seat]}"
    return words if throw.taken_by is None else f"{words}, taken by {SEATS[throw.taken_by]}"
