"""Lead: how early a reading is right for good, beside its false alarms."""

from __future__ import annotations

from collections.abc import Mapping
from typing import TYPE_CHECKING

from handread.errors import HandreadError
from handread.plots.style import reader_style
from handread.study import Lead

if TYPE_CHECKING:
    from matplotlib.axes import Axes


def plot_lead(ax: Axes, told: Mapping[str, Lead]) -> Axes:
    """Draw lead against false alarms, one curve a reader; each point is one threshold.

    Up is better, left is better: a reader whose curve lies above another's is earlier at the
    same price.

    Parameters
    ----------
    ax
        Where to draw.
    told
        By reader, from ``lead_curve``.

    Returns
    -------
    matplotlib.axes.Axes
        The `ax` given.
    """
    if not told:
        raise HandreadError("told is empty; accepted: one reader or more")
    top = 0.5
    for place, (reader, lead) in enumerate(told.items()):
        sometimes = lead.wrong_game < 0.995
        top = max(top, float(lead.lead_high[sometimes].max(initial=0.0)))
        style = reader_style(place)
        ax.fill_between(
            lead.wrong_game, lead.lead_low, lead.lead_high, color=style["color"], alpha=0.12,
            linewidth=0,
        )  # fmt: skip
        ax.plot(lead.wrong_game, lead.lead, label=f"{reader} (n = {lead.n_games:,})", **style)
        for cut, wrong, early in zip(lead.threshold, lead.wrong_game, lead.lead, strict=True):
            if any(abs(cut - mark) < 1e-9 for mark in (0.5, 0.8)):
                ax.annotate(
                    f"q = {cut:g}", (wrong, early), textcoords="offset points", xytext=(4, 5),
                    fontsize=6.5, color=style["color"],
                )  # fmt: skip
    ax.set_xlim(0, 1)
    ax.set_ylim(0, 1.08 * top)  # thresholds that every game passes wrongly may lie above
    ax.set_xlabel("games in which a wrong row ever passed q")
    ax.set_ylabel("own turns before the end, right for good")
    ax.legend(fontsize=7, frameon=False)
    return ax
