"""What the clues were asked in a walk, kept for as long as what they look at is the same.

A clue says in its contract at what it looks. One that looks at the phase alone is asked three times
in all, and one that looks at the throws of the seat is asked at each throw.
"""

from __future__ import annotations

from collections.abc import Callable, Hashable
from operator import attrgetter
from typing import Final

import numpy as np
from numpy.typing import NDArray

from handread.clues.codes import N_CODES
from handread.clues.context import Context, looks
from handread.clues.contract import Clue, no_mark, no_score
from handread.clues.hazard import LOOKS_AT
from handread.errors import HandreadError
from handread.fitting.affine import EVERY_CODE, Basis, code_bits
from handread.fitting.asking import Leaving, Notes, leaving_odds, note_odds
from handread.tiles import N_KINDS

Array = NDArray[np.float64]
Key = tuple[Hashable, ...]

#: More kinds than can be gone of any target.
MOST_BLOCKED: Final = 64
#: Of the answers of a clue that is asked at each throw, one in so many is checked.
CHECK: Final = 16
_NOTHING: Final[Key] = ("nothing yet",)


class KeptTables:
    """Tables of the products of a basis on one side; a clue is asked where its view has changed.

    A clue without a view is asked where one of the codes at hand is one that it scores. It must be
    a sum of products wherever it is asked; of the answers of each clue one in ``CHECK`` is checked.

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
            view: (
                _getter(view),
                [n for n, own in zip(speaking, views, strict=True) if own == view],
            )
            for view in views
            if view is not None
        }
        self._told: dict[tuple[str, ...], object] = dict.fromkeys(self._steady, _NOTHING)
        self._asked_always = [n for n, view in zip(speaking, views, strict=True) if view is None]
        self._scored = dict(
            zip(self._asked_always, basis.scored(side, self._asked_always), strict=True)
        )
        self._n_asked = dict.fromkeys(self._asked_always, 0)
        self._stands: dict[tuple[str, ...], Key] = dict.fromkeys(self._steady, _NOTHING)
        self._kept: dict[tuple[int, Key], tuple[Array, Array]] = {}
        self._bases: dict[int, Array] = {}
        self._last: Context | None = None
        self._fresh: set[int] = set()
        self._constant = np.zeros((N_CODES, N_KINDS))
        self._tables = np.zeros((len(basis.products), N_CODES, N_KINDS))

    def tables(self, context: Context, codes: int = EVERY_CODE) -> tuple[Array, Array]:
        """Constant and tables in one context, as of ``Basis.tables``; good until the next call.

        `codes` has a bit for each code at hand; elsewhere the tables may be those of before.
        """
        if context is not self._last:
            self._look(context)
            self._fresh.clear()
            self._last = context
        for number in self._asked_always:
            if number not in self._fresh and self._scored[number] & codes:
                self._ask(number, context)
        return self._constant, self._tables

    def _ask(self, number: int, context: Context) -> None:
        check = self._n_asked[number] % CHECK == 0
        self._n_asked[number] += 1
        base, found = self._basis.ask(number, self._side, context, check=check)
        if check and code_bits(base, found) & ~self._scored[number]:
            raise HandreadError(
                f"clue {self._basis.clues[number].name!r} scores a use code only in rare contexts; "
                "it cannot be fitted without a view: let it say at what it looks"
            )
        self._put(number, base, found)
        self._fresh.add(number)

    def _look(self, context: Context) -> None:
        for view, (get, numbers) in self._steady.items():
            told = get(context)
            if told is self._told[view]:  # an array, or a number, that is there once
                continue
            self._told[view] = told
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
        if number in self._bases or np.count_nonzero(base):
            self._bases[number] = base
            self._constant = np.zeros((N_CODES, N_KINDS))
            for other in sorted(self._bases):
                self._constant += self._bases[other]


def _getter(view: tuple[str, ...]) -> Callable[[Context], object]:
    """What a context says under the names of a view, as it stands there."""
    return attrgetter(*view) if view else _nothing


def _nothing(context: Context) -> tuple[()]:
    return ()


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

    def tables(
        self, context: Context, side: str, codes: int = EVERY_CODE
    ) -> tuple[Array, Array]:  # fmt: skip
        """Constant and tables of one side, as of ``KeptTables.tables``."""
        return self._sides[side].tables(context, codes)

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
