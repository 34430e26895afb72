"""Bits: gain by own turn for each reader, and what was claimed against what was realised."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING

import numpy as np

from handread.errors import HandreadError
from handread.plots.style import GREY, reader_style
from handread.study import Estimate, Honesty

if TYPE_CHECKING:
    from matplotlib.axes import Axes


def plot_bits_by_turn(
    ax: Axes, gains: Mapping[str, Mapping[int, Estimate]], *, base: str = "base rates"
) -> Axes:
    """Draw gain over a base by own turn, one line a reader, with intervals.

    Parameters
    ----------
    ax
        Where to draw.
    gains
        By reader, by own turn, the gain with its interval.
    base
        What the gains are over, for the axis.

    Returns
    -------
    matplotlib.axes.Axes
        The `ax` given.
    """
    if not gains:
        raise HandreadError("gains is empty; accepted: one reader or more")
    ax.axhline(0.0, color=GREY, linewidth=0.8)
    n = len(gains)
    for place, (reader, by_turn) in enumerate(gains.items()):
        turns = np.array(sorted(by_turn), dtype=np.float64)
        told = [by_turn[int(turn)] for turn in turns]
        value = np.array([each.value for each in told])
        low = np.array([each.low for each in told])
        high = np.array([each.high for each in told])
        aside = 0.25 * (place - (n - 1) / 2.0) / max(n - 1, 1)
        style = reader_style(place)
        ax.plot(turns + aside, value, label=reader, **style)
        ax.vlines(turns + aside, low, high, color=style["color"], linewidth=1.0)
    games = [each.n_games for told in gains.values() for each in told.values()]
    ax.set_xlabel("own turn")
    ax.set_ylabel(f"gain over {base}, bits")
    ax.set_title(f"intervals over {min(games):,} to {max(games):,} games", fontsize=8)
    ax.legend(fontsize=7, frameon=False)
    return ax


def plot_claimed_realised(ax: Axes, told: Mapping[str, Honesty]) -> Axes:
    """Draw bits claimed against bits realised, one point a clue or kind of event.

    Parameters
    ----------
    ax
        Where to draw.
    told
        By name, from ``honesty_by``.

    Returns
    -------
    matplotlib.axes.Axes
        The `ax` given. Above the diagonal a clue teaches more than it says, below it less.
    """
    if not told:
        raise HandreadError("told is empty; accepted: one clue or more")
    claimed = np.array([each.claimed.value for each in told.values()])
    realised = np.array([each.realised.value for each in told.values()])
    low = np.array([each.realised.low for each in told.values()])
    high = np.array([each.realised.high for each in told.values()])
    most = float(np.nanmax(np.concatenate([claimed, high]))) * 1.08 + 1e-9
    least = min(0.0, float(np.nanmin(np.concatenate([claimed, low]))) * 1.08)
    ax.plot([least, most], [least, most], color=GREY, linestyle=":", linewidth=0.9)
    ax.axhline(0.0, color=GREY, linewidth=0.6)
    for place, name in enumerate(told):
        style = reader_style(place)
        label = f"{name} ({claimed[place]:.2f}, {realised[place]:.2f})"
        ax.vlines(claimed[place], low[place], high[place], color=style["color"], linewidth=1.2)
        ax.plot(
            claimed[place], realised[place], color=style["color"], marker=style["marker"],
            linestyle="none", markersize=6, label=label,
            markerfacecolor="white" if place >= _N_STYLES else style["color"],
        )  # fmt: skip
    ax.set_xlabel("bits claimed, a game")
    ax.set_ylabel("bits realised, a game")
    ax.legend(fontsize=6, frameon=False, title="(claimed, realised)", title_fontsize=6)
    return ax


_N_STYLES = 8


def gains_by_turn(lines: Sequence[object], measure: str = "gain") -> dict[str, dict[int, Estimate]]:
    """Gather gains by reader and own turn from the lines of a summary.

    Parameters
    ----------
    lines
        Lines of a ``Summary``.
    measure
        Which measure.
    """
    out: dict[str, dict[int, Estimate]] = {}
    for line in lines:
        part, name = str(getattr(line, "part", "")), getattr(line, "measure", "")
        if name != measure or not part.startswith("own turn "):
            continue
        names = ("value", "low", "high", "standard_error", "level", "unit", "n_games", "n_moments")
        found = Estimate(*(getattr(line, each) for each in names))
        out.setdefault(str(getattr(line, "reader", "")), {})[int(part.split()[-1])] = found
    return out
