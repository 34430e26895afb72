"""Forecasters of known fault get the verdict that theory gives.

A verdict is held to its own standard error: 3.5 of them, about one false alarm in 2,000.
"""

from __future__ import annotations

from itertools import product

import numpy as np
import pytest

from handread.study import (
    Estimate,
    Honesty,
    bits_claimed,
    bits_gain,
    bits_log_score,
    bits_realised,
    calibration_power,
    honesty,
    null_band,
    one_moment_per_game,
    paired_difference,
    randomised_pit,
    reliability_by_row,
    reliability_of_top,
    set_coverage,
    stated_top,
    tempered,
    top_label_error,
    uniform_test,
)
from tests.study.toys import CHANNEL, N_ROWS, SECOND, UNEVEN, UNIFORM, World, make_world

Floats = np.ndarray
ERRORS = 3.5


@pytest.fixture(scope="module")
def world() -> World:
    return make_world(rng=np.random.default_rng(1906))


@pytest.fixture(scope="module")
def flat_world() -> World:
    return make_world(rng=np.random.default_rng(1907), prior=UNIFORM)


def rng() -> np.random.Generator:
    return np.random.default_rng(8)


def near(figure: Estimate, expected: float) -> bool:
    return abs(figure.value - expected) < ERRORS * figure.standard_error


def clearly_above(figure: Estimate, expected: float) -> bool:
    return figure.value - expected > 5.0 * figure.standard_error


def honesty_of(world: World, after: Floats) -> Honesty:
    before = world.before(after)
    claimed = bits_claimed(before, after)
    realised = bits_realised(before, after, world.truth)
    return honesty(claimed, realised, game=world.game, rng=rng())


# --- the exact posterior: nothing is wrong with it ---


def test_exact_posterior_is_calibrated(world: World) -> None:
    prob, truth, game = world.exact, world.truth, world.game
    assert near(calibration_power(prob, truth, game=game, rng=rng()).power, 1.0)
    told = honesty_of(world, prob)
    assert told.ratio is not None
    assert near(told.ratio, 1.0)
    assert near(told.difference, 0.0)
    assert top_label_error(prob, truth, game=game, rng=rng()).p_value > 0.001
    assert null_band(*stated_top(prob, truth), game=game, rng=rng(), resamples=200).p_value > 0.005
    for sets in set_coverage(prob, truth, game=game, rng=rng()):
        assert near(sets.excess, 0.0)
        assert near(sets.randomised_covered, sets.level)
    one = one_moment_per_game(game, rng=rng())
    pit = randomised_pit(prob[one], truth[one], rng=rng())
    assert uniform_test(pit, game=game[one]).p_value > 0.001


def test_exact_posterior_realises_the_information_of_the_channel(world: World) -> None:
    """At the first turn the gain is the mutual information of row and symbol."""
    joint = UNEVEN[:, None] * CHANNEL
    symbol = joint.sum(axis=0)
    expected = (joint * np.log2(CHANNEL / symbol)).sum()
    first = world.turn == 1
    told = honesty(
        bits_claimed(world.base[first], world.exact[first]),
        bits_realised(world.base[first], world.exact[first], world.truth[first]),
        game=world.game[first], rng=rng(),
    )  # fmt: skip
    assert near(told.claimed, 2 * expected)  # two seats a game
    assert near(told.realised, 2 * expected)


# --- sharpened and flattened by known powers ---


@pytest.mark.parametrize("power", [2.0, 0.5, 1.25])
def test_calibration_power_undoes_a_known_power(world: World, power: float) -> None:
    """The best power of p^a is the best power of p over a, exactly, on the same games."""
    honest = calibration_power(world.exact, world.truth, game=world.game, rng=rng())
    bent = tempered(world.exact, power)
    told = calibration_power(bent, world.truth, game=world.game, rng=rng())
    assert told.power.value == pytest.approx(honest.power.value / power, rel=1e-6)
    assert near(told.power, 1.0 / power)
    # folds, from other games, find nearly the same, and it pays in games that they did not see
    assert told.fold_powers == pytest.approx([1.0 / power] * 5, rel=0.1)
    assert clearly_above(told.held_out_gain, 0.0)
    # what it gains is what was lost by bending
    lost = bits_log_score(world.exact, world.truth) - bits_log_score(bent, world.truth)
    assert told.held_out_gain.value == pytest.approx(lost.mean(), abs=0.003)


def test_sharpened_is_found_overconfident(world: World) -> None:
    prob = tempered(world.exact, 2.0)
    told = honesty_of(world, prob)
    assert told.ratio is not None
    assert clearly_above(told.ratio, 1.0)
    assert clearly_above(told.difference, 0.0)
    assert top_label_error(prob, world.truth, game=world.game, rng=rng()).p_value < 0.001
    half = set_coverage(prob, world.truth, game=world.game, rng=rng())[0]
    assert half.excess.high < 0.0
    assert half.randomised_covered.high < 0.5
    curve = reliability_of_top(prob, world.truth, game=world.game)
    assert curve.at([0.9])[0] < 0.85  # when it says 0.9 it is right less often


