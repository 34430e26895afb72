"""What the viewer expects of all seats and the wall at one moment; see ``holdings``."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from handread.values import ArrayValue

Array = NDArray[np.float64]


@dataclass(frozen=True, eq=False)
class Surroundings(ArrayValue):
    """What the viewer expects at one moment.

    Attributes
    ----------
    unseen
        Copies of each kind that the viewer has not seen, shape (36,); jokers that a seat is
        known to hold from a redeem are not among them.
    holds
        Expected copies of each kind with each seat and in the wall, shape (5, 36); over seats
        and wall they sum to `unseen`.
    odds
        Odds of each seat for a copy of each kind, against a seat that does not care, shape
        (4, 36).
    needs
        Probability that each seat's plan needs each kind and can be finished, shape (4, 36).
    finish
        Probability that each target can still be finished by each seat, shape (4, n_targets).
    shares
        Share of each kind among the tiles that each seat may have whatever its own plan, shape
        (4, 36); see ``reach``.
    pool
        Tiles that the viewer has not seen, those known to be in a rack apart.
    viewer
        The viewer's seat; None on the floor.
    floor
        The same from the floor, where the viewer is a seat: what the others can read of it.
    """

    unseen: NDArray[np.int64]
    holds: Array
    odds: Array
    needs: Array
    finish: Array
    shares: Array
    pool: int
    viewer: int | None
    floor: Surroundings | None = None

    def of(self, seat: int) -> Surroundings:
        """Return what holds for one seat: the viewer's own is looked at from the floor."""
        return self.floor if self.floor is not None and seat == self.viewer else self

    def reach(self, seat: int, tiles: float | None = None) -> Array:
        """Expected copies of each kind with a seat, whatever its own plan, shape (36,).

        The others' plans count: what they keep is out of reach. The seat's own odds are taken
        out again, but for jokers, which everybody keeps. They sum to `tiles`; None for as many
        as `holds` has.
        """
        wanted = float(self.holds[seat].sum()) if tiles is None else tiles
        reach: Array = self.shares[seat] * wanted
        return reach
