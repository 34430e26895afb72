"""What a seat had in mind, as weights over the rows of a belief: where every fit starts.

The rows are those of a belief, targets and then the unmodelled states, and the rules are those by
which readings are scored: a seat that still searches is *undecided*, one that has folded is
*defending*, and a plan that the seat's own exposures rule out is *other*.
"""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from dataclasses import dataclass
from functools import cached_property, lru_cache
from typing import Final, Protocol

import numpy as np
from numpy.typing import NDArray

from handread.card.compiled import CompiledCard
from handread.clues.codes import N_UNMODELLED, UNMODELLED
from handread.errors import HandreadError, closest
from handread.simulate import SimulatedGame
from handread.simulate.view import STATES
from handread.values import ArrayValue, frozen

Array = NDArray[np.float64]
Rows = NDArray[np.int64]

#: Weights below this share of a mind are left out: a seat weighs a handful of targets, not all.
LEAST_WEIGHT: Final = 0.02
_LIVING: Final = STATES[:-1]
_ONE: Final = frozen(np.ones(1))
_UNDECIDED, _DEFENDING, _OTHER = (UNMODELLED.index(name) - N_UNMODELLED for name in UNMODELLED)


@dataclass(frozen=True, eq=False)
class Mind(ArrayValue):
    """Rows that a seat has in mind, with their weights.

    Attributes
    ----------
    rows
        Rows of a belief, ascending, each once, shape (n,).
    weights
        Their weights, above 0, summing to 1, shape (n,).
    """

    rows: Rows
    weights: Array

    def dense(self, n_rows: int) -> Array:
        """Weights over all rows, shape (n_rows,)."""
        out = np.zeros(n_rows)
        out[self.rows] = self.weights
        return out

    @property
    def single(self) -> bool:
        """Whether the seat has one row in mind."""
        return len(self.rows) == 1

    @cached_property
    def pairs(self) -> tuple[tuple[int, float], ...]:
        """Each row with its weight."""
        return tuple(zip(self.rows.tolist(), self.weights.tolist(), strict=True))

    @cached_property
    def unchanged(self) -> Passage:
        """What becomes of it when all is kept."""
        weights = _ONE if self.single else self.weights / self.weights.sum()
        return Passage(self.rows, weights, *_NOTHING_LEFT)


@lru_cache(maxsize=1 << 12)
def _one_row(row: int) -> Mind:
    """Mind of a seat that has one row in mind."""
    return Mind(np.array([row], dtype=np.int64), _ONE)


def mind_of(
    card: CompiledCard,
    state: str,
    plan: int,
    targets: NDArray[np.integer],
    weights: NDArray[np.floating],
    fits: NDArray[np.bool_],
) -> Mind:
    """Rows for what a player has in mind.

    Parameters
    ----------
    card
        The card.
    state
        One of ``handread.simulate.view.STATES``, not dead.
    plan
        Target that the seat is committed to, -1 for none.
    targets, weights
        Targets that it weighs, and their weights.
    fits
        Targets that its own exposures allow, shape (n_targets,).

    Raises
    ------
    HandreadError
        If the state is none of these.

    Examples
    --------
    >>> import handread as hr
    >>> card = hr.load_card("small")
    >>> fits = np.ones(card.n_targets, dtype=bool)
    >>> mind_of(card, "building", 3, np.array([3]), np.ones(1), fits).rows.tolist()
    [3]
    >>> mind_of(card, "searching", -1, np.array([3]), np.ones(1), fits).rows - card.n_targets
    array([0])
    """
    if state not in _LIVING:
        raise HandreadError(f"state is {state!r}; {closest(state, _LIVING)}")
    n_rows = card.n_targets + N_UNMODELLED
    if state in ("folded", "searching"):
        return _one_row(n_rows + (_DEFENDING if state == "folded" else _UNDECIDED))
    if plan >= 0:
        return _one_row(plan if fits[plan] else n_rows + _OTHER)
    held = np.bincount(targets, weights=weights, minlength=card.n_targets)
    dense = np.zeros(n_rows)
    dense[: card.n_targets] = held * fits
    dense[_OTHER] = float(held[~fits].sum())
    dense[dense < LEAST_WEIGHT * dense.max()] = 0.0
    rows = np.flatnonzero(dense)
    return Mind(rows.astype(np.int64), dense[rows] / dense[rows].sum())


