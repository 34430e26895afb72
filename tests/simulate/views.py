"""Views and minds made by hand, for what a player does at one decision."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from handread.simulate import PlayCard, Private, View
from handread.simulate.actions import n_actions
from handread.simulate.view import blank
from handread.table.play import start
from handread.table.state import Exposure, Thrown
from handread.tiles import parse_tiles


def view_of(
    card: PlayCard, decision: str, rack: str, *, legal: Sequence[int] | None = None,
    floor: str = "", shown: Sequence[Exposure] = (), others: Sequence[Exposure] = (),
    offered: int | None = None, distance: int = 3, turns: int = 5,
) -> View:  # fmt: skip
    """What South sees; `floor` is thrown by East, `others` are exposures of East."""
    state = start(rules=card.card.rules)
    thrown = np.repeat(np.arange(36), parse_tiles(floor)) if floor else []
    state = replace(
        state,
        floor=tuple(Thrown(0, int(kind)) for kind in thrown),
        exposures=(tuple(others), tuple(shown), (), ()),
        turns=(turns,) * 4,
    )
    held = parse_tiles(rack).astype(np.uint8)
    mask = np.zeros(n_actions(decision, card.n_targets), dtype=np.bool_)
    if legal is not None:
        mask[list(legal)] = True
    elif decision in ("pass", "throw"):
        mask[:] = held > 0
    else:
        mask[:] = True
    return View(decision, 1, state, held, mask, offered=offered, distance=distance)


def mind_on(card: PlayCard, plan: int, wide: Sequence[int] = ()) -> Private:
    """Mind committed to a target, with some targets at even weights beside."""
    one, beside = np.zeros(card.n_targets), np.zeros(card.n_targets)
    one[plan] = 1.0
    beside[[plan, *wide]] = 1.0
    return replace(
        blank(card.n_targets), weights=one, wide=beside / beside.sum(), plan=plan, mode="building"
    )


def targets_of(card: PlayCard, name: str) -> NDArray[np.int64]:
    """Targets of the hand of a name."""
    names = [hand.name for hand in card.card.hands]
    return np.flatnonzero(card.card.hand_of == names.index(name))
