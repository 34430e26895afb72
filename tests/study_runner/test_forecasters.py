"""Forecasters say what they are defined to say, from public events alone."""

from __future__ import annotations

import numpy as np
import pytest

import handread as hr
from handread.card.compiled import CompiledCard
from handread.clues.codes import match_exposures
from handread.errors import HandreadError
from handread.simulate import SimulatedGame, simulate_games
from handread.study.forecasters import (
    Forecaster,
    Oracle,
    Training,
    Uniform,
    WrittenGuesses,
    empty_training,
    forecaster_named,
    row_names,
)
from handread.study.forecasters.model import lore_reader
from handread.study.forecasters.trained import card_prior, log_ways_left
from handread.study.running import count_game, watch_game
from handread.table.events import Discard
from handread.table.play import apply, start


@pytest.fixture(scope="module")
def card() -> CompiledCard:
    return hr.load_card("small")


@pytest.fixture(scope="module")
def games(card: CompiledCard) -> list[SimulatedGame]:
    return list(simulate_games(card, n_games=3, seed=91))


@pytest.fixture(scope="module")
def training(card: CompiledCard, games: list[SimulatedGame]) -> Training:
    counts = empty_training(card)
    for game in games:
        counts = counts.plus(count_game(card, game))
    return counts


def test_counts_are_of_every_own_turn_and_every_open_throw(
    card: CompiledCard, games: list[SimulatedGame]
) -> None:
    counts = count_game(card, games[0])
    state, throws, offers = start(games[0].record.header, card.rules), 0, 0
    for event in games[0].record.events:
        state = apply(state, event, card)
        if isinstance(event, Discard):
            throws += 1
            if event.kind != hr.tiles.JOKER:
                offers += sum(state.live[s] for s in range(4) if s != event.seat)
    assert counts.rows.sum() == pytest.approx(throws)
    assert counts.offers.sum() == offers
    won = games[0].truth.ending
    assert counts.wins.sum() == (won.how == "win" and won.thrower is not None)


@pytest.mark.parametrize("name", ["uniform", "base rates", "floor", "elimination", "lore"])
def test_no_forecaster_knows_the_future(
    name: str, card: CompiledCard, games: list[SimulatedGame], training: Training
) -> None:
    """Cut the game short: what was said up to there stays the same to the bit."""
    game = games[0]
    reader = {name: forecaster_named(name, card, training)}
    whole = watch_game(card, game, reader, number=0).beliefs[name]
    half = len(game.record.events) // 2
    record = hr.Record(game.record.header, game.record.events[:half])
    cut = watch_game(card, SimulatedGame(record, game.truth), reader, number=0).beliefs[name]
    assert 0 < len(cut) < len(whole)
    np.testing.assert_array_equal(np.array(cut), np.array(whole)[: len(cut)])


@pytest.mark.parametrize("name", ["uniform", "base rates", "floor", "elimination", "lore"])
def test_forecasters_keep_the_protocol(name: str, card: CompiledCard, training: Training) -> None:
    reader = forecaster_named(name, card, training)
    assert isinstance(reader, Forecaster)
    assert not isinstance(reader, Oracle)
    belief = reader.open(card, hr.Header()).belief(2)
    assert belief.shape == (len(row_names(card)),)
    assert belief.sum() == pytest.approx(1.0)
    assert isinstance(forecaster_named("rack oracle", card, training), Oracle)
    with pytest.raises(HandreadError, match="no forecaster 'lore wihtout use'"):
        forecaster_named("lore wihtout use", card, training)
    with pytest.raises(HandreadError, match="no clue 'usee'; did you mean 'use'"):
        lore_reader(card, without="usee")


def test_elimination_leaves_what_the_exposures_leave(
    card: CompiledCard, games: list[SimulatedGame], training: Training
) -> None:
    watcher = forecaster_named("elimination", card, training).open(card, hr.Header())  # type: ignore[union-attr]
    prior, n = card_prior(card), len(card.families)
    met = 0
    for game in games:
        state = start(game.record.header, card.rules)
        for event in game.record.events:
            state = apply(state, event, card)
            watcher.observe(event, state)
            for seat in range(4):
                fits, _ = match_exposures(card, state.exposures[seat])
                left = np.bincount(card.family_of, weights=prior * fits, minlength=n)
                if left.sum() > 0 and state.exposures[seat]:
                    said = watcher.belief(seat)[:n]
                    np.testing.assert_allclose(said / said.sum(), left / left.sum())
                    met += 1
    assert met > 20


