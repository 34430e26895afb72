"""Whole games: every rule met, nothing impossible, every tile accounted for."""

from __future__ import annotations

from collections import Counter

import pytest

from handread.simulate import Person, PlayCard, SimulatedGame, Style, TableRules, play_game
from handread.simulate.rules.deal import chairs
from handread.table.events import Absent, Correct, Dead, Expose, Redeem, Voiced
from tests.simulate.invariants import check_game
from tests.simulate.wild import Wild


def wild_game(
    card: PlayCard, seed: int, *, seats: int = 4, rules: TableRules | None = None,
    kind: Wild | None = None,
) -> SimulatedGame:  # fmt: skip
    kind = kind or Wild()
    people = tuple(
        Person(f"w{seat}", kind.name, 1, Style()) if seat in chairs(seats) else None
        for seat in range(4)
    )
    return play_game(card, people, seed=seed, rules=rules, kinds={kind.name: kind})


def careless_game(
    card: PlayCard, seed: int, *, rules: TableRules | None = None, carelessness: float = 0.6
) -> SimulatedGame:  # fmt: skip
    """Weighers who build well, overlook most wins and err often."""
    style = Style(carelessness=carelessness, eagerness=0.9)
    people = tuple(Person(f"c{seat}", "weigher", 1, style) for seat in range(4))
    return play_game(card, people, seed=seed, rules=rules)


def test_the_games_keep_the_rules(house_play: PlayCard, games: list[SimulatedGame]) -> None:
    met: Counter[str] = Counter()
    for game in games:
        met += check_game(house_play, game)
    assert met["Win"] > 100
    assert met["WallGame"] > 5
    assert met["Redeem"] > 50
    assert met["irregular"] < 0.01 * met["Discard"]


def test_wild_games_meet_every_rule(small: PlayCard) -> None:
    met: Counter[str] = Counter()
    for seed in range(60):
        met += check_game(small, wild_game(small, seed))
        met += check_game(small, careless_game(small, seed))
    assert min(met[name] for name in (
        "Passed", "Stopped", "Discard", "Voiced", "Expose", "Correct", "Redeem", "Dead",
        "WinInError", "WallGame", "Win", "irregular", "early", "joker thrown",
    )) > 0, met  # fmt: skip


@pytest.mark.parametrize("seats", [2, 3])
def test_two_and_three_seats(small: PlayCard, seats: int) -> None:
    met: Counter[str] = Counter()
    for seed in range(20):
        game = wild_game(small, seed, seats=seats)
        met += check_game(small, game)
        assert sum(isinstance(e, Absent) for e in game.record.events) == 4 - seats
        assert len(game.truth.wall) == 152 - 13 * seats - 1
        assert not game.truth.passes
    assert met["Passed"] == 0
    assert met["Expose"] > 0


def test_another_tile_set(harbour: PlayCard) -> None:
    """Ten jokers, and no sextets to claim."""
    assert harbour.targets.copies.sum() == 154
    for seed in range(15):
        game = wild_game(harbour, seed, kind=Wild(sober=("early",)))
        check_game(harbour, game)
        assert all(e.size <= 5 for e in game.record.events if isinstance(e, Expose))


@pytest.mark.parametrize(
    ("switch", "kind"),
    [("no correction", Correct), ("no second round", None), ("no blind pass", None)],
)
def test_switches_turn_rules_off(small: PlayCard, switch: str, kind: type | None) -> None:
    for seed in range(15):
        game = wild_game(small, seed, rules=TableRules(switches=(switch,)))
        check_game(small, game)
        if kind is not None:
            assert not any(isinstance(event, kind) for event in game.record.events)
        if switch == "no second round":
            assert [step.step for step in game.truth.passes] == [
                "right", "across", "left", "courtesy",
            ]  # fmt: skip
        if switch == "no blind pass":
            assert not any(any(step.blind) for step in game.truth.passes)


def test_dead_hands_can_be_left_uncalled_and_lost_claims_unheard(small: PlayCard) -> None:
    for seed in range(15):
        rules = TableRules(dead_hands=False, heard=False)
        game = wild_game(small, seed, rules=rules)
        check_game(small, game)
        assert not any(isinstance(event, Dead | Voiced) for event in game.record.events)


def test_jokers_of_a_dead_seat_stay_put_without_the_switch(small: PlayCard) -> None:
    redeemed = {True: 0, False: 0}
    for on in (True, False):
        rules = TableRules(switches=() if on else ("no dead swap",))
        for seed in range(30):
            game = wild_game(small, seed, rules=rules)
            dead: set[int] = set()
            for event in game.record.events:
                if isinstance(event, Dead):
                    dead.add(event.seat)
                elif isinstance(event, Redeem):
                    redeemed[on] += event.owner in dead
    assert redeemed[True] > 0
    assert redeemed[False] == 0


def test_the_last_throw_is_taken_for_an_exposure_only_with_the_switch(small: PlayCard) -> None:
    taken = {True: 0, False: 0}
    for on in (True, False):
        rules = TableRules(switches=("last exposure",) if on else (), dead_hands=False)
        for seed in range(30):
            game = wild_game(small, seed, rules=rules)
            if len(game.truth.draws) == len(game.truth.wall):
                last_draw = game.truth.draws[-1][0]
                taken[on] += any(isinstance(e, Expose) for e in game.record.events[last_draw:])
    assert taken[True] > 0
    assert taken[False] == 0


def test_the_same_seed_gives_the_same_game(house_play: PlayCard) -> None:
    people = tuple(Person(f"p{i}", "weigher", 1, Style()) for i in range(4))
    one, two, other = (play_game(house_play, people, seed=s) for s in (3, 3, 4))
    assert one == two
    assert one.record.events != other.record.events


def test_seeds_of_deal_and_decisions_are_apart(small: PlayCard) -> None:
    """Other players get the same tiles from the same seed."""
    chaser = tuple(Person(f"p{i}", "chaser", 1, Style()) for i in range(4))
    assert play_game(small, chaser, seed=9).truth.dealt == wild_game(small, 9).truth.dealt
    assert play_game(small, chaser, seed=9).truth.wall == wild_game(small, 9).truth.wall
