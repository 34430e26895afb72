"""Scores against brute force, and what must not change them."""

from __future__ import annotations

from itertools import permutations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from handread.errors import HandreadError
from handread.study import (
    average,
    bits_gain,
    bits_log_score,
    brier_score,
    rank_of_truth,
    top_k_hit,
    true_state_ratio,
    truth_called_impossible,
)

PROB = np.array([[0.5, 0.2, 0.2, 0.1], [0.25, 0.25, 0.25, 0.25], [0.1, 0.6, 0.0, 0.3]])
TRUTH = np.array([[0.0, 1.0, 0.0, 0.0], [0.5, 0.0, 0.5, 0.0], [0.0, 0.25, 0.0, 0.75]])


def by_lot(prob: np.ndarray, row: int) -> list[int]:
    """Every place that `row` can get when ties are broken by lot, each order equally likely."""
    places = []
    for order in permutations(range(len(prob))):
        ranked = sorted(range(len(prob)), key=lambda k: (-prob[k], order[k]))
        places.append(1 + ranked.index(row))
    return places


def test_rank_and_top_k_are_means_over_all_ways_to_break_ties() -> None:
    ranks = rank_of_truth(PROB, TRUTH)
    for moment in range(3):
        places = [np.array(by_lot(PROB[moment], row)) for row in range(4)]
        expected = sum(TRUTH[moment, row] * places[row].mean() for row in range(4))
        assert ranks[moment] == pytest.approx(expected, abs=1e-12)
        for k in (1, 2, 3, 4):
            hits = sum(TRUTH[moment, row] * (places[row] <= k).mean() for row in range(4))
            assert top_k_hit(PROB, TRUTH, k)[moment] == pytest.approx(hits, abs=1e-12)


def test_spread_truth_scores_as_the_mean_over_rows_drawn_by_it() -> None:
    for score in (bits_log_score, brier_score):
        whole = score(PROB, TRUTH)
        for moment in range(3):
            rows = np.flatnonzero(TRUTH[moment])
            each = [score(PROB[moment : moment + 1], np.eye(4)[[row]])[0] for row in rows]
            assert whole[moment] == pytest.approx(TRUTH[moment, rows] @ each, abs=1e-12)


def test_brier_score_is_the_squared_distance() -> None:
    one_hot = np.eye(4)[[0, 3, 1]]
    expected = ((PROB - one_hot) ** 2).sum(axis=1)
    assert brier_score(PROB, one_hot) == pytest.approx(expected, abs=1e-12)


def test_truth_called_impossible_costs_everything() -> None:
    truth = np.eye(4)[[0, 1, 2]]
    assert bits_log_score(PROB, truth).tolist() == [-1.0, -2.0, -np.inf]
    assert truth_called_impossible(PROB, truth).tolist() == [0.0, 0.0, 1.0]
    assert true_state_ratio(PROB, np.full(4, 0.25), truth, game=[1, 1, 2]) == 0.0


def test_gain_is_the_difference_of_log_scores() -> None:
    base = np.array([0.4, 0.3, 0.2, 0.1])
    broad = np.broadcast_to(base, PROB.shape)
    expected = bits_log_score(PROB, TRUTH) - bits_log_score(broad, TRUTH)
    assert bits_gain(PROB, base, TRUTH) == pytest.approx(expected, abs=1e-12)
    assert bits_gain(broad, base, TRUTH).tolist() == [0.0, 0.0, 0.0]
    ratio = true_state_ratio(PROB, base, TRUTH, game=[1, 2, 3])
    assert np.log2(ratio) == pytest.approx(expected.mean(), abs=1e-12)


def test_games_count_alike_however_long() -> None:
    told = average([1.0, 3.0, 8.0], game=["a", "a", "b"], unit="bits")
    assert (told.value, told.n_games, told.n_moments) == (5.0, 2, 3)
    assert str(told) == "5 bits (2 games, 3 moments)"


@st.composite
def forecasts(draw: st.DrawFn) -> tuple[np.ndarray, np.ndarray]:
    n_rows = draw(st.integers(2, 6))
    whole = st.lists(st.integers(0, 20), min_size=n_rows, max_size=n_rows).filter(any)
    prob = np.array(draw(st.lists(whole, min_size=1, max_size=6)), dtype=float)
    truth = np.array(draw(st.lists(whole, min_size=len(prob), max_size=len(prob))), dtype=float)
    return prob / prob.sum(1, keepdims=True), truth / truth.sum(1, keepdims=True)


@given(forecasts(), st.integers(0, 1000))
@settings(max_examples=60)
def test_names_of_rows_do_not_matter(
    both: tuple[np.ndarray, np.ndarray], seed: int
) -> None:  # fmt: skip
    prob, truth = both
    order = np.random.default_rng(seed).permutation(prob.shape[1])
    for score in (bits_log_score, brier_score, rank_of_truth):
        assert score(prob[:, order], truth[:, order]) == pytest.approx(score(prob, truth))


@given(forecasts())
@settings(max_examples=60)
def test_nobody_beats_the_truth_spread_as_it_is(both: tuple[np.ndarray, np.ndarray]) -> None:
    prob, truth = both
    assert (bits_log_score(truth, truth) >= bits_log_score(prob, truth) - 1e-9).all()
    assert (brier_score(truth, truth) <= brier_score(prob, truth) + 1e-9).all()


@pytest.mark.parametrize(
    ("prob", "truth", "message"),
    [
        ([[0.5, 0.6]], [[1, 0]], "moment 0 has lowest entry 0.5 and sum 1.1"),
        ([[1.5, -0.5]], [[1, 0]], "lowest entry -0.5"),
        ([[np.nan, 1.0]], [[1, 0]], "nan"),
        ([0.5, 0.5], [[1, 0]], r"shape \(2,\); accepted: probabilities of shape"),
        ([[0.5, 0.5]], [[1, 0, 0]], "the same moments and the same rows"),
    ],
)
def test_wrong_input_is_refused(prob: object, truth: object, message: str) -> None:
    with pytest.raises(HandreadError, match=message):
        bits_log_score(prob, truth)  # type: ignore[arg-type]


def test_a_base_without_the_truth_is_refused() -> None:
    with pytest.raises(HandreadError, match="base gives probability 0 to the truth at moment 1"):
        bits_gain([[0.5, 0.5]] * 2, [[1.0, 0.0]] * 2, [[1, 0], [0, 1]])


def test_arguments_are_left_as_they_were() -> None:
    prob, truth = PROB.copy(), TRUTH.copy()
    for score in (bits_log_score, brier_score, rank_of_truth, truth_called_impossible):
        score(prob, truth)
    assert np.array_equal(prob, PROB)
    assert np.array_equal(truth, TRUTH)
    assert prob.flags.writeable
