"""Many games walked into a folder, block by block: what is there is not walked again.

Only one block is in memory at a time, and a block is written whole or not at all, so a broken-off
run goes on where it stopped.
"""

from __future__ import annotations

import hashlib
import json
import os
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Final

import numpy as np

from handread.errors import HandreadError
from handread.fitting.design import Design, design_of
from handread.fitting.sources import Source
from handread.fitting.tables import GameTables, from_arrays, joined
from handread.fitting.walk import walk_record
from handread.reading import Model

#: Games of a block.
BLOCK: Final = 25
#: Version of the stored form of a block.
FORMAT: Final = 1

#: Called with games done and games in all.
Progress = Callable[[int, int], None]


@dataclass(frozen=True)
class Gathered:
    """Blocks of a folder.

    Attributes
    ----------
    paths
        Files of the blocks, in order.
    about
        What the games are.
    """

    paths: tuple[Path, ...]
    about: dict[str, Any]

    __hash__ = None  # type: ignore[assignment]  # holds a dict

    def blocks(self) -> Iterator[GameTables]:
        """Read one block after the other."""
        for path in self.paths:
            yield read_block(path)

    def whole(self) -> GameTables:
        """All blocks as one; for as many games as fit into memory."""
        return joined(self.blocks())


def read_block(path: Path) -> GameTables:
    """Read a block."""
    with np.load(path, allow_pickle=False) as file:
        return from_arrays(dict(file.items()))


def gather(
    model: Model,
    source: Source,
    folder: str | Path,
    *,
    n_workers: int = 1,
    n_games: int | None = None,
    progress: Progress | None = None,
) -> Gathered:
    """Walk games into a folder.

    Parameters
    ----------
    model
        The model of the reading whose contexts are used.
    source
        The games.
    folder
        Where blocks go; blocks that are there already are kept.
    n_workers
        Processes.
    n_games
        Walk the first so many games alone; None for all.
    progress
        Called with games done and games in all.

    Raises
    ------
    HandreadError
        If the folder holds blocks of other games, or of another model.
    """
    folder = Path(folder)
    told = {"format": FORMAT, "source": source.about, "model": made_with(model)}
    _claim(folder, told)
    total = source.n_games if n_games is None else n_games
    spans = [(i, min(i + BLOCK, total)) for i in range(0, total, BLOCK)]
    paths = [folder / f"block-{first:07d}.npz" for first, _ in spans]
    missing = [i for i, path in enumerate(paths) if not path.exists()]
    done = sum(last - first for i, (first, last) in enumerate(spans) if i not in set(missing))
    tell = progress or (lambda done, total: None)
    tell(done, total)
    for i in _walked(model, source, spans, paths, missing, n_workers):
        done += spans[i][1] - spans[i][0]
        tell(done, total)
    return Gathered(tuple(paths), source.about)


def made_with(model: Model) -> dict[str, Any]:
    """Everything but the games that blocks depend on."""
    from handread.fitting.versions import versions_of

    return {"card_hash": model.card.hash, "weights_hash": model.weights.hash,
            "prior": hashlib.sha256(model.prior.tobytes()).hexdigest()[:16],
            "versions": versions_of(model)}  # fmt: skip


def _claim(folder: Path, told: dict[str, Any]) -> None:
    file = folder / "gathered.json"
    if not file.exists():
        folder.mkdir(parents=True, exist_ok=True)
        put(file, json.dumps(told, sort_keys=True, indent=1).encode())
        return
    held = json.loads(file.read_text(encoding="utf-8"))
    if held != json.loads(json.dumps(told)):
        wrong = [key for key in told if held.get(key) != json.loads(json.dumps(told[key]))]
        raise HandreadError(
            f"{str(folder)!r} holds blocks that differ in {', '.join(wrong)}; accepted: the "
            "folder of these games and this model, or a new one"
        )


def put(path: Path, content: bytes) -> None:
    """Write a file so that it is there whole or not at all."""
    part = path.with_name(f".{path.name}.{os.getpid()}")
    part.write_bytes(content)
    part.replace(path)


def _walked(
    model: Model, source: Source, spans: Sequence[tuple[int, int]], paths: Sequence[Path],
    missing: Sequence[int], n_workers: int,
) -> Iterator[int]:  # fmt: skip
    if n_workers == 1 or len(missing) < 2:
        design = design_of(model)
        for i in missing:
            _walk_block(design, source, spans[i], paths[i])
            yield i
        return
    from joblib import Parallel, delayed, parallel_config

    with parallel_config(backend="loky", inner_max_num_threads=1):
        run = Parallel(n_jobs=n_workers, return_as="generator_unordered", batch_size=1)
        jobs = (delayed(_walk_apart)(model, source, spans[i], paths[i], i) for i in missing)
        yield from run(jobs)


def _walk_apart(
    model: Model, source: Source, span: tuple[int, int], path: Path, number: int
) -> int:
    _walk_block(design_of(model), source, span, path)
    return number


def _walk_block(design: Design, source: Source, span: tuple[int, int], path: Path) -> None:
    games = source.games(design.model.card, *span)
    tables = joined(
        walk_record(design, each.record, each.minds, each.people, played=each.played)
        for each in games
    )
    part = path.with_name(f".{path.stem}.{os.getpid()}.npz")
    np.savez(part, allow_pickle=False, **tables.arrays())
    part.replace(path)
