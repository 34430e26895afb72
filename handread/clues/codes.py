"""Use codes: what one kind is to one target, a small int per (row, kind).

A throw clue writes a table of scores with one row per code and one column per kind, so that
the likelihood of a throw under every target is one gather over targets x kinds.
"""

from __future__ import annotations

from enum import IntEnum
from functools import lru_cache
from typing import Final

import numpy as np
from numpy.typing import NDArray

from handread.card.compiled import CompiledCard
from handread.table.state import Exposure
from handread.tiles import JOKER, N_KINDS

Codes = NDArray[np.uint8]


class Use(IntEnum):
    """What a kind is to a target (or to a seat that follows none)."""

    NOT_NEEDED = 0
    SINGLE = 1
    PAIR = 2
    PUNG = 3
    KONG = 4
    QUINT = 5
    SEXTET = 6
    EXPOSED = 7  # every group of the kind has been shown
    DEAD = 8  # a single or pair for which too few copies are left
    JOKER_WANTED = 9
    JOKER_UNWANTED = 10
    NEAR_SOME = 11  # not needed, but of use to some targets near this one
    NEAR_MUCH = 12  # not needed, but of use to most targets near this one
    UNDECIDED = 13  # the last three: the seat follows no target
    DEFENDING = 14
    OTHER = 15


N_CODES: Final = len(Use)
#: Codes of a kind that the target still needs.
NEEDED: Final = (Use.SINGLE, Use.PAIR, Use.PUNG, Use.KONG, Use.QUINT, Use.SEXTET)
#: Codes of a kind that the target does not need and has not shown.
SPARE: Final = (Use.NOT_NEEDED, Use.NEAR_SOME, Use.NEAR_MUCH)
#: Share of the near targets that must need a kind for the two codes of nearby use.
NEAR_SHARES: Final = (0.2, 0.5)
#: The unmodelled rows, in the order in which they follow the targets.
UNMODELLED: Final = ("undecided", "defending", "other")
N_UNMODELLED: Final = len(UNMODELLED)


def match_exposures(
    card: CompiledCard, exposures: tuple[Exposure, ...]
) -> tuple[NDArray[np.bool_], NDArray[np.bool_]]:
    """Which targets allow the groups that a seat has shown, and which groups they leave.

    This is the exact term: a target allows an exposure if it is not concealed and has a
    group of that kind and size, of the claimable sizes, for each group shown.

    Parameters
    ----------
    card
        The card.
    exposures
        Groups shown by the seat.

    Returns
    -------
    fits
        Shape (n_targets,).
    left
        Groups not shown yet, shape (n_targets, n_groups).
    """
    left = card.group_size > 0
    fits = np.ones(card.n_targets, dtype=np.bool_)
    if exposures:
        fits &= ~card.concealed
    for shown in sorted(exposures, key=lambda each: each.jokers == 0):
        same = left & (card.group_kind == shown.kind) & (card.group_size == shown.size)
        if shown.jokers:
            same &= card.group_joker
        first = same.argmax(axis=1)
        found = same[np.arange(card.n_targets), first]
        fits &= found
        left[found, first[found]] = False
    return fits, left


def nearby_use(demand: NDArray[np.uint8], near: NDArray[np.float64]) -> Codes:
    """Codes of kinds that a target does not need, by their use to the targets near it.

    Parameters
    ----------
    demand
        Copies of each kind in each target, shape (n_targets, 36).
    near
        Share of the near targets that need each kind, shape (n_targets, 36).

    Returns
    -------
    Codes
        NOT_NEEDED, NEAR_SOME or NEAR_MUCH, and NOT_NEEDED for kinds that the target needs;
        shape (n_targets, 36).
    """
    some, much = NEAR_SHARES
    codes = np.where(near >= much, Use.NEAR_MUCH, np.where(near >= some, Use.NEAR_SOME, 0))
    return np.where(demand > 0, Use.NOT_NEEDED, codes).astype(np.uint8)


def use_codes(
    card: CompiledCard, left: NDArray[np.bool_], free: NDArray[np.integer], nearby: Codes
) -> tuple[Codes, NDArray[np.uint8]]:
    """Use code of every kind in every row, and how blocked each target is.

    Parameters
    ----------
    card
        The card.
    left
        Groups that each target still has to make, shape (n_targets, n_groups).
    free
        Copies of each kind not seen by the table, shape (36,).
    nearby
        Codes of the kinds that each target does not need, see ``nearby_use``.

    Returns
    -------
    codes
        Shape (n_targets + 3, 36).
    blocked
        Kinds of singles and pairs that can no longer be had, plus jokers needed beyond
        those left, per target, shape (n_targets,).
    """
    from handread.clues.wants import codes_now, wants_of

    return codes_now(card, wants_of(card, left, nearby), free)


