"""Records as pandas tables, one row an event, and back."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, Final

import msgspec

from handread.errors import ParseError, closest
from handread.table.events import SEATS, AnyEvent, Header, Record
from handread.tiles import format_kind, parse_kind

if TYPE_CHECKING:
    import pandas as pd

#: Columns of a table of events, with the type of each; cells that say nothing are missing.
COLUMNS: Final[dict[str, str]] = {
    "event": "string", "seat": "string", "kind": "string", "size": "Int64", "jokers": "Int64",
    "owner": "string", "caller": "string", "step": "string", "drawn": "boolean",
    "position": "string", "pause": "Float64", "claimed": "boolean", "lost": "boolean",
    "early": "boolean", "returned": "boolean", "shown": "boolean", "turns": "Int64",
    "wall": "Int64", "blind": "string", "counts": "string", "given": "string",
    "received": "string", "tiles": "string", "rack": "string", "floor": "string",
    "hand": "string", "text": "string",
}  # fmt: skip
_SEATS: Final = ("seat", "owner", "caller")
_NUMBERS: Final = ("blind", "counts")
_TRUTH: Final = {"true": True, "false": False, "1": True, "0": False, "1.0": True, "0.0": False}
_TILES: Final = ("given", "received", "tiles", "rack", "floor")


def to_frame(record: Record) -> pd.DataFrame:
    """Table of a record's events, one row each, in words that a person can filter by.

    Seats and tiles are written out, sets of tiles joined by commas. The header goes into
    ``frame.attrs["header"]``, as plain values.

    Examples
    --------
    >>> from handread.table.events import Discard
    >>> to_frame(Record(Header(), (Discard(0, 4),)))[["event", "seat", "kind"]]
         event  seat   kind
    0  discard  East  5 bam
    """
    import pandas as pd

    rows = [_row(event) for event in record.events]
    columns = {
        name: pd.array([row.get(name) for row in rows], dtype=dtype)  # type: ignore[call-overload]
        for name, dtype in COLUMNS.items()
    }
    frame = pd.DataFrame(columns)
    frame.attrs["header"] = msgspec.to_builtins(record.header)
    return frame


def _row(event: AnyEvent) -> dict[str, Any]:
    config = type(event).__struct_config__
    row: dict[str, Any] = {"event": config.tag}
    for name in type(event).__struct_fields__:
        value = getattr(event, name)
        if value is None:
            continue
        if name in _SEATS:
            value = SEATS[value]
        elif name == "kind":
            value = format_kind(value)
        elif name in _TILES:
            value = ", ".join(format_kind(kind) for kind in value)
        elif name in _NUMBERS:
            value = " ".join(str(number) for number in value)
        row[name] = value
    return row


def from_frame(frame: pd.DataFrame, header: Header | None = None) -> Record:
    """Record of a table of events; the reverse of ``to_frame``.

    Takes tables that came through a file too, where whole numbers have become decimals.

    Parameters
    ----------
    frame
        One row an event, columns as in ``COLUMNS``; columns that never say anything may be
        left out.
    header
        The header; by default that in ``frame.attrs``, else a plain one.

    Raises
    ------
    ParseError
        With the row, the column, and what would have been accepted.

    Examples
    --------
    >>> from handread.table.events import Discard
    >>> record = Record(Header(), (Discard(0, 4),))
    >>> from_frame(to_frame(record)) == record
    True
    """
    unknown = [str(name) for name in frame.columns if name not in COLUMNS]
    if unknown:
        raise ParseError(f"no column {unknown[0]!r}; {closest(unknown[0], COLUMNS)}")
    if "event" not in frame.columns:
        raise ParseError("a table of events needs a column 'event'")
    if header is None:
        header = msgspec.convert(frame.attrs.get("header", {}), Header)
    missing = frame.isna().to_numpy()
    columns = [(str(name), frame[name].tolist()) for name in frame.columns]
    events = []
    for row in range(len(frame)):
        cells = {
            name: values[row]
            for column, (name, values) in enumerate(columns)
            if not missing[row, column]
        }
        events.append(_event(cells, row))
    return Record(header, tuple(events))


def _event(cells: dict[str, Any], row: int) -> AnyEvent:
    values: dict[str, Any] = {}
    for name, cell in cells.items():
        try:
            values[name] = _value(name, cell)
        except ValueError as error:
            raise ParseError(f"row {row}, column {name!r}, {cell!r}: {error}") from None
    try:
        event: AnyEvent = msgspec.convert(values, AnyEvent)
    except msgspec.ValidationError as error:
        raise ParseError(f"row {row}, {cells!r}: {error}") from None
    return event


def _value(name: str, cell: Any) -> Any:
    if name in _SEATS:
        if cell not in SEATS:
            raise ParseError(closest(str(cell), SEATS))
        return SEATS.index(cell)
    if name == "kind":
        return parse_kind(str(cell))
    if name in _TILES:
        return tuple(parse_kind(part) for part in str(cell).split(",") if part.strip())
    if name in _NUMBERS:
        return tuple(int(part) for part in str(cell).split())
    kind = COLUMNS[name]
    if kind == "Int64":
        number = float(cell)
        if not number.is_integer():
            raise ParseError("accepted: a whole number")
        return int(number)
    if kind == "boolean":
        truth = str(cell).lower()
        if truth not in _TRUTH:
            raise ParseError(closest(truth, _TRUTH))
        return _TRUTH[truth]
    return float(cell) if kind == "Float64" else str(cell)
