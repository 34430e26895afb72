"""Reliability: what was stated against what happened."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from handread.errors import HandreadError
from handread.plots.style import COLOURS, GREY
from handread.study import Reliability, ReliabilityBand

if TYPE_CHECKING:
    from matplotlib.axes import Axes


def plot_reliability(
    ax: Axes,
    curve: Reliability,
    *,
    null: ReliabilityBand | None = None,
    bootstrap: ReliabilityBand | None = None,
    title: str = "",
) -> Axes:
    """Draw a reliability curve with its bands.

    Parameters
    ----------
    ax
        Where to draw.
    curve
        From ``reliability_curve`` or ``reliability_of_top``.
    null
        Band in which a calibrated reader's curve would lie.
    bootstrap
        Band in which this reader's own curve may lie.
    title
        Above the picture.

    Returns
    -------
    matplotlib.axes.Axes
        The `ax` given.

    Raises
    ------
    HandreadError
        If a band is of the other kind.
    """
    for band, kind in ((null, "null"), (bootstrap, "bootstrap")):
        if band is not None and band.kind != kind:
            raise HandreadError(f"{kind} is a {band.kind!r} band; accepted: a {kind!r} band")
    if null is not None:
        ax.fill_between(
            null.grid, null.low, null.high, facecolor="0.88", edgecolor="0.6", linewidth=0.6,
            label=f"calibrated, {100 * null.level:g} %",
        )  # fmt: skip
    if bootstrap is not None:
        ax.fill_between(
            bootstrap.grid, bootstrap.low, bootstrap.high, facecolor="none", hatch="///",
            edgecolor=COLOURS[0], linewidth=0.5, alpha=0.6,
            label=f"this reader, {100 * bootstrap.level:g} %",
        )  # fmt: skip
    ax.plot([0, 1], [0, 1], color=GREY, linewidth=0.9, linestyle=":")
    ax.plot(curve.stated, curve.recalibrated, color=COLOURS[0], linewidth=1.8, label="isotonic fit")
    ax.set_xlim(0, 1)
    ax.set_ylim(0, 1)
    ax.set_aspect("equal")
    ax.set_xlabel("probability stated")
    ax.set_ylabel("share that was true")
    if title:
        ax.set_title(title, fontsize=10)
    ax.legend(fontsize=7, loc="upper left", frameon=False)
    _counts(ax, curve)
    return ax


def _counts(ax: Axes, curve: Reliability) -> None:
    """Print n, and show where the stated probabilities lie as a rug of shares."""
    edges = np.linspace(0, 1, 21)
    share, _ = np.histogram(curve.stated, bins=edges, weights=curve.weight)
    top = share.max() if share.size and share.max() > 0 else 1.0
    ax.bar(
        edges[:-1], 0.12 * share / top, width=0.05, align="edge", color="0.75", edgecolor="white",
        linewidth=0.4, zorder=0,
    )  # fmt: skip
    ax.text(
        0.98, 0.16, f"n = {curve.n_games:,} games,\n{curve.n_moments:,} moments", ha="right",
        va="bottom", fontsize=7, transform=ax.transAxes,
    )  # fmt: skip
