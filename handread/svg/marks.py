"""Marks of our own for suits, winds, dragons, flower and joker, around the point (0, 0).

A bam is upright bars, a crak an angle, a dot a ring: three shapes that stay apart without
colour. A wind is a pointer on a compass with north upwards. A dragon is a diamond that
holds the mark of the suit it goes with. The flower is petals, the joker two wedges.
"""

from __future__ import annotations

import math

from handread.svg.markup import element, number
from handread.svg.palette import FLOWER_INK
from handread.tiles import DRAGONS, FIRST_DRAGON, FIRST_WIND, FLOWER, JOKER

_TURN = (90, 180, 270, 0)  # degrees clockwise from north: east, south, west, north


def _polygon(points: list[tuple[float, float]], **attributes: str | float) -> str:
    shown = " ".join(f"{number(x)},{number(y)}" for x, y in points)
    return element("polygon", points=shown, **attributes)


def suit_mark(suit: int, size: float, ink: str) -> str:
    """The mark of a suit (0 bam, 1 crak, 2 dot) in a square of `size`."""
    half = size / 2
    if suit == 0:
        bar, shift = size / 4.4, size / 7
        lefts = (-half, -bar / 2, half - bar)
        tops = (-half - shift, -half + shift, -half - shift)
        return "".join(
            element("rect", x=x, y=y, width=bar, height=size, fill=ink)
            for x, y in zip(lefts, tops, strict=True)
        )
    if suit == 1:
        reach, rise = half * 0.78, half * 0.95
        shown = "".join(
            f"M{number(tip + reach)},{number(-rise)}L{number(tip)},0"
            f"L{number(tip + reach)},{number(rise)}"
            for tip in (-half * 0.8, half * 0.1)
        )
        return element("path", d=shown, fill="none", stroke=ink, stroke_width=size / 5)
    line = size / 6
    ring = element(
        "circle", cx=0, cy=0, r=half - line / 2, fill="none", stroke=ink, stroke_width=line
    )
    return ring + element("circle", cx=0, cy=0, r=size / 6, fill=ink)


def wind_mark(wind: int, ink: str) -> str:
    """A pointer to the side of a wind (0 east, 1 south, 2 west, 3 north), 26 across."""
    ticks = "".join(
        element("line", x1=0, y1=-13, x2=0, y2=-9.5, transform=f"rotate({turn})")
        for turn in (0, 90, 180, 270)
        if turn != _TURN[wind]
    )
    pointer = _polygon([(0, -13.5), (6, 1), (-6, 1)], fill=ink)
    tail = _polygon([(0, 8), (4.2, 1), (-4.2, 1)], fill="none", stroke=ink, stroke_width=1.5)
    turned = element("g", pointer, tail, transform=f"rotate({_TURN[wind]})")
    return element("g", ticks, stroke=ink, stroke_width=2) + turned


def dragon_mark(dragon: int, ink: str, face: str) -> str:
    """A diamond with the mark of the dragon's suit: full for green and red, open for white."""
    corners = [(0.0, -14.0), (14.0, 0.0), (0.0, 14.0), (-14.0, 0.0)]
    if DRAGONS[dragon] == "white":
        inner = [(x * 0.9, y * 0.9) for x, y in corners]
        frame = _polygon(inner, fill="none", stroke=ink, stroke_width=2.2)
        return frame + suit_mark(dragon, 10, ink)
    return _polygon(corners, fill=ink) + suit_mark(dragon, 11, face)


def flower_mark(ink: str, face: str) -> str:
    """Six petals around an open middle, 26 across."""
    petals = "".join(
        element("circle", cx=8.2 * math.sin(turn), cy=-8.2 * math.cos(turn), r=4.6, fill=ink)
        for turn in (math.radians(60 * n) for n in range(6))
    )
    return petals + element("circle", cx=0, cy=0, r=3.4, fill=face, stroke=ink, stroke_width=2)


def joker_mark(ink: str) -> str:
    """Two wedges that meet, 26 across."""
    left = _polygon([(-13, -11), (0, 0), (-13, 11)], fill=ink)
    right = _polygon([(13, -11), (0, 0), (13, 11)], fill="none", stroke=ink, stroke_width=2)
    return left + right


def honour_mark(kind: int, ink: str, face: str) -> str:
    """The mark of a kind that has no number, in `ink` on a tile of colour `face`."""
    if kind == JOKER:
        return joker_mark(ink)
    if kind == FLOWER:
        return flower_mark(FLOWER_INK, face)
    if kind >= FIRST_DRAGON:
        return dragon_mark(kind - FIRST_DRAGON, ink, face)
    return wind_mark(kind - FIRST_WIND, ink)
