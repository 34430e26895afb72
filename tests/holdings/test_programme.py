"""Expected holdings: the exact programme against enumeration, scaling against the programme."""

from itertools import permutations

import numpy as np
import pytest

from handread.errors import HandreadError
from handread.reading.expecting import scale_matrix
from handread.reading.programme import exact_holdings


def enumerated(unseen: list[int], sizes: list[int], odds: np.ndarray) -> np.ndarray:
    """Every deal of distinct tiles to slots, weighed one by one."""
    tiles = [kind for kind, copies in enumerate(unseen) for _ in range(copies)]
    slots = [hand for hand, size in enumerate(sizes) for _ in range(size)]
    slots += [len(sizes)] * (len(tiles) - len(slots))
    total, out = 0.0, np.zeros((len(sizes) + 1, len(unseen)))
    for deal in set(permutations(slots)):
        weight = 1.0
        held = np.zeros_like(out)
        for tile, hand in zip(tiles, deal, strict=True):
            held[hand, tile] += 1
            weight *= odds[hand, tile] if hand < len(sizes) else 1.0
        total += weight
        out += weight * held
    return out / total


def test_programme_equals_every_deal_written_out() -> None:
    unseen, sizes = [3, 2, 1, 2], [2, 3]
    odds = np.array([[2.0, 1.0, 0.5, 1.5], [1.0, 3.0, 1.0, 0.2]])
    found = exact_holdings(np.array(unseen), np.array(sizes), odds)
    np.testing.assert_allclose(found, enumerated(unseen, sizes, odds), atol=1e-12)


def test_with_equal_odds_the_programme_is_the_hypergeometric_mean() -> None:
    unseen = np.array([4] * 30 + [8, 7])
    sizes = np.array([13, 13, 10])
    found = exact_holdings(unseen, sizes, np.ones((3, 32)))
    np.testing.assert_allclose(found[:3], np.outer(sizes, unseen / unseen.sum()), rtol=1e-9)


def test_scaling_keeps_margins_and_stays_near_the_programme() -> None:
    rng = np.random.default_rng(5)
    unseen = rng.integers(0, 5, size=36)
    unseen[34:] = 6, 5
    sizes = np.array([13, 10, 13])
    odds = 1.0 + rng.random((3, 36))
    rows = np.array([*sizes, unseen.sum() - sizes.sum()], dtype=float)
    scaled = scale_matrix(np.vstack([odds, np.ones(36)]), unseen.astype(float), rows)
    np.testing.assert_allclose(scaled.sum(axis=0), unseen, atol=1e-12)
    np.testing.assert_allclose(scaled.sum(axis=1), rows, rtol=1e-8)
    exact = exact_holdings(unseen, sizes, odds)
    blind = np.outer(rows / rows.sum(), unseen)
    apart = np.abs(scaled - exact).max()
    assert apart < 0.05, apart
    assert apart < 0.2 * np.abs(blind - exact).max()


def test_hands_larger_than_the_pool_are_refused() -> None:
    with pytest.raises(HandreadError, match="at most that is accepted"):
        exact_holdings(np.array([2]), np.array([3]), np.ones((1, 1)))
