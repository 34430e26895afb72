"""Many games, over processes: what comes out depends on the seed alone."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from typing import Any, Final, TypeVar

import numpy as np

from handread.card.compiled import CompiledCard
from handread.errors import HandreadError
from handread.simulate.game.play import SimulatedGame, play_game
from handread.simulate.game.table import TableRules
from handread.simulate.playcard import PlayCard, play_card
from handread.simulate.population import Population, default_population
from handread.simulate.rules.deal import chairs
from handread.simulate.truth import Person

Out = TypeVar("Out")

#: Games that one process plays before it reports.
CHUNK: Final = 8


@dataclass(frozen=True)
class Setting:
    """What holds for every game of a batch.

    Attributes
    ----------
    population
        Who plays.
    rules
        How the tables play.
    n_seats
        Players at a table, 2 to 4.
    until
        ``"end"`` or ``"passes"``.
    card_name
        How the records name the card.
    club
        People who play all games in turns; empty when each table has people of its own.
    """

    population: Population
    rules: TableRules
    n_seats: int = 4
    until: str = "end"
    card_name: str = "house"
    club: tuple[Person, ...] = ()


def game_seeds(seed: int, n_games: int) -> tuple[int, ...]:
    """Seed of every game of a batch, drawn up front; more games only add to them.

    Examples
    --------
    >>> game_seeds(1, 3) == game_seeds(1, 5)[:3]
    True
    """
    if n_games < 0 or seed < 0:
        raise HandreadError(f"seed={seed!r}, n_games={n_games!r}; 0 or more are accepted")
    # 53 bits, so that a seed survives every reader of JSON
    words = np.random.SeedSequence(seed).generate_state(n_games, np.uint64) >> np.uint64(11)
    return tuple(int(word) for word in words)


def one_game(card: PlayCard, setting: Setting, seed: int) -> SimulatedGame:
    """Play the game of a seed: people first, then the table.

    Parameters
    ----------
    card
        The card.
    setting
        What holds for the batch.
    seed
        The game's own seed.
    """
    rng = np.random.default_rng(np.random.SeedSequence([seed, 1]))
    people: list[Person | None] = [None] * 4
    seats = chairs(setting.n_seats)
    if setting.club:
        order = rng.permutation(len(setting.club))[: len(seats)]
        found = [setting.club[int(i)] for i in order]
    else:
        keys = [f"{seed:x}-{seat}" for seat in seats]
        found = [setting.population.person(key, rng=rng) for key in keys]
    for seat, person in zip(seats, found, strict=True):
        people[seat] = person
    return play_game(
        card,
        tuple(people),
        seed=seed,
        rules=setting.rules,
        until=setting.until,
        card_name=setting.card_name,
        population=setting.population.name,
    )


def club_of(population: Population, n_people: int, *, seed: int) -> tuple[Person, ...]:
    """People of a club, drawn once for a whole batch.

    Examples
    --------
    >>> [person.key for person in club_of(default_population(), 2, seed=1)]
    ['p0', 'p1']
    """
    rng = np.random.default_rng(np.random.SeedSequence([seed, 2]))
    return tuple(population.person(f"p{i}", rng=rng) for i in range(n_people))


def simulate_games(
    card: CompiledCard,
    *,
    n_games: int,
    seed: int,
    population: Population | None = None,
    n_workers: int = 1,
    rules: TableRules | None = None,
    n_seats: int = 4,
    n_people: int | None = None,
    until: str = "end",
) -> Iterator[SimulatedGame]:
    """Play games and yield them in order, each as soon as it is there.

    Parameters
    ----------
    card
        The card.
    n_games
        How many.
    seed
        Seed of the batch; the games depend on it, the card, the population and the rules,
        never on the number of workers.
    population
        Who plays; the default population if None.
    n_workers
        Processes.
    rules
        How the tables play.
    n_seats
        Players at a table, 2 to 4.
    n_people
        People of a club that plays all the games, four of them drawn for each; None for
        people of its own at each table.
    until
        ``"end"``, or ``"passes"`` to stop when the passes are over.

    Raises
    ------
    HandreadError
        If a number is out of range.

    Examples
    --------
    >>> import handread as hr
    >>> games = list(simulate_games(hr.house_card(), n_games=2, seed=1, until="passes"))
    >>> [game.truth.ending.how for game in games]
    ['passes', 'passes']
    """
    return map_games(
        same_game, card, n_games=n_games, seed=seed, population=population, n_workers=n_workers,
        rules=rules, n_seats=n_seats, n_people=n_people, until=until,
    )  # fmt: skip


def same_game(card: PlayCard, game: SimulatedGame) -> SimulatedGame:
    """Return the game itself."""
    return game


def map_games(
    of_game: Callable[[PlayCard, SimulatedGame], Out],
    card: CompiledCard,
    *,
    n_games: int,
    seed: int,
    population: Population | None = None,
    n_workers: int = 1,
    rules: TableRules | None = None,
    n_seats: int = 4,
    n_people: int | None = None,
    until: str = "end",
) -> Iterator[Out]:
    """Play games and yield what a function makes of each, where it was played.

    Parameters
    ----------
    of_game
        Takes the card and a game; a function that other processes can import.
    card, n_games, seed, population, n_workers, rules, n_seats, n_people, until
        As for ``simulate_games``.
    """
    chairs(n_seats)
    if n_workers < 1:
        raise HandreadError(f"n_workers={n_workers!r}; 1 or more is accepted")
    if n_people is not None and n_people < n_seats:
        raise HandreadError(f"n_people={n_people!r}; {n_seats} or more are accepted")
    population = population or default_population()
    club = club_of(population, n_people, seed=seed) if n_people else ()
    setting = Setting(
        population, rules or TableRules(), n_seats, until, shipped_name(card), club
    )  # fmt: skip
    seeds = game_seeds(seed, n_games)
    return _played(of_game, card, setting, seeds, n_workers)


def _played(
    of_game: Callable[[PlayCard, SimulatedGame], Out], card: CompiledCard, setting: Setting,
    seeds: tuple[int, ...], n_workers: int,
) -> Iterator[Out]:  # fmt: skip
    if n_workers == 1 or len(seeds) <= 1:
        table_card = play_card(card)
        for seed in seeds:
            yield of_game(table_card, one_game(table_card, setting, seed))
        return
    from joblib import Parallel, delayed

    chunks = [seeds[i : i + CHUNK] for i in range(0, len(seeds), CHUNK)]
    run = Parallel(n_jobs=n_workers, return_as="generator")
    for done in run(delayed(_play_chunk)(of_game, card, setting, chunk) for chunk in chunks):
        yield from done


def _play_chunk(
    of_game: Callable[[PlayCard, SimulatedGame], Any], card: CompiledCard, setting: Setting,
    seeds: tuple[int, ...],
) -> list[Any]:  # fmt: skip
    table_card = play_card(card)
    return [of_game(table_card, one_game(table_card, setting, seed)) for seed in seeds]


def shipped_name(card: CompiledCard) -> str:
    """Name by which a record finds a card: that of the shipped card with its hash, or its title."""
    from handread.card import card_names, load_card

    for name in card_names():
        if load_card(name).hash == card.hash:
            return name
    return card.name
