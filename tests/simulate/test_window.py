"""Claims, priority, errors and dead hands, one rule at a time at tables with chosen racks."""

from __future__ import annotations

import numpy as np
import pytest

from handread.simulate import PlayCard, TableRules
from handread.simulate.actions import NO, WIN, claim_action, redeem_action
from handread.simulate.game.table import Table
from handread.simulate.game.turns import take_turn
from handread.simulate.rules.claims import in_order, legal_claims
from handread.simulate.rules.proof import proved_dead
from handread.table.events import (
    Correct,
    Dead,
    Discard,
    Expose,
    Redeem,
    Voiced,
    WallGame,
    Win,
    WinInError,
)
from handread.tiles import JOKER, KINDS, parse_kind
from handread.values import evolve
from tests.simulate.scripted import Script, table_of

BAM3 = parse_kind("3 bam")
#: Needs a 3 bam: pung of 3, pung of 4, kong of 5, kong of 6 in bams.
LONG = "2x 3 bam, 3x 4 bam, 4x 5 bam, 4x 6 bam"
#: Needs a 3 bam as half of a pair: kong of east, of west, of 1 bam, pair of 3 bam.
BREEZE = "4x east, 4x west, 4x 1 bam, 3 bam"
PUNG = ("claim", claim_action(3, 0))
JOKERED = ("claim", claim_action(3, 1))


def throw(
    card: PlayCard, racks: dict[int, str], script: Script, kind: int = BAM3, **options: object
) -> Table:
    """East throws a tile; the others answer by the script."""
    told = {0: [("throw", kind)], **script}
    table = table_of(card, {0: KINDS[kind], **racks}, told, **options)  # type: ignore[arg-type]
    take_turn(table)
    return table


def kinds_of(table: Table) -> list[str]:
    return [type(event).__name__ for event in table.events]


def test_a_win_goes_before_an_exposure_wherever_its_seat(small: PlayCard) -> None:
    script = {1: [JOKERED], 3: [("claim", WIN)]}
    table = throw(small, {1: "3 bam, 2x joker", 3: LONG}, script)
    assert table.events[1:] == [Voiced(1), Win(3, claimed=True)]
    assert table.racks[3][BAM3] == 3


def test_among_wins_the_seat_next_in_turn(small: PlayCard) -> None:
    script = {1: [("claim", WIN)], 3: [("claim", WIN)]}
    table = throw(small, {1: BREEZE, 3: LONG}, script)
    assert table.events[1:] == [Voiced(3), Win(1, claimed=True)]
    swapped = throw(small, {1: LONG, 3: BREEZE}, {1: [], 3: [("claim", WIN)]})
    assert swapped.events[1:] == [Win(3, claimed=True)]


def test_among_exposures_the_seat_next_in_turn(small: PlayCard) -> None:
    racks = {2: "3 bam, joker", 3: "3 bam, joker"}
    table = throw(small, racks, {2: [JOKERED], 3: [JOKERED]})
    assert table.events[1:] == [Voiced(3), Expose(2, 3, 1)]
    assert table.state.turn == 2
    assert in_order(0, (True, True, True, True)) == [1, 2, 3]


def test_unheard_losers_leave_no_trace(small: PlayCard) -> None:
    racks = {2: "3 bam, joker", 3: "3 bam, joker"}
    script = {2: [JOKERED], 3: [JOKERED]}
    table = throw(small, racks, script, rules=TableRules(heard=False))
    assert kinds_of(table) == ["Discard", "Expose"]


def test_a_thrown_joker_cannot_be_claimed(small: PlayCard) -> None:
    script = {1: [("claim", WIN)]}
    table = throw(small, {1: "2x 3 bam, 4x 4 bam, 4x 5 bam, 3x 6 bam"}, script, JOKER)
    only = table.events[0]
    assert isinstance(only, Discard)
    assert (len(table.events), only.seat, only.kind) == (1, 0, JOKER)


def test_a_concealed_hand_takes_only_its_last_tile(small: PlayCard) -> None:
    """Thirteen of the fourteen tiles of a concealed hand: the last one may be claimed to win."""
    rack = "2x 1 bam, 2x 2 bam, 3 bam, 2x 4 bam, 2x 5 bam, 2x flower, 2x green"
    table = throw(small, {2: rack}, {2: [("claim", WIN)]})
    assert table.events[1:] == [Win(2, claimed=True)]


def test_a_win_beats_a_laid_exposure_until_its_seat_throws(small: PlayCard) -> None:
    script = {1: [JOKERED], 3: [("claim", NO), ("claim", WIN)]}
    racks = {1: "3 bam, joker", 3: LONG}
    table = throw(small, racks, script)
    assert table.events[1:] == [Expose(1, 3, 1), Win(3, claimed=True)]
    assert table.racks[1][JOKER] == 1  # the rest of the group went back
    assert table.racks[1].sum() == 13
    off = TableRules(switches=("no win over exposure",))
    script = {1: [JOKERED], 3: [("claim", NO), ("claim", WIN)]}
    assert kinds_of(throw(small, racks, script, rules=off)) == ["Discard", "Expose"]


def test_a_mistaken_win_may_become_an_exposure(small: PlayCard) -> None:
    """One tile short with the throw: the win is none, the pung is one."""
    rack = "2x 3 bam, 3x 4 bam, 4x 5 bam, 3x 6 bam, 9 dot"
    table = throw(small, {2: rack}, {2: [("claim", WIN), PUNG]})
    assert table.events[1:] == [WinInError(2, shown=False), Expose(2, 3, 0)]
    assert table.offences == {}


