"""What describe, compare, symmetry and examples say about a card."""

from __future__ import annotations

from collections import Counter

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from hypothesis.extra import numpy as st_numpy

from handread.card import (
    CardError,
    automorphisms,
    card_diff,
    compile_card,
    confusability,
    describe_card,
    example_racks,
    family_overlap,
    hand_index,
    load_card,
    parse_card,
    read_card,
    relabelled_kinds,
    target_words,
    tiles_in_common,
)
from handread.tiles import KINDS
from tests.card.slow import compiled_targets

SHIPPED = ("house", "harbour", "small")


def hand(name: str, tiles: str, more: str = "") -> str:
    return f'[[family.hand]]\nname = "{name}"\ntiles = "{tiles}"\n{more}\n'


def card_of(*hands: str, top: str = ""):
    return parse_card(f'name = "Test"\n{top}\n[[family]]\nname = "First"\n' + "".join(hands), "t")


# --- tiles in common and confusability ---

DEMANDS = st_numpy.arrays(np.uint8, st.tuples(st.integers(1, 6), st.just(5)),
                          elements=st.integers(0, 7))  # fmt: skip


@given(DEMANDS, DEMANDS)
def test_tiles_in_common_counts_pairs_of_like_tiles(first, second):
    found = tiles_in_common(first, second)
    for i, one in enumerate(first):
        for j, two in enumerate(second):
            counted = Counter(np.repeat(range(5), one)) & Counter(np.repeat(range(5), two))
            assert found[i, j] == counted.total()


@pytest.mark.parametrize("name", SHIPPED)
def test_confusability_equals_plain_counting(name):
    card = load_card(name)
    racks = [Counter(dict(enumerate(map(int, row)))) for row in card.demand]
    family = card.family_of.tolist()
    rng = np.random.default_rng(5)
    near = np.minimum(card.demand[:, None, :], card.demand[None, :, :]).sum(axis=2) >= 9
    for _ in range(200):  # the plain array is itself held against counters
        i, j = rng.integers(card.n_targets, size=2)
        assert near[i, j] == ((racks[i] & racks[j]).total() >= 9)
    expected = np.zeros((len(card.families), len(card.families)))
    any_other = np.zeros(len(card.families))
    for one in range(len(card.families)):
        own = [i for i, f in enumerate(family) if f == one]
        for two in range(len(card.families)):
            others = [j for j, f in enumerate(family) if f == two]
            if one != two:
                expected[one, two] = near[np.ix_(own, others)].any(axis=1).mean()
        outside = [j for j, f in enumerate(family) if f != one]
        any_other[one] = near[np.ix_(own, outside)].any(axis=1).mean()
    np.testing.assert_allclose(family_overlap(card), expected, atol=1e-12)
    np.testing.assert_allclose(confusability(card), any_other, atol=1e-12)


# --- relabellings of the suits ---


@pytest.mark.parametrize("name", SHIPPED)
def test_automorphisms_equal_brute_force(name):
    card = load_card(name)
    targets = [(card.hands[i].name, t) for i in range(len(card.hands))
               for t in compiled_targets(card, i)]  # fmt: skip
    expected = []
    for suits in [(0, 1, 2), (0, 2, 1), (1, 0, 2), (1, 2, 0), (2, 0, 1), (2, 1, 0)]:
        words = dict(zip(("bam", "crak", "dot"), suits, strict=True))
        image = {(h, tuple(sorted((moved(tile, words), *g) for tile, *g in t))) for h, t in targets}
        if image == set(targets):
            expected.append(suits)
    found = automorphisms(card)
    assert [relabelling.suits for relabelling in found] == expected
    for relabelling in found:
        assert sorted(relabelling.targets.tolist()) == list(range(card.n_targets))
        assert (card.hand_of[relabelling.targets] == card.hand_of).all()
        image = np.zeros_like(card.demand)
        image[:, relabelling.kinds] = card.demand
        np.testing.assert_array_equal(card.demand[relabelling.targets], image)