def test_a_model_at_a_table_says_what_its_reader_says(
    card: CompiledCard, games: list[SimulatedGame]
) -> None:
    """A study keeps no past; a ``Reader`` keeps it, and believes the same to the bit."""
    game, model = games[0], lore_reader(card).model
    watcher = lore_reader(card).open(card, game.record.header)
    reader = hr.Reader(card, model=model, header=game.record.header)
    state, asked = start(game.record.header, card.rules), 0
    for event in game.record.public("floor"):
        state = apply(state, event, card)
        watcher.observe(event, state)
        reader.observe(event)
        for seat in range(4):
            said = model.by_family(reader.beliefs[seat].probs)
            np.testing.assert_array_equal(watcher.belief(seat), said)
        if state.window is not None and not state.over:
            said_of_it, told = watcher.window(), reader.open_throw()
            np.testing.assert_array_equal(said_of_it.claims, told.claims)
            np.testing.assert_array_equal(said_of_it.wins, told.wins)
            asked += 1
    assert asked > 5


def test_ways_left_are_counted_by_hand(card: CompiledCard) -> None:
    """One target, one kind gone: the share of ways is a ratio of two binomials."""
    full = card.rules.copies.astype(np.int64)
    assert log_ways_left(card, full) == pytest.approx(np.zeros(card.n_targets))
    pairs = (card.group_size == 2) & ~card.group_joker
    target, group = (int(x) for x in np.argwhere(pairs)[0])
    kind = int(card.group_kind[target, group])
    assert full[kind] == 4
    free = full.copy()
    free[kind] = 3  # 3 pairs of 3 copies, where there were 6 of 4
    same = (card.group_kind[target] == kind) & (card.group_size[target] > 0)
    if same.sum() == 1:
        assert log_ways_left(card, free)[target] == pytest.approx(np.log(3 / 6))
    free[kind] = 1
    assert log_ways_left(card, free)[target] == pytest.approx(np.log(1e-3))


def test_written_guesses_hold_until_the_next_and_bad_ones_are_refused(card: CompiledCard) -> None:
    ann = WrittenGuesses("ann", {(1, 2): {"Twins": 3, "Winds": 1}, (3, 2): {"Tens": 1}}, spread=0.0)
    watcher = ann.open(card, hr.Header())
    even = np.full(7, 1 / 7)
    names = row_names(card)
    said = []
    for event in (Discard(0, 4), Discard(1, 4), Discard(2, 5)):
        said.append(watcher.belief(2).copy())
        watcher.observe(event, None)  # type: ignore[arg-type]
    said.append(watcher.belief(2))
    np.testing.assert_allclose(said[0], even)
    assert said[1][names.index("Twins")] == said[2][names.index("Twins")] == 0.75
    assert said[3][names.index("Tens")] == 1.0
    np.testing.assert_allclose(watcher.belief(0), even)
    with pytest.raises(HandreadError, match="guesses 'Twinz'; did you mean 'Twins'"):
        WrittenGuesses("ann", {(1, 2): {"Twinz": 1}}).open(card, hr.Header())


def test_a_forecaster_that_says_no_distribution_is_named(
    card: CompiledCard, games: list[SimulatedGame]
) -> None:
    class Half(Uniform):
        def open(self, card: CompiledCard, header: hr.Header):  # type: ignore[no-untyped-def]
            watcher = super().open(card, header)
            watcher.beliefs = watcher.beliefs / 2
            return watcher

    with pytest.raises(HandreadError, match=r"(?s)'half' says .*sum to 1"):
        watch_game(card, games[0], {"half": Half()}, number=0)


def test_a_clue_counted_twice_has_its_scores_twice(card: CompiledCard) -> None:
    twice, lore = lore_reader(card, twice="use").model, lore_reader(card).model
    assert len(twice.clues) == len(lore.clues) + 1
    assert twice.weights["use again"] == lore.weights["use"]
    assert len(lore_reader(card, without="use").model.clues) == len(lore.clues) - 1
