"""Checks in units of play: draws from the model look like the model, and like nothing else."""

from __future__ import annotations

from functools import lru_cache
from pathlib import Path

import numpy as np
import pytest

from handread.fitting.checks import prior_shifts, unit_ranges
from handread.fitting.gathering import gather
from handread.fitting.mode import fit_mode
from handread.fitting.mode.throws import ThrowProblem, Throws, fit_throws, sums
from handread.fitting.posterior.compare import log_lik_by_game, worth_of_clues
from handread.fitting.posterior.units import (
    groups_shown,
    predicted_units,
    show_again,
    throw_again,
    thrown,
    units_of,
)
from handread.fitting.priors import Priors
from handread.fitting.sources import Played
from handread.fitting.tables import GameTables, joined
from handread.fitting.walk import walk_game
from handread.table.events import Discard, Expose
from handread.tiles import FIRST_WIND, FLOWER
from tests.fitting.games import SETTING, small_design, small_game, small_model

SEEDS = (3, 4, 5, 6)


@lru_cache(maxsize=1)
def tables() -> GameTables:
    return joined([walk_game(small_design(), small_game(seed)) for seed in SEEDS])


def test_kinds_drawn_have_the_probabilities_of_the_model() -> None:
    throws, basis, weights = tables().throws, small_design().basis, small_model().weights.blocks
    rng = np.random.default_rng(1)
    some = throws.take(np.arange(3))
    counts = np.zeros((3, 36))
    for _ in range(4000):
        counts[np.arange(3), throw_again(some, basis, weights, rng=rng)] += 1
    for c in range(3):
        kinds, dense = some.dense(c, len(basis.products))
        here = slice(int(some.first_alternative[c]), int(some.first_alternative[c + 1]))
        scores = dense @ basis.values(weights) + some.log_reach[here] + some.constant[here]
        prob = np.exp(scores - np.logaddexp.reduce(scores))
        error = np.sqrt(prob * (1 - prob) / 4000) + 1e-3
        assert (np.abs(counts[c, kinds] / 4000 - prob) < 4.5 * error).all()


def test_units_are_counted_as_players_would() -> None:
    throws = tables().throws
    found = units_of(throws, thrown(throws))
    whole = throws.weight == 1.0
    kinds = thrown(throws)[whole]
    first = kinds[throws.turn[whole] == 0]
    share = np.mean((first >= FIRST_WIND) & (first < FLOWER))
    assert found.winds_and_dragons[0] == pytest.approx(share, abs=0.15)
    turns = []
    for seed in SEEDS:
        for seat in range(4):
            own = [e.kind for e in small_game(seed).record.events
                   if isinstance(e, Discard) and e.seat == seat]  # fmt: skip
            turns += [own.index(FLOWER) + 1] if FLOWER in own else []
    assert found.first_flower == pytest.approx(np.mean(turns), abs=0.8)


def test_groups_shown_are_those_of_the_records() -> None:
    told = groups_shown(tables().columns["claims"], len(SEEDS))
    events = [e for seed in SEEDS for e in small_game(seed).record.events]
    assert told == pytest.approx(sum(isinstance(e, Expose) for e in events) / len(SEEDS), abs=0.6)


def test_predictions_of_groups_average_to_the_sum_of_their_chances() -> None:
    claims, weights = tables().columns["claims"], small_model().weights["claims"]
    rng = np.random.default_rng(3)
    drawn = np.mean([show_again(claims, weights, len(SEEDS), rng=rng) for _ in range(300)])
    none = dict.fromkeys(weights, 0.0)
    assert show_again(claims, none, len(SEEDS), rng=rng) == 0.0
    assert 0.2 < drawn < 12
    units = predicted_units(
        tables().throws, claims, len(SEEDS), small_design().basis, [small_model().weights.blocks],
        rng=rng,
    )  # fmt: skip
    assert np.isfinite(units[0].groups)
    assert ((units[0].winds_and_dragons >= 0) & (units[0].winds_and_dragons <= 1)).all()


def test_log_likelihoods_by_game_add_up() -> None:
    throws = Throws([tables().throws])
    priors = Priors(small_model().weights)
    problem = ThrowProblem(small_design().basis, priors)
    fit = fit_throws(small_design().basis, priors, throws)
    tight = type(fit)(fit.estimates, fit.paths, fit.covariance * 1e-12, fit.log_lik, fit.weight)
    by_game = log_lik_by_game(problem, tight, throws, n_draws=2, rng=np.random.default_rng(1))
    assert by_game.shape == (2, len(SEEDS))
    assert by_game.sum(axis=1) == pytest.approx(fit.log_lik, abs=1e-2)
    products, power = problem.products(np.array([each.value for each in fit.estimates]))
    assert sums(tables().throws, products, power)[0] == pytest.approx(fit.log_lik)


@pytest.mark.slow
def test_a_clue_that_matters_is_worth_something() -> None:
    pytest.importorskip("arviz")
    many = joined([walk_game(small_design(), small_game(seed)) for seed in range(100)])
    told = worth_of_clues(
        small_design().basis, Priors(small_model().weights), Throws([many.throws]),
        rng=np.random.default_rng(1),
    )  # fmt: skip
    by_name = {each.name: each for each in told}
    assert by_name[""].difference == 0.0
    assert by_name["use"].difference > 3 * by_name["use"].standard_error
    assert max(each.worst_k for each in told) < 1.0


def test_checks_predict_the_games_better_after_the_fit(tmp_path: Path) -> None:
    model, priors = small_model(), Priors(small_model().weights)
    gathered = gather(model, Played(SETTING, SEEDS), tmp_path / "g")
    fit = fit_mode(model, gathered, priors=priors)
    rng = np.random.default_rng(5)
    told = unit_ranges(model, gathered, fit, priors, n_draws=8, rng=rng)
    names = [each.name for each in told]
    assert "first flower" in names
    assert "winds and dragons, own turn 1" in names
    by_name = {each.name: each for each in told}
    groups = by_name["groups"]
    assert groups.seen == pytest.approx(
        groups_shown(tables().columns["claims"], len(SEEDS)), abs=1e-6
    )
    for each in told:
        assert each.levels == (0.05, 0.5, 0.95)
        low, middle, high = each.posterior
        assert np.isnan(each.seen) or low <= middle <= high
    # priors leave more open than the games do
    wide = by_name["winds and dragons, own turn 1"]
    assert wide.prior[2] - wide.prior[0] > wide.posterior[2] - wide.posterior[0]
    moved = prior_shifts(model, gathered, fit, priors)
    assert abs(moved[0].shift) >= abs(moved[-1].shift)
    assert {each.path for each in moved} == {each.path for each in fit.estimates}
