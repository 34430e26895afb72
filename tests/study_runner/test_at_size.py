"""A study at size: killed at any moment, on a cluster that loses a worker, one reader at a time."""

from __future__ import annotations

import os
import signal
import subprocess
import sys
import time
from dataclasses import asdict, replace
from pathlib import Path

import numpy as np
import pytest

from handread.card.compiled import CompiledCard
from handread.errors import HandreadError
from handread.study import aligned, bits_gain
from handread.study.running import Hands, StudyPlan, carried_out, load_plan, read_result, run_study
from handread.study.running.bench import plan_of, stored_readers

PLAN = StudyPlan(
    name="tiny", seed=32, card="small", training=3, test=6, resamples=100,
    readers=("uniform", "base rates", "floor", "elimination"), versus="elimination",
    windows=("elimination",), moves=(), few=("uniform",), few_games=3,
)  # fmt: skip

RUN = """
import json, sys
from handread.study.running import run_study
from handread.study.running.bench import plan_of
run_study(plan_of(json.loads(sys.argv[1])), out=sys.argv[2])
"""


def content(folder: Path) -> dict[str, bytes]:
    return {
        str(path.relative_to(folder)): path.read_bytes()
        for path in sorted(folder.rglob("*"))
        if path.is_file()
    }


@pytest.fixture(scope="module")
def whole(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("studies") / "whole"
    run_study(PLAN, out=folder)
    return folder


# --- broken off ---


@pytest.mark.slow
def test_a_run_killed_again_and_again_ends_with_the_same_bytes(
    whole: Path, tmp_path: Path, checkout: Path
) -> None:
    import json

    out = tmp_path / "killed"
    command = [sys.executable, "-c", RUN, json.dumps(asdict(PLAN)), str(out)]
    rng = np.random.default_rng(5)

    def files() -> int:
        return len(list(out.glob("*/*.bin"))) + len(list(out.glob("*packed*")))

    kills = 0
    while kills < 8:
        before, killed = files(), False
        with subprocess.Popen(command, cwd=checkout) as running:
            while running.poll() is None and files() <= before:
                time.sleep(0.005)
            time.sleep(rng.exponential(0.15))  # somewhere in the next game, or in the scoring
            if killed := running.poll() is None:
                running.send_signal(signal.SIGKILL)
        if not killed:
            break
        kills += 1
    assert kills >= 3
    subprocess.run(command, cwd=checkout, check=True)
    assert content(out) == content(whole)


def test_another_prior_makes_another_study(whole: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    def even(card: CompiledCard) -> np.ndarray:
        return np.full(card.n_targets, 1.0 / card.n_targets)

    monkeypatch.setattr("handread.study.running.runner.card_prior", even)
    with pytest.raises(HandreadError, match="differs in made_with"):
        run_study(PLAN, out=whole)


def test_what_a_killed_run_was_writing_is_taken_away(whole: Path, tmp_path: Path) -> None:
    import shutil

    out = tmp_path / "left"
    shutil.copytree(whole, out)
    for file in (out / ".study.json.123", out / "test" / ".000001.bin.77"):
        file.write_bytes(b"half")
    (out / ".packed.9").mkdir()
    shutil.rmtree(out / "packed")
    (out / "test" / "000001.bin").unlink()
    run_study(PLAN, out=out)
    assert content(out) == content(whole)


# --- who does it ---


def doubled(shared: int, task: int) -> bytes:
    return str(shared * task).encode()


def test_tasks_come_back_with_their_results() -> None:
    done = dict(carried_out(doubled, 2, [1, 2, 3], Hands()))
    assert done == {1: b"2", 2: b"4", 3: b"6"}
    with pytest.raises(HandreadError, match="n_workers=0"):
        Hands(0)


def test_no_cluster_is_said_in_words(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setitem(sys.modules, "distributed", None)
    with pytest.raises(HandreadError, match=r"no Dask here.*handread\[dask\]"):
        list(carried_out(doubled, 2, [1], Hands(dask="tcp://127.0.0.1:1")))


@pytest.mark.slow
@pytest.mark.filterwarnings("ignore")  # Dask warns of what it does when a worker is lost
def test_a_cluster_that_loses_a_worker_changes_no_byte(whole: Path, tmp_path: Path) -> None:
    distributed = pytest.importorskip("distributed")
    with distributed.LocalCluster(
        n_workers=2, threads_per_worker=1, processes=True, dashboard_address=None,
    ) as cluster:  # fmt: skip
        killed: list[int] = []

        def kills(what: str, done: int, total: int) -> None:
            if what == "test" and done == 2 and not killed:
                pid = next(iter(cluster.workers.values())).pid
                os.kill(pid, signal.SIGKILL)
                killed.append(pid)

        out = tmp_path / "cluster"
        run_study(PLAN, out=out, dask=cluster.scheduler_address, progress=kills)
        assert killed
    assert content(out) == content(whole)


# --- scored from disk ---


def test_some_readers_watch_the_first_games_alone(whole: Path) -> None:
    result = read_result(whole)
    few, all_ = result.packed.moments("uniform"), result.packed.moments("floor")
    assert set(few.game.tolist()) == {0, 1, 2}
    assert set(all_.game.tolist()) == set(range(6))
    base = aligned(result.packed.moments("base rates"), few)
    gain = bits_gain(few.prob, base.prob, few.truth)
    line = result.summary.find("uniform", "gain")
    assert (line.n_games, line.n_moments) == (3, len(few))
    assert line.value == pytest.approx(float(few.index.means(gain).mean()))
    assert "uniform" not in result.moments.readers
    with pytest.raises(HandreadError, match="do not hold the"):
        aligned(few, all_)


def test_columns_on_disk_are_those_of_the_frame(whole: Path) -> None:
    result = read_result(whole)
    assert result.moments.moments("floor") == result.packed.moments("floor")
    assert result.moments.moments("floor", truth="final") == result.packed.moments(
        "floor", truth="final"
    )
    leaning = result.packed.moments("floor", truth="leaning")
    assert not np.array_equal(leaning.truth, result.packed.moments("floor").truth)
    with pytest.raises(HandreadError, match="reader is 'flor'; did you mean 'floor'"):
        result.packed.moments("flor")


def test_only_asked_turns_are_scored(tmp_path: Path) -> None:
    plan = replace(PLAN, turns=(2, 5), test=2, few=(), few_games=0)
    result = run_study(plan, out=tmp_path / "turns")
    turns = result.packed.moments("floor").own_turn
    assert set(turns.tolist()) == {2, 5}
    assert len(turns) > 8
    with pytest.raises(HandreadError, match="no moment was scored"):
        run_study(replace(plan, turns=(99,)), out=tmp_path / "none")


# --- plans ---


@pytest.mark.parametrize("name", ["full", "inputs"])
def test_a_missing_model_says_which_command_makes_it(name: str, tmp_path: Path) -> None:
    plan = load_plan(name)
    missing = replace(plan, models=(("default", str(tmp_path / "models")),))
    with pytest.raises(HandreadError, match=r"reader 'default': no weights.toml.*handread fit"):
        run_study(missing, out=tmp_path / "study")
    assert not (tmp_path / "study").exists()


@pytest.mark.parametrize(
    ("kind", "command"), [("peers", "handread study peer"), ("pools", "handread study pool")]
)
def test_so_does_a_missing_peer_or_pool(kind: str, command: str, tmp_path: Path) -> None:
    plan = replace(PLAN, **{kind: (("it", str(tmp_path / "none")),)})
    with pytest.raises(HandreadError, match=f"reader 'it'.*make it: {command} --card small"):
        stored_readers(plan)


def test_plans_come_back_from_plain_values() -> None:
    import json

    for plan in (PLAN, load_plan("full")):
        assert plan_of(json.loads(json.dumps(asdict(plan)))) == plan


@pytest.mark.parametrize(
    ("changes", "match"),
    [
        ({"few": ("floor",), "few_games": 2}, "few has 'floor'"),
        ({"few": ("uniform",), "few_games": 9}, "few_games=9"),
        ({"few": (), "few_games": 2}, "few_games=2"),
        ({"turns": (0,)}, r"turns is \(0,\)"),
        ({"purpose": "training"}, "purpose is 'training'"),
    ],
)
def test_a_plan_that_cannot_be_is_refused(changes: dict[str, object], match: str) -> None:
    with pytest.raises(HandreadError, match=match):
        replace(PLAN, **changes)  # type: ignore[arg-type]