def moved(tile: str, suits: dict[str, int]) -> str:
    names, dragons = ("bam", "crak", "dot"), ("green", "red", "white")
    if tile in dragons:
        return dragons[suits[names[dragons.index(tile)]]]
    number, _, suit = tile.partition(" ")
    return f"{number} {names[suits[suit]]}" if suit else tile


def test_white_as_zero_breaks_relabellings_that_move_the_dots():
    plain = hand("Trial", "kong n one suit, kong n+1 one suit, sextet flower")
    assert len(automorphisms(compile_card(card_of(plain)))) == 6
    zero = plain.replace("flower", "flower where 0 is white")
    words = [a.words for a in automorphisms(compile_card(card_of(zero)))]
    assert words == ["", "bam to crak, crak to bam"]
    named = plain.replace("kong n one suit", "kong n bam")
    assert [a.words for a in automorphisms(compile_card(card_of(named)))] == [
        "", "crak to dot, dot to crak"
    ]  # fmt: skip


@given(st.permutations(range(3)))
def test_dragons_go_with_their_suits(suits):
    kinds = relabelled_kinds(tuple(suits))
    assert sorted(kinds.tolist()) == list(range(36))
    for kind, word in enumerate(KINDS):
        assert KINDS[kinds[kind]] == moved(word, dict(zip(("bam", "crak", "dot"), suits,
                                                          strict=True)))  # fmt: skip


# --- describe ---


def test_shared_impossible_and_empty_hands_are_reported():
    report = describe_card(
        card_of(
            hand("All", "kong n one suit, kong n other suit, sextet flower"),
            hand("Odd", "sextet flower, kong n one suit, kong n other suit where n is odd"),
            hand("Same", "kong m other suit, kong m one suit, sextet flower"),
            hand("Partly", "sextet flower, kong n bam, kong m crak where n is 1 or 2, m is 1 or 9"),
            hand("Never", "pair red, pair red, pair red, kong green, kong east"),
            hand("Seldom", "pair n bam, pair m bam, pair 3 bam, kong red, kong east where m is 1 "
                 "or 3, n is 2 or 3"),
        )
    )  # fmt: skip
    assert [h.n_targets for h in report.hands] == [27, 0, 0, 3, 0, 3]
    assert [h.n_shared for h in report.hands] == [0, 15, 27, 1, 0, 0]
    assert [h.n_impossible for h in report.hands] == [0, 0, 0, 0, 1, 1]
    assert [(s.first, s.second, s.n_shared, s.relation) for s in report.shared] == [
        ("All", "Odd", 15, "first contains second"),
        ("All", "Same", 27, "identical"),
        ("All", "Partly", 1, "overlap"),
        ("Odd", "Same", 15, "second contains first"),
        ("Odd", "Partly", 1, "overlap"),
        ("Same", "Partly", 1, "overlap"),
    ]
    taken = "every one of its targets stands under an earlier hand"
    assert report.errors == (
        f"t, line 11, hand 'Odd': {taken}",
        f"t, line 15, hand 'Same': {taken}",
        "t, line 23, hand 'Never': the tile set cannot supply any of its targets",
    )


def test_demand_is_a_mean_over_hands():
    report = describe_card(
        card_of(
            hand("One", "sextet flower, kong 1 bam, kong 2 bam"),
            hand("Many", "kong n bam, pung red, pung green, kong east where n is 1 or 3"),
        )
    )
    demand = dict(zip(KINDS, report.demand.tolist(), strict=True))
    assert (demand["1 bam"], demand["3 bam"], demand["flower"]) == (3.0, 1.0, 3.0)
    used = dict(zip(KINDS, report.used_by.tolist(), strict=True))
    assert (used["1 bam"], used["3 bam"], used["red"], used["5 dot"]) == (1.0, 0.5, 0.5, 0.0)
    assert report.demand.sum() == pytest.approx(14)


