"""What the table had seen of one seat by a moment, in short words."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from handread.card.compiled import CompiledCard
from handread.table.events import (
    SEATS,
    AnyEvent,
    Discard,
    Expose,
    Header,
    Passed,
    Redeem,
    Stopped,
    Voiced,
)
from handread.table.play import apply, start
from handread.table.screen import group_words
from handread.table.state import TableState
from handread.tiles import KINDS


@dataclass(frozen=True)
class SeatRecord:
    """What the table had seen of one seat, each part in words; empty where there was nothing.

    Attributes
    ----------
    throws
        The seat's throws, the oldest first: ``"red (drawn), 5 bam (held)"``.
    groups
        Groups that it shows, with the own turns that it had had and who threw the tile.
    claims
        Claims that it voiced and did not get, and jokers that it redeemed.
    passes
        Tiles that it sent on unseen, and whether it stopped the second round.
    others
        Groups that the other seats show.
    wall
        Tiles left to draw.
    """

    throws: str
    groups: str
    claims: str
    passes: str
    others: str
    wall: int


def seat_record(
    card: CompiledCard, header: Header, events: Sequence[AnyEvent], seat: int, *, last: int = 0
) -> SeatRecord:
    """Say what a table has seen of one seat.

    Parameters
    ----------
    card
        The card.
    header
        Of the record.
    events
        Public events up to the moment.
    seat
        The seat, 0 for East.
    last
        How many of its throws, the newest; 0 for all.

    Returns
    -------
    SeatRecord

    Examples
    --------
    >>> import handread as hr
    >>> events = (hr.Discard(0, 4, drawn=False), hr.Expose(seat=2, size=3, jokers=1),
    ...     hr.Discard(2, 30))
    >>> told = seat_record(hr.house_card(), hr.Header(), events, 2)
    >>> told.groups, told.throws
    ('after 0 own turns a pung of 5 bam with 1 joker from East', 'north')
    """
    state = start(header, card.rules)
    throws: list[str] = []
    taken: list[str] = []
    claims: list[str] = []
    passes: list[str] = []
    for event in events:
        before, state = state, apply(state, event, card)
        turns = f"after {before.turns[seat]} own turns"
        match event:
            case Discard() if event.seat == seat:
                throws.append(_throw_words(event))
            case Expose() if event.seat == seat:
                taken.append(f"{turns} a {{}}{_thrower(before)}")
            case Voiced() if event.seat == seat:
                lost = "lost" if event.lost else "withdrawn"
                claims.append(f"{turns} a claim {lost}{_open_tile(before)}")
            case Redeem() if event.seat == seat:
                whose = SEATS[event.owner]
                claims.append(f"{turns} a joker of {whose} for {KINDS[event.kind]}")
            case Passed() | Stopped():
                passes += _pass_words(event, seat)
            case _:
                pass
    shown = state.exposures[seat]  # with later corrections and redeems
    groups = [words.format(group_words(g)) for words, g in zip(taken, shown, strict=False)]
    return SeatRecord(
        ", ".join(throws[-last:]), "; ".join(groups), "; ".join(claims), "; ".join(passes),
        _others(state, seat), state.wall,
    )  # fmt: skip


def _throw_words(event: Discard) -> str:
    known = {True: " (drawn)", False: " (held)", None: ""}
    return KINDS[event.kind] + known[event.drawn]


def _thrower(state: TableState) -> str:
    return "" if state.window is None else f" from {SEATS[state.floor[state.window].seat]}"


def _open_tile(state: TableState) -> str:
    return "" if state.window is None else f" for {KINDS[state.floor[state.window].kind]}"


def _pass_words(event: Passed | Stopped, seat: int) -> list[str]:
    if isinstance(event, Stopped):
        return ["stopped the second round"] if event.seat == seat else []
    if event.blind is None or not event.blind[seat]:
        return []
    return [f"{event.step}: {event.blind[seat]} unseen"]


def _others(state: TableState, seat: int) -> str:
    said = [
        f"{SEATS[other]} {', '.join(map(group_words, groups))}"
        for other, groups in enumerate(state.exposures)
        if groups and other != seat
    ]
    return "; ".join(said)
