"""The live count against tiles dealt in the open. Turn arithmetic is common practice, no source."""

from __future__ import annotations

import hypothesis.strategies as st
import numpy as np
import pytest
from hypothesis import given, settings

from handread.errors import IllegalEvent
from handread.table.count import draws_left, live
from handread.table.events import Discard, Header, Rack
from handread.table.own import follow_rack, no_rack, own_rack
from handread.tiles import JOKER, as_counts
from tests.support.random_play import RandomGame, random_record
from tests.table.at_table import after, rounds


def test_each_kind_is_somewhere_once():
    count = live(after("e 5 b", "w k 2", "w r", "n sw w 5 b", "n g"))
    assert count.exposed[4] == 3
    assert count.exposed[JOKER] == 1
    assert count.in_racks[JOKER] == 1
    assert (count.floor[32], count.floor[31], count.floor[4]) == (1, 1, 0)
    assert (count.unseen[4], count.unseen[JOKER], count.unseen[0]) == (1, 6, 4)
    assert count.jokers_out == 2
    assert count.jokers_of == (0, 0, 1, 1)


def test_the_own_rack_is_counted_for_its_seat():
    state = after("e 5 b")
    count = live(state, 1, as_counts([4, 4, 35]))
    assert (count.own[4], count.unseen[4], count.jokers_out) == (2, 1, 1)
    assert live(state).own.sum() == 0


def test_139_tiles_are_unseen_from_one_seat_at_the_start():
    # 39 in the other hands, or 40 while East holds 14, and 99 in the wall
    rack = as_counts(list(range(13)))
    assert live(after("e 5 b"), 1, rack).unseen.sum() == 138  # East's throw lies there
    assert live(after(), 1, rack).unseen.sum() == 139


def test_a_rack_that_cannot_be_is_refused():
    with pytest.raises(IllegalEvent, match="5 bam is counted 1 too often"):
        live(after("e 5 b", "s 5 b"), 2, as_counts([4, 4, 4]))
    with pytest.raises(IllegalEvent, match="no viewer at seat 1; playing: 0 East, 2 West"):
        live(after("s absent"), 1)


def test_returned_groups_are_out_of_play():
    count = live(after("e 5 b", "w k 2", "w dead n returned"))
    assert (count.in_racks[4], count.in_racks[JOKER], count.exposed.sum()) == (2, 2, 0)
    assert (count.unseen[4], count.unseen[JOKER]) == (2, 6)


def test_draws_left_by_the_turn_arithmetic():
    assert draws_left(after()) == (24, 25, 25, 25)
    assert draws_left(after(*rounds(1))) == (24, 25, 25, 25)
    assert draws_left(after(*rounds(99))) == (0, 0, 0, 1)  # North draws the last tile
    assert draws_left(after(*rounds(100))) == (0, 0, 0, 0)
    # a claim by the opposite seat takes a draw from the seat between
    assert draws_left(after("e 5 b", "w p")) == (25, 25, 24, 25)


def test_draws_left_with_a_dead_hand_an_empty_seat_and_an_end():
    assert draws_left(after("e 5 b", "s dead")) == (33, 0, 33, 33)
    assert draws_left(after("s absent", "e 5 b")) == (37, 0, 38, 37)
    assert draws_left(after("e 5 b", "w m c")) == (0, 0, 0, 0)


def test_draws_left_are_the_fewest_when_turns_were_missed():
    state = after("e 5 b", "missed 2")
    assert (state.wall, draws_left(state)) == (97, (24, 24, 24, 24))
    assert not live(state).certain


@settings(max_examples=25, deadline=None)
@given(seed=st.integers(0, 2**32 - 1))
def test_the_count_and_the_racks_are_those_of_the_tiles_dealt(seed):
    game = RandomGame(np.random.default_rng(seed), hidden=True)
    state = game.state
    racks = [no_rack(state, seat) for seat in range(4)]
    for event in game:
        racks = [follow_rack(rack, state, event, seat) for seat, rack in enumerate(racks)]
        state = game.state
        if not isinstance(event, Discard):
            continue
        for seat in range(4):
            own = as_counts(game.table.racks[seat])
            assert (racks[seat].tiles == own).all()
            assert racks[seat].unknown == 0
            count = live(state, seat, racks[seat].tiles)
            others = [tile for s in range(4) if s != seat for tile in game.table.racks[s]]
            elsewhere = as_counts(game.table.wall).astype(int) + as_counts(others)
            assert (count.unseen + count.in_racks == elsewhere).all()


@settings(max_examples=25, deadline=None)
@given(seed=st.integers(0, 2**32 - 1))
def test_a_rack_with_unknown_draws_never_claims_too_much(seed):
    """Without the draws written down the known part stays within the true rack's size."""
    record = random_record(np.random.default_rng(seed), hidden=True)
    events = [event for event in record.public("floor")]
    west = next(e for e in record.events if isinstance(e, Rack) and e.seat == 2)
    at = next(n for n, e in enumerate(events) if isinstance(e, Discard))
    rack = own_rack([*events[:at], west, *events[at:]], record.header, 2)
    assert rack.unknown >= 0
    assert rack.tiles.sum() + rack.unknown <= 14


def test_the_own_rack_follows_passes_exposures_redeems_and_wins():
    header = Header(viewer="South")
    lines = [
        "viewer s",
        "rack 5 b 5 b r r g wh e e n n f j 9 d",
        "pass right gave g wh 9 d got 5 d 5 d 5 d",
        "e r",
        "s k 1",
        "s n",
        "w 5 d",
        "n 2 b",
        "e 3 b",
        "drew 7 b",
        "s 7 b",
    ]
    from handread.table import parse_record

    record = parse_record("\n".join(lines))
    rack = own_rack(record.events, header, 1)
    assert (rack.tiles == as_counts([4, 4, 27, 27, 30, 34, 20 + 2, 22, 22])).all()
    assert rack.unknown == 0
    more = parse_record("\n".join([*lines, "w 4 b", "n 4 b", "e p", "e 4 d", "s m d 1 b"]))
    rack = own_rack(more.events, header, 1)
    assert (rack.tiles[0], rack.unknown) == (1, 0)


def test_a_corrected_group_gives_tiles_back():
    rack = own_rack(
        [Rack(2, (4, 4, 4, 35, *range(10, 19))), *_events("e 5 b", "w k 1", "w co p")],
        Header(),
        2,
    )
    assert (rack.tiles[4], rack.tiles[35], rack.unknown) == (1, 1, 0)


def _events(*lines):
    from handread.table import parse_line

    return [parse_line(line) for line in lines]
