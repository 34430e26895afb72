"""What the clues were asked in a walk, kept for as long as what they look at is the same.

A clue says in its contract at what it looks. One that looks at the phase alone is asked three times
in all, and one that looks at the throws of the seat is asked at each throw.
"""

from __future__ import annotations

from collections.abc import Hashable
from typing import Final

import numpy as np
from numpy.typing import NDArray

from handread.clues.codes import N_CODES
from handread.clues.context import Context, looks
from handread.clues.contract import Clue, no_mark, no_score
from handread.clues.hazard import LOOKS_AT
from handread.fitting.affine import Basis
from handread.fitting.asking import Leaving, Notes, leaving_odds, note_odds
from handread.tiles import N_KINDS

Array = NDArray[np.float64]
Key = tuple[Hashable, ...]

#: More kinds than can be gone of any target.
MOST_BLOCKED: Final = 64
_NOTHING: Final[Key] = ("nothing yet",)


class KeptTables:
    """Tables of the products of a basis on one side; a clue is asked where its view has changed.

    Parameters
    ----------
    basis
        Products of weights in the scores of clues.
    side
        ``"keep"`` or ``"change"``.
    """

    def __init__(self, basis: Basis, side: str) -> None:
        self._basis, self._side = basis, side
        speaking = [
            number for number, clue in enumerate(basis.clues) if getattr(clue, side) is not no_score
        ]
        views = [basis.clues[number].looks_at for number in speaking]
        self._steady = {
            view: [number for number, own in zip(speaking, views, strict=True) if own == view]
            for view in views
            if view is not None
        }
        self._asked_always = [n for n, view in zip(speaking, views, strict=True) if view is None]
        self._stands: dict[tuple[str, ...], Key] = dict.fromkeys(self._steady, _NOTHING)
        self._kept: dict[tuple[int, Key], tuple[Array, Array]] = {}
        self._bases: dict[int, Array] = {}
        self._last: Context | None = None
        self._constant = np.zeros((N_CODES, N_KINDS))
        self._tables = np.zeros((len(basis.products), N_CODES, N_KINDS))

    def tables(self, context: Context) -> tuple[Array, Array]:
        """Constant and tables in one context, as of ``Basis.tables``; good until the next call."""
        if context is not self._last:
            self._look(context)
            self._last = context
        return self._constant, self._tables

    def _look(self, context: Context) -> None:
        for number in self._asked_always:
            self._put(number, *self._basis.ask(number, self._side, context))
        for view, numbers in self._steady.items():
            key = looks(context, view)
            if key == self._stands[view]:
                continue
            for number in numbers:
                self._put(number, *self._of_key(number, key, context))
            self._stands[view] = key

    def _of_key(self, number: int, key: Key, context: Context) -> tuple[Array, Array]:
        if (number, key) not in self._kept:
            self._kept[number, key] = self._basis.ask(number, self._side, context)
        return self._kept[number, key]

    def _put(self, number: int, base: Array, found: Array) -> None:
        """Take in the constant and tables of one clue."""
        self._tables[self._basis.spans[number]] = found
        if number in self._bases or base.any():
            self._bases[number] = base
            self._constant = np.zeros((N_CODES, N_KINDS))
            for other in sorted(self._bases):
                self._constant += self._bases[other]


class Kept:
    """All that a walk asks of the clues, kept.

    Parameters
    ----------
    basis
        Products of weights in the scores of throws.
    hazard
        Names of weights of the block ``hazard``.
    """

    def __init__(self, basis: Basis, hazard: tuple[str, ...]) -> None:
        self._sides = {side: KeptTables(basis, side) for side in ("keep", "change")}
        self._hazard = hazard
        self._leaving: dict[Key, Leaving] = {}
        self._notes: dict[Key, Notes | None] = {}

    def tables(self, context: Context, side: str) -> tuple[Array, Array]:
        """Constant and tables in one context, as of ``Basis.tables``; good until the next call."""
        return self._sides[side].tables(context)

    def leaving(self, context: Context) -> Leaving:
        """Log odds that a target is left, by the number of its kinds that are gone."""
        key = looks(context, LOOKS_AT)
        if key not in self._leaving:
            self._leaving[key] = leaving_odds(context, np.arange(MOST_BLOCKED), self._hazard)
        return self._leaving[key]

    def notes(self, clue: Clue, context: Context) -> Notes | None:
        """Log odds that a throw is noted as drawn, by a clue; None for one that says nothing."""
        if clue.mark is no_mark:
            return None
        if clue.mark_looks_at is None:
            return note_odds(clue, context)
        key = (clue.name, *looks(context, clue.mark_looks_at))
        if key not in self._notes:
            self._notes[key] = note_odds(clue, context)
        return self._notes[key]
