"""What is made of a sampled population: checks of it, and a place beside weights that stay."""

from __future__ import annotations

import tomllib
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from scipy.stats import norm
from typer import Typer
from typer.testing import CliRunner

from handread.cli.fit import fit
from handread.clues import load_weights
from handread.errors import HandreadError
from handread.fitting.affine import find_basis
from handread.fitting.gathering import Gathered
from handread.fitting.mode import Estimate
from handread.fitting.plan import FitPlan
from handread.fitting.posterior.choices import linear_features
from handread.fitting.posterior.diagnose import Diagnosis
from handread.fitting.posterior.fit import KEPT_DRAWS, PopulationFit
from handread.fitting.posterior.model import Layout
from handread.fitting.posterior.onto import add_draws, as_fitted, card_with
from handread.fitting.posterior.predictive import (
    population_units,
    prior_people,
    throw_again_by_person,
)
from handread.fitting.posterior.record import checks_text
from handread.fitting.posterior.rough import SPREAD_WIDTH, _spreads, rough_population
from handread.fitting.posterior.sensitivity import exchange_prior
from handread.fitting.posterior.sparse import SparseBlock
from handread.fitting.posterior.units import Predicted, throw_again, thrown
from handread.fitting.priors import Priors
from handread.fitting.saving import ModelCard, load_card, save_model
from handread.fitting.tables import GameTables, joined
from handread.fitting.versions import versions_of
from handread.fitting.walk import walk_game
from handread.study.tuning import Knobs, turned
from tests.fitting.games import small_design, small_game, small_model

SOUND = Diagnosis(1.001, 900.0, 800.0, 0, ("a", "b", "c"))
NAMES = ("use.pair", "use.kong", "availability.power")


def tables() -> GameTables:
    return joined([walk_game(small_design(), small_game(seed)) for seed in (3, 4)])


def normal_fit(priors: Priors, *, n: int = 40_000) -> tuple[PopulationFit, np.ndarray]:
    """Draws of a mean whose likelihood is normal with known centre, and its precision."""
    rng = np.random.default_rng(2)
    precision = np.array([[9.0, 2.0, 0.0], [2.0, 4.0, 0.5], [0.0, 0.5, 30.0]])
    told = np.array([-1.4, -2.2, 0.7])
    centre = np.array([priors.value(name) for name in NAMES])
    prior = np.diag([priors.width(name) ** -2.0 for name in NAMES])
    cov = np.linalg.inv(precision + prior)
    mean = rng.multivariate_normal(cov @ (precision @ told + prior @ centre), cov, n)
    spread = np.abs(np.array([0.2, 0.1, 0.0]) + 0.02 * rng.normal(size=(n, 3))) * [1, 1, 0]
    layout = Layout(NAMES, NAMES[:2])
    person = mean + spread * rng.normal(size=mean.shape)
    found = PopulationFit(layout, mean, spread, person, SOUND, "nutpie", 2.0, 20, 30, 3.0)
    wanted = {}
    for factor in (0.5, 2.0):
        other = prior / factor**2
        wanted[factor] = np.linalg.solve(precision + other, precision @ told + other @ centre)
    return found, np.array([wanted[0.5], wanted[2.0]])


@pytest.mark.parametrize(("place", "factor"), [(0, 0.5), (1, 2.0)])
def test_another_prior_moves_means_as_the_conjugate_formula_says(place: int, factor: float) -> None:
    priors = Priors(small_model().weights)
    found, wanted = normal_fit(priors)
    sd = found.mean.std(axis=0)
    told = exchange_prior(found, priors, factor)
    move = (wanted[place] - found.mean.mean(axis=0)) / sd
    assert np.abs(move).max() > 0.1
    assert told.normal == pytest.approx(move, abs=0.03)
    assert told.weighted == pytest.approx(move, abs=0.06)
    assert 1000 < told.effective < len(found.mean)
    with pytest.raises(HandreadError, match="above 0"):
        exchange_prior(found, priors, 0.0)


def test_people_with_one_weight_throw_as_everybody_does() -> None:
    """The same noise gives the same throws, by person and for all at once."""
    held, model = tables(), small_model()
    basis, priors = find_basis(model.clues), Priors(model.weights)
    linear = linear_features(basis, priors, model.weights.blocks)
    weights = np.array([priors.value(name) for name in linear.names])
    every = np.tile(weights, (len(held.people), 1))
    one = throw_again(held.throws, basis, model.weights.blocks, rng=np.random.default_rng(3))
    two = throw_again_by_person(held.throws, linear, every, rng=np.random.default_rng(3))
    assert (one == two).all()
    every[0, linear.names.index("availability.power")] = 9.0
    three = throw_again_by_person(held.throws, linear, every, rng=np.random.default_rng(3))
    differ = three != two
    assert differ.any()
    assert (held.throws.person[differ] == 0).all()


