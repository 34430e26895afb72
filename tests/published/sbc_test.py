"""Simulation-based calibration held to theory, to standard tables and to a reference package.

Source: Talts et al. (2018), arXiv:1804.06788, Theorem 1: ranks are uniform (from memory)
Source: Sailynoja, Buerkner and Vehtari, Stat. Comput. 32 (2022): simultaneous bands
Source: arviz 0.23.4, ecdf_confidence_band, as reference package (slow)
"""

from __future__ import annotations

import csv
from pathlib import Path

import numpy as np
import pytest
from scipy.special import betainc
from scipy.stats import betabinom, binom

from handread.study import (
    ecdf_band,
    even_points,
    exact_rank_pmf,
    rank_test,
    sbc_ranks,
    uniform_test,
)

HERE = Path(__file__).parent
TRIALS, DRAWS, ALPHA, BETA = 20, 7, 2, 3  # Beta(2, 3) prior, binomial data of 20, 7 draws


def critical(test: str) -> list[tuple[int, float]]:
    text = (HERE / "sbc_critical.csv").read_text(encoding="utf-8").splitlines()
    table = csv.DictReader(line for line in text if not line.startswith("#"))
    return [(int(x["parameter"]), float(x["critical"])) for x in table if x["test"] == test]


def cells(counted: int, n_cells: int) -> np.ndarray:
    """Posterior mass in equal cells of the share, data counted so often, (21, n_cells)."""
    edges = np.linspace(0.0, 1.0, n_cells + 1)
    hits = np.arange(TRIALS + 1)[:, None]
    a, b = ALPHA + counted * hits, BETA + counted * (TRIALS - hits)
    return np.diff(betainc(a, b, edges), axis=1)


def joint(n_cells: int) -> np.ndarray:
    """Probability of each number of hits together with the share's cell."""
    of_data = betabinom.pmf(np.arange(TRIALS + 1), TRIALS, ALPHA, BETA)
    return np.asarray(of_data[:, None] * cells(1, n_cells))


def continuous_pmf(counted: int) -> np.ndarray:
    """Rank pmf of the conjugate model by Gauss-Legendre quadrature, exact for its polynomials."""
    node, mass = np.polynomial.legendre.leggauss(300)
    share, mass = (node + 1.0) / 2.0, mass / 2.0
    prior = 12.0 * share * (1.0 - share) ** 2
    pmf = np.zeros(DRAWS + 1)
    for hits in range(TRIALS + 1):
        a, b = ALPHA + counted * hits, BETA + counted * (TRIALS - hits)
        chance = mass * prior * binom.pmf(hits, TRIALS, share)
        below = betainc(a, b, share)
        pmf += [chance @ binom.pmf(rank, DRAWS, below) for rank in range(DRAWS + 1)]
    return pmf


def test_ranks_of_the_exact_posterior_are_uniform_to_rounding() -> None:
    """Talts et al., Theorem 1: one eighth each, with the share in 60 cells."""
    told = exact_rank_pmf(joint(60), cells(1, 60), DRAWS)
    assert told == pytest.approx(np.full(8, 1 / 8), abs=3e-15)


def test_data_counted_twice_bends_the_pmf_as_quadrature_says() -> None:
    """Fine cells go to the continuous model, whose pmf is integrated independently."""
    assert continuous_pmf(1) == pytest.approx(np.full(8, 1 / 8), abs=1e-12)
    bowl = continuous_pmf(2)
    told = exact_rank_pmf(joint(4000), cells(2, 4000), DRAWS)
    assert told == pytest.approx(bowl, abs=1e-6)
    assert bowl[0] > 0.18
    assert bowl[3] < 0.10


def test_simulated_ranks_pass_and_data_counted_twice_fail() -> None:
    games = 2000
    rng = np.random.default_rng(1804)
    share = rng.beta(ALPHA, BETA, size=games)
    hits = rng.binomial(TRIALS, share)
    p_values = []
    for counted in (1, 2):
        a, b = ALPHA + counted * hits, BETA + counted * (TRIALS - hits)
        draws = rng.beta(a[:, None], b[:, None], size=(games, DRAWS))
        ranks = sbc_ranks(draws, share, rng=rng)
        p_values.append(rank_test(ranks, DRAWS, game=range(games)).p_value)
    assert p_values[0] > 0.001
    assert p_values[1] < 1e-25


@pytest.mark.parametrize(("n_games", "distance"), critical("kolmogorov"))
def test_kolmogorov_smirnov_table(n_games: int, distance: float) -> None:
    """A sample at exactly the tabled distance is at 5 %, up to the table's three decimals."""
    values = np.maximum((np.arange(n_games) + 1.0) / n_games - distance, 0.0)
    told = uniform_test(values, game=range(n_games))
    assert told.statistic == pytest.approx(distance, abs=1e-12)
    closer = np.maximum((np.arange(n_games) + 1.0) / n_games - distance + 1.1e-3, 0.0)
    farther = np.maximum((np.arange(n_games) + 1.0) / n_games - distance - 1.1e-3, 0.0)
    assert uniform_test(closer, game=range(n_games)).p_value > 0.05
    assert uniform_test(farther, game=range(n_games)).p_value < 0.05


@pytest.mark.parametrize(("degrees", "statistic"), critical("chi_square"))
def test_chi_square_table(degrees: int, statistic: float) -> None:
    """Counts made so that the statistic is the tabled quantile, to the nearest count."""
    each = 20_000
    pairs = (degrees + 1) // 2
    shift = round(np.sqrt(statistic * each / (2 * pairs)))
    counts = np.full(degrees + 1, each)
    counts[: 2 * pairs] += np.tile([shift, -shift], pairs)
    ranks = np.repeat(np.arange(degrees + 1), counts)
    told = rank_test(ranks, degrees, game=np.arange(len(ranks)))
    assert told.degrees == degrees
    assert told.statistic == pytest.approx(statistic, rel=0.02)
    # the density of chi-square at its 5 % point is below 0.015 + 0.05 / statistic
    room = abs(told.statistic - statistic) * (0.015 + 0.05 / statistic) + 1e-4
    assert told.p_value == pytest.approx(0.05, abs=room)


@pytest.mark.slow
@pytest.mark.parametrize(("n_values", "parts"), [(50, 20), (100, 20), (250, 50)])
def test_band_against_arviz(n_values: int, parts: int) -> None:
    """Reference package: arviz 0.23.4, method "optimized", 95 %; one count apart is allowed.

    Versions of arviz from 1 on have only a simulated band.
    """
    import warnings

    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        reference = pytest.importorskip("arviz.stats.ecdf_utils", reason="needs arviz below 1")
    from scipy.stats import uniform

    points = even_points(parts)
    low, high = reference.ecdf_confidence_band(
        n_values, np.append(points, 1.0), uniform(0, 1).cdf(np.append(points, 1.0)), prob=0.95,
        method="optimized",
    )  # fmt: skip
    band = ecdf_band(n_values, points=points)
    assert np.abs(band.low - low[:-1] * n_values).max() <= 1.0 + 1e-9
    assert np.abs(band.high - high[:-1] * n_values).max() <= 1.0 + 1e-9
