"""Games in files: JSON Lines, one game a line, record and truth apart."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import fields
from pathlib import Path
from typing import Any

import msgspec
import numpy as np

from handread.errors import ParseError
from handread.simulate.game.play import SimulatedGame
from handread.simulate.player import Style
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
