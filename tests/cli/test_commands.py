"""The command line: one library call each, one clear line for a wrong input."""

import json
import subprocess
import sys
from pathlib import Path

import pytest

import handread as hr
from handread.shipped import available, shipped


def run(*words: str) -> subprocess.CompletedProcess[str]:
    return subprocess.run(
        [sys.executable, "-m", "handread", *words],
        capture_output=True, text=True, check=False, timeout=120, encoding="utf-8",
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
