"""Draws, throws and the order of play. Common practice of the trade, no source."""

import numpy as np
import pytest

from handread.errors import IllegalEvent
from handread.table import Header, apply, check, is_legal, parse_line, start
from handread.table.events import (
    Correct,
    Dead,
    Discard,
    Drew,
    Expose,
    Joined,
    Missed,
    Passed,
    Rack,
    Redeem,
    Stopped,
    Win,
)
from handread.tiles import parse_kind
from tests.table.at_table import after, refused, rounds, tiles_in_all, verdict


def test_the_deal_leaves_99_tiles_and_the_dealer_holds_14():
    state = start()
    assert (state.wall, state.concealed, state.holder) == (99, (14, 13, 13, 13), 0)
    assert tiles_in_all(state) == 152


def test_another_seat_deals():
    state = start(Header(dealer=2))
    assert (state.concealed, state.holder, state.turn) == ((13, 13, 14, 13), 2, 2)


def test_the_opening_throw_draws_nothing():
    state = after("e 5 b")
    assert (state.wall, state.draws, state.turns) == (99, (0, 0, 0, 0), (1, 0, 0, 0))
    assert (state.holder, state.turn, state.window) == (None, 1, 0)


def test_a_throw_from_thirteen_implies_a_draw():
    state = after("e 5 b", "s r")
    assert (state.wall, state.draws, state.turns) == (98, (0, 1, 0, 0), (1, 1, 0, 0))
    assert state.concealed == (13, 13, 13, 13)


def test_play_goes_to_the_right():
    assert [after(*rounds(n)).turn for n in range(1, 6)] == [1, 2, 3, 0, 1]


def test_each_seat_has_25_turns_without_claims():
    state = after(*rounds(100))
    assert state.turns == (25, 25, 25, 25)
    assert state.draws == (24, 25, 25, 25)
    assert (state.wall, state.lying) == (0, 100)
    assert state.floor[-1].seat == 3


def test_nobody_draws_from_a_wall_that_is_used_up():
    state = after(*rounds(100))
    refused(state, "e n", "impossible", "wall is used up.*East cannot draw.*wall game")
    refused(state, "e drew n", "impossible", "wall is used up")
    refused(state, "e m d n", "impossible", "wall is used up")


def test_a_throw_out_of_turn_is_a_breach_and_says_who_was_to_throw():
    state = after("e 5 b")
    refused(state, "w r", "irregular", "West throws out of turn: South was to draw and throw")
    assert after("e 5 b", "w r").flags[0][0] == 2


def test_after_a_throw_out_of_turn_play_goes_on_from_it():
    state = after("e 5 b", "w r")
    assert state.turn == 3
    assert tiles_in_all(state) == 152


def test_a_seat_that_holds_14_stays_the_holder_when_another_throws():
    state = after("w 5 b")
    assert (state.holder, state.turn, state.wall) == (0, 0, 98)
    assert verdict(state, "e r") == "legal"
    assert tiles_in_all(state) == 152


def test_a_fifth_copy_is_impossible_and_names_the_likely_tile():
    lines = ["e 5 b", "s 5 b", "w 5 b", "n 5 b"]
    refused(after(*lines), "e 5 b", "impossible", "4 of 4 are accounted.*5 crak")
    assert verdict(after(*lines[:3]), "n 5 b") == "legal"


def test_the_ninth_flower_is_impossible_the_eighth_is_not():
    lines = [f"{seat} f" for seat in "eswneswn"]
    assert verdict(after(*lines[:7]), "n f") == "legal"
    assert verdict(after(*lines), "e f") == "impossible"


def test_drawn_cannot_be_said_of_a_seat_that_did_not_draw():
    refused(start(), "e 5 b drawn", "impossible", "opens, so it drew nothing")
    refused(after("e 5 b", "w p"), "w r drawn", "impossible", "just exposed")
    assert verdict(start(), "e 5 b held") == "legal"
    assert verdict(after("e 5 b"), "s r drawn") == "legal"


def test_a_draw_said_outright_is_the_draw_of_that_turn():
    said, implied = after("e 5 b", "s drew r", "s g"), after("e 5 b", "s g")
    assert (said.wall, said.draws, said.concealed) == (implied.wall, implied.draws, (13,) * 4)
    assert after("e 5 b", "s drew r").holder == 1


def test_a_draw_closes_the_claim_window():
    refused(after("e 5 b", "s drew r"), "w p", "impossible", "nothing to take")


def test_nobody_draws_while_a_seat_holds_14():
    refused(start(), "s drew r", "impossible", "East holds 14")
    refused(after("e 5 b", "s drew r"), "s drew g", "impossible", "South holds 14")


def test_a_draw_of_a_fifth_copy_is_impossible():
    assert verdict(after("e 5 b", "s 5 b", "w 5 b", "n 5 b"), "e drew 5 b") == "impossible"


def test_a_draw_out_of_turn_is_a_breach():
    refused(after("e 5 b"), "w drew r", "irregular", "West draws out of turn")


