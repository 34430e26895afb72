"""The command line: one library call each, one clear line for a wrong input."""

import json
import os
import subprocess
import sys
from pathlib import Path

import pytest

import handread as hr
from handread.shipped import available, shipped
from handread.simulate import read_games, simulate_games


def run(*words: str, cwd: Path | None = None) -> subprocess.CompletedProcess[str]:
    """Run the program, from this checkout wherever it is started."""
    checkout = str(Path(hr.__file__).parents[1])
    return subprocess.run(
        [sys.executable, "-m", "handread", *words],
        capture_output=True, text=True, check=False, timeout=120, encoding="utf-8", cwd=cwd,
        env={**os.environ, "PYTHONPATH": checkout},
    )  # fmt: skip


def test_read_prints_one_json_document() -> None:
    done = run("read", str(shipped("data", "records", "given-away.txt")), "--at", "30", "--json")
    assert done.returncode == 0, done.stderr
    document = json.loads(done.stdout)
    assert set(document["seats"]) == {"East", "South", "West", "North"}
    assert "NaN" not in done.stdout
    assert "Infinity" not in done.stdout


def test_read_shows_one_seat_when_asked() -> None:
    record = shipped("data", "records", "given-away.txt")
    done = run("read", str(record), "--at", "60", "--seat", "west", "--why")
    assert done.returncode == 0, done.stderr
    assert "West after" in done.stdout
    assert "South after" not in done.stdout
    assert "told" in done.stdout


@pytest.mark.parametrize(
    ("words", "says"),
    [
        (["read", "nowhere.txt"], "nowhere.txt"),
        (["read", "RECORD", "--at", "900"], "accepted: 0 to"),
        (["read", "RECORD", "--seat", "x"], "no seat 'x'"),
        (["read", "RECORD", "--from-seat", "x"], "no viewer 'x'; accepted: floor, East"),
    ],
)
def test_a_wrong_input_ends_with_one_clear_line(words: list[str], says: str) -> None:
    record = str(shipped("data", "records", available("data", "records")[0]))
    done = run(*[record if word == "RECORD" else word for word in words])
    assert done.returncode != 0
    assert says in done.stderr
    assert "Traceback" not in done.stderr


def test_prior_writes_what_a_reader_finds(tmp_path: Path) -> None:
    done = run("prior", "small", "--racks", "400", "--out", str(tmp_path))
    assert done.returncode == 0, done.stderr
    card = hr.load_card("small")
    assert (tmp_path / f"{card.hash}.npz").exists()
    assert f"{card.n_targets} targets" in done.stdout


def test_simulate_says_what_tables_look_like() -> None:
    done = run("simulate", "--card", "small", "--games", "6", "--seed", "5", "--summary", "--json")
    assert done.returncode == 0, done.stderr
    document = json.loads(done.stdout)
    assert (document["n_games"], document["seed"]) == (6, 5)
    assert {"wall games", "self-drawn share of wins"} <= {e["name"] for e in document["entries"]}
    plain = run("simulate", "--card", "small", "--games", "6", "--seed", "5", "--summary")
    assert plain.stdout.startswith("6 games, seed 5, population 'population/1'")


def test_simulate_writes_games_that_come_back(tmp_path: Path) -> None:
    out = tmp_path / "games.jsonl"
    done = run("simulate", "--card", "small", "--games", "3", "--seed", "5", "--out", str(out))
    assert done.returncode == 0, done.stderr
    assert "3 games, seed 5" in done.stdout
    again = list(simulate_games(hr.load_card("small"), n_games=3, seed=5))
    assert list(read_games(out)) == again


@pytest.mark.parametrize(
    ("words", "says"),
    [
        (["--games", "3"], "--summary, --out FILE or --columns FOLDER, one of them"),
        (["--games", "3", "--summary", "--out", "x.jsonl"], "one of them"),
        (["--games", "3", "--json", "--out", "x.jsonl"], "accepted: with --summary"),
        (["--kind", "chasr", "--summary"], "did you mean 'chaser'"),
        (["--card", "nowhere", "--summary"], "accepted: harbour, house, small"),
        (["--seats", "5", "--summary"], "--seats"),
        (["--games", "3", "--card", "small", "--out", "nowhere/x.jsonl"], "nowhere/x.jsonl"),
    ],
)
def test_a_wrong_simulate_ends_with_one_clear_line(
    words: list[str], says: str, tmp_path: Path
) -> None:
    done = run("simulate", *words, cwd=tmp_path)
    assert done.returncode != 0
    assert says in done.stderr
    assert "Traceback" not in done.stderr
    assert list(tmp_path.iterdir()) == []
