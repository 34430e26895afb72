"""The scores of a throw: what each clue gives to each kind, by what the kind is to the plan."""

from __future__ import annotations

from collections.abc import Callable, Hashable, Iterable

import numpy as np
from numpy.typing import NDArray

from handread.clues.codes import N_CODES
from handread.clues.context import looks
from handread.clues.contract import Clue, no_mark, no_score
from handread.clues.turn_kernels import scale_by_count, scale_by_reach
from handread.reading.looking import Seen
from handread.reading.model import MOST_KEPT
from handread.reading.recent import put
from handread.table.events import Discard
from handread.tiles import N_KINDS
from handread.values import evolve, frozen, read_only

Array = NDArray[np.float64]
_NO_SCORE = frozen(np.zeros((N_CODES, N_KINDS)))
_NO_NOTES = frozen(np.ones((2, N_CODES)))


def throw_scores(seen: Seen) -> tuple[Array, Array, Array]:
    """Score tables of a throw, nats: availability (36,), and each clue's keep and change tables.

    Returns
    -------
    base
        Availability; -inf where no copy is left, shape (36,).
    keep, change
        One table per clue, shape (n_clues, 16, 36).
    """
    tables = [clue_scores(seen, i) for i in range(len(seen.model.clues))]
    shape = (len(tables), N_CODES, N_KINDS)
    keep = np.array([each[0] for each in tables]).reshape(shape)
    change = np.array([each[1] for each in tables]).reshape(shape)
    return availability(seen), keep, change


def availability(seen: Seen) -> Array:
    """Score of each kind by the copies within reach, nats; -inf where there is none, (36,)."""
    reach = seen.context.within_reach
    logs = np.log(reach, out=np.zeros_like(reach), where=reach > 0)
    return np.where(reach > 0, seen.model.weights["availability"]["power"] * logs, -np.inf)


def clue_scores(seen: Seen, number: int) -> tuple[Array, Array]:
    """Score tables of one clue of the model on turns that keep and change a plan, (16, 36) each.

    Tables of clues that look at little are kept with the model.
    """
    clue, kept = seen.model.clues[number], seen.model.kept_scores
    if clue.looks_at is None:
        return _score(seen, clue)
    key = (number, *looks(seen.context, clue.looks_at))
    found = kept.get(key)
    if found is None:
        found = _score(seen, clue)
        put(kept, key, found, MOST_KEPT)
    return found


def _score(seen: Seen, clue: Clue) -> tuple[Array, Array]:
    weights = seen.model.weights[clue.name]
    keep, change = (
        _NO_SCORE
        if score is no_score
        else frozen(score(seen.context, weights).clip(-clue.cap, clue.cap))
        for score in (clue.keep, clue.change)
    )
    return keep, change


def throw_odds(seen: Seen) -> Array:
    """Odds of a throw by kind and use code, on turns that keep and change a plan, (36, 16, 2).

    The product over the clues, and the copies within reach; 0 for a kind without any. The clues
    that look at little are multiplied once for all that they look at.
    """
    context, model = seen.context, seen.model
    little, counted, others = model.clues_by_look
    odds = kept(seen, "odds", model.looks_at, lambda: _odds_of(seen, little)).copy()
    for number in counted:
        name = model.clues[number].counts[0]  # type: ignore[index]  # these have one
        scale_by_count(odds, _odds_by_count(seen, number), getattr(context, name))
    if others:
        odds *= _odds_of(seen, others)
    scale_by_reach(odds, context.within_reach, model.weights["availability"]["power"])
    return odds


def kept(seen: Seen, what: Hashable, names: tuple[str, ...], make: Callable[[], Array]) -> Array:
    """Return what looks at nothing but some names in the context, made where it is not kept."""
    key = (what, *looks(seen.context, names))
    found = seen.model.kept.get(key)
    if found is None:
        found = frozen(make())
        put(seen.model.kept, key, found, MOST_KEPT)
    return found


def _odds_of(seen: Seen, numbers: Iterable[int]) -> Array:
    """Odds by the scores of some clues together, (36, 16, 2)."""
    sums = np.zeros((2, N_CODES, N_KINDS))
    for number in numbers:
        sums += clue_scores(seen, number)
    return np.ascontiguousarray(np.exp(sums).transpose(2, 1, 0))


def _odds_by_count(seen: Seen, number: int) -> Array:
    """Odds by a clue of counts, for each count that makes a difference, (n, 36, 16, 2)."""
    clue = seen.model.clues[number]
    name, most = clue.counts or ("", 0)

    def each(count: int) -> Array:
        counts = {name: read_only(np.full(N_KINDS, count, dtype=np.int64))}
        return _odds_of(evolve(seen, context=evolve(seen.context, **counts)), (number,))

    return kept(
        seen, number, clue.counts_beside, lambda: np.array([each(n) for n in range(most + 1)])
    )


def throw_tables(seen: Seen) -> tuple[Array, Array]:
    """Odds of a throw by use code and kind, on turns that keep and change a plan; (16, 36) each."""
    stays, goes = np.ascontiguousarray(throw_odds(seen).transpose(2, 1, 0))
    return stays, goes


def note_odds(seen: Seen, event: Discard) -> Array:
    """Chance of what was noted beside a throw by use code, plans kept and changed, (2, 16)."""
    if event.drawn is None and event.position is None and event.pause is None:
        return _NO_NOTES
    notes = seen.model.notes
    what = ("notes", *[getattr(event, name) for name in notes.reads])
    odds = kept(seen, what, notes.looks_at, lambda: _note_odds(seen, event))
    asked = [marks for i in notes.asked if (marks := _marks(seen, event, i)) is not None]
    return odds * np.exp(np.sum(asked, axis=0)) if asked else odds


def _note_odds(seen: Seen, event: Discard) -> Array:
    """Chance of the notes by the clues whose answers can be kept, (2, 16)."""
    sums = np.zeros((2, N_CODES))
    for number in seen.model.notes.kept:
        marks = _marks(seen, event, number)
        if marks is not None:
            sums += marks
    return np.asarray(np.exp(sums))


def _marks(seen: Seen, event: Discard, number: int) -> tuple[Array, Array] | None:
    """Log probability of one clue's note, plans kept and changed; None where it has none."""
    clue = seen.model.clues[number]
    if clue.mark is no_mark:
        return None
    marks = clue.mark(seen.context, event, seen.model.weights[clue.name])
    if marks is None:
        return None
    keep, change = (mark.clip(-clue.cap, clue.cap) for mark in marks)
    return keep, change


def throw_marks(seen: Seen, event: Discard) -> tuple[Array, Array]:
    """Log probability of each clue's note beside a throw, by use code of the tile thrown.

    Returns
    -------
    keep, change
        Nats, shape (n_clues, 16); 0 where nothing was noted.
    """
    n = len(seen.model.clues)
    keep, change = np.zeros((n, N_CODES)), np.zeros((n, N_CODES))
    for i in range(n):
        marks = _marks(seen, event, i)
        if marks is not None:
            keep[i], change[i] = marks
    return keep, change
