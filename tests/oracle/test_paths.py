"""Filter, smoother and evidence against the sum over every path, on a card of fourteen targets."""

from __future__ import annotations

import math
from dataclasses import replace
from functools import lru_cache

import numpy as np
import pytest

from handread.reading import Belief, Model, smooth, update
from handread.reading.evidence import Evidence
from handread.reading.holdings import surroundings
from handread.table import TableState, apply, start
from handread.table.events import AnyEvent, Correct, Header, WallGame
from tests.oracle.games import part_of_game, random_beliefs
from tests.oracle.paths import Game, Matrix, enumerate_paths
from tests.oracle.plain_card import PlainCard
from tests.oracle.scenarios import SCENARIOS, Scenario
from tests.oracle.toy import observe_all, start_beliefs, toy_card, toy_model

CLOSE = 1e-10
MOST_THROWS = 3


class Played:
    """One game read by the library and by full enumeration."""

    def __init__(
        self, model: Model, state: TableState, beliefs: tuple[Belief, ...], events: list[AnyEvent]
    ) -> None:
        self.start = [list(map(float, belief.probs)) for belief in beliefs]
        shown = [tuple((g.kind, g.size, g.jokers) for g in groups) for groups in state.exposures]
        _, _, self.log, self.after = observe_all(model, beliefs, state, events)
        game = Game(PlainCard(model), state, surroundings(model, beliefs, state), shown)
        game.note()
        for event, believed in zip(events, [beliefs, *self.after], strict=False):
            game.see(event, surroundings(model, believed, game.state))
        self.game, self.events = game, events

    def steps(self, seat: int, n_events: int) -> tuple[Matrix, ...]:
        return self.game.upto[n_events][seat]

    @lru_cache(maxsize=4)  # noqa: B019
    def paths(self, seat: int) -> tuple[float, Matrix, Matrix]:
        return enumerate_paths(self.start[seat], self.steps(seat, len(self.events)))

    def superseded(self, seat: int) -> set[int]:
        """Numbers of events whose group was mended later, as counted from the first one read."""
        return {
            i
            for i in range(len(self.events))
            if len(self.steps(seat, i + 1)) > 0
            and self.steps(seat, i + 1)[-1] is not self.steps(seat, len(self.events))[
                len(self.steps(seat, i + 1)) - 1
            ]
        }  # fmt: skip


def log_evidence(played: Played, seat: int, skip: set[int]) -> list[float]:
    """Log probability of what each event but some said of the seat's own doings, by sums."""
    out, before = [], 0.0
    for n in range(len(played.events)):
        if n in skip:
            continue
        acted, after = played.game.acts[n][seat], played.steps(seat, n + 1)
        total = math.log(enumerate_paths(played.start[seat], acted)[0])
        out.append(total - before)
        same = len(after) == len(acted)
        before = total if same else math.log(enumerate_paths(played.start[seat], after)[0])
    return out


def check_filter(played: Played, seat: int) -> None:
    filtered = played.paths(seat)[1]
    for n in range(1, len(played.events) + 1):
        steps = played.steps(seat, n)
        if not steps:
            expected = played.start[seat]
        elif n - 1 in played.superseded(seat):
            expected = enumerate_paths(played.start[seat], steps)[1][-1]
        else:
            expected = filtered[len(steps) - 1]
        found = played.after[n - 1][seat].probs
        np.testing.assert_allclose(found, expected, rtol=0, atol=CLOSE, err_msg=f"event {n}")


def check_smoother(played: Played, seat: int) -> None:
    smoothed = played.paths(seat)[2]
    found = smooth(played.log, seat)
    gone = played.superseded(seat)
    said = math.fsum(log_evidence(played, seat, gone))
    assert found.log_evidence == pytest.approx(said, abs=CLOSE)
    first = played.log[0].number
    for number, row in zip(found.numbers, found.smoothed, strict=True):
        at = int(number) - first
        if at not in gone:
            expected = smoothed[len(played.steps(seat, at + 1)) - 1]
            np.testing.assert_allclose(row, expected, rtol=0, atol=CLOSE, err_msg=f"event {at + 1}")


def play(scenario: Scenario) -> Played:
    model = toy_model()
    state = start(None, model.card.rules)
    for event in scenario.events[: scenario.unread]:
        state = apply(state, event, model.card)
    return Played(model, state, start_beliefs(model), list(scenario.events[scenario.unread :]))


def by_name(scenario: Scenario) -> str:
    return scenario.name.split(":")[0].split(",")[0].replace(" ", "-")


@pytest.fixture(scope="module", params=SCENARIOS, ids=by_name)
def played(request: pytest.FixtureRequest) -> Played:
    return play(request.param)


@pytest.mark.parametrize("seat", range(4))
def test_the_filter_is_the_sum_over_all_paths(played: Played, seat: int) -> None:
    check_filter(played, seat)


@pytest.mark.parametrize("seat", range(4))
def test_smoother_and_evidence_are_the_sum_over_all_paths(played: Played, seat: int) -> None:
    check_smoother(played, seat)


def test_the_evidence_of_each_event_is_a_ratio_of_sums(played: Played) -> None:
    if any(isinstance(event, Correct) for event in played.events):
        return  # the evidence of a mended group stands for that of the first one
    for seat in range(4):
        sums = log_evidence(played, seat, set())
        for evidence, expected in zip(played.log, sums, strict=True):
            said = sum(part.log_prob for part in evidence.seats if part.seat == seat)
            assert said == pytest.approx(expected, abs=CLOSE)


# --- games at random, from the middle ---


@pytest.mark.parametrize("seed", range(12))
def test_random_games_are_sums_over_paths(seed: int) -> None:
    model = toy_model()
    state, events = part_of_game(seed, toy_card(), MOST_THROWS)
    game = Played(model, state, random_beliefs(model, state, seed), events)
    for seat in range(4):
        check_filter(game, seat)
        check_smoother(game, seat)


def test_a_wrong_model_would_be_seen() -> None:
    """The comparison has teeth: a filter with a slightly different hazard is told apart."""
    model = toy_model()
    other = replace(model, weights=model.weights.replace({"hazard.base": -1.2001}))
    right = play(SCENARIOS[0])
    state = start(None, model.card.rules)
    beliefs, _, _, _ = observe_all(other, start_beliefs(other), state, right.events)
    gap = np.abs(beliefs[0].probs - right.paths(0)[1][-1]).max()
    assert gap > 1e-6


def test_nothing_seen_leaves_the_start() -> None:
    model = toy_model()
    state = start(Header(), model.card.rules)
    before = start_beliefs(model)
    after, evidence = update(model, before, WallGame(), state, apply(state, WallGame()))
    assert isinstance(evidence, Evidence)
    assert after == before
    assert evidence.log_prob == 0
    assert smooth((evidence,), 0).smoothed.shape[0] == 0
