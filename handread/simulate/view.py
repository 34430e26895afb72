"""What a seat sees when it decides, and what it keeps in mind: two frozen values."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray

from handread.table.state import TableState
from handread.tiles import JOKER, N_KINDS
from handread.values import ArrayValue

#: What a seat is about; "dead" is set by the engine, the others by the player.
STATES: Final = ("searching", "building", "waiting", "folded", "dead")


@dataclass(frozen=True, eq=False)
class View(ArrayValue):
    """All that a seat knows of the table at one decision.

    Attributes
    ----------
    decision
        What is to be decided, a key of ``actions.DECISIONS``.
    seat
        Who decides.
    state
        The public table.
    rack
        The seat's own concealed tiles, shape (36,).
    legal
        Which actions are possible, shape (n_actions,).
    drawn
        The tile just drawn; None when nothing was.
    offered
        The tile that a "claim" is about; the tile thrown at "place"; at "pause" the throw before
        this turn, if it was another seat's, nobody took it, and it is no joker. None otherwise.
    distance
        Tiles short of the nearest hand that the seat's exposures allow, with the tile offered
        if there is one. It follows from the rack; the engine computes it anyway.
    given, received
        Tiles that the seat has passed on and taken in so far, without those sent on unseen.
    """

    decision: str
    seat: int
    state: TableState
    rack: NDArray[np.uint8]
    legal: NDArray[np.bool_]
    drawn: int | None = None
    offered: int | None = None
    distance: int = 0
    given: tuple[int, ...] = ()
    received: tuple[int, ...] = ()

    @property
    def shown(self) -> NDArray[np.int64]:
        """The seat's exposures for the kernels, shape (n_shown, 3)."""
        return shown_rows(self.state, self.seat)

    @property
    def own_turns(self) -> int:
        """Throws of the seat so far."""
        return self.state.turns[self.seat]


def shown_rows(state: TableState, seat: int) -> NDArray[np.int64]:
    """Exposures of a seat as rows (kind, size, jokers), those with jokers first."""
    groups = sorted(state.exposures[seat], key=lambda group: group.jokers == 0)
    rows = [(group.kind, group.size, group.jokers) for group in groups]
    return np.array(rows, dtype=np.int64).reshape(-1, 3)


def exposed_copies(state: TableState) -> NDArray[np.int64]:
    """Copies of each kind in the exposures of all seats, jokers as jokers, shape (36,)."""
    copies = np.zeros(N_KINDS, dtype=np.int64)
    for groups in state.exposures:
        for group in groups:
            copies[group.kind] += group.size - group.jokers
            copies[JOKER] += group.jokers
    return copies


def floor_copies(state: TableState) -> NDArray[np.int64]:
    """Copies of each kind that lie on the floor, shape (36,)."""
    lying = [throw.kind for throw in state.floor if throw.taken_by is None]
    return np.bincount(np.array(lying, dtype=np.int64), minlength=N_KINDS)


@dataclass(frozen=True, eq=False)
class Private(ArrayValue):
    """What a player keeps in mind between decisions.

    Attributes
    ----------
    weights
        Weight of each target, sums to 1; what a weight means is documented by each kind of
        player. One-hot when the player is committed. Shape (n_targets,).
    wide
        Weights that the player would give without its commitment, shape (n_targets,).
    plan
        Target that it is committed to; -1 for none.
    mode
        One of ``STATES`` but "dead".
    remembered
        Copies on the floor as remembered: never more than lie there, shape (36,).
    noticed
        Copies on the floor at the last look, shape (36,).
    """

    weights: NDArray[np.float64]
    wide: NDArray[np.float64]
    plan: int
    mode: str
    remembered: NDArray[np.float64]
    noticed: NDArray[np.int64]


def blank(n_targets: int) -> Private:
    """Mind of a player that has seen nothing yet: every target weighs the same.

    >>> blank(4).weights
    array([0.25, 0.25, 0.25, 0.25])
    """
    even = np.full(n_targets, 1.0 / n_targets)
    return Private(
        even, even.copy(), -1, "searching", np.zeros(N_KINDS), np.zeros(N_KINDS, dtype=np.int64)
    )


def look_at_floor(private: Private, view: View, memory: float) -> tuple[Any, Any]:
    """Memory of the floor after a look at it.

    What was remembered fades by the factor `memory` a look; what is new is seen whole.

    Parameters
    ----------
    private
        The mind before.
    view
        The table now.
    memory
        Share that is kept from one look to the next, 0 to 1; 1 forgets nothing.

    Returns
    -------
    remembered, noticed
        As in ``Private``.
    """
    floor = floor_copies(view.state)
    new = np.maximum(floor - private.noticed, 0)
    remembered = np.minimum(np.round(private.remembered * memory, 6) + new, floor)
    return remembered, floor


def live_copies(
    copies: NDArray[np.int64], view: View, remembered: NDArray[np.float64]
) -> NDArray[np.float64]:
    """Copies of each kind that may still come to the seat, as far as it remembers.

    Parameters
    ----------
    copies
        Copies in the set, shape (36,).
    view
        The table; exposures and the own rack are seen, the floor is remembered.
    remembered
        Copies on the floor as remembered, shape (36,).

    Returns
    -------
    NDArray
        Shape (36,), not negative.
    """
    left = copies - exposed_copies(view.state) - remembered - view.rack
    return np.asarray(np.maximum(left, 0.0), dtype=np.float64)
