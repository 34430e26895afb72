"""Intervals: they hold what they promise for games, and moments in their place do not."""

from __future__ import annotations

from itertools import product

import numpy as np
import pytest

from handread.errors import HandreadError
from handread.study import (
    bootstrap_figures,
    estimate,
    honesty,
    null_band,
    paired_difference,
    set_coverage,
    share_of_games,
    top_label_error,
)
from handread.study.intervals import column, expanded_tails, resampled_weights


def clustered(rng: np.random.Generator, games: int, moments: int) -> np.ndarray:
    """Scores whose correlation within a game is one half; mean 0."""
    return np.repeat(rng.normal(size=games), moments) + rng.normal(size=games * moments)


def test_bootstrap_over_games_covers_and_over_moments_does_not() -> None:
    """95 % intervals of 400 studies; the standard error of a coverage of 0.95 is 0.011."""
    rng = np.random.default_rng(20240611)
    games, moments, studies = 30, 12, 400
    game = np.repeat(np.arange(games), moments)
    held = np.zeros(2)
    for _ in range(studies):
        scores = clustered(rng, games, moments)
        for place, key in enumerate((game, np.arange(len(game)))):
            told = estimate(scores, game=key, rng=rng, unit="bits", resamples=400)
            held[place] += told.low <= 0.0 <= told.high
    by_game, by_moment = held / studies
    assert abs(by_game - 0.95) < 4 * 0.011
    # theory: moments understate the variance by 1 + (12 - 1) / 2 = 6.5, so they cover
    # P(|z| < 1.96 / sqrt(6.5)) = 0.558
    assert abs(by_moment - 0.558) < 4 * 0.025


def test_few_games_are_covered_too() -> None:
    rng = np.random.default_rng(77)
    held = 0
    for _ in range(600):
        told = estimate(rng.normal(size=8), game=range(8), rng=rng, unit="bits", resamples=400)
        held += told.low <= 0.0 <= told.high
    assert abs(held / 600 - 0.95) < 4 * 0.009 + 0.01


def test_resampling_three_games_is_the_27_ways_to_draw_them() -> None:
    scores = np.array([0.0, 1.0, 5.0])
    every = [np.mean(scores[list(drawn)]) for drawn in product(range(3), repeat=3)]
    told = estimate(
        scores, game=[1, 2, 3], rng=np.random.default_rng(5), unit="bits", resamples=20_000
    )
    # standard error of a standard deviation from 20,000 draws: about its value / sqrt(40,000)
    assert told.standard_error == pytest.approx(np.std(every), rel=5 / 200)


def test_weights_of_a_resample_sum_to_one() -> None:
    drawn = np.concatenate(list(resampled_weights(7, 50, rng=np.random.default_rng(1))))
    assert drawn.shape == (50, 7)
    assert drawn.sum(axis=1) == pytest.approx(np.ones(50), abs=1e-12)


def test_blocks_do_not_change_what_is_drawn() -> None:
    rng = np.random.default_rng(1)
    wide = np.concatenate(list(resampled_weights(2_500_000, 2, rng=rng)))
    assert wide.shape == (2, 2_500_000)
    assert np.std(wide * 2_500_000) == pytest.approx(1.0, abs=0.01)  # Poisson(1), nearly


def test_tails_go_to_the_percentile_interval_for_many_games() -> None:
    low, high = expanded_tails(10**7, 0.95)
    assert (low, high) == (pytest.approx(0.025, abs=1e-6), pytest.approx(0.975, abs=1e-6))


