"""The deal: a shuffled wall, taken four tiles at a time, then the last ones singly."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from handread.card.compiled import Rules
from handread.errors import HandreadError

#: Who sits where, by number of players.
CHAIRS: Final[dict[int, tuple[int, ...]]] = {2: (0, 2), 3: (0, 1, 2), 4: (0, 1, 2, 3)}


@dataclass(frozen=True)
class Deal:
    """Tiles after the deal, in the order in which they were taken.

    Attributes
    ----------
    racks
        Tiles of each seat; empty where nobody sits.
    wall
        What is left, the next tile to draw first.
    """

    racks: tuple[tuple[int, ...], ...]
    wall: tuple[int, ...]


def chairs(n_seats: int) -> tuple[int, ...]:
    """Seats that are taken at a table of two, three or four.

    >>> chairs(3)
    (0, 1, 2)
    """
    if n_seats not in CHAIRS:
        raise HandreadError(f"n_seats={n_seats!r}; accepted: {', '.join(map(str, CHAIRS))}")
    return CHAIRS[n_seats]


def shuffled(rules: Rules, *, rng: np.random.Generator) -> NDArray[np.int64]:
    """All tiles of the set in random order."""
    return rng.permutation(np.repeat(np.arange(len(rules.copies)), rules.copies))


def deal(
    rules: Rules,
    *,
    rng: np.random.Generator,
    seats: tuple[int, ...] = (0, 1, 2, 3),
    dealer: int = 0,
) -> Deal:
    """Shuffle and deal.

    From the dealer on, each seat takes four tiles at a time until all but the last few are
    dealt; then the dealer takes the top tiles of the next stack and of the one after its
    neighbour, and the others one each, so that the dealer holds one more. Nothing is kept back
    from the wall.

    Parameters
    ----------
    rules
        Tile set and hand size.
    rng
        Source of the shuffle.
    seats
        Seats that are taken.
    dealer
        The seat that opens; the next taken seat does if nobody sits there.

    Examples
    --------
    >>> dealt = deal(Rules(), rng=np.random.default_rng(1))
    >>> [len(rack) for rack in dealt.racks], len(dealt.wall)
    ([14, 13, 13, 13], 99)
    """
    order = [seat % 4 for seat in range(dealer, dealer + 4) if seat % 4 in seats]
    tiles: list[int] = shuffled(rules, rng=rng).tolist()
    racks: list[list[int]] = [[], [], [], []]
    rest = rules.hand_size - 1
    taken = 0
    for block in _blocks(rest):
        for seat in order:
            racks[seat] += tiles[taken : taken + block]
            taken += block
    last = tiles[taken : taken + len(order) + 1]
    taken += len(last)
    racks[order[0]].append(last.pop(0))
    racks[order[0]].append(last.pop(min(len(order) - 1, 3)))
    for seat in order[1:]:
        racks[seat].append(last.pop(0))
    return Deal(tuple(tuple(rack) for rack in racks), tuple(tiles[taken:]))


def _blocks(rest: int) -> list[int]:
    """Sizes in which all but one of `rest` tiles are taken: fours, then what remains."""
    fours, over = divmod(rest - 1, 4)
    return [4] * fours + ([over] if over else [])
