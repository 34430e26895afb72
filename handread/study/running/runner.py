"""Run a study: games over processes, results as they come, the same bytes after any break."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Callable, Sequence
from dataclasses import asdict
from pathlib import Path
from typing import Any

from handread.card import load_card
from handread.clues.contract import registry
from handread.clues.weights import load_weights
from handread.errors import HandreadError
from handread.simulate import game_to_json, kind_named
from handread.simulate.game.table import ENGINE_VERSION
from handread.study.forecasters.stored import StoredReader
from handread.study.forecasters.trained import card_prior, empty_training
from handread.study.running.bench import (
    Task,
    do_task,
    pack_bench,
    play_seed,
    readers_of,
    stored_readers,
)
from handread.study.running.carrying import Hands, carried_out
from handread.study.running.packed import pack_games
from handread.study.running.plan import StudyPlan, population_named
from handread.study.running.results import StudyResult, read_result
from handread.study.running.seeds import Seeds, purpose_seeds, study_seeds
from handread.study.running.store import (
    FORMAT,
    drop_parts,
    pack_training,
    put_file,
    unpack_training,
)

#: Called with what is being done, games done, and games in all.
Progress = Callable[[str, int, int], None]


def run_study(
    plan: StudyPlan,
    *,
    out: str | Path,
    n_workers: int = 1,
    dask: str | None = None,
    progress: Progress | None = None,
    scored: bool = True,
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
    dask
        Address of a Dask scheduler whose workers carry the games out, in the place of processes
        here. They need handread and no folder in common with this machine.
    progress
        Called after every game.
    scored
        Whether every figure is computed and written down; otherwise the moments alone are
        gathered, and figures come when they are asked for.

    Returns
    -------
    StudyResult

    Raises
    ------
    HandreadError
        If a stored reader is missing, or the folder holds another study, or one made by another
        version of anything that its figures depend on.
    """
    folder, hands = Path(out), Hands(n_workers, dask)
    seeds = study_seeds(
        plan.seed, training=plan.training, validation=plan.validation, test=plan.test
    )
    stored = stored_readers(plan)
    empty = pack_training(empty_training(load_card(plan.card)))
    readers_of(plan, empty, stored)  # what is wrong with a name is said before any game
    _claim_folder(folder, plan, seeds, stored)
    tell = progress or _silent
    training = folder / "training.bin"
    tasks = tasks_of("training", seeds.training)
    if not training.exists():
        play_tasks(folder, pack_bench(plan, empty, stored), tasks, hands, tell)
        put_file(training, sum_training(plan, folder, tasks))
    bench = pack_bench(plan, training.read_bytes(), stored)
    watched = seeds.test
    if plan.purpose != "test":
        watched = purpose_seeds(plan.seed, plan.purpose, plan.test)
    play_tasks(folder, bench, tasks_of("test", watched), hands, tell)
    tell("scoring", 0, 1)
    pack_games(folder, plan)
    result = read_result(folder, plan, n_workers=n_workers)
    if scored:
        put_file(folder / "summary.json", result.to_json().encode())
    tell("scoring", 1, 1)
    return result


def play_tasks(
    folder: Path, bench: bytes, tasks: Sequence[Task], hands: Hands, tell: Progress
) -> None:  # fmt: skip
    """Play the games whose files are not there yet, and write them.

    Parameters
    ----------
    folder
        Folder of the study.
    bench
        What the games are watched by.
    tasks
        All games of one purpose.
    hands
        Who carries them out.
    tell
        Called after every game.
    """
    missing = [task for task in tasks if not (folder / task.path).exists()]
    done = len(tasks) - len(missing)
    purpose = tasks[0].purpose
    tell(purpose, done, len(tasks))
    for task, content in carried_out(do_task, bench, missing, hands):
        put_file(folder / task.path, content)
        done += 1
        tell(purpose, done, len(tasks))


def tasks_of(purpose: str, seeds: Sequence[int]) -> list[Task]:
    """Games of one purpose, each with the file that it goes into."""
    return [Task(purpose, i, seed, f"{purpose}/{i:06d}.bin") for i, seed in enumerate(seeds)]


def _silent(what: str, done: int, total: int) -> None:
    """Say nothing of the progress."""


def made_with(plan: StudyPlan, stored: Sequence[StoredReader] = ()) -> dict[str, Any]:
    """Versions of everything that the figures of a plan depend on.

    Parameters
    ----------
    plan
        The plan.
    stored
        Its stored readers.
    """
    card, people = load_card(plan.card), population_named(plan.population)
    kinds = [kind for kind, _ in people.shares]
    return {
        "format": FORMAT,
        "card_hash": card.hash,
        "weights_hash": load_weights().hash,
        "prior_hash": hashlib.sha256(card_prior(card).tobytes()).hexdigest()[:16],
        "population": people.name,
        "probe": _probe(plan),
        "population_hash": people.hash,
        "engine": ENGINE_VERSION,
        "kinds": {kind: kind_named(kind).version for kind in kinds},
        "clues": {clue.name: clue.version for clue in registry()},
        "stored": {each.name: each.hash for each in stored},
    }


def _probe(plan: StudyPlan) -> str:
    """Hash of one game that no study scores: changes with whatever changes the games.

    Versions go up when somebody remembers to; a study that goes on must not mix two simulators.
    """
    game = game_to_json(play_seed(plan, purpose_seeds(0, "validation", 1)[0]))
    return hashlib.sha256(game).hexdigest()[:16]


def _claim_folder(
    folder: Path, plan: StudyPlan, seeds: Seeds, stored: Sequence[StoredReader]
) -> None:  # fmt: skip
    said = {"plan": asdict(plan), "made_with": made_with(plan, stored), "seeds": asdict(seeds)}
    drop_parts(folder)
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


def sum_training(plan: StudyPlan, folder: Path, tasks: Sequence[Task]) -> bytes:
    """Pack the counts of all training games.

    Parameters
    ----------
    plan
        The plan.
    folder
        Folder of the study.
    tasks
        The games.
    """
    counts = empty_training(load_card(plan.card))
    for task in tasks:
        file = folder / task.path
        counts = counts.plus(unpack_training(file.read_bytes(), str(file)))
    return pack_training(counts)
