"""Plans of real games, where a hand was shown after the end and the plan is plain.

A hand shown at the end is no plan at every turn. It is taken for the plan where one target alone is
nearest to the tiles shown and at most two tiles short, and only from the seat's first exposure on,
or for its last throws where it never showed a group. Everything before stays unknown.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from handread.card.compiled import CompiledCard
from handread.clues.codes import match_exposures
from handread.fitting.minds import Mind
from handread.table.events import Discard, Expose, Record, Reveal
from handread.table.play import apply, start
from handread.table.state import Exposure
from handread.tiles import JOKER, N_KINDS
from handread.values import ArrayValue

#: Tiles that a plan may be short of when it is shown.
MOST_SHORT: Final = 2
#: Last throws of a seat without exposures that count as made on the plan shown.
LAST_THROWS: Final = 3


@dataclass(frozen=True, eq=False)
class RevealedMinds(ArrayValue):
    """Minds of a record with hands shown after the end.

    Attributes
    ----------
    plan
        Target of each seat, -1 where it is not plain, shape (4,).
    since
        Events on record from which on it is taken for the plan, shape (4,).
    """

    plan: NDArray[np.int64]
    since: NDArray[np.int64]

    def at(self, seat: int, n_events: int, fits: NDArray[np.bool_]) -> Mind | None:
        """Plan of a seat, where it is plain by then."""
        plan = int(self.plan[seat])
        if plan < 0 or n_events < int(self.since[seat]) or not fits[plan]:
            return None
        return Mind(np.array([plan], dtype=np.int64), np.ones(1))

    def shown(
        self, seat: int, n_events: int, throw: int | None, fits: NDArray[np.bool_]
    ) -> Mind | None:
        """Plan of a seat from its group on, where it is plain by its next throw."""
        return None if throw is None else self.at(seat, throw, fits)

    def settled(self, seat: int, first: int) -> None:
        """Nobody says what a seat had in mind after the passes."""
        return


def shortfall(
    card: CompiledCard, rack: tuple[int, ...], shown: tuple[Exposure, ...]
) -> NDArray[np.int64]:
    """Tiles that a rack and exposures are short of each target, 99 where the exposures forbid it.

    Parameters
    ----------
    card
        The card.
    rack
        Concealed tiles, as kinds.
    shown
        Groups exposed.

    Returns
    -------
    NDArray
        Shape (n_targets,).

    Examples
    --------
    >>> import handread as hr
    >>> card = hr.load_card("small")
    >>> tiles = np.repeat(np.arange(36), card.demand[5])
    >>> int(shortfall(card, tuple(tiles.tolist()), ())[5])
    0
    """
    fits, left = match_exposures(card, shown)
    held = np.bincount(np.array(rack, dtype=np.int64), minlength=N_KINDS)
    size = np.where(left, card.group_size, 0).astype(np.int64)
    bare, open_to = np.zeros((2, card.n_targets, N_KINDS), dtype=np.int64)
    targets = np.arange(card.n_targets)
    for group in range(size.shape[1]):
        kind = np.maximum(card.group_kind[:, group], 0)
        takes = card.group_joker[:, group]
        np.add.at(bare, (targets, kind), size[:, group] * ~takes)
        np.add.at(open_to, (targets, kind), size[:, group] * takes)
    missing_bare = np.maximum(bare - held, 0)
    spare = np.maximum(held - bare, 0)
    missing_open = np.maximum(open_to - spare, 0).sum(axis=1)
    short = missing_bare.sum(axis=1) + np.maximum(missing_open - int(held[JOKER]), 0)
    return np.asarray(np.where(fits, short, 99))


def revealed_minds(card: CompiledCard, record: Record) -> RevealedMinds:
    """Read plans out of what was shown after the end.

    Parameters
    ----------
    card
        The card of the record.
    record
        The record, with its reveals.
    """
    plan, since = np.full(4, -1), np.zeros(4, dtype=np.int64)
    events = record.events
    state = start(record.header, card.rules)
    first: dict[int, int] = {}
    throws: dict[int, list[int]] = {seat: [] for seat in range(4)}
    for place, event in enumerate(events):
        if isinstance(event, Expose):
            first.setdefault(event.seat, place + 1)
        elif isinstance(event, Discard):
            throws[event.seat].append(place + 1)
        elif isinstance(event, Reveal):
            plan[event.seat] = _plain(card, event, state.exposures[event.seat])
        state = apply(state, event, card)
    for seat in range(4):
        last = throws[seat][-LAST_THROWS:]
        since[seat] = first.get(seat, last[0] if last else len(events) + 1)
    return RevealedMinds(plan, since)


def _plain(card: CompiledCard, event: Reveal, shown: tuple[Exposure, ...]) -> int:
    """Target of a hand shown, -1 where it is not plain."""
    if event.rack is not None:
        short = shortfall(card, event.rack, shown)
    else:
        short = np.where(match_exposures(card, shown)[0], 0, 99)
    if event.hand is not None:
        named = np.array([hand.name == event.hand for hand in card.hands])
        if named.any():
            short = np.where(named[card.hand_of], short, 99)
    nearest = np.flatnonzero(short == short.min())
    return int(nearest[0]) if len(nearest) == 1 and short.min() <= MOST_SHORT else -1
