"""Contracts that parts written elsewhere can be held to: clues, players.

Each raises ``ContractError`` with what is wrong, or returns None.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import fields, replace
from itertools import permutations
from typing import TYPE_CHECKING, Any, Final

import numpy as np
from numpy.typing import NDArray

from handread.clues.codes import N_CODES
from handread.clues.context import Context
from handread.clues.contract import Clue
from handread.errors import HandreadError
from handread.table.events import Discard
from handread.tiles import COPIES, FIRST_DRAGON, JOKER, N_KINDS
from handread.values import evolve

if TYPE_CHECKING:
    from handread.simulate import check_player

__all__ = ["ContractError", "check_clue", "check_player", "random_context"]

_NOTES: tuple[dict[str, Any], ...] = (
    {"drawn": True}, {"drawn": False}, {"position": "middle"}, {"pause": 30.0},
)  # fmt: skip
#: What follows from something else that a moment holds.
_HANGS_ON = {"phase": "turn", "short_wall": "wall", "few_left": "wall"}
_BY_KIND = ("within_reach", "unseen", "seen", "own_thrown", "demand")
#: Asked in place of a weight that is 0 by default, at which what it multiplies cannot be seen.
_FOR_ZERO: Final = 0.3


class ContractError(HandreadError):
    """A part does not keep the contract of its kind."""


def __getattr__(name: str) -> Any:
    if name == "check_player":
        from handread.simulate import check_player

        return check_player
    raise AttributeError(f"module {__name__!r} has no attribute {name!r}")


def random_context(rng: np.random.Generator, **changes: object) -> Context:
    """One seat at a random moment of a table that could exist.

    Parameters
    ----------
    rng
        Source of randomness.
    changes
        Fields to set instead.

    Examples
    --------
    >>> random_context(np.random.default_rng(1), turn=7).phase
    1
    """
    seen = np.array([rng.integers(0, n + 1) for n in COPIES], dtype=np.int64)
    seen = np.where(rng.random(N_KINDS) < 0.6, 0, seen)
    known = int(rng.integers(0, 3))
    unseen = COPIES.astype(np.int64) - seen
    unseen[JOKER] = max(unseen[JOKER] - known, 0)
    pool = int(unseen.sum())
    concealed = int(rng.integers(max(known, 1), 14))
    own = np.where(rng.random(N_KINDS) < 0.2, np.minimum(seen, 2), 0)
    reach = unseen * (concealed - known) / pool
    reach[JOKER] += known
    last = None if rng.random() < 0.3 else int(rng.integers(N_KINDS))
    given: dict[str, Any] = {
        "seat": int(rng.integers(4)), "turn": int(rng.integers(0, 26)), "within_reach": reach,
        "unseen": unseen, "seen": seen, "own_thrown": own, "concealed": concealed, "pool": pool,
        "n_exposed": int(rng.integers(0, 5)), "threat": int(rng.integers(0, 5)),
        "wall": int(rng.integers(0, 100)), "known_jokers": known,
        "demand": rng.normal(size=N_KINDS), "last_unclaimed": last,
    }  # fmt: skip
    return Context(**(given | changes))


def check_clue(clue: Clue, *, rng: np.random.Generator, n_contexts: int = 20) -> None:
    """Hold a throw clue to its contract at random moments.

    Its scores are finite tables of use codes and kinds, the same each time, within its cap, not
    affected by the seat, and relabelled when the suits are relabelled; it leaves its context as it
    was; its marks are log probabilities; with all weights zero its scores say nothing; scores and
    marks look at nothing but what it names, where it names that, and the scores of each kind at
    nothing but its own count, where it names counts. All this holds for its default
    weights, and again with another number in place of each default that is 0.

    Parameters
    ----------
    clue
        The clue.
    rng
        Source of randomness.
    n_contexts
        Moments to try.

    Raises
    ------
    ContractError
        With what is wrong.

    Examples
    --------
    >>> from handread.clues import registry
    >>> check_clue(registry()[0], rng=np.random.default_rng(1))
    """
    if clue.version < 1 or not clue.about or not clue.source:
        raise ContractError(f"clue {clue.name!r}: a version from 1, a line about it and a source")
    for _ in range(n_contexts):
        context = random_context(rng)
        other = random_context(rng)
        held = [np.array(getattr(context, field.name), copy=True) for field in fields(context)]
        for weights in _settings(clue):
            for turn in ("keep", "change"):
                _check_scores(clue, turn, context, weights)
            _check_marks(clue, context, weights)
            _check_looks(clue, context, other, weights)
            _check_counts(clue, context, other, weights)
        for field, old in zip(fields(context), held, strict=True):
            if not np.array_equal(np.array(getattr(context, field.name)), old):
                raise ContractError(f"clue {clue.name!r} changed {field.name!r} of its context")


def _settings(clue: Clue) -> list[Mapping[str, float]]:
    """Weights at which a clue is asked: the defaults, and others where some default is 0."""
    if all(clue.defaults.values()):
        return [clue.defaults]
    return [clue.defaults, {name: value or _FOR_ZERO for name, value in clue.defaults.items()}]


def _check_scores(clue: Clue, turn: str, context: Context, weights: Mapping[str, float]) -> None:
    score = getattr(clue, turn)
    table = score(context, weights)
    name = f"clue {clue.name!r}, {turn}"
    if table.shape != (N_CODES, N_KINDS) or not np.isfinite(table).all():
        raise ContractError(f"{name}: shape {table.shape}; finite, of shape (16, 36) is accepted")
    if np.abs(table).max() > clue.cap:
        raise ContractError(f"{name}: size {np.abs(table).max():.2f} is over its cap {clue.cap}")
    if not np.array_equal(table, score(context, weights)):
        raise ContractError(f"{name}: not the same the second time")
    turned = replace(context, seat=(context.seat + 1) % 4)
    if not np.array_equal(table, score(turned, weights)):
        raise ContractError(f"{name}: depends on which seat acts")
    if score(context, dict.fromkeys(clue.defaults, 0.0)).any():
        raise ContractError(f"{name}: says something with all weights zero")
    for suits in permutations(range(3)):
        kinds = _relabelled(suits)
        moved = score(_relabel(context, kinds), weights)
        if not np.allclose(moved[:, kinds], table, rtol=0, atol=1e-12):
            raise ContractError(f"{name}: not relabelled with the suits {suits}")


def _check_marks(clue: Clue, context: Context, weights: Mapping[str, float]) -> None:
    for note in (*_NOTES, {}):
        event = Discard(context.seat, 4, **note)
        for mark in clue.mark(context, event, weights) or ():
            if mark.shape != (N_CODES,) or not np.isfinite(mark).all() or mark.max() > 1e-12:
                raise ContractError(
                    f"clue {clue.name!r}, mark: log probabilities of shape (16,) are accepted"
                )


def _check_looks(
    clue: Clue, context: Context, other: Context, weights: Mapping[str, float]
) -> None:  # fmt: skip
    """Compare with another moment that is the same in all that the clue says it looks at."""
    if clue.looks_at is not None:
        alike = _alike(context, other, clue.looks_at)
        for score in (clue.keep, clue.change):
            if not np.array_equal(score(context, weights), score(alike, weights)):
                raise ContractError(f"clue {clue.name!r}: looks at more than {clue.looks_at}")
    if clue.mark_looks_at is not None:
        alike = _alike(context, other, clue.mark_looks_at)
        for note in _NOTES:
            event = Discard(context.seat, 4, **note)
            one, two = (clue.mark(each, event, weights) or () for each in (context, alike))
            if not np.array_equal(one, two):
                raise ContractError(
                    f"clue {clue.name!r}, mark: looks at more than {clue.mark_looks_at}"
                )
    if clue.mark_reads is not None:
        for note in _NOTES:
            event = Discard(context.seat, 4, **note)
            read = {name: getattr(event, name) for name in clue.mark_reads}
            for rest in _NOTES:
                apart = Discard((context.seat + 1) % 4, 7, **{**rest, **read})
                one, two = (clue.mark(context, each, weights) or () for each in (event, apart))
                if not np.array_equal(one, two):
                    raise ContractError(
                        f"clue {clue.name!r}, mark: reads more than {clue.mark_reads}"
                    )


def _check_counts(
    clue: Clue, context: Context, other: Context, weights: Mapping[str, float]
) -> None:  # fmt: skip
    """Compare each kind with a moment at which all kinds have its count."""
    name, most = clue.counts or ("", -1)
    counts = np.minimum(getattr(context, name), most) if clue.counts else np.zeros(N_KINDS)
    for count in range(most + 1):
        alike = _alike(context, other, clue.counts_beside)
        alike = evolve(alike, **{name: np.full(N_KINDS, count, dtype=np.int64)})
        there = counts == count
        for score in (clue.keep, clue.change):
            one, two = (score(each, weights)[:, there] for each in (context, alike))
            if not np.array_equal(one, two):
                raise ContractError(
                    f"clue {clue.name!r}: looks at more than each kind's count {clue.counts} "
                    f"and {clue.counts_beside}"
                )


def _alike(context: Context, other: Context, names: tuple[str, ...]) -> Context:
    """Return the other moment with some of what the first one holds."""
    held = (_HANGS_ON.get(name, name) for name in names)
    return replace(other, **{name: getattr(context, name) for name in held})


def _relabelled(suits: tuple[int, ...]) -> NDArray[np.intp]:
    """Kind that each kind becomes when suits, and dragons with them, are relabelled."""
    kinds = np.arange(N_KINDS)
    for old, new in enumerate(suits):
        kinds[old * 9 : old * 9 + 9] = np.arange(new * 9, new * 9 + 9)
        kinds[FIRST_DRAGON + old] = FIRST_DRAGON + new
    return kinds


def _relabel(context: Context, kinds: NDArray[np.intp]) -> Context:
    moved: dict[str, Any] = {}
    for name in _BY_KIND:
        array = np.empty_like(getattr(context, name))
        array[kinds] = getattr(context, name)
        moved[name] = array
    last = context.last_unclaimed
    moved["last_unclaimed"] = None if last is None else int(kinds[last])
    return replace(context, **moved)
