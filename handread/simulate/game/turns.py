"""One seat's turn: draw, look at the plan, win or redeem, throw."""

from __future__ import annotations

from typing import Final

import numpy as np

from handread.simulate.actions import N_REDEEMS, NO, PAUSES, PLACES, redeem_action, redeem_of
from handread.simulate.game.calls import call_dead
from handread.simulate.game.table import Table
from handread.simulate.game.window import answer
from handread.simulate.manner import passed_up
from handread.table.events import Discard, Drew, Redeem, WallGame, Win, WinInError
from handread.tiles import JOKER

_YES_OR_NO: Final = 2


def take_turn(table: Table) -> None:
    """Play the turn of the seat that holds 14 or is to draw, and what others make of its throw."""
    seat = table.state.turn
    if seat is None:  # never so at a table where everything is seen
        raise RuntimeError("nobody's turn")
    drawn = None
    if table.state.holder is None:
        if not table.wall or sum(table.state.live) < 2:
            table.do(WallGame())
            return
        if _early(table, seat):
            return
        drawn = table.draw(seat)
    table.plan(seat, drawn)
    if _says_win(table, seat, drawn, redeemed=False) or table.state.turn != seat:
        return
    while _redeems(table, seat, drawn):
        table.plan(seat)
        if _says_win(table, seat, None, redeemed=True) or table.state.turn != seat:
            return
    throw(table, seat, drawn)


def throw(table: Table, seat: int, drawn: int | None) -> None:
    """Throw a tile; the others answer."""
    kind = table.decide(seat, "throw", table.racks[seat] > 0, drawn=drawn)
    flag = None if drawn is None or table.state.holder == seat else kind == drawn
    place = _place(table, seat, kind, drawn)
    table.do(Discard(seat, kind, drawn=flag, position=place, pause=_pause(table, seat, drawn)))
    answer(table, seat, kind)
    call_dead(table)


def _place(table: Table, seat: int, kind: int, drawn: int | None) -> str | None:
    """Where in the rack the tile thrown comes from; None for the tile drawn."""
    if kind == drawn:
        return None
    legal = np.ones(len(PLACES), dtype=np.bool_)
    return PLACES[table.decide(seat, "place", legal, drawn=drawn, offered=kind)]


def _pause(table: Table, seat: int, drawn: int | None) -> float:
    """How long the seat has thought, seconds."""
    legal = np.ones(len(PAUSES), dtype=np.bool_)
    offered = passed_up(table.state, seat)
    return PAUSES[table.decide(seat, "pause", legal, drawn=drawn, offered=offered)]


def _says_win(table: Table, seat: int, drawn: int | None, *, redeemed: bool) -> bool:
    """Whether a seat says that its 14 tiles are a hand; True when the game ends by it."""
    distance = table.distance(seat)
    if distance > 1:
        return False
    legal = np.ones(_YES_OR_NO, dtype=np.bool_)
    if not table.decide(seat, "win", legal, drawn=drawn, distance=distance):
        return False
    if distance == 0:
        on_claim = table.state.shown and not redeemed
        table.do(Win(seat, on_claim, drawn if table.state.holder != seat else None))
        return True
    if table.state.holder != seat:
        table.do(Drew(seat))  # what it shows is 14 tiles
    table.do(WinInError(seat))
    table.offences[seat] = False
    call_dead(table)
    return False


def redeemable(table: Table, seat: int) -> np.ndarray[tuple[int], np.dtype[np.bool_]]:
    """Mask of the redeems that a seat can make, shape (n_redeems,)."""
    legal = np.zeros(N_REDEEMS, dtype=np.bool_)
    legal[NO] = True
    for owner, groups in enumerate(table.state.exposures):
        if not table.state.live[owner] and "dead swap" not in table.state.switches:
            continue
        for group in groups:
            if group.jokers and table.racks[seat][group.kind] and group.kind != JOKER:
                legal[redeem_action(owner, group.kind)] = True
    return legal


def _redeems(table: Table, seat: int, drawn: int | None) -> bool:
    """One redeem, if the seat can and wants to make one."""
    legal = redeemable(table, seat)
    if legal.sum() < _YES_OR_NO:
        return False
    action = table.decide(seat, "redeem", legal, drawn=drawn)
    if action == NO:
        return False
    owner, kind = redeem_of(action)
    table.do(Redeem(seat, owner, kind))
    return True


def _early(table: Table, seat: int) -> bool:
    """A redeem before drawing, in error; True when the seat was called dead for it."""
    legal = redeemable(table, seat)
    if legal.sum() < _YES_OR_NO:
        return False
    action = table.decide(seat, "early", legal)
    if action == NO:
        return False
    owner, kind = redeem_of(action)
    table.do(Redeem(seat, owner, kind, early=True))
    table.offences[seat] = False
    call_dead(table)
    return not table.state.live[seat]
