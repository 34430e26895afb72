"""Games in files: JSON Lines, one game a line, record and truth apart."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator
from dataclasses import fields
from pathlib import Path
from typing import Any

import msgspec
import numpy as np

from handread.card.compiled import CompiledCard
from handread.errors import HandreadError, ParseError
from handread.simulate.batch import game_seeds, map_games
from handread.simulate.game.play import SimulatedGame
from handread.simulate.playcard import PlayCard
from handread.simulate.player import Style
from handread.simulate.population import default_population
from handread.simulate.rules.passes import Exchange
from handread.simulate.truth import TRUTH_FORMAT, Change, Ending, Moments, Person, Truth
from handread.table.events import Header, Record


def game_to_json(game: SimulatedGame) -> bytes:
    """One game as one line of JSON, without the line's end.

    The record has the keys ``header`` and ``events``, in the form of ``handread.table``; the
    truth is an object beside it. Weights are written as short as single precision allows.
    """
    record = {"header": _header_out(game.record.header), "events": game.record.events}
    return msgspec.json.encode({"record": record, "truth": _truth_out(game.truth)})


def game_from_json(line: bytes | str) -> SimulatedGame:
    """Game of a line; the reverse of ``game_to_json``.

    Raises
    ------
    ParseError
        If the line is no game, or of a format that is not known here.
    """
    data = line.encode() if isinstance(line, str) else line
    shown = data[:60].decode("utf-8", "replace")
    try:
        raw = msgspec.json.decode(data)
        record = msgspec.convert(raw["record"], Record)
        said = raw["truth"]
        number = said["format"]
    except (msgspec.MsgspecError, UnicodeDecodeError, LookupError, TypeError) as error:
        words = "a line is an object with 'record' and 'truth'"
        raise ParseError(f"{shown!r} is no simulated game: {error}; {words}") from None
    if number != TRUTH_FORMAT:
        raise ParseError(f"format {number!r} of a truth; accepted: {TRUTH_FORMAT}")
    try:
        return SimulatedGame(record, _truth_in(said))
    except (LookupError, TypeError, ValueError) as error:
        raise ParseError(f"{shown!r} has no whole truth: {error!r}") from None


def write_games(games: Iterable[SimulatedGame], path: str | Path) -> int:
    """Write games to a file as they come.

    Breaking off (Ctrl-C) keeps what is written and ends the writing.

    Returns
    -------
    int
        How many were written.
    """
    n = 0
    with Path(path).open("wb") as out:
        try:
            for game in games:
                out.write(game_to_json(game) + b"\n")
                n += 1
        except KeyboardInterrupt:
            return n
    return n


def write_lines(
    card: CompiledCard, path: str | Path, *, n_games: int, seed: int, n_workers: int = 1,
    engine: str = "auto", resume: bool = False, progress: Callable[[int], None] | None = None,
    **setting: Any,
) -> int:  # fmt: skip
    """Play games into a file, in the form of ``write_games``.

    Breaking off (Ctrl-C) keeps the games that are whole.

    Parameters
    ----------
    card
        The card.
    path
        The file.
    n_games, seed, n_workers, engine
        As for ``simulate_games``.
    resume
        Whether to keep the games that a run broken off has left in the file, and go on after
        them; a last line that is not whole is cut off.
    progress
        Called with the number of games done.
    setting
        As for ``simulate_games``.

    Returns
    -------
    int
        Games in the file.

    Raises
    ------
    HandreadError
        If the file to go on with holds games of other seeds or another population.
    """
    population = setting.get("population") or default_population()
    done = _left_in(Path(path), game_seeds(seed, n_games), population.name) if resume else 0
    lines = map_games(
        _line, card, n_games=n_games, seed=seed, n_workers=n_workers, engine=engine, skip=done,
        **setting,
    )  # fmt: skip
    with Path(path).open("ab" if resume else "wb") as out:
        try:
            for line in lines:
                out.write(line)
                done += 1
                if progress is not None:
                    progress(done)
        except KeyboardInterrupt:
            return done
    return done


def _line(card: PlayCard, game: SimulatedGame) -> bytes:
    return game_to_json(game) + b"\n"


def _left_in(path: Path, seeds: tuple[int, ...], population: str) -> int:
    """Whole games in a file, which is cut after the last of them."""
    if not path.exists():
        return 0
    n, end = 0, 0
    with path.open("rb") as lines:
        for line in lines:
            if not line.endswith(b"\n"):
                break
            truth = msgspec.json.decode(line)["truth"]
            found = truth["seed"], truth["population"]
            if n >= len(seeds) or found != (seeds[n], population):
                raise HandreadError(
                    f"line {n + 1} of {str(path)!r} is the game of seed {found[0]!r} and "
                    f"population {found[1]!r}; accepted: a file that a run of the same seed and "
                    "population, and no more games, has left"
                )
            n, end = n + 1, end + len(line)
    with path.open("ab") as out:
        out.truncate(end)
    return n


def read_games(path: str | Path) -> Iterator[SimulatedGame]:
    """Games of a file, one after the other.

    Raises
    ------
    ParseError
        At the first line that cannot be read, with its number.
    """
    with Path(path).open("rb") as lines:
        for number, line in enumerate(lines, start=1):
            if line.strip():
                try:
                    yield game_from_json(line)
                except ParseError as error:
                    raise ParseError(f"line {number} of {str(path)!r}: {error}") from None


def _header_out(header: Header) -> dict[str, Any]:
    """Fields that are not at their defaults, compared by value: bytes depend on nothing else."""
    plain = Header()
    said = {name: getattr(header, name) for name in header.__struct_fields__}
    return {name: value for name, value in said.items() if value != getattr(plain, name)}


def _truth_out(truth: Truth) -> dict[str, Any]:
    said = {each.name: getattr(truth, each.name) for each in fields(truth)}
    said["moments"] = {
        each.name: getattr(truth.moments, each.name).tolist() for each in fields(Moments)
    }
    said["moments"]["weight"] = [float(str(weight)) for weight in truth.moments.weight]
    return {"format": TRUTH_FORMAT, **said}


def _truth_in(said: dict[str, Any]) -> Truth:
    moments = said["moments"]
    return Truth(
        seed=int(said["seed"]),
        population=said["population"],
        card_hash=said["card_hash"],
        versions=tuple((name, version) for name, version in said["versions"]),
        people=tuple(_person_in(person) for person in said["people"]),
        dealt=_tuples(said["dealt"]),
        wall=tuple(said["wall"]),
        passes=tuple(
            Exchange(x["step"], _tuples(x["given"]), _tuples(x["received"]), tuple(x["blind"]))
            for x in said["passes"]
        ),
        stops=tuple(said["stops"]),
        draws=_tuples(said["draws"]),
        moments=Moments(
            **{name: np.array(moments[name], dtype=kind) for name, kind in _MOMENT_TYPES.items()}
        ),
        changes=tuple(Change(**change) for change in said["changes"]),
        ending=Ending(**(said["ending"] | {"payments": tuple(said["ending"]["payments"])})),
        racks=_tuples(said["racks"]),
    )


_MOMENT_TYPES = {
    "at": np.int32, "seat": np.int8, "state": np.int8, "plan": np.int32, "distance": np.int8,
    "first": np.int32, "target": np.int32, "weight": np.float32,
}  # fmt: skip


def _tuples(rows: Any) -> Any:
    return tuple(tuple(row) for row in rows)


def _person_in(said: dict[str, Any] | None) -> Person | None:
    if said is None:
        return None
    return Person(said["key"], said["kind"], said["version"], Style(**said["style"]))
