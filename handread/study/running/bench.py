"""What the processes that watch games need: the plan, the counts of training, stored readers."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import asdict
from functools import lru_cache
from typing import Any

import msgspec

from handread.card import load_card
from handread.errors import HandreadError
from handread.simulate import PlayCard, SimulatedGame, play_card
from handread.simulate.batch import Setting, engine_of, game_player
from handread.simulate.game.table import TableRules
from handread.study.forecasters import Forecaster, Oracle, forecaster_named
from handread.study.forecasters.stored import StoredReader, stored_reader
from handread.study.running.game import Asked, count_game, watch_game
from handread.study.running.plan import StudyPlan, population_named
from handread.study.running.store import pack_lines, pack_training, unpack_training


class Bench(msgspec.Struct, frozen=True):
    """Everything by which a game of a study is watched, wherever that is done.

    Attributes
    ----------
    plan
        The plan, as plain values.
    training
        Packed counts of training games; empty while they are counted.
    stored
        Stored readers with their files.
    """

    plan: dict[str, object]
    training: bytes
    stored: tuple[StoredReader, ...]


class Task(msgspec.Struct, frozen=True):
    """One game to play: what for, its number and seed, and where its file goes."""

    purpose: str
    number: int
    seed: int
    path: str


def stored_readers(plan: StudyPlan) -> tuple[StoredReader, ...]:
    """Read the stored readers that a plan names.

    Raises
    ------
    HandreadError
        If a folder is missing; the message says which command makes it.
    """
    kinds: Iterable[tuple[str, tuple[tuple[str, str], ...]]] = (
        ("model", plan.models), ("peer", plan.peers), ("pool", plan.pools),
    )  # fmt: skip
    return tuple(
        stored_reader(kind, name, folder, card=plan.card, draws=f"{name} drawn" in plan.readers)
        for kind, held in kinds
        for name, folder in held
    )


def pack_bench(plan: StudyPlan, training: bytes, stored: tuple[StoredReader, ...]) -> bytes:
    """Pack a bench; equal content gives equal bytes."""
    return msgspec.msgpack.encode(Bench(asdict(plan), training, stored))


def plan_of(said: dict[str, Any]) -> StudyPlan:
    """Plan from plain values, as JSON or a bench hold them."""

    def tuples(value: Any) -> Any:
        return tuple(map(tuples, value)) if isinstance(value, list | tuple) else value

    return StudyPlan(**{key: tuples(value) for key, value in said.items()})


@lru_cache(maxsize=2)
def _unpacked(bench: bytes) -> Bench:
    return msgspec.msgpack.decode(bench, type=Bench)


@lru_cache(maxsize=2)
def _plan(bench: bytes) -> StudyPlan:
    return plan_of(_unpacked(bench).plan)


@lru_cache(maxsize=2)
def table_card(name: str) -> PlayCard:
    """Card of a name as simulated tables hold it."""
    return play_card(load_card(name))


@lru_cache(maxsize=1)
def bench_readers(bench: bytes) -> dict[str, Forecaster | Oracle]:
    """Readers of a packed bench, by name."""
    held, plan = _unpacked(bench), _plan(bench)
    return readers_of(plan, held.training, held.stored)


def readers_of(
    plan: StudyPlan, training: bytes, stored: tuple[StoredReader, ...]
) -> dict[str, Forecaster | Oracle]:
    """Readers of a plan, by name.

    Parameters
    ----------
    plan
        The plan.
    training
        Packed counts of training games.
    stored
        Its stored readers.
    """
    counts, card = unpack_training(training, "the bench"), table_card(plan.card).card
    shelf = {each.name: each for each in stored}
    found: dict[str, Forecaster | Oracle] = {}
    pools = dict(plan.pools)
    for name in sorted(plan.readers, key=lambda name: name in pools):  # pools after their members
        found[name] = forecaster_named(
            name, card, counts, shares=name in plan.shares, stored=shelf, beside=found
        )
    return {name: found[name] for name in plan.readers}


def play_seed(plan: StudyPlan, seed: int) -> SimulatedGame:
    """Play the game of a seed as a plan has it."""
    setting = Setting(population_named(plan.population), TableRules(), card_name=plan.card)
    card = table_card(plan.card).card
    engine = engine_of("auto", setting, plan.training + plan.test)
    return game_player(card, setting, engine)(seed)


def do_task(bench: bytes, task: Task) -> bytes:
    """Play one game and say what it adds to the study; runs in a process of its own.

    Parameters
    ----------
    bench
        Packed by ``pack_bench``.
    task
        The game.
    """
    plan = _plan(bench)
    card, game = table_card(plan.card).card, play_seed(plan, task.seed)
    if task.purpose == "training":
        return pack_training(count_game(card, game))
    readers = bench_readers(bench)
    asked = Asked(plan.moments == "events", plan.windows, plan.moves, plan.base, plan.turns)
    watching = {name: readers[name] for name in plan.watching(task.number)}
    try:
        lines = watch_game(card, game, watching, number=task.number, asked=asked)
    except HandreadError as error:
        raise HandreadError(f"game {task.number} of seed {task.seed}: {error}") from error
    return pack_lines(lines)
