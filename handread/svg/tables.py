"""A whole table: four seats around the floor."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import Final

from handread.errors import HandreadError
from handread.svg import given
from handread.svg.faces import GAP, WIDTH
from handread.svg.floors import floor_lines, lanes, open_throw
from handread.svg.given import SEATS, Group, Throw
from handread.svg.markup import (
    Piece,
    beside,
    clean,
    element,
    framed,
    label,
    stacked,
    width_of,
    words,
    wrapped,
)
from handread.svg.palette import EDGE, FACE, INK, MAT, QUIET
from handread.svg.picture import Picture, finish
from handread.svg.racks import concealed, open_groups, rack_lines

COLUMNS: Final = 10
SIDE: Final = 4 * (WIDTH + GAP) - GAP
PERSON: Final = 160
PAD: Final = 10


@dataclass(frozen=True)
class _Seat:
    """What one seat's panel shows; `known` is None where nobody sees the rack."""

    seat: int
    person: str
    groups: tuple[Group, ...]
    concealed: int
    known: tuple[int, ...] | None
    live: bool
    holds: bool


def table(
    throws: Iterable[Throw] = (),
    groups: Iterable[Iterable[Group]] = ((), (), (), ()),
    concealed: Iterable[int] = (13, 13, 13, 13),
    *,
    racks: Mapping[int, Iterable[int]] | None = None,
    live: Iterable[bool] = (True, True, True, True),
    holder: int | None = None,
    window: int | None = None,
    wall: int | None = None,
    people: Iterable[str] | None = None,
    bottom: int = 0,
    title: str | None = None,
) -> Picture:
    """Picture of a table: a seat on each side, the floor between them.

    The next seat to play sits to the right, as at a table seen from above.

    Parameters
    ----------
    throws
        ``(seat, kind, taken_by)`` in order, as for :func:`floor`.
    groups
        Exposed groups ``(kind, size, jokers)`` of each seat, East first.
    concealed
        Number of concealed tiles of each seat, East first, 0 to 30.
    racks
        Concealed tiles of the seats whose racks are known, by seat; as many as
        `concealed` says.
    live
        Whether each seat still plays; False when absent or dead.
    holder
        The seat that must throw, marked with a thick edge; None for no seat.
    window
        Index into `throws` of the throw that may still be claimed; None for no throw.
    wall
        Tiles left to draw, where known.
    people
        Who sits where, East first.
    bottom
        The seat on the lower side.
    title
        A line to stand above it.

    Raises
    ------
    HandreadError
        If a value is out of range or two do not agree; the message says where.

    Examples
    --------
    >>> print(table([(0, 4, None)], holder=1, concealed=(13, 14, 13, 13), wall=98).text)
    Table after 1 throw
    East. Concealed: 13 tiles not seen.
    South, to throw. Concealed: 14 tiles not seen.
    West. Concealed: 13 tiles not seen.
    North. Concealed: 13 tiles not seen.
    98 tiles left in the wall.
    1. East: 5 bam
    """
    shown = given.throws(throws, "table")
    last = open_throw(window, shown, "table")
    left = None if wall is None else given.whole(wall, "table, wall", "tiles left", 0, 999)
    low = given.seat(bottom, "table, bottom")
    seats = _seats(groups, concealed, racks or {}, live, holder, people)
    piece = _around(seats, _middle(shown, last, left), low)
    wall_line = [] if left is None else [f"{left} tile{'' if left == 1 else 's'} left in the wall."]
    lines = [*map(_seat_line, seats), *wall_line, *floor_lines(shown, last)]
    name = f"Table after {len(shown)} throw{'' if len(shown) == 1 else 's'}"
    return finish(piece, name, lines, title=given.text(title, "table, title"))


def _seats(
    groups: object, concealed: object, racks: object, live: object, holder: object, people: object
) -> list[_Seat]:
    shown = given.items(groups, "table, groups", "the groups of each seat", 4)
    counts = given.items(concealed, "table, concealed", "a number of tiles for each seat", 4)
    plays = given.items(live, "table, live", "True or False for each seat", 4)
    names = ("",) * 4 if people is None else given.items(people, "table, people", "names", 4)
    thrower = None if holder is None else given.seat(holder, "table, holder")
    known = _known(racks)
    seats = []
    for seat, name in enumerate(SEATS):
        count = given.whole(
            counts[seat], f"table, concealed, {name}", "a number of tiles", 0, given.MOST_IN_A_ROW
        )
        tiles = known.get(seat)
        if tiles is not None and len(tiles) != count:
            told = f"racks gives {len(tiles)} tiles, concealed {count}; they must agree"
            raise HandreadError(f"table, {name}: {told}")
        exposed = given.groups(shown[seat], f"table, groups, {name}")
        person = clean(given.text(names[seat], f"table, people, {name}"))
        playing = given.yes_or_no(plays[seat], f"table, live, {name}")
        seats.append(_Seat(seat, person, exposed, count, tiles, playing, seat == thrower))
    return seats


