"""Hypothesis strategies for events and headers, sensible or not."""

from __future__ import annotations

import hypothesis.strategies as st

from handread.table.events import (
    PASS_STEPS,
    SEATS,
    SWITCHES,
    Absent,
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
    Rack,
    Record,
    Redeem,
    Reveal,
    Stopped,
    Voiced,
    WallGame,
    Win,
    WinInError,
)

seats = st.integers(0, 3)
kinds = st.integers(0, 35)
sizes = st.integers(1, 6)
jokers = st.integers(0, 8)
tiles = st.lists(kinds, max_size=14).map(tuple)
four = st.tuples(*[st.integers(0, 3)] * 4)
pauses = st.floats(0, allow_nan=False, allow_infinity=False)
maybe = st.none


def any_event() -> st.SearchStrategy:
    """Any event that shorthand can hold."""
    return st.one_of(
        st.builds(
            Passed,
            step=st.sampled_from(PASS_STEPS),
            blind=maybe() | four,
            counts=maybe() | four,
            given=maybe() | tiles,
            received=maybe() | tiles,
        ),
        st.builds(Stopped, maybe() | seats),
        st.builds(Rack, seats, tiles),
        st.builds(Drew, seats, maybe() | kinds),
        st.builds(
            Discard,
            seats,
            kinds,
            maybe() | st.booleans(),
            st.sampled_from([None, "end", "middle"]),
            maybe() | pauses,
        ),
        st.builds(Voiced, seats, st.booleans()),
        st.builds(Expose, seats, sizes, jokers, maybe() | kinds),
        st.builds(Correct, seats, sizes, jokers),
        st.builds(Redeem, seats, seats, kinds, st.booleans()),
        st.builds(Dead, seats, maybe() | seats, st.booleans()),
        st.builds(WinInError, seats, st.booleans()),
        st.builds(Absent, seats),
        st.builds(Missed, st.integers(0, 200)),
        st.builds(Joined, maybe() | st.integers(0, 120), tiles),
        st.builds(Win, seats, st.booleans(), maybe() | kinds),
        st.builds(WallGame),
        st.builds(Reveal, seats, maybe() | st.text(), maybe() | tiles),
        st.builds(Comment, st.text()),
    )


def any_header() -> st.SearchStrategy:
    """Any header that shorthand can hold."""
    switches = [*SWITCHES, *(f"no {name}" for name in SWITCHES)]
    return st.builds(
        Header,
        card=st.text(),
        card_hash=maybe() | st.text(),
        dealer=seats,
        people=maybe() | st.tuples(*[st.text()] * 4),
        viewer=st.sampled_from(["floor", *SEATS]),
        pause_unit=st.text(),
        title=st.text(),
        switches=st.lists(st.sampled_from(switches), max_size=3).map(tuple),
    )


def any_record() -> st.SearchStrategy:
    """Any record that shorthand can hold, sensible or not."""
    return st.builds(Record, any_header(), st.lists(any_event(), max_size=12).map(tuple))
