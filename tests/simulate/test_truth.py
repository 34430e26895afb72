"""The truth is whole, and nothing of it can be reached from what a viewer may know."""

from __future__ import annotations

from collections import Counter
from pathlib import Path

import msgspec
import numpy as np
import pytest

from handread.errors import HandreadError, ParseError
from handread.simulate import (
    PlayCard,
    SimulatedGame,
    game_from_json,
    game_to_json,
    racks_after,
    read_games,
    seen_by,
    simulate_games,
    with_reveal,
    write_games,
)
from handread.simulate.view import STATES
from handread.table import replay
from handread.table.events import SEATS, Discard, Drew, Passed, Rack, Record, Reveal, Stopped, Win
from handread.table.own import own_rack
from tests.simulate.plain import follow


def test_the_floor_sees_no_tile_that_lay_hidden(games: list[SimulatedGame]) -> None:
    for game in games:
        for event in game.record.events:
            assert not isinstance(event, Rack | Reveal)
            if isinstance(event, Passed):
                assert event.given is None
                assert event.received is None
            if isinstance(event, Drew):
                assert event.kind is None
            if isinstance(event, Win) and event.kind is not None:
                assert event is game.record.events[-1]  # shown with the winning hand
        assert list(game.record.public("floor")) == list(game.record.events)
        assert not hasattr(game.record, "truth")
        said = msgspec.json.encode(game.record)
        assert b"weight" not in said
        assert b"style" not in said


@pytest.mark.parametrize("seat", range(4))
def test_a_seat_sees_its_own_tiles_and_no_others(games: list[SimulatedGame], seat: int) -> None:
    for game in games[seat::12]:
        record = seen_by(game, SEATS[seat])
        assert record.header.viewer == SEATS[seat]
        assert seen_by(game, SEATS[seat][0].lower()) == record
        assert list(record.public(SEATS[seat])) == list(record.events)
        stripped = [e for e in record.public("floor") if not isinstance(e, Drew)]
        plain = [e for e in game.record.events if not isinstance(e, Drew)]
        assert [_no_kind(e) for e in stripped] == [_no_kind(e) for e in plain]
        for event in record.events:
            if isinstance(event, Rack | Drew) and event.seat != seat:
                assert isinstance(event, Drew)
                assert event.kind is None
        state = replay(record.events, record.header)
        assert [words for _, words in state.flags] == [
            words for _, words in replay(game.record.events, game.record.header).flags
        ]
        rack = own_rack(record.events, record.header, seat)
        assert rack.unknown == 0
        assert tuple(np.repeat(np.arange(36), rack.tiles).tolist()) == game.truth.racks[seat]


def _no_kind(event: object) -> object:
    if isinstance(event, Win) and not event.claimed:
        return msgspec.structs.replace(event, kind=None)
    return event


def test_revealed_racks_fit_the_record(house_play: PlayCard, games: list[SimulatedGame]) -> None:
    hands = {hand.name for hand in house_play.card.hands}
    named = 0
    for game in games[:60]:
        record = with_reveal(game, house_play)
        flags = replay(record.events, record.header, house_play.card).flags
        assert len(flags) == len(replay(game.record.events, game.record.header).flags) or flags
        shown = [event for event in record.events if isinstance(event, Reveal)]
        assert [event.seat for event in shown] == [0, 1, 2, 3]
        assert not any("shows" in words for _, words in flags)
        for event in shown:
            assert event.hand is None or event.hand in hands
            named += event.hand is not None
        assert list(record.public()) == list(game.record.events)
    assert named > 100


def test_moments_say_what_every_seat_was_about(
    house_play: PlayCard, games: list[SimulatedGame]
) -> None:
    seen: Counter[str] = Counter()
    for game in games[:60]:
        moments = game.truth.moments
        for number, event in enumerate(game.record.events, start=1):
            if not isinstance(event, Discard):
                continue
            row = moments.row(event.seat, number)
            assert moments.seat[row] == event.seat
            assert moments.at[row] < number
            weights = moments.weights(row, house_play.n_targets)
            assert weights.sum() == pytest.approx(1.0, abs=1e-5)
            state = moments.state_words(row)
            seen[state] += 1
            assert (moments.plan[row] >= 0) <= (weights.max() == 1.0)
            if state in ("searching", "folded"):
                assert moments.plan[row] == -1
        assert (np.diff(moments.at) >= 0).all()
    assert set(seen) == set(STATES) - {"dead"}, seen
    ever = {STATES[int(s)] for game in games for s in game.truth.moments.state}
    assert ever == set(STATES)


