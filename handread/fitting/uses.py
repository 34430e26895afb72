"""What the kinds are to the few rows that a seat has in mind."""

from __future__ import annotations

from handread.clues.codes import Codes
from handread.clues.wants import codes_of
from handread.reading.looking import Seen


class Uses:
    """What the kinds are to some rows, each worked out when it is first asked for.

    The same as ``Seen.codes`` and ``Seen.blocked``, which are worked out for all rows.

    Parameters
    ----------
    seen
        The seat.
    """

    def __init__(self, seen: Seen) -> None:
        self._wants, self._free = seen.belief.wants, seen.free
        self._held: dict[int, tuple[Codes, int]] = {}

    def _of(self, row: int) -> tuple[Codes, int]:
        held = self._held.get(row)
        if held is None:
            held = self._held[row] = codes_of(self._wants, self._free, row)
        return held

    def codes(self, row: int) -> Codes:
        """Use code of each kind in one row, shape (36,)."""
        return self._of(row)[0]

    def blocked(self, row: int) -> int:
        """Kinds of one row that the table can see to be gone; 0 where it is no target."""
        return self._of(row)[1]
