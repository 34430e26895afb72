"""The passes before play: a compulsory round, a second one unless somebody stops, the courtesy."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from handread.simulate.actions import DECISIONS
from handread.simulate.game.table import Table
from handread.simulate.rules.passes import BLIND_STEPS, PASSED, exchange
from handread.table.events import Passed, Stopped, Win
from handread.tiles import JOKER

FIRST_ROUND = ("right", "across", "left")
SECOND_ROUND = ("second left", "second across", "last right")


def _legal(decision: str) -> NDArray[np.bool_]:
    return np.ones(DECISIONS[decision] or 0, dtype=np.bool_)


def dealt_win(table: Table) -> bool:
    """Whether the seat that opens wins before the play, with 14 tiles dealt or passed to it."""
    opener = table.state.holder
    if opener is None or table.distance(opener) > 0:
        return False
    if table.decide(opener, "win", _legal("win"), distance=0):
        table.do(Win(opener, claimed=False))
    return table.state.over


def play_passes(table: Table) -> None:
    """Play the passes of four seats; the dealer may win after the compulsory round."""
    for step in FIRST_ROUND:
        compulsory(table, step)
    if dealt_win(table):
        return
    if "second round" in table.state.switches and not _stopped(table):
        for step in SECOND_ROUND:
            compulsory(table, step)
    courtesy(table)


def _stopped(table: Table) -> bool:
    """Whether anybody refuses the second round; all decide before anything is seen."""
    table.stops = [seat for seat in table.seats if table.decide(seat, "stop", _legal("stop"))]
    if table.stops:
        table.do(Stopped(table.stops[0]))
    return bool(table.stops)


def compulsory(table: Table, step: str) -> None:
    """One step of three tiles a seat."""
    blind = [0, 0, 0, 0]
    if step in BLIND_STEPS and "blind pass" in table.state.switches:
        for seat in table.seats:
            blind[seat] = table.decide(seat, "blind", _legal("blind"))
    given = [choose(table, seat, PASSED - blind[seat]) for seat in range(4)]
    _exchange(table, step, given, blind)
    table.do(Passed(step=step, blind=tuple(blind) if step in BLIND_STEPS else None))
    for seat in table.seats:
        table.plan(seat)


def courtesy(table: Table) -> None:
    """The exchange between facing seats, of as many tiles as the smaller wish."""
    wish = [table.decide(seat, "courtesy", _legal("courtesy")) for seat in range(4)]
    counts = [min(wish[seat], wish[(seat + 2) % 4]) for seat in range(4)]
    given = [choose(table, seat, counts[seat]) for seat in range(4)]
    _exchange(table, "courtesy", given, [0, 0, 0, 0])
    table.do(Passed(step="courtesy", counts=tuple(counts)))
    for seat in table.seats:
        table.plan(seat)


def choose(table: Table, seat: int, n: int) -> list[int]:
    """Tiles that a seat takes out of its rack to give, one decision each; never a joker."""
    chosen = []
    for _ in range(n):
        legal = table.racks[seat] > 0
        legal[JOKER] = False
        kind = table.decide(seat, "pass", legal)
        table.racks[seat][kind] -= 1
        table.given[seat].append(kind)
        chosen.append(kind)
    return chosen


def _exchange(table: Table, step: str, given: list[list[int]], blind: list[int]) -> None:
    done = exchange(step, tuple(tuple(tiles) for tiles in given), tuple(blind))
    table.passes.append(done)
    for seat, tiles in enumerate(done.received):
        np.add.at(table.racks[seat], list(tiles), 1)
        table.received[seat] += tiles
