"""Filter and smoother against two packages for hidden Markov models.

Source: hmm_casino.toml, with its own source
Source: hmmlearn 0.3.3, CategoricalHMM, score and posteriors, as reference package (slow)
Source: statsmodels 0.15.0, Hamilton filter and Kim smoother, as reference package (slow)
"""

from __future__ import annotations

import tomllib
from pathlib import Path

import numpy as np
import pytest
from numpy.typing import NDArray

from handread.reading.kernel import MaskedKernel, masked
from handread.reading.model import Model
from tests.oracle.chain import kernel_of, move, padded, run, see
from tests.oracle.toy import toy_model

pytestmark = pytest.mark.slow

Array = NDArray[np.float64]
CASINO_FILE = Path(__file__).with_name("hmm_casino.toml")
_GIVEN = tomllib.loads(CASINO_FILE.read_text(encoding="utf-8"))
#: A fair and a loaded die.
CASINO = np.array(_GIVEN["transition"])
DICE = np.array([[1 / 6] * 6, _GIVEN["loaded"]])
STATIONARY = np.array([2 / 3, 1 / 3])


def casino_steps(rolls: list[int]) -> list[object]:
    moving = move(kernel_of(CASINO))
    steps: list[object] = []
    for i, roll in enumerate(rolls):
        steps += [moving] if i else []
        steps += [see(padded(DICE[:, roll]))]
    return steps


def test_the_casino_is_stationary() -> None:
    assert kernel_of(CASINO).forward(padded(STATIONARY)) == pytest.approx(padded(STATIONARY))


@pytest.mark.parametrize("seed", range(5))
def test_the_casino_against_hmmlearn(seed: int) -> None:
    from hmmlearn.hmm import CategoricalHMM

    rolls = np.random.default_rng(seed).integers(0, 6, size=300)
    reference = CategoricalHMM(n_components=2, n_features=6)
    reference.startprob_, reference.transmat_ = STATIONARY, CASINO
    reference.emissionprob_ = DICE
    score, posterior = reference.score_samples(rolls[:, None])
    _, smoothed, log_prob = run(padded(STATIONARY), casino_steps(rolls.tolist()))
    assert log_prob == pytest.approx(score, abs=1e-8)
    np.testing.assert_allclose(np.array(smoothed[::2])[:, :2], posterior, atol=1e-9)


def reference(start: Array, transition: Array, likelihoods: Array) -> tuple[Array, Array, float]:
    """Filtered and smoothed rows and log-likelihood by statsmodels; it moves, then it sees."""
    from statsmodels.tsa.regime_switching.markov_switching import (
        cy_hamilton_filter_log,
        cy_kim_smoother_log,
    )

    columns = transition.T[:, :, None].copy()
    found = cy_hamilton_filter_log(start, columns, np.log(likelihoods.T).copy(), 0)
    filtered, _, log_probs, _, log_predicted, log_filtered = found
    _, smoothed = cy_kim_smoother_log(columns, log_predicted, log_filtered)
    return filtered.T, smoothed.T, float(log_probs.sum())


def random_kernel(seed: int) -> tuple[Model, MaskedKernel]:
    """The change of plan of the toy card under a random mask and random destinations."""
    rng = np.random.default_rng(seed)
    model = toy_model()
    fits = rng.random(model.card.n_targets) < 0.6
    return model, masked(model.kernel, fits, rng.dirichlet(np.ones(4), size=4))


@pytest.mark.parametrize("seed", range(5))
def test_changes_of_plan_against_statsmodels(seed: int) -> None:
    """Forty turns of seventeen rows with likelihoods at random."""
    rng = np.random.default_rng(seed)
    model, kernel = random_kernel(seed)
    transition = np.stack([kernel.forward(row) for row in np.eye(model.n_rows)])
    start = rng.dirichlet(np.ones(model.n_rows))
    likelihoods = rng.uniform(0.01, 1.0, size=(40, model.n_rows))
    steps = [step for row in likelihoods for step in (move(kernel), see(row))]
    filtered, smoothed, log_prob = run(start, steps)
    expected = reference(start, transition, likelihoods)
    np.testing.assert_allclose(filtered[1::2], expected[0], atol=1e-12)
    np.testing.assert_allclose(smoothed[1::2], expected[1], atol=1e-12)
    assert log_prob == pytest.approx(expected[2], abs=1e-9)


@pytest.mark.parametrize("seed", range(3))
def test_the_casino_against_statsmodels(seed: int) -> None:
    rolls = np.random.default_rng(seed).integers(0, 6, size=100)
    steps = [
        step for roll in rolls for step in (move(kernel_of(CASINO)), see(padded(DICE[:, roll])))
    ]
    filtered, smoothed, log_prob = run(padded(STATIONARY), steps)
    expected = reference(STATIONARY, CASINO, DICE.T[rolls])
    np.testing.assert_allclose(np.array(filtered[1::2])[:, :2], expected[0], atol=1e-12)
    np.testing.assert_allclose(np.array(smoothed[1::2])[:, :2], expected[1], atol=1e-12)
    assert log_prob == pytest.approx(expected[2], abs=1e-9)
