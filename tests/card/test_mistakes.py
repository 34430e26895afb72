"""Mistakes in a card file: the message names line, hand, place, word, and what would do."""

from __future__ import annotations

import re

import pytest

from handread.card import CardError, compile_card, hand_index, load_card, parse_card, parse_hand
from handread.card.load import read_card

TOP = 'name = "Test"\n\n[[family]]\nname = "First"\n\n[[family.hand]]\nname = "Trial"\n'


def refused(text: str, words: str) -> None:
    with pytest.raises(CardError, match=re.escape(words)):
        compile_card(parse_card(text, "mine.toml"))


@pytest.mark.parametrize(
    ("tiles", "words"),
    [
        ("pair of red, pong of n in one suit", "group 2: word 4, 'pong', is no size of group; did "
         "you mean 'pung' or 'kong'? accepted: single, pair, pung, kong, quint, sextet, block"),
        ("pair of rad", "word 3, 'rad', is no tile; did you mean 'red'"),
        ("pair of joker", "word 3, 'joker', is never asked for by a hand"),
        ("kong of 5 bem", "word 4, 'bem', is no suit; did you mean 'bam'? accepted: bam, crak"),
        ("kong of 5", "the end of the hand is no suit; accepted: bam, crak, dot, one suit"),
        ("kong of 5b", "'5b', runs figures and letters together; accepted: 5 bam, n + 1"),
        ("kong of 12 bam", "'12', is on no tile; accepted: 1 to 9, 0 for white"),
        ("kong of n in one", "the end of the hand cannot stand here: 'suit' follows 'one'"),
        ("kong of n in last suit", "'last', is no suit"),
        ("kong of one suit", "'suit', cannot stand here: a suit needs a number before it"),
        ("kong of last dragon", "'dragon', cannot follow 'last'; accepted: wind"),
        ("kong of any flower", "'flower', cannot follow 'any'; accepted: wind, dragon"),
        ("kong of dragon of any suit", "'any', is no suit; accepted: bam, crak, dot, one suit, "
         "other suit, third suit"),
        ("kong of opposite wind", "'wind', cannot stand here: 'dragon' follows here"),
        ("kong of red kong of green", "word 4, 'kong', cannot stand here; accepted: a comma"),
        ("kong of red without joker", "'joker', cannot stand here: 'jokers' follows without; did "
         "you mean 'jokers'?"),
        ("either pair of red", "either needs a second branch; accepted: or"),
        ("either (pair of red or pair of green", "word 5, 'or', cannot stand here: ')' closes"),
        ("block of east, south", "word 3, 'east', cannot stand here: '(' opens the tiles"),
        ("block of (1, red)", "'red', cannot stand here: the number before it has no suit"),
        ("block of (all suits)", "'suits', cannot follow all; accepted: winds, dragons"),
        ("block of (n bam, n bam)", "closes a block with 'n bam' twice; accepted: pair of n bam"),
        ("", "tiles = ''; accepted: words in quotation marks"),
        ("kong of n bam where", "condition 1: the end of the hand begins no condition; accepted"),
        ("kong of n bam where m is odd", "condition 1: word 6, 'm', stands on no tile of "
         "this hand; accepted: n"),
        ("kong of red where n is odd", "'n', stands on no tile of this hand; accepted: a letter"),
        ("kong of n bam where n are odd", "'are', cannot follow a number here; accepted: from, is"),
        ("kong of n bam where n is big", "'big', cannot follow is; accepted: a number, not, odd"),
        ("kong of n bam where n is at last 3", "'last', cannot follow at; did you mean 'least'?"),
        ("kong of n bam where n from 1 bam", "'bam', cannot stand here: 'to' follows the low end"),
        ("kong of n bam where n from 1 to 9 by 0", "'0', is no step; accepted: 1, 2, 3"),
        ("kong of n bam where n from 1 to x", "'x', is no number here; accepted: 0 to 99"),
        ("kong of n bam where n + 1 from 1 to 4", "a range is for one letter; accepted: n from 1"),
        ("kong of n bam where n is 60 + 60", "begins a sum that is too large"),
        ("kong of n bam where n is odd where", "word 9, 'where', cannot stand here; accepted: a"),
        ("kong of red, quint of n bam", "asks for 9 tiles: 4 + 5; accepted: 14, the hand size"),
        ("sextet of red, either quint of 1 bam or kong of 2 bam, pung of 3 bam",
         "asks for 13 tiles (alternative 2): 6 + 4 + 3"),
        ("sextet of n bam, sextet of n crak, pair of n dot where n is 12", "no choice of its "
         "numbers keeps the conditions"),
    ],
)  # fmt: skip
def test_words_of_a_hand(tiles, words):
    refused(f'{TOP}tiles = "{tiles}"\n', words)
    refused(f'{TOP}tiles = "{tiles}"\n', "mine.toml, line 8, hand 'Trial'")


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("", "mine.toml: no [[family]] with a hand"),
        ("[[family.hand]]", "mine.toml, line 1: a hand before the first [[family]]"),
        ('name = "x"\n[[famly]]', "line 2: '[[famly]]' heads no part of a card; did you mean "
         "'[[family]]' or"),
        ('nmae = "x"', "line 1: 'nmae' is nothing that a card says; did you mean 'name'?"),
        (TOP + 'tile = "x"', "line 8: 'tile' is nothing that a [hand] says; did you mean 'tiles'"),
        (TOP, "line 6, hand 'Trial': this hand has no tiles; accepted: tiles ="),
        (TOP + "tiles = kong of red", "'kong of red' cannot be the value of 'tiles'; accepted: "
         "words in quotation marks"),
        (TOP + 'tiles = "kong of red', "line 8: the text of 'tiles' is opened with \" and not"),
        (TOP + 'tiles = """kong of red\n\n', "line 8: the text of 'tiles' is opened with \"\"\""),
        (TOP + 'tiles = """kong \\\nof red"""', "holds a backslash"),
        (TOP + "tiles = 5", "line 8, hand 'Trial': tiles = 5; accepted: words"),
        (TOP + 'tiles = "kong red"\ntiles = "kong red"', "line 9: 'tiles' is said twice, first in "
         "line 8"),
        (TOP + 'tiles = "kong red"\npoints = "many"', "line 9, hand 'Trial': points = 'many'; "
         "accepted: a whole number from 0"),
        (TOP + 'tiles = "kong red"\npoints = true', "points = True; accepted: a whole number"),
        (TOP + 'tiles = "kong red"\nconcealed = 1', "line 9, hand 'Trial': concealed = 1; "
         "accepted: true, false"),
        (TOP + "what is this", "line 8: 'what is this' is no line of a card; accepted: key ="),
        (TOP + "tiles.x = 1", "line 8: 'tiles.x = 1' is no line of a card"),
        (TOP + 'tiles = "x" y', "line 8: cannot be read as TOML"),
        ('name = "x"\n[rules]\njokers = 40', "line 3: jokers = 40; accepted: a whole number from"),
        ('name = "x"\n[rules]\nclaimable = ["pong"]', "line 3: 'pong' is no group that a claim can "
         "show; did you mean 'pung' or 'kong'?"),
        ('name = "x"\n[rules]\nclaimable = []', "claimable = []; accepted: a list such as"),
        ('name = "x"\n[rules]\nclaimable = [["pung"]]', "the list of 'claimable' cannot be read"),
        ('name = "x"\n[[family]]\nname = "a"\n', "line 2: family 'a' has no hands; accepted"),
        (f'name = "{"x" * 81}"\n' + TOP[14:] + 'tiles = "kong red"', "has 81 characters; accepted: "
         "at most 80"),
    ],
)  # fmt: skip
def test_lines_of_a_card(text, words):
    refused(text, words)


