"""Forecasters that do not compute: the same for every row, and what a person wrote down."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

import numpy as np

from handread.card.compiled import CompiledCard
from handread.errors import HandreadError, closest
from handread.study.forecasters.contract import Array, row_names
from handread.table.events import SEATS, AnyEvent, Header
from handread.table.state import TableState

#: Share of every written guess that is spread evenly, since people say 0 and do not mean it.
SPREAD = 0.02


class _Fixed:
    """A watcher whose beliefs are set from outside."""

    def __init__(self, beliefs: Array) -> None:
        self.beliefs = beliefs

    def observe(self, event: AnyEvent, state: TableState) -> None:
        """Hear one public event."""

    def belief(self, seat: int) -> Array:
        """Probability of each row for a seat now."""
        return np.asarray(self.beliefs[seat])


@dataclass(frozen=True)
class Uniform:
    """The same probability for every row, whatever happens.

    Attributes
    ----------
    name
        How results call it.

    Examples
    --------
    >>> import handread as hr
    >>> card = hr.load_card("small")
    >>> Uniform().open(card, hr.Header()).belief(0).round(3)[:2].tolist()
    [0.143, 0.143]
    """

    name: str = "uniform"

    def open(self, card: CompiledCard, header: Header) -> _Fixed:
        """Sit down at a table before its first event."""
        n = len(row_names(card))
        return _Fixed(np.full((4, n), 1.0 / n))


@dataclass(frozen=True)
class WrittenGuesses:
    """What a person wrote down at one table, each guess holding until the next for that seat.

    Attributes
    ----------
    name
        How results call the person.
    guesses
        For (number of the event after which it was written, seat) the weight of each row;
        rows not named get none. Weights need not sum to 1: "3 to 1" is fine.
    spread
        Share spread evenly over all rows, so that no guess is a flat no.

    Examples
    --------
    >>> import handread as hr
    >>> card = hr.load_card("small")
    >>> ann = WrittenGuesses("ann", {(1, 2): {"Twins": 3, "Winds": 1}})
    >>> watcher = ann.open(card, hr.Header())
    >>> watcher.observe(hr.Discard(seat=0, kind=4), None)
    >>> round(float(watcher.belief(2)[card.families.index("Twins")]), 3)
    0.738
    """

    name: str
    guesses: Mapping[tuple[int, int], Mapping[str, float]] = field(default_factory=dict)
    spread: float = SPREAD

    def open(self, card: CompiledCard, header: Header) -> _Notes:
        """Sit down at a table before its first event."""
        names = row_names(card)
        lines: dict[int, list[tuple[int, Array]]] = {}
        for (number, seat), weights in self.guesses.items():
            if not 0 <= seat < len(SEATS):
                raise HandreadError(f"guess of {self.name!r} for seat {seat!r}; accepted: 0 to 3")
            lines.setdefault(number, []).append((seat, self._row(names, weights)))
        return _Notes(len(names), lines)

    def _row(self, names: tuple[str, ...], weights: Mapping[str, float]) -> Array:
        row = np.zeros(len(names))
        for name, weight in weights.items():
            if name not in names:
                raise HandreadError(f"{self.name!r} guesses {name!r}; {closest(name, names)}")
            row[names.index(name)] = weight
        if not (row >= 0).all() or not row.sum() > 0:
            raise HandreadError(f"{self.name!r} guesses {dict(weights)!r}; accepted: some above 0")
        return np.asarray((1.0 - self.spread) * row / row.sum() + self.spread / len(names))


class _Notes(_Fixed):
    """A person's notes at one table, read as the events pass."""

    def __init__(self, n_rows: int, lines: dict[int, list[tuple[int, Array]]]) -> None:
        super().__init__(np.full((4, n_rows), 1.0 / n_rows))
        self.lines, self.heard = lines, 0

    def observe(self, event: AnyEvent, state: TableState) -> None:
        """Hear one public event."""
        self.heard += 1
        for seat, row in self.lines.get(self.heard, ()):
            self.beliefs[seat] = row
