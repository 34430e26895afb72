"""From an event to what it says of each seat.

A throw, redeem or self-drawn win also says that everybody let the throw before it pass; a claim
says so of the seats with priority over the claimer, and of the others only that they did not win.
A group just laid may still lose its tile to a late win, until its seat goes on.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import TypeGuard

from handread.clues.passes import BLIND_STEPS, formed_or_not, giver
from handread.errors import HandreadError
from handread.reading import likelihood
from handread.reading.around import Surroundings
from handread.reading.belief import Belief
from handread.reading.evidence import Observed
from handread.reading.look import free_copies
from handread.reading.model import Model
from handread.reading.step import Step
from handread.reading.window import answers, others_in_order
from handread.table.events import (
    Discard,
    Drew,
    Event,
    Expose,
    Missed,
    Passed,
    Redeem,
    Stopped,
    Voiced,
    WallGame,
    Win,
)
from handread.table.rules.ends import over_exposure
from handread.table.state import TableState
from handread.values import made


def offers(state: TableState) -> tuple[tuple[int, int], ...]:
    """Jokers that could be redeemed now, as (owner, kind), in order."""
    found = set()
    for owner, groups in enumerate(state.exposures):
        for shown in groups:
            mends = shown.jokers and (state.live[owner] or "dead swap" in state.switches)
            if mends and free_copies(state)[shown.kind] > 0:
                found.add((owner, shown.kind))
    return tuple(sorted(found))


def offered_kinds(state: TableState) -> tuple[int, ...]:
    """Kinds of ``offers``, each once."""
    return tuple(sorted({kind for _, kind in offers(state)}))


def laid_throw(state: TableState) -> tuple[int, int] | None:
    """Thrower and kind of a throw that lies in a group just shown and may still be won."""
    if not over_exposure(state) or "win over exposure" not in state.switches:
        return None
    thrown = state.floor[-1]
    return thrown.seat, thrown.kind


def late_winners(state: TableState, thrower: int) -> list[int]:
    """Live seats that may win on the tile of a group just shown, nearest to the thrower first."""
    return [seat for seat in others_in_order(state, thrower) if seat != state.holder]


def observations(
    model: Model,
    beliefs: tuple[Belief, ...],
    state: TableState,
    event: Event,
    around: Surroundings,
) -> Iterator[Observed]:
    """What an event says of each seat, in order; nothing for events that say nothing.

    Parameters
    ----------
    model
        The model of the reading.
    beliefs
        About the four seats, before the event.
    state
        The table before the event.
    event
        The event.
    around
        What the viewer expects the seats to hold.

    Notes
    -----
    Each seat has at most one observation of a claim window and one of a turn, and the seat's
    own claim window comes before its turn, so beliefs may be updated in the order given.
    """
    if isinstance(event, Missed):
        yield from _missed(model, beliefs, state, event, around)
        return
    if isinstance(event, Passed | Stopped):
        yield from _passed(model, beliefs, state, event, around)
        return
    laid = laid_throw(state)
    if state.window is not None and _closes(state, event):
        yield from _let_pass(model, beliefs, state, around)
    elif laid is not None and isinstance(event, Discard | Redeem | Win):
        yield from _over_group(model, beliefs, state, event, around, laid)
    if isinstance(event, Discard):
        seen = likelihood.see(model, beliefs[event.seat], state, around, acting=True)
        step = likelihood.throw_step(seen, event, offered_kinds(state))
        yield Observed("throw", event.seat, event.kind, step)
    elif isinstance(event, Redeem):
        seen = likelihood.see(model, beliefs[event.seat], state, around, acting=True)
        copies = sum(kind == event.kind for _, kind in offers(state))
        step = likelihood.redeem_step(seen, event.kind, offered_kinds(state), max(copies, 1))
        yield Observed("redeem", event.seat, event.kind, step)
    elif isinstance(event, Win) and not event.claimed:
        seen = likelihood.see(model, beliefs[event.seat], state, around, acting=True)
        step = likelihood.win_drawn_step(seen, offered_kinds(state))
        yield Observed("win", event.seat, event.kind, step)
    elif isinstance(event, Voiced) and state.window is not None:
        kind = _window(state)[1]
        seen = likelihood.see(model, beliefs[event.seat], state, around)
        would = likelihood.claims(seen, kind)
        yield Observed("voice", event.seat, kind, likelihood.voice_step(would))
    elif state.window is not None and _takes(event, state):
        yield from _taken(model, beliefs, state, event, around)


def _closes(state: TableState, event: Event) -> bool:
    """Whether an event shows that everybody has let the open throw pass."""
    if isinstance(event, Redeem):
        return not event.early and event.seat == state.turn and state.live[event.seat]
    if isinstance(event, Win):
        return not event.claimed
    return isinstance(event, Discard | WallGame | Drew)


def _takes(event: Event, state: TableState) -> TypeGuard[Win | Expose]:
    """Whether an event takes the open throw; a group may also come from a throw not recorded."""
    if isinstance(event, Expose):
        return event.kind in (None, _window(state)[1])
    return isinstance(event, Win) and event.claimed


def _let_pass(
    model: Model, beliefs: tuple[Belief, ...], state: TableState, around: Surroundings
) -> Iterator[Observed]:
    for seat, would in answers(model, beliefs, state, around):
        step = likelihood.refuse_step(would)
        yield made(Observed, what="refuse", seat=seat, kind=would.kind, step=step)


def _taken(
    model: Model,
    beliefs: tuple[Belief, ...],
    state: TableState,
    event: Win | Expose,
    around: Surroundings,
) -> Iterator[Observed]:
    asked = answers(model, beliefs, state, around)
    order = [seat for seat, _ in asked]
    if event.seat not in order:
        return
    place = order.index(event.seat)
    for i, (seat, would) in enumerate(asked):
        if i == place and isinstance(event, Win):
            yield Observed("win", seat, would.kind, likelihood.win_step(would))
        elif i == place and isinstance(event, Expose):
            step = likelihood.expose_step(would, event.size, event.jokers)
            yield Observed("expose", seat, would.kind, step)
        elif isinstance(event, Expose) and i < place:
            yield Observed("refuse", seat, would.kind, likelihood.refuse_step(would))
        elif isinstance(event, Expose) or i < place:
            yield Observed("no win", seat, would.kind, likelihood.no_win_step(would))


def _over_group(
    model: Model,
    beliefs: tuple[Belief, ...],
    state: TableState,
    event: Discard | Redeem | Win,
    around: Surroundings,
    laid: tuple[int, int],
) -> Iterator[Observed]:
    """A late win takes the tile of a group just shown, or its seat goes on and nobody did."""
    thrower, kind = laid
    order = late_winners(state, thrower)
    winner = event.seat if isinstance(event, Win) and event.claimed else None
    if winner is None and event.seat != state.holder:
        return
    if winner is not None and winner not in order:
        return
    for seat in order[: None if winner is None else order.index(winner) + 1]:
        would = likelihood.claims(likelihood.see(model, beliefs[seat], state, around), kind)
        if seat == winner:
            yield Observed("win", seat, kind, likelihood.late_win_step(would))
        else:
            yield Observed("no win", seat, kind, likelihood.no_late_win_step(would))


def _missed(
    model: Model,
    beliefs: tuple[Belief, ...],
    state: TableState,
    event: Missed,
    around: Surroundings,
) -> Iterator[Observed]:
    """Each seat may have had its turn; nobody knows what it threw."""
    for _ in range(min(event.turns, 25)):
        for seat in range(4):
            if state.live[seat]:
                seen = likelihood.see(model, beliefs[seat], state, around, acting=True)
                yield Observed("unseen turn", seat, None, likelihood.missed_step(seen))


def _passed(
    model: Model,
    beliefs: tuple[Belief, ...],
    state: TableState,
    event: Passed | Stopped,
    around: Surroundings,
) -> Iterator[Observed]:
    """How formed each rack is, by what the seat did; and the tiles that the viewer received."""
    weights, n_rows = model.weights["passes"], model.n_rows
    live = [seat for seat in range(4) if state.live[seat]]
    if isinstance(event, Stopped):
        if event.seat is not None:
            rate = formed_or_not("stop", 1, n_rows, weights)
            yield Observed("pass", event.seat, None, Step(rate))
        return
    if event.step == "second left":
        for seat in live:
            rate = formed_or_not("stop", 0, n_rows, weights)
            yield Observed("pass", seat, None, Step(rate))
    name = "courtesy" if event.step == "courtesy" else "blind"
    counts = event.counts if name == "courtesy" else event.blind
    if counts is not None and (name == "courtesy" or event.step in BLIND_STEPS):
        for seat in live:
            rate = formed_or_not(name, min(counts[seat], 3), n_rows, weights)
            yield Observed("pass", seat, None, Step(rate))
    if around.viewer is not None and event.received:
        seat = giver(around.viewer, event.step)
        blind = event.blind is not None and event.blind[seat] > 0
        if state.live[seat] and not blind:
            seen = likelihood.see(model, beliefs[seat], state, around)
            step = likelihood.received_step(seen, event.received)
            yield Observed("received", seat, event.received[0], step)


def _window(state: TableState) -> tuple[int, int]:
    """Seat and kind of the throw that may still be claimed."""
    if state.window is None:
        raise HandreadError("no throw lies open to be claimed at this moment")
    thrown = state.floor[state.window]
    return thrown.seat, thrown.kind
