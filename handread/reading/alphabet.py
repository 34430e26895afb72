"""Everything that could be seen next, with its probability: made before the event is shown.

The probabilities of all legal next observations sum to 1. The seats' beliefs are taken as
independent given what the table has seen, as in the filter itself.
"""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

from handread.clues.claims import SHAPES
from handread.clues.kernels import gather_pair
from handread.errors import HandreadError
from handread.reading import likelihood
from handread.reading.around import Surroundings
from handread.reading.belief import Belief
from handread.reading.holdings import surroundings
from handread.reading.likelihood import Seen
from handread.reading.model import Model
from handread.reading.observe import (
    laid_throw,
    late_winners,
    offered_kinds,
    offers,
)
from handread.reading.window import answers
from handread.table.events import Discard, Event, Expose, Redeem, WallGame, Win
from handread.table.own import OwnRack
from handread.table.state import TableState
from handread.tiles import N_KINDS

Array = NDArray[np.float64]
Outcomes = list[tuple[Event, float]]


def next_observations(
    model: Model,
    beliefs: tuple[Belief, ...],
    state: TableState,
    *,
    own: OwnRack | None = None,
    viewer: int | None = None,
    around: Surroundings | None = None,
) -> Outcomes:
    """List every legal next observation with its probability.

    Parameters
    ----------
    model
        The model of the reading.
    beliefs
        About the four seats.
    state
        The table.
    own
        The viewer's concealed tiles, where the viewer is a seat.
    viewer
        The viewer's seat; None on the floor.
    around
        What the viewer expects the seats to hold, where that is known already.

    Returns
    -------
    list of (event, probability)
        Claims and wins on the last throw (or late wins over the group just laid with it), then
        what the next seat does if nobody takes it. The probabilities sum to 1. Corrections of a
        group, calls and slips are not forecast.

    Raises
    ------
    HandreadError
        If nobody can tell whose turn it is (after a missed turn), or the game is over.
    """
    if state.over:
        raise HandreadError("the game is over; no observation follows")
    if state.turn is None:
        raise HandreadError("nobody can tell who is next after a missed turn; observe a throw")
    out: Outcomes = []
    rest = 1.0
    if around is None:
        around = surroundings(model, beliefs, state, viewer=viewer, own=own)
    now = list(beliefs)
    if state.window is not None:
        out, rest = claim_outcomes(model, beliefs, state, around)
        for seat, would in answers(model, beliefs, state, around):
            joint = likelihood.refuse_step(would).forward(beliefs[seat].probs)
            now[seat] = beliefs[seat].with_probs(joint / joint.sum())
    elif (laid := laid_throw(state)) is not None:
        out, rest = _late_wins(model, beliefs, state, around, laid)
    if state.wall == 0 and state.holder is None:
        return [*out, (WallGame(), rest)]
    turn = _turn(model, now[state.turn], state, state.turn, around)
    return [*out, *((event, rest * prob) for event, prob in turn)]


def claim_outcomes(
    model: Model, beliefs: tuple[Belief, ...], state: TableState, around: Surroundings
) -> tuple[Outcomes, float]:
    """Groups shown with the open throw and wins on it, and the probability that nobody takes it.

    Parameters
    ----------
    model
        The model of the reading.
    beliefs
        About the four seats.
    state
        The table.
    around
        What the viewer expects the seats to hold.
    """
    if state.window is None:
        return [], 1.0
    asked = answers(model, beliefs, state, around)
    no_win, refuse, shown = [], [], []
    for seat, would in asked:
        passes = (1.0 - would.win) * beliefs[seat].probs
        no_win.append(float(passes.sum()))
        shown.append(would.shown_by(passes))
        refuse.append(no_win[-1] - float(shown[-1].sum()))
    out: Outcomes = []
    for i, (seat, _) in enumerate(asked):
        out.append((Win(seat, True), math.prod(no_win[:i]) * (1.0 - no_win[i])))
        others = math.prod(refuse[:i]) * math.prod(no_win[i + 1 :])
        for (size, jokers), prob in zip(SHAPES, shown[i].tolist(), strict=True):
            if prob > 0:
                out.append((Expose(seat, size, jokers), others * prob))
    return out, math.prod(refuse)


def _late_wins(
    model: Model, beliefs: tuple[Belief, ...], state: TableState, around: Surroundings,
    laid: tuple[int, int],
) -> tuple[Outcomes, float]:  # fmt: skip
    """Wins over the group just shown, and the probability that its seat goes on."""
    out: Outcomes = []
    rest = 1.0
    for seat in late_winners(state, laid[0]):
        would = likelihood.claims(likelihood.see(model, beliefs[seat], state, around), laid[1])
        win = float(likelihood.late_win_step(would).forward(beliefs[seat].probs).sum())
        out.append((Win(seat, True), rest * win))
        rest *= 1.0 - win
    return out, rest


def _turn(
    model: Model, belief: Belief, state: TableState, seat: int, around: Surroundings
) -> Outcomes:
    """What the seat on turn does: redeem, win on its draw, or throw."""
    seen = likelihood.see(model, belief, state, around, acting=True)
    kinds = offered_kinds(state)
    each = likelihood.redeem_rows(seen, kinds)[0]
    pairs = offers(state)
    out: Outcomes = []
    for owner, kind in pairs:
        copies = sum(k == kind for _, k in pairs)
        prob = float(each[:, kinds.index(kind)] @ belief.probs) / copies
        out.append((Redeem(seat, owner, kind), prob))
    win = likelihood.win_drawn_step(seen, kinds)
    out.append((Win(seat, False), float(win.forward(belief.probs).sum())))
    for kind, prob in enumerate(throw_probs(seen, belief.probs, kinds)):
        if prob > 0:
            out.append((Discard(seat, kind), float(prob)))
    return out


def throw_probs(seen: Seen, probs: Array, kinds: tuple[int, ...]) -> Array:
    """Probability that the seat on turn throws each kind, shape (36,).

    With the chances of a redeem and of a win on the draw it sums to 1.
    """
    stay_table, go_table = likelihood.throw_tables(seen)
    hazard, quiet = likelihood.leaving(seen), likelihood.quiet_turn(seen, kinds)
    out = np.zeros(N_KINDS)
    for kind in np.flatnonzero(seen.context.within_reach > 0):
        stays, goes = gather_pair(stay_table, go_table, seen.codes, int(kind))
        out[kind] = (quiet * ((1.0 - hazard) * stays + hazard * goes)) @ probs
    return out
