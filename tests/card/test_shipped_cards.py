"""The cards that come with handread keep what is promised of them."""

from __future__ import annotations

import numpy as np
import pytest

from handread.card import (
    card_names,
    card_template,
    compile_card,
    describe_card,
    format_card,
    parse_card,
    read_card,
)
from handread.tiles import FLOWER, JOKER


@pytest.fixture(scope="module")
def house():
    return describe_card(read_card("house"))


def test_three_cards_ship():
    assert card_names() == ("harbour", "house", "small")


@pytest.mark.parametrize("name", ["house", "harbour", "small"])
def test_cards_are_sound(name):
    report = describe_card(read_card(name))
    assert report.errors == ()
    assert report.shared == ()
    assert all(hand.n_impossible == 0 for hand in report.hands)
    assert parse_card(format_card(read_card(name))) == read_card(name)


def test_the_house_card_has_its_size(house):
    assert 7 <= len(house.families) <= 9
    assert 40 <= len(house.hands) <= 70
    assert 1200 <= house.card.n_targets <= 3000


def test_every_family_of_the_house_card_can_be_confused(house):
    for family in house.families:
        assert 0.10 <= family.confusability <= 0.40, family
        assert family.nearest


def test_no_family_of_the_house_card_is_one_property(house):
    card = house.card
    joker_free = ~card.group_joker.any(axis=1)
    numbered = card.demand[:, :27].reshape(-1, 3, 9).sum(axis=1)
    odd = numbered[:, 0::2].sum(axis=1) > 0
    even = numbered[:, 1::2].sum(axis=1) > 0
    for index in range(len(card.families)):
        own = card.family_of == index
        hands = [hand for hand in card.hands if hand.family == index]
        assert not joker_free[own].all()
        assert odd[own].any()
        assert even[own].any()
        assert (numbered[own].sum(axis=1) > 0).all()  # never flowers, winds or dragons alone
        assert 0 < sum(hand.concealed for hand in hands) < len(hands)
        assert len({hand.points for hand in hands}) >= 3


def test_the_house_card_is_a_mixture(house):
    sizes = {int(size) for size in np.unique(house.card.group_size)} - {0}
    assert sizes == {1, 2, 3, 4, 5, 6}
    assert house.n_concealed >= 8
    assert house.n_joker_free >= 6
    assert house.n_all_groups >= 8
    points = {hand.points for hand in house.card.hands}
    assert min(points) == 25
    assert max(points) >= 60
    assert (house.demand[:JOKER] > 0).all()
    assert house.demand[JOKER] == 0


def test_the_harbour_card_is_another_club_s(house):
    harbour = describe_card(read_card("harbour"))
    assert not set(harbour.card.families) & set(house.card.families)
    assert not {hand.name for hand in harbour.card.hands} & {h.name for h in house.card.hands}
    assert int(harbour.card.rules.copies[JOKER]) == 10
    assert harbour.card.rules.claimable != house.card.rules.claimable
    mine = {row.tobytes() for row in house.card.demand}
    assert not mine & {row.tobytes() for row in harbour.card.demand}


def test_the_small_card_is_small():
    report = describe_card(read_card("small"))
    assert 60 <= report.card.n_targets <= 200
    assert len(report.automorphisms) == 6


def test_the_template_is_a_sound_card():
    text = card_template()
    report = describe_card(parse_card(text))
    assert report.errors == ()
    assert all(hand.n_targets for hand in report.hands)
    assert report.card.demand[:, FLOWER].any()
    assert max(map(len, text.splitlines())) <= 80
    assert compile_card(parse_card(text)).hash == report.card.hash
