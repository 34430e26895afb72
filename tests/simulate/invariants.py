"""What holds for every game, whoever plays: one function that tests call on a game."""

from __future__ import annotations

from collections import Counter

import numpy as np

from handread.simulate import SimulatedGame
from handread.simulate.playcard import PlayCard
from handread.table import check
from handread.table.events import (
    Absent,
    AnyEvent,
    Comment,
    Correct,
    Discard,
    Expose,
    Redeem,
    WallGame,
    Win,
    WinInError,
)
from handread.table.rules.fit import fitting_targets
from handread.table.state import TableState
from handread.tiles import JOKER
from tests.simulate.plain import counted, follow, short_of


def check_game(card: PlayCard, game: SimulatedGame) -> Counter[str]:
    """Hold a whole game to the rules; returns what was met, for tests of coverage."""
    met: Counter[str] = Counter()
    last: TableState | None = None
    for event, before, after, racks, wall in follow(card, game):
        met[type(event).__name__] += 1
        _check_event(card, event, before, met)
        if isinstance(event, Absent):
            continue
        total = counted(racks, after)
        rest = np.bincount(game.truth.wall[len(game.truth.wall) - wall :], minlength=36)
        assert (total + rest == card.targets.copies).all(), (event, total + rest)
        for seat in range(4):
            assert sum(racks[seat].values()) == after.concealed[seat] or not after.live[seat]
        if after.holder is None and all(after.live) and after.floor:
            assert sum(after.tiles_of(seat) for seat in range(4)) == 4 * 13
        assert wall == after.wall
        last = after
    assert last is not None
    assert last.over
    for seat in range(4):
        assert tuple(sorted(racks[seat].elements())) == game.truth.racks[seat]
    _check_end(card, game, last, racks)
    return met


def _check_event(card: PlayCard, event: AnyEvent, before: TableState, met: Counter[str]) -> None:
    """Nothing impossible; irregular only where a player erred."""
    reasons = check(before, event, card.card)
    assert all(reason.kind == "irregular" for reason in reasons), (event, reasons)
    if isinstance(event, Discard) and event.kind == JOKER:
        met["joker thrown"] += 1
    if not reasons:
        return
    met["irregular"] += 1
    words = " ".join(reason.words for reason in reasons)
    if isinstance(event, Expose | Correct):
        assert "fit no hand" in words
        assert len(reasons) == 1
    elif isinstance(event, Redeem):
        assert event.early
        met["early"] += 1
    else:
        assert isinstance(event, WinInError | Comment), (event, words)


def _check_end(
    card: PlayCard, game: SimulatedGame, state: TableState, racks: list[Counter[int]]
) -> None:
    ending, event = game.truth.ending, game.record.events[-1]
    assert sum(ending.payments) == 0
    if isinstance(event, WallGame):
        assert ending.winner is None
        _check_wall_game(game, state, ending.how)
        return
    assert isinstance(event, Win)
    assert ending.how == "win"
    assert ending.winner == event.seat
    assert ending.target is not None
    shown = [(g.kind, g.size, g.jokers) for g in state.exposures[event.seat]]
    assert fitting_targets(card.card, state.exposures[event.seat])[ending.target]
    assert short_of(card.card, ending.target, racks[event.seat], shown) == 0
    assert state.tiles_of(event.seat) == 14
    jokers = racks[event.seat][JOKER] + sum(group[2] for group in shown)
    assert ending.jokerless == (jokers == 0)
    assert (ending.thrower is None) == (not event.claimed)
    assert ending.payments[event.seat] > 0


def _check_wall_game(game: SimulatedGame, state: TableState, how: str) -> None:
    """The arithmetic of turns: 100 tiles on the floor, 52 in hands, 100 turns and the claims."""
    n_live = sum(state.live)
    assert how == ("wall" if n_live > 1 else "deserted")
    if n_live < 2:
        return
    assert state.wall == 0
    if not all(state.live):
        return
    claims = sum(isinstance(event, Expose) for event in game.record.events)
    n_tiles = state.rules.n_tiles
    assert state.lying == n_tiles - 52
    assert sum(state.tiles_of(seat) for seat in range(4)) == 52
    assert sum(state.turns) == n_tiles - 52 + claims
    assert sum(state.draws) == n_tiles - 53
    if claims == 0 and n_tiles == 152:
        assert state.turns == (25, 25, 25, 25)
        assert state.draws == (24, 25, 25, 25)
        assert state.floor[-1].seat == 3
