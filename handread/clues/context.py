"""What a clue may know: the table as the viewer sees it, from the side of one seat."""

from __future__ import annotations

from collections.abc import Callable, Hashable, Sequence
from dataclasses import dataclass, fields
from functools import cache
from operator import attrgetter
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray

from handread.values import ArrayValue

#: Own turns at which the middle and the late phase begin.
MIDDLE_TURN: Final = 5
LATE_TURN: Final = 12
PHASES: Final = ("early", "middle", "late")
#: Tiles left to draw below which the wall is short, and below which the end is near.
SHORT_WALL: Final = 25
FEW_LEFT: Final = 12


@dataclass(frozen=True, eq=False)
class Context(ArrayValue):
    """What the viewer knows about one seat at one moment, before the event is shown.

    Attributes
    ----------
    seat
        The seat that acts.
    turn
        Own throws of the seat so far.
    within_reach
        Expected copies of each kind among the seat's concealed tiles, whatever its plan,
        shape (36,).
    unseen
        Copies of each kind that the viewer has not seen, shape (36,); jokers that a seat is
        known to hold, since it took them in a redeem, are not among them.
    seen
        Copies of each kind that the whole table has seen, shape (36,).
    own_thrown
        Copies of each kind that the seat itself has thrown, shape (36,).
    concealed
        Concealed tiles of the seat.
    pool
        Sum of `unseen`.
    n_exposed
        Groups that the seat has shown.
    threat
        Most groups that any other live seat has shown.
    wall
        Tiles left to draw.
    known_jokers
        Jokers that the seat is known to hold.
    demand
        Standardised log demand of the card for each kind, shape (36,).
    may_show
        Whether the rules allow the seat to show a group now.
    last_unclaimed
        The kind that another seat threw just before and nobody took; None if there is none.
    """

    seat: int
    turn: int
    within_reach: NDArray[np.float64]
    unseen: NDArray[np.int64]
    seen: NDArray[np.int64]
    own_thrown: NDArray[np.int64]
    concealed: int
    pool: int
    n_exposed: int
    threat: int
    wall: int
    known_jokers: int
    demand: NDArray[np.float64]
    may_show: bool = True
    last_unclaimed: int | None = None

    @property
    def unknown(self) -> int:
        """Concealed tiles of which the viewer knows nothing, at most as many as are unseen."""
        return min(max(self.concealed - self.known_jokers, 0), self.pool)

    @property
    def phase(self) -> int:
        """0 early, 1 middle, 2 late, by the seat's own turns."""
        return int(self.turn >= MIDDLE_TURN) + int(self.turn >= LATE_TURN)

    @property
    def short_wall(self) -> bool:
        """Whether the wall is short."""
        return self.wall < SHORT_WALL

    @property
    def few_left(self) -> bool:
        """Whether hardly a tile is left to draw."""
        return self.wall < FEW_LEFT


_ARRAYS: Final = frozenset(
    each.name for each in fields(Context) if str(each.type).startswith("NDArray")
)  # fmt: skip


def looks(context: Context, names: Sequence[str]) -> tuple[Hashable, ...]:
    """What a context says under some names, in a form that can be looked up.

    Examples
    --------
    >>> from handread.testing import random_context
    >>> looks(random_context(np.random.default_rng(1), turn=7), ("turn", "phase"))
    (7, 1)
    """
    get, holds_arrays = _getter(tuple(names))
    values = get(context)
    if holds_arrays:
        return tuple([v.tobytes() if isinstance(v, np.ndarray) else v for v in values])
    return values


@cache
def _getter(names: tuple[str, ...]) -> tuple[Callable[[Context], tuple[Any, ...]], bool]:
    """What a context says under some names, as a tuple, and whether some of it are arrays."""
    held = any(name in _ARRAYS for name in names)
    if len(names) > 1:
        return attrgetter(*names), held
    return (lambda context: tuple([getattr(context, name) for name in names])), held
