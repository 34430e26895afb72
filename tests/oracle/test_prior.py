"""Priors against plain counting."""

from __future__ import annotations

from collections import Counter

import numpy as np
import pytest

import handread as hr
from handread.card.compiled import CompiledCard
from handread.errors import HandreadError
from handread.prior import rack_prior
from handread.reading import build_model, equal_hands_prior
from handread.tiles import JOKER
from tests.oracle.toy import toy_card

EXCHANGED = 9
EQUAL_SHARE = 0.5


def distance(card: CompiledCard, g: int, rack: Counter[int]) -> int:
    """Tiles that a rack is short of target `g`, in halves: those that no joker can be count 3."""
    short_with, short_without = 0, 0
    groups = zip(card.group_kind[g], card.group_size[g], card.group_joker[g], strict=True)
    need_natural: Counter[int] = Counter()
    need_any: Counter[int] = Counter()
    for kind, size, joker in groups:
        (need_any if joker else need_natural)[int(kind)] += int(size)
    for kind in {*need_natural, *need_any}:
        held = rack[kind]
        plain = min(held, need_natural[kind])
        short_without += need_natural[kind] - plain
        short_with += need_any[kind] - min(held - plain, need_any[kind])
    return 3 * short_without + 2 * max(0, short_with - rack[JOKER])


def settle_on(card: CompiledCard, rack: Counter[int], tie: float) -> int:
    """The nearest target, equals picked from by `tie`."""
    distances = [distance(card, g, rack) for g in range(card.n_targets)]
    nearest = [g for g, d in enumerate(distances) if d == min(distances)]
    return nearest[int(tie * len(nearest))]


def plain_counts(card: CompiledCard, seed: int, n_racks: int) -> np.ndarray:
    """Racks dealt from the same random numbers, one at a time."""
    rng = np.random.default_rng(seed)
    wall = [kind for kind, copies in enumerate(card.rules.copies) for _ in range(copies)]
    order = rng.permuted(np.tile(np.array(wall, dtype=np.uint8), (n_racks, 1)), axis=1)
    ties = rng.random((n_racks, 2))
    counts = np.zeros(card.n_targets, dtype=np.int64)
    for tiles, (first_tie, second_tie) in zip(order.tolist(), ties, strict=True):
        dealt, incoming = tiles[:13], tiles[13 : 13 + EXCHANGED]
        rack = Counter(dealt)
        first = settle_on(card, rack, first_tie)
        for kind in dealt:
            spare = rack[kind] > int(card.demand[first, kind])
            if kind != JOKER and spare and incoming:
                rack[kind] -= 1
                rack[incoming.pop(0)] += 1
        counts[settle_on(card, rack, second_tie)] += 1
    return counts


def test_rack_prior_counts_as_a_plain_loop_does() -> None:
    card = toy_card()
    found = rack_prior(card, rng=np.random.default_rng(7), n_racks=200)
    counts = plain_counts(card, 7, 200)
    np.testing.assert_array_equal(found.counts, counts)
    equal = np.array([1 / sum(card.hand_of == h) for h in card.hand_of]) / len(set(card.hand_of))
    smoothed = (counts + 1) / (counts + 1).sum()
    expected = (1 - EQUAL_SHARE) * smoothed + EQUAL_SHARE * equal
    np.testing.assert_allclose(found.prior, expected, rtol=1e-12)


@pytest.mark.slow
def test_rack_prior_counts_as_a_plain_loop_does_on_the_house_card() -> None:
    card = hr.house_card()
    found = rack_prior(card, rng=np.random.default_rng(8), n_racks=60)
    np.testing.assert_array_equal(found.counts, plain_counts(card, 8, 60))


def test_rack_prior_is_the_same_in_parts_and_has_its_standard_error() -> None:
    card = toy_card()
    few = [rack_prior(card, rng=np.random.default_rng(s), n_racks=2000) for s in range(20)]
    share = np.array([found.counts / 2000 for found in few])
    spread = (1 - EQUAL_SHARE) * share.std(axis=0, ddof=1)
    stated = np.mean([found.standard_error for found in few], axis=0)
    common = stated > 1e-3
    assert common.sum() > 5
    assert 0.5 < (spread / stated)[common].mean() < 1.5
    assert all(found.prior.min() > 0 for found in few)


def test_rack_prior_wants_a_rack() -> None:
    with pytest.raises(HandreadError, match="n_racks=0"):
        rack_prior(toy_card(), rng=np.random.default_rng(0), n_racks=0)


def test_equal_hands_prior_gives_every_hand_its_part() -> None:
    for card in (toy_card(), hr.house_card()):
        prior = equal_hands_prior(card)
        used = sorted(set(card.hand_of.tolist()))
        for hand in used:
            members = [float(prior[g]) for g in range(card.n_targets) if card.hand_of[g] == hand]
            assert sum(members) == pytest.approx(1 / len(used), abs=1e-12)
            assert max(members) == pytest.approx(min(members), abs=1e-15)


@pytest.mark.parametrize("fault", ["shape", "sum", "zero", "nan"])
def test_a_prior_that_is_none_is_refused(fault: str) -> None:
    prior = equal_hands_prior(toy_card())
    wrong = {
        "shape": prior[:-1],
        "sum": prior * 1.01,
        "zero": np.where(np.arange(len(prior)) == 3, 0.0, prior),
        "nan": np.where(np.arange(len(prior)) == 3, np.nan, prior),
    }[fault]
    with pytest.raises(HandreadError, match="prior of shape"):
        build_model(toy_card(), prior=wrong)
