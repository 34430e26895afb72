"""Games in columns: a folder of Parquet files, for batches that no memory holds.

One file a part of PART games, written whole or not at all; one row a game. A game is there with
record and truth, in the arrays of ``telling.Told`` laid out flat: a column of lists for each,
whose rows have the widths of ``WIDTHS``. Beside them are the people: ``kinds``, ``keys``,
``versions``, four each, empty and 0 where nobody sat, and ``styles``, the numbers of the four
styles one after the other. The file's metadata say seed, card, population and setting. Needs
pyarrow.
"""

from __future__ import annotations

import json
from collections.abc import Callable, Iterator
from dataclasses import fields
from pathlib import Path
from typing import Any, Final

import numpy as np

from handread.card.compiled import CompiledCard
from handread.errors import HandreadError
from handread.simulate.batch import Setting, game_seeds, setting_of
from handread.simulate.fast.batch import chunks_of, over_processes, told_game
from handread.simulate.fast.telling import Told, game_of, header_of
from handread.simulate.game.play import People, SimulatedGame
from handread.simulate.game.table import TableRules
from handread.simulate.playcard import play_card
from handread.simulate.player import Style
from handread.simulate.truth import Person

#: Games of one file.
PART: Final = 500
#: Version of the layout of the columns.
PARTS_FORMAT: Final = 1
#: Numbers of one row of each array of a game.
WIDTHS: Final = {
    "tiles": 1, "events": 8, "rows": 6, "entry_target": 1, "entry_weight": 1, "changes": 5,
    "draws": 3, "passes": 37, "stops": 1, "racks": 36, "ending": 1,
}  # fmt: skip
_STYLE: Final = tuple(each.name for each in fields(Style) if isinstance(each.default, float))

Columns = dict[str, Any]


def _pyarrow() -> Any:
    try:
        import pyarrow
        import pyarrow.parquet
    except ImportError as error:
        words = "accepted: 'pip install handread[parquet]', or games as JSON Lines"
        raise HandreadError(f"games in columns need pyarrow, which is not here: {words}") from error
    return pyarrow


def _columns(card: CompiledCard, setting: Setting, seeds: tuple[int, ...]) -> Columns:
    """Play games into columns: for each array the flat values and where each game begins."""
    found = [told_game(card, setting, seed) for seed in seeds]
    columns: Columns = {"seed": np.array(seeds, dtype=np.int64)}
    for name in WIDTHS:
        arrays = [getattr(told, name) for _, told in found]
        ends = np.cumsum([0, *(array.size for array in arrays)]).astype(np.int32)
        columns[name] = (ends, np.concatenate([array.reshape(-1) for array in arrays]))
    everybody = [person for people, _ in found for person in people]
    columns["kinds"] = [person.kind if person else "" for person in everybody]
    columns["keys"] = [person.key if person else "" for person in everybody]
    columns["versions"] = [person.version if person else 0 for person in everybody]
    columns["styles"] = [
        float(getattr(person.style, name)) if person else 0.0
        for person in everybody for name in _STYLE
    ]  # fmt: skip
    return columns


def _table(columns: Columns, said: dict[str, Any]) -> Any:
    """Columns as a table of pyarrow."""
    arrow = _pyarrow()
    n = len(columns["seed"])
    made = {"seed": arrow.array(columns["seed"])}
    for name in WIDTHS:
        ends, values = columns[name]
        made[name] = arrow.ListArray.from_arrays(arrow.array(ends), arrow.array(values))
    for name in ("kinds", "keys", "versions", "styles"):
        per_game = len(columns[name]) // max(n, 1)
        ends = np.arange(n + 1, dtype=np.int32) * per_game
        made[name] = arrow.ListArray.from_arrays(arrow.array(ends), arrow.array(columns[name]))
    return arrow.table(made).replace_schema_metadata({"handread": json.dumps(said)})


