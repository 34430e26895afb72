"""Who plays and what was seen: dead hands, errors, empty seats, missed turns, late starts."""

from __future__ import annotations

import numpy as np

from handread.table.events import SEATS, Absent, Dead, Joined, Missed, WinInError
from handread.table.rules.passes import played
from handread.table.rules.reason import Reason, impossible, irregular, next_live, none_left
from handread.table.state import TableState, put
from handread.tiles import as_counts
from handread.values import evolve


def check_dead(state: TableState, event: Dead) -> list[Reason]:
    """Reasons against a hand called dead."""
    seat, caller = event.seat, event.caller
    if not state.live[seat]:
        live = ", ".join(SEATS[s] for s in range(4) if state.live[s])
        return [impossible(f"{SEATS[seat]} is dead already; still playing: {live}")]
    reasons = []
    if event.returned and not state.exposures[seat]:
        reasons.append(impossible(f"{SEATS[seat]} shows no group that could go back to its rack"))
    if caller is not None:
        if not state.seated[caller]:
            reasons.append(impossible(f"nobody sits at {caller!r} to call a hand dead"))
        elif caller == seat:
            reasons.append(irregular(f"{SEATS[seat]} calls itself dead: only another player may"))
    return reasons


def advance_dead(state: TableState, event: Dead) -> TableState:
    """State after a hand was called dead: it draws, throws and claims no more."""
    seat = event.seat
    live = put(state.live, seat, False)
    changes: dict[str, object] = {"live": live}
    if event.returned:
        group = state.exposures[seat][-1]
        changes["exposures"] = put(state.exposures, seat, state.exposures[seat][:-1])
        changes["concealed"] = put(state.concealed, seat, state.concealed[seat] + group.size)
        changes["returned"] = put(state.returned, seat, (*state.returned[seat], group))
    if state.turn == seat:
        changes.update(turn=next_live(live, seat), holder=None, shown=False)
    return evolve(state, **changes)


def check_error(state: TableState, event: WinInError) -> list[Reason]:
    """Reasons against a win said in error: it is a breach whenever it happens."""
    words = f"{SEATS[event.seat]} says that it has won and has not"
    return [irregular(f"{words}; ground for a dead hand" if event.shown else words)]


def advance_error(state: TableState, event: WinInError) -> TableState:
    """State after a win said in error: as before, until somebody calls the hand dead."""
    return state


def check_absent(state: TableState, event: Absent) -> list[Reason]:
    """Reasons against an empty seat."""
    seat = event.seat
    if not state.seated[seat]:
        return [impossible(f"{SEATS[seat]} is empty already")]
    if state.floor or any(state.exposures) or any(state.draws):
        words = f"{SEATS[seat]} was dealt tiles and play has begun"
        return [impossible(f"{words}; write 'dead' if its player left")]
    if sum(state.seated) <= 2:
        return [impossible("at least two seats play")]
    return []


def advance_absent(state: TableState, event: Absent) -> TableState:
    """State after a seat was left empty: its thirteen tiles stay in the wall."""
    seat = event.seat
    live = put(state.live, seat, False)
    concealed = list(put(state.concealed, seat, 0))
    changes: dict[str, object] = {"live": live, "seated": put(state.seated, seat, False)}
    if state.certain:
        changes["wall"] = state.wall + state.rules.hand_size - 1
    if state.holder == seat:  # the seat to its right opens, with 14
        opens = next_live(live, seat)
        concealed[opens] += 1
        changes.update(holder=opens, turn=opens)
    elif state.turn == seat:
        changes["turn"] = next_live(live, seat)
    return evolve(state, concealed=tuple(concealed), **changes)


def advance_missed(state: TableState, event: Missed) -> TableState:
    """State after missed turns: anybody may be next, and counts are bounds."""
    changes: dict[str, object] = {}
    draws = event.turns
    if state.holder is not None:  # the first of them is the holder's throw
        seat = state.holder
        draws -= 1
        changes["concealed"] = put(state.concealed, seat, state.concealed[seat] - 1)
        changes["turns"] = put(state.turns, seat, state.turns[seat] + 1)
    return evolve(
        state,
        wall=max(state.wall - draws, 0),
        holder=None,
        turn=None,
        window=None,
        shown=False,
        certain=False,
        **changes,
    )


def check_joined(state: TableState, event: Joined) -> list[Reason]:
    """Reasons against a start in the middle."""
    if played(state):
        return [impossible("'joined' stands before the play; write 'missed' for turns not seen")]
    reasons = []
    for kind in np.flatnonzero(as_counts(event.floor) > state.rules.copies).tolist():
        reasons.append(none_left(state, kind, event.floor.count(kind)))
    if event.wall is not None and event.wall > state.wall:
        words = f"{event.wall} tiles cannot be left"
        reasons.append(impossible(f"{words}: {state.wall} are after the deal"))
    return reasons


def advance_joined(state: TableState, event: Joined) -> TableState:
    """State of a table joined in the middle of the play."""
    rest = state.rules.hand_size - 1
    concealed = tuple(rest if seated else 0 for seated in state.seated)
    seen = state.seen + as_counts(event.floor)
    seen.flags.writeable = False
    wall = state.wall
    if event.wall is not None:
        wall = event.wall
    elif event.floor:
        wall = max(state.rules.n_tiles - sum(concealed) - len(event.floor), 0)
    return evolve(
        state, concealed=concealed, seen=seen, wall=wall, holder=None, turn=None, certain=False
    )
