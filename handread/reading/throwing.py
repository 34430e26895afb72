"""The scores of a throw: what each clue gives to each kind, by what the kind is to the plan."""

from __future__ import annotations

from collections.abc import Iterable

import numpy as np
from numpy.typing import NDArray

from handread.clues.codes import N_CODES
from handread.clues.context import looks
from handread.clues.contract import Clue, no_mark, no_score
from handread.reading.looking import Seen
from handread.table.events import Discard
from handread.tiles import N_KINDS
from handread.values import frozen

Array = NDArray[np.float64]
_NO_SCORE = frozen(np.zeros((N_CODES, N_KINDS)))


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
    if key not in kept:
        kept[key] = _score(seen, clue)
    return kept[key]


def _score(seen: Seen, clue: Clue) -> tuple[Array, Array]:
    weights = seen.model.weights[clue.name]
    keep, change = (
        _NO_SCORE
        if score is no_score
        else frozen(score(seen.context, weights).clip(-clue.cap, clue.cap))
        for score in (clue.keep, clue.change)
    )
    return keep, change


def _sum_scores(seen: Seen, numbers: Iterable[int], sums: Array) -> None:
    """Add the scores of some clues to sums of shape (2, 16, 36), in place."""
    for number in numbers:
        for total, score in zip(sums, clue_scores(seen, number), strict=True):
            if score is not _NO_SCORE:
                total += score


def throw_tables(seen: Seen) -> tuple[Array, Array]:
    """Odds of a throw by use code and kind, on turns that keep and change a plan; (16, 36) each.

    The clues that look at little are summed once for all that they look at.
    """
    model = seen.model
    key = ("all", *looks(seen.context, model.looks_at))
    if key not in model.kept_scores:
        sums = np.zeros((2, N_CODES, N_KINDS))
        steady = (i for i, clue in enumerate(model.clues) if clue.looks_at is not None)
        _sum_scores(seen, steady, sums)
        model.kept_scores[key] = (frozen(sums[0]), frozen(sums[1]))
    scores = np.array(model.kept_scores[key])
    _sum_scores(seen, (i for i, c in enumerate(model.clues) if c.looks_at is None), scores)
    odds = np.exp(scores + availability(seen))
    return odds[0], odds[1]


def throw_marks(seen: Seen, event: Discard) -> tuple[Array, Array]:
    """Log probability of each clue's note beside a throw, by use code of the tile thrown.

    Returns
    -------
    keep, change
        Nats, shape (n_clues, 16); 0 where nothing was noted.
    """
    clues = seen.model.clues
    keep, change = np.zeros((len(clues), N_CODES)), np.zeros((len(clues), N_CODES))
    for i, clue in enumerate(clues):
        if clue.mark is no_mark:
            continue
        marks = clue.mark(seen.context, event, seen.model.weights[clue.name])
        if marks is not None:
            keep[i], change[i] = (mark.clip(-clue.cap, clue.cap) for mark in marks)
    return keep, change
