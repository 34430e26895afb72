"""One seat as it stands before an observation: what its tiles are to each target."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from typing import Final

import numpy as np
from numpy.typing import NDArray

from handread.clues.codes import Codes
from handread.clues.context import Context
from handread.clues.wants import codes_now
from handread.reading.around import Surroundings
from handread.reading.belief import Belief
from handread.reading.look import free_copies, look
from handread.reading.model import Model
from handread.reading.recent import Recent
from handread.table.state import TableState
from handread.values import ArrayValue, made

Array = NDArray[np.float64]


@dataclass(frozen=True, eq=False)
class Seen(ArrayValue):
    """One seat as it stands before an observation.

    Attributes
    ----------
    model
        The model of the reading.
    belief
        About the seat.
    context
        What clues may know of it.
    free
        Copies of each kind that the table has not seen, shape (36,).
    finish
        Probability that each target can still be finished, shape (n_targets,).
    """

    model: Model
    belief: Belief
    context: Context
    free: NDArray[np.int64]
    finish: Array

    @cached_property
    def _uses(self) -> tuple[Codes, NDArray[np.uint8]]:
        return codes_now(self.model.card, self.belief.wants, self.free)

    @property
    def codes(self) -> Codes:
        """Use code of each kind in each row, shape (n_rows, 36)."""
        return self._uses[0]

    @property
    def blocked(self) -> NDArray[np.uint8]:
        """Kinds of each target that the table can see to be gone, shape (n_targets,)."""
        return self._uses[1]


#: The seats of one table, on turn and not.
_RECENT: Final[Recent[Seen]] = Recent(8)


def see(
    model: Model, belief: Belief, state: TableState, around: Surroundings, *, acting: bool = False
) -> Seen:
    """Look at one seat: what its tiles are to each target, given what the table has seen.

    Parameters
    ----------
    model
        The model of the reading.
    belief
        About the seat.
    state
        The table before the event.
    around
        What the viewer expects the other seats to hold.
    acting
        Whether the seat is on turn: it then holds the tile that it has drawn.
    """
    around = around.of(belief.seat)

    def looked() -> Seen:
        context = look(model, state, around, belief.seat, acting=acting)
        return made(
            Seen, model=model, belief=belief, context=context, free=free_copies(state),
            finish=around.finish[belief.seat],
        )  # fmt: skip

    return _RECENT.get((model, belief, state, around), acting, looked)