def test_names_are_unique():
    hand = '\n[[family.hand]]\nname = "Trial"\ntiles = "kong red"\n'
    refused(TOP + 'tiles = "kong red"\n' + hand, "line 11, hand 'Trial': name 'Trial' is taken by "
            "the hand in line 6")  # fmt: skip
    refused(TOP + 'tiles = "kong red"\n[[family]]\nname = "First"', "the family in line 3")


def test_the_first_mistake_is_told_first():
    second = '\n[[family.hand]]\nname = "Later"\ntiles = "pong red"\n'
    refused(TOP + 'tiles = "pang red"' + second, "'pang'")


@pytest.mark.parametrize(("opening", "line"), [('"""', 9), ('"""\n', 10), ("'''\n", 10)])
def test_the_line_of_a_word_in_a_long_text(opening, line):
    text = f"{TOP}tiles = {opening}kong of red,\nkong of gren{opening.strip()}"
    refused(text, f"mine.toml, line {line}, hand 'Trial', group 2: word 6, 'gren', is no tile")
    refused(text.replace("\n", "\r\n"), f"mine.toml, line {line}, hand 'Trial', group 2")


def test_the_offset_points_at_the_word():
    with pytest.raises(CardError) as caught:
        parse_hand("pair of red, pong of green")
    assert caught.value.offset == 13
    assert caught.value.place == "group 2"


def test_hands_and_cards_by_name(tmp_path):
    with pytest.raises(CardError, match=r"no hand 'Bering' on .*did you mean 'Bearing'"):
        hand_index(load_card("house"), "Bering")
    with pytest.raises(CardError, match=r"no card 'hause' comes with .*did you mean 'house'"):
        load_card("hause")
    with pytest.raises(CardError, match=r"absent\.toml: cannot be read: No such file"):
        load_card(tmp_path / "absent.toml")
    latin = tmp_path / "latin.toml"
    latin.write_bytes('name = "é"'.encode("latin-1"))
    with pytest.raises(CardError, match=r"latin\.toml: is no text in UTF-8 \(byte 8\)"):
        read_card(latin)
    with pytest.raises(CardError, match="cannot be read"):
        load_card(tmp_path)


def test_a_changed_file_is_read_again(tmp_path):
    path = tmp_path / "card.toml"
    path.write_text(TOP + 'tiles = "kong red, quint flower, quint 1 bam"')
    first = load_card(path)
    assert load_card(path) is first
    path.write_text(TOP + 'tiles = "kong red, quint flower, quint 1 any suit"')
    assert load_card(path).n_targets == 3
