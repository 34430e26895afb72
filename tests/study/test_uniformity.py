"""SBC ranks, their exact pmf, and simultaneous bands against enumeration and simulation."""

from __future__ import annotations

from itertools import product
from math import comb

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from handread.errors import HandreadError
from handread.study import (
    band_coverage,
    ecdf_band,
    ecdf_check,
    even_points,
    exact_rank_pmf,
    one_moment_per_game,
    randomised_pit,
    rank_test,
    sbc_ranks,
    simulated_ecdf_band,
    uniform_test,
)


def pmf_by_enumeration(joint: np.ndarray, posterior: np.ndarray, n_draws: int) -> np.ndarray:
    """Every data set, truth and set of draws, with ties broken by every lot alike."""
    pmf = np.zeros(n_draws + 1)
    for data, row in product(*map(range, joint.shape)):
        for draws in product(range(joint.shape[1]), repeat=n_draws):
            chance = joint[data, row] * np.prod(posterior[data, list(draws)])
            below = sum(k < row for k in draws)
            level = sum(k == row for k in draws)
            pmf[below : below + level + 1] += chance / (level + 1)
    return pmf


@given(st.integers(0, 10_000))
@settings(max_examples=20)
def test_exact_pmf_is_the_sum_over_all_draws(seed: int) -> None:
    rng = np.random.default_rng(seed)
    joint = rng.dirichlet(np.ones(6)).reshape(2, 3)
    wrong = rng.dirichlet(np.ones(3), size=2)
    if seed % 3 == 0:  # a posterior that rules out what can be true
        wrong[0] = [0.4, 0.0, 0.6]
    pmf = exact_rank_pmf(joint, wrong, 4)
    assert pmf == pytest.approx(pmf_by_enumeration(joint, wrong, 4), abs=1e-12)
    exact = joint / joint.sum(axis=1, keepdims=True)
    assert exact_rank_pmf(joint, exact, 4) == pytest.approx(np.full(5, 0.2), abs=1e-12)


def test_ranks_drawn_follow_the_exact_pmf() -> None:
    """Draws from a wrong posterior: ranks fit its pmf and not the uniform one."""
    rng = np.random.default_rng(3)
    joint = np.array([[0.3, 0.1, 0.1], [0.05, 0.15, 0.3]])
    wrong = np.array([[0.8, 0.1, 0.1], [0.1, 0.1, 0.8]])
    games = 4000
    cell = rng.choice(6, size=games, p=joint.ravel())
    data, row = np.divmod(cell, 3)
    draws = (rng.random((games, 7, 1)) > wrong.cumsum(axis=1)[data][:, None, :]).sum(axis=2)
    ranks = sbc_ranks(draws, row, rng=rng)
    pmf = exact_rank_pmf(joint, wrong, 7)
    assert rank_test(ranks, 7, game=range(games), pmf=pmf).p_value > 0.001
    assert rank_test(ranks, 7, game=range(games)).p_value < 1e-6


def test_pit_of_an_exact_posterior_is_uniform_and_of_a_wrong_one_is_not() -> None:
    rng = np.random.default_rng(4)
    prob = rng.dirichlet(np.ones(5), size=3000)
    row = np.minimum((prob.cumsum(axis=1) < rng.random((3000, 1))).sum(axis=1), 4)
    truth = np.eye(5)[row]
    pit = randomised_pit(prob, truth, rng=rng)
    assert uniform_test(pit, game=range(3000)).p_value > 0.001
    assert ecdf_check(pit, game=range(3000), level=0.999).uniform
    # overconfident, rows in order of their probability: truth is found too far down the list
    order = np.argsort(-prob, axis=1)
    sharp = np.take_along_axis(prob, order, axis=1) ** 2
    sharp /= sharp.sum(axis=1, keepdims=True)
    pit = randomised_pit(sharp, np.take_along_axis(truth, order, axis=1), rng=rng)
    assert uniform_test(pit, game=range(3000)).p_value < 1e-6
    told = ecdf_check(pit, game=range(3000))
    assert not told.uniform
    assert told.outside.any()


def test_pit_of_a_spread_truth_draws_a_row_by_its_weight() -> None:
    rng = np.random.default_rng(5)
    pit = randomised_pit(np.tile([0.5, 0.5], (8000, 1)), np.tile([0.25, 0.75], (8000, 1)), rng=rng)
    assert abs((pit < 0.5).mean() - 0.25) < 4 * np.sqrt(0.25 * 0.75 / 8000)


def test_tests_of_uniformity_take_one_value_a_game() -> None:
    with pytest.raises(HandreadError, match=r"game 1 gives 2 values; accepted: one a game"):
        uniform_test([0.1, 0.2, 0.3], game=[1, 1, 2])
    with pytest.raises(HandreadError, match="game 'b' gives 2 values"):
        rank_test([0, 1, 2], 3, game=["a", "b", "b"])
    with pytest.raises(HandreadError, match="cluster key"):
        ecdf_check([0.5], game=None)


