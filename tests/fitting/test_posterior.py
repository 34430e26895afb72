"""The sampled population: its likelihood, its sampler, what is refused, what is kept."""

from __future__ import annotations

from collections.abc import Callable
from functools import lru_cache
from pathlib import Path

import numpy as np
import pytest

from handread.errors import HandreadError
from handread.fitting.mode.throws import sums
from handread.fitting.posterior.choices import (
    ChoiceBlock,
    choice_block,
    linear_features,
    pick_choices,
)
from handread.fitting.posterior.diagnose import Diagnosis, diagnose, refuse_unless_sound
from handread.fitting.posterior.model import Layout, first_layout, people_weights
from handread.fitting.posterior.sampling import SAMPLERS, Draws, draw
from handread.fitting.posterior.sparse import PARTS, SparseBlock, sparse_block
from handread.fitting.priors import Priors
from handread.fitting.tables import GameTables, joined
from handread.fitting.walk import walk_game
from tests.fitting.games import small_design, small_game, small_model

pytestmark = [
    # both are said of the installation, once a day or once a process
    pytest.mark.filterwarnings("ignore:PyTensor could not link to a BLAS:UserWarning"),
    pytest.mark.filterwarnings("ignore::FutureWarning"),
    # of the code that PyTensor writes where nutpie samples
    pytest.mark.filterwarnings(r"ignore:np\.dot\(\) is faster on contiguous arrays"),
]


@lru_cache(maxsize=1)
def tables() -> GameTables:
    return joined([walk_game(small_design(), small_game(seed)) for seed in (3, 4)])


@lru_cache(maxsize=1)
def block() -> tuple[ChoiceBlock, np.ndarray]:
    model = small_model()
    linear = linear_features(small_design().basis, Priors(model.weights), model.weights.blocks)
    picked = pick_choices(tables(), n_people=6, n_choices=9, rng=np.random.default_rng(1))
    return choice_block(tables(), picked, linear), picked


def test_a_block_says_what_the_throws_say() -> None:
    made, picked = block()
    model = small_model()
    products = small_design().basis.values(model.weights.blocks)
    power = model.weights["availability"]["power"]
    each = sums(tables().throws, products, power)[1]
    weights = np.array([Priors(model.weights).value(name) for name in made.names])
    there = picked >= 0
    assert made.log_prob(weights)[there] == pytest.approx(each[picked[there]], abs=1e-9)
    assert (made.weight[~there] == 0).all()
    assert (made.game[there] >= 0).all()


def test_curvature_of_a_block_agrees_with_differences() -> None:
    made, own, mean = made_up()
    at = mean + 0.1
    step = 1e-4
    rows = []
    for i in range(3):
        up, down = at.copy(), at.copy()
        up[i] += step
        down[i] -= step
        rows.append([
            (_loss(made, up + step * e) - _loss(made, up - step * e)
             - _loss(made, down + step * e) + _loss(made, down - step * e)) / (4 * step**2)
            for e in np.eye(3)
        ])  # fmt: skip
    assert made.curvatures(at).sum(axis=0) == pytest.approx(np.array(rows), rel=1e-3, abs=0.05)
    slope = [(_loss(made, at - step * e) - _loss(made, at + step * e)) / (2 * step)
             for e in np.eye(3)]  # fmt: skip
    assert made.score(at).sum(axis=0) == pytest.approx(slope, rel=1e-6)
    assert own.shape == (24, 3)


@lru_cache(maxsize=1)
def sparse() -> SparseBlock:
    model = small_model()
    linear = linear_features(small_design().basis, Priors(model.weights), model.weights.blocks)
    return sparse_block(tables(), block()[1], linear)


def some_weights() -> np.ndarray:
    """Weights of six people, apart from each other."""
    weights = np.array([Priors(small_model().weights).value(name) for name in block()[0].names])
    return np.asarray(weights + 0.3 * np.random.default_rng(5).normal(size=(6, len(weights))))


def test_a_block_without_zeros_says_what_the_dense_one_says() -> None:
    made, picked = block()
    own = some_weights()
    assert sparse().log_prob(own) == pytest.approx(made.log_prob(own)[picked >= 0], abs=1e-9)
    assert sparse().weight == pytest.approx(made.weight[picked >= 0])
    for weights in (own, own[0]):
        assert sparse().score(weights) == pytest.approx(made.score(weights), abs=1e-9)
        assert sparse().curvatures(weights) == pytest.approx(made.curvatures(weights), abs=1e-9)
    assert (sparse().people, sparse().most_choices) == (made.people, made.most_choices)


