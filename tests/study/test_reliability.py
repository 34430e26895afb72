"""Isotonic fits, CORP parts, bands and Murphy's parts against brute force and identities."""

from __future__ import annotations

from itertools import combinations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from handread.errors import HandreadError
from handread.study import (
    binned_error,
    bootstrap_band,
    calibration_error,
    isotonic,
    murphy,
    null_band,
    reliability_by_row,
    reliability_curve,
    reliability_of_top,
    stated_top,
)
from handread.study.calibration import split_squared_error

numbers = st.floats(-5, 5, allow_nan=False)


def isotonic_by_formula(values: np.ndarray, weight: np.ndarray) -> list[float]:
    """Max over starts of the min over ends of block means: isotonic regression, in O(n^3)."""
    n = len(values)
    return [
        max(
            min(np.average(values[a : b + 1], weights=weight[a : b + 1]) for b in range(i, n))
            for a in range(i + 1)
        )
        for i in range(n)
    ]


@given(st.lists(st.tuples(numbers, st.floats(0.1, 3)), min_size=1, max_size=9))
@settings(max_examples=80)
def test_isotonic_is_the_max_min_of_block_means(points: list[tuple[float, float]]) -> None:
    values, weight = np.array(points).T
    assert isotonic(values, weight) == pytest.approx(isotonic_by_formula(values, weight), abs=1e-9)


@st.composite
def yes_or_no(draw: st.DrawFn) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    n = draw(st.integers(1, 25))
    prob = draw(st.lists(st.integers(0, 10), min_size=n, max_size=n))
    event = draw(st.lists(st.integers(0, 4), min_size=n, max_size=n))
    game = draw(st.lists(st.integers(0, 3), min_size=n, max_size=n))
    return np.array(prob) / 10, np.array(event) / 4, np.array(game)


@given(yes_or_no())
@settings(max_examples=80)
def test_corp_parts_add_up_and_are_not_negative(data: tuple[np.ndarray, ...]) -> None:
    prob, event, game = data
    curve = reliability_curve(prob, event, game=game)
    assert (np.diff(curve.recalibrated) >= 0.0).all()
    assert curve.weight.sum() == pytest.approx(1.0, abs=1e-12)
    for parts in (curve.brier, curve.log):
        if np.isfinite(parts.loss):
            together = parts.miscalibration - parts.discrimination + parts.uncertainty
            assert parts.loss == pytest.approx(together, abs=1e-12)
        else:
            assert parts.miscalibration == np.inf
        assert parts.miscalibration >= -1e-12
        assert parts.discrimination >= -1e-12


def test_recalibrated_is_the_best_of_all_monotone_curves_for_both_losses() -> None:
    """No monotone curve does better than the isotonic one: 3,000 of them drawn at random."""
    prob = np.array([0.1, 0.3, 0.5, 0.8])
    event = np.array([0.0, 1.0, 0.25, 1.0])
    curve = reliability_curve(prob, event)
    for parts, loss in ((curve.brier, _square), (curve.log, _log)):
        best = parts.loss - parts.miscalibration
        draw = np.random.default_rng(0)
        for _ in range(3000):
            monotone = np.sort(draw.random(4))
            assert loss(monotone, event) >= best - 1e-12


def _square(prob: np.ndarray, event: np.ndarray) -> float:
    return float(np.mean(event * (1 - prob) ** 2 + (1 - event) * prob**2))


def _log(prob: np.ndarray, event: np.ndarray) -> float:
    return float(-np.mean(event * np.log2(prob) + (1 - event) * np.log2(1 - prob)))


def test_curve_weighs_games_alike() -> None:
    curve = reliability_curve([0.5] * 4, [1, 1, 1, 0], game=[1, 1, 1, 2])
    assert curve.recalibrated.tolist() == [0.5]
    assert reliability_curve([0.5] * 4, [1, 1, 1, 0]).recalibrated.tolist() == [0.75]


