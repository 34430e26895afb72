"""What the clues were asked in a walk, kept for as long as what they look at is the same.

A clue says in its contract at what it looks. One that looks at the phase alone is asked three times
in all, and one that looks at the throws of the seat is asked at each throw.
"""

from __future__ import annotations

from collections.abc import Callable, Hashable
from functools import partial
from operator import attrgetter
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray

from handread.clues.codes import N_CODES, Codes
from handread.clues.context import Context, looks
from handread.clues.contract import Clue, no_mark, no_score
from handread.clues.hazard import LOOKS_AT
from handread.errors import HandreadError
from handread.fitting import kernels
from handread.fitting.affine import Basis, code_bits, made_up_context
from handread.fitting.asking import Leaving, Notes, leaving_odds, note_odds
from handread.reading.recent import put
from handread.tiles import N_KINDS
from handread.values import evolve, frozen, read_only

Array = NDArray[np.float64]
Key = tuple[Hashable, ...]
Entries = tuple[NDArray[np.intp], Array]

#: More kinds than can be gone of any target.
MOST_BLOCKED: Final = 64
#: Of the answers of a clue that is asked at each throw, one in so many is checked.
CHECK: Final = 16
#: Tables of a clue of counts held at most, by what it looks at beside them.
MOST_KEPT: Final = 256
#: Every use code.
EVERY_CODE: Final = frozen(np.arange(N_CODES, dtype=np.uint8))
_NOTHING: Final[Key] = ("nothing yet",)
_NO_ENTRIES: Final[Entries] = (np.zeros(0, dtype=np.intp), np.zeros(0))
_NO_SCORE: Final = frozen(np.zeros((N_CODES, N_KINDS)))


class KeptTables:
    """Tables of the products of a basis on one side; a clue is asked where its view has changed.

    A clue that looks at counts, kind by kind, is asked once for each count. A clue without a view
    is asked where one of the codes at hand is one that it scores. It must be a sum of products
    wherever it is asked; of the answers of each clue one in ``CHECK`` is checked.

    Parameters
    ----------
    basis
        Products of weights in the scores of clues.
    side
        ``"keep"`` or ``"change"``.
    """

    def __init__(self, basis: Basis, side: str) -> None:
        self._basis, self._side = basis, side
        clues = basis.clues
        speaking = [n for n, clue in enumerate(clues) if getattr(clue, side) is not no_score]
        steady = [n for n in speaking if clues[n].looks_at is not None]
        others = [n for n in speaking if clues[n].looks_at is None]
        views = [clues[number].looks_at or () for number in steady]
        self._steady = {
            view: (
                _getter(view),
                _looker(view),
                [n for n, own in zip(steady, views, strict=True) if own == view],
            )
            for view in views
        }
        self._told: dict[tuple[str, ...], object] = dict.fromkeys(self._steady, _NOTHING)
        self._stands: dict[tuple[str, ...], Hashable] = dict.fromkeys(self._steady, _NOTHING)
        self._counted = [CountedClue(basis, side, n) for n in others if clues[n].counts]
        self._asked_always = [n for n in others if not clues[n].counts]
        self._scored = dict(
            zip(self._asked_always, basis.scored(side, self._asked_always), strict=True)
        )
        self._n_asked = dict.fromkeys(self._asked_always, 0)
        self._kept: dict[tuple[int, Hashable], tuple[Array | None, Entries]] = {}
        self._bases: dict[int, Array] = {}
        self._there: dict[int, Entries] = dict.fromkeys(speaking, _NO_ENTRIES)
        self._last: Context | None = None
        self._fresh: set[int] = set()
        self._constant = np.zeros((N_CODES, N_KINDS))
        self._by_kind = np.zeros((N_KINDS, N_CODES, len(basis.products)))
        self._flat, self._tables = self._by_kind.reshape(-1), self._by_kind.transpose(2, 1, 0)

    def tables(self, context: Context, codes: Codes = EVERY_CODE) -> tuple[Array, Array]:
        """Constant and tables in one context, as of ``Basis.tables``; good until the next call.

        `codes` are those at hand; elsewhere the tables may be those of before. In memory the tables
        lie kind by kind, the products of one kind and code beside each other.
        """
        if context is not self._last:
            self._look(context)
            self._fresh.clear()
            self._last = context
        if self._asked_always:
            at_hand = sum(1 << code for code in set(codes.tolist()))
            for number in self._asked_always:
                if number not in self._fresh and self._scored[number] & at_hand:
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
        self._put(number, _some(base), self._entries(number, found))
        self._fresh.add(number)

    def _look(self, context: Context) -> None:
        for view, (get, look, numbers) in self._steady.items():
            told = get(context)
            if told is self._told[view]:  # an array, or a number, that is there once
                continue
            self._told[view] = told
            key = look(context)
            if key == self._stands[view]:
                continue
            for number in numbers:
                self._put(number, *self._of_key(number, key, context))
            self._stands[view] = key
        for clue in self._counted:
            constant = clue.fill(context, self._by_kind)
            if constant is not None or clue.number in self._bases:
                self._put_constant(clue.number, constant)

    def _of_key(
        self, number: int, key: Hashable, context: Context
    ) -> tuple[Array | None, Entries]:  # fmt: skip
        held = self._kept.get((number, key))
        if held is None:
            base, found = self._basis.ask(number, self._side, context)
            held = self._kept[number, key] = _some(base), self._entries(number, found)
        return held

    def _entries(self, number: int, found: Array) -> Entries:
        """What is not 0 in the tables of one clue: places among all, kind by kind, and values."""
        span, tables = self._basis.spans[number], found.transpose(2, 1, 0)
        kind, code, product = np.nonzero(tables)
        where = np.ravel_multi_index((kind, code, span.start + product), self._by_kind.shape)
        return where, tables[kind, code, product]

    def _put(self, number: int, base: Array | None, entries: Entries) -> None:
        """Take in the constant and tables of one clue; most of what clues say is 0."""
        self._flat[self._there[number][0]] = 0.0
        self._flat[entries[0]] = entries[1]
        self._there[number] = entries
        if base is not None or number in self._bases:
            self._put_constant(number, base)

    def _put_constant(self, number: int, base: Array | None) -> None:
        self._bases[number] = _NO_SCORE if base is None else base
        self._constant = np.zeros((N_CODES, N_KINDS))
        for other in sorted(self._bases):
            self._constant += self._bases[other]


