"""How a game ends: a win, a wall game, and what is shown afterwards."""

from __future__ import annotations

from handread.table.events import SEATS, Reveal, WallGame, Win
from handread.table.rules.claims import check_window, evolve_throw
from handread.table.rules.reason import (
    Reason,
    add_seen,
    impossible,
    irregular,
    needs_draw,
    none_left,
    turn_words,
    unseen_copies,
)
from handread.table.rules.throws import check_draw, check_tiles, draw, out_of_turn
from handread.table.state import Exposure, TableState, put
from handread.tiles import KINDS
from handread.values import evolve


def missed_throw(state: TableState) -> bool:
    """Whether the throw that may be claimed is one that nobody wrote down."""
    return not state.certain and state.window is None and state.holder is None


def over_exposure(state: TableState) -> bool:
    """Whether the last throw lies in a group whose seat has not thrown since."""
    return state.shown and bool(state.floor) and state.floor[-1].taken_by == state.holder


def check_win(state: TableState, event: Win) -> list[Reason]:
    """Reasons against a win."""
    seat = event.seat
    if not event.claimed:
        return _check_drawn_win(state, event)
    reasons = []
    if missed_throw(state):
        if not state.live[seat]:
            reasons.append(irregular(f"{SEATS[seat]} is dead and may not claim"))
        if event.kind is not None and unseen_copies(state, event.kind) < 1:
            reasons.append(none_left(state, event.kind))
        return reasons
    if over_exposure(state):
        if state.floor[-1].seat == seat:
            reasons.append(irregular(f"{SEATS[seat]} takes back its own throw"))
        if not state.live[seat]:
            reasons.append(irregular(f"{SEATS[seat]} is dead and may not claim"))
        if state.holder != seat and "win over exposure" not in state.switches:
            reasons.append(irregular("at this table a laid exposure beats a later win call"))
    else:
        reasons += check_window(state, seat, "win with")
    if state.floor and event.kind not in (None, state.floor[-1].kind):
        won, last = KINDS[event.kind or 0], KINDS[state.floor[-1].kind]
        reasons.append(impossible(f"a claimed win takes the last throw, {last}, not {won}"))
    return reasons


def _check_drawn_win(state: TableState, event: Win) -> list[Reason]:
    seat = event.seat
    reasons = out_of_turn(state, seat, "wins on a draw")
    if state.holder != seat and needs_draw(state, seat):
        reasons += check_draw(state, seat)
    if event.kind is not None and unseen_copies(state, event.kind) < 1:
        reasons.append(none_left(state, event.kind))
    return reasons


def advance_win(state: TableState, event: Win) -> TableState:
    """State after a win: the winner holds 14 and the game is over."""
    seat = event.seat
    if not event.claimed:
        if state.holder != seat and needs_draw(state, seat):
            state = draw(state, seat)
        return evolve(state, over=True, holder=seat, turn=seat, window=None, shown=False)
    concealed = put(state.concealed, seat, state.concealed[seat] + 1)
    if missed_throw(state):
        seen = state.seen if event.kind is None else add_seen(state, (event.kind, 1))
        return evolve(
            state, over=True, won_with=event.kind, seen=seen, concealed=concealed,
            holder=seat, turn=seat,
        )  # fmt: skip
    other = state.holder
    if over_exposure(state) and other is not None:
        if other == seat:
            return evolve(state, over=True, shown=False)
        group = state.exposures[other][-1]
        rest = Exposure(group.kind, group.size - 1, group.jokers)
        state = evolve(
            state,
            exposures=put(state.exposures, other, state.exposures[other][:-1]),
            concealed=put(state.concealed, other, state.concealed[other] + group.size - 1),
            returned=put(state.returned, other, (*state.returned[other], rest)),
        )
    return evolve(
        state,
        over=True,
        won_with=state.floor[-1].kind,
        floor=evolve_throw(state, seat),
        concealed=put(state.concealed, seat, state.concealed[seat] + 1),
        holder=seat,
        turn=seat,
        window=None,
        shown=False,
    )


def check_wall_game(state: TableState, event: WallGame) -> list[Reason]:
    """Reasons against a wall game."""
    if not state.certain or sum(state.live) <= 1:
        return []
    if state.wall > 0:
        words = f"{state.wall} tiles are left in the wall"
        return [irregular(f"{words}; write 'missed' before it if turns were missed")]
    if state.holder is not None:
        return [irregular(f"the last tile has not been thrown: {turn_words(state)}")]
    return []


def advance_wall_game(state: TableState, event: WallGame) -> TableState:
    """State after a wall game."""
    return evolve(state, over=True, window=None)


def check_reveal(state: TableState, event: Reveal) -> list[Reason]:
    """Reasons against what a seat shows."""
    reasons = []
    if not state.over:
        reasons.append(irregular(f"{SEATS[event.seat]} shows its hand before the end"))
    if event.rack is not None:
        reasons += check_tiles(state, event.rack, event.seat)
        held, concealed = len(event.rack), state.concealed[event.seat]
        if held != concealed and state.certain:
            words = f"{SEATS[event.seat]} shows {held} concealed tiles"
            reasons.append(irregular(f"{words}; it should hold {concealed}"))
    return reasons


def advance_reveal(state: TableState, event: Reveal) -> TableState:
    """State after a hand was shown: as before."""
    return state
