"""Random tables: what must hold at every event, within the rules and outside them."""

from __future__ import annotations

import copy
import dataclasses

import hypothesis.strategies as st
import msgspec
import numpy as np
import pytest
from hypothesis import given, settings

from handread.errors import IllegalEvent
from handread.table import Record, TableState, apply, check, is_legal, replay, start
from handread.table.count import draws_left, live
from handread.table.events import Discard, Joined, Missed, Reveal
from handread.table.play import advance
from handread.tiles import JOKER
from tests.support.random_play import Habits, RandomGame, random_record
from tests.table.at_table import tiles_in_all
from tests.table.strategies import any_event

SEATS = [(0, 1, 2, 3), (0, 1, 3), (1, 3)]
seeds = st.integers(0, 2**32 - 1)


def sound(state: TableState, n_tiles: int = 152) -> None:
    """What no run of accepted events may break, whatever the rules said of them."""
    copies = state.rules.copies.astype(int)
    assert (state.seen <= copies).all()
    assert state.seen[JOKER] + sum(state.jokers_held) <= copies[JOKER]
    assert min(state.concealed) >= 0
    assert state.wall >= 0
    exposed = sum(group.size for groups in state.exposures for group in groups)
    back = sum(group.size for groups in state.returned for group in groups)
    won = state.won_with is not None
    if state.certain:
        assert tiles_in_all(state) == n_tiles
        assert int(state.seen.sum()) == state.lying + exposed + back + won
    assert sum(state.turns) >= len(state.floor)
    assert state.turn is None or state.holder in (None, state.turn)
    assert not state.seen.flags.writeable
    for group in (group for groups in state.exposures for group in groups):
        assert 0 <= group.jokers < group.size
    count = live(state)
    for counts in (count.floor, count.exposed, count.in_racks, count.unseen):
        assert (counts >= 0).all()
    total = count.floor + count.exposed + count.in_racks + count.unseen
    assert (total == copies).all()


def within_the_rules(state: TableState) -> None:
    """What holds besides as long as nobody broke a rule or went dead."""
    n = sum(state.seated)
    hands = sum(state.tiles_of(seat) for seat in range(4))
    within = state.holder is not None
    assert hands == 13 * n + within
    assert state.holder is None or state.live[state.holder]
    for seat in range(4):
        rest = 13 if state.seated[seat] else 0
        assert state.tiles_of(seat) == rest + (seat == state.holder)
    assert sum(state.draws) == 152 - 13 * n - 1 - state.wall
    assert sum(draws_left(state)) == (0 if state.over else state.wall)


@settings(max_examples=60, deadline=None)
@given(seed=seeds, seats=st.sampled_from(SEATS), hidden=st.booleans())
def test_every_event_of_a_legal_game_keeps_the_table_sound(seed, seats, hidden):
    habits = Habits(dead=0)
    rng = np.random.default_rng(seed)
    game = RandomGame(rng, seats=seats, habits=habits, hidden=hidden)
    for _ in game:
        sound(game.state)
        within_the_rules(game.state)
    assert not game.state.flags
    if game.state.over and game.state.won_with is None and not game.state.wall and len(seats) == 4:
        assert game.state.lying in (99, 100)


@settings(max_examples=30, deadline=None)
@given(seed=seeds)
def test_a_wall_game_leaves_100_on_the_floor_whatever_was_claimed(seed):
    habits = Habits(dead=0, win=0, claim=0.6)
    record = random_record(np.random.default_rng(seed), habits=habits)
    state = replay(record.events, record.header)
    claims = sum(1 for throw in state.floor if throw.taken_by is not None)
    assert state.lying == 100
    assert sum(state.turns) == 100 + claims
    assert sum(map(state.tiles_of, range(4))) == 52


@settings(max_examples=30, deadline=None)
@given(seed=seeds)
def test_games_with_dead_hands_stay_sound(seed):
    game = RandomGame(np.random.default_rng(seed), habits=Habits(dead=0.05))
    for _ in game:
        sound(game.state)
    assert not game.state.flags


@settings(max_examples=20, deadline=None)
@given(seed=seeds)
def test_replay_equals_the_live_state(seed):
    game = RandomGame(np.random.default_rng(seed), hidden=True)
    events = list(game)
    assert replay(events, game.header) == game.state


def test_games_on_a_card_fit_it(house):
    for seed in range(5):
        record = random_record(np.random.default_rng(seed), house)
        assert not replay(record.events, record.header, house).flags


@settings(max_examples=30, deadline=None)
@given(seed=seeds)
def test_what_a_viewer_sees_replays_without_a_flag_to_the_same_floor(seed):
    record = random_record(np.random.default_rng(seed), hidden=True)
    whole = replay(record.events, record.header)
    for viewer in ("floor", "West"):
        events = list(record.public(viewer))
        assert not any(isinstance(event, Reveal) for event in events)
        seen = replay(events, record.header)
        assert not seen.flags
        assert (seen.floor, seen.exposures, seen.wall) == (whole.floor, whole.exposures, whole.wall)