def test_figures_of_play_are_between_the_ends_of_what_made_them() -> None:
    held, model = tables(), small_model()
    priors = Priors(model.weights)
    linear = linear_features(find_basis(model.clues), priors, model.weights.blocks)
    rng = np.random.default_rng(4)
    at = np.array([priors.value(name) for name in linear.names])
    layout = Layout(linear.names, linear.names[:2])
    mean = at + 0.01 * rng.normal(size=(50, len(at)))
    spread = np.zeros_like(mean)
    spread[:, :2] = 0.1
    found = PopulationFit(layout, mean, spread, mean, SOUND, "nutpie", 1.0, 8, 9)
    made = throw_again_by_person(
        held.throws, linear, np.tile(at, (len(held.people), 1)), rng=rng
    )  # fmt: skip
    starts = held.throws.first_alternative[:-1]
    sizes = np.diff(held.throws.first_alternative)
    chosen = [
        int(np.flatnonzero(held.throws.kind[a : a + n] == kind)[0])
        for a, n, kind in zip(starts, sizes, made, strict=True)
    ]
    again = replace(held.throws, chosen=np.array(chosen, dtype=np.int16))
    assert (thrown(again) == made).all()
    told = population_units(
        again, len(held.people), linear, found, priors, n_draws=60, rng=np.random.default_rng(5)
    )  # fmt: skip
    assert np.mean([each.inside for each in told]) > 0.75
    assert any(each.name == "first flower" for each in told)
    assert not any(each.name == "groups" for each in told)  # no claims were asked for
    assert {each.levels for each in told} == {(0.025, 0.5, 0.975)}
    wide = [each.prior[2] - each.prior[0] for each in told]
    narrow = [each.posterior[2] - each.posterior[0] for each in told]
    assert np.mean(wide) > np.mean(narrow)
    text = tomllib.loads(checks_text(found, model.weights, [], told, 2))
    assert text["play"]["of"] == len(told)
    assert "throw there: 2.5, 50 and 97.5 per cent." in checks_text(
        found, model.weights, [], told, 2
    )
    assert set(text["weights"]["use"]) <= {name.split(".")[1] for name in linear.names}


def test_people_of_the_prior_differ_where_they_may() -> None:
    priors = Priors(small_model().weights)
    people = prior_people(priors, NAMES, NAMES[:1], 50, rng=np.random.default_rng(1))
    assert people[:, 0].std() > 0
    assert (people[:, 1:] == people[0, 1:]).all()


def made_up(spread: np.ndarray, n_choices: int) -> tuple[SparseBlock, np.ndarray]:
    """Forty people whose weights differ so much, choosing from eight alternatives."""
    rng = np.random.default_rng(7)
    n, k, f = 40, 8, len(spread)
    own = np.array([-1.0, 0.5, 0.2])[:f] + spread * rng.normal(size=(n, f))
    features = rng.normal(size=(n, n_choices, k, f))
    scores = np.einsum("pnkf,pf->pnk", features, own)
    took = (scores + rng.gumbel(size=scores.shape)).argmax(axis=-1)
    picked = np.take_along_axis(features, took[..., None, None], axis=2)[:, :, 0]
    total = n * n_choices
    made = SparseBlock(
        names=NAMES[:f], people=tuple(f"p{i}" for i in range(n)),
        first_choice=np.arange(n + 1) * n_choices, first_alternative=np.arange(total + 1) * k,
        weight=np.ones(total), took=np.arange(total) * k + took.ravel(), offset=np.zeros(0),
        filled=np.ascontiguousarray(features.reshape(-1, f).T), filled_name=np.arange(f),
        first_entry=np.zeros(total + 1, dtype=np.int64), place=np.zeros(0, dtype=np.uint16),
        name=np.zeros(0, dtype=np.uint16), value=np.zeros(0), chosen=picked.sum(axis=1),
        chosen_offset=np.zeros(n), most_choices=n_choices,
    )  # fmt: skip
    return made, own


def test_a_population_is_found_roughly() -> None:
    """Means and spreads of people who choose often, near what they were made with."""
    spread = np.array([0.4, 0.25, 0.05])
    many, own = made_up(spread, 120)
    priors = Priors(small_model().weights, factor=2.0)
    told = rough_population(many, priors, NAMES, np.array([-1.0, 0.5, 0.2]))
    error = np.sqrt(np.diag(told.root @ told.root.T))
    assert (np.abs(told.mean - own.mean(axis=0)) < 3.0 * error).all()
    assert error[:2] == pytest.approx(own.std(axis=0)[:2] / np.sqrt(40), rel=0.25)
    assert (np.abs(told.spread - own.std(axis=0)) < 3.0 * told.width).all()
    assert (told.width < 0.5 * spread.max()).all()
    assert told.score == pytest.approx(many.score(told.at))
    nobody = rough_population(many, priors, (), told.at)
    assert (nobody.spread.shape, nobody.score.shape) == ((0,), (40, 0))


