"""Run a study: games over processes, results as they come, the same bytes after any break."""

from __future__ import annotations

import contextlib
import hashlib
import json
from collections.abc import Callable, Iterator
from dataclasses import asdict, dataclass
from functools import lru_cache
from pathlib import Path
from typing import Any

from handread.card import load_card
from handread.card.compiled import CompiledCard
from handread.clues.contract import registry
from handread.clues.weights import load_weights
from handread.errors import HandreadError
from handread.simulate import PlayCard, SimulatedGame, game_to_json, kind_named, play_card
from handread.simulate.batch import Setting, one_game
from handread.simulate.game.table import ENGINE_VERSION, TableRules
from handread.study.forecasters import Forecaster, Oracle, Training, forecaster_named
from handread.study.forecasters.trained import empty_training
from handread.study.running.game import Asked, count_game, watch_game
from handread.study.running.plan import StudyPlan, population_named
from handread.study.running.results import StudyResult, read_result
from handread.study.running.seeds import Seeds, purpose_seeds, study_seeds
from handread.study.running.store import (
    FORMAT,
    pack_lines,
    pack_training,
    put_file,
    unpack_training,
)

#: Called with what is being done, games done, and games in all.
Progress = Callable[[str, int, int], None]


@dataclass(frozen=True)
class _Task:
    """One game to play: what for, its number and seed, and where its file goes."""

    purpose: str
    number: int
    seed: int
    path: str


def run_study(
    plan: StudyPlan,
    *,
    out: str | Path,
    n_workers: int = 1,
    progress: Progress | None = None,
) -> StudyResult:
    """Play, watch and score the games of a plan.

    Parameters
    ----------
    plan
        What to do.
    out
        Folder of the results; a run that was broken off there goes on where it stopped.
    n_workers
        Processes, each with one thread for linear algebra.
    progress
        Called after every game.

    Returns
    -------
    StudyResult

    Raises
    ------
    HandreadError
        If the folder holds another study, or one made by another version of anything that
        its figures depend on.
    """
    folder = Path(out)
    if n_workers < 1:
        raise HandreadError(f"n_workers={n_workers!r}; accepted: 1 or more")
    seeds = study_seeds(
        plan.seed, training=plan.training, validation=plan.validation, test=plan.test
    )
    _claim_folder(folder, plan, seeds)
    tell = progress or _silent
    for purpose, numbers in (("training", seeds.training), ("test", seeds.test)):
        tasks = [
            _Task(purpose, i, seed, str(game_path(folder, purpose, i)))
            for i, seed in enumerate(numbers)
        ]
        missing = [task for task in tasks if not Path(task.path).exists()]
        done = len(tasks) - len(missing)
        tell(purpose, done, len(tasks))
        for _ in _carried_out(plan, folder, missing, n_workers):
            done += 1
            tell(purpose, done, len(tasks))
        if purpose == "training":
            put_file(folder / "training.bin", _sum_training(plan, tasks))
    tell("scoring", 0, 1)
    result = read_result(folder, plan)
    put_file(folder / "summary.json", result.to_json().encode())
    tell("scoring", 1, 1)
    return result


def _silent(what: str, done: int, total: int) -> None:
    """Say nothing of the progress."""


def game_path(folder: Path, purpose: str, number: int) -> Path:
    """File of one game."""
    return folder / purpose / f"{number:06d}.bin"


def made_with(plan: StudyPlan) -> dict[str, Any]:
    """Versions of everything that the figures of a plan depend on."""
    card, people = load_card(plan.card), population_named(plan.population)
    kinds = [kind for kind, _ in people.shares]
    return {
        "format": FORMAT,
        "card_hash": card.hash,
        "weights_hash": load_weights().hash,
        "population": people.name,
        "probe": _probe(plan),
        "population_hash": people.hash,
        "engine": ENGINE_VERSION,
        "kinds": {kind: kind_named(kind).version for kind in kinds},
        "clues": {clue.name: clue.version for clue in registry()},
    }


def _probe(plan: StudyPlan) -> str:
    """Hash of one game that no study scores: changes with whatever changes the games.

    Versions go up when somebody remembers to; a study that goes on must not mix two simulators.
    """
    game = game_to_json(play_seed(plan, purpose_seeds(0, "validation", 1)[0]))
    return hashlib.sha256(game).hexdigest()[:16]


def _claim_folder(folder: Path, plan: StudyPlan, seeds: Seeds) -> None:
    said = {"plan": asdict(plan), "made_with": made_with(plan), "seeds": asdict(seeds)}
    text = json.dumps(said, sort_keys=True)
    file = folder / "study.json"
    if not file.exists():
        if folder.exists() and any(folder.iterdir()):
            raise HandreadError(f"{str(folder)!r} holds other files; accepted: a new folder")
        put_file(file, text.encode())
        return
    held = json.loads(file.read_text(encoding="utf-8"))
    if held != json.loads(text):
        wrong = [key for key in said if held.get(key) != json.loads(text)[key]]
        raise HandreadError(
            f"{str(folder)!r} holds a study that differs in {', '.join(wrong)}; accepted: the "
            "folder of this plan and these versions, or a new one"
        )


def _sum_training(plan: StudyPlan, tasks: list[_Task]) -> bytes:
    counts = empty_training(_card(plan.card))
    for task in tasks:
        counts = counts.plus(unpack_training(Path(task.path).read_bytes(), task.path))
    return pack_training(counts)


def _carried_out(
    plan: StudyPlan, folder: Path, tasks: list[_Task], n_workers: int
) -> Iterator[int]:  # fmt: skip
    """Carry out tasks and yield the number of each when its file is there."""
    if n_workers == 1 or len(tasks) < 2:
        for task in tasks:
            yield _play(plan, str(folder), task)
        return
    from joblib import Parallel, delayed, parallel_config

    with parallel_config(backend="loky", inner_max_num_threads=1):
        run = Parallel(n_jobs=n_workers, return_as="generator_unordered", batch_size=1)
        done = run(delayed(_play)(plan, str(folder), task) for task in tasks)
        with contextlib.closing(done):
            yield from done


@lru_cache(maxsize=2)
def _card(name: str) -> CompiledCard:
    return load_card(name)


@lru_cache(maxsize=2)
def _table_card(name: str) -> PlayCard:
    return play_card(_card(name))


@lru_cache(maxsize=1)
def _readers(plan: StudyPlan, folder: str) -> dict[str, Forecaster | Oracle]:
    file = Path(folder) / "training.bin"
    training: Training = unpack_training(file.read_bytes(), str(file))
    card = _card(plan.card)
    return {
        name: forecaster_named(name, card, training, shares=name in plan.shares)
        for name in plan.readers
    }


def play_seed(plan: StudyPlan, seed: int) -> SimulatedGame:
    """Play the game of a seed as a plan has it."""
    setting = Setting(population_named(plan.population), TableRules(), card_name=plan.card)
    return one_game(_table_card(plan.card), setting, seed)


def _play(plan: StudyPlan, folder: str, task: _Task) -> int:
    """Play one game and write down what it adds; runs in a process of its own."""
    card, game = _card(plan.card), play_seed(plan, task.seed)
    if task.purpose == "training":
        put_file(Path(task.path), pack_training(count_game(card, game)))
        return task.number
    asked = Asked(plan.moments == "events", plan.windows, plan.moves, plan.base)
    try:
        lines = watch_game(card, game, _readers(plan, folder), number=task.number, asked=asked)
    except HandreadError as error:
        raise HandreadError(f"game {task.number} of seed {task.seed}: {error}") from error
    put_file(Path(task.path), pack_lines(lines))
    return task.number
