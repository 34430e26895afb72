"""One record read: what the command ``handread read`` shows."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np

from handread.card import CompiledCard
from handread.prior import rack_prior
from handread.reading import (
    Model,
    Reader,
    Reading,
    build_model,
    default_weights,
    stored_model,
    stored_prior,
)
from handread.reading.session import seat_index
from handread.table import Record, load_record
from handread.table.events import viewer_name
from handread.table.records import card_of, first_throws

#: Racks dealt for a card that no prior ships for.
STRANGER_RACKS = 20_000


@dataclass(frozen=True)
class GameReading:
    """A record read up to some throw.

    Attributes
    ----------
    record
        The record.
    reader
        The reader, after the last event read.
    seats
        Readings of the seats asked for, in the order of play.
    notes
        What a reader should know: irregular events, exposures that fit no hand, the prior.
    """

    record: Record
    reader: Reader
    seats: tuple[Reading, ...]
    notes: tuple[str, ...]

    def to_dict(self) -> dict[str, Any]:
        """Return plain values for one JSON document; every number in it is finite."""
        state = self.reader.state
        return {
            "title": self.record.header.title,
            "card": self.reader.card.name,
            "card_hash": self.reader.card.hash,
            "model": {
                "weights": self.reader.model.weights.name,
                "weights_hash": self.reader.model.weights.hash,
                "measured": self.reader.model.weights.measured,
                "prior": self.reader.model.prior_source,
                "clues": {clue.name: clue.version for clue in self.reader.model.clues},
            },
            "events": len(self.reader.events),
            "throws": len(state.floor),
            "wall": state.wall,
            "over": state.over,
            "notes": list(self.notes),
            "seats": {reading.seat: reading.to_dict() for reading in self.seats},
        }


def read_record(
    path: str | Path,
    *,
    at: int | None = None,
    seats: Iterable[str | int] | None = None,
    viewer: str | int = "floor",
    progress: Callable[[int, int], None] | None = None,
) -> GameReading:
    """Read a record: beliefs about each seat after the events that it holds.

    Parameters
    ----------
    path
        A record in shorthand or JSON Lines.
    at
        Stop after this many throws of the table, 0 before the first; None for the whole record.
    seats
        Seats to report; None for all that somebody sits at.
    viewer
        ``"floor"``, or the seat whose own rack, draws and passes the record holds, by name,
        prefix or index.
    progress
        Called with events done and events in all.

    Raises
    ------
    HandreadError
        If the record, its card or the number of throws cannot be used.
    """
    record = load_record(path)
    viewer = viewer_name(viewer)
    events = list(record.public(viewer=viewer))
    if at is not None:
        events = list(first_throws(tuple(events), at))
    card = card_of(record, Path(path).parent)
    reader = Reader(card, model=model_for(card), header=record.header, viewer=viewer)
    notes: list[str] = []
    for done, event in enumerate(events):
        evidence = reader.observe(event)
        notes += [f"event {evidence.number}: {note}" for note in evidence.notes]
        if progress is not None:
            progress(done + 1, len(events))
    state = reader.state
    notes += [f"event {number}: {flag}" for number, flag in state.flags]
    if reader.model.prior_source != "given":
        notes.append(
            f"before the first throw, hands are as likely as in {reader.model.prior_source}"
        )
    wanted = range(4) if seats is None else [seat_index(seat) for seat in seats]
    shown = tuple(reader.reading(seat) for seat in wanted if state.seated[seat])
    return GameReading(record, reader, shown, tuple(notes))


def model_for(card: CompiledCard) -> Model:
    """Model of a card with its stored prior, or with one from random racks dealt on the spot."""
    if stored_prior(card) is not None:
        return stored_model(card)
    dealt = rack_prior(card, rng=np.random.default_rng(2026), n_racks=STRANGER_RACKS)
    return build_model(
        card, weights=default_weights(), prior=dealt.prior, prior_source=dealt.source
    )
