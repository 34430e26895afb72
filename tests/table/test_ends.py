"""Wins, wall games, reveals. Common practice of the trade, no source."""

from tests.table.at_table import after, refused, rounds, tiles_in_all, verdict


def test_a_win_on_a_throw_takes_it():
    state = after("e 5 b", "w m c")
    assert (state.over, state.holder, state.concealed[2], state.wall) == (True, 2, 14, 99)
    assert state.floor[0].taken_by == 2
    assert tiles_in_all(state) == 152


def test_any_seat_but_the_thrower_wins_on_a_throw():
    assert [verdict(after("e 5 b"), f"{seat} m c") for seat in "swn"] == ["legal"] * 3
    refused(after("e 5 b"), "e m c", "irregular", "own throw")


def test_a_win_on_a_draw_draws():
    state = after("e 5 b", "s m d r")
    assert (state.over, state.wall, state.concealed[1]) == (True, 98, 14)
    assert after("e 5 b", "s drew r", "s m d r").wall == 98
    assert tiles_in_all(state) == 152


def test_the_dealer_may_win_on_the_deal():
    assert verdict(after(), "e m d") == "legal"
    assert after("e m d").wall == 99


def test_a_win_on_a_draw_is_for_the_seat_in_turn():
    refused(after("e 5 b"), "w m d", "irregular", "out of turn")


def test_the_tile_of_a_win_is_checked():
    refused(after("e 5 b"), "w m c 6 b", "impossible", "the last throw, 5 bam, not 6 bam")
    lines = ["e 5 b", "s 5 b", "w 5 b", "n 5 b"]
    refused(after(*lines), "e m d 5 b", "impossible", "4 of 4")


def test_a_win_after_a_redeem_counts_as_drawn():
    lines = ["e 5 b", "w k 2", "w r"]
    assert verdict(after(*lines, "n sw w 5 b"), "n m d") == "legal"


def test_a_win_call_beats_a_laid_exposure_until_its_seat_throws():
    state = after("e 5 b", "s p", "w m c")
    assert (state.over, state.holder, state.exposures[1]) == (True, 2, ())
    assert state.concealed == (13, 13, 14, 13)
    assert tiles_in_all(state) == 152
    assert verdict(after("e 5 b", "s p", "s r"), "w m c 5 b") == "impossible"
    assert verdict(after("e 5 b", "s p", "s r"), "w m c") == "legal"
    refused(after("rule no win over exposure", "e 5 b", "s p"), "w m c", "irregular", "beats")


def test_the_exposing_seat_may_win_with_what_it_took():
    state = after("e 5 b", "s p", "s m c")
    assert (state.holder, len(state.exposures[1]), tiles_in_all(state)) == (1, 1, 152)


def test_nothing_follows_the_end_but_reveals_and_comments():
    state = after("e 5 b", "w m c")
    for line in ("n r", "s p", "s dead", "wall", "missed", "e m d", "pass right"):
        refused(state, line, "impossible", "the game is over; accepted: a reveal or a comment")
    for line in ("s had : ladder", "# a good game"):
        assert verdict(state, line) == "legal"


def test_a_wall_game_leaves_100_tiles_on_the_floor_and_52_in_hands():
    state = after(*rounds(100), "wall")
    assert (state.over, state.lying, sum(map(state.tiles_of, range(4)))) == (True, 100, 52)


def test_the_last_throw_may_still_be_claimed_for_the_win():
    assert verdict(after(*rounds(100)), "e m c") == "legal"


def test_a_wall_game_with_tiles_left_is_a_breach():
    refused(after(*rounds(98)), "wall", "irregular", "2 tiles are left.*write 'missed'")
    refused(after(*rounds(99), "n drew f"), "wall", "irregular", "has not been thrown")


def test_a_reveal_before_the_end_is_a_breach():
    refused(after("e 5 b"), "s had : ladder", "irregular", "before the end")


def test_a_reveal_is_checked_against_what_was_seen():
    state = after("e 5 b", "s 5 b", "w 5 b", "n p 1", "n r", "e m c")
    refused(state, "n had rack 5 b r g", "impossible", "5 bam")
    refused(state, "n had rack r g", "irregular", "shows 2 concealed tiles; it should hold 10")
    assert verdict(state, "e had rack 1 b 2 b 3 b 4 b 6 b 7 b 8 b 9 b e s we n g r") == "legal"
    assert verdict(state, "s had rack 1 b 2 b 3 b 4 b 6 b 7 b 8 b 9 b e s r r r") == "legal"
    assert verdict(state, "s had rack 1 b 2 b 3 b 4 b 6 b 7 b 8 b 9 b e r r r r") == "impossible"
