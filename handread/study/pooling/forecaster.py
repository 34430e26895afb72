"""The log pool of two forecasters as a forecaster."""

from __future__ import annotations

import json
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np

from handread.card.compiled import CompiledCard
from handread.errors import HandreadError
from handread.study.forecasters.contract import Array, Forecaster, Oracle, Watcher
from handread.study.forecasters.stored import StoredReader
from handread.table.events import AnyEvent, Header
from handread.table.state import TableState

#: Version of the form of a stored pool.
FORMAT: Final = 1
#: A probability below this counts as this, so that one reader's no is no veto.
LEAST: Final = 1e-6


def log_pool(first: Array, second: Array, weight: float) -> Array:
    """Pool two beliefs: proportional to first^(1 - weight) second^weight.

    Parameters
    ----------
    first, second
        Probabilities of the rows, shape (..., n_rows).
    weight
        Of the second, 0 to 1.

    Returns
    -------
    numpy.ndarray
        Shape (..., n_rows).

    References
    ----------
    Genest, C. and Zidek, J. V. (1986), "Combining probability distributions", Statist. Sci. 1,
    114-135 (from memory).

    Examples
    --------
    >>> log_pool(np.array([0.5, 0.5]), np.array([0.8, 0.2]), 0.5).round(3).tolist()
    [0.667, 0.333]
    """
    logs = (1.0 - weight) * np.log(np.maximum(first, LEAST))
    logs = logs + weight * np.log(np.maximum(second, LEAST))
    prob = np.exp(logs - logs.max(axis=-1, keepdims=True))
    return np.asarray(prob / prob.sum(axis=-1, keepdims=True))


class _Both:
    """Two watchers at one table."""

    def __init__(self, first: Watcher, second: Watcher, weight: float) -> None:
        self.first, self.second, self.weight = first, second, weight

    def observe(self, event: AnyEvent, state: TableState) -> None:
        """Hear one public event."""
        self.first.observe(event, state)
        self.second.observe(event, state)

    def belief(self, seat: int) -> Array:
        """Probability of each row for a seat now."""
        return log_pool(self.first.belief(seat), self.second.belief(seat), self.weight)


class _Over(_Both):
    """Beside two watchers who hear every event by themselves."""

    def observe(self, event: AnyEvent, state: TableState) -> None:
        """Hear nothing: the members hear it."""


@dataclass(frozen=True)
class Pool:
    """Two forecasters pooled.

    Attributes
    ----------
    first, second
        The forecasters.
    weight
        Of the second, 0 to 1.
    name
        How results call it.
    """

    first: Forecaster
    second: Forecaster
    weight: float
    name: str = "pooled"

    __hash__ = None  # type: ignore[assignment]  # forecasters may hold arrays

    def __post_init__(self) -> None:
        if not 0.0 <= self.weight <= 1.0:
            raise HandreadError(f"weight={self.weight!r}; accepted: 0 to 1")

    def open(self, card: CompiledCard, header: Header) -> _Both:
        """Sit down at a table before its first event."""
        return _Both(self.first.open(card, header), self.second.open(card, header), self.weight)

    @property
    def members(self) -> tuple[Forecaster, ...]:
        """The two forecasters."""
        return self.first, self.second

    def open_over(self, watchers: Sequence[Watcher]) -> _Over:
        """Sit down beside both, who hear every event by themselves."""
        first, second = watchers
        return _Over(first, second, self.weight)


def pool_of(
    found: StoredReader,
    card: CompiledCard,
    named: Callable[[str], Forecaster | Oracle],
    hashes: Callable[[str], str],
) -> Pool:
    """Pool of a stored reader; the readers that it pools are the plan's own.

    Parameters
    ----------
    found
        Its files: ``pool.json`` with the weight and what it was fitted on.
    card
        The card to be read.
    named
        Gives the reader of a name.
    hashes
        Gives the content hash of a stored reader, empty for one that is not stored.

    Raises
    ------
    HandreadError
        If the file is of another format, for another card, or fitted with other readers.
    """
    try:
        told = json.loads(dict(found.files)["pool.json"])
        names, weight = told["readers"], float(told["weight"])
        held = (told["format"], told["card_hash"], tuple(told["reader_hashes"]))
    except (KeyError, TypeError, ValueError) as error:
        raise HandreadError(f"reader {found.name!r} is no pool: {error!r}") from None
    here = (FORMAT, card.hash, tuple(hashes(name) for name in names))
    if held != here:
        raise HandreadError(
            f"pool {found.name!r} was fitted with format, card and readers {held!r}; here are "
            f"{here!r}; fit it anew: handread study pool"
        )
    first, second = (named(name) for name in names)
    if isinstance(first, Oracle) or isinstance(second, Oracle):
        raise HandreadError(f"pool {found.name!r} has an oracle; accepted: forecasters")
    return Pool(first, second, weight, found.name)
