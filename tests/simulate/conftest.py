"""Games that several tests look at; seeds here are for tests alone, never for tuning."""

from __future__ import annotations

import pytest

import handread as hr
from handread.card import CompiledCard
from handread.simulate import PlayCard, SimulatedGame, play_card, simulate_games

#: Seed of the games that the first tier looks at.
TEST_SEED = 731_001
N_GAMES = 200


@pytest.fixture(scope="session")
def house() -> CompiledCard:
    return hr.house_card()


@pytest.fixture(scope="session")
def house_play(house: CompiledCard) -> PlayCard:
    return play_card(house)


@pytest.fixture(scope="session")
def small() -> PlayCard:
    return play_card(hr.load_card("small"))


@pytest.fixture(scope="session")
def harbour() -> PlayCard:
    return play_card(hr.load_card("harbour"))


@pytest.fixture(scope="session")
def games(house: CompiledCard) -> list[SimulatedGame]:
    """Games of the default population on the house card."""
    return list(simulate_games(house, n_games=N_GAMES, seed=TEST_SEED))
