"""Dead hands and wins in error. Common practice of the trade, no source."""

from tests.table.at_table import after, refused, rounds, tiles_in_all, verdict


def test_a_dead_seat_is_skipped():
    state = after("e 5 b", "s dead w")
    assert (state.live, state.turn) == ((True, False, True, True), 2)
    assert verdict(state, "w r") == "legal"
    assert after("e 5 b", "s dead", "w r", "n g", "e e").turn == 2


def test_a_dead_seat_may_do_nothing_more():
    state = after("e 5 b", "w p 1", "w r", "s dead")
    for line in ("s g", "s p", "s m c", "s drew g", "s sw w 5 b", "s c"):
        assert verdict(state, line) == "irregular", line
        refused(state, line, "irregular", "South is dead")


def test_the_hand_that_holds_14_goes_dead_without_a_throw():
    state = after("e 5 b", "w p", "w dead n")
    assert (state.holder, state.turn, state.concealed[2]) == (None, 3, 11)
    assert tiles_in_all(state) == 152
    assert verdict(state, "n r") == "legal"


def test_the_group_that_made_the_hand_dead_goes_back_out_of_play():
    state = after("e 5 b", "w k 2", "w dead n returned")
    assert state.exposures[2] == ()
    assert state.concealed[2] == 14
    assert (state.seen[4], state.seen[35]) == (2, 2)
    refused(state, "n sw w 5 b", "impossible", "there lie: none")
    assert tiles_in_all(state) == 152


def test_groups_shown_before_stay_up():
    lines = ["e 5 b", "w k 2", "w r", "n g", "e e", "s 6 b", "w p", "w dead n returned"]
    state = after(*lines)
    assert len(state.exposures[2]) == 1
    assert verdict(state, "n sw w 5 b") == "legal"


def test_a_hand_cannot_die_twice_or_give_back_what_it_does_not_show():
    refused(after("e 5 b", "s dead"), "s dead", "impossible", "dead already; still playing: East")
    refused(after("e 5 b"), "s dead returned", "impossible", "shows no group")


def test_only_another_player_may_call():
    refused(after("e 5 b"), "s dead s", "irregular", "only another player may")
    refused(after("s absent", "e 5 b"), "w dead s", "impossible", "nobody sits at 1")


def test_the_live_seats_share_the_wall():
    lines = ["e 5 b", "s dead"]
    tiles = [t.split(maxsplit=1)[1] for t in rounds(100)]
    lines += [f"{'wne'[i % 3]} {tiles[27 + i - 27]}" for i in range(4)]
    assert after(*lines).draws == (1, 0, 2, 1)


def test_a_win_in_error_is_a_breach_that_changes_nothing():
    refused(after("e 5 b"), "w error", "irregular", "has not; ground for a dead hand")
    before, state = after("e 5 b"), after("e 5 b", "w error")
    assert (state.turn, state.window, state.live) == (before.turn, before.window, before.live)
    assert len(state.flags) == 1
    assert "dead" not in after("e 5 b", "w error hidden").flags[0][1]


def test_one_seat_left_may_end_the_game():
    assert verdict(after("e 5 b", "s dead", "w dead", "n dead"), "wall") == "legal"