def test_the_kernel_gives_the_sum_and_its_gradient() -> None:
    from handread.fitting.posterior.kernels import choices_log_prob

    made, _ = block()
    own = some_weights()
    parts = [getattr(sparse(), part) for part in PARTS]
    value, gradient = choices_log_prob(own, *parts)
    assert value == pytest.approx(float((made.weight * made.log_prob(own)).sum()), abs=1e-9)
    assert gradient == pytest.approx(made.score(own), abs=1e-9)


@pytest.mark.parametrize("away", [30.0, 800.0])
def test_scores_far_apart_do_no_harm(away: float) -> None:
    from handread.fitting.posterior.kernels import choices_log_prob

    made, _ = block()
    own = some_weights() * away
    value, gradient = choices_log_prob(own, *(getattr(sparse(), part) for part in PARTS))
    assert value == pytest.approx(float((made.weight * made.log_prob(own)).sum()), rel=1e-12)
    assert np.isfinite(gradient).all()


@pytest.mark.parametrize("places", [(0, 1, 2, 3, -1), (-1, 2), ()])
def test_the_model_is_the_same_dense_and_sparse(places: tuple[int, ...]) -> None:
    """Log probability and gradient of both formulations at a point that is no mode."""
    pytest.importorskip("pymc")
    from pytensor import config
    from pytensor.compile.mode import Mode

    from handread.fitting.posterior.model import population_model

    priors, told, names = Priors(small_model().weights), [], block()[0].names
    for made in (block()[0], sparse()):
        layout = Layout(names, tuple(names[place] for place in places))
        model = population_model(made, priors, layout)
        rng = np.random.default_rng(8)
        with config.change_flags(cxx=""):  # compiles nothing, graphs within the graph neither
            point = {
                name: np.asarray(value) + 0.3 * rng.normal(size=np.shape(value))
                for name, value in sorted(model.initial_point().items())
            }
            quick = {"mode": Mode(linker="py", optimizer="fast_compile")}
            told.append((model.compile_logp(**quick)(point), model.compile_dlogp(**quick)(point)))
    assert told[1][0] == pytest.approx(float(told[0][0]), abs=1e-9)
    assert told[1][1] == pytest.approx(told[0][1], abs=1e-9)


def test_the_operation_is_the_same_when_numba_compiles_the_graph() -> None:
    """A graph around it may be compiled with fast mathematics; it must not take that over."""
    pytest.importorskip("pymc")
    import pytensor
    from pytensor import tensor

    from handread.fitting.posterior.kernels import choices_log_prob
    from handread.fitting.posterior.likelihood import throws_log_prob

    own = tensor.dmatrix("own")
    value = throws_log_prob(own.T.copy().T, sparse())
    made = pytensor.function([own], [value, tensor.grad(value, own)], mode="NUMBA")
    at = some_weights()
    want = choices_log_prob(at, *(getattr(sparse(), part) for part in PARTS))
    found = made(at)
    assert float(found[0]) == pytest.approx(want[0], abs=1e-9)
    assert found[1] == pytest.approx(want[1], abs=1e-9)


def _loss(made: ChoiceBlock, weights: np.ndarray) -> float:
    return -float((made.weight * made.log_prob(weights)).sum())


def test_picks_are_of_one_person_each_and_of_all_phases() -> None:
    picked = pick_choices(tables(), n_people=5, n_choices=6, rng=np.random.default_rng(2))
    throws = tables().throws
    for row in picked:
        own = row[row >= 0]
        assert len(set(throws.person[own].tolist())) == 1
        assert len(set(own.tolist())) == len(own)
        all_phases = np.unique(throws.phase[throws.person == throws.person[own[0]]])
        assert set(throws.phase[own].tolist()) == set(all_phases.tolist())
    with pytest.raises(HandreadError, match="people have choices"):
        pick_choices(tables(), n_people=99, n_choices=6, rng=np.random.default_rng(2))


def test_people_of_every_kind_are_picked_in_proportion() -> None:
    keys = [key for key in tables().people if key]
    kinds = {key: ("quick" if i % 4 == 0 else "slow") for i, key in enumerate(keys)}
    picked = pick_choices(
        tables(), n_people=4, n_choices=3, rng=np.random.default_rng(2), kinds=kinds
    )
    people = [tables().people[int(tables().throws.person[row[0]])] for row in picked]
    assert sorted(kinds[key] for key in people) == ["quick", "slow", "slow", "slow"]


