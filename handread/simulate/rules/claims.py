"""What a seat can do with a throw, as its tiles and the switches of the table allow."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from handread.simulate.actions import LARGEST, N_CLAIMS, NO, WIN, claim_action
from handread.table.state import TableState
from handread.tiles import JOKER


def possible_groups(
    rack: NDArray[np.integer], kind: int, sizes: tuple[int, ...], n_concealed: int
) -> list[int]:
    """Actions that show a group with one claimed tile of `kind`.

    The rest of the group are naturals or any number of jokers; one tile must be left to throw.

    Parameters
    ----------
    rack
        Concealed tiles, shape (36,).
    kind
        The tile claimed.
    sizes
        Sizes that may be claimed.
    n_concealed
        Concealed tiles of the seat.

    Examples
    --------
    >>> from handread.tiles import parse_tiles
    >>> from handread.simulate.actions import group_of
    >>> rack = parse_tiles("5 bam, 2x joker")
    >>> [group_of(action) for action in possible_groups(rack, 4, (3, 4), 13)]
    [Group(size=3, jokers=1), Group(size=3, jokers=2), Group(size=4, jokers=2)]
    """
    found = []
    for size in sizes:
        if not 2 <= size <= min(LARGEST, n_concealed):
            continue
        for jokers in range(size):
            naturals = size - 1 - jokers
            if naturals <= rack[kind] and jokers <= rack[JOKER]:
                found.append(claim_action(size, jokers))
    return found


def legal_claims(
    state: TableState, seat: int, rack: NDArray[np.uint8], kind: int, distance: int
) -> NDArray[np.bool_]:
    """Mask of what a seat can do with the throw of `kind`, shape (n_claims,).

    Any group that its tiles make up is possible, whether or not a hand has it. A win can be
    said by whoever is complete with the tile, or, in error, one tile short of it.
    """
    legal = np.zeros(N_CLAIMS, dtype=np.bool_)
    legal[NO] = True
    legal[WIN] = distance <= 1
    if state.wall > 0 or "last exposure" in state.switches:
        groups = possible_groups(rack, kind, state.rules.claimable, state.concealed[seat])
        legal[groups] = True
    return legal


def legal_mends(
    state: TableState, seat: int, rack: NDArray[np.uint8]
) -> NDArray[np.bool_]:  # fmt: skip
    """Mask of the groups into which a seat can mend the one it has just shown."""
    legal = np.zeros(N_CLAIMS, dtype=np.bool_)
    legal[NO] = True
    group = state.exposures[seat][-1]
    whole = rack.astype(np.int64)
    whole[group.kind] += group.size - 1 - group.jokers
    whole[JOKER] += group.jokers
    n_concealed = state.concealed[seat] + group.size - 1
    legal[possible_groups(whole, group.kind, state.rules.claimable, n_concealed)] = True
    legal[claim_action(group.size, group.jokers)] = False
    return legal


def in_order(thrower: int, live: tuple[bool, ...]) -> list[int]:
    """Live seats after the thrower, in the order of priority: the next in turn first.

    >>> in_order(1, (True, True, False, True))
    [3, 0]
    """
    return [seat % 4 for seat in range(thrower + 1, thrower + 4) if live[seat % 4]]
