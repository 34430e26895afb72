"""Empty seats, missed turns, late starts."""

import pytest

from handread.table import start
from handread.table.rules.reason import next_live
from tests.table.at_table import after, refused, rounds, tiles_in_all, verdict


def test_three_play_with_the_fourth_hand_in_the_wall():
    state = after("s absent")
    assert (state.wall, state.concealed, state.turn) == (112, (14, 0, 13, 13), 0)
    assert tiles_in_all(state) == 152
    assert after("s absent", "e 5 b").turn == 2


def test_two_play():
    state = after("s absent", "n absent", "e 5 b")
    assert (state.wall, state.turn) == (125, 2)
    assert tiles_in_all(state) == 152
    refused(state, "s r", "impossible", "nobody sits at South; playing: East, West")
    refused(after("s absent", "n absent"), "w absent", "impossible", "at least two")


def test_the_next_seat_opens_where_the_dealer_is_absent():
    state = after("e absent")
    assert (state.holder, state.concealed, state.wall) == (1, (0, 14, 13, 13), 112)
    assert tiles_in_all(state) == 152


def test_a_seat_is_empty_once_and_from_the_start():
    refused(after("s absent"), "s absent", "impossible", "empty already")
    refused(after("e 5 b"), "s absent", "impossible", "write 'dead' if its player left")


def test_after_missed_turns_anybody_may_be_next():
    state = after("e 5 b", "missed 2")
    assert (state.certain, state.turn, state.window, state.wall) == (False, None, None, 97)
    for seat in "eswn":
        assert verdict(state, f"{seat} r") == "legal"
    assert after("e 5 b", "missed 2", "w r").turn == 3


def test_the_first_missed_throw_is_that_of_the_holder():
    state = after("missed")
    assert (state.concealed[0], state.turns[0], state.wall) == (13, 1, 99)


def test_counts_are_bounds_and_the_wall_does_not_end_the_record():
    lines = [*rounds(40), "missed 70"]
    state = after(*lines)
    assert state.wall == 0
    assert verdict(state, "e f") == "legal"
    assert verdict(after(*lines), "wall") == "legal"


def test_no_turns_cannot_be_missed():
    refused(after(), "missed 0", "impossible", "accepted: 1 or more")


def test_a_group_shown_in_a_missed_turn_is_named():
    refused(after("e 5 b"), "w p of r", "impossible", "write 'missed' first")
    state = after("e 5 b", "missed", "w k 1 of r")
    assert state.exposures[2][0].kind == 32
    assert (state.seen[32], state.seen[35], state.concealed[2]) == (3, 1, 9)
    assert verdict(state, "n sw w r") == "legal"


def test_a_win_on_a_throw_that_was_missed():
    state = after("e 5 b", "missed", "w m c r")
    assert (state.over, state.holder, state.seen[32], state.concealed[2]) == (True, 2, 1, 14)
    assert verdict(after("e 5 b", "missed"), "w m c") == "legal"
    refused(after("e 5 b", "missed", "w dead"), "w m c", "irregular", "is dead")
    lines = ["e 5 b", "s 5 b", "w 5 b", "n 5 b", "missed"]
    refused(after(*lines), "w m c 5 b", "impossible", "4 of 4")


def test_claims_after_missed_turns():
    state = after("e 5 b", "missed")
    refused(state, "w p", "impossible", "name the tile")
    assert verdict(state, "w c") == "legal"


def test_a_late_start_with_the_wall_known():
    state = after("joined 60")
    assert (state.wall, state.certain, state.turn, state.concealed) == (60, False, None, (13,) * 4)
    assert after("joined 60", "w r").wall == 59


def test_a_late_start_with_the_floor_seen():
    state = after("joined floor 5 b 5 b r f")
    assert (state.seen[4], state.seen[32], state.seen[34], state.wall) == (2, 1, 1, 96)
    assert verdict(after("joined floor 5 b 5 b 5 b 5 b"), "s 5 b") == "impossible"


def test_a_late_start_with_groups_that_lie_there():
    state = after("joined 50", "w k 1 of 5 b", "n p of r", "s 6 b")
    assert state.concealed == (13, 13, 9, 10)
    assert not state.flags


@pytest.mark.parametrize(
    ("lines", "line", "words"),
    [
        (["e 5 b"], "joined 60", "stands before the play"),
        ([], "joined 100", "100 tiles cannot be left: 99"),
        ([], "joined floor 5 b 5 b 5 b 5 b 5 b", "5 bam"),
    ],
)
def test_late_starts_that_cannot_be(lines, line, words):
    refused(after(*lines), line, "impossible", words)


def test_the_next_live_seat():
    assert next_live((True, True, True, True), 3) == 0
    assert next_live((True, False, False, False), 0) == 0
    assert start().certain
