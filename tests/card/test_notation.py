"""The words of a hand: read, written back, and what they mean."""

from __future__ import annotations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from handread.card import CardError, format_card, format_hand, parse_card, parse_hand
from handread.card.conditions import parse_condition
from handread.card.notation import (
    Block,
    Either,
    Group,
    NamedTile,
    Number,
    NumberTile,
    SuitDragon,
    WindTile,
    format_condition,
)
from handread.card.tokens import Tokens
from tests.card.drawn import cards, conditions, patterns


@settings(max_examples=60)
@given(patterns())
def test_hands_round_trip(pattern):
    assert parse_hand(format_hand(pattern)) == pattern


@given(conditions())
def test_conditions_round_trip(condition):
    assert parse_condition(Tokens(format_condition(condition))) == condition


@settings(max_examples=25)
@given(cards())
def test_cards_round_trip(card):
    again = parse_card(format_card(card))
    assert again == card
    assert format_card(again) == format_card(card)


WORDS = """
    pair of pung kong n m 3 10 + - , ( ) in one other third any suit wind dragon dragons either or
    block where from to by is not at least odd white 0 the a without jokers bam flower all winds
    opposite times 5b é ½ ²
    """


def read_or_refused(parse, text):
    """What `text` means, or None if it is refused with one of our errors."""
    try:
        return parse(text)
    except CardError:
        return None


@given(st.one_of(st.text(max_size=60), st.lists(st.sampled_from(WORDS.split())).map(" ".join)))
def test_any_text_is_a_hand_or_one_of_our_errors(text):
    pattern = read_or_refused(parse_hand, text)
    assert pattern is None or parse_hand(format_hand(pattern)) == pattern


@given(st.text(max_size=200))
def test_any_text_is_a_card_or_one_of_our_errors(text):
    card = read_or_refused(parse_card, text)
    assert card is None or parse_card(format_card(card)) == card


CARD_LINES = st.sampled_from(
    [
        "[[family]]", "[[family.hand]]", "[rules]", 'name = "x"', 'name = "y"', "# remark", "",
        'tiles = "kong red, quint flower, quint 1 bam"', 'tiles = """', '"""', "points = 30",
        "points = -1", "concealed = true", "jokers = 10", "jokers = false", "flowers = 1.5",
        'claimable = ["pung"]', "claimable = [", "]", "hand_size = 14", "hand_size = 1979-05-27",
        "name = 'it''s'", "a.b = 1", "tiles = {a = 1}", 'note = "\\u00e9"', "note = 'x' # y",
    ]
)  # fmt: skip


@given(st.lists(CARD_LINES, max_size=14).map("\n".join))
def test_any_lines_are_a_card_or_one_of_our_errors(text):
    card = read_or_refused(parse_card, text)
    assert card is None or parse_card(format_card(card)) == card


@pytest.mark.parametrize(
    ("short", "full"),
    [
        ("pair n one suit", "pair of n in one suit"),
        ("Pair of a 5 Bams", "pair of 5 bam"),
        ("pung n+1 other suit", "pung of n + 1 in the other suit"),
        ("kong 10-n third suit", "kong of 10 - n in the third suit"),
        ("kong 10 − n any suit", "kong of 10 - n in any suit"),
        ("quint flowers", "quint of flower"),
        ("kong soaps", "kong of white"),
        ("kong zero", "kong of white"),
        ("pair own dragon of bam", "pair of the dragon of bam"),
        ("pair dragon of the other suit", "pair of the dragon of the other suit"),
        ("single last wind", "single of the last wind"),
        ("block (all dragons)", "block of (green, red, white)"),
        ("block (1, 2, 3 bam, east)", "block of (1, 2, 3 bam, east)"),
        ("either pair east or pair west", "either pair of east or pair of west"),
        ("either (pair east) or pair west", "either pair of east or pair of west"),
        ("pung red without jokers", "pung of red without jokers"),
        ("pair red without jokers", "pair of red"),
        ("pung n bam where n is odd,", None),
        ("pung n bam, pung red,", "pung of n in bam"),
    ],
)
def test_short_forms(short, full):
    if full is None:
        with pytest.raises(CardError, match="the end of the hand begins no condition"):
            parse_hand(short)
    elif short.endswith(","):
        assert parse_hand(short) == parse_hand(short[:-1])
    else:
        assert format_hand(parse_hand(short)) == full


def test_what_the_words_mean():
    hand = parse_hand(
        "pair of n in one suit, block of (n, n + 1 in the other suit, east), "
        "either pung of the other opposite dragon of one suit or (kong of red without jokers, "
        "single of any wind) where n is not 5"
    )
    n = Number(0, (("n", 1),))
    assert hand.groups == (
        Group(2, NumberTile(n, "one")),
        Block(
            (
                NumberTile(n, "other"),
                NumberTile(Number(1, (("n", 1),)), "other"),
                NamedTile(27),
            )
        ),
        Either(
            (
                (Group(3, SuitDragon("other opposite", "one")),),
                (Group(4, NamedTile(32), barred=True), Group(1, WindTile("any"))),
            )
        ),
    )


def test_hands_without_jokers_bar_every_group():
    text = """
    name = "x"
    [[family]]
    name = "f"
    [[family.hand]]
    name = "h"
    tiles = "kong red, either pung n bam or (pair east, single west), quint flower"
    jokers = false
    """
    (hand,) = parse_card(text).families[0].hands
    full = "kong of red without jokers, either pung of n bam without jokers or (pair of east, "
    assert format_hand(hand.pattern) == full + "single of west), quint of flower without jokers"
