"""Calibration power and credible sets against search and enumeration."""

from __future__ import annotations

from itertools import combinations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from handread.errors import HandreadError, ImpossibleEvidence
from handread.study import (
    bits_log_score,
    calibration_power,
    chance_in_randomised_set,
    credible_set,
    randomised_set,
    set_coverage,
    tempered,
)
from handread.study.power import LEAST, MOST


def drawn(seed: int, n: int = 60, rows: int = 4) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    rng = np.random.default_rng(seed)
    prob = rng.dirichlet(np.ones(rows), size=n)
    row = (prob.cumsum(axis=1) < rng.random((n, 1))).sum(axis=1)
    return prob, np.eye(rows)[np.minimum(row, rows - 1)], np.arange(n) // 3


@pytest.mark.parametrize("seed", [1, 2, 3, 4])
def test_power_is_the_one_that_a_search_finds(seed: int) -> None:
    prob, truth, game = drawn(seed)
    told = calibration_power(prob, truth, game=game, rng=np.random.default_rng(0))
    grid = np.exp(np.linspace(np.log(0.2), np.log(5), 20_001))
    log = np.log(prob)
    scores = [
        (lam * (log * truth).sum(1) - np.log(np.exp(lam * log).sum(1))).mean() for lam in grid
    ]
    best = grid[int(np.argmax(scores))]
    assert told.power.value == pytest.approx(best, rel=3e-4)
    assert not told.at_bound
    gained = bits_log_score(tempered(prob, best), truth).mean() - bits_log_score(prob, truth).mean()
    assert gained >= -1e-9


def test_interval_by_one_step_agrees_with_refitting_every_resample() -> None:
    prob, truth, game = drawn(5, n=600)
    told = calibration_power(prob, truth, game=game, rng=np.random.default_rng(0))
    rng = np.random.default_rng(1)
    refitted = []
    for _ in range(200):
        games = rng.integers(200, size=200)
        rows = (games[:, None] * 3 + np.arange(3)).ravel()
        again = calibration_power(
            prob[rows], truth[rows], game=np.arange(600) // 3, rng=rng, folds=2, resamples=2
        )
        refitted.append(again.power.value)
    # standard error of a standard deviation from 200 draws: 5 %
    assert told.power.standard_error == pytest.approx(np.std(refitted), rel=0.2)


def test_folds_are_scored_by_the_power_of_the_others() -> None:
    """Two folds of two games each, refitted by hand."""
    prob, truth, _ = drawn(6, n=40)
    game = np.arange(40) // 10
    told = calibration_power(prob, truth, game=game, rng=np.random.default_rng(3), folds=2)
    fold = np.random.default_rng(3).permutation(4) % 2
    gains = np.empty(4)
    for part in (0, 1):
        outside, inside = fold[game] != part, fold[game] == part
        fitted = calibration_power(
            prob[outside], truth[outside], game=game[outside],
            rng=np.random.default_rng(0), folds=2,
        ).power.value  # fmt: skip
        assert told.fold_powers[part] == pytest.approx(fitted, rel=1e-6)
        gain = bits_log_score(tempered(prob, fitted), truth) - bits_log_score(prob, truth)
        for one in np.unique(game[inside]):
            gains[one] = gain[game == one].mean()
    assert told.held_out_gain.value == pytest.approx(gains.mean(), abs=1e-9)


def test_always_right_goes_to_the_bound_and_always_wrong_to_the_other() -> None:
    prob = np.tile([0.6, 0.4], (6, 1))
    for row, bound in ((0, MOST), (1, LEAST)):
        told = calibration_power(
            prob, np.tile(np.eye(2)[row], (6, 1)), game=range(6), rng=np.random.default_rng(0)
        )
        assert told.at_bound
        assert told.power.value == pytest.approx(bound, rel=1e-6)


def test_zeros_stay_zeros_and_do_not_disturb() -> None:
    prob, truth, game = drawn(7)
    wider = np.concatenate([prob, np.zeros((60, 1))], axis=1)
    true = np.concatenate([truth, np.zeros((60, 1))], axis=1)
    options = {"game": game, "rng": np.random.default_rng(0)}
    plain = calibration_power(prob, truth, game=game, rng=np.random.default_rng(0))
    assert calibration_power(wider, true, **options) == plain  # type: ignore[arg-type]
    assert (tempered(wider, 0.5)[:, -1] == 0.0).all()


