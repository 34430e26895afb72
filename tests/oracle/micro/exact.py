"""The exact public posterior of a micro-game, by enumerating every rack of every seat.

The filter runs over (racks, rows) of all seats at once, the wall being what is left and draws
uniform. It is kept in factors. A shuffled set gives a sequence of kinds in which n_k tiles of kind
k have come out the probability  prod_k c_k! / (c_k - n_k)!  over  N! / (N - n)!,  which depends
on counts alone. So with F_s(r, g) the sum, over all ways in which seat s can have come to hold
rack r on row g, of the orders of its tiles times its own decisions,

    P(racks, rows, all that was seen)  ~  prod_s F_s(r_s, g_s)  prod_k c_k! / (c_k - n_k)!

where n_k counts kind k in all racks and among the tiles seen. Nothing is approximated: the sum
over the other seats' racks is taken in full. ``dense`` holds this to the plain joint filter.
"""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from functools import lru_cache
from math import lgamma, perm

import numpy as np

from handread.clues.claims import SHAPES, shape_index
from handread.table import TableState
from handread.table.events import AnyEvent, Discard, Expose
from tests.oracle.micro.game import RESTING, Array, Game, Ints, all_racks, deals
from tests.oracle.micro.player import Stance

_BASE = 16  # of the numbers that stand for count vectors; sums of racks stay below it


def number(counts: Ints) -> Ints:
    """Number of each count vector, shape (...); sums of vectors have sums of numbers."""
    return counts @ _BASE ** np.arange(counts.shape[-1], dtype=np.int64)


@lru_cache(maxsize=64)
def _numbers(copies: tuple[int, ...], n: int) -> tuple[Ints, Ints]:
    """Numbers of the racks of `n` tiles in ascending order, and the rack of each."""
    numbers = number(all_racks(copies, n))
    order = np.argsort(numbers)
    return numbers[order], order


@lru_cache(maxsize=512)
def _changed(copies: tuple[int, ...], n: int, change: tuple[int, ...]) -> Ints:
    """Index of every rack of `n` tiles after a change of counts; -1 where it cannot be."""
    racks = all_racks(copies, n) + np.array(change, dtype=np.int64)
    ordered, order = _numbers(copies, n + sum(change))
    at = np.minimum(np.searchsorted(ordered, number(racks)), len(ordered) - 1)
    fits = (ordered[at] == number(racks)) & (racks >= 0).all(axis=1)
    return np.where(fits, order[at], -1)


@lru_cache(maxsize=64)
def _sums(copies: tuple[int, ...], sizes: tuple[int, ...]) -> tuple[Ints, Ints]:
    """Distinct sums of one rack of each size, and which of them each combination makes."""
    counts = all_racks(copies, sizes[0])
    index = np.arange(len(counts))
    for n in sizes[1:]:
        more = all_racks(copies, n)
        total = (counts[:, None] + more[None]).reshape(-1, len(copies))
        _, first, inverse = np.unique(number(total), return_index=True, return_inverse=True)
        index = inverse.reshape(-1, len(more))[index].reshape(*index.shape, len(more))
        counts = total[first]
    return counts, index