def write_parts(
    card: CompiledCard, folder: str | Path, *, n_games: int, seed: int, n_workers: int = 1,
    resume: bool = False, progress: Callable[[int], None] | None = None, **setting: Any,
) -> int:  # fmt: skip
    """Play games into a folder of Parquet files.

    Breaking off (Ctrl-C) keeps the parts that are whole; no more than the parts that are being
    played lie in memory at any time.

    Parameters
    ----------
    card
        The card.
    folder
        Where the parts go; made if it is not there.
    n_games, seed, n_workers
        As for ``fast_games``.
    resume
        Whether to keep the parts that are there, and play the others.
    progress
        Called with the number of games done.
    setting
        As for ``fast_games``.

    Returns
    -------
    int
        Games in the folder.

    Raises
    ------
    HandreadError
        Without pyarrow; if parts of another batch lie in the folder, or any without `resume`.
    """
    arrow = _pyarrow()
    holds = setting_of(card, seed=seed, **setting)
    said = _metadata(card, holds, seed)
    place = Path(folder)
    place.mkdir(parents=True, exist_ok=True)
    chunks = chunks_of(game_seeds(seed, n_games), PART)
    paths = [place / f"part-{number:06d}.parquet" for number in range(len(chunks))]
    there = [path.exists() for path in paths]
    _check_folder(place, said, resume=resume)
    for path, chunk in zip(paths, chunks, strict=True):
        if path.exists() and arrow.parquet.read_metadata(path).num_rows != len(chunk):
            path.unlink()  # the last part of a shorter batch
    there = [path.exists() for path in paths]
    done = sum(len(chunk) for chunk, here in zip(chunks, there, strict=True) if here)
    open_parts = [i for i, here in enumerate(there) if not here]
    played = over_processes(_columns, card, holds, [chunks[i] for i in open_parts], n_workers)
    try:
        for i, columns in zip(open_parts, played, strict=True):
            unfinished = paths[i].with_suffix(".unfinished")
            arrow.parquet.write_table(_table(columns, said), unfinished, compression="zstd")
            unfinished.replace(paths[i])
            done += len(chunks[i])
            if progress is not None:
                progress(done)
    except KeyboardInterrupt:
        return done
    return done


def _metadata(card: CompiledCard, setting: Setting, seed: int) -> dict[str, Any]:
    """What the files say of the batch that they belong to."""
    return {
        "format": PARTS_FORMAT, "seed": seed, "card": setting.card_name, "card_hash": card.hash,
        "population": setting.population.name, "population_hash": setting.population.hash,
        "switches": list(setting.rules.switches), "dead_hands": setting.rules.dead_hands,
        "heard": setting.rules.heard, "n_seats": setting.n_seats, "until": setting.until,
        "n_people": len(setting.club), "styles": list(_STYLE),
    }  # fmt: skip


def _said_by(path: Path) -> dict[str, Any]:
    found = _pyarrow().parquet.read_schema(path).metadata or {}
    if b"handread" not in found:
        raise HandreadError(f"{str(path)!r} holds no games; accepted: what write_parts has written")
    said: dict[str, Any] = json.loads(found[b"handread"])
    return said


def _check_folder(place: Path, said: dict[str, Any], *, resume: bool) -> None:
    """Refuse a folder whose parts are of another batch."""
    for path in sorted(place.glob("part-*.parquet")):
        if not resume:
            raise HandreadError(f"{str(place)!r} holds parts already; accepted: resume, or another")
        if (other := _said_by(path)) != said:
            names = ", ".join(name for name in said if other.get(name) != said[name])
            raise HandreadError(
                f"{str(path)!r} is of another batch: it differs in {names}; accepted: the "
                "folder of the batch that is to go on"
            )


def read_parts(folder: str | Path, card: CompiledCard) -> Iterator[SimulatedGame]:
    """Games of a folder, one after the other, without holding more than a part of them.

    Parameters
    ----------
    folder
        Folder of parts.
    card
        The card that they were played with.

    Raises
    ------
    HandreadError
        Without pyarrow, for another card or a format that is not known here.
    """
    arrow = _pyarrow()
    table_card = play_card(card)
    for path in sorted(Path(folder).glob("part-*.parquet")):
        said = _said_by(path)
        if said["format"] != PARTS_FORMAT or said["card_hash"] != card.hash:
            raise HandreadError(
                f"{str(path)!r} is of format {said['format']!r} and card {said['card_hash']!r}; "
                f"accepted: {PARTS_FORMAT} and {card.hash!r}"
            )
        rules = TableRules(tuple(said["switches"]), said["dead_hands"], said["heard"])
        table = arrow.parquet.read_table(path)
        for i in range(table.num_rows):
            row = {name: table.column(name)[i] for name in table.column_names}
            people, told = _people_of(row, said["styles"]), _told_of(row)
            header = header_of(table_card, people, card_name=said["card"], rules=rules)
            yield game_of(told, table_card, people, header=header, population=said["population"])


def _told_of(row: dict[str, Any]) -> Told:
    """Arrays of a game of a row."""
    found: dict[str, Any] = {"seed": row["seed"].as_py()}
    for name, width in WIDTHS.items():
        values = row[name].values.to_numpy(zero_copy_only=False)
        found[name] = values.reshape(-1, width) if width > 1 else values
    return Told(**found)


def _people_of(row: dict[str, Any], names: list[str]) -> People:
    """Who sat where in the game of a row."""
    styles, n = row["styles"].as_py(), len(names)
    seats = zip(row["keys"].as_py(), row["kinds"].as_py(), row["versions"].as_py(), strict=True)
    people: list[Person | None] = []
    for s, (key, kind, version) in enumerate(seats):
        style = dict(zip(names, styles[n * s : n * s + n], strict=True))
        people.append(Person(key, kind, version, Style(**style)) if kind else None)
    return tuple(people)
