"""Sums with slopes and curvatures, held to plain likelihoods and their differences."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest

from handread.clues import load_weights
from handread.clues.claims import SIZES
from handread.clues.redeems import redeem_probs
from handread.fitting import gathering
from handread.fitting.gathering import gather
from handread.fitting.mode import claims, climbing, fit_mode
from handread.fitting.mode.answers import fit_redeems, fit_wins, redeem_sums, win_probs, win_sums
from handread.fitting.mode.claims import ClaimRows, claim_numbers, fit_claims
from handread.fitting.mode.climbing import Sums, differences
from handread.fitting.mode.search import Estimate, search, unknowns
from handread.fitting.priors import Priors
from handread.fitting.sources import Played
from tests.fitting.games import SETTING, small_model

LORE = load_weights()
PRIORS = Priors(LORE)
REDEEMS = tuple(LORE["redeems"])


def windows(n: int, seed: int) -> dict[str, np.ndarray]:
    """Claim windows of every kind: shown, let pass, for another plan, without a plan."""
    rng = np.random.default_rng(seed)
    possible = rng.random((n, 18)) < 0.7
    loose = rng.integers(0, 4, n) * (rng.random(n) < 0.5)
    anew = (rng.random(n) < 0.3) & (loose == 0)
    sizes = rng.random((n, 4)) < 0.5
    opened = possible * (sizes / np.maximum(sizes.sum(axis=1), 1)[:, None])[:, SIZES - 3]
    opened[loose > 0] = possible[loose > 0]
    outcome = np.full(n, -1)
    for i in np.flatnonzero(rng.random(n) < 0.6):
        there = np.flatnonzero(possible[i] if anew[i] else opened[i])
        outcome[i] = rng.choice(there) if len(there) else -1
    held = {name: rng.dirichlet(np.ones(17), n).astype(np.float32) for name in claims.HELD}
    return held | {
        "outcome": outcome.astype(np.int8), "anew": anew & (outcome >= 0),
        "loose": loose.astype(np.int8), "turn": rng.integers(0, 24, n).astype(np.int16),
        "open": opened.astype(np.float32), "possible": possible,
        "weight": rng.uniform(0.2, 8.0, n).astype(np.float32),
    }  # fmt: skip


def redeems(n: int, seed: int) -> dict[str, np.ndarray]:
    """Offers of up to eight kinds, of which some are taken."""
    rng = np.random.default_rng(seed)
    held = rng.random((n, 8)) * (np.arange(8) < rng.integers(1, 9, n)[:, None])
    outcome = np.where(rng.random(n) < 0.3, rng.integers(0, 8, n), -1)
    outcome[(outcome >= 0) & (held[np.arange(n), outcome] == 0)] = 0
    return {
        "held": held.astype(np.float32), "weight": rng.uniform(0.1, 1.0, n).astype(np.float32),
        "rate": rng.integers(0, len(REDEEMS), (n, 8)).astype(np.int8),
        "outcome": outcome.astype(np.int8),
    }  # fmt: skip


def wins(n: int, seed: int) -> dict[str, np.ndarray]:
    """Tiles that would complete a plan, thrown and drawn, few of them won on."""
    rng = np.random.default_rng(seed)
    return {
        "weight": rng.uniform(0.1, 1.0, n).astype(np.float32), "happened": rng.random(n) < 0.1,
        "completes": rng.uniform(0.01, 1.0, n).astype(np.float32), "drawn": rng.random(n) < 0.4,
        "turn": rng.integers(0, 20, n).astype(np.int16),
        "exposed": rng.integers(0, 4, n).astype(np.int8),
    }  # fmt: skip


def agrees_with_differences(sums: Sums, at: np.ndarray, step: float = 1e-6) -> None:
    """Hold the slope of sums to differences of their total, and the curvature to the slope's."""
    _, slope, bend, _ = sums(at)
    size = max(1.0, float(np.abs(slope).max())), max(1.0, float(np.abs(bend).max()))
    for i in range(len(at)):
        up, down = at.copy(), at.copy()
        up[i] += step
        down[i] -= step
        above, below = sums(up), sums(down)
        assert slope[i] == pytest.approx((above[0] - below[0]) / (2 * step), abs=1e-6 * size[0])
        expected = -(above[1] - below[1]) / (2 * step)
        assert bend[i] == pytest.approx(expected, abs=1e-6 * size[1])


