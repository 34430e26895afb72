"""Colours, lines and markers: distinct in colour, in grey and in print."""

from __future__ import annotations

from typing import Any

#: Blue, vermilion, green, purple, orange, sky blue, yellow, black: told apart by readers who see
#: colours otherwise (Okabe and Ito, "Color Universal Design", 2008; values from memory).
COLOURS = ("#0072B2", "#D55E00", "#009E73", "#CC79A7", "#E69F00", "#56B4E9", "#F0E442", "#000000")
LINES = ("-", "--", "-.", ":", (0, (6, 1, 1, 1, 1, 1)), (0, (8, 2)), (0, (1, 1)), "-")
MARKERS = ("o", "s", "^", "D", "v", "P", "X", "*")
HATCHES = ("", "///", "\\\\\\", "...", "xxx", "+++", "ooo", "---", "|||", "OO", "**")
GREY = "0.45"


def reader_style(place: int) -> dict[str, Any]:
    """Line style of a reader by its place among those drawn.

    Examples
    --------
    >>> reader_style(1)["marker"]
    's'
    """
    n = len(COLOURS)
    return {
        "color": COLOURS[place % n], "linestyle": LINES[place % n], "marker": MARKERS[place % n],
        "markersize": 4.5, "linewidth": 1.6,
    }  # fmt: skip


def band_style(place: int) -> dict[str, Any]:
    """Face and hatch of a band by its place from below; neighbours differ in grey too."""
    n = len(COLOURS) - 1
    light = ("#9EC9E6", "#F4B58A", "#8FD0B8", "#E3BCD3", "#F6D08A", "#C6E4F7", "#F8F2A8")
    return {
        "facecolor": light[place % n], "hatch": HATCHES[place % len(HATCHES)],
        "edgecolor": GREY, "linewidth": 0.4,
    }  # fmt: skip
