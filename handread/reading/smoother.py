"""Smoothed beliefs for review: what is believed of every moment, given the whole game."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from handread.reading.evidence import Evidence, SeatEvidence
from handread.reading.step import Step
from handread.table.events import Correct
from handread.values import ArrayValue

Array = NDArray[np.float64]


@dataclass(frozen=True, eq=False)
class Smoothed(ArrayValue):
    """One seat's game, seen from its end.

    Attributes
    ----------
    numbers
        Number of the event after which each row stands, shape (n_events,).
    filtered
        Belief after each event that spoke of the seat, shape (n_events, n_rows).
    smoothed
        The same given everything that was observed later too, shape (n_events, n_rows).
    log_evidence
        Log probability of all that was observed of the seat, nats.
    """

    numbers: NDArray[np.int64]
    filtered: Array
    smoothed: Array
    log_evidence: float


def smooth_steps(steps: list[Step], filtered: list[Array]) -> list[Array]:
    """Backward pass over observations in the order of time.

    Parameters
    ----------
    steps
        The observations.
    filtered
        Belief after each of them.

    Returns
    -------
    list of array
        Smoothed belief after each of them; the last equals the last filtered one.
    """
    message = np.ones_like(filtered[-1]) if filtered else np.zeros(0)
    out: list[Array] = []
    for step, belief in zip(reversed(steps), reversed(filtered), strict=True):
        joint = belief * message
        out.append(joint / joint.sum())
        message = step.backward(message)
        message = message / message.max()
    return out[::-1]


def smooth(log: tuple[Evidence, ...], seat: int) -> Smoothed:
    """Smooth one seat over the evidence of a game.

    Parameters
    ----------
    log
        Evidence of every event, in order; an exposure that was corrected counts as corrected.
    seat
        0 East, 1 South, 2 West, 3 North.
    """
    found = _standing(log, seat)
    steps = [observed.step for _, s in found for observed in s.observed]
    filtered: list[Array] = []
    probs = found[0][1].before.probs if found else np.zeros(0)
    for _, s in found:
        for observed in s.observed:
            joint = observed.step.forward(probs)
            probs = joint / joint.sum()
            filtered.append(probs)
    backward = smooth_steps(steps, filtered)
    last = np.cumsum([len(s.observed) for _, s in found]) - 1
    n_rows = len(filtered[0]) if filtered else 0
    return Smoothed(
        numbers=np.array([number for number, _ in found], dtype=np.int64),
        filtered=np.array([filtered[i] for i in last]).reshape(len(found), n_rows),
        smoothed=np.array([backward[i] for i in last]).reshape(len(found), n_rows),
        log_evidence=sum(s.log_prob for _, s in found),
    )


def _standing(log: tuple[Evidence, ...], seat: int) -> list[tuple[int, SeatEvidence]]:
    """Evidence about a seat, with its number, without exposures that were corrected later."""
    found: list[tuple[int, SeatEvidence]] = []
    for evidence in log:
        for each in evidence.seats:
            if each.seat != seat:
                continue
            if isinstance(evidence.event, Correct) and seat == evidence.event.seat:
                while found and found[-1][1].observed[-1].what != "expose":
                    found.pop()
                found = found[:-1]
            found.append((evidence.number, each))
    return found