def test_shapes_of_hands_are_counted():
    report = describe_card(
        card_of(
            hand("Groups", "sextet flower, kong 1 bam, kong 2 bam"),
            hand("Pairs", ", ".join(f"pair {n} bam" for n in range(1, 8)), "concealed = true"),
            hand("Barred", "sextet flower, kong 1 bam, kong 2 bam", "jokers = false"),
        )
    )
    assert (report.n_concealed, report.n_joker_free, report.n_all_groups) == (1, 2, 2)


# --- compare ---


def test_diff_says_what_changed():
    before = card_of(
        hand("Same", "sextet flower, kong 1 bam, kong 2 bam"),
        hand("Dearer", "sextet flower, kong 1 bam, kong 3 bam"),
        hand("Wider", "sextet flower, kong n bam, kong 4 crak where n is 1 or 2"),
        hand("Gone", "sextet flower, kong 1 bam, kong 5 crak"),
        hand("Old name", "sextet flower, kong 1 bam, kong 6 crak"),
    )
    after = card_of(
        hand("Same", "kong 1 bam, kong 2 bam, sextet flower"),
        hand("Dearer", "sextet flower, kong 1 bam, kong 3 bam", "points = 50\nconcealed = true"),
        hand("Wider", "sextet flower, kong n bam, kong 4 crak where n is 2 or 3 or 4"),
        hand("Come", "sextet flower, kong 1 bam, kong 7 crak"),
        hand("New name", "sextet flower, kong 1 bam, kong 6 crak"),
        '[[family]]\nname = "Second"\n',
        hand("Far", "kong red, kong east, sextet flower"),
        top='[rules]\njokers = 10\nclaimable = ["pung", "kong"]',
    )
    found = card_diff(compile_card(before), compile_card(after))
    assert found.card == (
        "copies of joker 8 to 10",
        "claimable pung, kong, quint, sextet to pung, kong",
        "family 'Second' is new",
    )
    assert found.added == ("Come", "Far")
    assert found.removed == ("Gone",)
    assert found.renamed == (("Old name", "New name"),)
    assert {c.name: c.what[1:] if c.name != "Dearer" else c.what for c in found.changed} == {
        "Same": (),
        "Dearer": ("open to concealed", "points 25 to 50"),
        "Wider": ("targets 2 to 3 (+2, -1)",),
    }
    assert found.n_same == 0
    assert not found.is_empty


@pytest.mark.parametrize("name", SHIPPED)
def test_a_card_does_not_differ_from_itself(name):
    found = card_diff(load_card(name), compile_card(read_card(name)))
    assert found.is_empty
    assert found.n_same == len(load_card(name).hands)


# --- hands by name, racks in words ---


@settings(max_examples=30)
@given(st.sampled_from(SHIPPED), st.integers(0, 200), st.integers(1, 80))
def test_example_racks_are_targets_of_the_hand(name, number, most):
    card = load_card(name)
    index = number % len(card.hands)
    racks = example_racks(card, card.hands[index].name, most)
    of_hand = np.flatnonzero(card.hand_of == index)
    assert len(racks) == min(most, len(of_hand))
    assert len({rack.target for rack in racks}) == len(racks)
    assert {rack.target for rack in racks} <= set(of_hand.tolist())
    for rack in racks:
        assert rack.groups == target_words(card, rack.target)
        counts = np.bincount(rack.tiles, minlength=36)
        np.testing.assert_array_equal(counts, card.demand[rack.target])
        assert sum(("single", "pair", "pung", "kong", "quint", "sextet").index(g.split()[0]) + 1
                   for g in rack.groups) == 14  # fmt: skip


def test_hands_are_found_whatever_the_capitals():
    card = load_card("house")
    for index, line in enumerate(card.hands):
        assert hand_index(card, f"  {line.name.upper()} ") == index
    with pytest.raises(CardError, match="no hand ''"):
        hand_index(card, "")