class CountedClue:
    """A clue whose scores of each kind look at that kind's own count, see ``Clue.counts``.

    Parameters
    ----------
    basis
        Products of weights in the scores of clues.
    side
        ``"keep"`` or ``"change"``.
    number
        Place of the clue in the basis.
    """

    def __init__(self, basis: Basis, side: str, number: int) -> None:
        self._basis, self._side, self.number = basis, side, number
        clue = basis.clues[number]
        self._name, self._most = clue.counts or ("", 0)
        self._beside, self._first = clue.counts_beside, basis.spans[number].start
        self._look = _looker(self._beside)
        self._kept: dict[Hashable, tuple[Array | None, Array]] = {}
        self._codes = np.zeros(0, dtype=np.int64)

    def fill(self, context: Context, by_kind: Array) -> Array | None:
        """Put its tables in one context among others, (36, 16, n_products), in place.

        Returns the score at weights of 0, shape (16, 36); None where it is 0.
        """
        key, counts = self._look(context), getattr(context, self._name)
        held, fresh = self._kept.get(key), False
        if held is None:
            held, fresh = self._by_count(context), True
            put(self._kept, key, held, MOST_KEPT)
        kernels.fill_by_count(held[1], self._codes, counts, self._first, by_kind)
        constant = None
        if held[0] is not None:
            constant = held[0][np.minimum(counts, self._most), :, np.arange(N_KINDS)].T
        if fresh:
            self._check(context, constant, by_kind)
        return constant

    def _by_count(self, context: Context) -> tuple[Array | None, Array]:
        """Constants and tables where all kinds have one count.

        Shapes (n, 16, 36) and (n, 36, n_codes, n_own): of the codes that the clue is known to
        score. Where a new one turns up, what is kept without it goes.
        """
        asked = [
            self._basis.ask(self.number, self._side, _with_counts(context, self._name, count))
            for count in range(self._most + 1)
        ]
        constants = np.array([base for base, _ in asked])
        found = np.array([tables.transpose(2, 1, 0) for _, tables in asked])
        codes = np.union1d(self._codes, np.flatnonzero(found.any(axis=(0, 1, 3))))
        if len(codes) > len(self._codes):
            self._codes = codes
            self._kept.clear()
        some = np.ascontiguousarray(found[:, :, codes])
        return constants if constants.any() else None, some

    def _check(self, context: Context, constant: Array | None, by_kind: Array) -> None:
        """Refuse tables that are not what the clue itself says in this context."""
        base, tables = self._basis.ask(self.number, self._side, context, check=False)
        own = by_kind[:, :, self._basis.spans[self.number]].transpose(2, 1, 0)
        same = np.array_equal(base, _NO_SCORE if constant is None else constant)
        if not (same and np.array_equal(tables, own)):
            raise HandreadError(
                f"clue {self._basis.clues[self.number].name!r} looks at more than each kind's "
                f"count of {self._name!r} and {self._beside}; it cannot be fitted"
            )


def _some(score: Array) -> Array | None:
    """A score, or None where it is 0 everywhere."""
    return score if np.count_nonzero(score) else None


def _with_counts(context: Context, name: str, count: int) -> Context:
    """Return a context in which all kinds have one count."""
    return evolve(context, **{name: read_only(np.full(N_KINDS, count, dtype=np.int64))})


def _getter(view: tuple[str, ...]) -> Callable[[Context], Any]:
    """What a context says under the names of a view, as it stands there."""
    return attrgetter(*view) if view else _nothing


def _nothing(context: Context) -> tuple[()]:
    return ()


def _looker(view: tuple[str, ...]) -> Callable[[Context], Hashable]:
    """What ``looks`` says of a view: as it stands there, where none of it is an array."""
    context = made_up_context(rng=np.random.default_rng(0))
    if any(isinstance(getattr(context, name), np.ndarray) for name in view):
        return partial(looks, names=view)
    return _getter(view)


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
        self._look = _looker(LOOKS_AT)
        self._leaving: dict[Hashable, Leaving] = {}
        self._notes: dict[Key, Notes | None] = {}

    def tables(
        self, context: Context, side: str, codes: Codes = EVERY_CODE
    ) -> tuple[Array, Array]:  # fmt: skip
        """Constant and tables of one side, as of ``KeptTables.tables``."""
        return self._sides[side].tables(context, codes)

    def leaving(self, context: Context) -> Leaving:
        """Log odds that a target is left, by the number of its kinds that are gone."""
        key = self._look(context)
        found = self._leaving.get(key)
        if found is None:
            found = leaving_odds(context, np.arange(MOST_BLOCKED), self._hazard)
            self._leaving[key] = found
        return found

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
