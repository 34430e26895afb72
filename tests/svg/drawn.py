"""A reader of drawn pictures that shares no code with the drawing, and inputs for it."""

from __future__ import annotations

import re
import xml.etree.ElementTree as ET
from dataclasses import dataclass

from hypothesis import strategies as st

from handread import svg
from handread.tiles import MOST_COPIES

SVG = "{http://www.w3.org/2000/svg}"


@dataclass(frozen=True)
class Part:
    """An element with the corner of the coordinates that it is drawn in."""

    node: ET.Element
    x: float
    y: float

    @property
    def tag(self):
        return self.node.tag.removeprefix(SVG)

    def box(self):
        """Left, top, right, bottom of a rect, its edge included."""
        line = float(self.node.get("stroke-width", 0)) / 2
        left, top = self.x + float(self.node.get("x")), self.y + float(self.node.get("y"))
        right = left + float(self.node.get("width"))
        bottom = top + float(self.node.get("height"))
        return left - line, top - line, right + line, bottom + line

    def point(self):
        return self.x + float(self.node.get("x")), self.y + float(self.node.get("y"))


def parts(picture):
    """Every drawn element in the order of drawing; turned ones are left out."""
    found = []

    def walk(node, x, y):
        moves = node.get("transform", "")
        if moves.startswith("rotate"):
            return
        if moves:
            dx, dy = re.fullmatch(r"translate\((\S+) (\S+)\)", moves).groups()
            x, y = x + float(dx), y + float(dy)
        if node.tag not in (f"{SVG}title", f"{SVG}desc"):
            found.append(Part(node, x, y))
            for child in node:
                walk(child, x, y)

    for child in ET.fromstring(picture.svg):
        walk(child, 0.0, 0.0)
    return found


def faces(picture):
    """Words of the tiles drawn, in order: those whose word stands in a tile's rect."""
    words = []
    drawn = parts(picture)
    for place, part in enumerate(drawn):
        if part.tag == "rect" and (part.node.get("rx"), part.node.get("height")) == ("6", "56.5"):
            inside = []
            left, top, right, bottom = part.box()
            for other in drawn[place + 1 :]:
                if other.tag == "text":
                    x, y = other.point()
                    if left < x < right and top < y < bottom:
                        inside.append(other.node.text)
            words.append(" ".join(inside))
    return words


def written(picture):
    """Every text that is drawn."""
    return [part.node.text for part in parts(picture) if part.tag == "text"]


kinds = st.integers(0, 35)
seats = st.integers(0, 3)
tiles = st.lists(kinds, max_size=14)
titles = st.one_of(st.none(), st.text(max_size=40))


@st.composite
def group(draw):
    size = draw(st.integers(1, 8))
    return draw(st.integers(0, 34)), size, draw(st.integers(0, size))


groups = st.lists(group(), max_size=4)


@st.composite
def throw(draw):
    seat = draw(seats)
    taker = draw(st.one_of(st.none(), st.integers(1, 3)))
    return seat, draw(kinds), None if taker is None else (seat + taker) % 4


throws = st.lists(throw(), max_size=30)


@st.composite
def window(draw, thrown):
    lying = [n for n, (_, _, taker) in enumerate(thrown) if taker is None]
    return draw(st.sampled_from([None, *lying]))


@st.composite
def live(draw):
    copies = draw(st.lists(st.integers(0, MOST_COPIES), min_size=36, max_size=36))
    return [draw(st.integers(0, most)) for most in copies], copies


@st.composite
def table(draw):
    """Arguments of a table."""
    thrown = draw(throws)
    concealed = draw(st.lists(st.integers(0, 14), min_size=4, max_size=4))
    known = draw(st.sets(seats, max_size=2))
    return {
        "throws": thrown,
        "groups": draw(st.lists(groups, min_size=4, max_size=4)),
        "concealed": concealed,
        "racks": {
            seat: draw(st.lists(kinds, min_size=concealed[seat], max_size=concealed[seat]))
            for seat in sorted(known)
        },
        "live": draw(st.lists(st.booleans(), min_size=4, max_size=4)),
        "holder": draw(st.one_of(st.none(), seats)),
        "window": draw(window(thrown)),
        "wall": draw(st.one_of(st.none(), st.integers(0, 99))),
        "people": draw(
            st.one_of(st.none(), st.lists(st.text(max_size=20), min_size=4, max_size=4))
        ),
        "bottom": draw(seats),
        "title": draw(titles),
    }


@st.composite
def pictures(draw):
    """A picture by any function of the folder."""
    which = draw(st.sampled_from(["tile", "row", "rack", "floor", "live", "table"]))
    title = draw(titles)
    if which == "tile":
        return svg.tile(draw(kinds), title=title)
    if which == "row":
        return svg.row(draw(st.lists(tiles, max_size=5)), title=title)
    if which == "rack":
        hidden = draw(st.integers(0, 14))
        return svg.rack(draw(tiles), draw(groups), hidden=hidden, title=title)
    if which == "floor":
        thrown = draw(throws)
        columns = draw(st.integers(4, 40))
        return svg.floor(thrown, window=draw(window(thrown)), columns=columns, title=title)
    if which == "live":
        return svg.live_counts(*draw(live()), certain=draw(st.booleans()), title=title)
    return svg.table(**draw(table()))
