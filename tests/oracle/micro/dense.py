"""The plain joint filter: one number for every way in which racks and rows can lie at once.

Tiles are drawn from the wall, which is what is left beside the racks and the tiles seen; each
event multiplies and moves the numbers. Nothing is factored, so only the smallest games fit, and
what the factored filter of ``exact`` gives must be the same to rounding.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from math import comb

import numpy as np

from handread.card.compiled import CompiledCard
from handread.clues.claims import shape_index
from handread.table import TableState
from handread.table.events import Discard, Expose
from tests.oracle.micro.game import RESTING, Array, Game, Ints, micro_card
from tests.oracle.micro.player import Stance


def part_of_card(card: CompiledCard, targets: list[int]) -> CompiledCard:
    """The card with some of its targets only."""
    return replace(
        card, hash=f"{card.hash} targets {targets}", hand_of=card.hand_of[targets].copy(),
        group_kind=card.group_kind[targets].copy(), group_size=card.group_size[targets].copy(),
        group_joker=card.group_joker[targets].copy(), demand=card.demand[targets].copy(),
    )  # fmt: skip


def small_card(targets: list[int], copies: dict[str, int]) -> CompiledCard:
    """Some targets of the micro-game's card over fewer tiles."""
    return part_of_card(micro_card(copies=copies), targets)


@dataclass(frozen=True, eq=False)
class Dense:
    """The joint filter at one moment.

    Attributes
    ----------
    game
        The game.
    sizes
        Concealed tiles of each seat, in the order of ``game.seats``.
    mass
        Joint probability with all that was seen: an axis of racks and one of rows for each seat.
    seen
        Copies of each kind that the table has seen, shape (n_used,).
    """

    game: Game
    sizes: tuple[int, ...]
    mass: Array
    seen: Ints

    def axis(self, seat: int) -> int:
        return 2 * self.game.seats.index(seat)

    def marginal(self, seat: int) -> Array:
        """P(rack, row | all that was seen), shape (n_racks, n_rows)."""
        at = self.axis(seat)
        rest = tuple(i for i in range(self.mass.ndim) if i not in (at, at + 1))
        return self.mass.sum(axis=rest) / self.mass.sum()

    def log_prob(self) -> float:
        """Log probability of all that was seen, nats."""
        return float(np.log(self.mass.sum()))

    def wall(self) -> Ints:
        """Copies of each kind in the wall, for every combination of racks; kinds last."""
        left = self.game.copies - self.seen
        for i, n in enumerate(self.sizes):
            shape = [1] * self.mass.ndim
            shape[2 * i] = -1
            left = left - self.game.racks[n].reshape(*shape, len(self.seen))
        return left

    def scaled(self, seat: int, table: Array) -> Dense:
        """Multiply by a chance for each rack and row of a seat."""
        shape = [1] * self.mass.ndim
        at = self.axis(seat)
        shape[at], shape[at + 1] = table.shape
        return replace(self, mass=self.mass * table.reshape(shape))

    def moved(self, seat: int, change: Ints, mass: Array) -> Array:
        """`mass` with the seat's racks changed by the same tiles, one rack at a time."""
        n = self.sizes[self.game.seats.index(seat)]
        old, new = self.game.racks[n].tolist(), self.game.racks[n + int(change.sum())].tolist()
        front = np.moveaxis(mass, self.axis(seat), 0)
        out = np.zeros((len(new), *front.shape[1:]))
        for i, rack in enumerate(old):
            wanted = [a + b for a, b in zip(rack, change.tolist(), strict=True)]
            if wanted in new:
                out[new.index(wanted)] += front[i]
        return np.moveaxis(out, 0, self.axis(seat))

    def resized(self, seat: int, by: int, mass: Array) -> Dense:
        i = self.game.seats.index(seat)
        sizes = (*self.sizes[:i], self.sizes[i] + by, *self.sizes[i + 1 :])
        return replace(self, sizes=sizes, mass=mass)