def test_flattened_is_found_shy(world: World) -> None:
    prob = tempered(world.exact, 0.5)
    told = honesty_of(world, prob)
    assert told.ratio is not None
    assert told.ratio.high < 1.0
    assert told.difference.high < 0.0
    assert top_label_error(prob, world.truth, game=world.game, rng=rng()).p_value < 0.001
    half = set_coverage(prob, world.truth, game=world.game, rng=rng())[0]
    assert half.excess.low > 0.0
    assert half.randomised_covered.low > 0.5


def test_size_of_the_calibration_error_is_found_without_bias() -> None:
    """Yes-or-no forecasts 0.1 too high everywhere: the error is 0.1, whatever the number of games.

    The plain error has a bias of about the variance of a bin's mean over its games, which
    splitting removes: over 200 small studies the mean of the squares must be 0.01.
    """
    from handread.study import calibration_error

    draw = np.random.default_rng(55)
    squares, plain = [], []
    for _ in range(200):
        chance = draw.uniform(0.2, 0.8, size=80)
        event = (draw.random(80) < chance - 0.1).astype(float)
        told = calibration_error(
            chance, event, edges=np.linspace(0, 1, 11), game=np.arange(80) // 2, rng=draw,
            resamples=20,
        )  # fmt: skip
        squares.append(told.squared)
        plain.append(told.plain**2)
    spread = np.std(squares) / np.sqrt(200)
    assert abs(np.mean(squares) - 0.01) < ERRORS * spread
    assert np.mean(plain) > 0.01 + 10 * spread


# --- constant ---


def test_constant_base_rates_are_calibrated_and_know_nothing(world: World) -> None:
    prob = world.base
    assert (bits_gain(prob, UNEVEN, world.truth) == 0.0).all()
    told = honesty_of(world, prob)
    assert told.ratio is None  # nothing over nothing is no verdict
    assert told.claimed.value == told.realised.value == 0.0
    curve = reliability_of_top(prob, world.truth, game=world.game)
    assert curve.brier.discrimination == pytest.approx(0.0, abs=1e-12)
    assert near(calibration_power(prob, world.truth, game=world.game, rng=rng()).power, 1.0)
    assert top_label_error(prob, world.truth, game=world.game, rng=rng()).p_value > 0.001


def test_constant_wrong_rates_are_miscalibrated_by_the_square_of_the_fault(world: World) -> None:
    wrong = np.array([0.2, 0.4, 0.2, 0.15, 0.05])
    prob = np.broadcast_to(wrong, world.base.shape)
    rates = world.truth.mean(axis=0)
    for row, curve in enumerate(reliability_by_row(prob, world.truth, game=world.game)):
        assert curve.brier.miscalibration == pytest.approx((wrong - rates)[row] ** 2, abs=1e-12)
        assert curve.brier.discrimination == pytest.approx(0.0, abs=1e-12)
    # the gain over the true rates is minus their divergence, in expectation
    expected = -(UNEVEN * np.log2(UNEVEN / wrong)).sum()
    gap = paired_difference(
        bits_log_score(prob, world.truth), bits_log_score(world.base, world.truth),
        game=world.game, rng=rng(), unit="bits",
    )  # fmt: skip
    assert near(gap.difference, expected)


# --- two overlapping channels multiplied ---


def test_the_same_channel_twice_has_half_the_power(flat_world: World) -> None:
    """With a flat prior the posterior of doubled evidence is the square of the honest one."""
    twice = tempered(flat_world.exact, 2.0)
    logs = np.log(flat_world.exact)
    raised = np.exp(2.0 * logs)
    assert twice == pytest.approx(raised / raised.sum(axis=1, keepdims=True), abs=1e-12)
    told = calibration_power(twice, flat_world.truth, game=flat_world.game, rng=rng())
    assert near(told.power, 0.5)


def test_overlapping_channels_claim_what_enumeration_says() -> None:
    """Claimed and realised bits of the first turn, summed exactly over rows and symbols."""
    world = make_world(rng=np.random.default_rng(1908), games=20_000, turns=1)
    claimed = realised = 0.0
    both = np.einsum("k,ka,ab->kab", UNEVEN, CHANNEL, 0.8 * np.eye(4) + 0.05)
    for a, b in product(range(4), repeat=2):
        after = UNEVEN * CHANNEL[:, a] * SECOND[:, b]
        after /= after.sum()
        change = np.log2(after / UNEVEN)
        claimed += both[:, a, b].sum() * (after @ change)
        realised += both[:, a, b] @ change
    told = honesty_of(world, world.doubled)
    assert near(told.claimed, 2 * claimed)
    assert near(told.realised, 2 * realised)
    assert claimed / realised > 1.5  # what theory says of the ratio of this world
    assert told.ratio is not None
    assert near(told.ratio, claimed / realised)
    assert told.ratio.low > 1.0


