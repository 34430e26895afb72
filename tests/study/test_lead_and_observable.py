"""Lead by plain loops, and forecasts of observable events."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from handread.errors import HandreadError
from handread.study import discrimination, lead_curve, observable_skill, small_calibration

Floats = np.ndarray
THRESHOLDS = (0.3, 0.5, 0.7)


def plain_lead(
    prob: Floats, truth: Floats, game: Floats, seat: Floats, turn: Floats, q: float
) -> tuple[float, float, float, float]:  # fmt: skip
    """Lead, share found, share of games and of seats with a wrong row above q, by loops."""
    per_game: dict[int, list[tuple[float, bool, bool]]] = {}
    for g in np.unique(game):
        for s in np.unique(seat[game == g]):
            rows = sorted(np.flatnonzero((game == g) & (seat == s)), key=lambda i: (turn[i], i))
            since = None
            for i in rows:
                if prob[i] @ truth[i] > q:
                    since = turn[i] if since is None else since
                else:
                    since = None
            turns = 0.0 if since is None else turn[rows[-1]] - since + 1.0
            wrong = any((prob[i][truth[i] == 0.0] > q).any() for i in rows)
            per_game.setdefault(int(g), []).append((turns, since is not None, wrong))
    means = [np.mean(np.array(seats, dtype=float), axis=0) for seats in per_game.values()]
    lead, found, wrong_seat = np.mean(means, axis=0)
    wrong_game = np.mean([any(w for _, _, w in seats) for seats in per_game.values()])
    return lead, found, float(wrong_game), wrong_seat


@given(st.integers(0, 100_000))
@settings(max_examples=40)
def test_lead_is_what_plain_loops_find(seed: int) -> None:
    rng = np.random.default_rng(seed)
    n = int(rng.integers(6, 40))
    game = np.concatenate([[0, 1], rng.integers(4, size=n - 2)])
    seat = np.array(["East", "West"])[rng.integers(2, size=n)]
    turn = rng.integers(1, 8, size=n)  # not in order, and shared by several moments
    prob = rng.dirichlet(np.ones(3) * 0.5, size=n)
    truth = np.where(rng.random((n, 1)) < 0.8, np.eye(3)[rng.integers(3, size=n)], [0.5, 0.5, 0.0])
    told = lead_curve(
        prob, truth, game=game, seat=seat, own_turn=turn, rng=rng, thresholds=THRESHOLDS,
        resamples=20,
    )  # fmt: skip
    for place, q in enumerate(THRESHOLDS):
        curves = (told.lead, told.ever_found, told.wrong_game, told.wrong_seat)
        found = tuple(curve[place] for curve in curves)
        assert found == pytest.approx(plain_lead(prob, truth, game, seat, turn, q), abs=1e-12)


def test_a_relapse_starts_the_lead_again() -> None:
    """Above at turns 1 and 2, below at 3, above at 4 and 5: the lead is two turns."""
    right = np.array([0.9, 0.9, 0.2, 0.9, 0.9])
    prob = np.tile(np.stack([right, 1 - right], axis=1), (2, 1))
    told = lead_curve(
        prob, np.tile([1, 0], (10, 1)), game=np.repeat([1, 2], 5), seat=["East"] * 10,
        own_turn=np.tile(np.arange(1, 6), 2), rng=np.random.default_rng(0), thresholds=[0.5, 0.95],
    )  # fmt: skip
    assert told.lead.tolist() == [2.0, 0.0]
    assert told.wrong_game.tolist() == [1.0, 0.0]  # at turn 3 the wrong row stood at 0.8
    assert (told.n_games, told.n_seats) == (2, 2)


def test_lead_and_false_alarms_fall_with_the_threshold() -> None:
    rng = np.random.default_rng(5)
    prob = rng.dirichlet(np.ones(4) * 0.4, size=400)
    truth = np.eye(4)[rng.integers(4, size=400)]
    told = lead_curve(
        prob, truth, game=np.arange(400) // 20, seat=np.arange(400) // 10 % 2,
        own_turn=np.arange(400) % 10, rng=rng,
    )  # fmt: skip
    for curve in (told.lead, told.ever_found, told.wrong_game, told.wrong_seat):
        assert (np.diff(curve) <= 1e-12).all()
    assert (told.lead_low <= told.lead).all()
    assert (told.lead <= told.lead_high).all()


# --- observable events ---


def watched(seed: int, n: int = 6000) -> tuple[np.ndarray, np.ndarray, np.ndarray, np.ndarray]:
    """True chances of a rare event, base, what happened, game."""
    rng = np.random.default_rng(seed)
    chance = np.clip(rng.beta(0.5, 8.0, size=n), 0.001, 0.9)
    event = (rng.random(n) < chance).astype(float)
    return chance, np.full(n, chance.mean()), event, np.arange(n) // 12


def test_skills_are_shares_of_the_base_that_are_saved() -> None:
    chance, base, event, game = watched(1)
    told = observable_skill(chance, base, event, game=game, rng=np.random.default_rng(0))
    loss = -(event * np.log2(chance) + (1 - event) * np.log2(1 - chance)).mean()
    of_base = -(event * np.log2(base) + (1 - event) * np.log2(1 - base)).mean()
    assert told.log_gain.value == pytest.approx(of_base - loss, abs=1e-12)
    assert told.log_skill.value == pytest.approx(1 - loss / of_base, abs=1e-12)
    square = 1 - ((event - chance) ** 2).mean() / ((event - base) ** 2).mean()
    assert told.brier_skill.value == pytest.approx(square, abs=1e-12)
    assert told.event_rate.value == pytest.approx(event.mean(), abs=1e-12)
    assert told.log_gain.low > 0.0
    none = observable_skill(base, base, event, game=game, rng=np.random.default_rng(0))
    assert none.log_gain.value == none.log_skill.value == none.brier_skill.value == 0.0


def test_small_probabilities_that_are_right_and_halved() -> None:
    """Halved, twice as many happen as were announced."""
    chance, _, event, game = watched(2, n=24_000)
    small = chance <= 0.15
    rng = np.random.default_rng(0)
    right = small_calibration(chance, event, game=game, rng=rng)
    assert right.observed_over_stated is not None
    assert (
        abs(right.observed_over_stated.value - 1) < 3.5 * right.observed_over_stated.standard_error
    )
    assert abs(right.excess.value) < 3.5 * right.excess.standard_error
    assert right.moments.sum() == small.sum()
    assert right.events.sum() == event[small].sum()
    held = (right.observed_low <= right.stated) & (right.stated <= right.observed_high)
    assert held.sum() >= 4
    halved = small_calibration(
        chance[small] / 2, event[small], game=game[small], rng=rng, edges=(0, 0.01, 0.03, 0.15)
    )
    assert halved.observed_over_stated is not None
    error = halved.observed_over_stated.standard_error
    assert abs(halved.observed_over_stated.value - 2.0) < 3.5 * error
    assert halved.excess.low > 0.0


def test_bins_without_games_have_no_figures() -> None:
    told = small_calibration(
        [0.005, 0.12, 0.9], [0, 0, 1], game=[1, 2, 3], rng=np.random.default_rng(0)
    )
    assert told.moments.tolist() == [1, 0, 0, 0, 1]
    assert np.isnan(told.observed[1:4]).all()
    assert np.isnan(told.observed_low).all()
    assert told.observed_over_stated is None
    with pytest.raises(HandreadError, match=r"no moment has prob from 0\.0 to 0\.15"):
        small_calibration([0.5], [1], game=[1], rng=np.random.default_rng(0))


def test_a_base_that_rules_out_what_happens_is_refused() -> None:
    with pytest.raises(HandreadError, match=r"base is 0\.0 and event 1\.0 at moment 0"):
        observable_skill([0.5], [0.0], [1], game=[1], rng=np.random.default_rng(0))


@given(st.lists(st.tuples(st.integers(0, 5), st.booleans()), min_size=2, max_size=20))
@settings(max_examples=60)
def test_discrimination_counts_pairs(points: list[tuple[int, bool]]) -> None:
    prob, event = (
        np.array([p for p, _ in points]) / 5,
        np.array([e for _, e in points], dtype=float),
    )
    if not 0 < event.sum() < len(event):
        with pytest.raises(HandreadError, match="accepted: 0 and 1, both of them"):
            discrimination(prob, event)
        return
    yes, no = prob[event == 1], prob[event == 0]
    pairs = (yes[:, None] > no).mean() + 0.5 * (yes[:, None] == no).mean()
    assert discrimination(prob, event) == pytest.approx(pairs, abs=1e-12)
