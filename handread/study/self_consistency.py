"""Is the filter Bayes' rule for its own model? Games drawn from it must come out calibrated.

A failure here is a fault of the program, not of the model: the model made these games.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from handread.errors import HandreadError
from handread.reading import Model
from handread.study.calibration import CalibrationError, top_label_error
from handread.study.clusters import one_moment_per_game
from handread.study.drawn import DrawnGame, draw_game
from handread.study.ecdf_bands import EcdfCheck, ecdf_check
from handread.study.information import Honesty, honesty
from handread.study.power import CalibrationPower, calibration_power
from handread.study.uniformity import UniformityTest, randomised_pit, uniform_test
from handread.values import ArrayValue

Array = NDArray[np.float64]


@dataclass(frozen=True, eq=False)
class SelfConsistency(ArrayValue):
    """What games drawn from a model say of its filter.

    Attributes
    ----------
    pit
        Randomised place of the true row in the belief, one moment a game: uniform if the filter
        is exact, shape (n_games,).
    uniform
        Test of its uniformity.
    ecdf
        Its distribution function against the simultaneous band.
    family_error
        Top-label error by family with its null.
    family_power
        Power that would sharpen or flatten the family beliefs best; 1 if exact.
    throws
        Bits about the row that throws claimed and realised.
    """

    pit: Array
    uniform: UniformityTest
    ecdf: EcdfCheck
    family_error: CalibrationError
    family_power: CalibrationPower
    throws: Honesty

    def __str__(self) -> str:
        """Print every verdict with its counts."""
        error = self.family_error
        return "\n".join([
            f"{len(self.pit):,} games, {error.n_moments:,} throws",
            f"ranks uniform: p = {self.uniform.p_value:.3f}; inside the 95 % band: "
            f"{self.ecdf.uniform}",
            f"family top-label error {error.error:+.4f} (null to {error.null_error:.4f}, "
            f"p = {error.p_value:.3f})",
            f"family power {self.family_power.power}",
            f"throws: {self.throws}",
        ])  # fmt: skip


def check_games(
    model: Model, games: list[DrawnGame], *, rng: np.random.Generator
) -> SelfConsistency:
    """Check games against the model that they were drawn from.

    Parameters
    ----------
    model
        The model.
    games
        Games drawn from it, or from another, to see that the check bites.
    rng
        Source of the moments picked, and of all resampling.

    Raises
    ------
    HandreadError
        If there are fewer than 20 games.
    """
    if len(games) < 20:
        raise HandreadError(f"{len(games)} games; accepted: 20 or more")
    rows = np.concatenate([game.row for game in games])
    beliefs = np.concatenate([game.belief for game in games])
    key = np.repeat(np.arange(len(games)), [len(game.row) for game in games])
    one = one_moment_per_game(key, rng=rng)
    pit = randomised_pit(beliefs[one], np.eye(model.n_rows)[rows[one]], rng=rng)
    by_family = np.zeros((model.n_rows, len(model.row_names)))
    by_family[np.arange(model.n_rows), model.family_rows] = 1.0
    family, truth = beliefs @ by_family, by_family[rows]
    claimed = np.concatenate([game.bits_claimed for game in games])
    realised = np.concatenate([game.bits_realised for game in games])
    return SelfConsistency(
        pit, uniform_test(pit, game=key[one]), ecdf_check(pit, game=key[one]),
        top_label_error(family, truth, game=key, rng=rng),
        calibration_power(family, truth, game=key, rng=rng),
        honesty(claimed, realised, game=key, rng=rng),
    )  # fmt: skip


def self_consistency(
    model: Model,
    *,
    n_games: int,
    seed: int,
    most_throws: int | None = 40,
    progress: Callable[[int], None] | None = None,
) -> SelfConsistency:
    """Draw games from a model and check its filter against them.

    Parameters
    ----------
    model
        The model.
    n_games
        How many games.
    seed
        Seed of everything.
    most_throws
        Throws of each game; None to play to the end.
    progress
        Called with the number of games drawn so far.

    Returns
    -------
    SelfConsistency

    References
    ----------
    Talts, S. et al. (2018), "Validating Bayesian inference algorithms with simulation-based
    calibration", arXiv:1804.06788. Säilynoja, T., Bürkner, P.-C. and Vehtari, A. (2022),
    "Graphical test for discrete uniformity and its applications in goodness-of-fit evaluation
    and multiple sample comparison", Statistics and Computing 32, 32.
    """
    games = []
    for number in range(n_games):
        rng = np.random.default_rng([seed, number])
        games.append(draw_game(model, rng=rng, most_throws=most_throws))
        if progress is not None:
            progress(number + 1)
    return check_games(model, games, rng=np.random.default_rng([seed, n_games, 1]))
