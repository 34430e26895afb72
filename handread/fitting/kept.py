"""What the clues were asked in a walk, kept for as long as what they look at is the same.

A clue says in its contract at what it looks. One that looks at the phase alone is asked three times
in all, one that looks at the throws of the seat, kind by kind, once for each count of a kind; and
one that does not say it is asked at each throw.
"""

from __future__ import annotations

from collections.abc import Callable, Hashable
from functools import partial
from operator import attrgetter
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray

from handread.clues.codes import N_CODES, N_UNMODELLED, Codes
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
#: Use codes that rows of targets have: the first so many. Every code, as bits.
_OF_TARGETS: Final = N_CODES - N_UNMODELLED
_EVERY_CODE: Final = (1 << N_CODES) - 1
_NOTHING: Final[Key] = ("nothing yet",)
_NO_ENTRIES: Final[Entries] = (frozen(np.zeros(0, dtype=np.intp)), frozen(np.zeros(0)))
_NO_SCORE: Final = frozen(np.zeros((N_CODES, N_KINDS)))


class KeptTables:
    """Tables of the products of a basis on one side; a clue is asked where its view has changed.

    A clue without a view is looked up where the row has a code that the clue scores. Where it looks
    at counts, kind by kind, it is asked once for each count, and else it is asked at each throw: it
    must be a sum of products wherever it is asked, and of its answers one in ``CHECK`` is checked.

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
        self._scored = dict(zip(others, basis.scored(side, others), strict=True))
        self._counted = {
            n: CountedClue(basis, side, n, self._scored[n]) for n in others if clues[n].counts
        }
        self._n_asked = dict.fromkeys(others, 0)
        self._kept: dict[tuple[int, Hashable], tuple[Array | None, Entries]] = {}
        self._bases: dict[int, Array] = {}
        self._there: dict[int, Entries] = dict.fromkeys(speaking, _NO_ENTRIES)
        self._last: Context | None = None
        self._fresh: set[int] = set()
        self._constant = np.zeros((N_CODES, N_KINDS))
        self._by_kind = np.zeros((N_KINDS, N_CODES, len(basis.products)))
        self._flat, self._tables = self._by_kind.reshape(-1), self._by_kind.transpose(2, 1, 0)

    def tables(self, context: Context, codes: Codes | None = None) -> tuple[Array, Array]:
        """Constant and tables in one context, as of ``Basis.tables``; good until the next call.

        `codes` are those of one row; at others the tables may be those of before. None for all. In
        memory the tables lie kind by kind, the products of one kind and code beside each other.
        """
        if context is not self._last:
            self._look(context)
            self._fresh.clear()
            self._last = context
        at_hand = _EVERY_CODE if codes is None else _bits(int(codes[0]))
        for number, scored in self._scored.items():
            if scored & at_hand and number not in self._fresh:
                if number in self._counted:
                    self._fill(self._counted[number], context)
                else:
                    self._ask(number, context)
                self._fresh.add(number)
        return self._constant, self._tables

    def _fill(self, clue: CountedClue, context: Context) -> None:
        constant = clue.fill(context, self._by_kind)
        if constant is not None or clue.number in self._bases:
            self._put_constant(clue.number, constant)

    def _ask(self, number: int, context: Context) -> None:
        check = self._n_asked[number] % CHECK == 0
        self._n_asked[number] += 1
        base, found = self._basis.ask(number, self._side, context, check=check)
        if check:
            _check_codes(self._basis.clues[number], self._scored[number], base, found)
        self._put(number, _some(base), self._entries(number, found))

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
    scored
        Use codes that it scores, as bits.
    """

    def __init__(self, basis: Basis, side: str, number: int, scored: int) -> None:
        self._basis, self._side, self.number = basis, side, number
        clue = basis.clues[number]
        self._name, self._most = clue.counts or ("", 0)
        self._beside, self._first = clue.counts_beside, basis.spans[number].start
        self._look = _looker(self._beside)
        self._kept: dict[Hashable, tuple[Array | None, Array]] = {}
        self._scored = scored
        self._codes = np.array([code for code in range(N_CODES) if scored >> code & 1], np.int64)

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
        """Constants and tables where all kinds have one count, those of the codes that it scores.

        Shapes (n, 16, 36) and (n, 36, n_codes, n_own).
        """
        asked = [
            self._basis.ask(self.number, self._side, _with_counts(context, self._name, count))
            for count in range(self._most + 1)
        ]
        for base, tables in asked:
            _check_codes(self._basis.clues[self.number], self._scored, base, tables)
        found = np.array([tables.transpose(2, 1, 0)[:, self._codes] for _, tables in asked])
        return _some(np.array([base for base, _ in asked])), found

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


def _check_codes(clue: Clue, scored: int, base: Array, found: Array) -> None:
    """Refuse scores of other codes than those that a clue was found to score."""
    if code_bits(base, found) & ~scored:
        raise HandreadError(
            f"clue {clue.name!r} scores a use code only in rare contexts; it cannot be fitted "
            "without a view: let it say at what it looks"
        )


def _bits(code: int) -> int:
    """Use codes of a row, as bits: any of those of targets, or the one of an unmodelled row.

    >>> [f"{_bits(code):b}" for code in (3, 14)]
    ['1111111111111', '100000000000000']
    """
    return 1 << code if code >= _OF_TARGETS else (1 << _OF_TARGETS) - 1


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
        self._note_looks: dict[str, Callable[[Context], Hashable]] = {}
        self._notes: dict[Key, Notes | None] = {}

    def tables(
        self, context: Context, side: str, codes: Codes | None = None
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
        if clue.name not in self._note_looks:
            self._note_looks[clue.name] = _looker(clue.mark_looks_at)
        key = (clue.name, self._note_looks[clue.name](context))
        if key not in self._notes:
            self._notes[key] = note_odds(clue, context)
        return self._notes[key]
