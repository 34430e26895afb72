"""Records in files: shorthand in ``.txt``, JSON Lines in ``.jsonl``."""

from __future__ import annotations

from pathlib import Path
from typing import Final

import msgspec

from handread.card.compiled import CompiledCard
from handread.errors import HandreadError, ParseError, closest
from handread.table.events import AnyEvent, Discard, Header, Record
from handread.table.shorthand import parse_record

#: Newest version of the record format; older ones are read for ever.
FORMAT: Final = 1
SUFFIXES: Final = (".txt", ".jsonl")


def load_record(path: str | Path) -> Record:
    """Record in a file: shorthand (``.txt``) or JSON Lines (``.jsonl``).

    Raises
    ------
    ParseError
        If the file has another ending, or a line that cannot be read.
    FileNotFoundError
        If there is no such file.

    Examples
    --------
    >>> from handread.shipped import shipped
    >>> record = load_record(shipped("data", "records", "given-away.txt"))
    >>> type(record.events[0]).__name__
    'Passed'
    """
    path = Path(path)
    _suffix(path)
    data = path.read_bytes()
    if path.suffix == ".jsonl":
        return from_json_lines(data)
    try:
        text = data.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        raise ParseError(f"{str(path)!r} is no UTF-8 text: {error}") from None
    return _known(parse_record(text.replace("\r\n", "\n")))


def save_record(record: Record, path: str | Path) -> None:
    """Write a record to a file: shorthand (``.txt``) or JSON Lines (``.jsonl``).

    Raises
    ------
    ParseError
        If the file has another ending.
    """
    from handread.table.shorthand import format_record

    path = Path(path)
    _suffix(path)
    if path.suffix == ".jsonl":
        path.write_bytes(to_json_lines(record))
    else:
        path.write_text(format_record(record), encoding="utf-8", newline="\n")


def _suffix(path: Path) -> None:
    if path.suffix not in SUFFIXES:
        accepted = "accepted endings: .txt (shorthand), .jsonl (JSON Lines)"
        raise ParseError(f"{str(path)!r} ends in {path.suffix!r}; {accepted}")


def _known(record: Record) -> Record:
    if not 1 <= record.header.format <= FORMAT:
        words = f"format {record.header.format!r} is not known here"
        raise ParseError(f"{words}; accepted: 1 to {FORMAT}")
    return record


def card_of(record: Record, folder: Path) -> CompiledCard:
    """Load the card of a record: one that ships, by name, or a file in `folder`.

    Raises
    ------
    HandreadError
        If there is no such card, or it is not the one that the record was made with.
    """
    from handread.card import card_names, load_card

    name = record.header.card
    card = load_card(name) if name in card_names() else load_card(folder / name)
    made_with = record.header.card_hash
    if made_with is not None and made_with != card.hash:
        words = f"card {name!r} has content hash {card.hash}"
        raise HandreadError(f"{words}, the record was made with {made_with}")
    return card


def first_throws(events: tuple[AnyEvent, ...], at: int) -> tuple[AnyEvent, ...]:
    """Events up to the throw with number `at`, all before the first for 0.

    Raises
    ------
    HandreadError
        If there are fewer throws.
    """
    throws = [place for place, event in enumerate(events) if isinstance(event, Discard)]
    if not 0 <= at <= len(throws):
        raise HandreadError(f"no throw {at} in the record; accepted: 0 to {len(throws)}")
    if at == 0:
        return events[: throws[0]] if throws else events
    return events[: throws[at - 1] + 1]


def to_json_lines(record: Record) -> bytes:
    r"""Record as JSON Lines: the header, then one event a line.

    Examples
    --------
    >>> from handread.table.events import WallGame
    >>> to_json_lines(Record(Header(), (WallGame(),)))
    b'{"format":1,"card":"house"}\n{"event":"wall game"}\n'
    """
    header = {"format": record.header.format, "card": record.header.card}
    header |= msgspec.to_builtins(record.header)
    encoder = msgspec.json.Encoder()
    return encoder.encode(header) + b"\n" + encoder.encode_lines(record.events)


def from_json_lines(data: bytes) -> Record:
    r"""Record of a JSON Lines text; the reverse of ``to_json_lines``.

    Raises
    ------
    ParseError
        With the line, the place in it, and what was expected.

    Examples
    --------
    >>> from_json_lines(b'{"format":1}\n{"event":"discard","seat":0,"kind":4}\n').events
    (Discard(seat=0, kind=4, drawn=None, position=None, pause=None),)
    """
    first, _, rest = data.removeprefix(b"\xef\xbb\xbf").partition(b"\n")
    try:
        header = msgspec.json.decode(first, type=Header)
    except (msgspec.DecodeError, UnicodeDecodeError) as error:
        raise ParseError(f"line 1, {_short(first)!r}, is no header: {error}") from None
    try:
        events = msgspec.json.Decoder(AnyEvent).decode_lines(rest)
    except (msgspec.DecodeError, UnicodeDecodeError):
        raise _bad_line(rest) from None
    return _known(Record(header, tuple(events)))


def _bad_line(rest: bytes) -> ParseError:
    """Error about the first line that cannot be read."""
    decoder = msgspec.json.Decoder(AnyEvent)
    for number, line in enumerate(rest.split(b"\n"), start=2):
        if not line.strip():
            continue
        try:
            decoder.decode(line)
        except (msgspec.DecodeError, UnicodeDecodeError) as error:
            return ParseError(f"line {number}, {_short(line)!r}: {error}{_tag_hint(line)}")
    return ParseError("the lines cannot be read one by one; accepted: one event on each")


def _tag_hint(line: bytes) -> str:
    try:
        tag = msgspec.json.decode(line)["event"]
    except (msgspec.DecodeError, UnicodeDecodeError, LookupError, TypeError):
        return ""
    tags = [str(each.__struct_config__.tag) for each in AnyEvent.__args__]
    return "" if tag in tags else f"; {closest(str(tag), tags)}"


def _short(line: bytes) -> str:
    text = line.decode("utf-8", "replace")
    return text if len(text) <= 60 else text[:57] + "..."
