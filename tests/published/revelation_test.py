"""What is shown depends on what was kept back: textbook puzzles by refusals, throws and steps.

Source: the revelation_* files, each with its own source
"""

from __future__ import annotations

import tomllib
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from numpy.typing import NDArray

from handread.card import parse_card
from handread.card.compile import compile_card
from handread.clues import load_weights
from handread.clues.holding import prob_copies
from handread.clues.kernels import gather_throws
from handread.reading import build_model
from handread.reading.holdings import surroundings
from handread.reading.likelihood import Seen, claims, refuse_step, see
from handread.reading.step import Step
from handread.table import replay
from handread.table.events import Discard
from handread.tiles import JOKER, N_KINDS
from tests.oracle.toy import start_beliefs

HERE = Path(__file__).parent
Array = NDArray[np.float64]


def values_of(name: str) -> dict[str, Any]:
    return tomllib.loads((HERE / name).read_text(encoding="utf-8"))


DOORS = values_of("revelation_doors.toml")
CARDS = values_of("revelation_cards.toml")
UPDATES = values_of("revelation_updates.toml")


def after(prior: Array, *steps: Step) -> Array:
    for step in steps:
        joint = step.forward(prior)
        prior = joint / joint.sum()
    return prior


# --- doors, opened as throws ---


def opens(weights: dict[int, dict[int, float]], door: int) -> Array:
    """Probability that the host opens `door` where the car is behind 1, 2, 3: the throw gather.

    One use code for each place of the car; kinds 1 to 3 are the doors.
    """
    table = np.zeros((4, N_KINDS))
    for car, doors in weights.items():
        for each, weight in doors.items():
            table[car, each] = weight
    codes = np.repeat(np.arange(1, 4, dtype=np.uint8)[:, None], N_KINDS, axis=1)
    return gather_throws(table, codes, door)


def hall(p: float) -> dict[int, dict[int, float]]:
    """The host avoids the car; free to choose, he opens door 3 with probability p."""
    return {1: {2: 1 - p, 3: p}, 2: {3: 1.0}, 3: {2: 1.0}}


THIRDS = np.full(3, 1 / 3)


@pytest.mark.parametrize("p", DOORS["small"]["p"])
def test_a_host_with_a_habit(p: float) -> None:
    higher = after(THIRDS, Step(opens(hall(p), 3)))
    lower = after(THIRDS, Step(opens(hall(p), 2)))
    assert higher[1] == pytest.approx(1 / (1 + p), abs=1e-12)
    assert lower[2] == pytest.approx(1 / (2 - p), abs=1e-12)


def test_doors_opened_with_and_without_knowing() -> None:
    expected = [case["posterior"] for case in DOORS["case"]]
    blind = {car: {2: 1.0, 3: 1.0} for car in (1, 2, 3)}
    no_car = np.array([1.0, 1.0, 0.0])
    lowest = {1: {2: 1.0}, 2: {3: 1.0}, 3: {2: 1.0}}
    found = [
        after(THIRDS, Step(opens(hall(0.5), 3))),
        after(THIRDS, Step(opens(blind, 3) * no_car)),
        after(THIRDS, Step(opens(lowest, 3))),
        after(THIRDS, Step(opens(lowest, 2))),
    ]
    np.testing.assert_allclose(found, expected, atol=1e-12)


# --- the same three doors as three hands, and a throw that a seat lets pass ---

THREE_HANDS = """
name = "Three doors"
[[family]]
name = "Doors"
[[family.hand]]
name = "May be taken in one of two sizes"
tiles = "pung 1 bam, kong 1 bam, kong 3 dot, pung 4 dot"
[[family.hand]]
name = "Has no use for it"
tiles = "pung 2 bam, kong 2 bam, kong 3 dot, pung 4 dot"
[[family.hand]]
name = "Is always taken"
tiles = "pung 1 bam, kong 2 bam, kong 3 dot, pung 4 dot"
"""
#: Seats take whatever they can; nobody errs, nobody wins.
PLAIN = {
    "claims.take_early": 1.0, "claims.jokers_0": 1.0, "claims.size_3": 1.0, "claims.misplay": 0.0,
    "claims.anew": 0.0, "wins.in_error": 0.0, "wins.takes": 0.0,
}  # fmt: skip


