"""Whether the groups that a seat has shown fit any hand of a card."""

from __future__ import annotations

from collections import Counter

import numpy as np
from numpy.typing import NDArray

from handread.card.compiled import CompiledCard
from handread.table.state import Exposure


def fitting_targets(card: CompiledCard, exposures: tuple[Exposure, ...]) -> NDArray[np.bool_]:
    """Targets that hold every exposed group, shape (n_targets,).

    A group fits when the target has a group of the same kind and size, of its own, that
    takes jokers if the exposed one has any. Concealed hands fit no exposure at all.

    Examples
    --------
    >>> import handread.card
    >>> card = handread.card.house_card()
    >>> bool(fitting_targets(card, ()).all())
    True
    """
    fits = np.ones(card.n_targets, dtype=np.bool_)
    if not exposures:
        return fits
    fits &= ~card.concealed
    wanted = Counter((group.kind, group.size) for group in exposures)
    with_jokers = Counter((group.kind, group.size) for group in exposures if group.jokers)
    for (kind, size), n in wanted.items():
        same = (card.group_kind == kind) & (card.group_size == size)
        fits &= same.sum(axis=1) >= n
        if need := with_jokers[kind, size]:
            fits &= (same & card.group_joker).sum(axis=1) >= need
    return fits
