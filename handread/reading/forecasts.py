"""Forecasts: who claims, who wins, who throws what, stated before the event is shown."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from handread.errors import HandreadError
from handread.reading.alphabet import next_observations
from handread.reading.around import Surroundings
from handread.reading.belief import Belief
from handread.reading.family_kernels import pass_and_show
from handread.reading.likelihood import Claims, claims, see
from handread.reading.model import Model
from handread.reading.observe import laid_throw
from handread.reading.window import answers
from handread.table.events import Discard, Expose, Win
from handread.table.own import OwnRack
from handread.table.state import TableState
from handread.tiles import N_KINDS
from handread.values import ArrayValue

Array = NDArray[np.float64]


@dataclass(frozen=True, eq=False)
class Forecast(ArrayValue):
    """What is expected of the next event.

    Attributes
    ----------
    kind
        The throw that may still be claimed, also out of a group just laid; None when there is
        none.
    claims
        Probability that each seat shows a group with it, shape (4,).
    wins
        Probability that each seat wins: on it, or on its own draw if nobody takes it, shape (4,).
    nobody
        Probability that nobody takes it. Wins on a draw are part of it, wins on the throw are
        not: with `claims` and the wins on the throw it sums to 1.
    throws
        Probability that the next event is a throw of each kind, by whoever is on turn, shape
        (36,). It sums to `nobody` less the wins on a draw and the redeems.

    Examples
    --------
    >>> import handread as hr
    >>> reader = hr.Reader(hr.house_card())
    >>> evidence = reader.observe(hr.Discard(seat=0, kind=4))
    >>> before = reader.forecast()  # may South, West or North take East's 5 bam?
    >>> bool(before.claims[0] == 0 and 0 < before.nobody < 1)
    True
    """

    kind: int | None
    claims: Array
    wins: Array
    nobody: float
    throws: Array


@dataclass(frozen=True, eq=False)
class OpenThrow(ArrayValue):
    """What is expected of a throw that lies open.

    Attributes
    ----------
    kind
        The throw.
    claims
        Probability that each seat shows a group with it, shape (4,).
    wins
        Probability that each seat wins on it, shape (4,).
    nobody
        Probability that nobody takes it; with the others it sums to 1.
    """

    kind: int
    claims: Array
    wins: Array
    nobody: float


def open_throw(
    model: Model, beliefs: tuple[Belief, ...], state: TableState, around: Surroundings
) -> OpenThrow:
    """Forecast who takes the throw that lies open.

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

    Raises
    ------
    HandreadError
        If no throw lies open.

    Examples
    --------
    >>> import handread as hr
    >>> reader = hr.Reader(hr.house_card())
    >>> evidence = reader.observe(hr.Discard(seat=0, kind=4))
    >>> said = open_throw(reader.model, reader.beliefs, reader.state, reader.around)
    >>> float((said.claims + said.wins).sum() + said.nobody).__round__(9)
    1.0
    """
    if state.window is None:
        raise HandreadError("no throw lies open; one does after a throw of anything but a joker")
    asked = answers(model, beliefs, state, around)
    kind, order = state.floor[state.window].kind, [seat for seat, _ in asked]
    return together(kind, order, [alone(would) for _, would in asked])


def alone(would: Claims) -> tuple[float, float]:
    """Probability that a seat does not win on a throw, and that it shows a group with it.

    Each is what the seat would do if nobody had priority over it.
    """
    passes, shows = pass_and_show(would.win, would.takes(), would.belief.probs)
    return passes, shows


def together(
    kind: int, order: Sequence[int], each: Sequence[tuple[float, float]]
) -> OpenThrow:  # fmt: skip
    """Put what each seat would do alone together, by priority.

    Parameters
    ----------
    kind
        The throw.
    order
        Seats that may take it, nearest to the thrower first.
    each
        What each of them would do, see ``alone``.
    """
    taken, wins = [0.0] * 4, [0.0] * 4
    won_by_none, refused_by_all = 1.0, 1.0  # of the seats asked so far
    for place, (seat, (no_win, shows)) in enumerate(zip(order, each, strict=True)):
        later = math.prod(none for none, _ in each[place + 1 :])
        wins[seat] = won_by_none * (1.0 - no_win)
        taken[seat] = refused_by_all * later * shows
        won_by_none *= no_win
        refused_by_all *= no_win - shows
    return OpenThrow(kind, np.array(taken), np.array(wins), refused_by_all)


def forecast(
    model: Model,
    beliefs: tuple[Belief, ...],
    state: TableState,
    *,
    own: OwnRack | None = None,
    viewer: int | None = None,
    around: Surroundings | None = None,
) -> Forecast:
    """Forecast the next event.

    Parameters
    ----------
    model
        The model of the reading.
    beliefs
        About the four seats.
    state
        The table.
    own, viewer
        The viewer's concealed tiles and seat; None on the floor.
    around
        What the viewer expects the seats to hold, where that is known already.
    """
    taken, wins, throws, nobody = np.zeros(4), np.zeros(4), np.zeros(N_KINDS), 1.0
    for event, prob in next_observations(
        model, beliefs, state, own=own, viewer=viewer, around=around
    ):
        if isinstance(event, Expose):
            taken[event.seat] += prob
            nobody -= prob
        elif isinstance(event, Win):
            wins[event.seat] += prob
            nobody -= prob * event.claimed
        elif isinstance(event, Discard):
            throws[event.kind] += prob
    laid = laid_throw(state)
    kind = None if laid is None else laid[1]
    if state.window is not None:
        kind = state.floor[state.window].kind
    return Forecast(kind, taken, wins, nobody, throws)


def prob_taken(
    model: Model, belief: Belief, state: TableState, around: Surroundings
) -> tuple[Array, Array]:
    """Probability that a seat shows a group with each kind, or wins on it, were it thrown now.

    Parameters
    ----------
    model
        The model of the reading.
    belief
        About the seat.
    state
        The table.
    around
        What the viewer expects the seats to hold.

    Returns
    -------
    claims, wins
        Shape (36,). The seat is asked alone, as if nobody had priority over it; the tile is
        taken to come from the viewer's rack, so that the copies unseen stay as they are.
    """
    seen = see(model, belief, state, around)
    taken, wins = np.zeros(N_KINDS), np.zeros(N_KINDS)
    for kind in range(N_KINDS):
        would = claims(seen, kind)
        wins[kind] = would.win @ belief.probs
        taken[kind] = would.shown_by((1.0 - would.win) * belief.probs).sum()
    return taken, wins