def test_a_layout_names_each_weight_once() -> None:
    made, _ = block()
    weights = np.array([Priors(small_model().weights).value(name) for name in made.names])
    layout = first_layout(made, weights, spread=1.0)
    assert set(layout.varying) | set(layout.common) == set(made.names)
    with pytest.raises(HandreadError, match="different weights"):
        Layout(made.names, made.names[:1] * 2)
    mean, own = np.arange(len(made.names), dtype=float), np.full((6, len(layout.varying)), 99.0)
    every = people_weights(layout, mean, own)
    assert every.shape == (6, len(made.names))
    for i, name in enumerate(made.names):
        assert (every[:, i] == (99.0 if name in layout.varying else mean[i])).all()


def draws_of(values: np.ndarray, diverging: int = 0) -> Draws:
    flags = np.zeros(values.shape[:2], dtype=np.bool_)
    flags.flat[:diverging] = True
    return Draws({"x": values}, flags, "pymc", 1.0)


def good() -> np.ndarray:
    return np.random.default_rng(1).normal(size=(4, 500, 2))


def stuck(values: np.ndarray) -> np.ndarray:
    values[0] += 1.0
    return values


def slow(values: np.ndarray) -> np.ndarray:
    return np.repeat(values[:, ::10], 10, axis=1)


def test_sound_draws_pass() -> None:
    pytest.importorskip("arviz")
    found = diagnose(draws_of(good()))
    assert found.faults == ()
    refuse_unless_sound(found)


@pytest.mark.parametrize(
    ("spoil", "diverging", "message"),
    [(stuck, 0, "R-hat"), (slow, 0, "bulk ESS"), (lambda x: x, 1, "1 divergences"),
     (lambda x: x * 0, 0, "R-hat")],
)  # fmt: skip
def test_draws_that_cannot_be_trusted_are_refused(
    spoil: Callable[[np.ndarray], np.ndarray], diverging: int, message: str
) -> None:
    pytest.importorskip("arviz")
    with pytest.raises(HandreadError, match=message):
        refuse_unless_sound(diagnose(draws_of(spoil(good()), diverging)))


def test_effective_sizes_are_those_of_theory() -> None:
    """An autoregressive chain with coefficient 0.6: N (1 - 0.6) / (1 + 0.6), by definition."""
    pytest.importorskip("arviz")
    from handread.fitting.posterior.shim import ess

    rng = np.random.default_rng(4)
    x = np.zeros((4, 5000))
    for t in range(1, x.shape[1]):
        x[:, t] = 0.6 * x[:, t - 1] + rng.normal(size=4)
    assert float(ess(x, "bulk")) == pytest.approx(5000.0, rel=0.15)


def test_leave_one_out_is_exact_where_nothing_is_learnt() -> None:
    pytest.importorskip("arviz")
    from handread.fitting.posterior.shim import loo

    fixed = np.log(np.array([0.2, 0.5, 0.9]))
    found = loo(np.broadcast_to(fixed, (2, 200, 3)) + 1e-9 * good()[:2, :200, :1])
    assert found.each == pytest.approx(fixed, abs=1e-6)
    assert found.elpd == pytest.approx(fixed.sum(), abs=1e-6)


def test_a_diagnosis_names_every_fault() -> None:
    found = Diagnosis(1.2, 30.0, 20.0, 7, ("mean[0]", "spread[1]", "spread[2]"))
    assert len(found.faults) == 4
    assert "spread[2]" in " ".join(found.faults)


