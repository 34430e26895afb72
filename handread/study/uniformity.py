"""Simulation-based calibration: games drawn from the model itself must give uniform ranks.

Draw a truth from the prior and data from the truth; then the rank of the truth among draws
of the exact posterior is uniform (Talts et al. 2018). Anything else is a bug in the
inference, whatever the model is worth at real tables.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from handread.errors import HandreadError
from handread.study._arrays import Floats, Ints, chances, distributions, pair, vector
from handread.study.clusters import GameIndex, independent_games


def sbc_ranks(draws: ArrayLike, truth: ArrayLike, *, rng: np.random.Generator) -> Ints:
    """Rank of the truth among posterior draws: how many lie below it, ties by lot.

    Parameters
    ----------
    draws
        Independent posterior draws of a number, shape (n_games, n_draws).
    truth
        The number that the data were made with, shape (n_games,).
    rng
        Source of the lots among draws equal to the truth; without them the ranks of a
        discrete quantity would not be uniform.

    Returns
    -------
    numpy.ndarray
        From 0 to n_draws, shape (n_games,).

    References
    ----------
    Talts, S., Betancourt, M., Simpson, D., Vehtari, A. and Gelman, A. (2018), "Validating
    Bayesian inference algorithms with simulation-based calibration", arXiv:1804.06788.

    Examples
    --------
    >>> sbc_ranks([[1.0, 2.0, 4.0]], [3.0], rng=np.random.default_rng(0)).tolist()
    [2]
    """
    true = vector(truth, "truth")
    drawn = np.asarray(draws, dtype=np.float64)
    if drawn.ndim != 2 or len(drawn) != len(true) or drawn.shape[1] == 0:
        raise HandreadError(
            f"draws has shape {drawn.shape}; accepted: (n_games, n_draws) with n_games {len(true)}"
        )
    below = (drawn < true[:, None]).sum(axis=1)
    level = (drawn == true[:, None]).sum(axis=1)
    return np.asarray(below + rng.integers(level + 1), dtype=np.int64)


def randomised_pit(prob: ArrayLike, truth: ArrayLike, *, rng: np.random.Generator) -> Floats:
    """Probability integral transform of the true row: uniform on 0 to 1 when calibrated.

    The mass of the rows before the true one, plus a uniform share of the true row's own
    mass. The order of the rows is whatever the caller chose; another order is another test,
    and the order by probability tests confidence.

    Parameters
    ----------
    prob
        Forecast probabilities, shape (n_moments, n_rows).
    truth
        Weights of the true rows; where they are spread, one row is drawn by them; shape
        (n_moments, n_rows).
    rng
        Source of the shares and of drawn rows.

    Returns
    -------
    numpy.ndarray
        From 0 to 1, shape (n_moments,).

    References
    ----------
    Czado, C., Gneiting, T. and Held, L. (2009), "Predictive model assessment for count
    data", Biometrics 65, 1254-1261 (from memory).

    Examples
    --------
    >>> pit = randomised_pit([[0.5, 0.5]], [[0, 1]], rng=np.random.default_rng(0))
    >>> bool(0.5 <= pit[0] <= 1.0)
    True
    """
    forecast, weight = pair(prob, truth)
    every = np.arange(len(forecast))
    passed = np.cumsum(weight, axis=1)
    lot = rng.random((len(forecast), 1)) * passed[:, -1:]
    row = (passed <= lot).sum(axis=1)
    row = np.minimum(row, weight.shape[1] - 1 - np.argmax(weight[:, ::-1] > 0.0, axis=1))
    own = forecast[every, row]
    before = np.cumsum(forecast, axis=1)[every, row] - own
    return np.asarray(np.clip(before + rng.random(len(forecast)) * own, 0.0, 1.0))


def exact_rank_pmf(joint: ArrayLike, posterior: ArrayLike, n_draws: int) -> Floats:
    """Probability of every SBC rank, summed exactly over all data of a small model.

    No simulation and no tolerance but rounding: for the exact posterior every rank has
    probability 1 / (n_draws + 1), for any other the pmf shows what is wrong (a bowl: too
    sure; a hill: too shy; a slope: shifted).

    Parameters
    ----------
    joint
        Probability of each observation together with each row (the truth), entries sum to
        1, shape (n_observations, n_rows).
    posterior
        What the inference says after each observation, shape (n_observations, n_rows).
    n_draws
        Posterior draws among which the truth is ranked, 1 or more.

    Returns
    -------
    numpy.ndarray
        Probabilities of ranks 0 to n_draws, shape (n_draws + 1,).

    Notes
    -----
    With ties by lot, the rank of row k is binomial(n_draws, u) for u uniform over the
    interval of posterior mass that belongs to k; the integral of a binomial probability over
    u is a difference of incomplete beta functions.

    Examples
    --------
    >>> joint = np.array([[0.3, 0.1], [0.2, 0.4]])
    >>> posterior = joint / joint.sum(axis=1, keepdims=True)
    >>> exact_rank_pmf(joint, posterior, 3).round(6).tolist()
    [0.25, 0.25, 0.25, 0.25]
    """
    from scipy.special import betainc

    both = np.asarray(joint, dtype=np.float64)
    said = distributions(posterior, "posterior")
    if both.shape != said.shape or bool((both < 0.0).any()) or abs(both.sum() - 1.0) > 1e-9:
        raise HandreadError(
            f"joint has shape {both.shape} and sum {float(both.sum())!r}; accepted: probabilities "
            f"of shape {said.shape} that sum to 1 over all entries"
        )
    if n_draws < 1:
        raise HandreadError(f"n_draws is {n_draws!r}; accepted: 1 or more")
    edges = np.concatenate([np.zeros((len(said), 1)), np.cumsum(said, axis=1)], axis=1)
    edges = np.clip(edges, 0.0, 1.0)
    width = np.diff(edges, axis=1)
    rank = np.arange(n_draws + 1)
    middle = 0.5 * (edges[:, :-1] + edges[:, 1:])
    pmf = np.empty(n_draws + 1)
    for place in rank:
        mass = np.diff(betainc(place + 1, n_draws - place + 1, edges), axis=1)
        chance = np.zeros_like(mass)
        np.divide(mass, width * (n_draws + 1), out=chance, where=width > 0.0)
        empty = (width <= 0.0) & (both > 0.0)  # a truth without mass sits at one point
        if empty.any():
            chance[empty] = _binomial(n_draws, int(place), middle[empty])
        pmf[place] = float((both * chance).sum())
    return pmf


def _binomial(n_draws: int, rank: int, chance: Floats) -> Floats:
    from scipy.stats import binom

    return np.asarray(binom.pmf(rank, n_draws, chance))


@dataclass(frozen=True)
class UniformityTest:
    """A test of the hypothesis that values are independent and uniform.

    Attributes
    ----------
    name
        "chi-square" or "Kolmogorov-Smirnov".
    statistic
        The test's statistic.
    p_value
        Probability of a statistic at least as large under uniformity.
    degrees
        Degrees of freedom of chi-square; 0 for Kolmogorov-Smirnov.
    n_games
        Values tested, one a game.
    """

    name: str
    statistic: float
    p_value: float
    degrees: int
    n_games: int


def rank_test(
    ranks: ArrayLike,
    n_draws: int,
    *,
    game: ArrayLike | GameIndex | None,
    pmf: ArrayLike | None = None,
    bins: int | None = None,
) -> UniformityTest:
    """Pearson's chi-square test of SBC ranks.

    Parameters
    ----------
    ranks
        Ranks from 0 to n_draws, one a game, shape (n_games,).
    n_draws
        Draws among which truths were ranked.
    game
        Game of each rank, all different, shape (n_games,).
    pmf
        Expected probabilities of the ranks, shape (n_draws + 1,); uniform by default.
    bins
        Pool neighbouring ranks into this many; must divide n_draws + 1. By default all
        ranks, or the most bins that leave five expected in each.

    Returns
    -------
    UniformityTest

    References
    ----------
    Talts et al. (2018); chi-square: Pearson, K. (1900), Phil. Mag. 50, 157-175.

    Examples
    --------
    >>> told = rank_test([0, 1, 2, 3] * 25, 3, game=range(100))
    >>> told.statistic, told.p_value, told.degrees
    (0.0, 1.0, 3)
    """
    from scipy.special import chdtrc

    index = independent_games(game, len(np.asarray(ranks)))
    places = np.asarray(ranks)
    if places.dtype.kind not in "iu" or bool(((places < 0) | (places > n_draws)).any()):
        raise HandreadError(
            f"ranks hold {np.unique(places)[[0, -1]].tolist()!r}; accepted: whole numbers 0 to "
            f"{n_draws}"
        )
    expected = np.full(n_draws + 1, 1.0 / (n_draws + 1)) if pmf is None else vector(pmf, "pmf")
    if len(expected) != n_draws + 1 or abs(expected.sum() - 1.0) > 1e-9:
        raise HandreadError(
            f"pmf has {len(expected)} entries and sum {float(expected.sum())!r}; accepted: "
            f"{n_draws + 1} that sum to 1"
        )
    groups = _pooled(n_draws + 1, index.n_games, bins)
    counts = np.bincount(places, minlength=n_draws + 1).reshape(groups, -1).sum(axis=1)
    wanted = index.n_games * expected.reshape(groups, -1).sum(axis=1)
    statistic = float(((counts - wanted) ** 2 / wanted).sum())
    return UniformityTest(
        "chi-square", statistic, float(chdtrc(groups - 1, statistic)), groups - 1, index.n_games
    )


def _pooled(n_ranks: int, n_games: int, bins: int | None) -> int:
    """Bins to use: those asked for, or the most that leave five expected in each."""
    if bins is not None:
        if bins < 2 or n_ranks % bins:
            raise HandreadError(f"bins is {bins!r}; accepted: 2 or more that divide {n_ranks}")
        return bins
    fitting = [size for size in range(2, n_ranks + 1) if n_ranks % size == 0]
    enough = [size for size in fitting if n_games / size >= 5.0]
    return max(enough) if enough else min(fitting)


def uniform_test(values: ArrayLike, *, game: ArrayLike | GameIndex | None) -> UniformityTest:
    """Kolmogorov-Smirnov test of values that should be uniform on 0 to 1, such as PITs.

    Parameters
    ----------
    values
        One value a game, shape (n_games,).
    game
        Game of each value, all different, shape (n_games,).

    Returns
    -------
    UniformityTest
        With the exact distribution of the statistic.

    References
    ----------
    Massey, F. J. (1951), J. Am. Stat. Assoc. 46, 68-78.

    Examples
    --------
    >>> told = uniform_test([0.1, 0.3, 0.5, 0.7, 0.9], game=range(5))
    >>> round(told.statistic, 6)
    0.1
    """
    from scipy.stats import kstwo

    points = np.sort(chances(values, "values"))
    n_games = independent_games(game, len(points)).n_games
    step = np.arange(n_games) / n_games
    statistic = float(max((points - step).max(), (step + 1.0 / n_games - points).max()))
    return UniformityTest(
        "Kolmogorov-Smirnov", statistic, float(kstwo.sf(statistic, n_games)), 0, n_games
    )
