"""What happened at a table: events, the state that they add up to, and the rules between."""

from handread.table.count import Live, draws_left, live
from handread.table.events import Header, Record
from handread.table.own import OwnRack, follow_rack, no_rack, own_rack
from handread.table.play import Reason, apply, check, is_legal, replay, start
from handread.table.records import load_record, save_record
from handread.table.rules.fit import fitting_targets
from handread.table.shorthand import (
    SHORTHAND_HELP,
    format_line,
    format_record,
    parse_line,
    parse_record,
)
from handread.table.state import Exposure, TableState, Thrown

__all__ = [
    "SHORTHAND_HELP",
    "Exposure",
    "Header",
    "Live",
    "OwnRack",
    "Reason",
    "Record",
    "TableState",
    "Thrown",
    "apply",
    "check",
    "draws_left",
    "fitting_targets",
    "follow_rack",
    "format_line",
    "format_record",
    "is_legal",
    "live",
    "load_record",
    "no_rack",
    "own_rack",
    "parse_line",
    "parse_record",
    "replay",
    "save_record",
    "start",
]
