"""The command ``count``."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
import typer
from typer.testing import CliRunner

from handread.cli.count import count
from handread.errors import HandreadError
from handread.table.counted import count_record
from handread.tiles import KINDS

GAMES = Path(__file__).parent / "games"
app = typer.Typer()
app.command()(count)


def run(*arguments: str):
    return CliRunner().invoke(app, list(arguments), catch_exceptions=False)


def test_the_count_of_a_record():
    text = run(str(GAMES / "floor.txt")).output
    assert "A game watched from the floor" in text
    assert "floor shown left" in text
    assert max(map(len, text.split("\n"))) <= 80


def test_from_a_seat_the_own_rack_is_counted():
    text = run(str(GAMES / "from-seat.txt"), "--from-seat", "w", "--at", "60").output
    assert "floor shown own left" in text
    assert "own rack  " in text
    floor = run(str(GAMES / "from-seat.txt"), "--at", "60").output
    assert " own left" not in floor
    assert "own rack" not in floor


def test_as_json_every_kind_adds_up():
    for arguments in ([], ["--from-seat", "west"]):
        done = run(str(GAMES / "from-seat.txt"), "--json", *arguments)
        counted = json.loads(done.output)
        assert list(counted["kinds"]) == list(KINDS)
        for name, kind in counted["kinds"].items():
            copies = 8 if name in ("flower", "joker") else 4
            assert sum(kind.values()) == copies
        assert set(counted["draws_left"]) == {"East", "South", "West", "North"}


def test_after_some_throws():
    counted = count_record(GAMES / "floor.txt", at=10)
    assert len(counted.state.floor) == 10
    assert not count_record(GAMES / "floor.txt", at=0).state.floor
    with pytest.raises(HandreadError, match="no throw 999 in the record; accepted: 0 to"):
        count_record(GAMES / "floor.txt", at=999)


def test_a_seat_that_is_none():
    with pytest.raises(HandreadError, match="no viewer 'x'; accepted: floor, East"):
        count_record(GAMES / "floor.txt", from_seat="x")
    floor = count_record(GAMES / "floor.txt", from_seat="floor")
    assert (floor.viewer, floor.own) == ("floor", None)


def test_a_card_that_is_not_there_is_noted_and_the_count_stands(tmp_path):
    path = tmp_path / "g.txt"
    path.write_text("card ours.toml\ne 5 b\nw p\n")
    counted = count_record(path)
    assert any("the card cannot be used" in line for line in counted.lines())
    assert counted.count.exposed[4] == 3


def test_the_tile_set_of_the_card_is_counted(tmp_path):
    from handread.card import load_card

    path = tmp_path / "g.txt"
    path.write_text("card small\ne 5 b\n")
    counted = count_record(path)
    assert counted.count.copies.sum() == load_card("small").rules.n_tiles
