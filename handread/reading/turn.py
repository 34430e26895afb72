"""A throw as a step: the chances of the rows that are believed in, the others when asked for."""

from __future__ import annotations

from functools import cached_property
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray

from handread.clues.codes import N_CODES
from handread.clues.hazard import DESTINATIONS_LOOK_AT, LOOKS_AT, destinations, leaving_rates
from handread.clues.redeems import redeem_rates
from handread.clues.turn_kernels import fill_turn
from handread.clues.wants import NO_CELLS
from handread.clues.wins import draws_it
from handread.reading.kernel import MaskedKernel
from handread.reading.looking import Seen
from handread.reading.step import Step
from handread.reading.throwing import kept, note_odds, throw_odds
from handread.reading.weighing import normalise
from handread.table.events import Discard
from handread.values import frozen, read_only, same_content

Array = NDArray[np.float64]

#: One target in so many must be believed in for the uses of all of them to be listed.
_ONE_IN: Final = 4
_NO_RATES: Final = frozen(np.zeros((0, N_CODES)))


class ThrowStep(Step):
    """A throw, with its optional notes, on a turn where some jokers could have been redeemed.

    The fields of a ``Step`` are worked out when they are first asked for: an update asks for none.

    Parameters
    ----------
    seen
        The seat on turn.
    event
        Its throw.
    offers
        Kinds that could have been redeemed.
    """

    def __init__(self, seen: Seen, event: Discard, offers: tuple[int, ...]) -> None:
        self.__dict__.update(seen=seen, event=event, offers=offers, leak=None, leak_to=None)

    seen: Seen
    event: Discard
    offers: tuple[int, ...]

    def __eq__(self, other: object) -> bool:
        if not isinstance(other, Step):
            return NotImplemented
        names = ("keep", "move", "kernel", "leak", "leak_to")
        return all(same_content(getattr(self, name), getattr(other, name)) for name in names)

    def __reduce__(self) -> tuple[type[Step], tuple[Any, ...]]:
        """Copies and pickles are plain steps: they hold numbers, not the model and its clues."""
        return Step, (self.keep, self.move, self.kernel, self.leak, self.leak_to)

    @cached_property
    def _rows(self) -> tuple[Array, Array]:
        keep, move = self._throws(frozen(np.ones(self.seen.model.n_rows)))
        return frozen(keep), frozen(move)

    @property
    def keep(self) -> Array:
        """P(observation and stays | row), shape (n_rows,)."""
        return self._rows[0]

    @property
    def move(self) -> Array:
        """P(observation and leaves | row), shape (n_rows,)."""
        return self._rows[1]

    @cached_property
    def kernel(self) -> MaskedKernel:
        """Where rows go that leave."""
        return self.seen.belief.kernel.with_destinations(places(self.seen))

    def forward(self, belief: Array) -> Array:
        """Joint probability of the throw and each row after it, shape (n_rows,)."""
        out, moving = self._throws(belief)
        self.seen.belief.kernel.arrive(moving, places(self.seen), out)
        return out

    def advance(self, belief: Array) -> tuple[Array, float]:
        """Belief after the throw, read-only, and the probability of the throw."""
        probs = self.forward(belief)
        total = normalise(probs)
        return frozen(probs), total

    def _throws(self, belief: Array) -> tuple[Array, Array]:
        """Belief of each row that throws so, and keeps or changes its plan, (n_rows,) each."""
        seen, model = self.seen, self.seen.model
        context, wants = seen.context, seen.belief.wants
        wide = np.count_nonzero(belief) * _ONE_IN > len(belief)
        cells = wants.cells if wide else NO_CELLS
        wins, redeems = model.weights["wins"], model.weights["redeems"]
        rates = [redeem_rates(context, kind, redeems) for kind in self.offers]
        keep, move = np.empty((2, len(belief)))
        fill_turn(
            read_only(belief), self.event.kind, throw_odds(seen), note_odds(seen, self.event),
            seen.free, wants.codes, wants.bare_kinds, wants.bare, wants.open_kinds, wants.open,
            cells.first, cells.cell, cells.what, rates_of_leaving(seen),
            wins["in_error"], draws_it(context, wins), seen.finish,
            np.array(self.offers, dtype=np.int64), frozen(np.array(rates)) if rates else _NO_RATES,
            keep, move,
        )  # fmt: skip
        return keep, move


def rates_of_leaving(seen: Seen) -> Array:
    """See ``hazard.leaving_rates``; kept with the model."""
    return kept(
        seen, "leaving", LOOKS_AT, lambda: leaving_rates(seen.context, seen.model.weights["hazard"])
    )


def places(seen: Seen) -> Array:
    """See ``hazard.destinations``; kept with the model."""
    return kept(
        seen, "destinations", DESTINATIONS_LOOK_AT,
        lambda: destinations(seen.context, seen.model.weights["destination"]),
    )  # fmt: skip