def test_a_look_at_claims_agrees_with_their_log_probabilities() -> None:
    columns, rng = windows(200, 1), np.random.default_rng(2)
    rows, weight = ClaimRows(columns), columns["weight"].astype(float)
    assert len({*columns["outcome"][columns["anew"]].tolist()}) > 6
    setting = {name: float(rng.uniform(0.1, 0.6)) for name in LORE["claims"]}
    setting |= {"held_copies": 0.7, "held_jokers": -0.4}
    numbers = claim_numbers(setting)

    def sums(at: np.ndarray) -> tuple[float, np.ndarray, np.ndarray, np.ndarray]:
        return rows.look(weight, at, 1)

    total, _, _, squares = sums(numbers)
    assert total == pytest.approx(weight @ rows.log_probs([setting])[0], rel=1e-12)
    agrees_with_differences(sums, numbers)

    def of(at: Callable[[dict[str, float]], np.ndarray], m: int) -> np.ndarray:
        values = np.array(list(setting.values()))
        return differences(
            lambda x: at(dict(zip(setting, x.tolist(), strict=True))), values, pull=np.zeros(m)
        )[0]

    moved, each = of(claim_numbers, 61), of(lambda s: rows.log_probs([s])[0], len(weight))
    assert moved @ squares @ moved.T == pytest.approx((each * weight) @ each.T, rel=1e-6, abs=1e-4)


def test_what_is_let_pass_bends_by_the_jokers_for_another_plan_too() -> None:
    """Each number on its own: beside the bends of groups shown, those by tilts are small."""
    columns = windows(60, 7)
    columns |= {"outcome": np.full(60, -1, np.int8), "loose": np.zeros(60, np.int8)}
    columns |= {"anew": np.zeros(60, bool), "open": np.zeros((60, 18), np.float32)}
    rows, weight = ClaimRows(columns), columns["weight"].astype(float)
    setting = dict(LORE["claims"]) | {"anew": 0.6, "held_copies": 0.7, "held_jokers": -0.4}
    numbers, step = claim_numbers(setting), 1e-4
    bend = rows.look(weight, numbers, 1)[2]
    for i in range(len(numbers)):
        up, down = numbers.copy(), numbers.copy()
        up[i] += step
        down[i] -= step
        above, below = (rows.look(weight, at, 1)[1] for at in (up, down))
        assert bend[i] == pytest.approx(-(above - below) / (2 * step), rel=1e-5, abs=1e-6)
    assert np.count_nonzero(np.abs(bend.diagonal()) > 0.1) > 3


def test_sums_of_redeems_agree_with_their_probabilities() -> None:
    columns = {name: values.astype(float) for name, values in redeems(60, 3).items()}
    held, weight = columns["held"], columns["weight"]
    rate, outcome = columns["rate"].astype(int), columns["outcome"].astype(int)
    outcome[0], held[0, 0] = 0, 0.0  # gave what it cannot hold: as good as impossible
    rates = np.random.default_rng(4).uniform(0.05, 0.8, len(REDEEMS))
    sums = redeem_sums(held, rate, outcome, weight)
    each, none = redeem_probs(held * rates[rate])
    prob = np.where(outcome < 0, none, each[np.arange(60), np.maximum(outcome, 0)])
    plain = float((weight * np.log(np.maximum(prob, 1e-300))).sum())
    assert sums(rates)[0] == pytest.approx(plain, rel=1e-12)
    agrees_with_differences(sums, rates)


def test_sums_of_wins_agree_with_their_probabilities() -> None:
    columns, weights = wins(300, 5), {**LORE["wins"], "in_error": 1e-4}
    completes, weight = columns["completes"].astype(float), columns["weight"].astype(float)
    place = np.random.default_rng(6).integers(0, 7, 300)
    chances = np.random.default_rng(7).uniform(0.1, 0.9, 7)
    prob = weights["in_error"] + chances[place] * completes
    sums = win_sums(completes, place, columns["happened"], weight, weights["in_error"])
    plain = float((weight * np.log(np.where(columns["happened"], prob, 1 - prob))).sum())
    assert sums(chances)[0] == pytest.approx(plain, rel=1e-12)
    agrees_with_differences(sums, chances)


