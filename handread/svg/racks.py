"""Single tiles, rows of tiles, a rack with what it shows."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import Final

from handread.svg import given
from handread.svg.faces import GAP, WIDTH, backs, exposed, face, group_name, named, tiles
from handread.svg.given import Group
from handread.svg.markup import Piece, element, stacked, words, wrapped
from handread.svg.palette import INK, QUIET
from handread.svg.picture import Picture, finish
from handread.tiles import KINDS

PER_ROW: Final = 14
ROW: Final = PER_ROW * (WIDTH + GAP) + 104  # room for gaps between the groups of a hand


def tile(kind: int, *, title: str | None = None) -> Picture:
    """Picture of one tile.

    Parameters
    ----------
    kind
        0 to 35.
    title
        A line to stand above it.

    Raises
    ------
    HandreadError
        If `kind` is no kind.

    Examples
    --------
    >>> tile(31).text
    'green'
    """
    kind = given.kind(kind, "tile")
    return finish(face(kind), KINDS[kind], title=given.text(title, "tile, title"))


def row(blocks: Iterable[Sequence[int]], *, title: str | None = None) -> Picture:
    """Picture of blocks of tiles with a gap between them, such as the groups of a hand.

    Parameters
    ----------
    blocks
        Kinds of each block, in order; a block may hold different kinds.
    title
        A line to stand above it.

    Raises
    ------
    HandreadError
        If a block is no sequence of kinds, or holds more than 30.

    Examples
    --------
    >>> print(row([[0, 0], [9, 10, 11]]).text)
    Row of 5 tiles
    2x 1 bam; 1 crak, 2 crak, 3 crak.
    """
    taken = given.items(blocks, "row", "blocks (sequences of kinds)")
    shown = [given.kinds(block, f"row, block {n}") for n, block in enumerate(taken, 1)]
    shown = [block for block in shown if block]
    total = sum(map(len, shown))
    pieces = [_block(block) for block in shown] or [words("no tiles", 13, fill=QUIET)]
    lines = ["; ".join(named(block) for block in shown) + "."] if shown else []
    name = f"Row of {total} tile{'' if total == 1 else 's'}"
    return finish(wrapped(pieces, ROW, 14, 10), name, lines, title=given.text(title, "row, title"))


def rack(
    kinds: Iterable[int] = (),
    groups: Iterable[Group] = (),
    *,
    hidden: int = 0,
    title: str | None = None,
) -> Picture:
    """Picture of a rack: exposed groups above, concealed tiles on a rail below.

    Parameters
    ----------
    kinds
        Concealed tiles that are known, in the order in which they shall stand; from
        counts: ``numpy.repeat(numpy.arange(36), counts)``.
    groups
        Exposed groups, ``(kind, size, jokers)`` each, jokers among the size.
    hidden
        Concealed tiles that are not known, 0 to 30.
    title
        A line to stand above it.

    Raises
    ------
    HandreadError
        If a kind, a group or a number is out of range; the message says where.

    Examples
    --------
    >>> print(rack([4, 27], [(35, 2, 0)], hidden=9, title="South").text)
    South
    Rack of 13 tiles
    Exposed: pair of joker.
    Concealed: 5 bam, east, 9 tiles not seen.
    """
    known = given.kinds(kinds, "rack")
    shown = given.groups(groups, "rack")
    unseen = given.whole(hidden, "rack, hidden", "a number of tiles", 0, given.MOST_IN_A_ROW)
    total = len(known) + unseen + sum(size for _, size, _ in shown)
    name = f"Rack of {total} tile{'' if total == 1 else 's'}"
    pieces = [open_groups(shown, ROW)] if shown else []
    pieces += [concealed(known, unseen, ROW)] if known or unseen else []
    pieces = pieces or [words("no tiles", 13, fill=QUIET)]
    lines = rack_lines(known, shown, unseen)
    return finish(stacked(pieces, 10), name, lines, title=given.text(title, "rack, title"))


def open_groups(groups: Sequence[Group], most: float) -> Piece:
    """Exposed groups side by side, in rows of at most `most`."""
    return wrapped([exposed(group) for group in groups], most, 14, 8)


def concealed(kinds: Sequence[int], hidden: int, most: float) -> Piece:
    """Concealed tiles on a rail: those known by their faces, the others from behind."""
    per_row = max(1, int((most + GAP) // (WIDTH + GAP)))
    rows = [tiles(kinds[at : at + per_row]) for at in range(0, len(kinds), per_row)]
    rows += [backs(hidden)] if hidden else []
    stand = stacked([_railed(piece) for piece in rows], 5)
    count = len(kinds) + hidden
    return stacked([stand, words(f"{count} concealed", 11, fill=QUIET)], 2)


def rack_lines(kinds: Sequence[int], groups: Sequence[Group], hidden: int) -> list[str]:
    """What a rack shows, in words."""
    lines = []
    if groups:
        lines.append("Exposed: " + ", ".join(group_name(group) for group in groups) + ".")
    inside = [named(kinds)] if kinds else []
    inside += [f"{hidden} tile{'' if hidden == 1 else 's'} not seen"] if hidden else []
    if inside:
        lines.append("Concealed: " + ", ".join(inside) + ".")
    return lines


def _block(block: Sequence[int]) -> Piece:
    rows = [tiles(block[at : at + PER_ROW]) for at in range(0, len(block), PER_ROW)]
    return stacked(rows, GAP)


def _railed(piece: Piece) -> Piece:
    width = max(piece.width, 72)
    rail = element("rect", x=0, y=0, width=width, height=5, rx=2, fill=INK)
    return stacked([piece, Piece(width, 5, rail)], 1)