class MindSource(Protocol):
    """Who knows what the seats of a game had in mind."""

    def at(self, seat: int, n_events: int, fits: NDArray[np.bool_]) -> Mind | None:
        """Mind of a seat when `n_events` events are on record; None where nobody knows.

        `fits` are the targets that the seat's exposures allow by then, shape (n_targets,).
        """
        ...

    def settled(self, seat: int, first: int) -> Mind | None:
        """Mind of a seat once the passes are over, `first` events before the first throw."""
        ...

    def shown(
        self, seat: int, n_events: int, throw: int | None, fits: NDArray[np.bool_]
    ) -> Mind | None:
        """Mind of a seat that has shown a group for which its plan before had no use.

        The group is event `n_events`, and the seat's next throw event `throw`, None where it
        makes none; `fits` are the targets that its exposures now allow. *Other* is a mind, too:
        the group was a mistake, and what the seat makes of it is seen by its throw.
        """
        ...


@dataclass(frozen=True, eq=False)
class SimulatedMinds(ArrayValue):
    """Minds of a simulated game, out of its truth.

    Attributes
    ----------
    card
        The card.
    game
        The game.
    """

    card: CompiledCard
    game: SimulatedGame

    @cached_property
    def _looks(self) -> list[tuple[list[int], list[int]]]:
        """By seat, events on record at each of its looks, in order, and the rows of the looks."""
        moments = self.game.truth.moments
        rows = [np.flatnonzero(moments.seat == seat) for seat in range(4)]
        return [(moments.at[here].tolist(), here.tolist()) for here in rows]

    @cached_property
    def _told(self) -> tuple[list[int], list[int], list[int]]:
        """State and plan of each look, and where its targets begin."""
        moments = self.game.truth.moments
        return moments.state.tolist(), moments.plan.tolist(), moments.first.tolist()

    def at(self, seat: int, n_events: int, fits: NDArray[np.bool_]) -> Mind | None:
        """Mind of a seat at its last look that counts by then; None for a dead or empty seat."""
        times, rows = self._looks[seat]
        return self._of_look(seat, rows, bisect_left(times, max(n_events, 1)), fits)

    def shown(
        self, seat: int, n_events: int, throw: int | None, fits: NDArray[np.bool_]
    ) -> Mind | None:
        """Mind after a group for which the plan before had no use.

        Players look at their plans on their turns. A group that agrees with the target at the
        next look was shown for it; where no target does, the old plan is ruled out until then.
        """
        if throw is None:
            return None
        later = self.at(seat, throw, fits)
        if later is None or (later.rows < self.card.n_targets).any():
            return later
        return self.at(seat, n_events, fits)

    def settled(self, seat: int, first: int) -> Mind | None:
        """Mind of a seat once the passes are over.

        The seat that opens looks once more before it throws; that look belongs to its turn.
        """
        times, rows = self._looks[seat]
        before, end = bisect_left(times, first), bisect_right(times, first)
        fits = np.ones(self.card.n_targets, dtype=np.bool_)
        return self._of_look(seat, rows, min(end, before + 1), fits)

    def _of_look(
        self, seat: int, rows: list[int], n_looks: int, fits: NDArray[np.bool_]
    ) -> Mind | None:
        """Mind of a seat at the last of its first looks."""
        if self.game.truth.people[seat] is None or n_looks == 0:
            return None
        moments, row = self.game.truth.moments, rows[n_looks - 1]
        states, plans, first = self._told
        state = STATES[states[row]]
        if state == STATES[-1]:
            return None
        here = slice(first[row], first[row + 1])
        return mind_of(
            self.card, state, plans[row], moments.target[here], moments.weight[here], fits
        )


