"""Records for property tests: legal ones, and ones with every breach that a table lets stand."""

from __future__ import annotations

import numpy as np
from hypothesis import strategies as st

from handread.card.compiled import CompiledCard
from handread.table import Record, TableState, apply, check, start
from handread.table.events import (
    Absent,
    AnyEvent,
    Comment,
    Correct,
    Dead,
    Discard,
    Drew,
    Expose,
    Header,
    Joined,
    Missed,
    Passed,
    Redeem,
    Stopped,
    Voiced,
    WallGame,
    Win,
    WinInError,
)
from handread.table.rules.reason import IMPOSSIBLE
from handread.tiles import N_KINDS
from tests.support.random_play import Habits, random_record

#: Players who claim, redeem, mend and err often.
BUSY = Habits(claim=0.8, dead=0.01, win=0.01, correct=0.3)


def legal_records(card: CompiledCard) -> st.SearchStrategy[Record]:
    """Games at random within the rules, of two to four seats, to any length."""

    def play(seed: int, n_events: int, seats: tuple[int, ...]) -> Record:
        rng = np.random.default_rng(seed)
        return random_record(rng, card, n_events, seats=seats, habits=BUSY)

    seats = st.sampled_from([(0, 1, 2, 3)] * 4 + [(0, 1, 3), (1, 2, 3), (0, 2)])
    return st.builds(play, st.integers(0, 10**6), st.integers(1, 150), seats)


_SEATS = st.integers(0, 3)
_KINDS = st.integers(0, N_KINDS - 1)
_FEW = st.sampled_from([0, 1, 4, 5, 20, 34, 35])  # kinds that come again and again
_STEPS = st.sampled_from(["right", "across", "left", "second left", "last right", "courtesy"])
_FOUR = st.tuples(*[st.integers(0, 3)] * 4)

_PLAY = st.one_of(
    st.builds(Discard, _SEATS, _FEW),
    st.builds(Discard, _SEATS, _KINDS, st.sampled_from([None, True, False])),
    st.builds(Expose, _SEATS, st.integers(1, 8), st.integers(0, 4)),
    st.builds(Expose, _SEATS, st.integers(1, 6), st.integers(0, 3), _FEW),
    st.builds(Redeem, _SEATS, _SEATS, _FEW, st.booleans()),
    st.builds(Correct, _SEATS, st.integers(1, 8), st.integers(0, 4)),
)
_REST = st.one_of(
    st.builds(Voiced, _SEATS, st.booleans()),
    st.builds(Dead, _SEATS, st.none(), st.booleans()),
    st.builds(Missed, st.integers(1, 30)),
    st.builds(Win, _SEATS, st.booleans()),
    st.builds(WinInError, _SEATS),
    st.builds(Drew, _SEATS),
    st.builds(Comment, st.just("the tea comes")),
    st.just(WallGame()),
)
_BEFORE = st.one_of(
    st.builds(Absent, _SEATS),
    st.builds(Joined, st.sampled_from([None, 40, 3]), st.sampled_from([(), (4, 4, 20)])),
    st.builds(Passed, step=_STEPS, blind=st.none() | _FOUR, counts=st.none() | _FOUR),
    st.builds(Stopped, st.none() | _SEATS),
)


def _possible(
    card: CompiledCard, before: list[AnyEvent], play: list[AnyEvent]
) -> tuple[Header, list[AnyEvent]]:
    """The events that can have happened, one after the other; breaches of the rules stay."""
    header = Header()
    state: TableState = start(header, card.rules)
    kept: list[AnyEvent] = []
    for event in (*before, *play):
        if not any(reason.kind == IMPOSSIBLE for reason in check(state, event, card)):
            state = apply(state, event, card)
            kept.append(event)
    return header, kept


def unruly_records(card: CompiledCard) -> st.SearchStrategy[tuple[Header, list[AnyEvent]]]:
    """Anything that is not refused: turns out of order, groups of one, seats that come back."""
    play = st.one_of(_PLAY, _PLAY, _PLAY, _REST)
    return st.builds(
        _possible,
        st.just(card),
        st.lists(_BEFORE, max_size=4),
        st.lists(play, max_size=40),
    )
