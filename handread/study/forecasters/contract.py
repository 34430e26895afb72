"""What a forecaster is: at a table it hears every public event and says what it believes.

The events reach it one by one, so that nothing it says can rest on a later one.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Protocol, runtime_checkable

import numpy as np
from numpy.typing import NDArray

from handread.card.compiled import CompiledCard
from handread.clues.codes import UNMODELLED
from handread.errors import HandreadError
from handread.simulate import SimulatedGame
from handread.table.events import AnyEvent, Header
from handread.table.state import TableState
from handread.values import ArrayValue

Array = NDArray[np.float64]


def row_names(card: CompiledCard) -> tuple[str, ...]:
    """Rows of every belief that is scored: families, then undecided, defending, other.

    Examples
    --------
    >>> import handread as hr
    >>> row_names(hr.house_card())[-3:]
    ('undecided', 'defending', 'other')
    """
    return (*card.families, *UNMODELLED)


@runtime_checkable
class Watcher(Protocol):
    """A forecaster at one table."""

    def observe(self, event: AnyEvent, state: TableState) -> None:
        """Hear one public event; `state` is the table after it."""
        ...

    def belief(self, seat: int) -> Array:
        """Probability of each row for a seat now, in the order of ``row_names``."""
        ...


@runtime_checkable
class Forecaster(Protocol):
    """Anything that states beliefs at a table: a model, a rule of thumb, a person's notes.

    Attributes
    ----------
    name
        How results call it.
    """

    @property
    def name(self) -> str:
        """How results call it."""
        ...

    def open(self, card: CompiledCard, header: Header) -> Watcher:
        """Sit down at a table before its first event."""
        ...


@runtime_checkable
class Combines(Protocol):
    """A forecaster made of others: where these sit at the table already, it asks them."""

    @property
    def members(self) -> tuple[Forecaster, ...]:
        """The forecasters that it is made of."""
        ...

    def open_over(self, watchers: Sequence[Watcher]) -> Watcher:
        """Sit down beside its members, who hear every event by themselves."""
        ...


@runtime_checkable
class Oracle(Protocol):
    """One that sees what lies hidden: a ceiling for forecasters, never one of them.

    Attributes
    ----------
    name
        How results call it.
    """

    @property
    def name(self) -> str:
        """How results call it."""
        ...

    def open_sealed(self, card: CompiledCard, game: SimulatedGame) -> Watcher:
        """Sit down at a table with its truth in hand."""
        ...


@dataclass(frozen=True, eq=False)
class Window(ArrayValue):
    """What is expected of the throw that lies open.

    Attributes
    ----------
    claims
        Probability that each seat shows a group with it, shape (4,).
    wins
        Probability that each seat wins on it, shape (4,).
    """

    claims: Array
    wins: Array


@runtime_checkable
class Foretells(Protocol):
    """A watcher that also says who will take the throw that lies open."""

    def window(self) -> Window:
        """What is expected of the open throw."""
        ...


@dataclass(frozen=True, eq=False)
class Move(ArrayValue):
    """How the last event moved the belief about one seat.

    Attributes
    ----------
    seat
        Whose belief.
    what
        What was observed: throw, refuse, expose, ...
    before, after
        Belief about the same rows at the same time, without and with the event, shape (n_rows,).
    sources
        Names of the parts of the move; empty where they were not asked for.
    shares
        Path share of each part in log2 after/before, bits, shape (n_sources, n_rows).
    """

    seat: int
    what: str
    before: Array
    after: Array
    sources: tuple[str, ...]
    shares: Array


@runtime_checkable
class Explains(Protocol):
    """A watcher that reports how the last event moved its beliefs."""

    def moves(self) -> Sequence[Move]:
        """How the last event moved each belief."""
        ...


def checked_beliefs(beliefs: Sequence[Array], card: CompiledCard, name: str) -> list[Array]:
    """Beliefs that a watcher stated in a game, each as ``checked_belief`` gives it."""
    n_rows = len(row_names(card))
    if not beliefs or any(np.shape(belief) != (n_rows,) for belief in beliefs):
        return [checked_belief(belief, card, name) for belief in beliefs]
    said = np.array(beliefs, dtype=np.float64)
    totals = said.sum(axis=1)
    good = (said >= 0).all(axis=1) & (np.abs(totals - 1.0) <= 1e-6)
    if not good.all():
        checked_belief(said[int(np.argmin(good))], card, name)
    return list(said / totals[:, None])


def checked_belief(belief: Array, card: CompiledCard, name: str) -> Array:
    """Return a stated belief, refused unless it is a distribution over the rows.

    Parameters
    ----------
    belief
        What a watcher said.
    card
        The card.
    name
        Of the forecaster, for the message.

    Raises
    ------
    HandreadError
        If it has another shape, a negative entry, or does not sum to 1.

    Examples
    --------
    >>> import handread as hr
    >>> card = hr.house_card()
    >>> n = len(row_names(card))
    >>> checked_belief(np.full(n, 1.0 / n), card, "even").shape == (n,)
    True
    """
    said = np.asarray(belief, dtype=np.float64)
    rows = row_names(card)
    if said.shape != (len(rows),) or not (said >= 0).all() or abs(said.sum() - 1.0) > 1e-6:
        raise HandreadError(
            f"{name!r} says {said!r}; accepted: {len(rows)} probabilities that sum to 1, for "
            f"{', '.join(rows)}"
        )
    return np.asarray(said / said.sum())
