"""Many games, over processes: what comes out depends on the seed alone."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from functools import partial
from typing import Any, Final, TypeVar

import numpy as np

from handread.card.compiled import CompiledCard
from handread.errors import HandreadError, closest
from handread.simulate.game.play import People, SimulatedGame, play_game
from handread.simulate.game.table import TableRules
from handread.simulate.playcard import PlayCard, play_card
from handread.simulate.population import Population, default_population
from handread.simulate.registry import kind_named
from handread.simulate.rules.deal import chairs
from handread.simulate.truth import Person

Out = TypeVar("Out")

ENGINES: Final = ("auto", "fast", "reference")
#: Games that one process plays before it reports, by engine.
CHUNKS: Final = {"reference": 8, "fast": 64}
#: Games from which on the compiled engine is worth the seconds of getting it ready, minutes at
#: its first use on a machine.
FEWEST_FAST: Final = 400


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


def people_at(setting: Setting, seed: int) -> People:
    """Who sits at the table of a seed."""
    rng = np.random.default_rng(np.random.SeedSequence([seed, 1]))
    seats = chairs(setting.n_seats)
    if setting.club:
        order = rng.permutation(len(setting.club))[: len(seats)]
        found = [setting.club[int(i)] for i in order]
    else:
        found = [setting.population.person(f"{seed:x}-{seat}", rng=rng) for seat in seats]
    at = dict(zip(seats, found, strict=True))
    return tuple(at.get(seat) for seat in range(4))


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
    return play_game(
        card,
        people_at(setting, seed),
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


def setting_of(
    card: CompiledCard, *, seed: int, population: Population | None = None,
    rules: TableRules | None = None, n_seats: int = 4, n_people: int | None = None,
    until: str = "end",
) -> Setting:  # fmt: skip
    """What holds for every game of a batch; parameters as of ``simulate_games``.

    Raises
    ------
    HandreadError
        If a number is out of range.
    """
    chairs(n_seats)
    if n_people is not None and n_people < n_seats:
        raise HandreadError(f"n_people={n_people!r}; {n_seats} or more are accepted")
    population = population or default_population()
    club = club_of(population, n_people, seed=seed) if n_people else ()
    return Setting(population, rules or TableRules(), n_seats, until, shipped_name(card), club)


def simulate_games(
    card: CompiledCard, *, n_games: int, seed: int, n_workers: int = 1, engine: str = "auto",
    **setting: Any,
) -> Iterator[SimulatedGame]:  # fmt: skip
    """Play games and yield them in order, each as soon as it is there.

    Parameters
    ----------
    card
        The card.
    n_games
        How many.
    seed
        Seed of the batch; the games depend on it, the card, the population and the rules,
        never on the number of workers or on the engine.
    n_workers
        Processes.
    engine
        ``"fast"`` for the compiled engine, ``"reference"``, or ``"auto"``: the compiled one for
        many games.
    setting
        Who plays, and how: `population`, the default one if not given; `rules` of the table;
        `n_seats`, 2 to 4; `n_people` of a club that plays all the games, four of them drawn for
        each, where not every table is to have people of its own; `until` ``"end"``, or
        ``"passes"`` to stop when the passes are over.

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
        same_game, card, n_games=n_games, seed=seed, n_workers=n_workers, engine=engine, **setting
    )


def same_game(card: PlayCard, game: SimulatedGame) -> SimulatedGame:
    """Return the game itself."""
    return game


def map_games(
    of_game: Callable[[PlayCard, SimulatedGame], Out], card: CompiledCard, *, n_games: int,
    seed: int, n_workers: int = 1, engine: str = "auto", skip: int = 0, **setting: Any,
) -> Iterator[Out]:  # fmt: skip
    """Play games and yield what a function makes of each, where it was played.

    Parameters
    ----------
    of_game
        Takes the card and a game; a function that other processes can import.
    card, n_games, seed, n_workers, engine, setting
        As for ``simulate_games``.
    skip
        Leave out so many games at the beginning.
    """
    if n_workers < 1:
        raise HandreadError(f"n_workers={n_workers!r}; 1 or more is accepted")
    holds = setting_of(card, seed=seed, **setting)
    named = engine_of(engine, holds, n_games)
    return _played(of_game, card, holds, game_seeds(seed, n_games)[skip:], n_workers, named)


def _played(
    of_game: Callable[[PlayCard, SimulatedGame], Out], card: CompiledCard, setting: Setting,
    seeds: tuple[int, ...], n_workers: int, engine: str,
) -> Iterator[Out]:  # fmt: skip
    size = CHUNKS[engine]
    chunks = [seeds[i : i + size] for i in range(0, len(seeds), size)]
    if n_workers == 1 or len(chunks) <= 1:
        play, table_card = game_player(card, setting, engine), play_card(card)
        for seed in seeds:
            yield of_game(table_card, play(seed))
        return
    from joblib import Parallel, delayed

    run = Parallel(n_jobs=n_workers, return_as="generator")
    jobs = (delayed(_play_chunk)(of_game, card, setting, chunk, engine) for chunk in chunks)
    for done in run(jobs):
        yield from done


def _play_chunk(
    of_game: Callable[[PlayCard, SimulatedGame], Any], card: CompiledCard, setting: Setting,
    seeds: tuple[int, ...], engine: str,
) -> list[Any]:  # fmt: skip
    play, table_card = game_player(card, setting, engine), play_card(card)
    return [of_game(table_card, play(seed)) for seed in seeds]


def engine_of(engine: str, setting: Setting, n_games: int) -> str:
    """Engine that plays.

    Parameters
    ----------
    engine
        ``"fast"``, ``"reference"``, or ``"auto"``: the compiled engine for many games whose
        players it knows.
    setting
        Who plays, and how.
    n_games
        Games wanted.

    Returns
    -------
    str
        ``"fast"`` or ``"reference"``.

    Raises
    ------
    HandreadError
        If the engine is none of these.

    Examples
    --------
    >>> engine_of("auto", Setting(default_population(), TableRules()), 10)
    'reference'
    """
    if engine not in ENGINES:
        raise HandreadError(f"no engine {engine!r}; {closest(engine, ENGINES)}")
    if engine != "auto":
        return engine
    if n_games < FEWEST_FAST:
        return "reference"
    from handread.simulate.fast.policies import POLICIES

    compiled = {policy.of for policy in POLICIES}
    names = {kind for kind, _ in setting.population.shares}
    names |= {person.kind for person in setting.club}
    return "fast" if all(type(kind_named(name)) in compiled for name in names) else "reference"


def game_player(
    card: CompiledCard, setting: Setting, engine: str
) -> Callable[[int], SimulatedGame]:  # fmt: skip
    """From a seed to its game, by an engine as ``engine_of`` names it."""
    if engine == "reference":
        return partial(one_game, play_card(card), setting)
    from handread.simulate.fast.batch import fast_game

    return partial(fast_game, card, setting)


def shipped_name(card: CompiledCard) -> str:
    """Name by which a record finds a card: that of the shipped card with its hash, or its title."""
    from handread.card import card_names, load_card

    for name in card_names():
        if load_card(name).hash == card.hash:
            return name
    return card.name
