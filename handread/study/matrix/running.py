"""Run a matrix: train on every row, let all readers watch every column, keep what they said."""

from __future__ import annotations

import json
import pickle
from collections.abc import Mapping
from dataclasses import asdict
from functools import lru_cache
from pathlib import Path
from typing import Any

from handread.card import load_card
from handread.errors import HandreadError, closest
from handread.study.forecasters.contract import Forecaster
from handread.study.forecasters.trained import Training, empty_training
from handread.study.matrix.plan import MatrixPlan, reader_name
from handread.study.matrix.results import MatrixResult, read_matrix
from handread.study.matrix.trainers import TRAINERS, Train, TrainingGames
from handread.study.running.bench import Task, pack_bench, plan_of, play_seed
from handread.study.running.carrying import Hands, carried_out
from handread.study.running.game import Asked, watch_game
from handread.study.running.packed import pack_games
from handread.study.running.plan import StudyPlan
from handread.study.running.runner import (
    Progress,
    made_with,
    play_tasks,
    sum_training,
    tasks_of,
)
from handread.study.running.seeds import purpose_seeds
from handread.study.running.store import (
    drop_parts,
    pack_lines,
    pack_training,
    put_file,
    unpack_training,
)


def run_matrix(
    plan: MatrixPlan,
    *,
    out: str | Path,
    trainers: Mapping[str, Train] | None = None,
    n_workers: int = 1,
    dask: str | None = None,
    progress: Progress | None = None,
) -> MatrixResult:
    """Train every trainer on every row, test on every kind, and score.

    Parameters
    ----------
    plan
        What to do.
    out
        Folder of the results; a run that was broken off there goes on where it stopped.
    trainers
        Trainers by name, beside or in the place of ``TRAINERS``: each takes ``TrainingGames``
        and returns a forecaster.
    n_workers, dask, progress
        As for ``run_study``.

    Returns
    -------
    MatrixResult

    Raises
    ------
    HandreadError
        If a trainer is unknown, or the folder holds another matrix.
    """
    held = {**TRAINERS, **(trainers or {})}
    for name in plan.all_trainers:
        if name not in held:
            raise HandreadError(f"no trainer {name!r}; {closest(name, held)}")
    folder, hands = Path(out), Hands(n_workers, dask)
    tell = progress or (lambda what, done, total: None)
    _claim(folder, plan)
    readers: dict[str, Forecaster] = {}
    for place, row in enumerate(plan.populations):
        tell("training readers", place, len(plan.populations))
        games = _training_games(plan, row, folder / "rows" / row, hands, tell)
        for trainer in plan.all_trainers:
            readers[reader_name(trainer, row)] = held[trainer](games)
    tell("training readers", len(plan.populations), len(plan.populations))
    shared = pickle.dumps(readers)  # for processes of this run alone, never read from a file
    for kind in plan.columns:
        _watch_column(plan.column_plan(kind), shared, folder / "columns" / kind, hands, tell)
    result = read_matrix(folder)
    put_file(folder / "summary.json", result.to_json().encode())
    return result


def _claim(folder: Path, plan: MatrixPlan) -> None:
    versions = {row: made_with(plan.row_plan(row)) for row in plan.populations}
    text = json.dumps({"matrix": asdict(plan), "made_with": versions}, sort_keys=True)
    file = folder / "matrix.json"
    drop_parts(folder)
    if not file.exists():
        if folder.exists() and any(folder.iterdir()):
            raise HandreadError(f"{str(folder)!r} holds other files; accepted: a new folder")
        put_file(file, text.encode())
    elif json.loads(file.read_text(encoding="utf-8")) != json.loads(text):
        raise HandreadError(
            f"{str(folder)!r} holds a matrix of another plan or other versions; accepted: the "
            "folder of this plan and these versions, or a new one"
        )


def _training_games(
    plan: MatrixPlan, row: str, folder: Path, hands: Hands, tell: Progress
) -> TrainingGames:  # fmt: skip
    study = plan.row_plan(row)
    seeds = purpose_seeds(plan.seed, "training", plan.training)
    file = folder / "training.bin"
    drop_parts(folder)
    if not file.exists():
        tasks = tasks_of("training", seeds)
        empty = pack_training(empty_training(load_card(plan.card)))
        bench = pack_bench(study, empty, ())
        play_tasks(
            folder, bench, tasks, hands, lambda _, done, total: tell(f"games of {row}", done, total)
        )
        put_file(file, sum_training(study, folder, tasks))
    counts: Training = unpack_training(file.read_bytes(), str(file))
    return TrainingGames(
        row, seeds, plan.seed, plan.card, counts, folder, plan.prior_games, hands
    )  # fmt: skip


def _watch_column(
    study: StudyPlan, readers: bytes, folder: Path, hands: Hands, tell: Progress
) -> None:  # fmt: skip
    tasks = tasks_of("test", purpose_seeds(study.seed, "test", study.test))
    drop_parts(folder)
    missing = [task for task in tasks if not (folder / task.path).exists()]
    done, what = len(tasks) - len(missing), f"testing on {study.population}"
    tell(what, done, len(tasks))
    shared = (asdict(study), readers)
    for task, content in carried_out(watch_task, shared, missing, hands):
        put_file(folder / task.path, content)
        done += 1
        tell(what, done, len(tasks))
    pack_games(folder, study)


@lru_cache(maxsize=1)
def _readers(pickled: bytes) -> dict[str, Forecaster]:
    held: dict[str, Forecaster] = pickle.loads(pickled)
    return held


def watch_task(shared: tuple[dict[str, Any], bytes], task: Task) -> bytes:
    """Play one game of a column and let all readers watch it; runs in a process of its own.

    Parameters
    ----------
    shared
        Plan of the column as plain values, and the readers, pickled by the run itself.
    task
        The game.
    """
    plan = plan_of(shared[0])
    game, asked = play_seed(plan, task.seed), Asked(turns=plan.turns)
    lines = watch_game(
        load_card(plan.card), game, _readers(shared[1]), number=task.number, asked=asked
    )  # fmt: skip
    return pack_lines(lines)
