"""The truth of a simulated game: all that lay hidden, sealed beside the record."""

from __future__ import annotations

from bisect import bisect_left
from dataclasses import dataclass
from functools import cached_property
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray

from handread.errors import HandreadError
from handread.simulate.player import Style
from handread.simulate.rules.passes import Exchange
from handread.simulate.view import STATES
from handread.values import ArrayValue

#: Version of the stored form of a truth.
TRUTH_FORMAT: Final = 1


@dataclass(frozen=True)
class Person:
    """Who sat at a seat.

    Attributes
    ----------
    key
        Pseudonymous key; the same person has the same key and style in every game.
    kind, version
        Kind of player.
    style
        The person's own way.
    """

    key: str
    kind: str
    version: int
    style: Style


@dataclass(frozen=True)
class Change:
    """A change of plan.

    Attributes
    ----------
    at
        Events on record when it was made.
    seat
        Whose plan.
    before, after
        Targets; -1 for none.
    why
        What was so at that moment, nearest cause first: ``"exposed"`` the own exposures rule
        the old plan out, ``"blocked"`` too few copies are left for it, as the seat remembers
        the floor, ``"nearer"`` the new plan lacks fewer tiles, ``"committed"`` the first plan
        after none, ``"opened"`` and ``"folded"`` no plan any more, ``"resumed"`` after
        folding, ``"drifted"`` none of these.
    """

    at: int
    seat: int
    before: int
    after: int
    why: str


@dataclass(frozen=True)
class Ending:
    """How a game ended.

    Attributes
    ----------
    how
        ``"win"``, ``"wall"``, ``"deserted"`` (at most one live seat left) or ``"passes"``
        (stopped on purpose before the play).
    winner
        Who won.
    thrower
        Who threw the winning tile; None when it was drawn.
    target
        The target that won; the best-paying one that the tiles make.
    redeemed
        Whether a redeem completed the hand.
    jokerless
        Whether no joker stands in the winning hand.
    payments
        Points that each seat gains.
    """

    how: str
    winner: int | None = None
    thrower: int | None = None
    target: int | None = None
    redeemed: bool = False
    jokerless: bool = False
    payments: tuple[int, ...] = (0, 0, 0, 0)


@dataclass(frozen=True, eq=False)
class Moments(ArrayValue):
    """What each seat was about, one row each time it looked at its plan; sparse.

    Attributes
    ----------
    at
        Events on record at that time: the row holds from then on, shape (n,).
    seat
        Whose row it is, shape (n,).
    state
        Index into ``STATES``, shape (n,).
    plan
        Target that the seat is committed to, -1 for none, shape (n,).
    distance
        Tiles short of the plan; of the nearest target where there is no plan, shape (n,).
    first
        Row i has the entries ``first[i]`` to ``first[i + 1]`` of the next two, shape (n + 1,).
    target, weight
        Targets with a weight above 0, and their weights, which sum to 1.
    """

    at: NDArray[np.int32]
    seat: NDArray[np.int8]
    state: NDArray[np.int8]
    plan: NDArray[np.int32]
    distance: NDArray[np.int8]
    first: NDArray[np.int32]
    target: NDArray[np.int32]
    weight: NDArray[np.float32]

    def __len__(self) -> int:
        """Rows."""
        return len(self.at)

    def row(self, seat: int, n_events: int) -> int:
        """Row of a seat that holds when `n_events` events are on record.

        It is the one from which the seat acted up to the last of these events: a look that
        comes after that event, at a tile drawn for the next one, does not count yet.

        Raises
        ------
        HandreadError
            If the seat had not looked by then.
        """
        times, rows = self._looks.get(seat, ([], []))
        found = bisect_left(times, max(n_events, 1))
        if found == 0:
            raise HandreadError(f"seat {seat!r} has no row at event {n_events!r}; does it play?")
        return rows[found - 1]

    @cached_property
    def _looks(self) -> dict[int, tuple[list[int], list[int]]]:
        """By seat, events on record at each of its looks, in order, and the rows of the looks."""
        rows = {seat: np.flatnonzero(self.seat == seat) for seat in range(4)}
        return {seat: (self.at[here].tolist(), here.tolist()) for seat, here in rows.items()}

    def weights(self, row: int, n_targets: int) -> NDArray[np.float64]:
        """Weights of a row over all targets, shape (n_targets,)."""
        dense = np.zeros(n_targets)
        here = slice(int(self.first[row]), int(self.first[row + 1]))
        dense[self.target[here]] = self.weight[here]
        return dense

    def state_words(self, row: int) -> str:
        """State of a row, in words."""
        return STATES[int(self.state[row])]


@dataclass(frozen=True)
class Truth:
    """All that lay hidden in one game.

    Attributes
    ----------
    seed
        Seed of the game; the same seed, card, population and versions give the same game.
    population
        Name of the population that the people come from.
    card_hash
        Content hash of the card.
    versions
        Name and version of what made the game: engine, and each kind of player at the table.
    people
        Who sat where, East first; None for an empty seat.
    dealt
        Racks after the deal, in the order in which the tiles were taken.
    wall
        Tiles of the wall after the deal, the first to be drawn first.
    passes
        The steps of the passes.
    stops
        Seats that wanted to stop the second round.
    draws
        Events on record, seat and kind of each draw.
    moments
        What each seat was about.
    changes
        When plans changed, and why.
    ending
        How it ended.
    racks
        Concealed tiles at the end, sorted.
    """

    seed: int
    population: str
    card_hash: str
    versions: tuple[tuple[str, int], ...]
    people: tuple[Person | None, ...]
    dealt: tuple[tuple[int, ...], ...]
    wall: tuple[int, ...]
    passes: tuple[Exchange, ...]
    stops: tuple[int, ...]
    draws: tuple[tuple[int, int, int], ...]
    moments: Moments
    changes: tuple[Change, ...]
    ending: Ending
    racks: tuple[tuple[int, ...], ...]

    __hash__ = None  # type: ignore[assignment]  # holds arrays


def moments_of(rows: list[dict[str, Any]]) -> Moments:
    """Pack rows with the keys at, seat, state, plan, distance, target and weight."""
    sizes = [len(row["target"]) for row in rows]
    empty_targets, empty_weights = np.zeros(0, np.int32), np.zeros(0, np.float32)
    return Moments(
        at=np.array([row["at"] for row in rows], dtype=np.int32),
        seat=np.array([row["seat"] for row in rows], dtype=np.int8),
        state=np.array([row["state"] for row in rows], dtype=np.int8),
        plan=np.array([row["plan"] for row in rows], dtype=np.int32),
        distance=np.array([row["distance"] for row in rows], dtype=np.int8),
        first=np.concatenate([[0], np.cumsum(sizes)]).astype(np.int32),
        target=np.concatenate([empty_targets, *(row["target"] for row in rows)]).astype(np.int32),
        weight=np.concatenate([empty_weights, *(row["weight"] for row in rows)]).astype(np.float32),
    )
