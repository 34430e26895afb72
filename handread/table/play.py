"""A game as a fold: ``start`` it, ``check`` an event, ``apply`` it.

``check`` and ``apply`` are apart: ``check`` lists what is wrong and changes nothing,
``apply`` refuses what is impossible, flags what is irregular and moves the state on.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable
from typing import Any, Final

import numpy as np

from handread.card.compiled import CompiledCard, Rules
from handread.errors import IllegalEvent, closest
from handread.table.events import (
    SEATS,
    SWITCHES,
    Absent,
    AnyEvent,
    Comment,
    Correct,
    Dead,
    Discard,
    Drew,
    Event,
    Expose,
    Header,
    Joined,
    Missed,
    Passed,
    Rack,
    Redeem,
    Reveal,
    Stopped,
    Voiced,
    WallGame,
    Win,
    WinInError,
)
from handread.table.rules import claims, ends, passes, status, throws
from handread.table.rules.fields import wrong_field
from handread.table.rules.reason import IMPOSSIBLE, Reason, impossible
from handread.table.state import TableState, still_counted
from handread.tiles import N_KINDS
from handread.values import evolve

__all__ = ["Reason", "apply", "check", "is_legal", "replay", "start"]

_Check = Callable[[TableState, Any, CompiledCard | None], list[Reason]]
_Advance = Callable[[TableState, Any], TableState]


def _plain(rule: Callable[[TableState, Any], list[Reason]]) -> _Check:
    """Give a rule that asks nothing of the card the common form."""
    return lambda state, event, card: rule(state, event)


def _passed(state: TableState, event: Passed, card: CompiledCard | None) -> list[Reason]:
    return passes.check_passed(state, event) or passes.check_blind(state, event)


_RULES: Final[dict[type[Event], tuple[_Check, _Advance]]] = {
    Passed: (_passed, passes.advance_passed),
    Stopped: (_plain(passes.check_stopped), passes.advance_stopped),
    Rack: (_plain(throws.check_rack), lambda state, event: state),
    Drew: (_plain(throws.check_drew), throws.advance_drew),
    Discard: (_plain(throws.check_discard), throws.advance_discard),
    Voiced: (_plain(claims.check_voiced), claims.advance_voiced),
    Expose: (claims.check_expose, claims.advance_expose),
    Correct: (claims.check_correct, claims.advance_correct),
    Redeem: (_plain(claims.check_redeem), claims.advance_redeem),
    Dead: (_plain(status.check_dead), status.advance_dead),
    WinInError: (_plain(status.check_error), status.advance_error),
    Absent: (_plain(status.check_absent), status.advance_absent),
    Missed: (lambda state, event, card: [], status.advance_missed),
    Joined: (_plain(status.check_joined), status.advance_joined),
    Win: (_plain(ends.check_win), ends.advance_win),
    WallGame: (_plain(ends.check_wall_game), ends.advance_wall_game),
    Reveal: (_plain(ends.check_reveal), ends.advance_reveal),
    Comment: (lambda state, event, card: [], lambda state, event: state),
}
#: Breaches that a record may hold; a longer list would only cost time.
MOST_FLAGS: Final = 1000
_AFTER_THE_END: Final = (Reveal, Comment)


def start(header: Header | None = None, rules: Rules | None = None) -> TableState:
    """Table after the deal, with four seats: the dealer holds 14 and is to open.

    Parameters
    ----------
    header
        Dealer and switches are read from it.
    rules
        Tile set and rule parameters, ``card.rules``; the standard 152 tiles by default.

    Raises
    ------
    IllegalEvent
        If a switch is not known.

    Examples
    --------
    >>> state = start()
    >>> state.wall, state.holder, state.concealed
    (99, 0, (14, 13, 13, 13))
    """
    header = header or Header()
    rules = rules or Rules()
    rest = rules.hand_size - 1
    seen = np.zeros(N_KINDS, dtype=np.uint8)
    seen.flags.writeable = False
    return TableState(
        floor=(),
        exposures=((), (), (), ()),
        seen=seen,
        wall=rules.n_tiles - 4 * rest - 1,
        holder=header.dealer,
        window=None,
        turns=(0, 0, 0, 0),
        draws=(0, 0, 0, 0),
        concealed=tuple(rest + (seat == header.dealer) for seat in range(4)),
        live=(True, True, True, True),
        turn=header.dealer,
        rules=rules,
        switches=switches_on(header.switches),
    )


def switches_on(names: Iterable[str]) -> frozenset[str]:
    """Switches that are on when a header names these.

    >>> "correction" in switches_on(()), "correction" in switches_on(("no correction",))
    (True, False)
    """
    on = {name for name, default in SWITCHES.items() if default}
    for name in names:
        off = name.startswith("no ")
        switch = name[3:] if off else name
        if switch not in SWITCHES:
            raise IllegalEvent(f"no switch {name!r} in the header; {closest(switch, SWITCHES)}")
        on = on - {switch} if off else on | {switch}
    return frozenset(on)


def check(
    state: TableState, event: AnyEvent, card: CompiledCard | None = None
) -> tuple[Reason, ...]:
    """What speaks against an event at this table.

    Parameters
    ----------
    state
        The table before the event.
    event
        What is said to have happened.
    card
        With a card, an exposure that fits none of its hands is irregular.

    Returns
    -------
    tuple of Reason
        Empty when the event is within the rules; draws that a throw, a redeem or a win
        imply are taken into account.

    Examples
    --------
    >>> [reason.kind for reason in check(start(), Discard(seat=2, kind=4))]
    ['irregular']
    >>> check(start(), Discard(seat=0, kind=4))
    ()
    """
    rule = _RULES.get(type(event))
    if rule is None:
        accepted = ", ".join(each.__name__ for each in _RULES)
        return (impossible(f"{event!r} is no event; accepted: {accepted}"),)
    if state.over and not isinstance(event, _AFTER_THE_END):
        return (impossible("the game is over; accepted: a reveal or a comment"),)
    wrong = _values(state, event)
    reasons = (wrong,) if wrong else tuple(rule[0](state, event, card))
    if reasons and len(state.flags) >= MOST_FLAGS:
        return (*reasons, impossible(f"after {MOST_FLAGS} breaches this is no record of a game"))
    return reasons


def _values(state: TableState, event: Event) -> Reason | None:
    """Reason against seats, kinds, sizes and counts that are none."""
    if words := wrong_field(state, event):
        return impossible(words)
    seat = getattr(event, "seat", None)
    if seat is not None and not state.seated[seat] and not isinstance(event, Absent):
        there = ", ".join(SEATS[s] for s in range(4) if state.seated[s])
        return impossible(f"nobody sits at {SEATS[seat]}; playing: {there}")
    return None


def is_legal(state: TableState, event: AnyEvent, card: CompiledCard | None = None) -> bool:
    """Whether nothing speaks against an event.

    >>> is_legal(start(), Discard(seat=0, kind=4))
    True
    """
    return not check(state, event, card)


def apply(state: TableState, event: AnyEvent, card: CompiledCard | None = None) -> TableState:
    """Table after an event; irregular ones are applied and flagged.

    Parameters
    ----------
    state, event, card
        As for ``check``.

    Raises
    ------
    IllegalEvent
        If the event is impossible, with its number and the reasons.

    Examples
    --------
    >>> state = apply(start(), Discard(seat=0, kind=4))
    >>> state.turn, state.holder, state.window, state.wall
    (1, None, 0, 99)
    >>> apply(state, Discard(seat=1, kind=35)).wall
    98
    """
    reasons = check(state, event, card)
    number = state.n_events + 1
    refused = [reason.words for reason in reasons if reason.kind == IMPOSSIBLE]
    if refused:
        raise IllegalEvent(f"event {number}, {_words(event)}: {'; '.join(refused)}")
    after = advance(state, event)
    if reasons:
        flags = (*state.flags, *((number, reason.words) for reason in reasons))
        after = evolve(after, flags=flags, **still_counted(state, after))
    return after


def advance(state: TableState, event: AnyEvent) -> TableState:
    """Table after an event that is known to be possible, as in a game that played itself.

    What ``apply`` does, without asking and without flags.

    Examples
    --------
    >>> state, event = start(), Discard(seat=0, kind=4)
    >>> advance(state, event) == apply(state, event)
    True
    """
    after = _RULES[type(event)][1](state, event)
    return evolve(after, n_events=state.n_events + 1, **still_counted(state, after))


def _words(event: AnyEvent) -> str:
    """Event as a person would write it, or as it is where that cannot be written."""
    from handread.table.shorthand.format import format_line

    try:
        return repr(format_line(event))
    except (TypeError, ValueError):
        return repr(event)


def replay(
    events: Iterable[AnyEvent],
    header: Header | None = None,
    card: CompiledCard | None = None,
) -> TableState:
    """Table after a run of events.

    Raises
    ------
    IllegalEvent
        At the first impossible event.

    Examples
    --------
    >>> replay([Discard(seat=0, kind=4), Expose(seat=2, size=3)]).concealed
    (13, 13, 11, 13)
    """
    state = start(header, card.rules if card is not None else None)
    for event in events:
        state = apply(state, event, card)
    return state