@dataclass(frozen=True, eq=False)
class RowMinds(ArrayValue):
    """Minds of a game drawn from a model: the latent row of each seat after its throws.

    Attributes
    ----------
    event, seat, row
        Number of each event that is a throw, who threw, and the row after it, shape (n_throws,).
    exposed
        The same three of each group shown, shape (n_groups, 3).
    """

    event: NDArray[np.int64]
    seat: NDArray[np.int64]
    row: NDArray[np.int64]
    exposed: NDArray[np.int64]

    def at(self, seat: int, n_events: int, fits: NDArray[np.bool_]) -> Mind | None:
        """Row of a seat after its last throw by then; None before its first."""
        found = np.flatnonzero((self.seat == seat) & (self.event <= n_events))
        if len(found) == 0:
            return None
        return Mind(self.row[found[-1:]].astype(np.int64), np.ones(1))

    def shown(
        self, seat: int, n_events: int, throw: int | None, fits: NDArray[np.bool_]
    ) -> Mind | None:
        """Row of a seat right after its group, before it can move with its throw."""
        found = np.flatnonzero((self.exposed[:, 0] == n_events) & (self.exposed[:, 1] == seat))
        if len(found) == 0:
            return None
        return Mind(self.exposed[found[-1:], 2].astype(np.int64), np.ones(1))

    def settled(self, seat: int, first: int) -> None:
        """Nobody knows the row before the first throw."""
        return


@dataclass(frozen=True, eq=False)
class Passage(ArrayValue):
    """How a mind went over into the next one.

    Attributes
    ----------
    kept
        Rows kept and their weights.
    left
        Rows left, rows gone to, and the weights of both, shape (n, 2) and (n,). The weights of
        `kept` and `left` sum to 1.
    """

    kept: Rows
    kept_weights: Array
    left: Rows
    left_weights: Array

    @cached_property
    def stays(self) -> tuple[tuple[int, float], ...]:
        """Each row kept, with its weight."""
        return tuple(zip(self.kept.tolist(), self.kept_weights.tolist(), strict=True))

    @cached_property
    def moves(self) -> tuple[tuple[int, int, float], ...]:
        """Each row left, with the one gone to and the weight."""
        rows = zip(self.left.tolist(), self.left_weights.tolist(), strict=True)
        return tuple((old, new, weight) for (old, new), weight in rows)


_NOTHING_KEPT: Final = (frozen(np.zeros(0, np.int64)), frozen(np.zeros(0)))
_NOTHING_LEFT: Final = (frozen(np.zeros((0, 2), np.int64)), frozen(np.zeros(0)))


def passage(before: Mind, after: Mind) -> Passage:
    """Match two minds: as much as can be is kept, the rest is shared out in proportion.

    Examples
    --------
    >>> one, two = Mind(np.array([4]), np.ones(1)), Mind(np.array([4, 7]), np.array([0.5, 0.5]))
    >>> found = passage(one, two)
    >>> found.kept.tolist(), found.left.tolist(), found.left_weights.tolist()
    ([4], [[4, 7]], [0.5])
    """
    if before is after or (
        before.rows.tobytes() == after.rows.tobytes()
        and before.weights.tobytes() == after.weights.tobytes()
    ):
        return before.unchanged
    if before.single and after.single and before.rows[0] != after.rows[0]:
        return Passage(*_NOTHING_KEPT, np.array([[before.rows[0], after.rows[0]]]), _ONE)
    place = np.minimum(np.searchsorted(after.rows, before.rows), len(after.rows) - 1)
    at_before = np.flatnonzero(after.rows[place] == before.rows)
    at_after, rows = place[at_before], before.rows[at_before]
    kept = np.minimum(before.weights[at_before], after.weights[at_after])
    gone, come = before.weights.copy(), after.weights.copy()
    gone[at_before] -= kept
    come[at_after] -= kept
    total = float(gone.sum())
    if total <= 1e-9:
        return Passage(rows, kept / kept.sum(), *_NOTHING_LEFT)
    mass = np.outer(gone, come) / total
    i, j = np.nonzero(mass > 1e-6)
    left = np.stack([before.rows[i], after.rows[j]], axis=1)
    weights = mass[i, j]
    scale = 1.0 / float(kept.sum() + weights.sum())
    return Passage(rows, kept * scale, left, weights * scale)
