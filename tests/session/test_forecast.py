"""Forecasts before the event: coherent, and no more than one seat gets a claim."""

import numpy as np

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
