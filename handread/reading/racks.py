"""Sample racks of a seat given a target: what its concealed tiles may look like.

A seat on a target has kept every copy that came its way, up to what the target needs; of other
kinds, and of copies beyond the need, it holds what chance leaves. Racks are drawn exactly from
the distribution in which every copy of a needed kind has the keeper's odds, and weighed for the
copies beyond the need; swaps of a tile in the rack against one outside then refresh them. Where
the weights spread too far the samples are not to be trusted, and the marginals of the scaled
holdings are given instead.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import comb
from typing import Final

import numpy as np
from numpy.typing import NDArray

from handread.errors import HandreadError
from handread.reading.around import Surroundings
from handread.reading.belief import Belief
from handread.reading.model import Model
from handread.table.state import TableState
from handread.tiles import JOKER, N_KINDS
from handread.values import ArrayValue

Array = NDArray[np.float64]
Racks = NDArray[np.int64]

#: Spread of the log weights, nats, above which samples give way to marginals.
MOST_SPREAD: Final = 0.8
#: Swaps tried for each rack after resampling.
SWAPS: Final = 40


@dataclass(frozen=True, eq=False)
class RackSamples(ArrayValue):
    """Racks of one seat given one target.

    Attributes
    ----------
    target
        The target.
    racks
        Copies of each kind, shape (n, 36); empty where the samples are not to be trusted.
    expected
        Expected copies of each kind, shape (36,).
    spread
        Standard deviation of the log weights before the swaps, nats.
    """

    target: int
    racks: Racks
    expected: Array
    spread: float

    @property
    def trusted(self) -> bool:
        """Whether the expectation comes from racks, and not from the scaled holdings."""
        return self.spread <= MOST_SPREAD


@dataclass(frozen=True, eq=False)
class RackLaw(ArrayValue):
    """Distribution of a rack: proportional to the product over kinds of
    choose(copies, n) odds**min(n, need), over racks of one size.

    Attributes
    ----------
    copies
        Copies of each kind that the rack may hold, shape (n_kinds,).
    odds
        Odds of a copy within the need, against the tiles outside, shape (n_kinds,).
    need
        Copies that are kept, shape (n_kinds,).
    size
        Tiles of the rack.
    """

    copies: NDArray[np.int64]
    odds: Array
    need: NDArray[np.int64]
    size: int

    def log_weight(self, racks: Racks) -> Array:
        """Log of the law over the proposal, which gives every copy the odds; shape (n,)."""
        beyond = np.maximum(racks - self.need, 0)
        out: Array = -(beyond @ np.log(self.odds))
        return out

    def propose(self, n: int, *, rng: np.random.Generator) -> Racks:
        """Draw racks with every copy at its odds: exact, kind by kind; shape (n, n_kinds)."""
        tails = _tails(self.copies, self.odds, self.size)
        racks = np.zeros((n, len(self.copies)), dtype=np.int64)
        left = np.full(n, self.size)
        for k, copies in enumerate(self.copies):
            counts = np.arange(int(copies) + 1)
            ways = np.array([comb(int(copies), int(c)) for c in counts]) * self.odds[k] ** counts
            rest = left[:, None] - counts
            mass = np.where(rest >= 0, ways * tails[k + 1][np.maximum(rest, 0)], 0.0)
            steps = mass.cumsum(axis=1)
            picks = (rng.random(n)[:, None] * steps[:, -1:] >= steps).sum(axis=1)
            racks[:, k] = picks
            left -= picks
        return racks

    def swap(self, racks: Racks, tries: int, *, rng: np.random.Generator) -> Racks:
        """Swap a tile of each rack against one outside it, `tries` times, by Metropolis' rule."""
        racks = racks.copy()
        rows = np.arange(len(racks))
        log_odds = np.log(self.odds)
        for _ in range(tries):
            inside, outside = racks.cumsum(axis=1), (self.copies - racks).cumsum(axis=1)
            if not inside[:, -1].all() or not outside[:, -1].all():
                return racks
            u, v, w = rng.random((3, len(racks)))
            out = (u[:, None] * inside[:, -1:] >= inside).sum(axis=1)
            into = (v[:, None] * outside[:, -1:] >= outside).sum(axis=1)
            lost = np.where(racks[rows, out] <= self.need[out], log_odds[out], 0.0)
            won = np.where(racks[rows, into] < self.need[into], log_odds[into], 0.0)
            move = (np.log(w) < won - lost) & (out != into)
            racks[rows[move], out[move]] -= 1
            racks[rows[move], into[move]] += 1
        return racks


def _tails(copies: NDArray[np.int64], odds: Array, size: int) -> list[Array]:
    """Weight of filling each number of tiles from kind k on; tails[k] has shape (size + 1,)."""
    tails = [np.zeros(size + 1)]
    tails[0][0] = 1.0
    for copies_k, odds_k in zip(copies[::-1], odds[::-1], strict=True):
        mass = np.zeros(size + 1)
        for c in range(min(int(copies_k), size) + 1):
            mass[c:] += comb(int(copies_k), c) * odds_k**c * tails[-1][: size + 1 - c]
        tails.append(mass)
    return tails[::-1]


def rack_law(
    model: Model, belief: Belief, state: TableState, around: Surroundings, target: int
) -> RackLaw:
    """Distribution of a seat's unknown concealed tiles given a target.

    Raises
    ------
    HandreadError
        If the seat's exposures exclude the target.
    """
    seat, card = belief.seat, model.card
    if not 0 <= target < card.n_targets or not belief.fits[target]:
        raise HandreadError(f"target {target!r} does not fit what the seat has shown")
    need = np.zeros(N_KINDS, dtype=np.int64)
    for j in np.flatnonzero(belief.left[target]):
        need[card.group_kind[target, j]] += card.group_size[target, j]
    need[JOKER] = 8
    size = round(float(around.holds[seat].sum()))
    others = np.delete(around.holds, seat, axis=0)
    odds_of_others = np.vstack([np.delete(around.odds, seat, axis=0), np.ones(N_KINDS)])
    share = others.sum(axis=1) / max(float(others.sum()), 1e-9)
    keeping = float(around.odds[seat, JOKER])
    odds = np.where(need > 0, keeping, 1.0) / (share @ odds_of_others)
    return RackLaw(around.unseen, odds, need, size)


def sample_racks(
    model: Model,
    belief: Belief,
    state: TableState,
    around: Surroundings,
    target: int,
    *,
    n: int = 200,
    rng: np.random.Generator,
) -> RackSamples:
    """Sample the concealed tiles of a seat given a target.

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
    target
        The target.
    n
        Racks to draw.
    rng
        Source of randomness.

    Raises
    ------
    HandreadError
        If the seat's exposures exclude the target, or no rack is asked for.
    """
    if n < 1:
        raise HandreadError(f"n={n!r}; 1 or more racks are accepted")
    law = rack_law(model, belief, state, around, target)
    racks = law.propose(n, rng=rng)
    log_weight = law.log_weight(racks)
    spread = float(log_weight.std())
    known = state.known_in_rack(belief.seat)
    if spread > MOST_SPREAD:
        expected = around.holds[belief.seat] + known
        return RackSamples(target, np.zeros((0, N_KINDS), dtype=np.int64), expected, spread)
    weight = np.exp(log_weight - log_weight.max())
    chosen = rng.choice(n, size=n, p=weight / weight.sum())
    racks = law.swap(racks[chosen], SWAPS, rng=rng) + known
    return RackSamples(target, racks, racks.mean(axis=0), spread)
