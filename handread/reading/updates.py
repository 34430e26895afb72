"""The one verb: beliefs and an event in, beliefs and evidence out."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import replace

from handread.errors import ImpossibleEvidence
from handread.reading.around import Surroundings
from handread.reading.belief import Belief, show
from handread.reading.elsewhere import turned_up
from handread.reading.evidence import Evidence, Observed, SeatEvidence
from handread.reading.holdings import surroundings
from handread.reading.likelihood import exposures_step, see
from handread.reading.model import Model
from handread.reading.observe import observations
from handread.reading.seated import own_rack_seen
from handread.table.events import SEATS, Correct, Event, Expose, Rack
from handread.table.own import OwnRack
from handread.table.state import TableState
from handread.tiles import format_kind
from handread.values import made


def observe_one(belief: Belief, observed: Observed, number: int = 0) -> tuple[Belief, float]:
    """Update the belief about one seat by one observation.

    Parameters
    ----------
    belief
        Before the observation.
    observed
        The observation.
    number
        Number of the event, for the message.

    Returns
    -------
    belief
        After the observation.
    log_prob
        Log probability of the observation, nats.

    Raises
    ------
    ImpossibleEvidence
        If the model gives the observation probability zero.
    """
    probs, total = observed.step.advance(belief.probs)
    if not 0.0 < total < math.inf:
        tile = "" if observed.kind is None else f" of {format_kind(observed.kind)}"
        raise ImpossibleEvidence(
            f"event {number}: {observed.what}{tile} by {SEATS[belief.seat]} has probability "
            f"{total!r} under the model; was a tile written down wrongly?"
        )
    return belief.with_probs(probs), math.log(total)


def update(
    model: Model,
    beliefs: tuple[Belief, ...],
    event: Event,
    state: TableState,
    after: TableState,
    *,
    own: OwnRack | None = None,
    viewer: int | None = None,
    around: Surroundings | None = None,
    later: OwnRack | None = None,
) -> tuple[tuple[Belief, ...], Evidence]:
    """Update the beliefs about all seats by one event.

    Parameters
    ----------
    model
        The model of the reading.
    beliefs
        About the four seats, East first; not changed.
    event
        The event.
    state
        The table before the event.
    after
        The table after it.
    own
        The viewer's concealed tiles before the event, where the viewer is a seat.
    viewer
        The viewer's seat; None on the floor.
    around
        What the viewer expects before the event, where that is known already.
    later
        The viewer's concealed tiles after the event, where these are known already.

    Returns
    -------
    beliefs
        After the event.
    evidence
        What the event said of each seat.

    Raises
    ------
    ImpossibleEvidence
        If the model gives the event probability zero.

    Examples
    --------
    >>> import handread as hr
    >>> from handread.reading import start_belief
    >>> from handread.table import apply, start
    >>> model = hr.build_model(hr.load_card("small"))
    >>> beliefs = tuple(start_belief(model, seat) for seat in range(4))
    >>> state, event = start(None, model.card.rules), hr.Discard(seat=0, kind=4)
    >>> beliefs, evidence = update(model, beliefs, event, state, apply(state, event))
    >>> float(beliefs[0].probs.sum().round(9))
    1.0
    """
    number = state.n_events + 1
    now = list(beliefs)
    heard: tuple[list[Observed], ...] = ([], [], [], [])
    logs = [0.0] * 4
    if around is None:
        around = surroundings(model, beliefs, state, viewer=viewer, own=own)
    if isinstance(event, Correct):
        source = _reopened(model, now, event)
    elif isinstance(event, Rack):
        source = own_rack_seen(model, event, state, own, viewer)
    else:
        source = observations(model, beliefs, state, event, around)
    for observed in source:
        seat = observed.seat
        now[seat], log_prob = observe_one(now[seat], observed, number)
        heard[seat].append(observed)
        logs[seat] += log_prob
    for seat in range(4):
        if after.exposures[seat] != now[seat].exposures:
            opened = beliefs[seat].reopen
            if isinstance(event, Expose):
                opened = (replace(beliefs[seat], reopen=None), state, around)
            now[seat] = replace(show(model, now[seat], after.exposures[seat]), reopen=opened)
            for observed in _without_throw(model, beliefs[seat], now[seat], state, around):
                now[seat], log_prob = observe_one(now[seat], observed, number)
                heard[seat].append(observed)
                logs[seat] += log_prob
    elsewhere = turned_up(
        model, tuple(now), event, state, after, viewer=viewer, own=own, later=later
    )
    for observed in elsewhere:
        seat = observed.seat
        now[seat], _ = observe_one(now[seat], observed, number)  # counted with the seat that acted
        heard[seat].append(observed)
    seats = tuple([
        made(
            SeatEvidence, seat=seat, observed=tuple(said), before=beliefs[seat], after=now[seat],
            log_prob=logs[seat],
        )
        for seat, said in enumerate(heard)
        if said
    ])  # fmt: skip
    return tuple(now), made(
        Evidence, number=number, event=event, state=state, around=around, seats=seats,
        notes=_notes(now, beliefs),
    )  # fmt: skip


def _without_throw(
    model: Model, before: Belief, now: Belief, state: TableState, around: Surroundings
) -> Iterator[Observed]:
    """What new groups say that no observation of a claim has said yet: the exact term alone."""
    fresh = len(now.exposures) >= len(before.exposures)
    if fresh and now.probs[: len(now.fits)][~now.fits].any():
        step = exposures_step(see(model, now, state, around), now.fits)
        yield Observed("exposure", now.seat, None, step)


def _reopened(model: Model, now: list[Belief], event: Correct) -> Iterator[Observed]:
    """Take the seat's last exposure back and see the corrected one in its place."""
    opened = now[event.seat].reopen
    if opened is None:
        return
    now[event.seat], state, around = opened
    corrected = Expose(event.seat, event.size, event.jokers)
    for observed in observations(model, tuple(now), state, corrected, around):
        if observed.seat == event.seat:
            yield observed


def _notes(now: list[Belief], beliefs: tuple[Belief, ...]) -> tuple[str, ...]:
    notes = []
    for new, old in zip(now, beliefs, strict=True):
        if new.fits is not old.fits and not new.fits.any() and old.fits.any():
            shown = ", ".join(f"{g.size} x {format_kind(g.kind)}" for g in new.exposures)
            notes.append(f"{SEATS[new.seat]} shows {shown}: no hand of the card has these groups")
    return tuple(notes)