def test_a_mistaken_win_with_tiles_shown_is_ground_for_a_dead_hand(small: PlayCard) -> None:
    rack = "2x 3 bam, 3x 4 bam, 4x 5 bam, 3x 6 bam, 9 dot"
    script = {2: [("claim", WIN)], 3: [("call", 1 + 2)]}
    table = throw(small, {2: rack}, script)
    assert table.events[1:] == [WinInError(2), Dead(2, caller=3)]
    assert table.state.live == (True, True, False, True)
    left_alone = throw(small, {2: rack}, {2: [("claim", WIN)], 3: [("call", 1 + 2)]},
                       rules=TableRules(dead_hands=False))  # fmt: skip
    assert left_alone.events[1:] == [WinInError(2)]


def test_a_group_that_fits_no_hand_goes_back_to_the_rack(small: PlayCard) -> None:
    """No hand of the card has a pung of east; its joker is out of play."""
    east = parse_kind("east")
    script = {2: [("claim", claim_action(3, 1))], 3: [("call", 1 + 2)]}
    table = throw(small, {2: "east, joker"}, script, east)
    assert table.events[1:] == [Expose(2, 3, 1), Dead(2, caller=3, returned=True)]
    assert table.racks[2][east] == 2
    assert table.racks[2][JOKER] == 1
    assert table.state.turn == 3


def test_a_group_may_be_mended_before_it_is_judged(small: PlayCard) -> None:
    east = parse_kind("east")
    script: Script = {
        2: [("claim", claim_action(3, 1)), ("mend", claim_action(4, 2))], 3: [("call", 1 + 2)],
    }  # fmt: skip
    table = throw(small, {2: "east, 2x joker"}, script, east)
    assert table.events[1:] == [Expose(2, 3, 1), Correct(2, 4, 2)]
    assert table.racks[2][JOKER] == 0
    no = TableRules(switches=("no correction",), dead_hands=False)
    script = {2: [("claim", claim_action(3, 1)), ("mend", claim_action(4, 2))]}
    assert kinds_of(throw(small, {2: "east, 2x joker"}, script, east, rules=no)) == [
        "Discard", "Expose",
    ]  # fmt: skip


@pytest.mark.parametrize("on", [True, False])
def test_the_last_throw_of_the_wall(small: PlayCard, on: bool) -> None:
    """It may be taken to win; for an exposure only by a switch."""
    rules = TableRules(switches=("last exposure",) if on else ())
    table = throw(small, {1: "3 bam, joker"}, {}, rules=rules)
    rack = table.racks[1].astype(np.uint8)
    for wall, shows in ((1, True), (0, on)):
        legal = legal_claims(evolve(table.state, wall=wall), 1, rack, BAM3, 0)
        assert legal[WIN]
        assert legal[JOKERED[1]] == shows


def test_a_redeem_can_complete_the_hand_and_counts_as_self_drawn(small: PlayCard) -> None:
    """South lays a joker in a pung of 3 bam; West, one short, draws the fourth 3 bam."""
    west = "3x 3 dot, 3x 4 dot, 4x 5 dot, 3x 6 dot"
    script: Script = {
        1: [JOKERED, ("throw", parse_kind("9 bam"))],
        2: [("redeem", redeem_action(1, BAM3)), ("win", 1)],
    }
    table = throw(small, {1: "3 bam, joker, 9 bam", 2: west}, script, first="3 bam")
    take_turn(table)
    take_turn(table)
    assert table.events[-2:] == [Redeem(2, 1, BAM3), Win(2, claimed=False)]
    assert table.racks[2][JOKER] == 1
    assert table.state.exposures[1][0].jokers == 0


def test_an_early_redeem_is_ground_for_a_dead_hand(small: PlayCard) -> None:
    script: Script = {
        1: [JOKERED, ("throw", parse_kind("9 bam"))],
        2: [("early", redeem_action(1, BAM3))], 3: [("call", 1 + 2)],
    }  # fmt: skip
    table = throw(small, {1: "3 bam, joker, 9 bam", 2: "3 bam"}, script)
    take_turn(table)
    take_turn(table)
    assert table.events[-2:] == [Redeem(2, 1, BAM3, early=True), Dead(2, caller=3)]
    assert len(table.wall) == 152 - 53
    assert table.state.turn == 3


def test_a_seat_proved_dead_by_what_all_see_can_be_called(small: PlayCard) -> None:
    """A kong of east and of west is on the Breeze alone, whose pairs are dead in turn."""
    script: Script = {1: [("claim", claim_action(4, 0))]}
    table = throw(small, {1: "3x east"}, script, parse_kind("east"))
    assert not proved_dead(small, table.state, 1)
    assert not proved_dead(small, table.state, 2)
    seen = table.state.seen.copy()
    pairs = [parse_kind(f"{n} {suit}") for n in (3, 5, 7, 9) for suit in ("bam", "crak", "dot")]
    seen[pairs] = 2
    assert not proved_dead(small, evolve(table.state, seen=seen), 1)
    seen[pairs] = 3
    assert proved_dead(small, evolve(table.state, seen=seen), 1)


def test_with_one_live_seat_left_the_game_ends(small: PlayCard) -> None:
    table = throw(small, {}, {})
    for seat in (1, 2, 3):
        table.do(Dead(seat, caller=0))
    take_turn(table)
    assert table.events[-1] == WallGame()
