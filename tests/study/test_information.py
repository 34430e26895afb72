"""Claimed and realised bits: identities, and what must be said aloud."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from handread.errors import HandreadError, ImpossibleEvidence
from handread.study import bits_claimed, bits_log_score, bits_realised, bits_shared, honesty
from handread.study import honesty_by as by_kind


def beliefs(seed: int, n: int = 40, rows: int = 4) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    rng = np.random.default_rng(seed)
    before = rng.dirichlet(np.ones(rows), size=n)
    after = before * rng.random((n, rows))
    return before, after / after.sum(1, keepdims=True), rng.dirichlet(np.ones(rows), size=n)


@given(st.integers(0, 10_000))
@settings(max_examples=30)
def test_realised_bits_are_the_change_of_the_log_score(seed: int) -> None:
    before, after, truth = beliefs(seed)
    change = bits_log_score(after, truth) - bits_log_score(before, truth)
    assert bits_realised(before, after, truth) == pytest.approx(change, abs=1e-9)
    assert (bits_claimed(before, after) >= -1e-12).all()


@given(st.integers(0, 10_000))
@settings(max_examples=30)
def test_an_honest_belief_realises_what_it_claims(seed: int) -> None:
    """If truth is spread as the belief after the event, the two are the same number."""
    before, after, _ = beliefs(seed)
    assert bits_realised(before, after, after) == pytest.approx(
        bits_claimed(before, after), abs=1e-9
    )


def test_shares_of_clues_add_up_to_the_update() -> None:
    before, after, truth = beliefs(3)
    change = np.log2(after / before)
    part = np.random.default_rng(4).normal(size=change.shape)
    shares = np.stack([part, change - part], axis=1)
    assert bits_shared(shares, after).sum(axis=1) == pytest.approx(bits_claimed(before, after))
    assert bits_shared(shares, truth).sum(axis=1) == pytest.approx(
        bits_realised(before, after, truth)
    )


def test_excluded_rows_are_not_read() -> None:
    before = np.array([[0.5, 0.25, 0.25]])
    after = np.array([[2 / 3, 1 / 3, 0.0]])
    assert bits_claimed(before, after)[0] == pytest.approx(np.log2(4 / 3))
    shares = np.array([[[0.1, 0.2, -np.inf]]])
    assert bits_shared(shares, after)[0, 0] == pytest.approx(0.1 * 2 / 3 + 0.2 / 3)
    assert bits_realised(before, after, [[0, 0, 1]])[0] == -np.inf


def test_a_row_does_not_come_back_from_nothing() -> None:
    with pytest.raises(ImpossibleEvidence, match=r"update 1 row 0 goes from probability 0 to 0\.5"):
        bits_claimed([[0.5, 0.5], [0.0, 1.0]], [[0.5, 0.5], [0.5, 0.5]])


def test_a_truth_ruled_out_before_teaches_nothing_more() -> None:
    assert bits_realised([[0.0, 1.0]], [[0.0, 1.0]], [[1, 0]]).tolist() == [0.0]


def test_ratio_is_withheld_where_realised_bits_are_few() -> None:
    rng = np.random.default_rng(7)
    noise = rng.normal(size=200)
    told = honesty(np.full(200, 0.1), 0.05 + noise, game=np.arange(200), rng=rng)
    assert told.ratio is None
    assert "not given" in str(told)
    assert told.difference.value == pytest.approx(0.05 - noise.mean(), abs=1e-12)
    sure = honesty(np.full(200, 0.1), 0.05 + 0.01 * noise, game=np.arange(200), rng=rng)
    assert sure.ratio is not None
    assert sure.ratio.value == pytest.approx(0.1 / (0.05 + 0.01 * noise.mean()))


@pytest.mark.parametrize(("errors", "given"), [(4.7, False), (5.3, True)])
def test_ratio_is_given_from_five_standard_errors_on(errors: float, given: bool) -> None:
    """Realised bits with standard error 0.1 exactly, before resampling noise of some per cent."""
    noise = np.tile([1.0, -1.0], 50)  # standard deviation 1 over 100 games
    told = honesty(
        np.ones(100), errors * 0.1 + noise, game=np.arange(100), rng=np.random.default_rng(2)
    )
    assert told.realised.value == pytest.approx(errors * 0.1)
    assert told.realised.standard_error == pytest.approx(0.1, rel=0.05)
    assert (told.ratio is not None) is given


def test_sums_are_over_the_game_not_the_update() -> None:
    rng = np.random.default_rng(7)
    told = honesty([1.0, 2.0, 4.0], [1.0, 1.0, 1.0], game=[1, 1, 2], rng=rng)
    assert (told.claimed.value, told.realised.value) == (3.5, 1.5)
    assert (told.claimed.n_games, told.claimed.n_moments) == (2, 3)


def test_kinds_add_up_to_the_whole() -> None:
    rng = np.random.default_rng(8)
    claimed, realised = rng.random(60), rng.random(60)
    game, kind = (
        np.arange(60) // 3,
        np.array(["throw", "claim", "refusal"])[rng.integers(3, size=60)],
    )
    whole = honesty(claimed, realised, game=game, rng=rng)
    parts = by_kind(claimed, realised, kind, game=game, rng=rng)
    assert list(parts) == ["claim", "refusal", "throw"]
    for figure in ("claimed", "realised", "difference"):
        total = sum(getattr(part, figure).value for part in parts.values())
        assert total == pytest.approx(getattr(whole, figure).value, abs=1e-12)
    assert sum(part.claimed.n_moments for part in parts.values()) == 60


def test_shapes_must_agree() -> None:
    with pytest.raises(HandreadError, match="the same updates and the same rows"):
        bits_claimed([[1.0, 0.0]], [[1.0, 0.0, 0.0]])
    with pytest.raises(HandreadError, match=r"shares has shape \(1, 2\)"):
        bits_shared([[0.0, 0.0]], [[1.0, 0.0]])
    with pytest.raises(HandreadError, match="one an update"):
        by_kind([1.0], [1.0], ["a", "b"], game=[1], rng=np.random.default_rng(0))