def three_doors() -> tuple[Seen, Array]:
    """South, who holds the last two 1 bams and nothing else that counts, sees a third thrown."""
    card = compile_card(parse_card(THREE_HANDS))
    model = build_model(card, weights=load_weights().replace(PLAIN | {"elsewhere.power": 0.0}))
    state = replay([Discard(0, 0)], card=card)
    beliefs = start_beliefs(model)
    seen = see(model, beliefs[1], state, surroundings(model, beliefs, state))
    unseen = np.zeros(N_KINDS, dtype=np.int64)
    unseen[[0, 20]] = 2, 11
    context = replace(
        seen.context, unseen=unseen, pool=13, concealed=13, turn=0, known_jokers=0,
        within_reach=unseen.astype(np.float64),
    )  # fmt: skip
    assert unseen[JOKER] == 0
    return replace(seen, context=context), np.array([1 / 3, 1 / 3, 1 / 3, 0, 0, 0])


def test_a_refusal_is_a_door_that_the_host_opened() -> None:
    """Taken in half of the cases, never, always: the likelihoods of letting pass are 1/2, 1, 0."""
    seen, prior = three_doors()
    step = refuse_step(claims(seen, 0))
    case = DOORS["case"][0]
    np.testing.assert_allclose(step.keep[:3], case["likelihood"], atol=1e-12)
    np.testing.assert_allclose(after(prior, step)[:3], case["posterior"], atol=1e-12)


def test_a_seat_that_was_forestalled_has_refused_nothing() -> None:
    """No refusal exists for a seat behind the one that took the tile: nothing is learned of it."""
    from handread.reading import update
    from handread.table import apply
    from handread.table.events import Expose

    seen, _ = three_doors()
    model = seen.model
    state = replay([Discard(0, 0)], card=model.card)
    taken = Expose(2, 3, 0)
    beliefs = start_beliefs(model)
    now, _ = update(model, beliefs, taken, state, apply(state, taken, model.card))
    assert now[1].probs[0] < beliefs[1].probs[0], "South, nearer, let it pass"
    np.testing.assert_allclose(now[3].probs, beliefs[3].probs, atol=1e-15)


# --- restricted choice ---


def test_an_honour_from_two_is_half_as_likely() -> None:
    held = prob_copies(4, 26, 13)
    both, single = held[2] / 6, held[1] / 4  # one given pair, one given card
    assert 100 * both == pytest.approx(CARDS["both"], abs=0.005)
    assert 100 * single == pytest.approx(CARDS["single"], abs=0.005)
    assert 200 * single == pytest.approx(CARDS["either_single"], abs=0.05)
    king, queen = 0, 1
    table = np.zeros((3, N_KINDS))  # codes: both, king alone, queen alone
    table[0, [king, queen]] = table[1, king] = table[2, queen] = 1.0
    codes = np.repeat(np.arange(3, dtype=np.uint8)[:, None], N_KINDS, axis=1)
    prior = np.array([both, single, single])
    posterior = after(prior / prior.sum(), Step(gather_throws(table, codes, king)))
    finesse, drop = CARDS["odds"]
    assert posterior[1] == pytest.approx(finesse / (finesse + drop), abs=1e-12)
    assert posterior[2] == 0


# --- one update after the other ---


def test_updates_of_a_list_of_hypotheses() -> None:
    cookies = UPDATES["cookies"]
    found = after(np.full(2, 0.5), Step(np.array(cookies["likelihood"])))
    assert found == pytest.approx(cookies["posterior"], abs=1e-12)
    dice = UPDATES["dice"]
    sides = np.array(dice["sides"])
    rolls = [Step(np.where(sides >= roll, 1 / sides, 0.0)) for roll in (1, 7)]
    assert after(THIRDS, rolls[0]) == pytest.approx(dice["first"], abs=5e-7)
    assert after(THIRDS, *rolls) == pytest.approx(dice["second"], abs=5e-7)


@pytest.mark.parametrize("which", range(3))
def test_locomotives(which: int) -> None:
    railway = UPDATES["locomotive"]
    numbers = np.arange(1, railway["bounds"][which] + 1)
    prior = np.full(len(numbers), 1 / len(numbers))
    seen = {each: Step(np.where(numbers >= each, 1 / numbers, 0.0)) for each in (60, 30, 90)}
    one = after(prior, seen[60]) @ numbers
    assert one == pytest.approx(railway["mean_after_one"][which], abs=0.5)
    three = after(prior, *seen.values()) @ numbers
    assert three == pytest.approx(railway["mean_after_three"][which], abs=0.5)


@pytest.mark.parametrize("case", UPDATES["screening"], ids=lambda c: f"{c['per_cent']} per cent")
def test_a_screening(case: dict[str, float]) -> None:
    prior = np.array([case["prevalence"], 1 - case["prevalence"]])
    alarm = Step(np.array([case["hit"], case["false_alarm"]]))
    found = after(prior, alarm)
    assert 100 * found[0] == pytest.approx(case["per_cent"], abs=case["within"])
    twice = Step(alarm.keep**2)
    np.testing.assert_allclose(after(prior, alarm, alarm), after(prior, twice), rtol=1e-14)