def test_rows_hold_from_the_event_before_which_they_were_made(
    games: list[SimulatedGame]
) -> None:  # fmt: skip
    """The row of a seat after its throw is the one it threw from, not the next look."""
    moments = games[0].truth.moments
    throws = [n for n, e in enumerate(games[0].record.events, 1) if isinstance(e, Discard)]
    seat = games[0].record.events[throws[8] - 1].seat  # type: ignore[union-attr]
    row = moments.row(seat, throws[8])
    own = np.flatnonzero(moments.seat == seat)
    later = own[own > row]
    assert moments.at[row] == throws[8] - 1
    assert (moments.at[later] >= throws[8]).all()
    for n in range(1, len(games[0].record.events) + 1):
        for seat in range(4):
            before = np.flatnonzero((moments.seat == seat) & (moments.at < n))
            assert moments.row(seat, n) == before[-1]
    with pytest.raises(HandreadError, match="seat 7 has no row"):
        moments.row(7, 3)


def test_changes_are_those_of_the_moments(games: list[SimulatedGame]) -> None:
    why: Counter[str] = Counter()
    for game in games:
        moments = game.truth.moments
        before = dict.fromkeys(range(4), -1)
        told = {}
        for row in range(len(moments)):
            seat, plan = int(moments.seat[row]), int(moments.plan[row])
            if plan != before[seat]:
                told[int(moments.at[row]), seat, before[seat], plan] = True
            before[seat] = plan
        listed = {
            (c.at, c.seat, c.before, c.after) for c in game.truth.changes if c.before != c.after
        }
        assert listed == set(told)
        why.update(change.why for change in game.truth.changes)
    expected = {"committed", "nearer", "drifted", "blocked", "exposed", "folded", "resumed"}
    assert expected <= set(why) <= expected | {"opened"}


def test_racks_throughout(house_play: PlayCard, games: list[SimulatedGame]) -> None:
    """Against a fold that moves tiles by rules of its own."""
    for game in games[:15]:
        plain = follow(house_play, game)
        for found, (event, _, state, racks, _) in zip(
            racks_after(game, house_play), plain, strict=True
        ):
            if isinstance(event, Passed | Stopped):
                continue  # the plain fold has passed all tiles before the first event
            for seat in range(4):
                assert Counter(dict(enumerate(found[seat].tolist()))) == racks[seat]
                assert found[seat].sum() == state.concealed[seat] or not state.live[seat]


def test_who_played_is_on_record(games: list[SimulatedGame]) -> None:
    for game in games[:20]:
        people = [person for person in game.truth.people if person is not None]
        assert game.record.header.people == tuple(person.key for person in people)
        assert dict(game.truth.versions).keys() == {"engine", *(p.kind for p in people)}
        assert game.record.header.card_hash == game.truth.card_hash
        assert not any(person.kind in person.key for person in people)


def test_games_survive_json(games: list[SimulatedGame]) -> None:
    for game in games[:10]:
        again = game_from_json(game_to_json(game))
        assert again == game
        assert game_to_json(again) == game_to_json(game)


def test_files_of_games(games: list[SimulatedGame], tmp_path: Path) -> None:
    path = tmp_path / "games.jsonl"
    assert write_games(games[:3], path) == 3
    assert [game.record for game in read_games(path)] == [game.record for game in games[:3]]
    path.write_bytes(path.read_bytes() + b'{"record": 1}\n')
    with pytest.raises(ParseError, match=r"line 4 of .*'record' and 'truth'"):
        list(read_games(path))


@pytest.mark.parametrize(
    ("line", "words"),
    [
        (b"not json", "is no simulated game"),
        (b'{"record":{"header":{},"events":[]},"truth":{"format":9}}', "format 9.*accepted: 1"),
        (b'{"record":{"header":{},"events":[]},"truth":{"format":1}}', "has no whole truth"),
    ],
)
def test_lines_that_are_no_games(line: bytes, words: str) -> None:
    with pytest.raises(ParseError, match=words):
        game_from_json(line)


def test_no_such_viewer(games: list[SimulatedGame]) -> None:
    with pytest.raises(
        HandreadError, match="no viewer 'Wets'; accepted: floor, East, South, West, North"
    ):
        seen_by(games[0], "Wets")


def test_until_the_passes(small: PlayCard) -> None:
    for game in simulate_games(small.card, n_games=5, seed=3, until="passes"):
        assert game.truth.ending.how in ("passes", "win")
        assert not any(isinstance(event, Discard) for event in game.record.events)
        assert isinstance(game.record, Record)
        assert (game.truth.moments.at <= len(game.record.events)).all()
