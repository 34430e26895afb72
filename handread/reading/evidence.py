"""What an update reports: which seats an event spoke of, and how far each belief moved."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from handread.reading.around import Surroundings
from handread.reading.belief import Belief
from handread.reading.model import Model
from handread.reading.step import Step
from handread.table.events import Event
from handread.table.state import TableState
from handread.values import ContentValue

Array = NDArray[np.float64]


@dataclass(frozen=True, eq=False)
class Observed(ContentValue):
    """One observation about one seat, with the linear map that it is.

    Attributes
    ----------
    what
        ``"throw"``, ``"expose"``, ``"refuse"``, ``"no win"``, ``"redeem"``, ``"win"``,
        ``"voice"``, ``"pass"``, ``"received"``, ``"own rack"`` (the viewer's, once it is seen),
        ``"elsewhere"`` (a copy turned up with another seat), ``"exposure"`` (a group without an
        open throw) or ``"unseen turn"``.
    seat
        The seat that it speaks of.
    kind
        The tile, where there is one.
    step
        The map from the belief before to the belief after.
    """

    what: str
    seat: int
    kind: int | None
    step: Step


@dataclass(frozen=True, eq=False)
class SeatEvidence(ContentValue):
    """How one event moved the belief about one seat.

    Attributes
    ----------
    seat
        The seat.
    observed
        What the event said of it, in order.
    before, after
        The beliefs around the event.
    log_prob
        Log probability of the observations under the belief before, nats.
    """

    seat: int
    observed: tuple[Observed, ...]
    before: Belief
    after: Belief
    log_prob: float


@dataclass(frozen=True, eq=False)
class Evidence(ContentValue):
    """What one event said.

    Attributes
    ----------
    number
        Number of the event in the record, from 1.
    event
        The event.
    state
        The table before the event.
    around
        What the viewer expected the seats to hold before the event.
    seats
        One entry for each seat that the event spoke of.
    notes
        What a reader should know: an exposure that fits no target, a dead seat.

    Examples
    --------
    >>> import handread as hr
    >>> evidence = hr.Reader(hr.house_card()).observe(hr.Discard(seat=0, kind=4))
    >>> [(one.seat, one.observed[0].what) for one in evidence.seats[:2]], evidence.log_prob < 0
    ([(0, 'throw'), (1, 'elsewhere')], True)
    """

    number: int
    event: Event
    state: TableState
    around: Surroundings
    seats: tuple[SeatEvidence, ...]
    notes: tuple[str, ...] = ()

    @property
    def log_prob(self) -> float:
        """Log probability of everything observed with the event, nats."""
        return sum(seat.log_prob for seat in self.seats)


def bits_claimed(model: Model, seat: SeatEvidence) -> float:
    """Bits that an event claims to have taught about the family: KL(after from before)."""
    return kl_bits(model, seat.after.probs, seat.before.probs)


def kl_bits(model: Model, after: Array, before: Array) -> float:
    """Kullback-Leibler divergence of `after` from `before` over the rows by family, bits.

    Parameters
    ----------
    model
        The model of the reading.
    after, before
        Probabilities of the rows of a belief, shape (n_rows,).
    """
    new, old = model.by_family(after), model.by_family(before)
    there = new > 0
    ratio = new[there] / np.maximum(old[there], 1e-300)
    return float(max((new[there] * np.log2(ratio)).sum(), 0.0))


def bits_between(model: Model, before: Array, after: Array) -> Array:
    """log2 after/before of each row by family, -inf where it is excluded; shape (n_families + 3,).

    Parameters
    ----------
    model
        The model of the reading.
    before, after
        Probabilities of the rows of a belief, shape (n_rows,).
    """
    return log_ratio(model.by_family(before), model.by_family(after))


def log_ratio(before: Array, after: Array) -> Array:
    """log2 after/before entry by entry: -inf where `after` is 0, 0 where both are."""
    with np.errstate(divide="ignore", invalid="ignore"):
        bits = np.log2(after) - np.log2(before)
    return np.where((before <= 0) & (after <= 0), 0.0, bits)
