"""Moments: what one reader said, and what was true, at each moment that is scored."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Any, Protocol

import numpy as np
from numpy.typing import ArrayLike, NDArray

from handread.errors import HandreadError
from handread.study._arrays import Bools, Floats, Ints, pair
from handread.study.clusters import GameIndex, game_index
from handread.values import ArrayValue


@dataclass(frozen=True, eq=False)
class Moments(ArrayValue):
    """One reader's forecasts at many moments, with the truth and where each moment stands.

    Arrays are copied in, so that a change to the caller's arrays does not reach them.

    Attributes
    ----------
    rows
        Names of the rows: families and the unmodelled states.
    prob
        Forecast probabilities, shape (n_moments, n_rows).
    truth
        Weights of the true rows, shape (n_moments, n_rows).
    game
        Game of each moment: the cluster, shape (n_moments,).
    seat
        Seat that is read, shape (n_moments,).
    event
        Number of the event in its record after which the moment lies, shape (n_moments,).
    own_turn
        Own turns of the seat so far, shape (n_moments,).
    turns_to_end
        Own turns of the seat still to come, 0 at the last, shape (n_moments,).
    exposures
        Groups that the seat has exposed so far, shape (n_moments,).

    Raises
    ------
    HandreadError
        If shapes do not agree, or a row of probabilities does not sum to 1.

    Examples
    --------
    >>> moments = Moments(
    ...     rows=("evens", "other"), prob=[[0.6, 0.4], [0.9, 0.1]], truth=[[1, 0], [1, 0]],
    ...     game=[1, 1], seat=["East", "East"], event=[3, 7], own_turn=[1, 2],
    ...     turns_to_end=[1, 0], exposures=[0, 1])
    >>> len(moments), len(moments.where(moments.exposures == 1))
    (2, 1)
    """

    rows: tuple[str, ...]
    prob: Floats
    truth: Floats
    game: NDArray[Any]
    seat: NDArray[Any]
    event: Ints
    own_turn: Ints
    turns_to_end: Ints
    exposures: Ints

    def __post_init__(self) -> None:
        prob, truth = pair(self.prob, self.truth)
        object.__setattr__(self, "rows", tuple(self.rows))
        if len(self.rows) != prob.shape[1] or len(set(self.rows)) != len(self.rows):
            raise HandreadError(
                f"rows are {self.rows!r}; accepted: {prob.shape[1]} different names, one a column"
            )
        object.__setattr__(self, "prob", prob.copy())
        object.__setattr__(self, "truth", truth.copy())
        for name in ("game", "seat"):
            object.__setattr__(self, name, _keys(getattr(self, name), name, len(prob)))
        for name in ("event", "own_turn", "turns_to_end", "exposures"):
            keys = _keys(getattr(self, name), name, len(prob))
            if keys.dtype.kind not in "iu":
                raise HandreadError(f"{name} has type {keys.dtype}; accepted: whole numbers")
            object.__setattr__(self, name, keys.astype(np.int64))
        super().__post_init__()

    def __len__(self) -> int:
        return len(self.prob)

    @property
    def index(self) -> GameIndex:
        """The games of the moments."""
        return game_index(self.game)

    def where(self, mask: ArrayLike) -> Moments:
        """Keep some moments.

        Parameters
        ----------
        mask
            True for those to keep, shape (n_moments,).

        Returns
        -------
        Moments

        Raises
        ------
        HandreadError
            If none is left.
        """
        keep: Bools = np.asarray(mask, dtype=np.bool_)
        if keep.shape != (len(self),) or not keep.any():
            raise HandreadError(
                f"mask has shape {keep.shape} and keeps {int(keep.sum())}; accepted: shape "
                f"({len(self)},), keeping at least one moment"
            )
        names = ("prob", "truth", "game", "seat", "event", "own_turn", "turns_to_end", "exposures")
        return replace(self, **{name: getattr(self, name)[keep] for name in names})


class MomentTable(Protocol):
    """Moments of several readers, whose games are the same or the first of the same."""

    @property
    def readers(self) -> tuple[str, ...]:
        """Names of the readers."""
        ...

    def moments(self, reader: str, *, truth: str = "moment") -> Moments:
        """Return one reader's moments."""
        ...


def aligned(moments: Moments, to: Moments) -> Moments:
    """Keep those moments that another reader has too.

    Parameters
    ----------
    moments
        Moments of a reader that watched as many games as the other, or more.
    to
        The other's.

    Returns
    -------
    Moments
        In the order of `to`.

    Raises
    ------
    HandreadError
        If the other has moments that this one has not.
    """
    held = moments
    if len(moments) != len(to):
        held = moments.where(np.isin(moments.game, np.unique(to.game)))
    names = ("game", "seat", "event")
    if len(held) != len(to) or any((getattr(held, n) != getattr(to, n)).any() for n in names):
        raise HandreadError(
            f"{len(moments)} moments of one reader do not hold the {len(to)} of the other; "
            "accepted: readers of the same games, or of some of them"
        )
    return held


def _keys(values: ArrayLike, name: str, length: int) -> NDArray[Any]:
    keys = np.array(values)
    if keys.shape != (length,):
        raise HandreadError(f"{name} has shape {keys.shape}; accepted: ({length},), one a moment")
    return keys
