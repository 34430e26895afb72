"""What a seat would do with a thrown tile: win on it, show a group with it, or let it pass."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from typing import Final

import numpy as np
from numpy.typing import NDArray

from handread.clues.claim_kernels import answer, fill_shown
from handread.clues.claims import (
    ANEW,
    N_JOKERS,
    N_MASKS,
    SHAPES,
    counts,
    possible_shapes,
)
from handread.clues.codes import N_UNMODELLED, claim_masks, claimable_bits
from handread.clues.wins import prob_ready
from handread.reading.belief import Belief
from handread.reading.looking import Seen
from handread.reading.model import Model
from handread.reading.recent import Recent
from handread.values import ArrayValue, frozen, made

Array = NDArray[np.float64]
_N_OPEN = frozen(
    np.array([max(mask.bit_count(), 1) for mask in range(N_MASKS)] + [1] * N_UNMODELLED)
)
_N_SHAPES: Final = len(SHAPES)


@dataclass(frozen=True, eq=False)
class Claims(ArrayValue):
    """What each row would do with one thrown tile.

    Attributes
    ----------
    model, belief
        The model of the reading, and the belief about the seat.
    kind
        The tile thrown.
    possible
        Groups that there is room for and the rules allow, shape (18,).
    table
        Groups shown, given no win, by set of open sizes, see ``clues.claims.claim_table``.
    wrong
        Probability that a group is shown in error, after which the seat is off the card.
    answers
        Probability that each row wins on the tile, that it shows any group, given no win, and
        that it does neither; shape (3, n_rows).
    """

    model: Model
    belief: Belief
    kind: int
    possible: NDArray[np.bool_]
    table: Array
    wrong: float
    answers: Array

    @cached_property
    def misplay(self) -> Array:
        """Groups shown in error, shape (18,); they sum to `wrong`."""
        n_possible = int(np.count_nonzero(self.possible))
        return np.where(self.possible, self.wrong / max(n_possible, 1), 0.0)

    @cached_property
    def _masks(self) -> NDArray[np.uint8]:
        """Sets of open sizes of each target, see ``clues.codes.claim_masks``."""
        return claim_masks(self.model.card, self.belief.left, self.kind)[0]

    @cached_property
    def rows(self) -> NDArray[np.intp]:
        """Row of `table` for each row: all groups, then those with jokers, shape (2, n_rows)."""
        rows = np.empty((2, self.model.n_rows), dtype=np.intp)
        rows[:, :-N_UNMODELLED] = self._masks * self.belief.fits
        rows[:, -N_UNMODELLED:] = np.arange(N_MASKS, N_MASKS + N_UNMODELLED)
        return rows

    @property
    def share(self) -> Array:
        """One over the number of sizes that each row has open, shape (n_rows,)."""
        return np.asarray(1.0 / _N_OPEN[self.rows[0]])

    @property
    def win(self) -> Array:
        """Probability that each row wins on the tile, shape (n_rows,)."""
        out: Array = self.answers[0]
        return out

    def takes(self) -> Array:
        """Probability that each row shows any group, given no win."""
        out: Array = self.answers[1]
        return out

    @property
    def refuses(self) -> Array:
        """Probability that each row neither wins on the tile nor shows a group with it."""
        out: Array = self.answers[2]
        return out

    @cached_property
    def anew(self) -> Array:
        """Groups that a seat on a target shows for another plan, shape (18,)."""
        out: Array = self.table[ANEW] * (1.0 - self.wrong)
        return out

    def changes(self, shape: int) -> Array:
        """Probability that each row shows one group and changes its plan with it, given no win."""
        out = np.zeros(self.model.n_rows)
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
        out = np.empty(_N_SHAPES)
        belief = self.belief
        fill_shown(self._masks, belief.fits, probs, self.table, self.misplay, out)
        return out


#: Seats asked alone: what is told of a claim asks again for what the update has asked.
_RECENT: Final[Recent[Claims]] = Recent(6)


def claims(seen: Seen, kind: int) -> Claims:
    """Look at what a seat would do with a thrown `kind`."""
    return _RECENT.get((seen,), kind, lambda: _claims(seen, kind))


def _claims(seen: Seen, kind: int) -> Claims:
    model, belief, context = seen.model, seen.belief, seen.context
    card, rates, wins = model.card, model.claim_rates, model.weights["wins"]
    claimable = card.rules.claimable
    possible = possible_shapes(context, kind, claimable).copy()  # writable, as in the window
    table, answers = np.empty((ANEW + 1, _N_SHAPES)), np.empty((3, model.n_rows))
    wrong = answer(
        *counts(context, kind), rates.held_copies, rates.held_jokers,
        rates.willing[context.phase], possible, rates.anew, rates.loose, card.group_kind,
        card.group_size, card.group_joker, card.concealed, belief.left, belief.fits, seen.finish,
        card.wanting[kind], kind, claimable_bits(claimable), wins["in_error"],
        wins["takes"] * prob_ready(context, wins), rates.misplay, table, answers,
    )  # fmt: skip
    return made(
        Claims, model=model, belief=belief, kind=kind, possible=frozen(possible),
        table=frozen(table), wrong=wrong, answers=frozen(answers),
    )  # fmt: skip
