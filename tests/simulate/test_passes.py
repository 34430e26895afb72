"""The passes: where tiles go, what may be sent on unseen, who may stop."""

from __future__ import annotations

from collections import Counter

import pytest
from hypothesis import given
from hypothesis import strategies as st

from handread.errors import HandreadError
from handread.simulate import PlayCard, SimulatedGame
from handread.simulate.game.passing import dealt_win, play_passes
from handread.simulate.rules.passes import BLIND_STEPS, DIRECTION, exchange
from handread.table.events import PASS_STEPS, Passed, Stopped, Win
from handread.tiles import JOKER, parse_kind
from tests.simulate.scripted import Script, table_of


@pytest.mark.parametrize(
    ("step", "to"),
    [("right", 1), ("across", 2), ("left", 3), ("second left", 3), ("second across", 2),
     ("last right", 1), ("courtesy", 2)],
)  # fmt: skip
def test_tiles_go_where_the_step_says(step: str, to: int) -> None:
    """East's tiles come to South on the right, to West across, to North on the left."""
    own = ((0, 1, 2), (3, 4, 5), (6, 7, 8), (9, 10, 11))
    done = exchange(step, own)
    for seat in range(4):
        assert done.received[(seat + to) % 4] == own[seat]
    assert set(DIRECTION) == set(PASS_STEPS)


@given(
    st.sampled_from(["left", "last right"]), st.tuples(*[st.integers(0, 3)] * 4)
)  # fmt: skip
def test_no_tile_is_lost_or_made_whatever_is_sent_on_unseen(
    step: str, blind: tuple[int, ...]
) -> None:
    own = tuple(tuple(range(10 * s, 10 * s + 3 - blind[s])) for s in range(4))
    done = exchange(step, own, blind)
    assert Counter(sum(done.given, ())) == Counter(sum(done.received, ()))
    if min(blind) < 3:
        assert [len(tiles) for tiles in done.received] == [3 - n for n in blind]
    for seat in range(4):
        assert not set(done.received[seat]) & set(own[seat]) or sum(b > 0 for b in blind) > 2


def test_a_blind_pass_sends_the_neighbours_tiles_on() -> None:
    """West looks at none of South's tiles: North gets them all."""
    own = ((1, 2, 3), (4, 5, 6), (), (10, 11, 12))
    done = exchange("last right", own, (0, 0, 3, 0))
    assert done.received == ((10, 11, 12), (1, 2, 3), (), (4, 5, 6))


def test_if_all_send_everything_on_no_tile_moves() -> None:
    assert exchange("left", ((), (), (), ()), (3, 3, 3, 3)).received == ((), (), (), ())


def test_no_such_step() -> None:
    with pytest.raises(HandreadError, match=r"'rihgt'.*did you mean 'right'"):
        exchange("rihgt", ((), (), (), ()))


def test_passes_of_whole_games(house_play: PlayCard, games: list[SimulatedGame]) -> None:
    stopped = 0
    for game in games:
        steps = [step.step for step in game.truth.passes]
        if game.truth.ending.how == "win" and len(steps) < 4:
            continue  # the dealer won with what the passes brought
        wished = len(game.truth.stops) > 0
        stopped += wished
        assert steps == [*PASS_STEPS[:3], *(() if wished else PASS_STEPS[3:6]), PASS_STEPS[6]]
        assert [e.step for e in game.record.events if isinstance(e, Passed)] == steps
        named = [e.seat for e in game.record.events if isinstance(e, Stopped)]
        assert named == list(game.truth.stops[:1])
        for step in game.truth.passes:
            given = sum(step.given, ())
            assert JOKER not in given
            assert Counter(given) == Counter(sum(step.received, ()))
            if step.step == "courtesy":
                sizes = [len(tiles) for tiles in step.given]
                assert sizes[:2] == sizes[2:]
                assert max(sizes) <= 3
            else:
                assert all(
                    len(step.given[s]) + step.blind[s] == 3 for s in range(4)
                )  # fmt: skip
                assert step.step in BLIND_STEPS or not any(step.blind)
    assert 0 < stopped < len(games)


def test_the_smaller_wish_decides_the_courtesy(small: PlayCard) -> None:
    script = {0: [("courtesy", 3)], 2: [("courtesy", 1)], 1: [("courtesy", 2)]}
    table = table_of(small, {}, {**script, 3: [("stop", 1), ("courtesy", 2)]})
    play_passes(table)
    assert table.events[-2:] == [Stopped(3), Passed(step="courtesy", counts=(1, 2, 1, 2))]


def test_the_dealer_may_win_with_the_tiles_dealt(small: PlayCard) -> None:
    east = "3x 3 bam, 3x 4 bam, 4x 5 bam, 4x 6 bam"
    table = table_of(small, {0: east}, {0: [("win", 1)]})
    assert dealt_win(table)
    assert table.events == [Win(0, claimed=False)]
    silent = table_of(small, {0: east}, {})
    assert not dealt_win(silent)
    assert silent.events == []


def test_the_dealer_may_win_after_the_first_round(small: PlayCard) -> None:
    """North, West and South bring what East lacks; there is no second round then."""
    racks = {
        0: "3x 3 bam, 2x 4 bam, 4x 9 dot, 4x 8 dot, 7 dot",
        1: "3x 6 bam, 4x 3 dot, 4x 4 dot",
        2: "2x 5 bam, 6 bam, 4x 1 dot, 4x 2 dot",
        3: "4 bam, 2x 5 bam",
    }
    given = {
        0: "9 dot, 9 dot, 9 dot, 8 dot, 8 dot, 8 dot, 9 dot, 8 dot, 7 dot",
        1: "3 dot, 3 dot, 3 dot, 4 dot, 4 dot, 4 dot, 6 bam, 6 bam, 6 bam",
        2: "1 dot, 1 dot, 1 dot, 5 bam, 5 bam, 6 bam",
        3: "4 bam, 5 bam, 5 bam",
    }
    script: Script = {0: [], 1: [], 2: [], 3: []}
    for seat, words in given.items():
        script[seat] = [("pass", parse_kind(tile)) for tile in words.split(", ")]
        script[seat].insert(6, ("blind", 0))
    script[0].append(("win", 1))
    table = table_of(small, racks, script)
    play_passes(table)
    assert [type(event) for event in table.events] == [Passed, Passed, Passed, Win]
