"""A reading in a notebook: one small table that stands on any background."""

from __future__ import annotations

import html
from typing import TYPE_CHECKING

from handread.reading.words import percent

if TYPE_CHECKING:
    from handread.reading.view import Reading

_CELL = "padding:1px 10px 1px 0;text-align:left;vertical-align:top"


def reading_html(reading: Reading, n_hands: int = 5, n_telling: int = 3) -> str:
    """Families with bars, likeliest hands and the most telling events as HTML.

    Parameters
    ----------
    reading
        The reading.
    n_hands, n_telling
        How many hands and events to list.
    """
    families = "".join(
        f"<tr><td style='{_CELL}'>{html.escape(str(name))}</td>"
        f"<td style='{_CELL}'>{_bar(float(prob))}</td>"
        f"<td style='{_CELL}'>{percent(float(prob))}</td></tr>"
        for name, prob in reading.families.items()
    )
    hands = "".join(
        f"<tr><td style='{_CELL}'>{html.escape(row['hand'])}</td>"
        f"<td style='{_CELL}'>{percent(row['prob'])}</td>"
        f"<td style='{_CELL}'>{html.escape(row['groups'])}</td></tr>"
        for row in reading.hands.head(n_hands).to_dict(orient="records")
    )
    events = "".join(
        f"<li>{html.escape(words)}</li>" for words in reading.ledger.telling(n_telling)
    )
    turns = reading.state.turns[reading.belief.seat]
    return (
        f"<div><b>{reading.seat}</b> after {turns} own turns<table>{families}</table>"
        f"<table>{hands}</table><ul>{events}</ul></div>"
    )


def _bar(prob: float, width: int = 160) -> str:
    """Draw a bar in the text's own colour, so that it shows on light and dark pages."""
    return (
        f"<div style='width:{width}px;border-left:1px solid currentColor'>"
        f"<div style='width:{prob * width:.1f}px;height:0.7em;margin-top:0.25em;"
        "background:currentColor;opacity:0.55'></div></div>"
    )
