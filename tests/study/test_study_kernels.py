"""Compiled passes of the figures against plain numpy."""

from __future__ import annotations

import numpy as np
import pytest

from handread.study.intervals import resampled_weights
from handread.study.kernels import loss_saved, raised_moments, signed_gaps


@pytest.mark.parametrize("n_games", [2, 9, 1000])
def test_resamples_are_those_of_plain_draws_to_the_bit(n_games: int) -> None:
    drawn = np.random.default_rng(4).integers(n_games, size=(30, n_games))
    counts = [np.bincount(row, minlength=n_games) for row in drawn]
    found = np.concatenate(list(resampled_weights(n_games, 30, rng=np.random.default_rng(4))))
    np.testing.assert_array_equal(found, np.array(counts) / n_games)


@pytest.mark.parametrize("n_moments", [1, 512, 1300])
def test_moments_of_raised_forecasts_are_plain_means(n_moments: int) -> None:
    rng = np.random.default_rng(1)
    raised, logs = rng.random((5, n_moments)), -rng.random((5, n_moments))
    out = np.full((3, n_moments), np.nan)
    raised_moments(raised, logs, out)
    total = raised.sum(axis=0)
    plain = (total, (raised * logs).sum(axis=0) / total, (raised * logs**2).sum(axis=0) / total)
    np.testing.assert_allclose(out, plain, rtol=1e-13)


def test_signed_gaps_and_the_loss_saved_are_plain_sums() -> None:
    rng = np.random.default_rng(2)
    residual, code = rng.normal(size=12), rng.integers(4, size=12)
    sign, start = np.array([1.0, -1.0, -1.0, 1.0]), np.array([0, 3, 4, 9])
    weight, stated, best = rng.random((3, 4))
    gap = np.empty(4)
    signed_gaps(residual, code, sign, start, weight, gap)
    pooled = [part.sum() for part in np.split(residual * sign[code], start[1:])]
    np.testing.assert_allclose(gap, pooled / weight, rtol=1e-13)
    plain = weight @ (gap**2 - (best - stated - gap) ** 2)
    assert loss_saved(stated, gap, best, weight) == pytest.approx(plain, rel=1e-13)