def test_what_has_no_power_is_said_aloud() -> None:
    rng = np.random.default_rng(0)
    with pytest.raises(ImpossibleEvidence, match="probability 0 at 1 moments, first at moment 1"):
        calibration_power([[0.5, 0.5], [0.0, 1.0]], [[1, 0], [1, 0]], game=[1, 2], rng=rng, folds=2)
    with pytest.raises(HandreadError, match="every power scores the same"):
        calibration_power([[0.5, 0.5]] * 2, [[1, 0]] * 2, game=[1, 2], rng=rng, folds=2)
    with pytest.raises(HandreadError, match="2 to the number of games, 2"):
        calibration_power([[0.6, 0.4]] * 2, [[1, 0]] * 2, game=[1, 2], rng=rng)
    with pytest.raises(HandreadError, match=r"power is 0\.0"):
        tempered([[0.5, 0.5]], 0.0)


# --- sets ---


@st.composite
def row_of_chances(draw: st.DrawFn) -> np.ndarray:
    parts = draw(st.lists(st.integers(0, 12), min_size=1, max_size=6).filter(any))
    return np.array(parts) / sum(parts)


@given(row_of_chances(), st.floats(0.05, 0.97))
@settings(max_examples=100)
def test_credible_set_is_the_smallest_that_reaches_the_level(
    prob: np.ndarray, level: float
) -> None:
    members = credible_set(prob[None], level)[0]
    assert prob[members].sum() >= level - 1e-9
    smaller = combinations(range(len(prob)), int(members.sum()) - 1)
    assert all(prob[list(few)].sum() < level + 1e-9 for few in smaller)
    assert not members.any() or prob[members].min() >= prob[~members].max(initial=0.0)


def test_a_mass_that_equals_the_level_is_enough() -> None:
    assert credible_set([[0.5, 0.5], [0.3, 0.7]], 0.5).sum(axis=1).tolist() == [1, 1]
    assert credible_set([[0.7, 0.1, 0.1, 0.1]], 0.8).sum() == 2  # 0.7 + 0.1 falls short by rounding


@given(row_of_chances(), st.floats(0.05, 0.97))
@settings(max_examples=100)
def test_randomised_set_states_exactly_the_level(prob: np.ndarray, level: float) -> None:
    chance = chance_in_randomised_set(prob[None], level)[0]
    assert prob @ chance == pytest.approx(level, abs=1e-9)
    assert ((chance == 0.0) | (chance == 1.0) | (prob > 0.0)).all()
    assert ((chance > 0.0) & (chance < 1.0)).sum() <= 1


def test_randomised_sets_drawn_are_those_of_the_chances() -> None:
    prob = np.tile([0.5, 0.3, 0.2], (20_000, 1))
    sets = randomised_set(prob, 0.6, rng=np.random.default_rng(4))
    chance = chance_in_randomised_set(prob[:1], 0.6)[0]
    assert chance == pytest.approx([1.0, 1 / 3, 0.0])
    spread = np.sqrt(chance * (1 - chance) / 20_000)
    assert (np.abs(sets.mean(axis=0) - chance) <= 4 * spread).all()


def test_coverage_by_hand() -> None:
    prob = np.array([[0.6, 0.3, 0.1], [0.2, 0.5, 0.3]])
    truth = np.array([[0.0, 1.0, 0.0], [0.0, 1.0, 0.0]])
    (half,) = set_coverage(
        prob, truth, game=[1, 2], rng=np.random.default_rng(0), levels=(0.5,)
    )  # fmt: skip
    assert half.covered.value == 0.5
    assert half.stated.value == pytest.approx((0.6 + 0.5) / 2)
    assert half.excess.value == pytest.approx(0.5 - 0.55)
    assert half.size.value == 1.0
    assert half.randomised_covered.value == pytest.approx(0.5)
    assert half.randomised_size.value == pytest.approx((0.5 / 0.6 + 1.0) / 2)


def test_levels_are_between_zero_and_one() -> None:
    with pytest.raises(HandreadError, match=r"level is 1\.0; accepted: above 0\.0 and below 1\.0"):
        credible_set([[0.5, 0.5]], 1.0)
