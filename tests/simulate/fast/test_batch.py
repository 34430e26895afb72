"""Batches: seeds alone decide, runs broken off go on, columns give the games back."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest

import handread as hr
from handread.errors import HandreadError
from handread.simulate import (
    batch,
    game_to_json,
    people_of,
    read_games,
    simulate_games,
    write_lines,
)
from handread.simulate.fast import fast_games, parts, read_parts, write_parts

# compiling takes a minute or two, once for each change of the sources
pytestmark = pytest.mark.slow


@pytest.fixture(scope="module")
def small_card() -> hr.CompiledCard:
    return hr.load_card("small")


@pytest.fixture
def tiny(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(batch, "CHUNKS", {"reference": 2, "fast": 3})
    monkeypatch.setattr(parts, "PART", 4)


def break_off_at(n: int) -> Any:
    """Progress that breaks a run off."""

    def progress(done: int) -> None:
        if done >= n:
            raise KeyboardInterrupt

    return progress


def test_the_games_are_those_of_the_reference(small_card: hr.CompiledCard) -> None:
    for setting in ({}, {"n_seats": 3}, {"n_people": 6}, {"until": "passes"}):
        mine = list(fast_games(small_card, n_games=3, seed=8, **setting))
        other = simulate_games(small_card, n_games=3, seed=8, engine="reference", **setting)
        assert mine == list(other)


@pytest.mark.slow
def test_workers_change_nothing(small_card: hr.CompiledCard) -> None:
    one, two = (
        [game_to_json(g) for g in fast_games(small_card, n_games=150, seed=3, n_workers=n)]
        for n in (1, 2)
    )
    assert one == two


@pytest.mark.usefixtures("tiny")
@pytest.mark.parametrize("engine", ["reference", "fast"])
def test_lines_go_on_where_they_were_broken_off(
    small_card: hr.CompiledCard, tmp_path: Path, engine: str
) -> None:
    whole, torn = tmp_path / "whole.jsonl", tmp_path / "torn.jsonl"
    games = {"n_games": 8, "engine": engine}
    assert write_lines(small_card, whole, seed=5, **games) == 8
    kept = write_lines(small_card, torn, seed=5, progress=break_off_at(3), **games)
    assert kept == 3
    torn.write_bytes(torn.read_bytes() + b'{"record": half a li')
    assert write_lines(small_card, torn, seed=5, resume=True, **games) == 8
    assert torn.read_bytes() == whole.read_bytes()
    assert len(list(read_games(torn))) == 8
    with pytest.raises(HandreadError, match=r"line 1 of .* is the game of seed"):
        write_lines(small_card, torn, seed=6, resume=True, **games)
    with pytest.raises(HandreadError, match=r"a run of the same seed and population"):
        write_lines(small_card, torn, seed=5, resume=True, population=people_of("chaser"), **games)


@pytest.mark.usefixtures("tiny")
def test_parts_give_the_games_back_and_go_on(
    small_card: hr.CompiledCard, tmp_path: Path
) -> None:  # fmt: skip
    pytest.importorskip("pyarrow")
    folder = tmp_path / "games"
    assert write_parts(small_card, folder, n_games=10, seed=5, progress=break_off_at(4)) == 4
    with pytest.raises(HandreadError, match="holds parts already"):
        write_parts(small_card, folder, n_games=10, seed=5)
    with pytest.raises(HandreadError, match="another batch: it differs in seed"):
        write_parts(small_card, folder, n_games=10, seed=6, resume=True)
    done: list[int] = []
    n = write_parts(small_card, folder, n_games=10, seed=5, resume=True, progress=done.append)
    assert (n, done) == (10, [8, 10])
    assert list(read_parts(folder, small_card)) == list(fast_games(small_card, n_games=10, seed=5))
    assert write_parts(small_card, folder, n_games=12, seed=5, resume=True) == 12
    assert len(list(read_parts(folder, small_card))) == 12
    with pytest.raises(HandreadError, match="accepted: 1 and"):
        next(read_parts(folder, hr.house_card()))


def test_parts_say_what_is_missing_without_pyarrow(
    small_card: hr.CompiledCard, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    import sys

    monkeypatch.setitem(sys.modules, "pyarrow", None)
    with pytest.raises(HandreadError, match=r"handread\[parquet\]"):
        write_parts(small_card, tmp_path, n_games=1, seed=1)
