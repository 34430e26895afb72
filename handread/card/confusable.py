"""How alike targets are: tiles in common, and how far a family hides among the others."""

from __future__ import annotations

from typing import Final

import numpy as np
from numpy.typing import NDArray

from handread.card.compiled import CompiledCard

#: Tiles in common from which two targets are called confusable.
CONFUSABLE: Final = 9
_BLOCK: Final = 1024


def tiles_in_common(first: NDArray[np.integer], second: NDArray[np.integer]) -> NDArray[np.uint8]:
    """Tiles that two targets have in common, for each of some targets with each of others.

    Parameters
    ----------
    first, second
        Copies of each kind in each target, shapes (n_first, n_kinds) and (n_second, n_kinds).

    Returns
    -------
    array of shape (n_first, n_second), uint8
        Sum over kinds of the smaller of the two numbers of copies.

    Examples
    --------
    >>> import numpy as np
    >>> tiles_in_common(np.array([[3, 0, 2]]), np.array([[1, 4, 4], [0, 9, 0]]))
    array([[3, 0]], dtype=uint8)
    """
    steps = _steps(first, second)
    return (_at_least(first, steps) @ _at_least(second, steps).T).astype(np.uint8)


def _steps(*demands: NDArray[np.integer]) -> list[tuple[int, int]]:
    """Pairs (kind, copies) that occur: min(a, b) is the number of steps that both reach."""
    most = np.min([demand.max(axis=0) for demand in demands], axis=0)
    return [(kind, n) for kind, copies in enumerate(most) for n in range(1, int(copies) + 1)]


def _at_least(demand: NDArray[np.integer], steps: list[tuple[int, int]]) -> NDArray[np.float32]:
    kinds = [kind for kind, _ in steps]
    copies = np.array([n for _, n in steps], dtype=demand.dtype)
    return (demand[:, kinds] >= copies).astype(np.float32)


def family_overlap(card: CompiledCard, least: int = CONFUSABLE) -> NDArray[np.float64]:
    """Share of each family's targets that have a near relation in each other family.

    Parameters
    ----------
    card
        The card.
    least
        Tiles in common from which two targets count as near.

    Returns
    -------
    array of shape (n_families, n_families)
        Row: the family whose targets are counted; column: the other family. A family
        without targets has zeros; so has the diagonal.
    """
    near = _near_families(card, least)
    family = card.family_of
    shares = np.zeros((len(card.families), len(card.families)))
    for index in range(len(card.families)):
        own = family == index
        if own.any():
            shares[index] = near[own].mean(axis=0)
    np.fill_diagonal(shares, 0.0)
    return shares


def confusability(card: CompiledCard, least: int = CONFUSABLE) -> NDArray[np.float64]:
    """Share of each family's targets that have a near relation in any other family.

    Parameters
    ----------
    card
        The card.
    least
        Tiles in common from which two targets count as near.

    Returns
    -------
    array of shape (n_families,)
        0 to 1; 0 for a family without targets.

    Examples
    --------
    >>> from handread.card import house_card
    >>> bool((confusability(house_card()) < 0.5).all())
    True
    """
    near = _near_families(card, least)
    family = card.family_of
    near[np.arange(card.n_targets), family] = False
    targets = np.bincount(family, minlength=len(card.families))
    confused = np.bincount(family, weights=near.any(axis=1), minlength=len(card.families))
    return np.asarray(confused / np.maximum(targets, 1), dtype=np.float64)


def _near_families(card: CompiledCard, least: int) -> NDArray[np.bool_]:
    """Whether each target has a near relation in each family, shape (n_targets, n_families)."""
    steps = _steps(card.demand)
    levels = _at_least(card.demand, steps)
    order = np.argsort(card.family_of, kind="stable")
    present, starts = np.unique(card.family_of[order], return_index=True)
    ordered = levels[order].T.copy()
    near = np.zeros((card.n_targets, len(card.families)), dtype=np.bool_)
    for start in range(0, card.n_targets, _BLOCK):
        common = levels[start : start + _BLOCK] @ ordered
        near[start : start + _BLOCK, present] = np.maximum.reduceat(common, starts, axis=1) >= least
    return near
