"""Where games come from whose plans are known: played by seed, read from a file, or revealed."""

from __future__ import annotations

import hashlib
from collections.abc import Iterator
from dataclasses import dataclass, replace
from itertools import islice
from pathlib import Path
from typing import Any, Protocol

from handread.card import CompiledCard
from handread.errors import HandreadError
from handread.fitting.minds import MindSource, SimulatedMinds
from handread.fitting.revealed import revealed_minds
from handread.simulate import SimulatedGame, read_games
from handread.simulate.batch import Setting, engine_of, game_player
from handread.table import load_record
from handread.table.events import Record


class Source(Protocol):
    """Where games come from; the same games whenever they are asked for."""

    @property
    def n_games(self) -> int:
        """How many there are."""
        ...

    @property
    def about(self) -> dict[str, Any]:
        """What a model card says of them; equal for equal games."""
        ...

    def games(self, card: CompiledCard, first: int, last: int) -> Iterator[Known]:
        """Games from number `first` to before `last`."""
        ...


@dataclass(frozen=True)
class Known:
    """A game of which somebody knows what the seats had in mind.

    Attributes
    ----------
    record
        The events.
    minds
        Who knows.
    people
        Keys of the people, East first.
    played
        Whether it has just played itself, so that every event is known to be possible.
    """

    record: Record
    minds: MindSource
    people: tuple[str, ...]
    played: bool = False

    __hash__ = None  # type: ignore[assignment]  # minds may hold arrays


def simulated(card: CompiledCard, game: SimulatedGame) -> Known:
    """A simulated game, known from its truth."""
    people = tuple(person.key if person is not None else "" for person in game.truth.people)
    return Known(game.record, SimulatedMinds(card, game), people)


@dataclass(frozen=True)
class Played:
    """Games that play themselves, by seed.

    Attributes
    ----------
    setting
        Who plays, and how.
    seeds
        Seed of each game.
    words
        What the seeds are, for a model card.
    """

    setting: Setting
    seeds: tuple[int, ...]
    words: str = ""

    @property
    def n_games(self) -> int:
        """How many there are."""
        return len(self.seeds)

    @property
    def about(self) -> dict[str, Any]:
        """Population, its hash, and a hash of the seeds."""
        told = hashlib.sha256(repr((self.seeds, self.setting.club)).encode()).hexdigest()[:16]
        population = self.setting.population
        return {
            "population": population.name, "population_hash": population.hash,
            "seeds": self.words, "seeds_hash": told, "games": self.n_games,
            "people": len(self.setting.club) or 4 * self.n_games,
        }  # fmt: skip

    def games(self, card: CompiledCard, first: int, last: int) -> Iterator[Known]:
        """Play the games from number `first` to before `last`."""
        play = game_player(card, self.setting, engine_of("auto", self.setting, self.n_games))
        for seed in self.seeds[first:last]:
            yield replace(simulated(card, play(seed)), played=True)


@dataclass(frozen=True)
class Recorded:
    """Games of a file, as ``handread simulate`` writes them.

    Attributes
    ----------
    path
        The file.
    n_games
        Games in it.
    """

    path: str
    n_games: int

    @property
    def about(self) -> dict[str, Any]:
        """Name, size and hash of the file."""
        content = Path(self.path).read_bytes()
        return {
            "records": Path(self.path).name, "games": self.n_games,
            "records_hash": hashlib.sha256(content).hexdigest()[:16],
        }  # fmt: skip

    def games(self, card: CompiledCard, first: int, last: int) -> Iterator[Known]:
        """Read the games from number `first` to before `last`."""
        for game in islice(read_games(self.path), first, last):
            if game.record.header.card_hash not in (None, card.hash):
                raise HandreadError(
                    f"{Path(self.path).name} holds a game of card {game.record.header.card!r} "
                    f"({game.record.header.card_hash}); accepted: games of {card.name!r} "
                    f"({card.hash})"
                )
            yield simulated(card, game)


@dataclass(frozen=True)
class Revealed:
    """Records of real games in a folder, with hands shown after the end.

    Attributes
    ----------
    paths
        Their files.
    """

    paths: tuple[str, ...]

    @property
    def n_games(self) -> int:
        """How many there are."""
        return len(self.paths)

    @property
    def about(self) -> dict[str, Any]:
        """Number and hash of the files."""
        content = hashlib.sha256()
        for path in self.paths:
            content.update(Path(path).read_bytes())
        return {"records": "revealed", "games": self.n_games,
                "records_hash": content.hexdigest()[:16]}  # fmt: skip

    def games(self, card: CompiledCard, first: int, last: int) -> Iterator[Known]:
        """Read the games from number `first` to before `last`."""
        for path in self.paths[first:last]:
            record = load_record(path)
            people = record.header.people or tuple(f"{Path(path).stem}-{seat}" for seat in range(4))
            yield Known(record, revealed_minds(card, record), people)


def recorded(path: str | Path) -> Recorded | Revealed:
    """Games of a file that ``handread simulate`` wrote, or of a folder of records.

    Raises
    ------
    HandreadError
        If there is nothing of the kind.
    """
    place = Path(path)
    if place.is_dir():
        files = sorted(str(f) for f in place.iterdir() if f.suffix in (".txt", ".jsonl"))
        if not files:
            raise HandreadError(f"no records in {str(place)!r}; accepted: .txt and .jsonl files")
        return Revealed(tuple(files))
    if not place.exists():
        raise HandreadError(
            f"no file {str(place)!r}; accepted: games with their truth, or a folder of records"
        )
    with place.open("rb") as lines:
        return Recorded(str(place), sum(bool(line.strip()) for line in lines))
