"""Jokers redeemed. Common practice of the trade, no source."""

from handread.tiles import JOKER
from tests.table.at_table import after, refused, rounds, tiles_in_all, verdict

SHOWN = ["e 5 b", "w k 2", "w r"]  # West shows a kong with two jokers; North is next


def test_a_redeem_in_turn_implies_the_draw():
    state = after(*SHOWN, "n sw w 5 b")
    assert (state.holder, state.wall, state.draws) == (3, 98, (0, 0, 0, 1))
    assert state.concealed[3] == 14
    assert tiles_in_all(state) == 152
    assert tiles_in_all(after(*SHOWN, "n sw w 5 b", "n g")) == 152


def test_the_natural_becomes_seen_and_the_joker_goes_to_the_rack():
    state = after(*SHOWN, "n sw w 5 b")
    assert (state.seen[4], state.seen[JOKER]) == (3, 1)
    assert state.exposures[2][0].jokers == 1
    assert state.jokers_held == (0, 0, 0, 1)


def test_several_redeems_in_a_turn_draw_once():
    state = after(*SHOWN, "n sw w 5 b", "n sw w 5 b")
    assert (state.wall, state.jokers_held[3], state.exposures[2][0].jokers) == (98, 2, 0)
    refused(state, "n sw w 5 b", "impossible", "no joker stands for 5 bam")


def test_a_redeem_after_an_exposure_draws_nothing():
    state = after(*SHOWN, "n g", "e f", "n p", "n sw w 5 b")
    assert (state.wall, state.holder) == (97, 3)


def test_a_seat_redeems_from_its_own_exposure():
    state = after(*SHOWN, "n g", "e f", "s e", "w sw w 5 b")
    assert state.exposures[2][0].jokers == 1
    assert state.jokers_held[2] == 1


def test_a_redeem_closes_the_claim_window():
    state = after(*SHOWN, "n sw w 5 b")
    refused(state, "e p", "impossible", "nothing to take")


def test_redeeming_before_drawing_is_a_breach():
    refused(after(*SHOWN), "n sw w 5 b early", "irregular", "redeems before drawing")
    state = after(*SHOWN, "n sw w 5 b early")
    assert (state.wall, state.concealed[3], state.holder) == (99, 13, None)
    assert tiles_in_all(state) == 152


def test_redeeming_out_of_turn_is_a_breach_and_draws_nothing():
    refused(after(*SHOWN), "s sw w 5 b", "irregular", "out of turn, before drawing")
    assert after(*SHOWN, "s sw w 5 b").wall == 99


def test_only_a_natural_that_a_joker_stands_for_is_redeemed():
    refused(after(*SHOWN), "n sw w 6 b", "impossible", "there lie: 4 of 5 bam with 2 jokers")
    refused(after(*SHOWN), "n sw e 5 b", "impossible", "there lie: none")
    refused(after(*SHOWN), "n sw w j", "impossible", "with the natural tile")


def test_a_natural_that_is_gone_cannot_be_given():
    state = after(*SHOWN, "n 5 b", "e 5 b")
    refused(state, "s sw w 5 b", "impossible", "4 of 4 are accounted for")


def test_nobody_redeems_when_the_wall_is_used_up():
    tiles = [f"{number} {suit}" for suit in "cd" for number in range(1, 10)]
    lines = list(SHOWN)
    for i in range(99):
        lines.append(f"{'eswn'[(3 + i) % 4]} {tiles[i % 18] if i < 72 else 'f'}")
        if i >= 79:
            lines[-1] = f"{'eswn'[(3 + i) % 4]} {['e', 's', 'n', 'g', 'wh'][(i - 79) // 4]}"
    state = after(*lines)
    assert state.wall == 0
    refused(state, f"{'eswn'[state.turn]} sw w 5 b", "impossible", "wall is used up")


def test_a_redeemed_joker_is_known_until_a_joker_leaves_the_rack():
    state = after(*SHOWN, "n sw w 5 b", "n j")
    assert state.jokers_held[3] == 0
    state = after(*SHOWN, "n sw w 5 b", "n g", "e f", "n p 1")
    assert state.jokers_held[3] == 0
    assert state.seen[JOKER] == 2


def test_jokers_known_to_be_in_racks_count_against_the_set():
    lines = [*SHOWN, "n sw w 5 b", "n g", "e f", "s se 5", "s e"]
    state = after(*lines)
    assert (int(state.seen[JOKER]), sum(state.jokers_held)) == (6, 1)
    assert verdict(after(*lines, "w 6 b"), "e k 1") == "legal"
    refused(after(*lines, "w 6 b"), "e k 2", "impossible", "2 more joker")
    assert verdict(after(*lines, "w 6 b"), "n k 2") == "legal"


def test_a_table_where_a_dead_seat_keeps_its_jokers():
    lines = [*SHOWN, "n g", "w dead"]
    assert verdict(after(*lines), "e sw w 5 b") == "legal"
    refused(after("rule no dead swap", *lines), "e sw w 5 b", "irregular", "out of play here")


def test_discarding_a_joker_is_always_legal():
    for n in (1, 5, 50, 99):
        state = after(*rounds(n))
        assert verdict(state, f"{'eswn'[state.turn]} j") == "legal"