def use_codes_plain(
    card: CompiledCard, left: NDArray[np.bool_], free: NDArray[np.integer], nearby: Codes
) -> tuple[Codes, NDArray[np.uint8]]:
    """Slow twin of ``use_codes``, for tests: one target and one group at a time."""
    codes = np.vstack([nearby, np.zeros((N_UNMODELLED, N_KINDS), dtype=np.uint8)])
    blocked = np.zeros(card.n_targets, dtype=np.uint8)
    for target in range(card.n_targets):
        naturals: dict[int, int] = {}
        wants_joker, short = False, 0
        groups = zip(
            card.group_kind[target], card.group_size[target], card.group_joker[target],
            left[target], strict=True,
        )  # fmt: skip
        for kind, size, joker, is_left in groups:
            if size == 0:
                continue
            if not is_left:
                if codes[target, kind] == Use.NOT_NEEDED:
                    codes[target, kind] = Use.EXPOSED
                continue
            held = codes[target, kind]
            held = Use.NOT_NEEDED if held == Use.EXPOSED else held
            codes[target, kind] = max(int(held), int(size))
            if joker:
                wants_joker = True
                short += max(0, int(size) - int(free[kind]))
            else:
                naturals[int(kind)] = naturals.get(int(kind), 0) + int(size)
        for kind, needed in naturals.items():
            if needed > free[kind]:
                blocked[target] += 1
                if codes[target, kind] <= Use.PAIR:
                    codes[target, kind] = Use.DEAD
        blocked[target] += max(0, short - int(free[JOKER]))
        codes[target, JOKER] = Use.JOKER_WANTED if wants_joker else Use.JOKER_UNWANTED
    codes[-3:] = np.array([Use.UNDECIDED, Use.DEFENDING, Use.OTHER], dtype=np.uint8)[:, None]
    return codes, blocked


def claim_masks(
    card: CompiledCard, left: NDArray[np.bool_], kind: int
) -> tuple[NDArray[np.uint8], NDArray[np.float64]]:
    """Groups that each target could show with `kind`, and how much it wants the kind.

    Parameters
    ----------
    card
        The card.
    left
        Groups still to be made, shape (n_targets, n_groups).
    kind
        The tile thrown.

    Returns
    -------
    masks
        Sizes as bits 0 to 3 for pung to sextet: any groups, then those in which jokers may
        stand; 0 for concealed targets. Shape (2, n_targets).
    share
        Part of the tiles still needed that are of this kind, shape (n_targets,).
    """
    from handread.clues.claim_kernels import fill_claims

    masks = np.empty((2, card.n_targets), dtype=np.uint8)
    share = np.empty(card.n_targets)
    fill_claims(
        card.group_kind, card.group_size, card.group_joker, card.demand, card.concealed, left,
        kind, claimable_bits(card.rules.claimable), masks, share,
    )  # fmt: skip
    return masks, share


@lru_cache(maxsize=16)
def claimable_bits(sizes: tuple[int, ...]) -> int:
    """Sizes of group that may be claimed, as bits 0 to 3 for pung to sextet.

    >>> claimable_bits((3, 4)), claimable_bits((3, 4, 5, 6))
    (3, 15)
    """
    return sum(1 << (size - 3) for size in sizes)


def claim_masks_plain(
    card: CompiledCard, left: NDArray[np.bool_], kind: int
) -> tuple[NDArray[np.uint8], NDArray[np.float64]]:
    """Slow twin of ``claim_masks``, for tests."""
    of_kind = left & (card.group_kind == kind)
    sizes = np.where(left, card.group_size, 0).sum(axis=1)
    share = np.where(of_kind, card.group_size, 0).sum(axis=1) / np.maximum(sizes, 1)
    open_groups = of_kind & ~card.concealed[:, None]
    masks = np.zeros((2, card.n_targets), dtype=np.uint8)
    for bit, size in enumerate((3, 4, 5, 6)):
        if size in card.rules.claimable:
            there = open_groups & (card.group_size == size)
            masks[0] |= (there.any(axis=1) << bit).astype(np.uint8)
            masks[1] |= ((there & card.group_joker).any(axis=1) << bit).astype(np.uint8)
    return masks, share
