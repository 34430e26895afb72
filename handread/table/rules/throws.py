"""Draws and throws, and the racks that their owners write down."""

from __future__ import annotations

from handread.table.events import SEATS, Discard, Drew, Rack
from handread.table.rules.reason import (
    Reason,
    add_seen,
    impossible,
    irregular,
    last_throw,
    needs_draw,
    next_live,
    none_left,
    turn_words,
    unseen_copies,
)
from handread.table.state import TableState, Thrown, put
from handread.tiles import JOKER, as_counts
from handread.values import evolve

_MISSED = "write 'missed' first if a throw was missed, amend the line if the seat is mistyped"


def check_draw(state: TableState, seat: int) -> list[Reason]:
    """Reasons against a draw by `seat` now, implied or said outright."""
    if state.wall <= 0 and state.certain:
        ends = "a wall game, or a win on that throw, can follow"
        return [impossible(f"the wall is used up: {SEATS[seat]} cannot draw; {ends}")]
    return []


def out_of_turn(state: TableState, seat: int, does: str) -> list[Reason]:
    """Reason against a seat that acts when another was to."""
    if not state.live[seat]:
        return [irregular(f"{SEATS[seat]} is dead and {does}; {turn_words(state)}")]
    if state.turn is None or state.turn == seat:
        return []
    return [irregular(f"{SEATS[seat]} {does} out of turn: {turn_words(state)}; {_MISSED}")]


def check_discard(state: TableState, event: Discard) -> list[Reason]:
    """Reasons against a throw."""
    seat, kind = event.seat, event.kind
    reasons = out_of_turn(state, seat, "throws") if state.turn != seat else []
    own = 1 if kind == JOKER and state.jokers_held[seat] else 0
    if unseen_copies(state, kind) + own < 1:
        reasons.append(none_left(state, kind))
    if state.holder != seat and needs_draw(state, seat):
        reasons += check_draw(state, seat)
    elif event.drawn and (state.shown or not (state.floor or any(state.draws))):
        why = "has just exposed" if state.shown else "opens"
        reasons.append(impossible(f"{SEATS[seat]} {why}, so it drew nothing; leave out 'drawn'"))
    if event.position not in (None, "end", "middle"):
        reasons.append(impossible(f"position {event.position!r}; accepted: end, middle"))
    return reasons


def draw(state: TableState, seat: int) -> TableState:
    """State after `seat` has drawn; a wall that is not known stays at 0."""
    return evolve(
        state,
        wall=max(state.wall - 1, 0),
        draws=put(state.draws, seat, state.draws[seat] + 1),
        concealed=put(state.concealed, seat, state.concealed[seat] + 1),
        holder=seat,
        turn=seat,
        window=None,
        shown=False,
    )


def advance_discard(state: TableState, event: Discard) -> TableState:
    """State after a throw, with the draw that it implies."""
    seat, kind = event.seat, event.kind
    changes: dict[str, object] = {}
    if state.holder == seat or not needs_draw(state, seat):
        changes["concealed"] = put(state.concealed, seat, state.concealed[seat] - 1)
    else:
        changes["wall"] = max(state.wall - 1, 0)
        changes["draws"] = put(state.draws, seat, state.draws[seat] + 1)
    if state.holder is None or state.holder == seat:
        changes["holder"] = None
        changes["turn"] = next_live(state.live, seat)
    if kind == JOKER and state.jokers_held[seat]:
        changes["jokers_held"] = put(state.jokers_held, seat, state.jokers_held[seat] - 1)
    return evolve(
        state,
        floor=(*state.floor, Thrown(seat, kind)),
        window=None if kind == JOKER else len(state.floor),
        seen=add_seen(state, (kind, 1)),
        turns=put(state.turns, seat, state.turns[seat] + 1),
        shown=False,
        **changes,
    )


def check_drew(state: TableState, event: Drew) -> list[Reason]:
    """Reasons against a draw said outright."""
    seat = event.seat
    if state.holder is not None or not needs_draw(state, seat):
        who = seat if state.holder is None else state.holder
        return [impossible(f"{SEATS[seat]} cannot draw: {SEATS[who]} holds 14 and must throw")]
    reasons = out_of_turn(state, seat, "draws") + check_draw(state, seat)
    if event.kind is not None and unseen_copies(state, event.kind) < 1:
        reasons.append(none_left(state, event.kind))
    return reasons


def advance_drew(state: TableState, event: Drew) -> TableState:
    """State after a draw said outright."""
    return draw(state, event.seat)


def check_tiles(state: TableState, tiles: tuple[int, ...], seat: int) -> list[Reason]:
    """Reasons against a set of concealed tiles: copies that cannot be there."""
    reasons = []
    counts = as_counts(tiles)
    known = state.known_in_rack(seat)
    for kind in counts.nonzero()[0].tolist():
        more = int(counts[kind]) - int(known[kind])
        if more > unseen_copies(state, kind):
            reasons.append(none_left(state, kind, more))
    return reasons


def check_rack(state: TableState, event: Rack) -> list[Reason]:
    """Reasons against a rack that its owner writes down."""
    reasons = check_tiles(state, event.tiles, event.seat)
    held, concealed = len(event.tiles), state.concealed[event.seat]
    if held != concealed and state.certain:
        words = f"{SEATS[event.seat]}'s rack has {held} tiles; it should hold {concealed}"
        reasons.append(irregular(f"{words}; {last_throw(state)}"))
    return reasons
