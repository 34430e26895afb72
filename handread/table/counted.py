"""One record counted: what the command ``handread count`` shows."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import Any

import msgspec

from handread.errors import HandreadError
from handread.table.count import Live, live
from handread.table.events import SEATS, Record, viewer_name, viewer_seat
from handread.table.own import OwnRack, own_rack
from handread.table.play import replay
from handread.table.records import card_of, first_throws, load_record
from handread.table.screen import folded, table_lines
from handread.table.state import TableState
from handread.tiles import KINDS


@dataclass(frozen=True, eq=False)
class Counted:
    """A record counted at one moment.

    Attributes
    ----------
    title
        Title of the record.
    n_events
        Events counted.
    viewer
        ``"floor"``, or the name of the seat that counts.
    state
        The table.
    own
        The viewer's rack; None on the floor.
    count
        The live count.
    notes
        What a person should know: a card that could not be read.
    """

    title: str
    n_events: int
    viewer: str
    state: TableState
    own: OwnRack | None
    count: Live
    notes: tuple[str, ...] = ()

    def lines(self) -> list[str]:
        """Full count in plain lines of at most 80 columns."""
        from_where = "the floor" if self.viewer == "floor" else self.viewer
        throws = f"{len(self.state.floor)} throws"
        title = folded("", f"{self.title or 'untitled'}: {throws}, seen from {from_where}")
        notes = [line for note in self.notes for line in folded("note: ", note)]
        return [*title, "", *table_lines(self.count, self.state, self.own), *notes]

    def to_dict(self) -> dict[str, Any]:
        """Plain values for one JSON document."""
        count = self.count
        kinds = {
            name: {
                "floor": int(count.floor[kind]),
                "exposed": int(count.exposed[kind]),
                "in_racks": int(count.in_racks[kind]),
                "own": int(count.own[kind]),
                "unseen": int(count.unseen[kind]),
            }
            for kind, name in enumerate(KINDS)
        }
        return {
            "title": self.title,
            "events": self.n_events,
            "viewer": self.viewer,
            "kinds": kinds,
            "jokers_out": count.jokers_out,
            "jokers_of": dict(zip(SEATS, count.jokers_of, strict=True)),
            "wall": count.wall,
            "draws_left": dict(zip(SEATS, count.draws_left, strict=True)),
            "certain": count.certain,
            "over": self.state.over,
            "flags": [{"event": number, "words": words} for number, words in self.state.flags],
        }

    def to_json(self) -> str:
        """``to_dict`` as JSON."""
        return msgspec.json.format(msgspec.json.encode(self.to_dict()), indent=2).decode()


def count_record(
    path: str | Path, *, from_seat: str | None = None, at: int | None = None
) -> Counted:
    """Count the tiles of a record.

    Parameters
    ----------
    path
        A record in shorthand or JSON Lines.
    from_seat
        The seat that counts, with what it wrote down of its own rack; None or ``"floor"`` for
        the floor.
    at
        Count after this many throws of the table; None for the whole record.

    Raises
    ------
    HandreadError
        If the record cannot be read, tells what cannot have happened, or has fewer throws.
    """
    record = load_record(path)
    if at is not None:
        record = Record(record.header, first_throws(record.events, at))
    notes: tuple[str, ...] = ()
    card = None
    try:
        card = card_of(record, Path(path).parent)
    except HandreadError as error:
        notes = (f"exposures are not checked, the card cannot be used: {error}",)
    state = replay(record.events, record.header, card)
    own = None
    viewer = "floor" if from_seat is None else viewer_name(from_seat)
    seat = viewer_seat(viewer)
    if seat is None:
        count = live(state)
    else:
        own = own_rack(record.public(viewer), record.header, seat)
        count = live(state, seat, own.tiles)
    return Counted(record.header.title, state.n_events, viewer, state, own, count, notes)
