"""The summary: figures counted again here, intervals, bands, words."""

from __future__ import annotations

import json
from dataclasses import replace
from math import inf

import numpy as np
import pytest
from scipy.stats import binomtest

from handread.errors import HandreadError
from handread.simulate import PlayCard, SimulatedGame
from handread.simulate.summary import (
    Entry,
    GameFacts,
    Summary,
    game_facts,
    summarise_facts,
    summarise_games,
)
from handread.simulate.summary.facts import before, lasting_changes
from handread.simulate.summary.intervals import over_games, ratio, wilson
from handread.simulate.summary.words import summary_lines
from handread.table import replay
from handread.table.events import Discard, WallGame, Win


@pytest.fixture(scope="module")
def facts(house_play: PlayCard, games: list[SimulatedGame]) -> list[GameFacts]:
    return [game_facts(house_play, game) for game in games]


@pytest.fixture(scope="module")
def summary(house_play: PlayCard, facts: list[GameFacts]) -> Summary:
    entries = summarise_facts(house_play, facts)
    return Summary("card", "0" * 16, "tests", "1" * 16, 1, len(facts), entries)


def test_figures_are_those_of_the_records(
    house_play: PlayCard, games: list[SimulatedGame], summary: Summary
) -> None:
    """Counted from the records alone, without the facts."""
    ends = [replay(g.record.events, g.record.header, house_play.card) for g in games]
    won = [
        (game, state, event) for game, state in zip(games, ends, strict=True)
        if isinstance(event := game.record.events[-1], Win)
    ]  # fmt: skip
    assert summary.entry("wall games").value == pytest.approx(
        np.mean(
            [
                isinstance(game.record.events[-1], WallGame) and sum(state.live) > 1
                for game, state in zip(games, ends, strict=True)
            ]
        )
    )
    assert summary.entry("self-drawn share of wins").value == pytest.approx(
        sum(not event.claimed for _, _, event in won) / len(won)
    )
    assert summary.entry("winner's own turn").value == pytest.approx(
        np.mean([state.turns[event.seat] + 1 for _, state, event in won])
    )
    for seat, name in enumerate(("East", "South", "West", "North")):
        assert summary.entry(f"games won by {name}").value == pytest.approx(
            sum(event.seat == seat for _, _, event in won) / len(games)
        )
    throws = [e for game in games for e in game.record.events if isinstance(e, Discard)]
    assert summary.entry("pause before a throw, seconds").value == pytest.approx(
        np.mean([throw.pause for throw in throws])
    )
    held = [throw for throw in throws if throw.position is not None]
    assert not any(throw.drawn for throw in held)
    assert summary.entry("held tiles thrown from the middle").value == pytest.approx(
        np.mean([throw.position == "middle" for throw in held])
    )
    shares = [e.value for e in summary.entries if e.name.startswith("wins on ")]
    assert sum(shares) == pytest.approx(1.0)


def test_the_bands_of_the_first_tier(summary: Summary) -> None:
    """With 200 games: no band is missed by more than the interval allows."""
    missed = [
        entry.name for entry in summary.entries
        if entry.band is not None and not entry.holds and entry.clear
    ]  # fmt: skip
    assert missed == []


def test_plans_after_the_passes_sum_to_one(facts: list[GameFacts]) -> None:
    for game in facts:
        for seat in range(4):
            assert sum(game.plan_families[seat]) == pytest.approx(1.0, abs=1e-5)
            assert 0 <= game.plan_pure[seat] <= 1 + 1e-6
        assert sum(game.gains) == 0


def test_changes_count_when_they_last() -> None:
    assert lasting_changes([1, 2, 1, 2, 1]) == 0
    assert lasting_changes([1, 2, 2, 2, 1]) == 1
    assert lasting_changes([1, 2, 2, 1, 1]) == 2
    assert lasting_changes([4]) == 0


