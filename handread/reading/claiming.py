"""What a seat would do with a thrown tile: win on it, show a group with it, or let it pass."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from typing import Final

import numpy as np
from numpy.typing import NDArray

from handread.clues.claim_kernels import fill_answers, fill_shown
from handread.clues.claims import (
    ANEW,
    N_JOKERS,
    N_MASKS,
    SHAPES,
    possible_shapes,
    table_of_claims,
)
from handread.clues.codes import N_UNMODELLED, claim_masks, claimable_bits
from handread.clues.wins import prob_ready
from handread.reading.looking import Seen
from handread.reading.recent import Recent
from handread.values import ArrayValue, frozen

Array = NDArray[np.float64]
_N_OPEN = frozen(
    np.array([max(mask.bit_count(), 1) for mask in range(N_MASKS)] + [1] * N_UNMODELLED)
)


@dataclass(frozen=True, eq=False)
class Claims(ArrayValue):
    """What each row would do with one thrown tile.

    Attributes
    ----------
    seen
        The seat.
    kind
        The tile thrown.
    table
        Groups shown, given no win, by set of open sizes, see ``clues.claims.claim_table``.
    misplay
        Groups shown in error, after which the seat is off the card, shape (18,).
    wrong
        Sum of `misplay`.
    possible
        Groups that there is room for and the rules allow, shape (18,).
    """

    seen: Seen
    kind: int
    table: Array
    misplay: Array
    wrong: float
    possible: NDArray[np.bool_]

    @cached_property
    def _masks(self) -> NDArray[np.uint8]:
        """Sets of open sizes of each target, see ``clues.codes.claim_masks``."""
        return claim_masks(self.seen.model.card, self.seen.belief.left, self.kind)[0]

    @cached_property
    def rows(self) -> NDArray[np.intp]:
        """Row of `table` for each row: all groups, then those with jokers, shape (2, n_rows)."""
        rows = np.empty((2, self.seen.model.n_rows), dtype=np.intp)
        rows[:, :-N_UNMODELLED] = self._masks * self.seen.belief.fits
        rows[:, -N_UNMODELLED:] = np.arange(N_MASKS, N_MASKS + N_UNMODELLED)
        return rows

    @property
    def share(self) -> Array:
        """One over the number of sizes that each row has open, shape (n_rows,)."""
        return np.asarray(1.0 / _N_OPEN[self.rows[0]])

    @cached_property
    def _answers(self) -> tuple[Array, Array, Array]:
        model, belief = self.seen.model, self.seen.belief
        card, weights = model.card, model.weights["wins"]
        win, takes = np.empty((2, model.n_rows))
        refuses = np.empty(model.n_rows)  # apart, since logs keep it
        fill_answers(
            card.group_kind, card.group_size, card.group_joker, card.demand_by_kind, card.concealed,
            belief.left, belief.fits, self.seen.finish, self.kind,
            claimable_bits(card.rules.claimable), weights["in_error"],
            weights["takes"] * prob_ready(self.seen.context, weights), self.table, N_JOKERS,
            self.wrong, win, takes, refuses,
        )  # fmt: skip
        return frozen(win), frozen(takes), frozen(refuses)

    @property
    def win(self) -> Array:
        """Probability that each row wins on the tile, shape (n_rows,)."""
        return self._answers[0]

    def takes(self) -> Array:
        """Probability that each row shows any group, given no win."""
        return self._answers[1]

    @property
    def refuses(self) -> Array:
        """Probability that each row neither wins on the tile nor shows a group with it."""
        return self._answers[2]

    @cached_property
    def anew(self) -> Array:
        """Groups that a seat on a target shows for another plan, shape (18,)."""
        out: Array = self.table[ANEW] * (1.0 - self.wrong)
        return out

    def changes(self, shape: int) -> Array:
        """Probability that each row shows one group and changes its plan with it, given no win."""
        out = np.zeros(self.seen.model.n_rows)
        out[:-N_UNMODELLED] = self.anew[shape]
        return out

    def shown(self, shape: int) -> Array:
        """Probability that each row shows one group as its plan has it, given no win."""
        rows = self.rows[1] if N_JOKERS[shape] > 0 else self.rows[0]
        out: Array = self.table[rows, shape] * self.share * (1.0 - self.wrong)
        return out

    def shown_by(self, probs: Array) -> Array:
        """Probability of each group shown, given no win, under a belief; shape (18,).

        `probs` need not sum to 1; misplays are counted in.
        """
        out = np.empty(len(SHAPES))
        belief = self.seen.belief
        fill_shown(self._masks, belief.fits, probs, self.table, N_JOKERS, self.misplay, out)
        return out


#: Three seats look at each throw, and the next one comes soon.
_RECENT: Final[Recent[Claims]] = Recent(6)


def claims(seen: Seen, kind: int) -> Claims:
    """Look at what a seat would do with a thrown `kind`."""
    return _RECENT.get((seen,), kind, lambda: _claims(seen, kind))


def _claims(seen: Seen, kind: int) -> Claims:
    model = seen.model
    possible = possible_shapes(seen.context, kind, model.card.rules.claimable)
    table = table_of_claims(seen.context, kind, possible, model.claim_rates)
    n_possible = int(np.count_nonzero(possible))
    wrong = model.weights["claims"]["misplay"] if n_possible else 0.0
    misplay: Array = np.where(possible, wrong / max(n_possible, 1), 0.0)
    return Claims(seen, kind, table, misplay, wrong, possible)