def test_overlapping_channels_are_found_by_every_verdict(world: World) -> None:
    prob = world.doubled
    assert calibration_power(prob, world.truth, game=world.game, rng=rng()).power.high < 0.8
    told = honesty_of(world, prob)
    assert told.ratio is not None
    assert clearly_above(told.ratio, 1.0)
    gap = paired_difference(
        bits_log_score(prob, world.truth), bits_log_score(world.exact, world.truth),
        game=world.game, rng=rng(), unit="bits",
    )  # fmt: skip
    assert gap.difference.high < 0.0


# --- one that peeks at the truth half the time ---


def test_a_peeker_is_calibrated_and_knows_too_much(world: World) -> None:
    """Honest about what he knows, he passes every test of calibration.

    What gives him away is the ideal observer: he is above it by half of the entropy that the
    exact posterior has left, and nobody who looks at the table alone can be.
    """
    seen = np.repeat(np.random.default_rng(4).random((len(world.row), 2)) < 0.5, 6)
    prob = np.where(seen[:, None], world.truth, world.exact)
    assert near(calibration_power(prob, world.truth, game=world.game, rng=rng()).power, 1.0)
    assert top_label_error(prob, world.truth, game=world.game, rng=rng()).p_value > 0.001
    for sets in set_coverage(prob, world.truth, game=world.game, rng=rng()):
        assert near(sets.randomised_covered, sets.level)
    exact = world.exact
    left = -(exact * np.log2(exact)).sum(axis=1).mean()
    gap = paired_difference(
        bits_log_score(prob, world.truth), bits_log_score(exact, world.truth),
        game=world.game, rng=rng(), unit="bits",
    )  # fmt: skip
    assert near(gap.difference, left / 2.0)
    assert clearly_above(gap.difference, 0.0)


def test_a_peeker_who_hides_it_is_found_shy(world: World) -> None:
    """Half a posterior and half the truth, always: what he names he gives too little."""
    prob = 0.5 * world.exact + 0.5 * world.truth
    assert (
        calibration_power(prob, world.truth, game=world.game, rng=rng()).power.low > 1.0
    )  # fmt: skip
    told = honesty_of(world, prob)
    assert told.ratio is not None
    assert told.ratio.high < 1.0
    half = set_coverage(prob, world.truth, game=world.game, rng=rng())[0]
    assert half.covered.value == 1.0


# --- the verdicts themselves have the false alarms that they state ---


def test_null_bands_raise_the_false_alarms_that_they_state() -> None:
    """300 calibrated studies of 50 games whose moments depend: alarms at 5 % in 5 %.

    The two seats share a truth half of the time and turns share it always, so a null that
    flips moments one by one is far too narrow.
    """
    studies, alarms, naive, curve = 300, 0, 0, 0
    for study in range(studies):
        draw = np.random.default_rng([11, study])
        world = make_world(rng=draw, games=50)
        prob, truth = world.exact, world.truth
        told = top_label_error(prob, truth, game=world.game, rng=draw, resamples=199)
        alarms += told.p_value <= 0.05
        each = np.arange(len(world.game))
        naive += top_label_error(prob, truth, game=each, rng=draw, resamples=199).p_value <= 0.05
        stated, right = stated_top(prob, truth)
        band = null_band(stated, right, game=world.game, rng=draw, resamples=99)
        curve += band.p_value <= 0.05
    # standard error of 0.05 over 300 studies: 0.0126
    assert abs(alarms / studies - 0.05) < 0.04
    assert abs(curve / studies - 0.05) < 0.04
    assert naive / studies > 0.05 + 5 * 0.0126


def test_intervals_of_power_and_honesty_cover() -> None:
    """200 calibrated studies of 240 games: 95 % intervals hold 1 in 95 % (standard error 1.5 %)."""
    held = np.zeros(3)
    for study in range(200):
        draw = np.random.default_rng([12, study])
        world = make_world(rng=draw, games=240, turns=4)
        power = calibration_power(
            world.exact, world.truth, game=world.game, rng=draw, resamples=300, folds=2
        ).power
        before = world.before(world.exact)
        told = honesty(
            bits_claimed(before, world.exact),
            bits_realised(before, world.exact, world.truth),
            game=world.game, rng=draw, resamples=300,
        )  # fmt: skip
        assert told.ratio is not None
        for place, (figure, true) in enumerate(
            [(power, 1.0), (told.difference, 0.0), (told.ratio, 1.0)]
        ):
            held[place] += figure.low <= true <= figure.high
    assert (np.abs(held / 200 - 0.95) < 0.05).all(), held / 200


def test_the_toy_world_is_what_it_says() -> None:
    assert CHANNEL.sum(axis=1) == pytest.approx(np.ones(N_ROWS))
    world = make_world(rng=np.random.default_rng(2), games=20_000, turns=1)
    for row in range(N_ROWS):
        shown = np.bincount(world.first[world.row == row].ravel(), minlength=4)
        expected = CHANNEL[row] * shown.sum()
        assert (np.abs(shown - expected) < 4.5 * np.sqrt(expected)).all()
