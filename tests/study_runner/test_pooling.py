"""The pool of two readers: the best weight is found, and bound to what it was fitted with."""

from __future__ import annotations

import json
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

import handread as hr
from handread.errors import HandreadError
from handread.study import Moments, bits_log_score
from handread.study.forecasters import empty_training, forecaster_named
from handread.study.forecasters.stored import StoredReader, stored_reader
from handread.study.pooling import (
    Pool,
    PoolPlan,
    fit_pool,
    fit_weight,
    log_pool,
    stored_names,
)


def moments(prob: np.ndarray, truth: np.ndarray) -> Moments:
    n = len(prob)
    place = np.arange(n)
    return Moments(
        rows=("a", "b", "c"), prob=prob, truth=np.eye(3)[truth], game=place // 5,
        seat=np.zeros(n, dtype=int), event=place, own_turn=place % 5 + 1,
        turns_to_end=np.zeros(n, dtype=int), exposures=np.zeros(n, dtype=int),
    )  # fmt: skip


def two_views(n: int, sharp: tuple[float, float], seed: int) -> tuple[Moments, Moments]:
    """A truth seen twice through independent noise; each view states its exact posterior."""
    rng = np.random.default_rng(seed)
    truth = rng.integers(3, size=n)
    told = []
    for strength in sharp:
        heard = rng.normal(size=(n, 3)) * np.sqrt(strength)
        heard[np.arange(n), truth] += strength
        prob = np.exp(heard)
        told.append(moments(prob / prob.sum(axis=1, keepdims=True), truth))
    return told[0], told[1]


def test_the_weight_is_the_best_of_many() -> None:
    first, second = two_views(2000, (1.0, 1.0), 1)
    fit = fit_weight(first, second, rng=np.random.default_rng(2))
    scores = {
        w: float(first.index.means(
            bits_log_score(log_pool(first.prob, second.prob, w), first.truth)).mean())
        for w in np.linspace(0, 1, 201)
    }  # fmt: skip
    best = max(scores, key=lambda w: scores[w])
    assert fit.weight.value == pytest.approx(best, abs=0.006)
    assert fit.weight.low < 0.5 < fit.weight.high
    assert fit.gain_over_first == pytest.approx(max(scores.values()) - scores[0.0], abs=1e-4)
    assert fit.gain_over_first > 0.02
    assert fit.gain_over_second > 0.02


def test_a_reader_that_knows_nothing_more_gets_no_weight() -> None:
    first, _ = two_views(2000, (2.0, 2.0), 3)
    rng = np.random.default_rng(4)
    noise = rng.dirichlet([1.0, 1.0, 1.0], size=2000)
    fit = fit_weight(first, replace(first, prob=noise), rng=rng)
    assert fit.weight.value < 0.03
    assert abs(fit.gain_over_first) < 0.002
    same = fit_weight(first, first, rng=rng)
    assert same.gain_over_first == pytest.approx(0.0, abs=1e-12)
    with pytest.raises(HandreadError, match="the same moments"):
        fit_weight(first, first.where(first.game > 0), rng=rng)


def test_a_pool_by_hand() -> None:
    one, two = np.array([0.5, 0.25, 0.25]), np.array([0.1, 0.8, 0.1])
    raw = one**0.75 * two**0.25
    np.testing.assert_allclose(log_pool(one, two, 0.25), raw / raw.sum())
    np.testing.assert_allclose(log_pool(one, two, 0.0), one)
    np.testing.assert_allclose(log_pool(one, two, 1.0), two)
    veto = log_pool(np.array([0.0, 0.5, 0.5]), two, 0.5)
    assert veto[0] > 0
    with pytest.raises(HandreadError, match=r"weight=1\.5"):
        Pool(None, None, 1.5)  # type: ignore[arg-type]


def test_a_fitted_pool_is_stored_with_what_it_rests_on(tmp_path: Path) -> None:
    plan = PoolPlan(
        "floor", "elimination", card="small", training=2, games=3, models=(), peers=()
    )  # fmt: skip
    fit = fit_pool(plan, out=tmp_path / "pool", work=tmp_path / "work")
    held = stored_reader("pool", "pooled", str(tmp_path / "pool"))
    card = hr.load_card("small")
    training = empty_training(card)
    training = replace(training, rows=training.rows + 1.0)
    reader = forecaster_named("pooled", card, training, stored={"pooled": held})
    assert isinstance(reader, Pool)
    assert reader.weight == fit.weight.value
    watcher = reader.open(card, hr.Header())
    parts = [
        forecaster_named(name, card, training).open(card, hr.Header()).belief(1)  # type: ignore[union-attr]
        for name in ("floor", "elimination")
    ]
    np.testing.assert_allclose(watcher.belief(1), log_pool(*parts, reader.weight))
    told = json.loads((tmp_path / "pool" / "pool.json").read_text(encoding="utf-8"))
    assert told["plan"]["seed"] == plan.seed
    study = json.loads((tmp_path / "work" / "study.json").read_text(encoding="utf-8"))
    assert study["plan"]["purpose"] == "validation"
    other = dict(told, reader_hashes=["1234", ""])
    wrong = StoredReader("pooled", "pool", (("pool.json", json.dumps(other).encode()),))
    with pytest.raises(HandreadError, match="fit it anew: handread study pool"):
        forecaster_named("pooled", card, training, stored={"pooled": wrong})
    with pytest.raises(HandreadError, match="'pooled' is no pool"):
        forecaster_named(
            "pooled", card, training,
            stored={"pooled": StoredReader("pooled", "pool", (("pool.json", b"{}"),))},
        )  # fmt: skip


def test_a_pool_asks_members_who_sit_at_the_table(monkeypatch: pytest.MonkeyPatch) -> None:
    from handread.study.forecasters import BaseRates, Elimination
    from handread.study.running.bench import play_seed
    from handread.study.running.game import watch_game
    from handread.study.running.plan import StudyPlan

    card = hr.load_card("small")
    training = empty_training(card)
    training = replace(training, rows=training.rows + 1.0)
    first, second = BaseRates(training), Elimination(training)
    pool = Pool(first, second, 0.4)
    game = play_seed(StudyPlan(name="x", seed=1, card="small", test=2), 5)
    alone = watch_game(card, game, {"pooled": pool}, number=0)
    monkeypatch.setattr(Pool, "open", None)  # from here on it may not sit down by itself
    beside = watch_game(card, game, {"pooled": pool, "a": first, "b": second}, number=0)
    assert list(beside.beliefs) == ["pooled", "a", "b"]
    np.testing.assert_array_equal(alone.beliefs["pooled"], beside.beliefs["pooled"])
    parts = beside.beliefs["a"], beside.beliefs["b"]
    np.testing.assert_allclose(alone.beliefs["pooled"], log_pool(*map(np.array, parts), 0.4))


def test_names_of_folders_on_a_command_line() -> None:
    assert stored_names(None, "peer=peers/house") == (("peer", "peers/house"),)
    with pytest.raises(HandreadError, match="NAME=FOLDER"):
        stored_names(["peers/house"], "x=y")
