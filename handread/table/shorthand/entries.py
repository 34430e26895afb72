"""What one line of shorthand can say besides an event."""

from __future__ import annotations

from dataclasses import dataclass

from handread.table.events import AnyEvent


@dataclass(frozen=True)
class Heading:
    """A header line: the field of ``Header`` that it sets, and the value."""

    field: str
    value: str | int | tuple[str, ...]


@dataclass(frozen=True)
class Amendment:
    """A line that amends earlier ones.

    Attributes
    ----------
    action
        ``"fix"`` puts `event` in the place of an earlier one, ``"cut"`` takes one out,
        ``"add"`` puts `event` in after one.
    number
        Number of the event amended, counted as they stand at that line; None for the last
        one that is no comment.
    event
        The event, None for ``"cut"`` and ``"undo"``.
    """

    action: str
    number: int | None = None
    event: AnyEvent | None = None


Entry = AnyEvent | Heading | Amendment
