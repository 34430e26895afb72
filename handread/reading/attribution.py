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
from handread.clues.kernels import gather_many
from handread.reading import likelihood
from handread.reading.evidence import Evidence, SeatEvidence, bits_between, log_ratio
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
        ``"redeems"``, ``"passes"``, ``"own rack"``, ``"elsewhere"``, ``"quiet turn"``,
        ``"change of plan"``, ``"correction"``.
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
        to 1e-9. A family that a corrected exposure brings back counts from there.
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
    "exposure": "exposure",
    "refuse": "refusals",
    "no win": "wins",
    "win": "wins",
    "redeem": "redeems",
    "unseen turn": "change of plan",
    "voice": "claims",
    "pass": "passes",
    "received": "passes",
    "own rack": "own rack",
    "elsewhere": "elsewhere",
}


def _reopened(model: Model, seat: SeatEvidence) -> tuple[Array, list[Part]]:
    """A corrected exposure: the belief first goes back to where it was before the exposure."""
    opened = seat.before.reopen
    if opened is None:
        return seat.before.probs, []
    before = opened[0].probs
    bits = bits_between(model, seat.before.probs, before)
    return before, [Part("correction", np.where(np.isposinf(bits), 0.0, bits))]


def _throw(seen: Seen, probs: Array, quiet: Array, event: Discard) -> Iterator[Part]:
    """Parts of a throw: the quiet turn, the change of plan, then each clue."""
    model = seen.model
    held = quiet * probs
    held /= held.sum()
    yield Part("quiet turn", bits_between(model, probs, held))
    path = _Path(seen, held, event)
    drifted, after = path.by_family(0.0), path.by_family(1.0)
    yield Part("change of plan", log_ratio(model.by_family(held), drifted))
    whole = log_ratio(drifted, after)
    finite = np.isfinite(whole) & (drifted > 0)
    for nodes in _NODES:
        shares = path.shares(nodes) / np.log(2.0)
        if np.abs(shares.sum(axis=0) - whole)[finite].max(initial=0.0) < _CLOSE:
            break
    for clue, bits in zip(model.clues, shares, strict=True):
        yield Part(clue.name, np.where(finite, bits, 0.0))


class _Path:
    """The throw with all clue scores scaled by s in [0, 1]; at 0 every row throws alike.

    A family's probability after the throw is linear in the probabilities of the throw on a turn
    that keeps and on one that changes the plan; `lands` holds both linear maps, so that the
    kernel is applied once a family and not once a clue and node.
    """

    def __init__(self, seen: Seen, held: Array, event: Discard) -> None:
        self.seen, self.kind = seen, event.kind
        self.column = seen.codes[:, event.kind]
        self.base, keep, change = likelihood.throw_scores(seen)
        self.scores = (keep, change)
        self.marks = likelihood.throw_marks(seen, event)
        hazard = likelihood.leaving(seen)
        where = destinations(seen.context, seen.model.weights["destination"])
        kernel = seen.belief.kernel.with_destinations(where)
        family_rows = seen.model.family_rows
        families = [(family_rows == f).astype(np.float64) for f in range(family_rows.max() + 1)]
        stays = np.stack([(1.0 - hazard) * held * family for family in families])
        moves = np.stack([hazard * held * kernel.backward(family) for family in families])
        self.lands = (stays, moves)

    def _throws(self, turn: int, s: float, clues: list[int]) -> tuple[Array, Array]:
        """Probability of the throw by row on a keeping (0) or changing (1) turn, and its slopes.

        Returns
        -------
        prob
            Shape (n_rows,).
        slopes
            d/ds of it through each of `clues`, shape (n_clues_asked, n_rows).
        """
        scores, marks = self.scores[turn], self.marks[turn]
        table = np.exp(self.base + s * scores.sum(axis=0))
        sums = gather_many(np.stack([table, *(table * scores[c] for c in clues)]), self.seen.codes)
        prob = table[self.column, self.kind] / sums[0]
        prob *= np.exp(s * marks.sum(axis=0))[self.column]
        own = [scores[c][self.column, self.kind] + marks[c][self.column] for c in clues]
        slopes = prob * (np.array(own).reshape(len(clues), len(prob)) - sums[1:] / sums[0])
        return prob, slopes

    def by_family(self, s: float) -> Array:
        """Probability of each row by family after the throw, scores scaled by s."""
        found = sum(self.lands[turn] @ self._throws(turn, s, [])[0] for turn in (0, 1))
        joint: Array = np.asarray(found, dtype=np.float64)
        joint /= joint.sum()
        return joint

    def shares(self, nodes: int) -> Array:
        """Nats of each clue for each row by family, shape (n_clues, n_family_rows)."""
        speaking = [
            c for c in range(len(self.scores[0]))
            if any(self.scores[t][c].any() or self.marks[t][c].any() for t in (0, 1))
        ]  # fmt: skip
        points, weights = np.polynomial.legendre.leggauss(nodes)
        out = np.zeros((len(self.scores[0]), len(self.lands[0])))
        for point, weight in zip((points + 1) / 2, weights / 2, strict=True):
            joint, moved = np.zeros(out.shape[1]), np.zeros((len(speaking), out.shape[1]))
            for turn in (0, 1):
                prob, slopes = self._throws(turn, float(point), speaking)
                joint += self.lands[turn] @ prob
                moved += slopes @ self.lands[turn].T
            inside = np.divide(moved, joint, out=np.zeros_like(moved), where=joint > 0)
            out[speaking] += weight * (inside - moved.sum(axis=1, keepdims=True) / joint.sum())
        return out
