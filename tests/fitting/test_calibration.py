"""Simulation-based calibration of a reduced population model, by a reference package."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest
from scipy.stats import chi2, norm

from handread.fitting.posterior.choices import ChoiceBlock
from handread.fitting.posterior.model import Layout, population_model
from handread.fitting.posterior.rough import SPREAD_WIDTH
from handread.fitting.priors import Priors
from tests.fitting.games import small_model

pytestmark = [
    pytest.mark.filterwarnings("ignore:PyTensor could not link to a BLAS:UserWarning"),
    pytest.mark.filterwarnings("ignore::FutureWarning"),
    pytest.mark.filterwarnings("ignore::DeprecationWarning"),
]

N_PEOPLE, N_CHOICES, N_OTHERS = 5, 60, 4
NAMES = ("demand.not_needed",)
N_SIMULATIONS, N_DRAWS = 24, 120


def features() -> np.ndarray:
    return np.random.default_rng(1).normal(size=(N_PEOPLE, N_CHOICES, N_OTHERS, 1)) * 2.0


def reduced_model(thrown: np.ndarray, *, times: int = 1) -> Any:
    """The population of one weight; `times` counts the likelihood of its choices so often.

    Draws from the prior leave potentials out: with `times` of 2 they are those of the right model,
    and only the posterior is wrong.
    """
    import pymc as pm

    priors = Priors(small_model().weights)
    values = features()
    with pm.Model() as model:
        mean = pm.Normal("mean", priors.value(NAMES[0]), priors.width(NAMES[0]))
        spread = pm.HalfNormal("spread", SPREAD_WIDTH)
        raw = pm.Normal("raw", 0.0, 1.0, shape=N_PEOPLE)
        scores = values[..., 0] * (mean + spread * raw)[:, None, None]
        choice = pm.Categorical("thrown", logit_p=scores, observed=thrown)
        if times > 1:
            again = pm.logp(pm.Categorical.dist(logit_p=scores), choice)
            pm.Potential("again", (times - 1) * again.sum())
    return model


@pytest.mark.slow
@pytest.mark.parametrize("near", [None, -0.4])
def test_the_reduced_model_has_the_likelihood_of_the_population(near: float | None) -> None:
    """Densities at one point, the slopes of what the sampler moves taken by differences.

    Where the whole model looks at people first is no part of its posterior.
    """
    pytest.importorskip("pymc")
    rng = np.random.default_rng(2)
    chosen = rng.integers(0, N_OTHERS, (N_PEOPLE, N_CHOICES))
    values = features()
    picked = np.take_along_axis(values, chosen[..., None, None], axis=2)
    difference, offset = values - picked, np.zeros((N_PEOPLE, N_CHOICES, N_OTHERS))
    np.put_along_axis(offset, chosen[..., None], -1e6, axis=2)
    block = ChoiceBlock(
        NAMES, tuple("abcde"), difference, offset, np.ones(chosen.shape),
        np.zeros(chosen.shape, np.int64), np.zeros(chosen.shape, np.int64),
    )  # fmt: skip
    whole = population_model(
        block, Priors(small_model().weights), Layout(NAMES, NAMES),
        at=None if near is None else np.array([near]),
    )  # fmt: skip
    moved = {
        "mean_steps": 0.3 * rng.normal(size=1), "spread_steps": np.array([0.4]),
        "own_steps": rng.normal(size=(N_PEOPLE, 1)),
    }  # fmt: skip
    told = whole.replace_rvs_by_values([whole["mean"], whole["spread"], whole["own"]])
    made = whole.compile_fn(told, inputs=whole.value_vars)

    def place(point: dict[str, np.ndarray]) -> tuple[float, float, np.ndarray]:
        mean, spread, own = made(point)
        return float(mean[0]), float(spread[0]), (own[:, 0] - mean) / spread

    def slope(name: str, of: int) -> np.ndarray:
        up, down = ({**moved, name: moved[name] + step} for step in (1e-5, -1e-5))
        return np.asarray(np.log((np.asarray(place(up)[of]) - np.asarray(place(down)[of])) / 2e-5))

    mean, spread, raw = place(moved)
    two = float(reduced_model(chosen).compile_logp()(
        {"mean": mean, "spread_log__": np.log(spread), "raw": raw}
    ))  # fmt: skip
    # what PyMC adds for the logarithm that the reduced model samples is taken out again
    two += -np.log(spread) + float(slope("spread_steps", 1)) + float(slope("own_steps", 2).sum())
    assert float(whole.compile_logp()(moved)) == pytest.approx(two, abs=1e-6)


def as_tree(data: Any) -> Any:
    """What PyMC returns as simuk wants it: PyMC 5 returns no tree, and simuk reads trees alone."""
    if not hasattr(data, "groups") or not callable(data.groups):
        return data
    from xarray import DataTree

    return DataTree.from_dict({name: data[name] for name in data.groups()})


def ranks(monkeypatch: pytest.MonkeyPatch, *, times: int) -> dict[str, np.ndarray]:
    """Rank of what was drawn among draws of its posterior, for each unknown of the model.

    simuk asks for a model with a choice that is observed, and puts other choices in its place.
    """
    pytest.importorskip("pymc")
    simuk = pytest.importorskip("simuk")
    extract = simuk.sbc.extract
    monkeypatch.setattr(
        simuk.sbc, "extract", lambda data, **options: extract(as_tree(data), **options)
    )
    check = simuk.SBC(
        reduced_model(np.zeros((N_PEOPLE, N_CHOICES), np.int64), times=times),
        num_simulations=N_SIMULATIONS, seed=7,
        sample_kwargs={
            "nuts_sampler": "pymc", "draws": N_DRAWS, "tune": 300, "chains": 1, "cores": 1,
            "target_accept": 0.95,
        },
    )  # fmt: skip
    check.run_simulations()
    found = check.simulations["prior_sbc"]
    return {name: np.asarray(found[name])[0] for name in ("mean", "spread", "raw")}


def uniform(found: np.ndarray) -> float:
    """Probability that uniform ranks would be as far from being spread as normal scores are.

    The sum of the squared scores of uniform ranks is a chi square; both tails count.
    """
    scores = norm.ppf((found.ravel() + 0.5) / (N_DRAWS + 1))
    below = float(chi2.cdf(float((scores**2).sum()), scores.size))
    return 2.0 * min(below, 1.0 - below)


@pytest.mark.slow
def test_ranks_of_the_reduced_model_are_uniform(monkeypatch: pytest.MonkeyPatch) -> None:
    for name, found in ranks(monkeypatch, times=1).items():
        assert uniform(found) > 1e-3, (name, found)


@pytest.mark.slow
@pytest.mark.filterwarnings("ignore:The effect of Potentials:UserWarning")
def test_a_likelihood_counted_twice_is_found_out(monkeypatch: pytest.MonkeyPatch) -> None:
    """The posterior is too narrow then, so that ranks of what people want lie at the ends."""
    found = ranks(monkeypatch, times=2)["raw"]
    assert uniform(found) < 1e-3, found
    assert np.mean(np.abs(found / N_DRAWS - 0.5)) > 0.25  # that of uniform ranks
