"""The prior from random racks: kernels against plain sums, and what it promises."""

import numpy as np
import pytest

import handread as hr
from handread.prior import rack_prior, save_prior
from handread.prior.kernels import distance, nearest_target
from handread.prior.racks import _sparse
from handread.tiles import JOKER


@pytest.fixture(scope="module")
def card() -> hr.CompiledCard:
    return hr.load_card("small")


def plain_distance(card: hr.CompiledCard, target: int, rack: np.ndarray) -> int:
    """Half tiles missing: naturals go first where no joker may stand, jokers mend the rest."""
    left = rack.astype(int).copy()
    bound = mendable = 0
    groups = sorted(
        zip(card.group_joker[target], card.group_kind[target], card.group_size[target], strict=True)
    )
    for joker, kind, size in groups:
        used = min(int(size), left[kind]) if size else 0
        left[kind] -= used
        if joker:
            mendable += int(size) - used
        else:
            bound += int(size) - used
    return 3 * bound + 2 * max(0, mendable - int(rack[JOKER]))


def random_racks(rng: np.random.Generator, n: int) -> np.ndarray:
    wall = np.repeat(np.arange(36), hr.house_card().rules.copies)
    return np.array([np.bincount(rng.permutation(wall)[:13], minlength=36) for _ in range(n)])


def test_distance_equals_the_plain_count(card: hr.CompiledCard) -> None:
    kinds, natural, jokered = _sparse(card)
    for rack in random_racks(np.random.default_rng(1), 25).astype(np.uint8):
        for target in range(0, card.n_targets, 7):
            found = distance(rack, kinds[target], natural[target], jokered[target])
            assert found == plain_distance(card, target, rack)


def test_nearest_target_is_nearest_and_ties_are_shared(card: hr.CompiledCard) -> None:
    kinds, natural, jokered = _sparse(card)
    rack = random_racks(np.random.default_rng(2), 1)[0].astype(np.uint8)
    far = np.array([plain_distance(card, g, rack) for g in range(card.n_targets)])
    best = np.flatnonzero(far == far.min())
    ties = (np.arange(len(best)) + 0.5) / len(best)
    found = [nearest_target(rack, kinds, natural, jokered, float(tie)) for tie in ties]
    assert found == best.tolist()


def test_prior_is_positive_and_the_same_from_the_same_seed(card: hr.CompiledCard) -> None:
    one = rack_prior(card, rng=np.random.default_rng(3), n_racks=3000)
    two = rack_prior(card, rng=np.random.default_rng(3), n_racks=3000)
    assert one.prior.min() > 0
    assert one.prior.sum() == pytest.approx(1)
    np.testing.assert_array_equal(one.counts, two.counts)
    by_hand = np.bincount(card.hand_of, weights=one.prior)
    assert by_hand.min() > 0.4 / len(card.hands)  # half the mass is equal over hands


def test_a_stored_prior_comes_back(card: hr.CompiledCard, tmp_path) -> None:
    found = rack_prior(card, rng=np.random.default_rng(4), n_racks=500)
    path = save_prior(card, found, tmp_path)
    assert path.name == f"{card.hash}.npz"
    assert [each.name for each in tmp_path.iterdir()] == [path.name]
    with np.load(path, allow_pickle=False) as file:
        np.testing.assert_allclose(file["prior"], found.prior, rtol=1e-6)
        assert str(file["source"]) == found.source


@pytest.mark.parametrize("name", ["house", "harbour", "small"])
def test_every_card_that_ships_has_its_prior(name: str) -> None:
    model = hr.stored_model(hr.load_card(name))
    assert "random racks" in model.prior_source or "games of population" in model.prior_source


def test_no_racks_are_refused(card: hr.CompiledCard) -> None:
    with pytest.raises(hr.HandreadError, match="1 or more is accepted"):
        rack_prior(card, rng=np.random.default_rng(0), n_racks=0)
