"""What was true of a seat at a moment, as weights over the rows that beliefs are about.

A player of a simulated table has a state and weights over targets. They become rows so:

- ``searching``: *undecided*. The seat follows no target, whatever it leans to; the leaning is
  kept beside it (see `leaning`), to ask how much depends on this choice.
- ``building``, ``waiting``: the families of its weighted targets, one-hot once committed. A
  target that the seat's own exposures rule out counts as *other*: it builds what the card
  does not show. So does everything else once its exposures fit no target.
- ``folded``: *defending*.
- ``dead``: left out; a dead seat builds nothing and is scored at no moment.
"""

from __future__ import annotations

from collections.abc import Callable
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from handread.card.compiled import CompiledCard
from handread.clues.codes import N_UNMODELLED, UNMODELLED, match_exposures
from handread.errors import HandreadError, closest
from handread.simulate import SimulatedGame
from handread.simulate.view import STATES
from handread.table.state import Exposure
from handread.values import frozen

Array = NDArray[np.float64]

_UNDECIDED, _DEFENDING, _OTHER = (UNMODELLED.index(name) - N_UNMODELLED for name in UNMODELLED)


def rows_of_mind(
    card: CompiledCard,
    state: str,
    plan: int,
    weights: Array,
    shown: tuple[Exposure, ...],
    *,
    leaning: bool = False,
) -> Array:
    """Weight of each row for what a seat has in mind.

    Parameters
    ----------
    card
        The card.
    state
        One of ``handread.simulate.view.STATES``, not dead.
    plan
        Target that the seat is committed to, -1 for none.
    weights
        Weight of each target, shape (n_targets,).
    shown
        Groups that the seat has shown.
    leaning
        Give a searching seat the families that it leans to, in the place of *undecided*.

    Returns
    -------
    numpy.ndarray
        Sums to 1, shape (n_families + 3,).

    Raises
    ------
    HandreadError
        If the state is none of these.

    Examples
    --------
    >>> import handread as hr
    >>> card = hr.load_card("small")
    >>> one = np.eye(card.n_targets)[0]
    >>> rows_of_mind(card, "building", 0, one, ()).tolist()
    [1.0, 0.0, 0.0, 0.0, 0.0, 0.0, 0.0]
    >>> rows_of_mind(card, "searching", -1, one, ()).tolist()[-3:]
    [1.0, 0.0, 0.0]
    """
    living = STATES[:-1]
    if state not in living:
        raise HandreadError(f"state is {state!r}; {closest(state, living)}")
    out = np.zeros(len(card.families) + N_UNMODELLED)
    if state == "folded":
        out[_DEFENDING] = 1.0
        return out
    if state == "searching" and not leaning:
        out[_UNDECIDED] = 1.0
        return out
    fits = allowed(card)(shown)
    if plan >= 0:
        out[card.family_of[plan] if fits[plan] else _OTHER] = 1.0
        return out
    sums = np.bincount(card.family_of, weights=weights * fits, minlength=len(card.families))
    out[: len(card.families)] = sums
    out[_OTHER] = float(weights[~fits].sum())
    return np.asarray(out / out.sum())


_CACHES: dict[str, Callable[[tuple[Exposure, ...]], NDArray[np.bool_]]] = {}


def allowed(card: CompiledCard) -> Callable[[tuple[Exposure, ...]], NDArray[np.bool_]]:
    """Function from groups shown to the targets that they allow, remembered for each card."""
    if card.hash not in _CACHES:

        @lru_cache(maxsize=4096)
        def fits(shown: tuple[Exposure, ...]) -> NDArray[np.bool_]:
            found = match_exposures(card, shown)[0]
            found.flags.writeable = False
            return found

        _CACHES[card.hash] = fits
    return _CACHES[card.hash]


class Truths:
    """What was true of the seats of one game; each look at a plan is turned into rows once.

    Parameters
    ----------
    card
        The card.
    game
        The game.
    """

    def __init__(self, card: CompiledCard, game: SimulatedGame) -> None:
        self.card, self.game = card, game
        self._known: dict[tuple[int, tuple[Exposure, ...], bool], Array] = {}

    def at(self, seat: int, n_events: int, shown: tuple[Exposure, ...]) -> tuple[Array, Array, str]:
        """What was true of a live seat at a moment; parameters and return as of ``truth_rows``."""
        moments = self.game.truth.moments
        state = moments.state_words(moments.row(seat, n_events))
        leans = state == "searching"  # who does anything else leans to what it is about
        truth = self.rows(seat, n_events, shown)
        return truth, self.rows(seat, n_events, shown, leaning=leans), state

    def rows(
        self, seat: int, n_events: int, shown: tuple[Exposure, ...], *, leaning: bool = False
    ) -> Array:
        """Weight of each row alone, as scored or with a searching seat's leaning."""
        moments = self.game.truth.moments
        row = moments.row(seat, n_events)
        found = self._known.get((row, shown, leaning))
        if found is None:
            state, plan = moments.state_words(row), int(moments.plan[row])
            weights = moments.weights(row, self.card.n_targets)
            found = rows_of_mind(self.card, state, plan, weights, shown, leaning=leaning)
            self._known[row, shown, leaning] = frozen(found)
        return found


def truth_rows(
    card: CompiledCard, game: SimulatedGame, seat: int, n_events: int, shown: tuple[Exposure, ...]
) -> tuple[Array, Array, str]:
    """What was true of a live seat when `n_events` events were on record.

    Parameters
    ----------
    card
        The card.
    game
        The game.
    seat
        The seat.
    n_events
        Events on record.
    shown
        Groups that the seat has shown by then.

    Returns
    -------
    truth, leaning
        Weight of each row, shape (n_rows,): as scored, and with a searching seat's leaning.
    state
        The seat's state, in a word.
    """
    return Truths(card, game).at(seat, n_events, shown)


def final_row(card: CompiledCard, game: SimulatedGame, seat: int) -> Array:
    """Family of the hand that a seat would show after the end, NaN where there is none.

    The hand that won; else the plan at the end (at its death for a dead seat). A seat without
    a plan at the end, or folded, shows no hand.
    """
    out = np.full(len(card.families) + N_UNMODELLED, np.nan)
    ending, moments = game.truth.ending, game.truth.moments
    target = -1
    if ending.winner == seat and ending.target is not None:
        target = ending.target
    else:
        row = int(np.flatnonzero(moments.seat == seat)[-1])
        if moments.state_words(row) != "folded":
            target = int(moments.plan[row])
    if target >= 0:
        out[:] = 0.0
        out[int(card.family_of[target])] = 1.0
    return out
