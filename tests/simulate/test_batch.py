"""Batches: the same bytes whatever the number of workers; people, seeds, populations."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

import handread as hr
from handread.errors import HandreadError
from handread.simulate import (
    PlayCard,
    Population,
    SimulatedGame,
    Spread,
    Style,
    club_of,
    default_population,
    game_seeds,
    game_to_json,
    kind_named,
    people_of,
    simulate_games,
)
from handread.simulate.batch import shipped_name


def as_bytes(found: list[SimulatedGame]) -> list[bytes]:
    return [game_to_json(game) for game in found]


@pytest.mark.parametrize("n_workers", [2, pytest.param(3, marks=pytest.mark.slow)])
def test_same_seed_same_bytes_whatever_the_workers(small: PlayCard, n_workers: int) -> None:
    one = as_bytes(list(simulate_games(small.card, n_games=20, seed=12)))
    many = simulate_games(small.card, n_games=20, seed=12, n_workers=n_workers)
    assert as_bytes(list(many)) == one


def test_more_games_begin_with_the_same_ones(small: PlayCard) -> None:
    few = as_bytes(list(simulate_games(small.card, n_games=2, seed=12)))
    assert as_bytes(list(simulate_games(small.card, n_games=4, seed=12)))[:2] == few
    assert few[0] != as_bytes(list(simulate_games(small.card, n_games=1, seed=13)))[0]
    assert len(set(game_seeds(1, 5000))) == 5000


def test_a_club_keeps_its_people(small: PlayCard) -> None:
    games = simulate_games(small.card, n_games=12, seed=4, n_people=6, until="passes")
    club = {person.key: person for person in club_of(default_population(), 6, seed=4)}
    met = set()
    for game in games:
        for person in game.truth.people:
            assert person is not None
            assert person == club[person.key]
            met.add(person.key)
        assert len({person.key for person in game.truth.people if person}) == 4
    assert met == set(club)


def test_people_differ_as_the_population_says() -> None:
    population = default_population()
    rng = np.random.default_rng(3)
    people = [population.person(str(i), rng=rng) for i in range(4000)]
    for kind, share in population.shares:
        found = np.mean([person.kind == kind for person in people])
        assert found == pytest.approx(share, abs=4 * np.sqrt(share * (1 - share) / 4000))
    for parameter, spread in population.styles:
        values = np.array([getattr(person.style, parameter) for person in people])
        assert np.median(values) == pytest.approx(spread.centre, rel=0.15)
        factor = parameter in ("temperature", "slowness")
        logs = np.log(values) if factor else np.log(values / (1 - values))
        assert logs.std() == pytest.approx(spread.sd, rel=0.1)


def test_a_population_is_known_by_its_content() -> None:
    population = default_population()
    assert population.hash == default_population().hash
    changed = replace(population, styles=(("caution", Spread(0.3, 0.1)),))
    assert changed.hash != population.hash
    assert people_of("chaser").person("a", rng=np.random.default_rng(1)).kind == "chaser"
    same = Population("plain", (("weigher", 1.0),)).person("a", rng=np.random.default_rng(1))
    assert same.style == Style()


@pytest.mark.parametrize(
    ("shares", "styles", "words"),
    [
        ((("chaser", 0.5),), (), "shares sum to 0.5; accepted: 1"),
        ((("chasser", 1.0),), (), "no kind 'chasser'; did you mean 'chaser'"),
        ((("chaser", 1.0),), (("memroy", Spread(0.5, 1.0)),), "no 'memroy'; did you mean"),
    ],
)
def test_populations_that_cannot_be(
    shares: tuple[tuple[str, float], ...], styles: tuple[tuple[str, Spread], ...], words: str
) -> None:
    with pytest.raises(HandreadError, match=words):
        Population("bad", shares, styles)


def test_numbers_out_of_range(small: PlayCard) -> None:
    for options, words in (
        ({"n_seats": 5}, "n_seats=5; accepted: 2, 3, 4"),
        ({"n_workers": 0}, "n_workers=0; 1 or more"),
        ({"n_people": 3}, "n_people=3; 4 or more"),
    ):
        with pytest.raises(HandreadError, match=words):
            simulate_games(small.card, n_games=1, seed=1, **options)  # type: ignore[arg-type]
    with pytest.raises(HandreadError, match="seed=-1"):
        simulate_games(small.card, n_games=1, seed=-1)
    with pytest.raises(HandreadError, match="until='noon'; accepted: 'end', 'passes'"):
        next(simulate_games(small.card, n_games=1, seed=1, until="noon"))
    with pytest.raises(HandreadError, match="no kind of player 'weiger'; did you mean 'weigher'"):
        kind_named("weiger")


def test_records_name_the_card_as_it_ships() -> None:
    card = hr.load_card("harbour")
    assert shipped_name(card) == "harbour"
    assert next(simulate_games(card, n_games=1, seed=1)).record.header.card == "harbour"
    stranger = replace(card, hash="0" * 16)
    assert shipped_name(stranger) == card.name


FROZEN = "52ed98abb3a53ca1"


def test_the_population_is_frozen() -> None:
    """A change of kinds, shares or styles is another population, with a name of its own."""
    population = default_population()
    assert (population.name, population.hash) == ("population/1", FROZEN)