@pytest.mark.parametrize(
    ("event", "words"),
    [
        (Discard(seat=4, kind=3), "no seat 4"),
        (Discard(seat=-1, kind=3), "no seat -1"),
        (Discard(seat=0, kind=36), "no kind 36"),
        (Drew(seat=1, kind=-1), "no kind -1"),
        (Discard(seat=0, kind=3, position="left"), "position 'left'; accepted: end, middle"),
        (Discard("East", 4), "no seat 'East'; accepted: 0 to 3, East first, so East is 0"),
        (Win("s", True), "no seat 's'.*so South is 1"),
        (Stopped("x"), "no seat 'x'; accepted: 0 to 3, East first$"),
        (Redeem(0, "w", 4), "no seat 'w' as owner.*so West is 2"),
        (Dead(0, "w"), "no seat 'w' as caller"),
        (Discard(True, 4), "no seat True"),
        (
            Discard(0, "5 bam"),
            r"no kind '5 bam'; accepted: 0 to 35, and hr.parse_kind\('5 bam'\) is 4",
        ),
        (Discard(0, "5 bem"), r"hr.parse_kind\('5 bam'\) gives; no suit 'bem'.*did you mean 'bam'"),
        (Discard(0, None), "no kind None"),
        (Discard(0, 4.0), "no kind 4.0"),
        (Rack(0, ("5 bam",)), "no kind '5 bam'; accepted: 0 to 35"),
        (Rack(0, "5 bam"), "tiles are '5 bam'; accepted: a tuple of kinds"),
        (Rack(0, {4}), r"tiles are \{4\}; accepted: a tuple of kinds"),
        (Rack(0, iter((4,))), "tiles are <tuple_iterator.*; accepted: a tuple of kinds"),
        (Joined(floor=("red",)), "no kind 'red'.* is 32"),
        (Joined(-1), "wall -1; accepted: 0 or more, a whole number"),
        (Missed("2"), "turns '2'; accepted: 1 or more, a whole number"),
        (Missed(0), "turns 0; accepted: 1 or more, a whole number"),
        (Passed(step="right", blind="1111"), "blind '1111': four numbers, 0 to 3, East first"),
        (Discard(0, 4, pause=-1), "pause -1; accepted: a number, 0 or more"),
        (Discard(0, 4, pause="long"), "pause 'long'; accepted: a number, 0 or more"),
        (Discard(0, 4, pause=float("nan")), "pause nan; accepted: a number, 0 or more"),
        (Discard(0, 4, drawn="yes"), "drawn 'yes'; accepted: True or False; None if not noted"),
        (Discard(0, 4, drawn=1), "drawn 1; accepted: True or False"),
        (Win(1, claimed="yes"), "claimed 'yes'; accepted: True or False"),
        (Expose(2, "pung"), "no group of 'pung'; accepted: 3, 4, 5, 6"),
        (Expose(2, 9), "no group of 9; accepted: 3, 4, 5, 6"),
        (Correct(2, 0), "no group of 0; accepted: 3, 4, 5, 6"),
        (Expose(2, 3, "1"), "jokers '1'; accepted: 0 or more, a whole number"),
    ],
)
def test_values_that_are_none_are_refused_with_what_would_do(event, words):
    with pytest.raises(IllegalEvent, match=words):
        apply(start(), event)


def test_integers_of_numpy_are_taken():
    event = Discard(np.int64(0), np.uint8(4), pause=np.float32(2))
    assert apply(start(), event) == apply(start(), Discard(0, 4, pause=2.0))


def test_what_is_no_event_is_refused():
    with pytest.raises(IllegalEvent, match=r"is no event; accepted: .*Discard"):
        apply(start(), "e 5 b")  # type: ignore[arg-type]


def test_check_changes_nothing_and_is_legal_means_no_reasons():
    state = after("e 5 b", "w p")
    before = after("e 5 b", "w p")
    for line in ("w r", "s r", "e p", "w co k 1"):
        event = parse_line(line)
        assert is_legal(state, event) == (not check(state, event))
    assert state == before


def test_an_impossible_event_is_refused_with_its_number():
    state = after(*[f"{seat} 5 b" for seat in "eswn"], "# a note")
    with pytest.raises(IllegalEvent, match=r"event 6, 'e 5 bam': .*5 bam"):
        apply(state, Discard(0, parse_kind("5 bam")))


def test_an_irregular_event_is_flagged_with_its_number_and_kept():
    state = after("e 5 b", "w r", "s g", "w e", "e 2 d")
    assert [number for number, _ in state.flags] == [2, 3, 5]


def test_a_larger_tile_set_and_another_hand_size_are_dealt():
    import numpy as np

    from handread.card.compiled import Rules
    from handread.tiles import COPIES, JOKER

    copies = np.array(COPIES)
    copies[JOKER] = 10
    state = start(rules=Rules(copies=copies, hand_size=14))
    assert state.wall == 101
    state = start(rules=Rules(hand_size=11))
    assert (state.concealed, state.wall) == ((11, 10, 10, 10), 111)


def test_unknown_switches_are_refused():
    with pytest.raises(IllegalEvent, match="did you mean 'correction'"):
        start(Header(switches=("no corection",)))
