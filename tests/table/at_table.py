"""Short ways to set a table up and to ask it."""

from __future__ import annotations

import re

from handread.card.compiled import CompiledCard
from handread.table import TableState, check, parse_line, parse_record, replay


def after(*lines: str, card: CompiledCard | None = None) -> TableState:
    """State of a table after some lines of shorthand."""
    record = parse_record("\n".join(lines))
    return replay(record.events, record.header, card)


def verdict(state: TableState, line: str, card: CompiledCard | None = None) -> str:
    """``"legal"``, or the kind of the gravest reason against a line."""
    kinds = {reason.kind for reason in check(state, parse_line(line), card)}
    return "impossible" if "impossible" in kinds else "irregular" if kinds else "legal"


def refused(state: TableState, line: str, kind: str, words: str) -> None:
    """A line is refused or flagged, for this reason and in these words."""
    reasons = check(state, parse_line(line))
    assert any(r.kind == kind and re.search(words, r.words) for r in reasons), reasons


def rounds(n: int, first: int = 0) -> list[str]:
    """Lines of `n` throws in turn, all different enough that no kind is thrown five times."""
    tiles = [f"{number} {suit}" for suit in "bcd" for number in range(1, 10)]
    return [f"{'eswn'[(first + i) % 4]} {tiles[i % 27]}" for i in range(n)]


def tiles_in_all(state: TableState) -> int:
    """Tiles that a state accounts for: wall, floor, racks and exposures."""
    return state.wall + state.lying + sum(state.tiles_of(seat) for seat in range(4))
