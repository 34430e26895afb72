"""One step of the passes: three tiles, all seats at once, some of them sent on unseen."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

from handread.errors import HandreadError, closest

#: How far to the right each step goes.
DIRECTION: Final[dict[str, int]] = {
    "right": 1, "across": 2, "left": 3, "second left": 3, "second across": 2, "last right": 1,
    "courtesy": 2,
}  # fmt: skip
#: Steps at which received tiles may be sent on unseen.
BLIND_STEPS: Final = ("left", "last right")
#: Tiles of a compulsory pass.
PASSED: Final = 3


@dataclass(frozen=True)
class Exchange:
    """What happened in one step.

    Attributes
    ----------
    step
        One of ``handread.table.events.PASS_STEPS``.
    given
        Tiles that each seat gave from its own rack, in the order chosen.
    received
        Tiles that each seat took in, without those that it sent on unseen.
    blind
        Tiles that each seat sent on unseen.
    """

    step: str
    given: tuple[tuple[int, ...], ...]
    received: tuple[tuple[int, ...], ...]
    blind: tuple[int, ...] = (0, 0, 0, 0)


def exchange(
    step: str, given: tuple[tuple[int, ...], ...], blind: tuple[int, ...] = (0, 0, 0, 0)
) -> Exchange:
    """Move the tiles of one step.

    A packet holds the giver's own tiles first, then those sent on unseen; a seat sends on the
    first tiles of the packet that comes to it. If all four send on everything, no tile moves.

    Parameters
    ----------
    step
        Name of the step, which says the direction.
    given
        Own tiles of each seat; four tuples.
    blind
        Tiles that each seat tops its packet up with from what comes to it.

    Raises
    ------
    HandreadError
        If there is no such step.

    Examples
    --------
    >>> own = ((1, 2, 3), (4, 5, 6), (7,), (10, 11, 12))
    >>> exchange("right", own, (0, 0, 2, 0)).received
    ((10, 11, 12), (1, 2, 3), (6,), (7, 4, 5))
    """
    if step not in DIRECTION:
        raise HandreadError(f"no step {step!r} of the passes; {closest(step, DIRECTION)}")
    comes_from = [(seat - DIRECTION[step]) % 4 for seat in range(4)]

    def tile(seat: int, place: int) -> int | None:
        """Tile at a place of the packet that a seat sends; None if it goes round for ever."""
        for _ in range(4 * PASSED):
            if place < len(given[seat]):
                return given[seat][place]
            place -= len(given[seat])
            seat = comes_from[seat]
        return None

    received = []
    for seat in range(4):
        giver = comes_from[seat]
        size = len(given[giver]) + blind[giver]
        kept = [tile(giver, place) for place in range(blind[seat], size)]
        received.append(tuple(kind for kind in kept if kind is not None))
    return Exchange(step, given, tuple(received), blind)
