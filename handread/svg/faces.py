"""One tile, one block of tiles, the backs of tiles that nobody sees."""

from __future__ import annotations

from collections.abc import Iterable
from itertools import groupby
from typing import Final

from handread.svg.given import Group
from handread.svg.marks import honour_mark, suit_mark
from handread.svg.markup import Piece, beside, element, label, moved, stacked
from handread.svg.palette import (
    BACK,
    FACE,
    HONOUR_GROUND,
    INK,
    QUIET,
    SPENT,
    SUIT_GROUND,
    SUIT_INK,
)
from handread.tiles import JOKER, KINDS, number_of, suit_of

WIDTH: Final = 42
HEIGHT: Final = 58
GAP: Final = 2
SIZES: Final = ("", "single", "pair", "pung", "kong", "quint", "sextet")


def face(kind: int, *, spent: bool = False) -> Piece:
    """A tile: its number or mark, its suit's mark, its word.

    Parameters
    ----------
    kind
        0 to 35.
    spent
        Drawn with a broken edge on a grey face: the tile is no longer there.
    """
    dark = kind == JOKER and not spent
    ground, ink = (INK, FACE) if dark else (SPENT if spent else FACE, INK)
    broken: dict[str, str | float] = {"stroke_dasharray": "4 3"} if spent else {}
    edge = element(
        "rect", x=0.75, y=0.75, width=WIDTH - 1.5, height=HEIGHT - 1.5, rx=6, fill=ground,
        stroke=INK, stroke_width=1.5, **broken,
    )  # fmt: skip
    suit, figure = suit_of(kind), number_of(kind)
    if suit is None or figure is None:
        mark = moved(honour_mark(kind, ink, ground), WIDTH / 2, 21)
        strip, word = HONOUR_GROUND, KINDS[kind]
    else:
        block = element("rect", x=22, y=3, width=17, height=36, rx=3, fill=SUIT_INK[suit])
        figure_label = label(12.2, 30, str(figure), 25, bold=True)
        mark = block + figure_label + moved(suit_mark(suit, 13, FACE), 30.5, 21)
        strip, word = SUIT_GROUND[suit], KINDS[kind].split()[1]
    band = element("rect", x=3, y=40, width=WIDTH - 6, height=HEIGHT - 43, rx=3, fill=strip)
    band = "" if spent or dark else band
    return Piece(WIDTH, HEIGHT, edge + band + mark + label(WIDTH / 2, 51.5, word, 11.5, fill=ink))


def tiles(kinds: Iterable[int]) -> Piece:
    """Tiles side by side."""
    return beside([face(kind) for kind in kinds], GAP)


def backs(count: int) -> Piece:
    """Tiles that nobody sees, as slabs seen from behind, in the fives of a tally."""
    slabs = [
        element(
            "rect", x=n * 10 + n // 5 * 5 + 0.75, y=0.75, width=7.5, height=26.5, rx=2,
            fill=BACK, stroke=INK, stroke_width=1.5,
        )
        for n in range(count)
    ]  # fmt: skip
    width = count * 10 + (count - 1) // 5 * 5 - 1 if count else 0
    return Piece(width, 28 if count else 0, "".join(slabs))


def group_name(group: Group) -> str:
    """A group in words.

    >>> group_name((12, 4, 1))
    'kong of 4 crak with 1 joker'
    """
    kind, size, jokers = group
    form = SIZES[size] if size < len(SIZES) else f"group of {size}:"
    name = f"{form} {KINDS[kind]}" if size >= len(SIZES) else f"{form} of {KINDS[kind]}"
    if kind == JOKER or not jokers:
        return name
    return f"{name} with {jokers} joker{'s' if jokers > 1 else ''}"


def exposed(group: Group) -> Piece:
    """A group that lies open, natural tiles first, underlined by its name."""
    kind, size, jokers = group
    shown = [kind] * (size - jokers) + [JOKER] * jokers
    row = tiles(shown)
    form = SIZES[size] if size < len(SIZES) else f"group of {size}"
    name = form if size == 1 else f"{form} of {KINDS[kind]}"
    rule = element("line", x1=2, y1=1, x2=row.width - 2, y2=1, stroke=INK, stroke_width=2)
    caption = rule + label(row.width / 2, 14, name, 11, fill=QUIET)
    return stacked([row, Piece(row.width, 17, caption)], 3)


def named(kinds: Iterable[int]) -> str:
    """Tiles in words, in their order, neighbours that are alike counted.

    >>> named([4, 4, 27, 4])
    '2x 5 bam, east, 5 bam'
    """
    runs = [(kind, len(list(run))) for kind, run in groupby(kinds)]
    return ", ".join(f"{n}x {KINDS[kind]}" if n > 1 else KINDS[kind] for kind, n in runs)