@pytest.mark.slow
@pytest.mark.parametrize("sampler", SAMPLERS)
def test_eight_schools_agree_with_quadrature(sampler: str) -> None:
    """Rubin (1981) by the same sampling code, against an exact integral made here.

    Data and priors as in posteriordb, eight_schools_noncentered: mu normal (0, 5), tau
    half-Cauchy (5); the school means printed there are within Monte Carlo error of these.
    """
    pm = pytest.importorskip("pymc")
    y = np.array([28.0, 8, -3, 7, -1, 1, 18, 12])
    s = np.array([15.0, 10, 16, 11, 9, 11, 10, 18])
    tau = np.linspace(1e-4, 200.0, 40_001)
    variance = s[:, None] ** 2 + tau**2
    precision = (1 / variance).sum(axis=0) + 1 / 25
    centre = (y[:, None] / variance).sum(axis=0) / precision
    log_mass = (
        -0.5 * (np.log(variance) + y[:, None] ** 2 / variance).sum(axis=0)
        + 0.5 * precision * centre**2 - 0.5 * np.log(precision) - np.log1p((tau / 5) ** 2)
    )  # fmt: skip
    mass = np.exp(log_mass - log_mass.max())
    mass /= mass.sum()
    shrink = s[:, None] ** 2 / variance
    theta = (mass * (shrink * centre + (1 - shrink) * y[:, None])).sum(axis=1)
    exact = {"mu": mass @ centre, "tau": mass @ tau, "theta": theta}
    with pm.Model() as model:
        mu, scale = pm.Normal("mu", 0, 5), pm.HalfCauchy("tau", 5)
        z = pm.Normal("z", 0, 1, shape=8)
        pm.Normal("y", pm.Deterministic("theta", mu + scale * z), s, observed=y)
    found = draw(model, seed=8, n_draws=2000, n_tune=1000, sampler=sampler, target_accept=0.95)
    assert found.sampler == sampler
    names = ("mu", "tau", "theta")
    refuse_unless_sound(diagnose(found, names))
    from handread.fitting.posterior.shim import ess

    for name in names:
        values = found.flat(name)
        error = values.std(axis=0) / np.sqrt(ess(found.values[name], "bulk"))
        assert (np.abs(values.mean(axis=0) - exact[name]) < 4 * error).all(), name
    assert exact["mu"] == pytest.approx(4.3968, abs=2e-3)
    assert exact["tau"] == pytest.approx(3.5978, abs=5e-3)


@lru_cache(maxsize=1)
def made_up() -> tuple[ChoiceBlock, np.ndarray, np.ndarray]:
    """Choices of people whose weights are known: 24 people, 60 choices of 12 alternatives."""
    rng = np.random.default_rng(11)
    names = ("use.pair", "use.kong", "demand.not_needed")
    mean, spread = np.array([-1.0, -2.0, 0.3]), np.array([0.6, 0.3, 0.4])
    own = mean + spread * rng.normal(size=(24, 3))
    features = rng.normal(size=(24, 60, 12, 3))
    scores = np.einsum("pnkf,pf->pnk", features, own) + rng.gumbel(size=(24, 60, 12))
    chosen = scores.argmax(axis=-1)
    picked = np.take_along_axis(features, chosen[..., None, None], axis=2)
    difference = features - picked
    offset = np.zeros(difference.shape[:-1])
    np.put_along_axis(offset, chosen[..., None], -1e6, axis=2)
    np.put_along_axis(difference, chosen[..., None, None], 0.0, axis=2)
    made = ChoiceBlock(
        names, tuple(f"p{i}" for i in range(24)), difference, offset, np.ones((24, 60)),
        np.zeros((24, 60), dtype=np.int64), np.zeros((24, 60), dtype=np.int64),
    )  # fmt: skip
    return made, own, mean


@pytest.mark.slow
def test_a_population_is_recovered() -> None:
    pytest.importorskip("pymc")
    from handread.fitting.posterior.fit import sample_population

    made, own, _ = made_up()
    priors = Priors(small_model().weights, factor=2.0)
    layout = Layout(made.names, made.names)
    found = sample_population(
        made, priors, seed=5, layout=layout,
        sampling={"n_draws": 500, "n_tune": 500, "n_chains": 4},
    )  # fmt: skip
    error = (found.mean.mean(axis=0) - own.mean(axis=0)) / found.mean.std(axis=0)
    assert (np.abs(error) < 3.5).all()
    wide = found.person.std(axis=0)
    assert (wide > found.mean.std(axis=0)).all()
    spread = found.spread.mean(axis=0)
    assert spread == pytest.approx(own.std(axis=0, ddof=1), rel=0.5)


@pytest.mark.slow
def test_nothing_is_written_for_draws_that_cannot_be_trusted(tmp_path: Path) -> None:
    pytest.importorskip("pymc")
    from handread.fitting.gathering import Gathered
    from handread.fitting.posterior.fit import sample_population, save_population

    made, _, _ = made_up()
    layout = Layout(made.names, made.names)
    found = sample_population(
        made, Priors(small_model().weights), seed=5, layout=layout,
        sampling={"n_draws": 30, "n_tune": 30, "n_chains": 2},
    )  # fmt: skip
    priors = Priors(small_model().weights)
    with pytest.raises(HandreadError, match="not saved"):
        save_population(
            tmp_path / "m", small_model(), None, found, priors, Gathered((), {}), "x",  # type: ignore[arg-type]
        )  # fmt: skip
    assert list(tmp_path.iterdir()) == []
