"""JSON Schema of the lines of a record (draft 2020-12)."""

from __future__ import annotations

from typing import Any, Final

import msgspec

from handread.errors import ParseError
from handread.table.events import AnyEvent, Header
from handread.table.records import FORMAT

_DRAFT: Final = "https://json-schema.org/draft/2020-12/schema"


def record_schema(format: int = FORMAT) -> dict[str, Any]:
    """Schema of one line of a record in JSON Lines.

    The first line of a file is a header, each later one an event; ``$defs`` holds both, and
    the whole schema takes either.

    Parameters
    ----------
    format
        Version of the record format.

    Raises
    ------
    ParseError
        If there is no such version.

    Examples
    --------
    >>> schema = record_schema()
    >>> schema["title"], sorted(schema["$defs"])[:3]
    ('handread record, format 1: one line', ['Absent', 'Comment', 'Correct'])
    """
    if format != FORMAT:
        raise ParseError(f"no schema for format {format!r}; accepted: 1 to {FORMAT}")
    (header, events), parts = msgspec.json.schema_components(
        (Header, AnyEvent), ref_template="#/$defs/{name}"
    )
    return {
        "$schema": _DRAFT,
        "title": f"handread record, format {format}: one line",
        "description": "The first line of a record is a Header, each later line an Event.",
        "anyOf": [header, {"$ref": "#/$defs/Event"}],
        "$defs": {**parts, "Event": events},
    }