@pytest.mark.parametrize(
    "without_key",
    [
        lambda rng: estimate([1.0, 2.0], game=None, rng=rng, unit="bits"),
        lambda rng: paired_difference([1.0], [2.0], game=None, rng=rng, unit="bits"),
        lambda rng: honesty([1.0], [1.0], game=None, rng=rng),
        lambda rng: set_coverage([[0.5, 0.5]], [[1, 0]], game=None, rng=rng),
        lambda rng: top_label_error([[0.5, 0.5]], [[1, 0]], game=None, rng=rng),
        lambda rng: null_band([0.5], [1], game=None, rng=rng),
    ],
)
def test_no_interval_without_a_cluster_key(without_key: object) -> None:
    with pytest.raises(HandreadError, match="no interval is given without a cluster key"):
        without_key(np.random.default_rng(0))  # type: ignore[operator]


def test_no_interval_over_one_game() -> None:
    with pytest.raises(HandreadError, match="two games or more"):
        estimate([1.0, 2.0], game=[1, 1], rng=np.random.default_rng(0), unit="bits")


def test_an_infinite_figure_has_no_interval() -> None:
    told = estimate(
        [-np.inf, 0.0, 1.0], game=[1, 2, 3], rng=np.random.default_rng(0), unit="bits"
    )  # fmt: skip
    assert told.value == -np.inf
    assert np.isnan(told.low)
    assert "no interval" in str(told)


def test_pairing_removes_what_both_share() -> None:
    rng = np.random.default_rng(3)
    game = np.repeat(np.arange(60), 5)
    hard = 3.0 * rng.normal(size=60)[game]
    first = hard + 0.1 + 0.2 * rng.normal(size=300)
    second = hard + 0.2 * rng.normal(size=300)
    both = paired_difference(first, second, game=game, rng=rng, unit="bits")
    alone = estimate(first, game=game, rng=rng, unit="bits")
    # theory: sd of the difference of means sqrt(2) 0.2 / sqrt(300); 20 % for its own noise
    assert both.difference.standard_error == pytest.approx(0.2 * np.sqrt(2 / 300), rel=0.3)
    assert alone.standard_error > 10 * both.difference.standard_error
    assert both.difference.value == pytest.approx(both.first - both.second, abs=1e-12)
    assert both.difference.low > 0.0
    assert both.first_better > 0.7


def test_pairing_refuses_other_moments() -> None:
    rng = np.random.default_rng(3)
    with pytest.raises(HandreadError, match="second has 1 moments; accepted: 2"):
        paired_difference([1.0, 2.0], [1.0], game=[1, 2], rng=rng, unit="bits")
    with pytest.raises(HandreadError, match="-inf and -inf at moment 1"):
        paired_difference([1.0, -np.inf], [1.0, -np.inf], game=[1, 2], rng=rng, unit="bits")


def test_figures_share_their_resamples() -> None:
    values = np.random.default_rng(2).normal(size=(20, 1)) @ np.ones((1, 2))
    first, second = bootstrap_figures(
        values, [(column(0), "bits"), (column(1), "bits")],
        rng=np.random.default_rng(4), n_moments=20,
    )  # fmt: skip
    assert first == second


def test_the_same_state_of_the_generator_gives_the_same_interval() -> None:
    told = [
        estimate(np.arange(9.0), game=range(9), rng=np.random.default_rng(6), unit="bits")
        for _ in range(2)
    ]
    assert told[0] == told[1]


def test_share_of_games_covers_rare_events() -> None:
    """Exact coverage at a share of 0.03 of 60 games, by summing the binomial pmf."""
    from scipy.stats import binom

    pmf = binom.pmf(np.arange(61), 60, 0.03)
    for method, least in (("wilson", 0.90), ("clopper-pearson", 0.95)):
        ends = [share_of_games(hits, 60, method=method) for hits in range(61)]
        covered = sum(p for p, (low, high) in zip(pmf, ends, strict=True) if low <= 0.03 <= high)
        assert covered >= least


def test_share_of_games_teaches() -> None:
    with pytest.raises(HandreadError, match="did you mean 'wilson'"):
        share_of_games(1, 2, method="wilsen")
    with pytest.raises(HandreadError, match="3 of 2 games"):
        share_of_games(3, 2)
