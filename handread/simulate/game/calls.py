"""Calling a hand dead: on what everybody can see, by another player."""

from __future__ import annotations

import numpy as np

from handread.simulate.actions import DECISIONS
from handread.simulate.game.table import Table
from handread.simulate.rules.claims import in_order
from handread.simulate.rules.proof import proved_dead
from handread.table.events import Dead


def call_dead(table: Table) -> None:
    """Let the others call every hand dead that can be seen to be; each is asked once.

    ``table.offences`` holds seats that have erred, with whether their last exposure goes back
    to the rack for it.
    """
    if not table.rules.dead_hands or table.state.over:
        return
    for seat in table.seats:
        if not table.state.live[seat]:
            continue
        if seat not in table.offences and not proved_dead(table.card, table.state, seat):
            continue
        _ask(table, seat)


def _ask(table: Table, seat: int) -> None:
    legal = np.zeros(DECISIONS["call"] or 0, dtype=np.bool_)
    legal[[0, 1 + seat]] = True
    for caller in in_order(seat, table.state.live):
        if table.decide(caller, "call", legal):
            table.do(Dead(seat, caller, returned=table.offences.get(seat, False)))
            table.bury(seat)
            return
