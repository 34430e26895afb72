"""Forecasts of the next observation: they sum to 1, are legal, miss nothing, and match the filter.

The beliefs of the seats are independent given the table, so the probability that the forecast
gives to an event must be the one that the update then reports for it.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import replace

import numpy as np
import pytest

import handread as hr
from handread.errors import HandreadError
from handread.reading import (
    Belief,
    Model,
    build_model,
    next_observations,
    open_throw,
    surroundings,
    update,
)
from handread.table import TableState, apply, check, replay
from handread.table.events import (
    AnyEvent,
    Dead,
    Discard,
    Expose,
    Header,
    Missed,
    Redeem,
    WallGame,
    Win,
)
from handread.tiles import N_KINDS
from tests.oracle.games import BUSY, random_beliefs, states_of
from tests.oracle.toy import observe_all, start_beliefs, toy_card, toy_model
from tests.support.random_play import random_record

CLOSE = 1e-10


def conceivable(state: TableState) -> Iterator[AnyEvent]:
    """Every event of the kinds that a forecast lists, legal or not."""
    for seat in range(4):
        yield Win(seat, False)
        if seat != state.holder:  # who has just laid a group wins on its draw, if at all
            yield Win(seat, True)
        for kind in range(N_KINDS):
            yield Discard(seat, kind)
            for owner in range(4):
                yield Redeem(seat, owner, kind)
        for size in range(1, 9):
            for jokers in range(size):
                yield Expose(seat, size, jokers)
    yield WallGame()


def fault_of(model: Model, beliefs: tuple[Belief, ...], state: TableState) -> str | None:
    """What is wrong with the forecast at one table."""
    found = next_observations(model, beliefs, state)
    total = math.fsum(prob for _, prob in found)
    if abs(total - 1) > CLOSE:
        return f"sum {total!r}"
    listed = {event: prob for event, prob in found if prob > 0}
    if len(found) != len({event for event, _ in found}):
        return "an event stands twice"
    if min(prob for _, prob in found) < 0:
        return "a probability below 0"
    for event in listed:
        if reasons := check(state, event, None):
            return f"{event!r} is listed: {reasons[0].words}"
    for event in conceivable(state):
        if event not in listed and not check(state, event, None):
            return f"{event!r} is legal and has no entry"
    return None


def assert_sound(model: Model, beliefs: tuple[Belief, ...], state: TableState) -> None:
    fault = fault_of(model, beliefs, state)
    assert fault is None, f"after {state.n_events} events, wall {state.wall}: {fault}"


def tables(seed: int, n: int) -> list[tuple[TableState, AnyEvent]]:
    """`n` tables of a random game with the events that follow, the last throw's among them."""
    card = toy_card()
    rng = np.random.default_rng(seed)
    record = random_record(rng, card, habits=replace(BUSY, win=0.0, dead=0.0005))
    states = states_of(record, card)
    pairs = [(s, e) for s, e in zip(states, record.events, strict=False) if not s.over]
    chosen = sorted(rng.choice(len(pairs), size=min(n, len(pairs)), replace=False).tolist())
    return [pairs[i] for i in {*chosen, len(pairs) - 1, len(pairs) - 2}]


@pytest.mark.parametrize("seed", range(10))
def test_forecasts_on_the_toy_card(seed: int) -> None:
    model = toy_model()
    for i, (state, _) in enumerate(tables(seed, 10)):
        assert_sound(model, random_beliefs(model, state, seed + i), state)


@pytest.mark.parametrize("seed", range(10))
def test_an_open_throw_is_taken_as_often_as_the_full_list_says(seed: int) -> None:
    model = toy_model()
    for i, (state, _) in enumerate(tables(seed, 10)):
        if state.window is None:
            continue
        beliefs = random_beliefs(model, state, seed + i)
        said = open_throw(model, beliefs, state, surroundings(model, beliefs, state))
        claims, wins = [0.0] * 4, [0.0] * 4
        for event, prob in next_observations(model, beliefs, state):
            if isinstance(event, Expose):
                claims[event.seat] += prob
            elif isinstance(event, Win) and event.claimed:
                wins[event.seat] += prob
        assert said.claims == pytest.approx(claims, abs=CLOSE)
        assert said.wins == pytest.approx(wins, abs=CLOSE)
        assert said.nobody == pytest.approx(1 - sum(claims) - sum(wins), abs=CLOSE)


