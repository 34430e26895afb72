"""Games into blocks: resumed, refused, the same whoever walks them; records of real games."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import numpy as np
import pytest

import handread as hr
from handread.card import CompiledCard
from handread.errors import HandreadError
from handread.fitting import gathering
from handread.fitting.gathering import gather
from handread.fitting.plan import training_seeds
from handread.fitting.revealed import revealed_minds, shortfall
from handread.fitting.sources import Known, Played, recorded
from handread.fitting.tables import read_columns, read_throws
from handread.fitting.walk import walk_game
from handread.reading import stored_model
from handread.shipped import shipped
from handread.simulate import write_games
from handread.study.running.seeds import purpose_seeds
from tests.fitting.games import SETTING, small_design, small_game, small_model, with_weights

SOURCE = Played(SETTING, (3, 4, 5), "three seeds")


@pytest.fixture
def small_blocks(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(gathering, "BLOCK", 2)


@pytest.mark.usefixtures("small_blocks")
def test_blocks_hold_the_walks(tmp_path: Path) -> None:
    told: list[tuple[int, int]] = []
    found = gather(small_model(), SOURCE, tmp_path / "g", progress=lambda *n: told.append(n))
    assert told == [(0, 3), (2, 3), (3, 3)]
    whole = found.whole()
    assert whole.n_games == 3
    alone = walk_game(small_design(), small_game(5))
    assert np.array_equal(whole.throws.take(whole.throws.game == 2).value, alone.throws.value)
    assert whole.people[-4:] == alone.people
    columns = read_columns(found.paths)
    assert columns["games"]["n_games"].sum() == 3
    assert len(columns["hazard"]["stay"]) == len(whole.columns["hazard"]["stay"])
    assert len(read_throws(found.paths[1])) == len(alone.throws)


@pytest.mark.usefixtures("small_blocks")
def test_a_broken_run_goes_on_and_walks_nothing_twice(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def broken(self: Played, card: CompiledCard, first: int, last: int) -> Iterator[Known]:
        if first:
            raise KeyboardInterrupt
        return kept(self, card, first, last)

    kept = Played.games
    monkeypatch.setattr(Played, "games", broken)
    with pytest.raises(KeyboardInterrupt):
        gather(small_model(), SOURCE, tmp_path / "g")
    assert [p.name for p in sorted((tmp_path / "g").glob("*.npz"))] == ["block-0000000.npz"]
    first = (tmp_path / "g" / "block-0000000.npz").stat().st_mtime_ns
    monkeypatch.setattr(Played, "games", kept)
    found = gather(small_model(), SOURCE, tmp_path / "g")
    assert found.whole().n_games == 3
    assert (tmp_path / "g" / "block-0000000.npz").stat().st_mtime_ns == first


def test_blocks_of_other_games_or_weights_are_refused(tmp_path: Path) -> None:
    gather(small_model(), Played(SETTING, (3,)), tmp_path / "g")
    with pytest.raises(HandreadError, match="differ in source"):
        gather(small_model(), Played(SETTING, (4,)), tmp_path / "g")
    other = with_weights(small_model(), {"use.pair": -1.0})
    with pytest.raises(HandreadError, match="differ in model"):
        gather(other, Played(SETTING, (3,)), tmp_path / "g")


def test_games_of_a_file_are_the_games_played(tmp_path: Path) -> None:
    write_games([small_game(3), small_game(4)], tmp_path / "games.jsonl")
    source = recorded(tmp_path / "games.jsonl")
    assert source.n_games == 2
    found = gather(small_model(), source, tmp_path / "g").whole()
    assert np.array_equal(
        found.throws.take(found.throws.game == 1).value,
        walk_game(small_design(), small_game(4)).throws.value,
    )
    house = stored_model(hr.house_card())
    with pytest.raises(HandreadError, match="holds a game of card 'small'"):
        gather(house, source, tmp_path / "h")
    with pytest.raises(HandreadError, match="no file"):
        recorded(tmp_path / "nothing.jsonl")


def test_training_seeds_are_those_of_studies() -> None:
    for seed in (1, 20260701):
        assert training_seeds(seed, 1500) == purpose_seeds(seed, "training", 1500)


def test_hands_shown_after_the_end_give_plans(tmp_path: Path) -> None:
    """The records that ship end with every hand shown."""
    card = hr.house_card()
    source = recorded(shipped("data", "records"))
    plain = 0
    for known in source.games(card, 0, source.n_games):
        minds = revealed_minds(card, known.record)
        for seat in range(4):
            if minds.plan[seat] < 0:
                continue
            plain += 1
            fits = np.ones(card.n_targets, dtype=bool)
            assert minds.at(seat, int(minds.since[seat]) - 1, fits) is None
            mind = minds.at(seat, int(minds.since[seat]), fits)
            assert mind is not None
            assert mind.rows.tolist() == [int(minds.plan[seat])]
            fits[minds.plan[seat]] = False
            assert minds.at(seat, 999, fits) is None
    assert plain >= 3
    found = gather(stored_model(card), source, tmp_path / "g").whole()
    assert len(found.throws) > 5
    assert set(found.throws.row.tolist()) <= set(range(card.n_targets))


def test_a_rack_with_jokers_is_short_of_what_jokers_cannot_be() -> None:
    card = hr.load_card("small")
    target = int(np.flatnonzero(card.group_joker.any(axis=1))[0])
    tiles = np.repeat(np.arange(36), card.demand[target]).tolist()
    group = int(np.flatnonzero(card.group_joker[target])[0])
    kind = int(card.group_kind[target, group])
    tiles.remove(kind)
    assert shortfall(card, tuple(tiles), ())[target] == 1
    assert shortfall(card, (*tiles, 35), ())[target] == 0
    bare = [
        int(k) for k, s, j in zip(card.group_kind[target], card.group_size[target],
                                  card.group_joker[target], strict=True) if s and not j
    ]  # fmt: skip
    if bare:
        tiles.remove(bare[0])
        assert shortfall(card, (*tiles, 35, 35), ())[target] == 1