def test_curve_at_points_between_and_outside() -> None:
    curve = reliability_curve([0.2, 0.6], [0, 1])
    assert curve.at([0.2, 0.4, 0.6]).tolist() == pytest.approx([0.0, 0.5, 1.0])
    assert np.isnan(curve.at([0.1, 0.7])).all()


def test_top_row_shares_a_tie() -> None:
    stated, right = stated_top([[0.4, 0.4, 0.2], [0.1, 0.2, 0.7]], [[0, 1, 0], [0, 0, 1]])
    assert stated.tolist() == [0.4, 0.7]
    assert right.tolist() == [0.5, 1.0]


def test_rows_are_judged_one_by_one() -> None:
    prob = np.array([[0.2, 0.8], [0.6, 0.4], [0.9, 0.1]])
    truth = np.array([[0, 1], [1, 0], [1, 0]])
    first, second = reliability_by_row(prob, truth)
    assert first == reliability_curve(prob[:, 0], truth[:, 0])
    assert second == reliability_curve(prob[:, 1], truth[:, 1])
    assert first != second
    with pytest.raises(HandreadError, match="up to 500"):
        reliability_by_row(np.full((1, 501), 1 / 501), np.eye(501)[:1])


def test_bands_hold_the_curve_where_they_should() -> None:
    rng = np.random.default_rng(10)
    prob = rng.random(4000)
    event = (rng.random(4000) < prob).astype(float)
    game = np.arange(4000) // 8
    grid = np.linspace(0.05, 0.95, 19)
    curve = reliability_curve(prob, event, game=game).at(grid)
    null = null_band(prob, event, game=game, rng=rng, resamples=200, grid=grid)
    boot = bootstrap_band(prob, event, game=game, rng=rng, resamples=200, grid=grid)
    assert ((null.low <= grid) & (grid <= null.high)).mean() > 0.9
    assert ((boot.low <= curve) & (curve <= boot.high)).all()
    assert (null.kind, boot.kind, null.n_games) == ("null", "bootstrap", 500)
    # the pointwise noise of isotonic regression here is some hundredths
    assert 0.02 < np.mean(null.high - null.low) < 0.2
    assert 0.02 < np.mean(boot.high - boot.low) < 0.2
    bent = null_band(prob**2, event, game=game, rng=rng, resamples=200, grid=grid)
    assert bent.p_value < 0.01
    assert bent.miscalibration > bent.null_miscalibration
    assert bent.miscalibration == pytest.approx(
        reliability_curve(prob**2, event, game=game).brier.miscalibration, abs=1e-12
    )


@given(yes_or_no())
@settings(max_examples=80)
def test_murphy_parts_add_up(data: tuple[np.ndarray, ...]) -> None:
    prob, event, game = data
    for edges in (None, (0.0, 0.3, 0.5, 1.0)):
        parts = murphy(prob, event, edges=edges, game=game)
        whole = parts.reliability - parts.resolution + parts.uncertainty + parts.within_bins
        assert parts.brier == pytest.approx(whole, abs=1e-12)
        if edges is None:
            assert parts.within_bins == pytest.approx(0.0, abs=1e-12)
        assert parts.moments.sum() == len(prob)


def test_murphy_of_distinct_values_is_corp_where_observed_rises() -> None:
    """Where observed shares rise with the forecast there is nothing to pool: the parts agree."""
    prob = np.repeat([0.2, 0.5, 0.7], 10)
    event = np.concatenate([np.arange(10) < k for k in (1, 6, 9)]).astype(float)
    parts, curve = murphy(prob, event), reliability_curve(prob, event)
    assert parts.reliability == pytest.approx(curve.brier.miscalibration, abs=1e-12)
    assert parts.resolution == pytest.approx(curve.brier.discrimination, abs=1e-12)
    assert parts.uncertainty == pytest.approx(curve.brier.uncertainty, abs=1e-12)


