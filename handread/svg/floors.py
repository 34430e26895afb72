"""The floor: every throw in its order, one lane for each seat."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import Final

from handread.errors import HandreadError
from handread.svg import given
from handread.svg.faces import HEIGHT, WIDTH, face
from handread.svg.given import SEATS, Throw
from handread.svg.markup import Piece, element, label, moved, stacked, words
from handread.svg.palette import FACE, INK, LANE, MAT, QUIET
from handread.svg.picture import Picture, finish
from handread.tiles import KINDS

STEP: Final = WIDTH + 6
LANE_HEIGHT: Final = HEIGHT + 36
NAMES: Final = 58
COLUMNS: Final = 14


def floor(
    throws: Iterable[Throw],
    *,
    window: int | None = None,
    columns: int = COLUMNS,
    title: str | None = None,
) -> Picture:
    """Picture of the floor, in order of throws.

    Each seat has a lane. Each column is one way round the table, so reading down and then
    right is the order of play; a seat that a claim passed over leaves a gap. The number
    of the throw stands above a tile. A tile that was taken has a broken edge, a grey face
    and the name of the seat that took it below.

    Parameters
    ----------
    throws
        ``(seat, kind, taken_by)`` in order; `taken_by` is None while the tile lies there.
    window
        Index into `throws` of the throw that may still be claimed: it gets a thick edge and
        the word "claim?".
    columns
        Ways round the table side by side, 4 to 40; more go below.
    title
        A line to stand above it.

    Raises
    ------
    HandreadError
        If a throw, `window` or `columns` is out of range; the message says where.

    Examples
    --------
    >>> print(floor([(0, 4, None), (1, 31, 3), (3, 27, None)], window=2).text)
    Floor after 3 throws
    1. East: 5 bam
    2. South: green, taken by North
    3. North: east, may still be claimed
    """
    shown = given.throws(throws, "floor")
    columns = given.whole(columns, "floor, columns", "the number of columns", 4, 40)
    last = open_throw(window, shown, "floor")
    name = f"Floor after {len(shown)} throw{'' if len(shown) == 1 else 's'}"
    piece = lanes(shown, last, columns)
    return finish(piece, name, floor_lines(shown, last), title=given.text(title, "floor, title"))


def open_throw(window: object, throws: Sequence[Throw], where: str) -> int | None:
    """The checked index of the throw that may still be claimed."""
    if window is None:
        return None
    if not throws:
        raise HandreadError(f"{where}, window: got {window!r}, but there is no throw yet")
    what = "the index of a throw"
    index = given.whole(window, f"{where}, window", what, 0, len(throws) - 1)
    taker = throws[index][2]
    if taker is not None:
        hint = f"throw {index + 1} was taken by {SEATS[taker]}; None when nothing is open"
        raise HandreadError(f"{where}, window: got {window!r}, but {hint}")
    return index


def floor_lines(throws: Sequence[Throw], window: int | None) -> list[str]:
    """Every throw in words."""
    lines = []
    for n, (seat, kind, taker) in enumerate(throws):
        end = f", taken by {SEATS[taker]}" if taker is not None else ""
        end += ", may still be claimed" if n == window else ""
        lines.append(f"{n + 1}. {SEATS[seat]}: {KINDS[kind]}{end}")
    return lines


def ways_round(throws: Sequence[Throw]) -> list[list[int]]:
    """Indices of the throws of each way round the table: a new one whenever a seat recurs.

    >>> ways_round([(0, 1, None), (2, 1, 1), (1, 5, None), (2, 7, None)])
    [[0, 1], [2, 3]]
    """
    columns: list[list[int]] = []
    for n, (seat, _, _) in enumerate(throws):
        if not columns or seat <= throws[columns[-1][-1]][0]:
            columns.append([])
        columns[-1].append(n)
    return columns


def lanes(throws: Sequence[Throw], window: int | None, columns: int, least: int = 4) -> Piece:
    """The floor as a piece, in bands of `columns` columns, none narrower than `least`."""
    ways = ways_round(throws)
    if not ways:
        return words("nothing thrown yet", 13, fill=QUIET)
    across = min(columns, max(least, len(ways)))
    bands = [ways[at : at + across] for at in range(0, len(ways), across)]
    return stacked([_band(band, throws, window, across) for band in bands], 10)


def _band(
    ways: Sequence[Sequence[int]], throws: Sequence[Throw], window: int | None, across: int
) -> Piece:
    width = NAMES + across * STEP + 2
    parts = []
    for seat, name in enumerate(SEATS):
        fill = LANE if seat % 2 == 0 else MAT
        y = seat * LANE_HEIGHT
        parts.append(
            element("rect", x=0, y=y, width=width, height=LANE_HEIGHT, rx=4, fill=fill)
            + label(8, y + LANE_HEIGHT / 2 + 5, name, 13, bold=True, anchor="start")
        )
    for column, way in enumerate(ways):
        for n in way:
            seat = throws[n][0]
            cell = _cell(n, throws[n], n == window)
            parts.append(moved(cell, NAMES + column * STEP, seat * LANE_HEIGHT + 2))
    return Piece(width, 4 * LANE_HEIGHT, "".join(parts))


def _cell(n: int, throw: Throw, is_open: bool) -> str:
    _, kind, taker = throw
    middle = WIDTH / 2
    drawn = label(middle, 10, str(n + 1), 11, fill=QUIET)
    drawn += moved(face(kind, spent=taker is not None).body, 0, 16)
    if taker is not None:
        drawn += label(middle, HEIGHT + 29, f"to {SEATS[taker]}", 10.5)
    if is_open:
        drawn += element(
            "rect", x=-1, y=15, width=WIDTH + 2, height=HEIGHT + 2, rx=7, fill="none",
            stroke=INK, stroke_width=4,
        )  # fmt: skip
        drawn += element("rect", x=1, y=HEIGHT + 19, width=WIDTH - 2, height=14, rx=3, fill=INK)
        drawn += label(middle, HEIGHT + 29.5, "claim?", 11, fill=FACE)
    return drawn
