"""Many games by the compiled engine, over processes; what comes out depends on the seed alone."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from typing import Any, TypeVar

from handread.card.compiled import CompiledCard
from handread.errors import HandreadError
from handread.simulate.batch import Setting, people_at, simulate_games
from handread.simulate.fast.engine import Engine
from handread.simulate.fast.telling import Told, game_of, header_of, told_of
from handread.simulate.game.play import People, SimulatedGame
from handread.simulate.playcard import play_card

Out = TypeVar("Out")

_ENGINES: dict[str, Engine] = {}


def engine_for(card: CompiledCard) -> Engine:
    """Engine of this process for a card; the last one is kept."""
    if card.hash not in _ENGINES:
        _ENGINES.clear()
        _ENGINES[card.hash] = Engine(play_card(card))
    return _ENGINES[card.hash]


def told_game(card: CompiledCard, setting: Setting, seed: int) -> tuple[People, Told]:
    """Play the game of a seed, and give it back as arrays."""
    engine, people = engine_for(card), people_at(setting, seed)
    engine.play(people, seed=seed, rules=setting.rules, until=setting.until)
    return people, told_of(engine)


def fast_game(card: CompiledCard, setting: Setting, seed: int) -> SimulatedGame:
    """Play the game of a seed: the very game that ``one_game`` of ``batch`` plays."""
    people, told = told_game(card, setting, seed)
    table_card = engine_for(card).card
    header = header_of(table_card, people, card_name=setting.card_name, rules=setting.rules)
    population = setting.population.name
    return game_of(told, table_card, people, header=header, population=population)


def over_processes(
    of_chunk: Callable[[CompiledCard, Setting, tuple[int, ...]], Out], card: CompiledCard,
    setting: Setting, chunks: list[tuple[int, ...]], n_workers: int,
) -> Iterator[Out]:  # fmt: skip
    """What a function makes of each chunk of seeds, in order."""
    if n_workers < 1:
        raise HandreadError(f"n_workers={n_workers!r}; 1 or more is accepted")
    if n_workers == 1 or len(chunks) <= 1:
        for chunk in chunks:
            yield of_chunk(card, setting, chunk)
        return
    from joblib import Parallel, delayed

    run = Parallel(n_jobs=n_workers, return_as="generator")
    yield from run(delayed(of_chunk)(card, setting, chunk) for chunk in chunks)


def chunks_of(seeds: tuple[int, ...], size: int) -> list[tuple[int, ...]]:
    """Seeds in chunks of a size, the last one shorter.

    >>> chunks_of((1, 2, 3), 2)
    [(1, 2), (3,)]
    """
    return [seeds[i : i + size] for i in range(0, len(seeds), size)]


def fast_games(
    card: CompiledCard, *, n_games: int, seed: int, n_workers: int = 1, **setting: Any
) -> Iterator[SimulatedGame]:
    """Play games and yield them in order: the games of ``simulate_games``, by this engine.

    Parameters
    ----------
    card, n_games, seed, n_workers, setting
        As for ``simulate_games``.

    Examples
    --------
    Not run with the doctests: the first call compiles for a minute or two.

    >>> import handread as hr
    >>> card = hr.load_card("small")
    >>> [  # doctest: +SKIP
    ...     game.truth.ending.how for game in fast_games(card, n_games=2, seed=1, until="passes")
    ... ]
    ['passes', 'passes']
    """
    return simulate_games(
        card, n_games=n_games, seed=seed, n_workers=n_workers, engine="fast", **setting
    )
