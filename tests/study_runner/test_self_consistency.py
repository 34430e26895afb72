"""Games drawn from the model: its filter must be exactly calibrated, and the check must bite."""

from __future__ import annotations

from dataclasses import replace
from functools import lru_cache

import numpy as np
import pytest

import handread as hr
from handread.clues.weights import load_weights
from handread.errors import HandreadError
from handread.reading import Model, Reader, build_model, default_weights, stored_model
from handread.study.drawn import DrawnGame, draw_game
from handread.study.self_consistency import SelfConsistency, check_games, self_consistency


@lru_cache(maxsize=1)
def model() -> Model:
    """The default model without the term that its own games know nothing of."""
    weights = default_weights().replace({"elsewhere.power": 0.0})
    return stored_model(hr.load_card("small"), weights)


@lru_cache(maxsize=1)
def games() -> list[DrawnGame]:
    return [
        draw_game(model(), rng=np.random.default_rng([404, number]), most_throws=10)
        for number in range(200)
    ]


def passes(told: SelfConsistency) -> bool:
    power = told.family_power.power
    return (
        told.uniform.p_value > 0.005
        and told.family_error.p_value > 0.005
        and power.low < 1.0 < power.high
        and told.throws.difference.low < 0.0 < told.throws.difference.high
    )


def test_a_filter_is_calibrated_on_games_of_its_own_model() -> None:
    told = check_games(model(), games(), rng=np.random.default_rng(5))
    assert passes(told), str(told)


def test_the_reader_reads_a_drawn_game_as_its_filter_did() -> None:
    game = games()[0]
    reader = Reader(model().card, model=model(), header=game.record.header)
    said = []
    for number, event in enumerate(game.record.events, start=1):
        reader.observe(event)
        if number in game.event:
            said.append(reader.beliefs[event.seat].probs)
    np.testing.assert_array_equal(np.array(said), game.belief)


def test_the_check_bites_on_beliefs_that_are_too_sure() -> None:
    sharp = []
    for game in games():
        raised = game.belief**1.6
        raised /= raised.sum(axis=1, keepdims=True)
        sharp.append(replace(game, belief=raised, bits_claimed=1.6 * game.bits_claimed))
    told = check_games(model(), sharp, rng=np.random.default_rng(5))
    assert told.family_power.power.high < 0.8
    assert told.throws.difference.low > 0.0
    assert not passes(told)


@pytest.mark.slow
def test_the_check_bites_on_games_of_another_model() -> None:
    """Drawn by a model whose seats keep their tiles twice as hard."""
    weights = load_weights()
    groups = ("single", "pair", "pung", "kong", "quint", "sextet")
    harder = weights.replace({f"use.{name}": 2 * weights["use"][name] for name in groups})
    other = build_model(model().card, weights=harder, prior=np.array(model().prior))
    drawn = [
        draw_game(other, rng=np.random.default_rng([7, i]), most_throws=40) for i in range(200)
    ]
    wrong = []
    for game in drawn:
        reader = Reader(model().card, model=model(), header=game.record.header)
        said = []
        for number, event in enumerate(game.record.events, start=1):
            reader.observe(event)
            if number in game.event:
                said.append(reader.beliefs[event.seat].probs)
        wrong.append(replace(game, belief=np.array(said)))
    told = check_games(model(), wrong, rng=np.random.default_rng(5))
    assert not passes(told), str(told)
    assert told.family_error.p_value < 0.005, str(told)


@pytest.mark.slow
def test_five_thousand_games() -> None:
    told = self_consistency(model(), n_games=5000, seed=20260611, most_throws=24)
    print(told)
    assert passes(told), str(told)


def test_too_few_games_are_refused() -> None:
    with pytest.raises(HandreadError, match="3 games; accepted: 20"):
        check_games(model(), games()[:3], rng=np.random.default_rng(1))