@dataclass(frozen=True, eq=False)
class Joint:
    """The exact filter at one moment.

    Attributes
    ----------
    game
        The game.
    sizes
        Concealed tiles of each seat that plays.
    factors
        F of each seat that plays, shape (n_racks, n_rows), each scaled to a largest entry of 1.
    seen
        Copies of each kind that the table has seen, shape (n_used,).
    log_scale
        Sum of the logs of what the factors were divided by.
    known
        Weights by seat that have been worked out already.
    """

    game: Game
    sizes: dict[int, int]
    factors: dict[int, Array]
    seen: Ints
    log_scale: float
    known: dict[int, Array] = field(default_factory=dict, init=False, repr=False)

    def racks(self, seat: int) -> Ints:
        """Racks that the rows of a seat's factor stand for."""
        return self.game.racks[self.sizes[seat]]

    def with_factor(self, seat: int, factor: Array, *, size: int | None = None) -> Joint:
        """Return the filter with another factor, scaled, and another number of tiles."""
        top = float(factor.max())
        if not top > 0:
            raise ValueError(f"seat {seat}: what was seen has probability 0 for the stated player")
        sizes = self.sizes if size is None else self.sizes | {seat: size}
        log_scale = self.log_scale + float(np.log(top))
        return replace(
            self, sizes=sizes, factors=self.factors | {seat: factor / top}, log_scale=log_scale
        )

    def weights(self, first: Ints, second: Ints) -> Array:
        """Weight of every pair of count vectors beside the tiles seen, shape (n, m).

        The product over kinds, half of them at a time: few counts of half the kinds differ.
        """
        ways, half = _ways(tuple(self.game.copies.tolist())), first.shape[1] // 2
        out = np.ones((len(first), len(second)))
        for part in (slice(0, half), slice(half, None)):
            here, i = _distinct(first[:, part])
            there, j = _distinct(second[:, part])
            total = here[:, None] + there[None] + self.seen[part]
            kinds = np.arange(len(ways))[part]
            out *= ways[kinds, total].prod(axis=2)[i[:, None], j[None]]
        return out

    def others(self, seat: int) -> tuple[Ints, Array]:
        """Sums of the other seats' racks, and the factor of each sum."""
        rest = [s for s in self.game.seats if s != seat]
        sizes = tuple(self.sizes[s] for s in rest)
        counts, index = _sums(tuple(self.game.copies.tolist()), sizes)
        mass = np.ones(())
        for s in rest:
            mass = np.multiply.outer(mass, self.factors[s].sum(axis=1))
        return counts, np.bincount(index.ravel(), weights=mass.ravel(), minlength=len(counts))

    def around(self, seat: int) -> Array:
        """Weight of each rack of a seat by what the others and the wall allow, (n_racks,)."""
        if seat not in self.known:
            counts, mass = self.others(seat)
            there, racks = mass > 0, self.racks(seat)
            here = self.factors[seat].any(axis=1)
            out = np.zeros(len(racks))
            out[here] = np.einsum("nm,m->n", self.weights(racks[here], counts[there]), mass[there])
            self.known[seat] = out
        return self.known[seat]

    def unnormalised(self, seat: int) -> Array:
        """Joint weight of a seat's rack and row with all that was seen, (n_racks, n_rows)."""
        return self.factors[seat] * self.around(seat)[:, None]

    def marginal(self, seat: int) -> Array:
        """P(rack, row | all that was seen), shape (n_racks, n_rows)."""
        mass = self.unnormalised(seat)
        return mass / mass.sum()

    def alone(self, seat: int) -> Array:
        """The same if the other seats' tiles were like those of the wall, (n_racks, n_rows).

        The copies that the table has seen count; what the others do and keep does not.
        """
        nothing = np.zeros((1, len(self.game.copies)), dtype=np.int64)
        mass = self.factors[seat] * self.weights(self.racks(seat), nothing)
        return mass / mass.sum()

    def rows(self, seat: int) -> Array:
        """P(row | all that was seen), shape (n_rows,)."""
        return self.marginal(seat).sum(axis=0)

    def log_prob(self) -> float:
        """Log probability of all that was seen, nats."""
        seat = self.game.seats[0]
        out = int(self.seen.sum()) + sum(self.sizes.values())
        total = int(self.game.copies.sum())
        weight = float(self.unnormalised(seat).sum())
        if not weight > 0:
            return -np.inf
        return float(np.log(weight)) + self.log_scale - _log_falling(total, out)


@lru_cache(maxsize=8)
def _ways(copies: tuple[int, ...]) -> Array:
    """c! / (c - n)! for each kind and n = 0, 1, ...; 0 beyond the copies."""
    return np.array([[float(perm(c, n)) for n in range(3 * _BASE)] for c in copies])


def _distinct(counts: Ints) -> tuple[Ints, Ints]:
    """The distinct lines of an array, and which of them each line is."""
    _, first, inverse = np.unique(number(counts), return_index=True, return_inverse=True)
    return counts[first], inverse


def _log_falling(c: int, n: int) -> float:
    return lgamma(c + 1) - lgamma(c - n + 1)


def deal(game: Game) -> Joint:
    """The filter after the deal, the opener with its fifth tile."""
    ways = np.array([deals(rack) for rack in game.racks[RESTING]], dtype=float)
    start = ways[:, None] * game.choices
    seen = np.zeros(len(game.used), dtype=np.int64)
    joint = Joint(game, dict.fromkeys(game.seats, RESTING), {}, seen, 0.0)
    for seat in game.seats:
        joint = joint.with_factor(seat, start)
    return draw(joint, game.dealer)


def draw(joint: Joint, seat: int) -> Joint:
    """The filter after a seat has drawn a tile that nobody else saw."""
    n, factor = joint.sizes[seat], joint.factors[seat]
    out = np.zeros((len(joint.game.racks[n + 1]), factor.shape[1]))
    for k in range(len(joint.game.used)):
        out += _moved(joint.game, n, {k: 1}, factor)
    return joint.with_factor(seat, out, size=n + 1)


def _moved(game: Game, n: int, change: dict[int, int], factor: Array) -> Array:
    """Factor with every rack changed by the same tiles; racks that cannot be are dropped."""
    vector = [0] * len(game.used)
    for k, by in change.items():
        vector[k] += by
    to = _changed(tuple(game.copies.tolist()), n, tuple(vector))
    out = np.zeros((len(game.racks[n + sum(vector)]), factor.shape[1]))
    out[to[to >= 0]] = factor[to >= 0]
    return out


