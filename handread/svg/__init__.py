"""Pictures of tiles, racks, the floor, counts and tables, drawn from plain numbers.

Every function takes kinds, counts, seats and tuples of them and returns a frozen
:class:`Picture` of an SVG document and of the same facts in words. Nothing here knows
cards, events or beliefs: whoever holds such values hands their numbers over. The shapes
are these everywhere:

========== =========================================================================
kind       whole number 0 to 35, in the order of ``handread.tiles.KINDS``
seat       whole number 0 to 3: East, South, West, North
group      ``(kind, size, jokers)``: `size` tiles laid open, `jokers` of them jokers
throw      ``(seat, kind, taken_by)``: `taken_by` a seat, None while the tile lies there
========== =========================================================================

Words on tiles are lower case (``north``), names of seats are not (``North``).

Examples
--------
>>> from handread import svg
>>> print(svg.rack([4, 4, 27], [(12, 4, 1)]).text)
Rack of 7 tiles
Exposed: kong of 4 crak with 1 joker.
Concealed: 2x 5 bam, east.
"""

from handread.svg.bars import expected_copies, probabilities
from handread.svg.floors import floor
from handread.svg.live import live_counts
from handread.svg.picture import Picture
from handread.svg.racks import rack, row, tile
from handread.svg.tables import table

__all__ = [
    "Picture", "expected_copies", "floor", "live_counts", "probabilities", "rack", "row",
    "table", "tile",
]  # fmt: skip
