"""A record as it is being written: line after line, amendments carried out, lines taken back."""

from __future__ import annotations

from typing import Any

from handread.errors import ParseError
from handread.table.events import SEATS, AnyEvent, Comment, Header, Record
from handread.table.shorthand.entries import Amendment, Entry, Heading
from handread.table.shorthand.parse import read_line
from handread.table.shorthand.words import cut


def parse_record(text: str) -> Record:
    r"""Record that a text of shorthand tells, its amendments carried out.

    Raises
    ------
    ParseError
        With line, place, word, and what would have been accepted.

    Examples
    --------
    >>> record = parse_record("card house\ne 5 b\ns r\nfix w r")
    >>> [event.seat for event in record.events]
    [0, 2]
    """
    draft = Draft()
    for line in text.split("\n"):
        draft.take(line)
    return draft.record()


class Draft:
    """A record being written; ``take`` each line, ``record()`` at any time.

    Examples
    --------
    >>> draft = Draft()
    >>> for line in ("dealer s", "s 5 b", "w r", "undo"):
    ...     draft.take(line)
    >>> draft.record().events
    (Discard(seat=1, kind=4, drawn=None, position=None, pause=None),)
    """

    def __init__(self) -> None:
        self.events: list[AnyEvent] = []
        self.lines = 0
        self._header: dict[str, Any] = {}
        self._changes: list[list[tuple[int, list[AnyEvent], int]]] = []
        self._begun = False

    def copy(self) -> Draft:
        """Second draft at this point; the two share nothing that changes."""
        other = Draft()
        other.events, other.lines = list(self.events), self.lines
        other._header, other._begun = dict(self._header), self._begun
        other._changes = list(self._changes)
        return other

    def header(self) -> Header:
        """Header so far."""
        return Header(**self._header)

    def record(self) -> Record:
        """Record so far."""
        return Record(self.header(), tuple(self.events))

    def take(self, line: str) -> None:
        """Carry out one line.

        Raises
        ------
        ParseError
            With line, place, word, and what would have been accepted; nothing changes then,
            but that the line counts.
        """
        self.lines += 1
        name = self._header.get("viewer", "floor")
        viewer = SEATS.index(name) if name in SEATS else None
        entries = read_line(line, self.lines, viewer=viewer)
        if entries and isinstance(entries[0], Heading):
            self._set(entries[0], line)
            entries = entries[1:]
        if entries:
            changes = [self._change(entry) for entry in entries]
            if not (isinstance(entries[0], Amendment) and entries[0].action == "undo"):
                self._changes.append(changes)

    def take_back(self) -> None:
        """Undo the last line that changed the events; a line that was an undo stays.

        Raises
        ------
        ParseError
            If there is no such line.
        """
        if not self._changes:
            raise self._wrong("undo", "there is nothing to undo")
        for at, before, after in reversed(self._changes.pop()):
            self.events[at : at + after] = before

    def _wrong(self, word: str, words: str) -> ParseError:
        return ParseError(f"line {self.lines}, place 1, {cut(word, 60)!r}: {words}")

    def _set(self, entry: Heading, line: str) -> None:
        if self._begun:
            words = "header lines stand before the first event"
            raise self._wrong(line.split()[0], words)
        if entry.field == "switches":
            self._header["switches"] = (*self._header.get("switches", ()), entry.value)
        else:
            self._header[entry.field] = entry.value

    def _change(self, entry: Entry) -> tuple[int, list[AnyEvent], int]:
        """Carry out an entry; return where, the events before it, and how many are there now."""
        if isinstance(entry, Amendment):
            return self._amend(entry)
        if isinstance(entry, Heading):
            raise self._wrong(entry.field, "a header line stands alone")
        self._begun = self._begun or not isinstance(entry, Comment)
        self.events.append(entry)
        return len(self.events) - 1, [], 1

    def _amend(self, entry: Amendment) -> tuple[int, list[AnyEvent], int]:
        if entry.action == "undo":
            self.take_back()
            return 0, [], 0
        number = self._last() if entry.number is None else entry.number
        least = 0 if entry.action == "add" else 1
        if not least <= number <= len(self.events):
            if entry.number is None:
                raise self._wrong(entry.action, f"there is no event yet to {entry.action}")
            words = f"no event {number}; accepted: {least} to {len(self.events)}"
            raise self._wrong(entry.action, words)
        at = number if entry.action == "add" else number - 1
        before = [] if entry.action == "add" else [self.events[at]]
        after = [] if entry.event is None else [entry.event]
        self.events[at : at + len(before)] = after
        return at, before, len(after)

    def _last(self) -> int:
        """Number of the last event that is no comment, 0 without one."""
        for number in range(len(self.events), 0, -1):
            if not isinstance(self.events[number - 1], Comment):
                return number
        return 0