def _known(racks: object) -> dict[int, tuple[int, ...]]:
    if not isinstance(racks, Mapping):
        accepted = "a mapping from seat (0 to 3) to kinds, such as {2: [4, 4, 27]}"
        raise HandreadError(f"table, racks: got {given.shown(racks)}; accepted: {accepted}")
    known = {}
    for key, tiles in racks.items():
        seat = given.seat(key, "table, racks")
        known[seat] = given.kinds(tiles, f"table, racks, {SEATS[seat]}")
    return known


def _seat_line(seat: _Seat) -> str:
    head = SEATS[seat.seat] + (f" ({seat.person})" if seat.person else "")
    head += "" if seat.live else ", not playing"
    head += ", to throw" if seat.holds else ""
    hidden = seat.concealed if seat.known is None else 0
    return " ".join([head + ".", *rack_lines(seat.known or (), seat.groups, hidden)])


def _middle(throws: Sequence[Throw], window: int | None, wall: int | None) -> Piece:
    said = [f"{wall} left in the wall"] if wall is not None else []
    pieces = [words(line, 13, bold=True) for line in said]
    return stacked([*pieces, lanes(throws, window, COLUMNS, COLUMNS)], 8)


def _around(seats: Sequence[_Seat], middle: Piece, bottom: int) -> Piece:
    """Panels around the middle: the next to play to the right of the one before."""
    lower, right, upper, left = (seats[(bottom + n) % 4] for n in range(4))
    sides = [_content(left, SIDE), _content(right, SIDE)]
    height = max(middle.height, *(side.height + 2 * PAD for side in sides))
    width = max(side.width for side in sides) + 2 * PAD
    west = _panel(left, sides[0], width, height)
    east = _panel(right, sides[1], width, height)
    centre = framed(middle, pad=0, fill=MAT, stroke=MAT, line=0, round_=0, width=480)
    between = beside([west, centre, east], 10)
    across = between.width
    top = _panel(upper, _content(upper, across - 2 * PAD), across, 0)
    base = _panel(lower, _content(lower, across - 2 * PAD), across, 0)
    return stacked([top, between, base], 10)


def _content(seat: _Seat, most: float) -> Piece:
    """Name, exposed groups and concealed tiles, side by side as far as the room goes."""
    heads = [words(SEATS[seat.seat], 17, bold=True)]
    if seat.holds:
        heads.append(_badge("to throw"))
    if not seat.live:
        heads.append(_badge("not playing"))
    lines = [beside(heads, 8)]
    if seat.person:
        lines.append(words(seat.person, 13, fill=QUIET, most=min(most, PERSON)))
    name = stacked(lines, 4)
    column = Piece(max(name.width, PERSON), name.height, name.body)
    wide = most > 2 * SIDE
    room = most - column.width - 18 if wide else most
    pieces = []
    if seat.groups:
        pieces.append(open_groups(seat.groups, room))
    if seat.concealed:
        hidden = seat.concealed if seat.known is None else 0
        pieces.append(concealed(seat.known or (), hidden, room))
    rest = wrapped(pieces, room, 18, 10)
    return beside([column, rest], 18) if wide else stacked([column, rest], 10)


def _badge(text: str) -> Piece:
    width = width_of(text, 12) + 8
    ground = element("rect", x=0, y=2, width=width, height=19, rx=4, fill=INK)
    return Piece(width, 21, ground + label(width / 2, 15.5, text, 12, fill=FACE))


def _panel(seat: _Seat, content: Piece, width: float, height: float) -> Piece:
    stroke, line = (INK, 4.0) if seat.holds else (EDGE, 1.5)
    fill = FACE if seat.live else MAT
    return framed(
        content, pad=PAD, fill=fill, stroke=stroke, line=line, round_=8, width=width, height=height
    )