def test_one_moment_of_each_game_is_chosen_evenly() -> None:
    game = np.array([5, 5, 5, 2, 9, 9])
    rng = np.random.default_rng(6)
    chosen = np.array([one_moment_per_game(game, rng=rng) for _ in range(6000)])
    assert (game[chosen] == [2, 5, 9]).all()
    shares = np.bincount(chosen[:, 1], minlength=3)[:3] / 6000
    assert (np.abs(shares - 1 / 3) < 4 * np.sqrt(2 / 9 / 6000)).all()


def test_rank_test_pools_until_five_are_expected() -> None:
    ranks = np.arange(40) % 16
    assert rank_test(ranks, 15, game=range(40)).degrees == 7
    assert rank_test(ranks, 15, game=range(40), bins=4).degrees == 3
    with pytest.raises(HandreadError, match="2 or more that divide 16"):
        rank_test(ranks, 15, game=range(40), bins=5)
    with pytest.raises(HandreadError, match="whole numbers 0 to 10"):
        rank_test(ranks, 10, game=range(40))


# --- bands ---


def coverage_by_enumeration(n: int, points: np.ndarray, low: np.ndarray, high: np.ndarray) -> float:
    """Sum the multinomial pmf over every way to spread n values over the steps."""
    steps = np.diff(np.concatenate(([0.0], points, [1.0])))
    total = 0.0
    for counts in product(range(n + 1), repeat=len(points)):
        if sum(counts) > n:
            continue
        chance, left = 1.0, n
        for count, step in zip(counts, steps, strict=False):
            chance *= comb(left, count) * step**count
            left -= count
        chance *= steps[-1] ** left
        below = np.cumsum(counts)
        total += chance if ((low <= below) & (below <= high)).all() else 0.0
    return total


@pytest.mark.parametrize(
    ("points", "low", "high"),
    [
        ([0.2, 0.5, 0.9], [0, 1, 4], [3, 5, 6]),
        ([0.1, 0.15, 0.6], [0, 0, 2], [1, 2, 5]),
        ([0.5], [3], [3]),
    ],
)
def test_coverage_of_a_band_is_the_sum_over_all_samples(
    points: list[float], low: list[int], high: list[int]
) -> None:
    expected = coverage_by_enumeration(6, *map(np.array, (points, low, high)))
    assert band_coverage(6, points, low, high) == pytest.approx(expected, abs=1e-12)


@pytest.mark.parametrize(("n_values", "parts"), [(50, 20), (100, 20), (250, 50)])
def test_band_holds_uniform_samples_as_often_as_it_says(n_values: int, parts: int) -> None:
    points = even_points(parts)
    band = ecdf_band(n_values, points=points)
    assert 0.95 <= band.coverage < 0.97
    rng = np.random.default_rng([n_values, parts])
    counts = np.cumsum(
        rng.multinomial(n_values, np.full(parts, 1 / parts), size=20_000)[:, :-1], axis=1
    )
    held = ((band.low <= counts) & (counts <= band.high)).all(axis=1).mean()
    assert abs(held - band.coverage) < 4 * np.sqrt(0.05 * 0.95 / 20_000)
    # no band of the same kind that is narrower anywhere, and wider nowhere, reaches the level
    assert band_coverage(n_values, points, band.low + 1, band.high - 1) < 0.95


def test_simulated_band_is_the_exact_one_up_to_its_noise() -> None:
    exact = ecdf_band(120, points=even_points(24))
    told = simulated_ecdf_band(
        120, points=even_points(24), rng=np.random.default_rng(7), simulations=8000
    )
    assert np.abs(told.low - exact.low).max() <= 1
    assert np.abs(told.high - exact.high).max() <= 1
    held = band_coverage(120, told.points, told.low, told.high)
    assert abs(held - 0.95) < 0.015


def test_band_is_for_the_sample_that_it_was_made_for() -> None:
    with pytest.raises(HandreadError, match="the band is for 50 values; accepted: one for 2"):
        ecdf_check([0.1, 0.2], game=[1, 2], band=ecdf_band(50, points=even_points(4)))
    with pytest.raises(HandreadError, match="increasing numbers above 0 and below 1"):
        ecdf_band(10, points=[0.5, 1.0])


def test_ranks_fit_a_band_at_their_own_points() -> None:
    rng = np.random.default_rng(8)
    ranks = rng.integers(20, size=400)
    band = ecdf_band(400, points=even_points(20), level=0.999)
    assert ecdf_check((ranks + 0.5) / 20, game=range(400), band=band).uniform
    bowl = np.where(rng.random(400) < 0.3, 19 * rng.integers(2, size=400), ranks)
    assert not ecdf_check((bowl + 0.5) / 20, game=range(400), band=band).uniform
