"""Moments belong to games: averages within a game first, then over games."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import ArrayLike, NDArray

from handread.errors import HandreadError
from handread.study._arrays import Floats, Ints, sums_by, vector
from handread.values import ArrayValue


@dataclass(frozen=True, eq=False)
class GameIndex(ArrayValue):
    """Which game each moment belongs to.

    Moments of one game share a deal, four people and a truth that hardly moves, so a game
    is the unit that is independent of the others; it is the cluster of every average and
    interval here.

    Attributes
    ----------
    label
        The distinct games, sorted, shape (n_games,).
    code
        Position in `label` of each moment's game, shape (n_moments,).
    moments
        Moments of each game, shape (n_games,).
    """

    label: NDArray[Any]
    code: Ints
    moments: Ints

    @property
    def n_games(self) -> int:
        """Number of games."""
        return len(self.label)

    @property
    def n_moments(self) -> int:
        """Number of moments."""
        return len(self.code)

    @property
    def weight(self) -> Floats:
        """Weight of each moment so that games count alike; sums to 1, shape (n_moments,)."""
        return np.asarray(1.0 / (self.moments[self.code] * float(self.n_games)))

    def sums(self, values: Floats) -> Floats:
        """Sum `values` within each game.

        Parameters
        ----------
        values
            One line a moment, shape (n_moments,) or (n_moments, n_columns).

        Returns
        -------
        numpy.ndarray
            Shape (n_games,) or (n_games, n_columns).
        """
        if values.ndim == 1:
            return sums_by(self.code, values, self.n_games)
        columns = [self.sums(values[:, column]) for column in range(values.shape[1])]
        return np.stack(columns, axis=1)

    def means(self, values: Floats) -> Floats:
        """Average `values` within each game; shapes as in `sums`."""
        total = self.sums(values)
        return np.asarray(total / (self.moments if values.ndim == 1 else self.moments[:, None]))


def game_index(game: ArrayLike | GameIndex | None, n_moments: int | None = None) -> GameIndex:
    """Index moments by their game.

    Parameters
    ----------
    game
        Label of each moment's game (numbers or text), shape (n_moments,); an index made
        before is passed through.
    n_moments
        How many moments there must be.

    Returns
    -------
    GameIndex

    Raises
    ------
    HandreadError
        If there is no label, or not one for each moment.

    Examples
    --------
    >>> index = game_index(["b", "a", "b"])
    >>> index.code.tolist(), index.moments.tolist()
    ([1, 0, 1], [1, 2])
    """
    if game is None:
        raise HandreadError(
            "game is None; accepted: the game of each moment, shape (n_moments,). Moments of one "
            "game are not independent, so no interval is given without a cluster key"
        )
    if isinstance(game, GameIndex):
        index = game
    else:
        labels = np.asarray(game)
        if labels.ndim != 1 or labels.size == 0:
            raise HandreadError(
                f"game has shape {labels.shape}; accepted: one label a moment, shape (n_moments,)"
            )
        if labels.dtype.kind == "f" and bool(np.isnan(labels).any()):
            raise HandreadError("game holds nan; accepted: a label for every moment")
        label, code, moments = np.unique(labels, return_inverse=True, return_counts=True)
        index = GameIndex(label, code.astype(np.int64), moments.astype(np.int64))
    if n_moments is not None and index.n_moments != n_moments:
        raise HandreadError(
            f"game has {index.n_moments} labels for {n_moments} moments; accepted: one a moment"
        )
    return index


@dataclass(frozen=True)
class Average:
    """A mean over games, with the counts that it rests on.

    Attributes
    ----------
    value
        The mean over games of the means within games.
    unit
        Unit of `value`.
    n_games
        Games that had at least one moment.
    n_moments
        Moments in all of them.
    """

    value: float
    unit: str
    n_games: int
    n_moments: int

    def __str__(self) -> str:
        """Print the value with its unit and counts."""
        return (
            f"{self.value:.4g} {self.unit} "
            f"({self.n_games:,} games, {self.n_moments:,} moments)"
        )  # fmt: skip


def average(values: ArrayLike, *, game: ArrayLike | GameIndex | None, unit: str) -> Average:
    """Average a score within each game, then over games.

    The plain mean over moments would let long games speak louder, and long games are the
    ones in which nobody's hand was read or made.

    Parameters
    ----------
    values
        One number a moment, shape (n_moments,).
    game
        Game of each moment, shape (n_moments,).
    unit
        Unit of `values`, to be printed with them.

    Returns
    -------
    Average

    Examples
    --------
    >>> print(average([1.0, 1.0, 1.0, 3.0], game=[1, 1, 1, 2], unit="bits"))
    2 bits (2 games, 4 moments)
    """
    scores = vector(values, "values")
    index = game_index(game, len(scores))
    return Average(float(index.means(scores).mean()), unit, index.n_games, index.n_moments)


def one_moment_per_game(
    game: ArrayLike | GameIndex | None, *, rng: np.random.Generator
) -> Ints:  # fmt: skip
    """Choose one moment of each game at random.

    Tests of uniformity need independent ranks, and moments of one game are not.

    Parameters
    ----------
    game
        Game of each moment, shape (n_moments,).
    rng
        Source of the choice.

    Returns
    -------
    numpy.ndarray
        Positions of the chosen moments in order of the games' labels, shape (n_games,).

    Examples
    --------
    >>> one_moment_per_game([7, 7, 8], rng=np.random.default_rng(1)).tolist()[1]
    2
    """
    index = game_index(game)
    order = np.argsort(index.code, kind="stable")
    start = np.concatenate(([0], np.cumsum(index.moments)[:-1]))
    return np.asarray(order[start + rng.integers(index.moments)], dtype=np.int64)


def independent_games(game: ArrayLike | GameIndex | None, n_values: int) -> GameIndex:
    """Index values that must be independent: refuse two of one game.

    Parameters
    ----------
    game
        Game of each value, shape (n_values,).
    n_values
        How many values there are.

    Returns
    -------
    GameIndex

    Raises
    ------
    HandreadError
        If a game gives more than one value.
    """
    index = game_index(game, n_values)
    if index.n_games < index.n_moments:
        often = int(np.argmax(index.moments))
        name = index.label.tolist()[often]
        raise HandreadError(
            f"game {name!r} gives {int(index.moments[often])} values; accepted: one a game, "
            "since the test is for independent ones; choose with one_moment_per_game"
        )
    return index