@settings(max_examples=150, deadline=None)
@given(seed=seeds, wild=st.lists(any_event(), max_size=25), data=st.data())
def test_any_events_are_refused_or_keep_the_table_sound(seed, wild, data):
    """Wild events fall into a legal game; whatever is accepted keeps the tiles in order."""
    record = random_record(
        np.random.default_rng(seed), n_events=40, habits=Habits(pass_tiles=False)
    )
    events = list(record.events)
    for event in wild:
        events.insert(data.draw(st.integers(0, len(events))), event)
    state = start(record.header)
    for event in events:
        reasons = check(state, event)
        assert is_legal(state, event) == (not reasons)
        if any(reason.kind == "impossible" for reason in reasons):
            with pytest.raises(IllegalEvent):
                apply(state, event)
            continue
        before = state
        state = apply(state, event)
        sound(state)
        assert state.n_events == before.n_events + 1
        assert len(state.flags) == len(before.flags) + len(reasons)
        assert state.certain == (before.certain and not isinstance(event, Missed | Joined))


@settings(max_examples=30, deadline=None)
@given(seed=seeds)
def test_apply_touches_nothing_it_is_given(seed):
    record = random_record(np.random.default_rng(seed), n_events=60)
    state = start(record.header)
    for event in record.events:
        before = dataclasses.replace(state, seen=state.seen.copy())
        apply(state, event)
        assert state == before
        state = apply(state, event)


@settings(max_examples=25, deadline=None)
@given(seed=seeds, wild=st.lists(any_event(), max_size=15), data=st.data())
def test_counts_handed_on_are_those_counted_afresh(seed, wild, data):
    rng = np.random.default_rng(seed)
    record = random_record(rng, n_events=60, habits=Habits(dead=0.03, correct=0.3))
    events = list(record.events)
    for event in wild:
        events.insert(data.draw(st.integers(0, len(events))), event)
    state = start(record.header)
    for event in events:
        for name in ("thrown", "free", "known", "n_known"):
            if rng.random() < 0.7:
                getattr(state, name)  # what has been asked for is there to be handed on
        if any(reason.kind == "impossible" for reason in check(state, event)):
            continue
        state = apply(state, event)
        handed, afresh = copy.copy(state), dataclasses.replace(state)
        for name in ("thrown", "free", "known"):
            np.testing.assert_array_equal(getattr(handed, name), getattr(afresh, name))
            assert not getattr(handed, name).flags.writeable
        assert handed.n_known == afresh.n_known


def turned(record: Record, by: int) -> Record:
    """The same game with every seat moved `by` places to the right."""
    events = []
    for event in record.events:
        values = {
            name: (getattr(event, name) + by) % 4
            for name in ("seat", "owner", "caller")
            if getattr(event, name, None) is not None
        }
        for name in ("blind", "counts"):
            numbers = getattr(event, name, None)
            if numbers is not None:
                values[name] = numbers[4 - by :] + numbers[: 4 - by]
        events.append(msgspec.structs.replace(event, **values))
    header = msgspec.structs.replace(record.header, dealer=(record.header.dealer + by) % 4)
    return Record(header, tuple(events))


@settings(max_examples=25, deadline=None)
@given(seed=seeds, by=st.integers(1, 3), seats=st.sampled_from(SEATS))
def test_a_game_moved_round_the_table_gives_the_state_moved_round(seed, by, seats):
    record = random_record(np.random.default_rng(seed), seats=seats, habits=Habits(dead=0.02))
    state, other = (replay(each.events, each.header) for each in (record, turned(record, by)))
    for name in ("exposures", "turns", "draws", "concealed", "live", "seated", "jokers_held"):
        values, moved = getattr(state, name), getattr(other, name)
        assert all(moved[(seat + by) % 4] == values[seat] for seat in range(4)), name
    assert (other.seen == state.seen).all()
    assert (other.wall, other.over, other.flags) == (state.wall, state.over, ())
    assert draws_left(other) == tuple(draws_left(state)[(s - by) % 4] for s in range(4))


def test_states_compare_by_content_and_have_no_hash():
    one, two = replay([Discard(0, 4)]), replay([Discard(0, 4)])
    assert one == two
    assert one != replay([Discard(0, 5)])
    with pytest.raises(TypeError):
        hash(one)
    with pytest.raises(dataclasses.FrozenInstanceError):
        one.wall = 3  # type: ignore[misc]


@pytest.mark.parametrize("seed", range(6))
def test_what_is_known_to_be_possible_moves_the_table_as_if_it_were_checked(seed: int) -> None:
    record = random_record(np.random.default_rng(seed), habits=Habits(dead=0.02, correct=0.3))
    checked = unchecked = start(record.header)
    for event in record.events:
        checked, unchecked = apply(checked, event), advance(unchecked, event)
        assert dataclasses.replace(checked, flags=()) == unchecked
        for name in ("thrown", "free", "known", "seen_copies"):
            fresh = getattr(dataclasses.replace(unchecked), name)
            np.testing.assert_array_equal(getattr(unchecked, name), fresh)
