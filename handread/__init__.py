"""handread: read a table of American-style mahjong.

What opponents throw, take and let pass becomes a belief about the hand that each is building.
The names below are loaded when they are first used, so that the import stays quick and silent.
"""

from __future__ import annotations

import importlib
from typing import TYPE_CHECKING, Any

from handread.errors import HandreadError, IllegalEvent, ImpossibleEvidence, ParseError

if TYPE_CHECKING:
    from handread.card import CompiledCard, house_card, load_card
    from handread.prior import played_prior, rack_prior
    from handread.reading import (
        Belief,
        Model,
        Reader,
        Reading,
        build_model,
        next_observations,
        stored_model,
        update,
    )
    from handread.table import (
        Header,
        Record,
        TableState,
        load_record,
        parse_line,
        parse_record,
        save_record,
    )
    from handread.table.events import (
        Absent,
        Comment,
        Correct,
        Dead,
        Discard,
        Drew,
        Expose,
        Joined,
        Missed,
        Passed,
        Rack,
        Redeem,
        Reveal,
        Stopped,
        Voiced,
        WallGame,
        Win,
        WinInError,
    )
    from handread.tiles import format_kind, parse_kind, parse_tiles

__version__ = "0.1.0"

_HOME = {
    "handread.tiles": ("format_kind", "parse_kind", "parse_tiles"),
    "handread.card": ("CompiledCard", "house_card", "load_card"),
    "handread.table": (
        "Header", "Record", "TableState", "load_record", "parse_line", "parse_record",
        "save_record",
    ),
    "handread.table.events": (
        "Absent", "Comment", "Correct", "Dead", "Discard", "Drew", "Expose", "Joined", "Missed",
        "Passed", "Rack", "Redeem", "Reveal", "Stopped", "Voiced", "WallGame", "Win", "WinInError",
    ),
    "handread.reading": (
        "Belief", "Model", "Reader", "Reading", "build_model", "next_observations",
        "stored_model", "update",
    ),
    "handread.prior": ("played_prior", "rack_prior"),
}  # fmt: skip
_MODULE_OF = {name: module for module, names in _HOME.items() for name in names}

__all__ = [
    "Absent", "Belief", "Comment", "CompiledCard", "Correct", "Dead", "Discard", "Drew",
    "Expose", "HandreadError", "Header", "IllegalEvent", "ImpossibleEvidence", "Joined",
    "Missed", "Model", "ParseError", "Passed", "Rack", "Reader", "Reading", "Record", "Redeem",
    "Reveal", "Stopped", "TableState", "Voiced", "WallGame", "Win", "WinInError",
    "build_model", "format_kind", "house_card", "load_card", "load_record",
    "next_observations", "parse_kind", "parse_line", "parse_record", "parse_tiles",
    "played_prior", "rack_prior", "save_record", "stored_model", "update",
]  # fmt: skip


def __getattr__(name: str) -> Any:
    if name not in _MODULE_OF:
        raise AttributeError(f"module {__name__!r} has no attribute {name!r}")
    return getattr(importlib.import_module(_MODULE_OF[name]), name)


def __dir__() -> list[str]:
    return sorted({*globals(), *__all__})
