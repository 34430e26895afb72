"""Games of the small card, and models of reading them, for the tests of fits."""

from __future__ import annotations

from functools import lru_cache

import handread as hr
from handread.clues import load_weights
from handread.fitting.design import Design, make_design
from handread.reading import Model, build_model, stored_model
from handread.simulate import SimulatedGame, default_population, play_card
from handread.simulate.batch import Setting, one_game
from handread.simulate.game.table import TableRules

SETTING = Setting(default_population(), TableRules(), card_name="small")


@lru_cache(maxsize=1)
def small_model() -> Model:
    return stored_model(hr.load_card("small"), load_weights())


@lru_cache(maxsize=1)
def small_design() -> Design:
    return make_design(small_model())


@lru_cache(maxsize=64)
def small_game(seed: int) -> SimulatedGame:
    return one_game(play_card(hr.load_card("small")), SETTING, seed)


def with_weights(model: Model, changes: dict[str, float]) -> Model:
    return build_model(
        model.card, weights=model.weights.replace(changes), prior=model.prior, clues=model.clues
    )
