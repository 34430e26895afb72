"""Every code point of the block Mahjong Tiles, in and out; values in tile_names.csv.

Source: tile_names.csv, with its own source
"""

from __future__ import annotations

import csv
import unicodedata
from pathlib import Path

import pytest

from handread.errors import ParseError
from handread.tiles import COPIES, KINDS, from_unicode, to_unicode

HERE = Path(__file__).parent


def rows() -> list[dict[str, str]]:
    text = (HERE / "tile_names.csv").read_text(encoding="utf-8").splitlines()
    return list(csv.DictReader(line for line in text if not line.startswith("#")))


def character(row: dict[str, str]) -> str:
    return chr(int(row["code_point"], 16))


def test_the_block_is_whole() -> None:
    assert [int(row["code_point"], 16) for row in rows()] == list(range(0x1F000, 0x1F02C))
    for code in range(0x1F02C, 0x1F030):
        assert unicodedata.category(chr(code)) == "Cn"
        with pytest.raises(ParseError):
            from_unicode(chr(code))


@pytest.mark.parametrize("row", rows(), ids=lambda row: row["name"])
def test_names_agree_with_the_standard(row: dict[str, str]) -> None:
    assert unicodedata.name(character(row)) == f"MAHJONG TILE {row['name']}"
    assert unicodedata.category(character(row)) == "So"


@pytest.mark.parametrize("row", rows(), ids=lambda row: row["name"])
def test_code_points_go_in_and_out(row: dict[str, str]) -> None:
    if not row["kind"]:
        with pytest.raises(ParseError, match="is no tile"):
            from_unicode(character(row))
        return
    (kind,) = from_unicode(character(row))
    assert KINDS[kind] == row["kind"]
    out = to_unicode(kind)
    assert from_unicode(out) == [kind]
    assert out.endswith("\ufe0e"), "text style, or the red dragon would be drawn as an emoji"
    first = next(r for r in rows() if r["kind"] == row["kind"])
    assert out[0] == character(first)


def test_a_whole_set_in_one_string() -> None:
    text = " ".join(character(row) + "\ufe0f" for row in rows() if row["kind"])
    found = [KINDS[kind] for kind in from_unicode(text)]
    assert found == [row["kind"] for row in rows() if row["kind"]]
    assert set(found) == set(KINDS)


def test_counts_of_the_sets() -> None:
    """108 suit tiles, 136 without flowers, 144 with eight of them, 152 with jokers."""
    assert COPIES[:27].sum() == 108
    assert COPIES[:34].sum() == 136
    assert COPIES[:35].sum() == 144
    assert COPIES.sum() == 152
