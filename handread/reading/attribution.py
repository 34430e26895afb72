"""Which part of an event moved a belief: entries that add up to the whole move.

The move of a family's probability under one observation is split in order: what the seat's
exposures exclude, what a quiet turn says, where plans change, and then the clues of the throw.
The clues work through one normaliser, so each is given its share along the path on which all
their scores are scaled from 0 to 1:

    share_c(F) = integral over s of  d/ds log after_s(F)  -  d/ds log after_s(all),  clue c's part,

by Gauss-Legendre quadrature; summed over the clues it is the whole move along that path.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from handread.clues.hazard import destinations
from handread.clues.kernels import gather_sums
from handread.reading import likelihood
from handread.reading.evidence import Evidence, SeatEvidence, bits_between
from handread.reading.likelihood import Seen
from handread.reading.model import Model
from handread.reading.observe import offered_kinds
from handread.table.events import Correct, Discard
from handread.values import ArrayValue

Array = NDArray[np.float64]

#: Nodes of the path integral; more are used while the parts miss the whole by over `_CLOSE` bits.
_NODES = (8, 16, 32, 64)
_CLOSE = 1e-10


@dataclass(frozen=True, eq=False)
class Part(ArrayValue):
    """What one source within an event did to the belief about one seat.

    Attributes
    ----------
    source
        Name of a clue, or ``"exposure"``, ``"claims"``, ``"refusals"``, ``"wins"``,
        ``"redeems"``, ``"quiet turn"``, ``"change of plan"``.
    bits
        Change of log2 probability of each row by family; -inf where it excluded the family.
    """

    source: str
    bits: Array

    def excluded(self) -> NDArray[np.bool_]:
        """Rows by family that this source excluded."""
        return np.isneginf(self.bits)


def explain(model: Model, evidence: Evidence, seat: SeatEvidence) -> tuple[Part, ...]:
    """Split what one event did to the belief about one seat into parts.

    Parameters
    ----------
    model
        The model of the reading.
    evidence
        Of the event.
    seat
        One of ``evidence.seats``.

    Returns
    -------
    tuple of Part
        For every family that keeps some probability their bits add up to log2 after/before,
        to 1e-9.
    """
    parts: list[Part] = []
    probs = seat.before.probs
    if isinstance(evidence.event, Correct):
        probs, parts = _reopened(model, seat)
    for observed in seat.observed:
        joint = observed.step.forward(probs)
        after = joint / joint.sum()
        if observed.what == "throw" and isinstance(evidence.event, Discard):
            seen = likelihood.see(model, seat.before, evidence.state, evidence.around, acting=True)
            quiet = likelihood.quiet_turn(seen, offered_kinds(evidence.state))
            parts += _throw(seen, probs, quiet, evidence.event)
        elif observed.what == "expose":
            fits = probs * (observed.step.keep > 0)
            if fits.sum() > 0:
                fits /= fits.sum()
                parts.append(Part("exposure", bits_between(model, probs, fits)))
                parts.append(Part("claims", bits_between(model, fits, after)))
            else:
                parts.append(Part("exposure", bits_between(model, probs, after)))
        else:
            parts.append(Part(_SOURCE[observed.what], bits_between(model, probs, after)))
        probs = after
    return tuple(parts)


_SOURCE = {
    "refuse": "refusals",
    "no win": "wins",
    "win": "wins",
    "redeem": "redeems",
    "unseen turn": "change of plan",
    "voice": "claims",
    "pass": "passes",
    "received": "passes",
}


def _reopened(model: Model, seat: SeatEvidence) -> tuple[Array, list[Part]]:
    """A corrected exposure: the belief first goes back to where it was before the exposure."""
    opened = seat.before.reopen
    if opened is None:
        return seat.before.probs, []
    before = opened[0].probs
    return before, [Part("correction", bits_between(model, seat.before.probs, before))]


def _throw(seen: Seen, probs: Array, quiet: Array, event: Discard) -> Iterator[Part]:
    """Parts of a throw: the quiet turn, the change of plan, then each clue."""
    model = seen.model
    held = quiet * probs
    held /= held.sum()
    yield Part("quiet turn", bits_between(model, probs, held))
    path = _Path(seen, held, event)
    yield Part("change of plan", bits_between(model, held, path.after(0.0)))
    whole = bits_between(model, path.after(0.0), path.after(1.0))
    finite = np.isfinite(whole) & (model.by_family(path.after(0.0)) > 0)
    for nodes in _NODES:
        shares = path.shares(nodes) / np.log(2.0)
        if np.abs(shares.sum(axis=0) - whole)[finite].max(initial=0.0) < _CLOSE:
            break
    for clue, bits in zip(model.clues, shares, strict=True):
        yield Part(clue.name, np.where(finite, bits, 0.0))


class _Path:
    """The throw with all clue scores scaled by s in [0, 1]; at 0 every row throws alike."""

    def __init__(self, seen: Seen, held: Array, event: Discard) -> None:
        self.seen, self.held, self.kind = seen, held, event.kind
        self.column = seen.codes[:, event.kind]
        self.base, self.keep, self.change = likelihood.throw_scores(seen)
        self.marks = likelihood.throw_marks(seen, event)
        self.hazard = likelihood.leaving(seen)
        where = destinations(seen.context, seen.model.weights["destination"])
        self.kernel = seen.belief.kernel.with_destinations(where)

    def _tables(self, scores: Array, s: float) -> Array:
        return np.asarray(np.exp(self.base + s * scores.sum(axis=0)), dtype=np.float64)

    def _arrive(self, stays: Array, goes: Array) -> Array:
        kept = (1.0 - self.hazard) * stays * self.held
        moved = self.kernel.forward(self.hazard * goes * self.held)
        out: Array = kept + moved
        return out

    def _prob(self, table: Array, marks: Array, s: float) -> Array:
        """Probability of the throw and its notes for each row, with scores scaled by s."""
        total = gather_sums(table, self.seen.codes)
        notes = np.exp(s * marks.sum(axis=0))[self.column]
        prob: Array = table[self.column, self.kind] / total * notes
        return prob

    def joint(self, s: float) -> Array:
        """Joint probability of the throw and each row after it, with scores scaled by s."""
        probs = [
            self._prob(self._tables(scores, s), marks, s)
            for scores, marks in zip((self.keep, self.change), self.marks, strict=True)
        ]
        return self._arrive(probs[0], probs[1])

    def after(self, s: float) -> Array:
        """Belief after the throw with scores scaled by s."""
        joint = self.joint(s)
        joint /= joint.sum()
        return joint

    def _slope(self, scores: Array, marks: Array, s: float, clue: int) -> Array:
        """d/ds of the probability of the throw through one clue, by row."""
        table = self._tables(scores, s)
        prob = self._prob(table, marks, s)
        slope: Array = prob * marks[clue][self.column]
        if scores[clue].any():
            mean = gather_sums(table * scores[clue], self.seen.codes)
            mean /= gather_sums(table, self.seen.codes)
            slope += prob * (scores[clue][self.column, self.kind] - mean)
        return slope

    def shares(self, nodes: int) -> Array:
        """Nats of each clue for each row by family, shape (n_clues, n_family_rows)."""
        model = self.seen.model
        points, weights = np.polynomial.legendre.leggauss(nodes)
        out = np.zeros((len(model.clues), len(model.row_names)))
        for point, weight in zip((points + 1) / 2, weights / 2, strict=True):
            joint = self.joint(float(point))
            by_family, scale = model.by_family(joint), float(joint.sum())
            for clue in range(len(model.clues)):
                slope = self._arrive(
                    self._slope(self.keep, self.marks[0], float(point), clue),
                    self._slope(self.change, self.marks[1], float(point), clue),
                )
                moved = model.by_family(slope)
                inside = np.divide(moved, by_family, out=np.zeros_like(moved), where=by_family > 0)
                out[clue] += weight * (inside - slope.sum() / scale)
        return out
