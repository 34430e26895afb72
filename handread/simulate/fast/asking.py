"""How the loop of a game asks the unit that decides."""

from __future__ import annotations

from typing import Any

from handread.simulate.fast.compiled import call_at, compiled
from handread.simulate.fast.layout import (
    DECIDE,
    DISTANCE,
    DISTANCE_WITH,
    LAY_WAYS,
    LOOK,
    NONE,
    NOTE_MIND,
    POSSIBLE,
)


@compiled
def all_legal(t: Any, n: int) -> None:
    """Make the first n actions legal, nothing offered and no distance told."""
    for a in range(n):
        t.legal[a] = 1
    t.offered = -1
    t.distance = 0


@compiled
def decide(t: Any, seat: int, decision: int, n: int) -> int:
    """Let a seat decide among ``t.legal``, shape (n,); returns the action."""
    action: int = call_at(t.decide_at, t, DECIDE, seat, decision, n)
    return action


@compiled
def look_at_plan(t: Any, seat: int) -> None:
    """Let a seat look at its plan."""
    call_at(t.decide_at, t, LOOK, seat, NONE, NONE)


@compiled
def note_mind(t: Any, seat: int, state: int) -> None:
    """Note down what a seat is about."""
    call_at(t.decide_at, t, NOTE_MIND, seat, state, NONE)


@compiled
def lay_ways(t: Any, seat: int) -> None:
    """Make everything about one seat's ways anew, from its rack and exposures."""
    call_at(t.decide_at, t, LAY_WAYS, seat, NONE, NONE)


@compiled
def distance_of(t: Any, seat: int) -> int:
    """Tiles that a seat is short of the nearest target."""
    found: int = call_at(t.decide_at, t, DISTANCE, seat, NONE, NONE)
    return found


@compiled
def distance_with(t: Any, seat: int, kind: int) -> int:
    """Tiles that a seat is short of the nearest target with one more tile."""
    found: int = call_at(t.decide_at, t, DISTANCE_WITH, seat, kind, NONE)
    return found


@compiled
def possible(t: Any, seat: int) -> bool:
    """Whether what all can see leaves a seat any target."""
    found: bool = call_at(t.decide_at, t, POSSIBLE, seat, NONE, NONE) == 1
    return found
