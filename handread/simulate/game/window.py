"""The claim window: what the other seats make of a throw, all deciding at once."""

from __future__ import annotations

import numpy as np

from handread.simulate.actions import NO, WIN, group_of
from handread.simulate.game.calls import call_dead
from handread.simulate.game.table import Table
from handread.simulate.rules.claims import in_order, legal_claims, legal_mends
from handread.table.events import Correct, Expose, Voiced, Win, WinInError
from handread.table.rules.fit import fitting_targets
from handread.tiles import JOKER


def answer(table: Table, thrower: int, kind: int) -> None:
    """Let the other live seats answer a throw, and carry out what the rules give priority to.

    A win goes before an exposure; among equals the seat next in turn after the thrower. A
    thrown joker cannot be claimed.
    """
    if kind == JOKER:
        return
    order = in_order(thrower, table.state.live)
    distance = {seat: table.distance(seat, kind) for seat in order}
    answers = {seat: _claim(table, seat, kind, distance[seat]) for seat in order}
    for seat in order:
        if answers[seat] == WIN and distance[seat] > 0:
            answers[seat] = _win_in_error(table, seat, kind)
    winners = [seat for seat in order if answers[seat] == WIN]
    if winners:
        _say_lost(table, [s for s in order if answers[s] != NO and s != winners[0]])
        table.do(Win(winners[0], claimed=True))
        return
    showing = [seat for seat in order if answers[seat] != NO and table.state.live[seat]]
    if showing:
        _say_lost(table, showing[1:])
        _expose(table, showing[0], answers[showing[0]])
        _win_over_exposure(table, showing[0], [s for s in order if distance[s] == 0])
    if showing and not table.state.over:
        _mend(table, showing[0])


def _claim(table: Table, seat: int, kind: int, distance: int, *, win: bool = True) -> int:
    legal = legal_claims(table.state, seat, table.racks[seat].astype(np.uint8), kind, distance)
    legal[WIN] &= win
    if legal.sum() < 2:
        return NO
    return table.decide(seat, "claim", legal, offered=kind, distance=distance)


def _say_lost(table: Table, seats: list[int]) -> None:
    """Put claims on record that were said and lost to another seat."""
    for seat in seats:
        if table.rules.heard and table.state.live[seat]:
            table.do(Voiced(seat))


def _win_in_error(table: Table, seat: int, kind: int) -> int:
    """What becomes of a win that is none: an exposure if the seat makes one of it, or an error."""
    action = _claim(table, seat, kind, 2, win=False)
    table.do(WinInError(seat, shown=action == NO))
    if action == NO:
        table.offences[seat] = False
        call_dead(table)
    return action


def _expose(table: Table, seat: int, action: int) -> None:
    group = group_of(action)
    table.do(Expose(seat, group.size, group.jokers))


def _win_over_exposure(table: Table, holder: int, complete: list[int]) -> None:
    """A second look for a seat that overlooked its win, until the exposer throws."""
    if "win over exposure" not in table.state.switches:
        return
    kind = table.state.floor[-1].kind
    legal = np.zeros_like(legal_claims(table.state, holder, np.zeros(36, np.uint8), kind, 0))
    legal[[NO, WIN]] = True
    for seat in complete:
        if seat == holder or not table.state.live[seat]:
            continue
        if table.decide(seat, "claim", legal.copy(), offered=kind, distance=0) == WIN:
            table.do(Win(seat, claimed=True))
            return


def _mend(table: Table, seat: int) -> None:
    """Let the seat correct the group it has shown; what then fits no hand is an offence."""
    if "correction" in table.state.switches:
        legal = legal_mends(table.state, seat, table.racks[seat].astype(np.uint8))
        if legal.sum() > 1:
            action = table.decide(seat, "mend", legal)
            if action != NO:
                group = group_of(action)
                table.do(Correct(seat, group.size, group.jokers))
    if not fitting_targets(table.card.card, table.state.exposures[seat]).any():
        table.offences[seat] = True
        call_dead(table)
