"""A small world with a known truth, in which every posterior can be written down exactly.

A seat builds one of five things. Each turn shows a symbol of channel A, drawn by what it
builds, and a symbol of channel B that mostly repeats A's. Reading A alone is exact Bayes;
multiplying both as if B were independent counts the same hint twice.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from handread.study import Moments

Floats = NDArray[np.float64]

N_ROWS = 5
ROWS = ("evens", "odds", "winds", "runs", "other")
#: P(symbol of A | row), shape (5, 4).
CHANNEL = np.array(
    [
        [0.40, 0.30, 0.20, 0.10],
        [0.20, 0.40, 0.10, 0.30],
        [0.10, 0.20, 0.50, 0.20],
        [0.30, 0.10, 0.20, 0.40],
        [0.25, 0.25, 0.25, 0.25],
    ]
)
COPIED = 0.8  # how often B repeats A; otherwise it is uniform
#: P(symbol of B | symbol of A), shape (4, 4).
REPEAT = COPIED * np.eye(4) + (1.0 - COPIED) / 4.0
#: P(symbol of B | row), shape (5, 4).
SECOND = CHANNEL @ REPEAT


@dataclass(frozen=True)
class World:
    """Games of two seats and some turns, with what was true and what was seen."""

    prior: Floats
    row: NDArray[np.int64]  # (n_games, n_seats)
    first: NDArray[np.int64]  # (n_games, n_seats, n_turns)
    second: NDArray[np.int64]  # (n_games, n_seats, n_turns)

    @property
    def shape(self) -> tuple[int, int, int]:
        games, seats, turns = self.first.shape
        return games, seats, turns

    def flat(self, per_seat: NDArray[Any]) -> NDArray[Any]:
        """Repeat what each seat has (n_games, n_seats, ...) over its turns."""
        return np.repeat(per_seat.reshape(-1, *per_seat.shape[2:]), self.shape[2], axis=0)

    @property
    def truth(self) -> Floats:
        return self.flat(np.eye(N_ROWS)[self.row])

    @property
    def game(self) -> NDArray[np.int64]:
        games, seats, turns = self.shape
        return np.repeat(np.arange(games), seats * turns)

    @property
    def seat(self) -> NDArray[np.str_]:
        games, seats, turns = self.shape
        return np.tile(np.repeat(np.array(["East", "South"])[:seats], turns), games)

    @property
    def turn(self) -> NDArray[np.int64]:
        games, seats, turns = self.shape
        return np.tile(np.arange(1, turns + 1), games * seats)

    def _posterior(self, log_terms: Floats) -> Floats:
        logs = np.log(self.prior) + np.cumsum(log_terms, axis=2)
        logs -= logs.max(axis=-1, keepdims=True)
        raised = np.exp(logs)
        return np.asarray((raised / raised.sum(axis=-1, keepdims=True)).reshape(-1, N_ROWS))

    @property
    def exact(self) -> Floats:
        """Exact posterior after each turn; B adds nothing once A is known."""
        return self._posterior(np.log(CHANNEL.T[self.first]))

    @property
    def doubled(self) -> Floats:
        """Both channels multiplied as if they were independent."""
        both = np.log(CHANNEL.T[self.first]) + np.log(SECOND.T[self.second])
        return self._posterior(both)

    def before(self, after: Floats) -> Floats:
        """Belief before each turn: the one after the turn before, at first the prior."""
        series = after.reshape(-1, self.shape[2], N_ROWS)
        start = np.broadcast_to(self.prior, (len(series), 1, N_ROWS))
        return np.concatenate([start, series[:, :-1]], axis=1).reshape(-1, N_ROWS)

    @property
    def base(self) -> Floats:
        return np.broadcast_to(self.prior, (len(self.game), N_ROWS)).copy()

    def moments(self, prob: Floats) -> Moments:
        turns = self.shape[2]
        return Moments(
            rows=ROWS, prob=prob, truth=self.truth, game=self.game, seat=self.seat,
            event=self.turn * 4, own_turn=self.turn, turns_to_end=turns - self.turn,
            exposures=np.minimum(self.turn // 3, 3),
        )  # fmt: skip


UNIFORM = np.full(N_ROWS, 1.0 / N_ROWS)
UNEVEN = np.array([0.35, 0.25, 0.2, 0.15, 0.05])


def make_world(
    *, rng: np.random.Generator, games: int = 1500, turns: int = 6, prior: Floats = UNEVEN
) -> World:
    """Draw a world; the two seats of a game build the same thing half of the time."""
    row = rng.choice(N_ROWS, size=(games, 2), p=prior)
    same = rng.random(games) < 0.5
    row[same, 1] = row[same, 0]
    cumulative = CHANNEL.cumsum(axis=1)[row][:, :, None, :]
    first = (rng.random((games, 2, turns, 1)) > cumulative).sum(axis=-1)
    repeated = rng.random(first.shape) < COPIED
    second = np.where(repeated, first, rng.integers(4, size=first.shape))
    return World(prior, row, first, second)