@pytest.mark.parametrize("seed", range(4))
def test_forecasts_on_the_house_card(seed: int) -> None:
    card = hr.house_card()
    model = build_model(card)
    record = random_record(np.random.default_rng(seed), card)
    states = states_of(record, card)
    for at in (1, 7 + seed, 40 + seed, len(record.events) * 3 // 4):
        if at < len(record.events) and not states[at].over:
            beliefs = start_beliefs(model)
            events = list(record.events[:at])
            beliefs, state, _, _ = observe_all(model, beliefs, states[0], events)
            assert_sound(model, beliefs, state)


@pytest.mark.parametrize("seed", range(6))
def test_the_filter_gives_an_event_the_probability_that_was_forecast(seed: int) -> None:
    model = toy_model()
    for i, (state, _) in enumerate(tables(seed + 50, 4)):
        beliefs = random_beliefs(model, state, seed + i)
        for event, prob in next_observations(model, beliefs, state):
            if prob > 0 and not check(state, event, None):
                _, evidence = update(model, beliefs, event, state, apply(state, event))
                assert evidence.log_prob == pytest.approx(math.log(prob), abs=CLOSE), event


# --- corners ---

_FIRST = [Discard(0, 0)]


def quiet_game(n_throws: int) -> list[AnyEvent]:
    """Throws in turn, one kind after the other, nobody claims."""
    return [Discard(i % 4, i // 4) for i in range(n_throws)]


@pytest.mark.parametrize(
    "events",
    [
        [],
        _FIRST,
        [Discard(0, 35)],
        [*_FIRST, Expose(2, 3, 1)],
        [*_FIRST, Expose(2, 3, 1), Discard(2, 20), Redeem(3, 2, 0)],
        quiet_game(99),
        quiet_game(100),
    ],
    ids=["opening", "first throw", "a joker", "shown", "redeemed", "before the last", "last throw"],
)
def test_forecasts_at_corners(events: list[AnyEvent]) -> None:
    model = toy_model()
    state = replay(events, card=toy_card())
    assert_sound(model, random_beliefs(model, state, 3), state)


def test_a_seat_with_four_tiles_left_cannot_show_five() -> None:
    """Three pungs shown leave four tiles: a quint would take all of them, with none to throw."""
    events: list[AnyEvent] = []
    for round_, kind in enumerate((5, 14, 23)):
        events += [Discard(0, kind), Expose(1, 3, 0)]
        events += [Discard(seat, 27 + seat + round_) for seat in (1, 2, 3)]
    state = replay([*events, Discard(0, 20)], card=toy_card())
    assert state.concealed[1] == 4
    model = toy_model()
    assert_sound(model, random_beliefs(model, state, 5), state)


def test_a_table_where_the_jokers_of_a_dead_seat_are_out_of_play() -> None:
    header = Header(switches=("no dead swap",))
    events = [*_FIRST, Expose(1, 3, 1), Discard(1, 20), Dead(1)]
    state = replay(events, header, toy_card())
    model = toy_model()
    assert_sound(model, random_beliefs(model, state, 6), state)


def test_no_forecast_where_nobody_can_tell_what_comes() -> None:
    model = toy_model()
    state = replay([*_FIRST, Missed(1)], card=toy_card())
    with pytest.raises(HandreadError, match="missed"):
        next_observations(model, start_beliefs(model), state)
    over = replay([*_FIRST, Win(1, True)], card=toy_card())
    with pytest.raises(HandreadError, match="over"):
        next_observations(model, start_beliefs(model), over)
