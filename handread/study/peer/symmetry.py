"""Relabellings of the kinds that leave a card as it is, numbers mirrored ones among them."""

from __future__ import annotations

from collections import Counter
from itertools import permutations

import numpy as np
from numpy.typing import NDArray

from handread.card.compile import keys, pack
from handread.card.compiled import CompiledCard
from handread.card.symmetry import relabelled_kinds
from handread.tiles import FIRST_WIND


def mirrored_kinds() -> NDArray[np.int8]:
    """The kind that each kind becomes when every number n becomes 10 - n, shape (36,).

    >>> from handread.tiles import KINDS
    >>> KINDS[mirrored_kinds()[KINDS.index("2 dot")]]
    '8 dot'
    """
    kinds = np.arange(36, dtype=np.int8)
    kinds[:FIRST_WIND] = (kinds[:FIRST_WIND] // 9) * 9 + 8 - kinds[:FIRST_WIND] % 9
    return kinds


def kind_symmetries(card: CompiledCard) -> NDArray[np.int8]:
    """Relabellings under which the card's families hold the same targets as before.

    Permutations of the suits, dragons carried along, each with and without the mirror of the
    numbers; those are kept that map the targets of every family, with what they pay and whether
    they are concealed, onto themselves, and the set of tiles too. Nothing is assumed: a card may
    have the mirror or not.

    Parameters
    ----------
    card
        The card.

    Returns
    -------
    numpy.ndarray
        The kind that each kind becomes, the identity first, shape (n_symmetries, 36).

    Examples
    --------
    >>> import handread as hr
    >>> kind_symmetries(hr.load_card("small"))[0].tolist() == list(range(36))
    True
    """
    now = _content(card, np.arange(36, dtype=np.int8))
    found = []
    for mirror in (np.arange(36, dtype=np.int8), mirrored_kinds()):
        for suits in permutations(range(3)):
            kinds = mirror[relabelled_kinds((suits[0], suits[1], suits[2]))]
            same = bool((card.rules.copies[kinds] == card.rules.copies).all())
            if same and _content(card, kinds) == now:
                found.append(kinds)
    return np.array(found, dtype=np.int8)


def _content(
    card: CompiledCard, kinds: NDArray[np.int8]
) -> Counter[tuple[int, bool, int, bytes]]:  # fmt: skip
    """Targets under a relabelling, each with its family and what else players look at."""
    kind = np.append(kinds, np.int8(-1))[card.group_kind]  # index -1 is "no group"
    groups = keys(pack(kind, card.group_size, card.group_joker))
    hands = [(hand.family, hand.concealed, hand.points) for hand in card.hands]
    return Counter(
        (*hands[hand], key) for hand, key in zip(card.hand_of.tolist(), groups, strict=True)
    )