def throw(joint: Joint, stance: Stance, kind: int) -> Joint:
    """The filter after a seat on turn threw a tile; its draw has been taken in before."""
    game, seat, n = joint.game, stance.seat, joint.sizes[stance.seat]
    k = int(np.flatnonzero(game.used == kind)[0])
    racks, factor = joint.racks(seat), joint.factors[seat]
    stays, goes = (table[:, :, k] for table in stance.throws(racks))
    leaves = stance.leaves(racks)
    stayed = _moved(game, n, {k: -1}, factor * (1.0 - leaves) * stays)
    left = _moved(game, n, {k: -1}, factor * leaves * goes)
    after = stayed + stance.arrives(game.racks[n - 1], left)
    seen = joint.seen.copy()
    seen[k] += 1
    return replace(joint, seen=seen).with_factor(seat, after, size=n - 1)


def refuse(joint: Joint, stance: Stance, kind: int) -> Joint:
    """The filter after a seat let an open throw pass."""
    seat = stance.seat
    takes = stance.takes(joint.racks(seat), kind).sum(axis=2)
    return joint.with_factor(seat, joint.factors[seat] * (1.0 - takes))


def take(joint: Joint, stance: Stance, event: Expose, kind: int) -> Joint:
    """The filter after a seat showed a group with an open throw."""
    game, seat = joint.game, event.seat
    shape = shape_index(event.size, event.jokers)
    shows = stance.takes(joint.racks(seat), kind)[:, :, shape]
    k, naturals = int(np.flatnonzero(game.used == kind)[0]), event.size - 1 - event.jokers
    change = {k: -naturals, len(game.used) - 1: -event.jokers}
    if not shows.any():
        raise ValueError(f"seat {seat} never shows {event.size} with {event.jokers} jokers here")
    factor = _moved(game, joint.sizes[seat], change, joint.factors[seat] * shows)
    seen = joint.seen.copy()
    seen[k] += naturals
    seen[-1] += event.jokers
    size = joint.sizes[seat] - naturals - event.jokers
    return replace(joint, seen=seen).with_factor(seat, factor, size=size)


@dataclass(frozen=True, eq=False)
class Act:
    """One seat's part in an event: the filter just before and just after it.

    A seat that draws has its tile already in `before`.
    """

    what: str
    stance: Stance
    kind: int
    event: AnyEvent
    before: Joint
    after: Joint

    @property
    def seat(self) -> int:
        """The seat that acts."""
        return self.stance.seat


def acts(joint: Joint, state: TableState, event: Discard | Expose) -> list[Act]:
    """Take an event apart: refusals of the open throw, then the throw or the claim.

    The filter after the event is ``after`` of the last.
    """
    out: list[Act] = []
    if state.window is not None:
        thrown = state.floor[state.window]
        for step in (1, 2, 3):
            seat = (thrown.seat + step) % 4
            if isinstance(event, Expose) and seat == event.seat:
                break
            if seat in joint.game.seats:
                stance = Stance(joint.game, state, seat)
                after = refuse(joint, stance, thrown.kind)
                out.append(Act("refuse", stance, thrown.kind, event, joint, after))
                joint = after
    stance = Stance(joint.game, state, event.seat)
    if isinstance(event, Expose):
        kind = state.floor[-1].kind
        after = take(joint, stance, event, kind)
        out.append(Act("take", stance, kind, event, joint, after))
    else:
        drawn = joint if state.holder == event.seat else draw(joint, event.seat)
        after = throw(drawn, stance, event.kind)
        out.append(Act("throw", stance, event.kind, event, drawn, after))
    return out


def next_events(joint: Joint, state: TableState) -> list[tuple[AnyEvent | None, float]]:
    """Every next event with its exact probability; None for a game that ends."""
    now = joint.log_prob()
    found: list[tuple[AnyEvent | None, float]] = []
    events: list[Discard | Expose] = []
    if state.window is not None:
        thrown = state.floor[state.window]
        for seat in joint.game.seats:
            if seat != thrown.seat:
                takes = Stance(joint.game, state, seat).takes(joint.racks(seat), thrown.kind)
                shapes = np.flatnonzero(takes.any(axis=(0, 1)))
                events += [Expose(seat, *SHAPES[shape]) for shape in shapes]
    if state.wall > 0 or state.holder is not None:
        assert state.turn is not None
        events += [Discard(state.turn, int(kind)) for kind in joint.game.used]
    for event in events:
        try:
            after = acts(joint, state, event)[-1].after
        except ValueError:
            continue
        found.append((event, float(np.exp(after.log_prob() - now))))
    if state.wall == 0 and state.holder is None:
        found.append((None, 1.0 - sum(prob for _, prob in found)))
    return found
