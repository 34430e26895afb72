"""The passes before play. Common practice of the trade, no source; stopping is from memory."""

import pytest

from handread.table import apply, check, start
from handread.table.events import Passed
from tests.table.at_table import after, refused, verdict

FIRST = ["pass right", "pass across", "pass left"]
SECOND = ["pass second left", "pass second across", "pass last"]


def test_the_steps_in_order():
    state = after(*FIRST, *SECOND, "pass courtesy counts 1 2 1 2", "e 5 b")
    assert not state.flags
    assert len(state.passed) == 7


def test_the_second_round_may_be_stopped_and_the_courtesy_still_happens():
    state = after(*FIRST, "stop w", "pass courtesy")
    assert not state.flags
    assert state.stopped
    refused(after(*FIRST, "stop"), "pass second left", "irregular", "second round was stopped")


def test_passes_may_go_unrecorded():
    assert not after("e 5 b").flags


@pytest.mark.parametrize(
    ("lines", "line", "words"),
    [
        ([], "pass across", "cannot come first; accepted: right"),
        (["pass right"], "pass right", "cannot come after 'right'; accepted: across"),
        (FIRST, "pass second across", "accepted: second left, courtesy"),
        ([*FIRST, SECOND[0]], "pass courtesy", "accepted: second across"),
        (["pass right"], "stop s", "stopped after 'right'"),
        ([*FIRST, "stop s"], "stop w", "stopped again"),
        (["pass right"], "pass across blind 0 1 0 0", "only left and last right allow it"),
        (["pass right"], "pass across counts 1 1 1 1", "only the courtesy has them"),
        (FIRST, "pass courtesy counts 1 2 2 2", "facing seats give the same"),
        ([], "pass right gave 5 b j r", "a joker may not be passed"),
        (["s absent"], "pass right", "no passes unless four seats play"),
        (["rule no blind pass", *FIRST[:2]], "pass left blind 1 0 0 0", "does not allow blind"),
        (["rule no second round", *FIRST], "pass second left", "second round was stopped"),
    ],
)
def test_breaches(lines, line, words):
    refused(after(*lines), line, "irregular", words)


@pytest.mark.parametrize(
    ("lines", "line", "words"),
    [
        (["e 5 b"], "pass right", "the passes are over"),
        (["e 5 b"], "stop s", "play has begun"),
        ([], "pass right blind 4 0 0 0", "four numbers, 0 to 3"),
        ([], "pass right gave 1 b 2 b 3 b 4 b", "at most 3"),
        (["pass right", "pass across"], "pass left got r r r r", "at most 3"),
    ],
)
def test_what_cannot_be(lines, line, words):
    refused(after(*lines), line, "impossible", words)


def test_blind_passes_where_they_are_allowed():
    assert verdict(after(*FIRST[:2]), "pass left blind 0 1 3 0") == "legal"


def test_a_step_that_is_none():
    reasons = check(start(), Passed(step="left right"))
    assert "accepted: right, across" in reasons[0].words
    reasons = check(start(), Passed(step="right", blind=(0, 0)))
    assert "four numbers" in reasons[0].words


def test_passes_move_no_tiles_in_public():
    state = start()
    assert apply(state, Passed(step="right")).concealed == state.concealed
