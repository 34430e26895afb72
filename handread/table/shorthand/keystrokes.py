"""How much typing a record took."""

from __future__ import annotations

from handread.errors import HandreadError
from handread.table.events import Comment, Reveal
from handread.table.shorthand.entries import Amendment, Heading
from handread.table.shorthand.parse import read_line


def keystrokes_per_event(text: str) -> float:
    r"""Mean keystrokes, Enter included, of the lines that tell what happened at the table.

    Header lines, comments and what is written down after the end are left out of both the
    strokes and the events; the strokes of an amendment count, and it adds no event.

    Parameters
    ----------
    text
        A record in shorthand, as it was typed.

    Raises
    ------
    ParseError
        If a line cannot be read.
    HandreadError
        If the text tells no event.

    Examples
    --------
    >>> keystrokes_per_event("card house\ne 5 b\ns r  # so\n")
    5.0
    """
    strokes = events = 0
    for number, line in enumerate(text.split("\n"), start=1):
        entries = read_line(line, number, viewer=0)
        if not entries or isinstance(entries[0], Heading | Comment | Reveal):
            continue
        typed = line.split(" #", 1)[0].rstrip() if len(entries) > 1 else line
        strokes += len(typed) + 1
        events += not isinstance(entries[0], Amendment)
    if not events:
        raise HandreadError("the text tells no event, so there are no keystrokes to divide")
    return strokes / events
