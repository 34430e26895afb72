"""A reading in a notebook: a page that stands on any background, and the same in words."""

from __future__ import annotations

import html
from collections.abc import Container, Iterable
from typing import TYPE_CHECKING, Any

from handread import svg
from handread.reading.words import percent
from handread.table.picture import mime_bundle

if TYPE_CHECKING:
    from handread.reading.view import Reading
    from handread.svg import Picture

_CELL = "padding:1px 12px 1px 0;vertical-align:top;text-align:"
_TABLE = "border-collapse:collapse;margin:0 0 10px"
_FAMILIES = {"family": "left", "": "left", "probability": "right"}
_HANDS = {"hand": "left", "probability": "right", "likeliest groups": "left"}


def needs_picture(reading: Reading) -> Picture:
    """Picture of ``reading.needs``: what the seat's plan still needs, all 36 kinds.

    Groups that it has shown count no more; of the others, nobody but the seat knows which
    tiles it holds already.

    Parameters
    ----------
    reading
        The reading.

    Examples
    --------
    >>> import handread as hr
    >>> reading = hr.Reader(hr.house_card()).reading("West")
    >>> needs_picture(reading).text.splitlines()[0]
    "Still needed by West's plan, in its rack or not"
    """
    title = f"Still needed by {reading.seat}'s plan, in its rack or not"
    return svg.probabilities(reading.needs, title=title)


def holds_picture(reading: Reading) -> Picture:
    """Picture of ``reading.holds``: copies expected among the concealed tiles, all 36 kinds.

    Parameters
    ----------
    reading
        The reading.

    Examples
    --------
    >>> import handread as hr
    >>> reading = hr.Reader(hr.house_card()).reading("West")
    >>> holds_picture(reading).text.splitlines()[0]
    'Expected among the concealed tiles of West'
    """
    copies = reading.state.rules.copies
    title = f"Expected among the concealed tiles of {reading.seat}"
    return svg.expected_copies(reading.holds, copies, title=title)


def reading_html(reading: Reading, n_hands: int = 5, n_telling: int = 3) -> str:
    """Families with bars, likeliest hands, needs and the most telling events as HTML.

    Parameters
    ----------
    reading
        The reading.
    n_hands, n_telling
        How many hands and events to list.
    """
    families = (
        [html.escape(str(name)), _bar(float(prob)), percent(float(prob))]
        for name, prob in reading.families.items()
    )
    hands = (
        [html.escape(row["hand"]), percent(row["prob"]), html.escape(row["groups"])]
        for row in _likely(reading, n_hands)
    )
    events = "".join(
        f"<li>{html.escape(words)}</li>" for words in reading.ledger.telling(n_telling)
    )
    told = (
        f"<p style='margin:10px 0 0'>What told most</p><ol style='margin:2px 0 0'>{events}</ol>"
        if events
        else ""
    )
    return (
        f"<div><p style='margin:0 0 6px'>{html.escape(_headline(reading))}</p>"
        f"{_table(_FAMILIES, families)}{_table(_HANDS, hands)}"
        f"{needs_picture(reading)._repr_html_()}{told}</div>"
    )


def reading_text(reading: Reading, n_hands: int = 5, n_telling: int = 3) -> str:
    """The same as ``reading_html`` in words.

    Parameters
    ----------
    reading
        The reading.
    n_hands, n_telling
        How many hands and events to list.
    """
    families = [f"{name} {percent(float(prob))}" for name, prob in reading.families.items()]
    hands = [
        f"{row['hand']} {percent(row['prob'])}: {row['groups']}"
        for row in _likely(reading, n_hands)
    ]
    lines = [_headline(reading), f"Families: {', '.join(families)}."]
    lines += ["Likeliest hands:", *(f"  {line}" for line in hands)]
    lines += [needs_picture(reading).text]
    events = reading.ledger.telling(n_telling)
    lines += ["What told most:", *(f"  {words}" for words in events)] if events else []
    return "\n".join(lines)


def reading_bundle(
    reading: Reading, include: Container[str] | None, exclude: Container[str] | None
) -> dict[str, str]:
    """A reading in the forms that a notebook asks for; `include`, `exclude` are MIME types."""
    return mime_bundle(reading_html(reading), reading_text(reading), include, exclude)


def _headline(reading: Reading) -> str:
    state, seat = reading.state, reading.belief.seat
    turns = state.turns[seat]
    words = f"{reading.seat} after {turns} own turn{'' if turns == 1 else 's'}"
    if not state.seated[seat]:
        return f"{words}; nobody sits here"
    return words if state.live[seat] else f"{words}; dead hand"


def _likely(reading: Reading, n_hands: int) -> list[dict[str, Any]]:
    rows = reading.hands.head(n_hands).to_dict(orient="records")
    return [{str(name): value for name, value in row.items()} for row in rows]


def _table(columns: dict[str, str], rows: Iterable[Iterable[str]]) -> str:
    """A table of cells that are markup already; `columns` gives each head its side."""
    styles = [f"style='{_CELL}{side}'" for side in columns.values()]
    heads = "".join(
        f"<th scope='col' {style}>{head}</th>" for head, style in zip(columns, styles, strict=True)
    )
    body = "".join(
        f"<tr>{''.join(f'<td {s}>{cell}</td>' for cell, s in zip(row, styles, strict=True))}</tr>"
        for row in rows
    )
    return f"<table style='{_TABLE}'><thead><tr>{heads}</tr></thead><tbody>{body}</tbody></table>"


def _bar(prob: float, width: int = 160) -> str:
    """Draw a bar in the text's own colour, so that it shows on light and dark pages."""
    return (
        f"<div aria-hidden='true' style='width:{width}px;border-left:1px solid currentColor'>"
        f"<div style='width:{prob * width:.1f}px;height:0.7em;margin-top:0.25em;"
        "background:currentColor;opacity:0.55'></div></div>"
    )
