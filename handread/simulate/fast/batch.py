"""Many games by the compiled engine, over processes; what comes out depends on the seed alone."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any, Final, TypeVar

import numpy as np

from handread.card.compiled import CompiledCard
from handread.errors import HandreadError
from handread.simulate.batch import Setting, club_of, game_seeds, shipped_name
from handread.simulate.fast.engine import Engine
from handread.simulate.fast.telling import Told, game_of, header_of, told_of
from handread.simulate.files import game_to_json
from handread.simulate.game.play import People, SimulatedGame
from handread.simulate.game.table import TableRules
from handread.simulate.playcard import play_card
from handread.simulate.population import Population, default_population
from handread.simulate.rules.deal import chairs

Out = TypeVar("Out")

#: Games that one process plays before it reports.
CHUNK: Final = 64

_ENGINES: dict[str, Engine] = {}


def engine_for(card: CompiledCard) -> Engine:
    """Engine of this process for a card; the last one is kept."""
    if card.hash not in _ENGINES:
        _ENGINES.clear()
        _ENGINES[card.hash] = Engine(play_card(card))
    return _ENGINES[card.hash]


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
    return Setting(
        population, rules or TableRules(), n_seats, until, shipped_name(card), club
    )  # fmt: skip


def people_at(setting: Setting, seed: int) -> People:
    """Who sits at the table of a seed; the same people as ``one_game`` of ``batch`` seats."""
    rng = np.random.default_rng(np.random.SeedSequence([seed, 1]))
    seats = chairs(setting.n_seats)
    if setting.club:
        order = rng.permutation(len(setting.club))[: len(seats)]
        found = [setting.club[int(i)] for i in order]
    else:
        found = [setting.population.person(f"{seed:x}-{seat}", rng=rng) for seat in seats]
    at = dict(zip(seats, found, strict=True))
    return tuple(at.get(seat) for seat in range(4))


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


def _line(card: CompiledCard, setting: Setting, seed: int) -> bytes:
    return game_to_json(fast_game(card, setting, seed))


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


def _games(card: CompiledCard, setting: Setting, seeds: tuple[int, ...]) -> list[SimulatedGame]:
    return [fast_game(card, setting, seed) for seed in seeds]


def _lines(card: CompiledCard, setting: Setting, seeds: tuple[int, ...]) -> list[bytes]:
    return [_line(card, setting, seed) for seed in seeds]


def chunks_of(seeds: tuple[int, ...], size: int) -> list[tuple[int, ...]]:
    """Seeds in chunks of a size, the last one shorter.

    >>> chunks_of((1, 2, 3), 2)
    [(1, 2), (3,)]
    """
    return [seeds[i : i + size] for i in range(0, len(seeds), size)]


def fast_games(
    card: CompiledCard, *, n_games: int, seed: int, n_workers: int = 1, **setting: Any
) -> Iterator[SimulatedGame]:
    """Play games and yield them in order: the games of ``simulate_games``, value for value.

    Parameters
    ----------
    card, n_games, seed, n_workers
        As for ``simulate_games``.
    setting
        `population`, `rules`, `n_seats`, `n_people` and `until`, as for ``simulate_games``.

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
    holds = setting_of(card, seed=seed, **setting)
    chunks = chunks_of(game_seeds(seed, n_games), CHUNK if n_games > CHUNK else max(n_games, 1))
    for games in over_processes(_games, card, holds, chunks, n_workers):
        yield from games


def write_lines(
    card: CompiledCard, path: str | Path, *, n_games: int, seed: int, n_workers: int = 1,
    resume: bool = False, progress: Callable[[int], None] | None = None, **setting: Any,
) -> int:  # fmt: skip
    """Play games into a file of JSON Lines, in the form of ``write_games``.

    Breaking off (Ctrl-C) keeps the games that are whole.

    Parameters
    ----------
    card
        The card.
    path
        The file.
    n_games, seed, n_workers
        As for ``fast_games``.
    resume
        Whether to keep the games that a run broken off has left in the file, and go on after
        them; a last line that is not whole is cut off.
    progress
        Called with the number of games done.
    setting
        As for ``fast_games``.

    Returns
    -------
    int
        Games in the file.

    Raises
    ------
    HandreadError
        If the file to go on with holds games of other seeds.
    """
    seeds = game_seeds(seed, n_games)
    holds = setting_of(card, seed=seed, **setting)
    done = _left_in(Path(path), seeds) if resume else 0
    with Path(path).open("ab" if resume else "wb") as out:
        try:
            chunks = chunks_of(seeds[done:], CHUNK)
            for lines in over_processes(_lines, card, holds, chunks, n_workers):
                out.write(b"".join(line + b"\n" for line in lines))
                done += len(lines)
                if progress is not None:
                    progress(done)
        except KeyboardInterrupt:
            return done
    return done


def _left_in(path: Path, seeds: tuple[int, ...]) -> int:
    """Whole games in a file, which is cut after the last of them."""
    if not path.exists():
        return 0
    import msgspec

    n, end = 0, 0
    with path.open("rb") as lines:
        for line in lines:
            if not line.endswith(b"\n"):
                break
            found = msgspec.json.decode(line)["truth"]["seed"]
            if n >= len(seeds) or found != seeds[n]:
                raise HandreadError(
                    f"line {n + 1} of {str(path)!r} is the game of seed {found!r}; accepted: a "
                    "file that a run of the same seed, and no more games, has left"
                )
            n, end = n + 1, end + len(line)
    with path.open("ab") as out:
        out.truncate(end)
    return n
