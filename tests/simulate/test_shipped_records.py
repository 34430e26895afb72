"""The simulated games among the shipped records: read from the floor and from every seat."""

from __future__ import annotations

import pytest

import handread as hr
from handread.report import read_record
from handread.shipped import shipped
from handread.table import replay
from handread.table.events import (
    SEATS,
    Discard,
    Drew,
    Expose,
    Rack,
    Redeem,
    Reveal,
    WallGame,
    Win,
)
from handread.table.own import own_rack
from handread.tiles import JOKER

RECORDS = ("nobody-wins.txt", "opened-up.txt", "won-by-a-swap.txt")


def record_of(name: str) -> hr.Record:
    return hr.load_record(shipped("data", "records", name))


@pytest.mark.parametrize("viewer", ["floor", "east", "south", "west", "north"])
@pytest.mark.parametrize("name", RECORDS)
def test_it_reads_from_everywhere(name: str, viewer: str) -> None:
    game = read_record(shipped("data", "records", name), viewer=viewer)
    assert game.reader.state.over
    assert game.reader.state.flags == ()
    assert [reading.seat for reading in game.seats] == list(SEATS)
    for reading in game.seats:
        assert float(reading.families.sum()) == pytest.approx(1.0)


@pytest.mark.parametrize("name", RECORDS)
def test_every_rack_is_known_to_its_seat_until_the_end(name: str) -> None:
    """What a seat wrote down leads to what it shows at the end."""
    record = record_of(name)
    shown = {event.seat: event.rack for event in record.events if isinstance(event, Reveal)}
    for seat in range(4):
        rack = own_rack(record.public(SEATS[seat]), record.header, seat)
        assert rack.unknown == 0
        found = [kind for kind, n in enumerate(rack.tiles.tolist()) for _ in range(n)]
        assert tuple(found) == shown[seat]


@pytest.mark.parametrize("name", RECORDS)
def test_the_floor_is_told_no_tile_that_lay_hidden(name: str) -> None:
    record = record_of(name)
    public = list(record.public("floor"))
    assert not any(isinstance(event, Rack | Reveal) for event in public)
    assert all(event.kind is None for event in public if isinstance(event, Drew))
    assert record.header.people is not None
    assert all(key[0] == "p" and key[1:].isdigit() for key in record.header.people)


def test_each_tells_what_its_last_lines_say() -> None:
    """The stories, told again from the events."""
    card = hr.house_card()
    assert isinstance(_end("nobody-wins.txt"), WallGame)
    record = record_of("nobody-wins.txt")
    shown = {event.seat: event.rack for event in record.events if isinstance(event, Reveal)}
    nine, eight = hr.parse_kind("9 dot"), hr.parse_kind("8 dot")
    assert shown[2] == (eight, eight, nine)
    assert (shown[1] or ()).count(nine) == 2
    thrown = [(event.seat, event.kind) for event in record.events if isinstance(event, Discard)]
    assert thrown[0] == (0, nine)
    assert thrown.count((2, JOKER)) == 2

    assert _end("won-by-a-swap.txt") == Win(1, claimed=False)
    events = [e for e in record_of("won-by-a-swap.txt").events if not isinstance(e, Reveal)]
    swaps = [event for event in events if isinstance(event, Redeem)]
    assert [(swap.seat, swap.owner) for swap in swaps] == [(1, 1), (1, 1)]
    assert events[events.index(Win(1, claimed=False)) - 1] == swaps[1]

    record = record_of("opened-up.txt")
    hands = {hand.name: hand for hand in card.hands}
    assert hands["Crooked rungs"].concealed
    group = next(e for e in record.events if isinstance(e, Expose) and e.seat == 1)
    assert (group.size, group.jokers) == (3, 2)
    built = next(e.hand for e in record.events if isinstance(e, Reveal) and e.seat == 1)
    assert built == "Three hurdles"
    state = replay(record.events, record.header, card)
    assert state.floor[-1].seat == 1
    assert _end("opened-up.txt") == Win(0, claimed=True)


def _end(name: str) -> object:
    return next(e for e in record_of(name).events if isinstance(e, Win | WallGame))
