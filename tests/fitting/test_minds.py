"""What seats have in mind, as rows, agrees with what readings are scored by."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

import handread as hr
from handread.clues.codes import match_exposures
from handread.errors import HandreadError
from handread.fitting.minds import LEAST_WEIGHT, Mind, RowMinds, SimulatedMinds, mind_of, passage
from handread.study.truth import truth_rows
from handread.table.events import Discard
from handread.table.play import apply, start
from tests.fitting.games import small_game

CARD = hr.load_card("small")


def test_rows_summed_by_family_are_those_that_readings_are_scored_by() -> None:
    n_families, seen = len(CARD.families), set()
    for seed in range(6):
        game = small_game(seed)
        minds = SimulatedMinds(CARD, game)
        state = start(game.record.header, CARD.rules)
        for place, event in enumerate(game.record.events):
            state = apply(state, event, CARD)
            if not isinstance(event, Discard) or not state.live[event.seat]:
                continue
            shown = state.exposures[event.seat]
            mind = minds.at(event.seat, place + 1, match_exposures(CARD, shown)[0])
            assert mind is not None
            truth, _, word = truth_rows(CARD, game, event.seat, place + 1, shown)
            dense = mind.dense(CARD.n_targets + 3)
            families = np.bincount(CARD.family_of, weights=dense[:-3], minlength=n_families)
            told = np.concatenate([families, dense[-3:]])
            # a mind leaves out targets of little weight
            assert told == pytest.approx(truth, abs=CARD.n_targets * LEAST_WEIGHT / 4)
            seen.add(word)
    assert {"searching", "building"} <= seen


def test_a_state_that_is_none_is_named() -> None:
    with pytest.raises(HandreadError, match="state is 'napping'"):
        mind_of(CARD, "napping", -1, np.zeros(0, int), np.zeros(0), np.ones(CARD.n_targets, bool))


def test_a_plan_that_the_exposures_rule_out_is_other() -> None:
    fits = np.ones(CARD.n_targets, dtype=bool)
    fits[3] = False
    mind = mind_of(CARD, "building", 3, np.array([3]), np.ones(1), fits)
    assert mind.rows.tolist() == [CARD.n_targets + 2]


minds = st.dictionaries(st.integers(0, 6), st.floats(0.05, 1.0), min_size=1, max_size=4).map(
    lambda held: Mind(
        np.array(sorted(held)),
        np.array([held[k] for k in sorted(held)]) / sum(held.values()),
    )
)


@given(minds, minds)
def test_a_passage_keeps_both_margins(before: Mind, after: Mind) -> None:
    found = passage(before, after)
    start_rows, end_rows = np.zeros(7), np.zeros(7)
    start_rows[found.kept] += found.kept_weights
    end_rows[found.kept] += found.kept_weights
    np.add.at(start_rows, found.left[:, 0], found.left_weights)
    np.add.at(end_rows, found.left[:, 1], found.left_weights)
    assert start_rows == pytest.approx(before.dense(7), abs=1e-4)
    assert end_rows == pytest.approx(after.dense(7), abs=1e-4)
    # as much as can be is kept
    most = np.minimum(before.dense(7), after.dense(7)).sum()
    assert found.kept_weights.sum() == pytest.approx(most, abs=1e-4)


def test_rows_of_a_drawn_game_are_known_from_the_first_throw_on() -> None:
    shown = np.array([[4, 2, 19], [4, 1, 3], [6, 2, 8]])
    drawn = RowMinds(np.array([1, 5]), np.array([2, 2]), np.array([7, 9]), shown)
    fits = np.ones(20, dtype=bool)
    assert drawn.settled(2, 1) is None
    assert drawn.at(2, 0, fits) is None
    assert drawn.at(2, 4, fits) == Mind(np.array([7]), np.ones(1))
    assert drawn.at(2, 5, fits) == Mind(np.array([9]), np.ones(1))
    assert drawn.at(1, 5, fits) is None
    # right after a group, not after the throw that follows it
    assert drawn.shown(2, 4, 5, fits) == Mind(np.array([19]), np.ones(1))
    assert drawn.shown(2, 3, 5, fits) is None
