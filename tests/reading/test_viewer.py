"""A seat's own view: what it holds bears on the others, and never breaks the reading of itself."""

from __future__ import annotations

import math

import numpy as np
import pytest

from handread.errors import HandreadError
from handread.reading import Reader, next_observations
from handread.table import Record
from handread.table.events import SEATS
from tests.oracle.toy import toy_card, toy_model
from tests.support.random_play import Habits, random_record

SEEDS = range(6)


def hidden_record(seed: int) -> Record:
    """A game at random with every rack, draw and throw written down."""
    habits = Habits(claim=0.8, correct=0.3)
    return random_record(np.random.default_rng(seed), toy_card(), hidden=True, habits=habits)


def reader_at(record: Record, viewer: str) -> Reader:
    return Reader(toy_card(), model=toy_model(), header=record.header, viewer=viewer)


@pytest.mark.parametrize("seed", SEEDS)
def test_a_game_seen_from_a_seat(seed: int) -> None:
    """Probabilities at every event, and forecasts that sum to 1."""
    record = hidden_record(seed)
    viewer = SEATS[seed % 4]
    reader = reader_at(record, viewer)
    for n, event in enumerate(record.public(viewer)):
        state = reader.state
        if n % 10 == 0 and not state.over and state.turn is not None:
            found = next_observations(
                reader.model, reader.beliefs, state, own=reader.own, viewer=reader.viewer
            )
            assert math.fsum(prob for _, prob in found) == pytest.approx(1.0, abs=1e-10)
            assert min(prob for _, prob in found) >= 0
        evidence = reader.observe(event)
        assert math.isfinite(evidence.log_prob)
        for belief in reader.beliefs:
            assert np.isfinite(belief.probs).all()
            assert belief.probs.sum() == pytest.approx(1.0, abs=1e-9)


@pytest.mark.parametrize("seed", range(3))
def test_the_own_rack_bears_on_the_others_only(seed: int) -> None:
    """The reading of the own seat is what the table could read of it."""
    record = hidden_record(seed)
    viewer = SEATS[seed % 4]
    floor, seat = reader_at(record, "floor"), reader_at(record, viewer)
    for event in record.public("floor"):
        floor.observe(event)
    for event in record.public(viewer):
        seat.observe(event)
    own = SEATS.index(viewer)
    np.testing.assert_allclose(
        seat.beliefs[own].probs, floor.beliefs[own].probs, atol=1e-3,
        err_msg="the own seat is read as the table reads it, but for what others' plans tell",
    )  # fmt: skip
    others = [s for s in range(4) if s != own]
    moved = [np.abs(seat.beliefs[s].probs - floor.beliefs[s].probs).max() for s in others]
    assert max(moved) > 1e-6, "the own rack bears on what the others can hold"


def test_a_reader_names_its_viewer_in_every_way() -> None:
    for viewer in ("West", "west", "w", 2, np.int64(2)):
        assert Reader(toy_card(), model=toy_model(), viewer=viewer).viewer == 2
    assert Reader(toy_card(), model=toy_model(), viewer="floor").viewer is None
    with pytest.raises(
        HandreadError, match=r"did you mean 'floor'. accepted: floor, East, .*0 to 3"
    ):
        Reader(toy_card(), model=toy_model(), viewer="flor")
