"""What each target still wants once a seat has shown its groups: worked out at each exposure.

Between two exposures only the copies left change, so that an event has little to add: which
singles and pairs are dead by now, and how blocked each target is.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from typing import Final

import numpy as np
from numpy.typing import NDArray

from handread.card.compiled import CompiledCard
from handread.clues.codes import N_UNMODELLED, Codes, Use
from handread.clues.kernels import fill_dead, fill_wants
from handread.clues.turn_kernels import list_cells
from handread.tiles import N_KINDS
from handread.values import ArrayValue, frozen


@dataclass(frozen=True, eq=False)
class Cells(ArrayValue):
    """The few kinds of use that each target has, each as the number of what it shares with others.

    Most targets have no use for most kinds: the odds of a throw are those of a target without any
    use, but for what its cells change; and they tell how blocked it is.

    Attributes
    ----------
    first
        Entries ``first[g]`` to ``first[g + 1]`` of the next are those of target g, shape
        (n_targets + 1,); empty where nothing is listed.
    cell
        Number of the cell of each entry.
    what
        Kind, use code, naturals wanted by groups without jokers, and size of a group in which
        jokers may stand (0 for none) of each cell, shape (n_cells, 4).
    """

    first: NDArray[np.int64]
    cell: NDArray[np.uint16]
    what: NDArray[np.uint8]


#: Nothing listed: each target is summed on its own.
NO_CELLS: Final = Cells(
    np.zeros(0, dtype=np.int64), np.zeros(0, dtype=np.uint16), np.zeros((0, 4), dtype=np.uint8)
)


@dataclass(frozen=True, eq=False)
class Wants(ArrayValue):
    """What each target wants, whatever copies are left.

    Attributes
    ----------
    kinds
        The kinds wanted, each once; 36, beyond the kinds, after the last. Shape
        (n_targets, n_groups).
    bare_kinds, bare
        The kinds wanted by groups without jokers, each once, and how many naturals of each;
        0 after the last. Shape (n_targets, n_groups).
    open_kinds, open
        Kind and size of each group in which jokers may stand; 0 after the last. Shape
        (n_targets, n_groups).
    codes
        Use code of each kind in each row while enough copies are left, shape (n_rows, 36).
    """

    kinds: NDArray[np.uint8]
    bare_kinds: NDArray[np.uint8]
    bare: NDArray[np.uint8]
    open_kinds: NDArray[np.uint8]
    open: NDArray[np.uint8]
    codes: Codes

    @cached_property
    def groups(self) -> tuple[NDArray[np.uint8], ...]:
        """The first five fields, as compiled passes take them."""
        return self.kinds, self.bare_kinds, self.bare, self.open_kinds, self.open

    @cached_property
    def cells(self) -> Cells:
        """The kinds of use that each target has; worth its while where most targets count."""
        most = np.count_nonzero(self.codes[:-N_UNMODELLED]) + np.count_nonzero(self.open)
        first = np.empty(len(self.bare) + 1, dtype=np.int64)
        cell, what = np.empty(most, dtype=np.uint16), np.empty((most, 4), dtype=np.uint8)
        n_cells = list_cells(
            self.codes, self.bare_kinds, self.bare, self.open_kinds, self.open, first, cell, what
        )
        return Cells(first, cell[: first[-1]].copy(), what[:n_cells].copy())


def wants_of(card: CompiledCard, left: NDArray[np.bool_], nearby: Codes) -> Wants:
    """Work out what each target wants.

    Parameters
    ----------
    card
        The card.
    left
        Groups that each target still has to make, shape (n_targets, n_groups).
    nearby
        Codes of the kinds that each target does not need, see ``codes.nearby_use``.
    """
    codes = np.empty((card.n_targets + N_UNMODELLED, N_KINDS), dtype=np.uint8)
    codes[:-N_UNMODELLED] = nearby
    codes[-3:] = np.array([Use.UNDECIDED, Use.DEFENDING, Use.OTHER], dtype=np.uint8)[:, None]
    kinds = np.full(left.shape, N_KINDS, dtype=np.uint8)
    bare_kinds, bare, open_kinds, open_sizes = np.zeros((4, *left.shape), dtype=np.uint8)
    fill_wants(
        card.group_kind, card.group_size, card.group_joker, left, kinds, bare_kinds, bare,
        open_kinds, open_sizes, codes,
    )  # fmt: skip
    return Wants(kinds, bare_kinds, bare, open_kinds, open_sizes, codes)


def codes_now(
    card: CompiledCard, wants: Wants, free: NDArray[np.integer]
) -> tuple[Codes, NDArray[np.uint8]]:
    """Use code of every kind in every row with the copies left, and how blocked each target is.

    Parameters
    ----------
    card
        The card.
    wants
        What each target wants.
    free
        Copies of each kind not seen by the table, shape (36,).

    Returns
    -------
    codes
        Shape (n_targets + 3, 36).
    blocked
        Kinds of singles and pairs that can no longer be had, plus jokers needed beyond
        those left, per target, shape (n_targets,).
    """
    codes, blocked = wants.codes.copy(), np.empty(card.n_targets, dtype=np.uint8)
    fill_dead(
        wants.bare_kinds, wants.bare, wants.open_kinds, wants.open,
        np.asarray(free, dtype=np.int64), codes, blocked,
    )  # fmt: skip
    return codes, blocked


def codes_of(wants: Wants, free: NDArray[np.int64], row: int) -> tuple[Codes, int]:
    """Use code of every kind in one row, shape (36,), and how blocked it is, 0 if unmodelled.

    One row of ``codes_now``, for those who look at a handful.
    """
    if row >= len(wants.bare):
        return wants.codes[row], 0
    one = slice(row, row + 1)
    codes, blocked = wants.codes[one].copy(), np.empty(1, dtype=np.uint8)
    fill_dead(
        wants.bare_kinds[one], wants.bare[one], wants.open_kinds[one], wants.open[one], free,
        codes, blocked,
    )  # fmt: skip
    return frozen(codes)[0], int(blocked[0])
