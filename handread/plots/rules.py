"""What the parts of a reading were worth: a bar and an interval for each, readers side by side."""

from __future__ import annotations

from collections.abc import Mapping
from typing import TYPE_CHECKING

import numpy as np

from handread.errors import HandreadError

if TYPE_CHECKING:
    from matplotlib.axes import Axes

#: Fill and hatch of each reader: told apart in grey.
_BARS = (("white", "////"), ("0.6", ""), ("0.75", "...."))

#: Value and ends of an interval.
Interval = tuple[float, float, float]


def plot_bars(ax: Axes, told: Mapping[str, Mapping[str, Interval]], *, unit: str) -> Axes:
    """Draw a horizontal bar with its interval for each part and reader.

    Parameters
    ----------
    ax
        Where to draw.
    told
        By reader, by part: value, low and high. Parts are drawn from above in the order in which
        they first appear; one that a reader does not have is left empty.
    unit
        For the axis.

    Returns
    -------
    matplotlib.axes.Axes
        The `ax` given.

    Raises
    ------
    HandreadError
        If there is no reader, or more than three.
    """
    if not 1 <= len(told) <= len(_BARS):
        raise HandreadError(f"{len(told)} readers; accepted: 1 to {len(_BARS)}")
    parts = list(dict.fromkeys(part for of_reader in told.values() for part in of_reader))
    high = 0.8 / len(told)
    for place, (reader, of_reader) in enumerate(told.items()):
        names = [part for part in parts if part in of_reader]
        rows = np.array([parts.index(part) for part in names], dtype=np.float64)
        rows += (place - (len(told) - 1) / 2.0) * high
        value, low, top = np.array([of_reader[part] for part in names]).reshape(-1, 3).T
        fill, hatch = _BARS[place]
        ax.barh(
            rows, value, height=0.92 * high, color=fill, hatch=hatch, edgecolor="black",
            linewidth=0.6, label=reader,
        )  # fmt: skip
        ax.hlines(rows, low, top, color="black", linewidth=1.1)
        for end in (low, top):
            ax.plot(end, rows, "|", color="black", markersize=4)
    ax.axvline(0.0, color="black", linewidth=0.8)
    ax.set_yticks(range(len(parts)), parts)
    ax.set_ylim(len(parts) - 0.4, -0.6)
    ax.grid(axis="x", color="0.88", linewidth=0.6)
    ax.set_axisbelow(True)
    ax.spines[["top", "right", "left"]].set_visible(False)
    ax.tick_params(axis="y", length=0)
    ax.set_xlabel(unit)
    ax.legend(frameon=False, fontsize=8)
    return ax
