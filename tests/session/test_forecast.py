"""Forecasts before the event: coherent, and no more than one seat gets a claim."""

import numpy as np
import pytest

import handread as hr
from handread.reading import Reader


def test_claims_wins_and_nobody_sum_to_one() -> None:
    reader = Reader(hr.house_card())
    reader.observe(hr.Discard(seat=0, kind=34))
    before = reader.forecast()
    assert before.kind == 34
    assert before.claims[0] == 0
    assert np.all(before.claims[1:] > 0)
    own_draw = before.wins[1] - _wins_on_the_throw(reader)[1]
    on_it = before.wins.sum() - own_draw
    assert abs(before.claims.sum() + on_it + before.nobody - 1) < 1e-10
    assert before.claims.sum() <= 1


def _wins_on_the_throw(reader: Reader) -> np.ndarray:
    found = np.zeros(4)
    for event, prob in hr.next_observations(reader.model, reader.beliefs, reader.state):
        if isinstance(event, hr.Win) and event.claimed:
            found[event.seat] += prob
    return found


def test_the_open_throw_is_the_part_of_the_forecast_that_is_about_it() -> None:
    reader = Reader(hr.house_card())
    for seat, kind in ((0, 34), (1, 4), (2, 30)):
        reader.observe(hr.Discard(seat=seat, kind=kind))
        said, whole = reader.open_throw(), reader.forecast()
        assert said.kind == whole.kind == kind
        np.testing.assert_allclose(said.claims, whole.claims, atol=1e-15)
        np.testing.assert_allclose(said.wins, _wins_on_the_throw(reader), atol=1e-15)
        assert abs(said.nobody - whole.nobody) < 1e-12


def test_no_open_throw_is_said_so() -> None:
    with pytest.raises(hr.HandreadError, match="no throw lies open"):
        Reader(hr.house_card()).open_throw()


def test_a_win_over_a_group_just_laid_is_foreseen() -> None:
    reader = Reader(hr.house_card())
    reader.observe(hr.Discard(seat=0, kind=32))
    reader.observe(hr.Expose(seat=2, size=4, jokers=0))
    before = reader.forecast()
    assert before.kind == 32
    assert before.wins[0] == 0  # who threw it
    assert min(before.wins[[1, 3]]) > 0
    claims = before.claims.sum() + before.wins[[1, 3]].sum() + before.nobody
    assert abs(claims - 1) < 1e-12
    house = hr.Header(switches=("no win over exposure",))
    strict = Reader(hr.house_card(), header=house)
    for event in reader.events:
        strict.observe(event)
    assert strict.forecast().kind is None


def test_a_joker_can_be_claimed_by_nobody() -> None:
    reader = Reader(hr.house_card())
    reader.observe(hr.Discard(seat=0, kind=35))
    before = reader.forecast()
    assert before.claims.sum() == 0


def test_a_seat_that_shows_a_group_takes_more_of_what_its_hands_need() -> None:
    reader = Reader(hr.house_card())
    reader.observe(hr.Discard(seat=0, kind=32))
    before = reader.reading("West").takes
    reader.observe(hr.Expose(seat=2, size=4, jokers=0))
    after = reader.reading("West").takes
    needs = reader.reading("West").needs
    assert after["claims"].drop("joker").max() > before["claims"].drop("joker").max()
    assert needs["red"] < 0.05  # the kong is there
    assert after["claims"]["red"] < 0.05


def test_expected_holdings_sum_to_what_is_unseen() -> None:
    reader = Reader(hr.house_card())
    for kind in (4, 31, 26, 30, 11, 22):
        reader.observe(hr.Discard(seat=reader.state.turn, kind=kind))
        around = reader.around
        np.testing.assert_allclose(around.holds.sum(axis=0), around.unseen, atol=1e-9)
        np.testing.assert_allclose(around.holds[:4].sum(axis=1), reader.state.concealed, rtol=1e-6)
