"""The prior from simulated games: counts of seats, smoothed and never zero."""

import numpy as np
import pytest

import handread as hr
from handread.prior.played import EQUAL_SHARE, played_prior, smoothed


@pytest.fixture(scope="module")
def card() -> hr.CompiledCard:
    return hr.load_card("small")


def test_every_seat_counts_one_and_the_same_seed_gives_the_same(card: hr.CompiledCard) -> None:
    one, two = (played_prior(card, n_games=12, seed=7) for _ in range(2))
    assert one.counts.sum() == pytest.approx(48, abs=1e-4)
    assert one == two
    assert one.prior.min() > 0
    assert one.prior.sum() == pytest.approx(1)
    assert "12 games of population" in one.source
    assert played_prior(card, n_games=12, seed=8) != one


def test_smoothing_by_hand_on_three_targets() -> None:
    """Counts 3, 0, 0 with targets 0 and 1 in one hand, target 2 in another hand and family."""

    class Toy:
        n_targets = 3
        hand_of = np.array([0, 0, 1], dtype=np.int32)
        family_of = np.array([0, 0, 1], dtype=np.int32)
        hands, families = ("a", "b"), ("x", "y")

    found = smoothed(Toy(), np.array([3.0, 0.0, 0.0]))  # type: ignore[arg-type]
    # hand a has all of the counts: 2 * 3 / 2 = 3 for each of its targets; family: 0.5 * 3 / 2
    raw = np.array([3.0 + 3.0 + 0.75, 3.0 + 0.75, 0.0])
    equal = np.array([0.25, 0.25, 0.5])
    expected = (1 - EQUAL_SHARE) * raw / raw.sum() + EQUAL_SHARE * equal
    np.testing.assert_allclose(found, expected, rtol=1e-12)


def test_no_game_is_refused(card: hr.CompiledCard) -> None:
    with pytest.raises(hr.HandreadError, match="1 or more is accepted"):
        played_prior(card, n_games=0, seed=1)
