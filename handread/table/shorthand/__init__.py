"""A typed shorthand of our own: one short line per event, as a person jots it at the table."""

from handread.table.shorthand.draft import Draft, parse_record
from handread.table.shorthand.entries import Amendment, Entry, Heading
from handread.table.shorthand.format import format_entry, format_line, format_record
from handread.table.shorthand.help import EXAMPLES, SHORTHAND_HELP
from handread.table.shorthand.keystrokes import keystrokes_per_event
from handread.table.shorthand.parse import parse_line, read_line

__all__ = [
    "EXAMPLES",
    "SHORTHAND_HELP",
    "Amendment",
    "Draft",
    "Entry",
    "Heading",
    "format_entry",
    "format_line",
    "format_record",
    "keystrokes_per_event",
    "parse_line",
    "parse_record",
    "read_line",
]
