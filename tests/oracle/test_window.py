"""All seats asked at once about an open throw, against one seat asked after the other."""

from __future__ import annotations

from dataclasses import fields, replace

import numpy as np
import pytest

import handread as hr
from handread.reading.claiming import claims
from handread.reading.looking import see
from handread.reading.window import answers, others_in_order
from handread.values import evolve
from tests.oracle.games import BUSY
from tests.support.random_play import random_record

CARDS = ("house", "harbour", "small")


@pytest.mark.parametrize("viewer", ["floor", 1])
@pytest.mark.parametrize("number", range(3))
def test_seats_asked_at_once_answer_as_each_alone(number: int, viewer: str | int) -> None:
    card, rng = hr.load_card(CARDS[number]), np.random.default_rng(90 + number)
    record = random_record(rng, card, hidden=viewer != "floor", habits=replace(BUSY, win=0.0))
    reader, asked = hr.Reader(card, header=record.header, viewer=viewer), 0
    for event in record.public(viewer):
        reader.observe(event)
        state = reader.state
        if state.window is None or state.over:
            continue
        found = answers(reader.model, reader.beliefs, state, reader.around)
        thrown = state.floor[state.window]
        assert [seat for seat, _ in found] == others_in_order(state, thrown.seat)
        for seat, would in found:
            seen = see(reader.model, reader.beliefs[seat], state, reader.around)
            alone = claims(seen, thrown.kind)
            for each in fields(alone):
                one, other = getattr(would, each.name), getattr(alone, each.name)
                if isinstance(other, np.ndarray):
                    np.testing.assert_allclose(one, other, rtol=1e-13, atol=0)
                else:
                    assert one is other or one == pytest.approx(other, rel=1e-13)
        asked += len(found)
    assert asked > 60


def test_nobody_may_show_a_group_where_the_wall_is_gone() -> None:
    card = hr.load_card("small")
    reader = hr.Reader(card)
    reader.observe(hr.Discard(0, 4))
    found = dict(answers(reader.model, reader.beliefs, reader.state, reader.around))
    assert sorted(found) == [1, 2, 3]
    assert all(would.possible.any() for would in found.values())
    state = evolve(reader.state, wall=0)
    for _, would in answers(reader.model, reader.beliefs, state, reader.around):
        assert not would.possible.any()
        assert would.takes().max() == 0.0
