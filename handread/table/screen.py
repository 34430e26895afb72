"""A table in plain words and columns, at most 80 wide: for the commands that count and watch."""

from __future__ import annotations

from collections.abc import Iterable
from textwrap import wrap
from typing import Final

import numpy as np
from numpy.typing import NDArray

from handread.table.count import Live
from handread.table.events import SEATS
from handread.table.own import OwnRack
from handread.table.state import Exposure, TableState
from handread.tiles import FIRST_DRAGON, FIRST_WIND, FLOWER, JOKER, KINDS, SUITS, format_tiles

WIDTH: Final = 80
_WIDTHS: Final = {"floor": 6, "shown": 6, "own": 4, "left": 5}
_SIZES: Final = {1: "single", 2: "pair", 3: "pung", 4: "kong", 5: "quint", 6: "sextet"}


def next_words(state: TableState) -> str:
    """Say what is to come next.

    >>> from handread.table import start
    >>> next_words(start())
    'East to throw'
    """
    if state.over:
        return "the game is over"
    if state.holder is not None:
        return f"{SEATS[state.holder]} to throw"
    if state.turn is not None:
        return f"{SEATS[state.turn]} to draw and throw"
    return "next: not known"


def group_words(group: Exposure) -> str:
    """Words of an exposed group.

    >>> group_words(Exposure(kind=4, size=4, jokers=1))
    'kong of 5 bam with 1 joker'
    """
    name = _SIZES.get(group.size, f"{group.size}")
    jokers = f" with {group.jokers} joker{'s' * (group.jokers > 1)}" if group.jokers else ""
    return f"{name} of {KINDS[group.kind]}{jokers}"


def folded(first: str, words: str, width: int = WIDTH) -> list[str]:
    """Lines of `words` after a label, folded under it."""
    return wrap(words, width, initial_indent=first, subsequent_indent=" " * len(first))


def count_lines(count: Live, state: TableState, own: OwnRack | None = None) -> list[str]:
    """Short count: what is unseen of every kind, in eight lines or so.

    Parameters
    ----------
    count
        The live count.
    state
        The table.
    own
        The viewer's rack, to be written out.
    """
    bound = "" if count.certain else " or so (turns were missed)"
    head = f"wall {count.wall}{bound}, jokers out {count.jokers_out} of {count.copies[JOKER]}"
    lines = [f"{head}, {next_words(state)}", f"unseen   {_row(range(1, 10))}"]
    names = [KINDS[FIRST_WIND:FIRST_DRAGON], KINDS[FIRST_DRAGON:FLOWER], KINDS[FLOWER:]]
    for suit, side in enumerate(names):
        numbers = _row(count.unseen[suit * 9 : suit * 9 + 9])
        words = "  ".join(f"{name} {_cell(count.unseen[KINDS.index(name)])}" for name in side)
        lines.append(f"{SUITS[suit]:<8} {numbers}    {words}")
    seats = "  ".join(
        f"{SEATS[seat]} {count.draws_left[seat]}" for seat in range(4) if state.live[seat]
    )
    lines.append(f"draws left  {seats}{'' if count.certain else '  or more'}")
    if own is not None:
        more = f" and {own.unknown} not written down" if own.unknown else ""
        lines += folded("own rack  ", (format_tiles(own.tiles) or "nothing") + more)
    return lines


def _cell(number: int) -> str:
    return str(int(number)) if number else "-"


def _row(numbers: Iterable[int]) -> str:
    return " ".join(f"{_cell(number):>2}" for number in numbers)


def seat_lines(state: TableState, seat: int) -> list[str]:
    """Say what a seat shows, whether it plays, and how often it has thrown."""
    name = f"{SEATS[seat]:<6}"
    if not state.seated[seat]:
        return [f"{name} nobody sits here"]
    parts = [] if state.live[seat] else ["dead"]
    parts += [group_words(group) for group in state.exposures[seat]]
    known = state.known_in_rack(seat)
    if known.any():
        parts.append(f"known to hold {format_tiles(known)}")
    parts = parts or ["nothing shown"]
    throws = f"{state.turns[seat]} throw{'s' * (state.turns[seat] != 1)}"
    return folded(f"{name} ", f"{', '.join(parts)}; {throws}")


def table_lines(count: Live, state: TableState, own: OwnRack | None = None) -> list[str]:
    """Full count: every kind on the floor, exposed, own and unseen, then seats and flags."""
    columns = _columns(count, own)
    head = "".join(f"{name:>{_WIDTHS[name]}}" for name in columns)
    lines = [f"{'':8}{''.join(f'{suit:<{len(head) + 2}}' for suit in SUITS)}".rstrip()]
    lines.append(f"{'':3}{(head + '  ') * 3}".rstrip())
    for number in range(1, 10):
        cells = "  ".join(_cells(columns, suit * 9 + number - 1) for suit in range(3))
        lines.append(f"{number:<3}{cells}")
    lines += ["", f"{'':6}{head}"]
    for kind in range(FIRST_WIND, JOKER + 1):
        lines.append(f"{KINDS[kind]:<6}{_cells(columns, kind)}")
    short = count_lines(count, state, own)
    lines += ["", short[0], *short[5:]]
    for seat in range(4):
        lines += seat_lines(state, seat)
    for number, words in state.flags:
        lines += folded(f"! event {number}: ", words)
    return lines


def _columns(count: Live, own: OwnRack | None) -> dict[str, NDArray[np.int64]]:
    columns = {"floor": count.floor, "shown": count.exposed}
    if own is not None:
        columns["own"] = count.own
    return {**columns, "left": count.unseen}


def _cells(columns: dict[str, NDArray[np.int64]], kind: int) -> str:
    return "".join(f"{_cell(counts[kind]):>{_WIDTHS[name]}}" for name, counts in columns.items())