def dense_deal(game: Game) -> Dense:
    """The filter after the deal, the opener with its fifth tile."""
    racks, n_seats = game.racks[RESTING], len(game.seats)
    choose = np.array([[comb(c, r) for r in range(20)] for c in range(20)], dtype=float)
    mass = np.ones([len(racks)] * n_seats)
    for k, copies in enumerate(game.copies.tolist()):
        left = np.full((1,) * n_seats, copies)
        for i in range(n_seats):
            held = racks[:, k].reshape([-1 if j == i else 1 for j in range(n_seats)])
            mass = mass * choose[np.maximum(left, 0), held] * (left >= held)
            left = left - held
    mass = mass / mass.sum()
    letters = "abc"[:n_seats]
    rows = "xyz"[:n_seats]
    each = ",".join(f"{r}{g}" for r, g in zip(letters, rows, strict=True))
    to = "".join(f"{r}{g}" for r, g in zip(letters, rows, strict=True))
    mass = np.einsum(f"{letters},{each}->{to}", mass, *[game.choices] * len(game.seats))
    dense = Dense(game, (RESTING,) * len(game.seats), mass, np.zeros(len(racks[0]), dtype=np.int64))
    return dense_draw(dense, game.dealer)


def dense_draw(dense: Dense, seat: int) -> Dense:
    """Draw uniformly from the wall."""
    wall = np.maximum(dense.wall(), 0)
    total = np.maximum(wall.sum(axis=-1), 1)
    out: Array | None = None
    for k, one in enumerate(np.eye(wall.shape[-1], dtype=np.int64)):
        part = dense.moved(seat, one, dense.mass * (wall[..., k] / total))
        out = part if out is None else out + part
    assert out is not None
    return dense.resized(seat, 1, out)


def dense_after(dense: Dense, state: TableState, event: Discard | Expose) -> Dense:
    """The filter after an event: refusals, then the claim, or the draw and the throw."""
    game, seat = dense.game, event.seat
    if state.window is not None:
        thrown = state.floor[state.window]
        for step in (1, 2, 3):
            other = (thrown.seat + step) % 4
            if other not in game.seats:
                continue
            n = dense.sizes[game.seats.index(other)]
            takes = Stance(game, state, other).takes(game.racks[n], thrown.kind)
            if isinstance(event, Expose) and other == seat:
                return _shown(dense, takes, event, thrown.kind)
            dense = dense.scaled(other, 1.0 - takes.sum(axis=2))
    assert isinstance(event, Discard)
    if state.holder != seat:
        dense = dense_draw(dense, seat)
    return _thrown(dense, state, event)


def _shown(dense: Dense, takes: Array, event: Expose, kind: int) -> Dense:
    k = dense.game.used.tolist().index(kind)
    change = np.zeros(len(dense.game.used), dtype=np.int64)
    change[k] -= event.size - 1 - event.jokers
    change[-1] -= event.jokers
    scaled = dense.scaled(event.seat, takes[:, :, shape_index(event.size, event.jokers)])
    moved = dense.moved(event.seat, change, scaled.mass)
    after = dense.resized(event.seat, int(change.sum()), moved)
    return replace(after, seen=dense.seen - change)


def _thrown(dense: Dense, state: TableState, event: Discard) -> Dense:
    game, seat = dense.game, event.seat
    k = game.used.tolist().index(event.kind)
    n = dense.sizes[game.seats.index(seat)]
    stance, racks = Stance(game, state, seat), game.racks[n]
    stays, goes = (table[:, :, k] for table in stance.throws(racks))
    leaves = stance.leaves(racks)
    one = -np.eye(len(game.used), dtype=np.int64)[k]
    stayed = dense.moved(seat, one, dense.scaled(seat, (1.0 - leaves) * stays).mass)
    left = dense.moved(seat, one, dense.scaled(seat, leaves * goes).mass)
    at = dense.axis(seat)
    front = np.moveaxis(left, (at, at + 1), (0, 1))
    out = np.zeros_like(front)
    for row in range(front.shape[1]):
        only = np.zeros((len(game.racks[n - 1]), front.shape[1]))
        only[:, row] = 1.0
        goes_to = stance.arrives(game.racks[n - 1], only)
        out += goes_to.reshape(*goes_to.shape, *[1] * (front.ndim - 2)) * front[:, row : row + 1]
    mass = stayed + np.moveaxis(out, (0, 1), (at, at + 1))
    return replace(dense.resized(seat, -1, mass), seen=dense.seen - one)
