"""One game: the families of one seat as bands over its events, the telling ones marked."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import ArrayLike

from handread.errors import HandreadError
from handread.plots.style import band_style

if TYPE_CHECKING:
    from matplotlib.axes import Axes


def plot_family_bands(
    ax: Axes,
    event: ArrayLike,
    prob: ArrayLike,
    rows: Sequence[str],
    *,
    marks: Mapping[int, str] | None = None,
    title: str = "",
) -> Axes:
    """Draw the probabilities of families as bands that fill the height.

    Parameters
    ----------
    ax
        Where to draw.
    event
        Numbers of the events after which the beliefs stood, rising, shape (n,).
    prob
        Probability of each row then, shape (n, n_rows).
    rows
        Names of the rows, from below.
    marks
        Telling events: number of the event and a few words.
    title
        Above the picture.

    Returns
    -------
    matplotlib.axes.Axes
        The `ax` given.

    Raises
    ------
    HandreadError
        If shapes do not agree, or a row does not sum to 1.
    """
    at = np.asarray(event, dtype=np.float64)
    share = np.asarray(prob, dtype=np.float64)
    if share.shape != (len(at), len(rows)) or not np.allclose(share.sum(axis=1), 1.0):
        raise HandreadError(
            f"prob has shape {share.shape}; accepted: ({len(at)}, {len(rows)}), each row sums to 1"
        )
    edges = np.concatenate([np.zeros((len(at), 1)), np.cumsum(share, axis=1)], axis=1)
    for place, row in enumerate(rows):
        ax.fill_between(
            at, edges[:, place], edges[:, place + 1], step="post", label=row, **band_style(place)
        )  # fmt: skip
    _name_bands(ax, at, edges, rows)
    for number, words in (marks or {}).items():
        ax.axvline(number, color="black", linewidth=0.9)
        ax.annotate(
            words, (number, 1.0), xycoords=("data", "axes fraction"), xytext=(2, 3),
            textcoords="offset points", rotation=35, fontsize=7, annotation_clip=False,
        )  # fmt: skip
    ax.set_xlim(at[0], at[-1])
    ax.set_ylim(0, 1)
    ax.set_xlabel("event of the record")
    ax.set_ylabel("probability")
    if title:
        ax.set_title(title, fontsize=10, pad=48 if marks else 6, loc="left")
    ax.legend(fontsize=7, loc="center left", bbox_to_anchor=(1.01, 0.5), frameon=False,
              reverse=True)  # fmt: skip
    return ax


def _name_bands(
    ax: Axes, at: np.ndarray[tuple[int], np.dtype[np.float64]],
    edges: np.ndarray[tuple[int, int], np.dtype[np.float64]], rows: Sequence[str],
) -> None:  # fmt: skip
    """Write each name where its band is widest, if it is wide enough for text."""
    height = np.diff(edges, axis=1)
    for place, row in enumerate(rows):
        widest = int(height[1:-1, place].argmax()) + 1 if len(at) > 2 else 0
        if height[widest, place] < 0.14:
            continue
        middle = 0.5 * (edges[widest, place] + edges[widest, place + 1])
        where = float(np.clip(at[widest], at[0] + 0.08 * np.ptp(at), at[-1] - 0.08 * np.ptp(at)))
        ax.text(
            where, middle, row, ha="center", va="center", fontsize=8,
            bbox={"facecolor": "white", "edgecolor": "none", "alpha": 0.8, "pad": 1.0},
        )  # fmt: skip