def test_a_rough_spread_is_the_one_of_normal_choices() -> None:
    """Against an integral over the spread made here, where the square form is exact.

    Forty people, one normal observation each of known precision, the mean being known.
    """
    rng = np.random.default_rng(3)
    precision = rng.uniform(2.0, 30.0, 40)
    seen = 0.4 * rng.normal(size=40) + rng.normal(size=40) / np.sqrt(precision)
    spread, width = _spreads((precision * seen)[:, None], precision[:, None])
    tried = np.linspace(1e-5, 3.0, 30_001)
    sd = np.sqrt(tried[:, None] ** 2 + 1.0 / precision)
    seen_so = np.asarray(norm.logpdf(seen, 0.0, sd)).sum(axis=1)
    density = np.exp(seen_so - 0.5 * (tried / SPREAD_WIDTH) ** 2)
    mean = (density * tried).sum() / density.sum()
    square = (density * (tried - tried[density.argmax()]) ** 2).sum() / density.sum()
    assert spread == pytest.approx([mean], rel=1e-3)
    assert width == pytest.approx([np.sqrt(square)], rel=0.01)


def stored(folder: Path) -> ModelCard:
    """A tuned model on disk, and its card."""
    model = small_model()
    knobs = Knobs(elsewhere=0.2, shift=-1.0, use=1.2)
    weights = replace(turned(model.weights, knobs), name="tuned", measured=True)
    card = ModelCard(
        name="tuned", command="handread fit && handread study tune", games={"games": 4},
        card_name="small", card_hash=model.card.hash, versions=versions_of(model),
        made_with={"numpy": "2"}, method="by the mode",
        diagnostics={
            "added_to_elsewhere": 0.2, "factor_of_use": 1.2, "shift_of_log_odds_of_leaving": -1.0,
        },
    )  # fmt: skip
    save_model(folder, model, weights, [Estimate("use.pair", -2.2, 0.1, -2.2, 9.0)], card)
    return card


def test_draws_go_beside_weights_that_stay(tmp_path: Path) -> None:
    folder = tmp_path / "tuned"
    card, before = stored(folder), (tmp_path / "tuned" / "weights.toml")
    content, gathered = before.read_bytes(), Gathered((), {"games": 7})
    at = as_fitted(load_weights(before), card)
    assert at["use"]["scale_late"] == pytest.approx(small_model().weights["use"]["scale_late"])
    for block, name in (("hazard", "base"), ("elsewhere", "power")):
        assert at[block][name] == pytest.approx(small_model().weights[block][name])
    found, _ = normal_fit(Priors(small_model().weights), n=900)
    unsound = replace(found, diagnosis=replace(SOUND, rhat=1.2))
    command = "handread fit --onto models/tuned --people 20"
    told = card_with(card, found, at, gathered, command)
    with pytest.raises(HandreadError, match="not saved"):
        add_draws(folder, told, unsound, "")
    assert not (folder / "draws.npz").exists()
    checks = checks_text(
        found, at, [exchange_prior(found, Priors(small_model().weights), 2.0)],
        [Predicted("flowers", 0.05, (0.0, 0.1, 0.2), (0.04, 0.05, 0.06))], 7,
    )  # fmt: skip
    add_draws(folder, told, found, checks)
    assert before.read_bytes() == content
    with np.load(folder / "draws.npz") as held:
        assert held["mean"].shape == (KEPT_DRAWS, 3)
    again = load_card(folder)
    assert again.command == f"handread fit && handread study tune && {command}"
    assert again.diagnostics["sampling_processor_seconds"] == 3.0
    assert (again.diagnostics["people"], again.games["club_games"]) == (20, 7)
    twice = card_with(again, found, at, gathered, command)
    assert (twice.command, twice.method) == (again.command, again.method)
    made = tomllib.loads((folder / "checks.toml").read_text())
    assert made["play"]["inside"] == 1
    assert made["weights"]["use"]["pair"]["mode"] == pytest.approx(-2.2)
    assert "wider" in made["weights"]["availability"]["power"]


def test_a_plan_beside_a_model_says_its_command(tmp_path: Path) -> None:
    plan = FitPlan(Path("x"), onto=Path("models/tuned"), people=20, choices=50, seed=3)
    assert plan.command == (
        "handread fit --onto models/tuned --people 20 --choices 50 --seed 3 --card house"
    )
    assert plan.work_folder.name == "tuned-work"
    app = Typer()
    app.command()(fit)
    stored(tmp_path / "tuned")
    result = CliRunner().invoke(app, ["--onto", str(tmp_path / "tuned"), "--card", "small"])
    assert isinstance(result.exception, HandreadError)
    assert "accepted: 1 or more" in str(result.exception)