def same(found: list[Estimate], plain: list[Estimate], within: float) -> None:
    """Hold estimates to others, in standard deviations."""
    assert [each.path for each in found] == [each.path for each in plain]
    for one, other in zip(found, plain, strict=True):
        assert one.value == pytest.approx(other.value, abs=within * other.sd), one.path


def test_fits_agree_with_a_search_that_takes_differences() -> None:
    columns = redeems(2000, 8)
    held, rate = columns["held"].astype(float), columns["rate"].astype(int)
    outcome, rows = columns["outcome"].astype(int), np.arange(2000)

    def of_redeems(weights: dict[str, float]) -> float:
        rates = np.array([weights[name] for name in REDEEMS])
        each, none = redeem_probs(held * rates[rate])
        prob = np.where(outcome < 0, none, each[rows, np.maximum(outcome, 0)])
        return float((columns["weight"] * np.log(prob)).sum())

    wanted = unknowns(PRIORS, "redeems", probabilities=REDEEMS)
    plain, found = search(of_redeems, wanted), fit_redeems(columns, PRIORS)
    same(found, plain, 1e-3)
    assert [each.sd for each in found] == pytest.approx([each.sd for each in plain], rel=1e-3)

    told = wins(3000, 9)

    def of_wins(weights: dict[str, float]) -> float:
        prob = win_probs(
            told["completes"].astype(float), told["drawn"], told["turn"], told["exposed"],
            {**LORE["wins"], **weights},
        )  # fmt: skip
        return float((told["weight"] * np.log(np.where(told["happened"], prob, 1 - prob))).sum())

    wanted = unknowns(PRIORS, "wins", probabilities=("takes", "draws_it"))
    plain, found = search(of_wins, wanted), fit_wins(told, PRIORS)
    same(found, plain, 1e-3)
    assert [each.sd for each in found] == pytest.approx([each.sd for each in plain], rel=1e-3)


def test_fits_of_claims_are_a_peak(monkeypatch: pytest.MonkeyPatch) -> None:
    columns, aims = windows(500, 10), {"how": np.zeros(0, int), "weight": np.zeros(0)}
    found = fit_claims(columns, PRIORS, aims)
    rows, weight = ClaimRows(columns), columns["weight"].astype(float)
    plain = PRIORS.centre["claims"]
    wanted = {each.path: each for each in unknowns(
        PRIORS, "claims", probabilities=[n for n in plain if n not in claims.TILTS]
    )}  # fmt: skip
    at = {each.path.split(".")[1]: each.value for each in found}

    def loss(path: str, away: float) -> float:
        each, name = wanted[path], path.split(".")[1]
        free = at[name] if each.link == "plain" else np.log(at[name] / (1 - at[name]))
        log_lik = weight @ rows.log_probs([{**plain, **at, name: each.value(free + away)}])[0]
        return float(0.5 * ((free + away - each.centre) / each.width) ** 2 - log_lik)

    for each in found:
        slope = (loss(each.path, 1e-5) - loss(each.path, -1e-5)) / 2e-5
        assert slope == pytest.approx(0.0, abs=1e-4), each.path
    monkeypatch.setattr(claims, "CHUNK", 37)
    monkeypatch.setattr(climbing, "MANY", 100)
    one, two = (fit_claims(columns, PRIORS, aims, n_workers=n) for n in (1, 2))
    assert one == two
    same(one, found, 1e-6)


def test_threads_change_no_bit_of_a_mode(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(gathering, "BLOCK", 1)
    monkeypatch.setattr(claims, "CHUNK", 20)
    model = small_model()
    gathered = gather(model, Played(SETTING, (3, 4, 5)), tmp_path / "g")
    one, two = (fit_mode(model, gathered, n_workers=n) for n in (1, 2))
    assert one.estimates == two.estimates
    assert one.throws == two.throws
    assert one.weights == two.weights
    monkeypatch.setattr("handread.fitting.mode.fit.MOST_BYTES", 10)  # read anew at every look
    assert fit_mode(model, gathered, n_workers=2).throws == one.throws
