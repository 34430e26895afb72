"""The count of live tiles, all 36 kinds."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Final

from handread.svg import given
from handread.svg.faces import HEIGHT, WIDTH, face
from handread.svg.markup import Piece, beside, element, framed, label, moved, stacked, words
from handread.svg.palette import EDGE, FACE, INK, MAT, QUIET, SPENT
from handread.svg.picture import Picture, finish
from handread.tiles import COPIES, KINDS, MOST_COPIES, N_KINDS

PER_ROW: Final = 9  # three suits of nine, then four winds, three dragons, flower, joker


def live_counts(
    live: Iterable[int],
    copies: Iterable[int] | None = None,
    *,
    certain: bool = True,
    title: str | None = None,
) -> Picture:
    """Picture of the live tiles of each kind: those that nobody has seen yet.

    Parameters
    ----------
    live
        Tiles of each kind that are still live, shape (36,).
    copies
        Tiles of each kind in the set, shape (36,), at most 16 each, as on a card; None
        for the standard set of 152.
    certain
        False where throws were missed, so that each count is the most it can be.
    title
        A line to stand above it.

    Raises
    ------
    HandreadError
        If there are not 36 counts, or more live tiles of a kind than the set holds.

    Examples
    --------
    >>> counts = [4] * 34 + [8, 8]
    >>> counts[31] = 1
    >>> print(live_counts(counts).text.splitlines()[5])
    Dragons: green 1 of 4, red 4 of 4, white 4 of 4.
    """
    where = "live_counts, copies"
    held = given.counts(COPIES if copies is None else copies, where, MOST_COPIES)
    taken = given.counts(live, "live_counts", held)
    certain = given.yes_or_no(certain, "live_counts, certain")
    most = "" if certain else "at most "
    total = f"{most.capitalize()}{sum(taken)} of {sum(held)} tiles live"
    cells = [_cell(kind, taken[kind], held[kind], certain) for kind in range(N_KINDS)]
    rows = [beside(cells[at : at + PER_ROW], 6) for at in range(0, N_KINDS, PER_ROW)]
    piece = stacked([*rows, words(total, 13, fill=QUIET)], 6)
    lines = _lines(taken, held, most)
    heading = given.text(title, "live_counts, title")
    return finish(piece, total, lines, title=heading)


def _lines(live: tuple[int, ...], copies: tuple[int, ...], most: str) -> list[str]:
    ends = {"Bams": 9, "Craks": 18, "Dots": 27, "Winds": 31, "Dragons": 34, "Flower, joker": 36}
    lines, start = [], 0
    for name, end in ends.items():
        shown = (
            f"{KINDS[kind]} {most}{live[kind]} of {copies[kind]}" for kind in range(start, end)
        )
        lines.append(f"{name}: {', '.join(shown)}.")
        start = end
    return lines


def _cell(kind: int, live: int, copies: int, certain: bool) -> Piece:
    gone = live == 0
    x = WIDTH + 22
    parts = [face(kind, spent=gone).body]
    if not certain:
        parts.append(label(x, 12, "at most", 9, fill=QUIET))
    parts.append(label(x, 37, str(live), 25, bold=True))
    parts.append(label(x, 54, f"of {copies}", 11, fill=QUIET))
    width = WIDTH + 42
    parts.append(moved(_pips(live, copies, width), 0, HEIGHT + 6))
    body = Piece(width, HEIGHT + 13, "".join(parts))
    fill, stroke = (MAT, SPENT) if gone else (FACE, EDGE)
    return framed(body, pad=5, fill=fill, stroke=stroke, line=1, round_=6)


def _pips(live: int, copies: int, width: float) -> str:
    """One box for each copy, filled while it is live."""
    step = min(12.0, width / max(copies, 1))
    return "".join(
        element(
            "rect", x=n * step + 0.6, y=0.6, width=step - 2.2, height=5.8, rx=1.5,
            fill=INK if n < live else "none", stroke=INK, stroke_width=1.2,
        )
        for n in range(copies)
    )  # fmt: skip
