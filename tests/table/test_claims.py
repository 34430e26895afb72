"""Claims, exposures and their correction. Common practice of the trade, no source."""

import pytest

from tests.table.at_table import after, refused, rounds, tiles_in_all, verdict


def test_an_exposure_takes_the_throw_and_draws_nothing():
    state = after("e 5 b", "w p")
    assert (state.holder, state.window, state.wall) == (2, None, 99)
    assert state.floor[0].taken_by == 2
    assert state.concealed == (13, 13, 11, 13)
    assert state.tiles_of(2) == 14
    assert tiles_in_all(state) == 152


def test_the_claimer_throws_without_drawing_and_play_goes_to_its_right():
    state = after("e 5 b", "w p", "w r")
    assert (state.turn, state.wall, state.draws[2], state.concealed[2]) == (3, 99, 0, 10)


@pytest.mark.parametrize(("claimer", "skipped"), [("s", 0), ("w", 1), ("n", 2)])
def test_seats_between_lose_the_turn(claimer, skipped):
    state = after("e 5 b", f"{claimer} p", f"{claimer} r")
    assert state.turn == (skipped + 2) % 4


def test_a_claim_adds_a_turn_to_the_table():
    lines = ["e 5 b", "w p", "w n", *rounds(1, 3)]
    assert sum(after(*lines).turns) == 3
    assert after(*lines).wall == 98


def test_an_exposure_shows_the_other_copies_and_the_jokers():
    state = after("e 5 b", "w k 2")
    assert (state.seen[4], state.seen[35]) == (2, 2)
    assert state.exposures[2][0].jokers == 2


def test_a_group_may_be_all_jokers_but_for_the_tile_taken():
    assert verdict(after("e 5 b"), "w k 3") == "legal"
    refused(after("e 5 b"), "w k 4", "impossible", "the tile taken is no joker")


def test_a_thrown_joker_is_claimed_by_nobody():
    state = after("e j")
    assert state.window is None
    refused(state, "w p", "impossible", "thrown joker cannot be claimed")
    refused(state, "w m c", "impossible", "thrown joker cannot be claimed")


def test_only_the_last_throw_is_claimed():
    state = after("e 5 b", "s r")
    refused(state, "w p of 5 b", "impossible", "last throw is red by South")
    assert verdict(state, "w p of r") == "legal"


def test_nothing_is_claimed_before_a_throw_or_twice():
    refused(after(), "w p", "impossible", "nothing has been thrown yet")
    refused(after("e 5 b", "w p"), "n p", "impossible", "taken by West")


def test_taking_the_own_throw_back_is_a_breach():
    refused(after("e 5 b"), "e p", "irregular", "takes back its own throw")
    assert tiles_in_all(after("e 5 b", "e p")) == 152


def test_copies_that_are_gone_cannot_be_exposed_and_the_least_jokers_are_named():
    state = after("e 5 b", "s 5 b", "w 5 b")
    refused(state, "n p", "impossible", "needs 1 jokers or more")
    refused(state, "n k 1", "impossible", "needs 2 jokers or more")
    assert verdict(state, "n k 2") == "legal"


def test_more_jokers_than_the_set_holds_are_impossible():
    state = after("e 5 b", "w se 5", "w 6 b", "n k 2")
    assert state.seen[35] == 7
    assert verdict(after("e 5 b", "w se 5", "w 6 b", "n k 2", "n 7 b"), "e p 1") == "legal"
    refused(
        after("e 5 b", "w se 5", "w 6 b", "n k 2", "n 7 b"), "e k 2", "impossible", "more joker"
    )


def test_only_pung_to_sextet_may_be_claimed():
    for size in ("p", "k", "q 1", "se 2"):
        assert verdict(after("e f"), f"w {size}") == "legal"
    for size in ("si", "pa"):
        refused(after("e 5 b"), f"w {size}", "irregular", "may not be claimed; accepted: 3, 4, 5")


def test_an_exposure_leaves_a_tile_to_throw():
    lines = ["e f", "w se", "w r", "n 5 b", "w se 3", "w g", "n 6 b"]
    state = after(*lines)
    assert state.concealed[2] == 1
    refused(state, "w p", "impossible", "West holds 1 concealed tiles: too few")


def test_an_exposure_that_fits_no_hand_is_a_breach(house):
    state = after("e 5 b", card=house)
    assert verdict(state, "w p", house) == "legal"
    lines = ["e e", "w se 3", "w 1 b", "n s", "w se 3"]
    state = after(*lines[:-1], card=house)
    assert verdict(state, lines[-1], house) == "irregular"
    assert "fit no hand" in after(*lines, card=house).flags[0][1]
    assert verdict(state, lines[-1]) == "legal"


def test_the_size_is_mended_until_the_throw():
    state = after("e 5 b", "w p", "w co k 1")
    assert (state.exposures[2][0].size, state.exposures[2][0].jokers) == (4, 1)
    assert state == after("e 5 b", "w k 1", "# same place")
    refused(after("e 5 b", "w p", "w r"), "w co k 1", "irregular", "group is fixed")
    refused(after("e 5 b"), "w co k 1", "impossible", "shows no group")


def test_a_redeem_freezes_the_group():
    state = after("e 5 b", "s p 1", "s r", "w g", "n e", "e 6 b", "w k", "w sw s 5 b")
    refused(state, "w co p", "irregular", "redeemed since")


def test_a_group_made_smaller_gives_its_jokers_back_to_the_rack():
    state = after("e 5 b", "w k 2", "w co p")
    assert (state.seen[4], state.seen[35]) == (3, 0)
    assert state.jokers_held == (0, 0, 2, 0)
    assert tiles_in_all(state) == 152


def test_a_correction_cannot_show_copies_that_are_gone():
    state = after("e 5 b", "s 5 b", "w p 1")
    refused(state, "w co k", "impossible", "needs 1 jokers or more")
    assert verdict(state, "w co k 1") == "legal"


def test_a_table_that_allows_no_correction():
    state = after("rule no correction", "e 5 b", "w p")
    refused(state, "w co k 1", "irregular", "does not let a shown group be mended")


def test_claims_voiced_and_lost_change_nothing():
    state = after("e 5 b", "s c", "w p", "n c w")
    assert not state.flags
    assert state.holder == 2


@pytest.mark.parametrize(
    ("lines", "line", "kind", "words"),
    [
        ([], "s c", "impossible", "nothing to claim"),
        (["e j"], "s c", "irregular", "thrown joker"),
        (["e 5 b"], "e c", "irregular", "claims its own throw"),
        (["e 5 b", "s drew r"], "w c", "irregular", "claims too late"),
        (["e 5 b", "w dead"], "w c", "irregular", "is dead"),
    ],
)
def test_claims_voiced_that_cannot_be(lines, line, kind, words):
    refused(after(*lines), line, kind, words)


def test_the_last_throw_of_the_wall_is_taken_for_a_win_only():
    lines = rounds(100)
    refused(after(*lines), "s p 2", "irregular", "last throw of the wall")
    assert verdict(after(*lines), "s m c") == "legal"
    assert verdict(after("rule last exposure", *lines), "s p 2") == "legal"
