"""A record kept while the table plays: every line checked, then saved at once."""

from __future__ import annotations

import os
from pathlib import Path

from handread.card.compiled import CompiledCard
from handread.errors import HandreadError, ParseError
from handread.table.events import SEATS, AnyEvent, Header, Record, viewer_name
from handread.table.own import OwnRack, follow_rack, no_rack
from handread.table.play import apply, replay, start
from handread.table.records import card_of
from handread.table.shorthand import Draft, format_record
from handread.table.state import TableState


class Journal:
    """A shorthand file that grows line by line, and the table that it adds up to.

    A line that cannot be read, or tells what cannot have happened, changes nothing and is not
    saved. Every other line is on the disk before ``write`` returns.

    Parameters
    ----------
    path
        A ``.txt`` file: begun if it is not there, else taken up where it ends.
    header
        For a file that is begun.
    card
        With a card, exposures that fit none of its hands are flagged.

    Raises
    ------
    ParseError
        If a line of the file cannot be read.
    IllegalEvent
        If the file tells what cannot have happened.
    """

    def __init__(
        self, path: str | Path, header: Header | None = None, card: CompiledCard | None = None
    ) -> None:
        self.path = Path(path)
        if self.path.suffix != ".txt":
            words = "a journal is shorthand in a file ending in .txt"
            raise ParseError(f"{str(path)!r} ends in {self.path.suffix!r}; {words}")
        self.card = card
        self.torn: str | None = None
        self.draft = Draft()
        new = not self.path.exists()
        if new:
            lines = format_record(Record(header or Header(), ())).rstrip("\n").split("\n")
        else:
            lines = self._lines_there()
        for line in lines:
            self.draft.take(line)
        self._header = self.draft.header()
        self._events: list[AnyEvent] = []
        self._states: list[TableState] = [self._start()]
        self._follow()
        if new:
            self._append("".join(f"{line}\n" for line in lines))
            _sync_folder(self.path.parent)

    def _lines_there(self) -> list[str]:
        """Lines of a file taken up again; an unfinished one that says nothing is dropped."""
        data = self.path.read_bytes()
        try:
            text = data.decode("utf-8-sig")
        except UnicodeDecodeError as error:
            raise ParseError(f"{str(self.path)!r} is no UTF-8 text: {error}") from None
        lines = text.replace("\r\n", "\n").split("\n")
        last = lines.pop()
        if not last:
            return lines
        try:
            self._try([*lines, last])
        except HandreadError:
            self._try(lines)
            self.torn = last
            os.truncate(self.path, len(data) - len(last.encode()))
            return lines
        self._append("\n")
        return [*lines, last]

    def _try(self, lines: list[str]) -> None:
        """Fail as these lines would."""
        draft = Draft()
        for line in lines:
            draft.take(line)
        replay(draft.events, draft.header(), self.card)

    def _start(self) -> TableState:
        return start(self._header, self.card.rules if self.card is not None else None)

    @property
    def header(self) -> Header:
        """Header of the record."""
        return self._header

    @property
    def events(self) -> tuple[AnyEvent, ...]:
        """Events as they stand."""
        return tuple(self._events)

    @property
    def state(self) -> TableState:
        """The table now."""
        return self._states[-1]

    def record(self) -> Record:
        """Record as it stands."""
        return Record(self._header, self.events)

    def viewer(self) -> int | None:
        """Seat of the recorder; None on the floor."""
        return SEATS.index(self._header.viewer) if self._header.viewer in SEATS else None

    def own_rack(self) -> OwnRack | None:
        """The recorder's own rack as far as it was written down; None on the floor."""
        seat = self.viewer()
        if seat is None or not self.state.seated[seat]:
            return None
        rack = no_rack(self._states[0], seat)
        for state, event in zip(self._states, self._events, strict=False):
            rack = follow_rack(rack, state, event, seat)
        return rack

    def write(self, line: str) -> None:
        """Take one line of shorthand, and save it.

        Raises
        ------
        ParseError
            If the line cannot be read.
        IllegalEvent
            If what it says, or what stands after it, cannot have happened.
        OSError
            If the disk refuses; the line is not taken then.
        """
        line = line.rstrip("\r\n")
        if "\n" in line or "\r" in line:
            raise ParseError(f"{line!r} is more than one line")
        trial = self.draft.copy()
        trial.take(line)
        before = self.draft, self._header, self._events, self._states
        self.draft, self._header = trial, trial.header()
        try:
            self._follow()
            if line.strip():
                self._append(line + "\n")
        except (HandreadError, OSError):
            self.draft, self._header, self._events, self._states = before
            raise

    def _follow(self) -> None:
        """Bring the states into line with the draft's events; on an error nothing changes."""
        events = list(self.draft.events)
        states = list(self._states) if self._states[0] == self._start() else [self._start()]
        same = 0
        for old, new in zip(self._events, events, strict=False):
            if old != new or same + 1 >= len(states):
                break
            same += 1
        del states[same + 1 :]
        for event in events[same:]:
            states.append(apply(states[-1], event, self.card))
        self._events, self._states = events, states

    def _append(self, text: str) -> None:
        with self.path.open("ab") as file:
            file.write(text.encode())
            file.flush()
            os.fsync(file.fileno())


def open_journal(
    path: str | Path, *, from_seat: str | None = None, card: str | None = None
) -> Journal:
    """Begin a journal, or take one up with the card that it names.

    Parameters
    ----------
    path
        A ``.txt`` file.
    from_seat
        The seat that writes, by letter or name, or ``"floor"``; None for the floor, or for
        what the file says.
    card
        Name or path of a card; None for the house card, or for what the file says.

    Raises
    ------
    HandreadError
        If the file or its card cannot be used, or says otherwise than the arguments.
    """
    path = Path(path)
    viewer = "floor" if from_seat is None else viewer_name(from_seat)
    if path.exists():
        header = Journal(path).header
        asked = (("seat", from_seat, viewer, header.viewer), ("card", card, card, header.card))
        for what, given, meant, there in asked:
            if given is not None and meant != there:
                words = f"{str(path)!r} is kept with {what} {there!r}, not {meant!r}"
                raise HandreadError(f"{words}; leave the option out, or begin another file")
    else:
        header = Header(card=card or "house", viewer=viewer)
    return Journal(path, header, card_of(Record(header, ()), path.parent))


def _sync_folder(folder: Path) -> None:
    """Make the name of a new file as lasting as its lines."""
    descriptor = os.open(folder, os.O_RDONLY)
    try:
        os.fsync(descriptor)
    finally:
        os.close(descriptor)