def test_bins_hold_their_lower_edge_and_the_last_one_both() -> None:
    parts = murphy([0.0, 0.5, 1.0, 0.49], [0, 0, 1, 1], edges=(0, 0.5, 1))
    assert parts.moments.tolist() == [2, 2]
    with pytest.raises(HandreadError, match=r"prob is 0\.9 at moment 1, outside the edges"):
        murphy([0.1, 0.9], [0, 1], edges=(0, 0.5))
    with pytest.raises(HandreadError, match="increasing"):
        murphy([0.1, 0.9], [0, 1], edges=(0.5, 0.5))


# --- calibration error ---


def test_split_error_is_the_mean_over_every_split_in_halves() -> None:
    """All 20 ways to split six games in halves of three, by hand."""
    rng = np.random.default_rng(9)
    residual = rng.normal(size=(6, 3))
    weight = rng.dirichlet(np.ones(3), size=6)
    total = weight.sum(axis=0)
    products = []
    for half in combinations(range(6), 3):
        one = residual[list(half)].sum(axis=0) * 2.0
        two = residual[[g for g in range(6) if g not in half]].sum(axis=0) * 2.0
        products.append((one / total * two / total * total / 6).sum())
    assert split_squared_error(residual, weight) == pytest.approx(np.mean(products), abs=1e-12)


def test_calibration_error_by_hand() -> None:
    """Two bins, three games, all sums written out."""
    prob = [0.2, 0.2, 0.4, 0.8, 0.8]
    event = [0, 1, 0, 1, 0]
    told = calibration_error(
        prob, event, edges=(0, 0.5, 1), game=[1, 1, 2, 2, 3], rng=np.random.default_rng(0)
    )
    # residuals over a game's moments: game 1 (-.2 + .8) / 2, game 2 -.4 / 2 and .2 / 2, game 3 -.8
    residual = np.array([[0.3, 0.0], [-0.2, 0.1], [0.0, -0.8]])
    weight = np.array([[1.0, 0.0], [0.5, 0.5], [0.0, 1.0]])
    assert told.squared == pytest.approx(split_squared_error(residual, weight), abs=1e-12)
    gap = residual.sum(axis=0) / weight.sum(axis=0)
    assert told.observed - told.stated == pytest.approx(gap, abs=1e-12)
    assert told.plain == pytest.approx(np.sqrt((gap**2 * weight.sum(axis=0) / 3).sum()), abs=1e-12)
    assert told.weight == pytest.approx([0.5, 0.5])
    assert (told.moments.tolist(), told.games.tolist()) == ([3, 2], [2, 2])
    assert told.error == pytest.approx(np.sign(told.squared) * abs(told.squared) ** 0.5)


def test_null_of_few_games_is_every_way_to_flip_them() -> None:
    rng = np.random.default_rng(1)
    prob, event = rng.random(4), np.array([1.0, 0.0, 1.0, 1.0])
    told = calibration_error(
        prob, event, edges=(0, 1), game=range(4), rng=np.random.default_rng(2), resamples=20_000
    )
    residual, weight = (event - prob)[:, None], np.ones((4, 1))
    flips = np.array(np.meshgrid(*[[-1, 1]] * 4)).reshape(4, -1).T
    every = [split_squared_error(residual * flip[:, None], weight) for flip in flips]
    expected = np.mean(np.array(every) >= told.squared - 1e-12)
    assert told.p_value == pytest.approx(expected, abs=0.015)


def test_error_of_bins_knows_its_norms() -> None:
    with pytest.raises(HandreadError, match="norm is 'max'; accepted: mean, square, most"):
        binned_error([0.5], [1], edges=(0, 1), norm="max")


def test_curve_of_the_top_row_is_the_curve_of_what_it_states() -> None:
    rng = np.random.default_rng(6)
    prob = rng.dirichlet(np.ones(3), size=50)
    truth = np.eye(3)[rng.integers(3, size=50)]
    assert reliability_of_top(prob, truth) == reliability_curve(*stated_top(prob, truth))
