"""SVG markup and the few ways in which drawn pieces are put together."""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Final
from xml.sax.saxutils import escape

from handread.svg.palette import INK

#: System fonts for words; nothing is loaded.
FONTS: Final = "Helvetica, Arial, 'Liberation Sans', 'DejaVu Sans', sans-serif"

# Extensible Markup Language 1.0 (fifth edition), production [2] Char: what is not in it
# may not stand in a document, not even escaped.
_NOT_XML: Final = re.compile("[^\t\n\r\u0020-\ud7ff\ue000-\ufffd\U00010000-\U0010ffff]")
_NARROW: Final = frozenset("iljtfrI.,:;'|!()[] ")
_BROAD: Final = frozenset("mwMW@%")


@dataclass(frozen=True)
class Piece:
    """A drawing with its upper left corner at the origin.

    Attributes
    ----------
    width, height
        Room that it takes, in user units (CSS pixels at natural size).
    body
        SVG elements.
    """

    width: float
    height: float
    body: str


def clean(text: str) -> str:
    r"""Text on one line, without the characters that XML cannot hold.

    >>> clean("a\x00b\n c")
    'a\ufffdb c'
    """
    return " ".join(_NOT_XML.sub("\ufffd", text).split())


def number(value: float) -> str:
    """A coordinate with at most two decimals, written in one way only.

    >>> number(3.0), number(2.504), number(-0.001)
    ('3', '2.5', '0')
    """
    shown = f"{value:.2f}".rstrip("0").rstrip(".")
    return "0" if shown == "-0" else shown


def element(tag: str, *children: str, **attributes: str | float) -> str:
    """One element; ``_`` in attribute names stands for ``-``, values are escaped.

    `children` are markup already: escape words before they come here.

    >>> element("circle", cx=1, cy=2.5, stroke_width=2)
    '<circle cx="1" cy="2.5" stroke-width="2"/>'
    """
    parts = [tag]
    for name, value in attributes.items():
        shown = escape(value, {'"': "&quot;"}) if isinstance(value, str) else number(value)
        parts.append(f'{name.rstrip("_").replace("_", "-")}="{shown}"')
    inside = "".join(children)
    head = " ".join(parts)
    return f"<{head}>{inside}</{tag}>" if inside else f"<{head}/>"


def width_of(text: str, size: float, *, bold: bool = False) -> float:
    """Room that `text` takes at a font size, estimated on the generous side.

    Wide enough for the words of this folder in Liberation Sans and in DejaVu Sans, which
    is among the widest of the system fonts.
    """
    ems = 0.0
    for char in text:
        if unicodedata.east_asian_width(char) in "WF":
            ems += 1.05
        elif char in _NARROW:
            ems += 0.4
        else:
            ems += 1.0 if char in _BROAD else 0.74 if char.isupper() else 0.64
    return ems * size * (1.16 if bold else 1.0)


def shortened(text: str, size: float, most: float, *, bold: bool = False) -> str:
    """`text`, cut with an ellipsis where it would be wider than `most`.

    >>> shortened("abcdefghij", 10, 40)
    'abcde…'
    """
    if width_of(text, size, bold=bold) <= most:
        return text
    kept = ""
    for char in text:
        if width_of(kept + char + "…", size, bold=bold) > most:
            break
        kept += char
    return kept.rstrip() + "…"


def label(
    x: float, y: float, text: str, size: float, *, fill: str = INK, bold: bool = False,
    anchor: str = "middle",
) -> str:  # fmt: skip
    """Words whose baseline runs through (x, y)."""
    weight: dict[str, str | float] = {"font_weight": "bold"} if bold else {}
    return element(
        "text", escape(clean(text)), x=x, y=y, font_size=size, fill=fill, text_anchor=anchor,
        **weight,
    )  # fmt: skip


def words(
    text: str, size: float, *, fill: str = INK, bold: bool = False, most: float = 1e9
) -> Piece:
    """Words as a piece, cut where they would be wider than `most`."""
    shown = shortened(clean(text), size, most, bold=bold)
    body = label(0, size, shown, size, fill=fill, bold=bold, anchor="start")
    return Piece(width_of(shown, size, bold=bold), size * 1.3, body)


def moved(body: str, x: float, y: float) -> str:
    """Markup with its origin moved to (x, y)."""
    if not body or (x == 0 and y == 0):
        return body
    return element("g", body, transform=f"translate({number(x)} {number(y)})")


def beside(pieces: Iterable[Piece], gap: float) -> Piece:
    """Pieces from left to right, tops level."""
    x, height, bodies = 0.0, 0.0, []
    for piece in pieces:
        bodies.append(moved(piece.body, x, 0))
        x += piece.width + gap
        height = max(height, piece.height)
    return Piece(max(0.0, x - gap), height, "".join(bodies))


def stacked(pieces: Iterable[Piece], gap: float) -> Piece:
    """Pieces from top to bottom, left edges level."""
    y, width, bodies = 0.0, 0.0, []
    for piece in pieces:
        bodies.append(moved(piece.body, 0, y))
        y += piece.height + gap
        width = max(width, piece.width)
    return Piece(width, max(0.0, y - gap), "".join(bodies))


def wrapped(pieces: Sequence[Piece], most: float, gap: float, gap_rows: float) -> Piece:
    """Pieces from left to right, in as many rows as a width of `most` asks for."""
    rows: list[list[Piece]] = []
    x = 0.0
    for piece in pieces:
        if not rows or x + piece.width > most:
            rows.append([])
            x = 0.0
        rows[-1].append(piece)
        x += piece.width + gap
    return stacked([beside(row, gap) for row in rows], gap_rows)


def framed(
    piece: Piece, *, pad: float, fill: str, stroke: str, line: float, round_: float,
    width: float = 0.0, height: float = 0.0,
) -> Piece:  # fmt: skip
    """A piece on a ground with an edge, at least `width` by `height`."""
    width = max(width, piece.width + 2 * pad)
    height = max(height, piece.height + 2 * pad)
    ground = element(
        "rect", x=line / 2, y=line / 2, width=width - line, height=height - line, rx=round_,
        fill=fill, stroke=stroke, stroke_width=line,
    )  # fmt: skip
    return Piece(width, height, ground + moved(piece.body, pad, pad))
