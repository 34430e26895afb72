"""Tiles: 152 of 36 kinds, words and prefixes both ways, errors that say what is accepted."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

import handread as hr
from handread import tiles

KINDS = st.integers(0, 35)


def test_the_set_has_152_tiles_of_36_kinds() -> None:
    assert len(tiles.KINDS) == len(set(tiles.KINDS)) == 36
    assert tiles.COPIES.sum() == 152
    assert [tiles.KINDS[k] for k in np.flatnonzero(tiles.COPIES == 8)] == ["flower", "joker"]


@given(KINDS)
def test_parse_kind_takes_what_format_kind_writes(kind: int) -> None:
    assert tiles.parse_kind(tiles.format_kind(kind)) == kind


@given(KINDS, st.data())
def test_parse_kind_takes_every_unique_prefix(kind: int, data: st.DataObject) -> None:
    name = tiles.format_kind(kind)
    cut = name[: data.draw(st.integers(1, len(name)))]
    answers = [each for each in tiles.KINDS if each.startswith(cut)]
    if len(answers) == 1 and not cut.endswith(" "):
        assert tiles.parse_kind(cut) == kind
    elif cut not in ("1", *"23456789") and not cut.endswith(" ") and answers:
        with pytest.raises(hr.ParseError, match="could be"):
            tiles.parse_kind(cut)


def test_tiles_of_a_card_with_more_copies_come_back() -> None:
    copies = tiles.COPIES.copy()
    copies[[tiles.FLOWER, tiles.JOKER]] = tiles.MOST_COPIES
    for n in range(1, tiles.MOST_COPIES + 1):
        counts = tiles.as_counts([tiles.FLOWER] * n)
        again = tiles.parse_tiles(tiles.format_tiles(counts), copies=copies)
        np.testing.assert_array_equal(again, counts)


@given(st.lists(KINDS, max_size=20))
def test_parse_tiles_takes_what_format_tiles_writes(kinds: list[int]) -> None:
    counts = np.minimum(tiles.as_counts(kinds), tiles.COPIES)
    np.testing.assert_array_equal(tiles.parse_tiles(tiles.format_tiles(counts)), counts)


@given(st.text(max_size=12))
def test_any_text_gives_a_kind_or_our_error(text: str) -> None:
    try:
        kind = tiles.parse_kind(text)
    except hr.ParseError as error:
        kind, words = -1, str(error)
    else:
        words = "a tile"
    assert kind < 36
    assert "tile" in words


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ("5b", "no tile '5b'"),
        ("w", "west or white"),
        ("0 bam", "no tile '0 bam'"),
        ("5 bamm", "did you mean 'bam'"),
        ("", "no tile ''"),
        ("gren", r"^no tile 'gren'; did you mean 'green'. accepted: .*; or a number and a suit"),
    ],
)
def test_errors_say_what_is_accepted(text: str, says: str) -> None:
    with pytest.raises(hr.ParseError, match=says):
        tiles.parse_kind(text)


def test_a_fifth_copy_is_refused() -> None:
    with pytest.raises(hr.ParseError, match="5 times red; the set has 4"):
        tiles.parse_tiles("5x red")
    with pytest.raises(hr.ParseError, match="10 times flower; the set has 8"):
        tiles.parse_tiles("10x flower")


def test_dragons_match_their_suits() -> None:
    pairs = {tiles.SUITS[s]: tiles.KINDS[tiles.dragon_of(s)] for s in range(3)}
    assert pairs == {"bam": "green", "crak": "red", "dot": "white"}


@pytest.mark.parametrize("value", [4, None, ["5 bam"]])
def test_what_is_no_text_is_refused(value: object) -> None:
    with pytest.raises(hr.ParseError, match=r"no tile .*; accepted: a tile in words"):
        tiles.parse_kind(value)  # type: ignore[arg-type]
    with pytest.raises(hr.ParseError, match=r"no tiles .*; accepted: a list in words"):
        tiles.parse_tiles(value)  # type: ignore[arg-type]


def test_copies_are_of_every_kind() -> None:
    with pytest.raises(hr.ParseError, match=r"copies of shape \(3,\); accepted: 36, one number"):
        tiles.parse_tiles("joker", copies=np.ones(3, dtype=np.int64))


@pytest.mark.parametrize("text", ["17x joker", "0x joker", "red, 99 times joker", "100x f"])
def test_a_tile_is_repeated_as_often_as_a_set_may_hold_it(text: str) -> None:
    with pytest.raises(hr.ParseError, match=r"times in '.*'; accepted: 1 to 16 times"):
        tiles.parse_tiles(text)