def test_hands_without_pairs_or_singles_are_told(house_play: PlayCard) -> None:
    for index, hand in enumerate(house_play.card.hands):
        words = hand.words
        small_groups = any(w in words for w in ("pair", "single", "block"))
        if (house_play.card.hand_of == index).any() and "either" not in words:
            assert house_play.pure[index] == (not small_groups), words


def test_intervals_of_shares() -> None:
    for k, n in ((0, 20), (7, 20), (81, 263), (20, 20)):
        exact = binomtest(k, n).proportion_ci(method="wilson")
        assert wilson(k, n) == pytest.approx((exact.low, exact.high))
    assert wilson(0, 0) == (0.0, 1.0)


def test_intervals_over_games_cover() -> None:
    """Percentile intervals of a mean hold the truth about as often as they say."""
    rng = np.random.default_rng(8)
    hits = 0
    for _ in range(100):
        rows = np.stack([rng.exponential(2.0, 80), np.ones(80)], axis=1)
        value, (low, high) = over_games(rows, ratio)
        assert low <= value <= high
        hits += low <= 2.0 <= high
    assert 86 <= hits <= 100


def test_a_ratio_over_nothing_has_no_interval() -> None:
    rows = np.array([[1.0, 0.0], [2.0, 0.0], [1.0, 1.0]])
    _, (low, high) = over_games(rows, ratio)
    assert np.isnan(low)
    assert np.isnan(high)


def test_what_holds_and_what_is_clear() -> None:
    entry = Entry("x", 0.2, 0.15, 0.26, "share", 100, (0.1, 0.25), "guess")
    assert entry.holds
    assert not entry.clear
    assert replace(entry, high=0.24).clear
    low = replace(entry, value=0.05, low=0.02, high=0.08)
    assert not low.holds
    assert low.clear
    assert replace(entry, band=None).holds is None
    above = replace(entry, band=(0.1, inf))
    assert above.holds
    assert above.clear


def test_summaries_go_to_json_and_words(summary: Summary) -> None:
    said = json.loads(json.dumps(summary.to_dict(), allow_nan=False))
    assert [entry["name"] for entry in said["entries"]] == [e.name for e in summary.entries]
    assert said["entries"][0]["band"] == [0.1, 0.25]
    assert all("source" in entry for entry in said["entries"] if entry["band"])
    lines = summary_lines(summary)
    assert max(map(len, lines)) <= 80
    assert any(line.startswith("wall games") and "10 to 25 %" in line for line in lines)
    with pytest.raises(HandreadError, match="no entry 'walls'; accepted: 'wall games'"):
        summary.entry("walls")


@pytest.mark.parametrize("n_seats", [2, 3])
def test_tables_of_two_and_three_are_summarised(small: PlayCard, n_seats: int) -> None:
    done: list[int] = []
    summary = summarise_games(
        small.card, n_games=12, seed=5, n_seats=n_seats, progress=done.append
    )  # fmt: skip
    assert done == list(range(1, 13))
    seats = ("East", "South", "West", "North")
    won = [e.value for e in summary.entries if e.name.removeprefix("games won by ") in seats]
    assert len(won) == n_seats
    others = ("wall games", "games left by all but one seat")
    assert sum(won) == pytest.approx(1 - sum(summary.entry(name).value for name in others))


def test_breaking_off_keeps_what_is_done(small: PlayCard) -> None:
    def stop(done: int) -> None:
        if done == 5:
            raise KeyboardInterrupt

    assert summarise_games(small.card, n_games=50, seed=5, progress=stop).n_games == 5


def test_no_game_no_summary(small: PlayCard) -> None:
    with pytest.raises(HandreadError, match="no game to summarise"):
        summarise_facts(small, [])


def test_events_before_the_play(games: list[SimulatedGame]) -> None:
    for game in games[:20]:
        n = before(game)
        assert type(game.record.events[n]).__name__ in ("Discard", "Win", "WinInError", "Drew")
        assert n in (4, 5, 7, 8) or type(game.record.events[n]).__name__ == "Win"
