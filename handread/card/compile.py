"""From a card to arrays: every target once, checked against the tile set and a size limit."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Sequence
from dataclasses import asdict, dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from handread.card.cardfile import Card, CardHand
from handread.card.compiled import CompiledCard, Hand, Rules
from handread.card.expand import Budget, Plan, expand, plans
from handread.card.notation import Group, format_hand
from handread.card.tokens import CardError
from handread.tiles import JOKER, N_KINDS
from handread.values import ArrayValue

#: Most targets of a card, unless ``compile_card`` is told otherwise.
MOST_TARGETS: Final = 20_000
#: Choices that may be looked at for each target that is allowed; several can be one target.
CHOICES_PER_TARGET: Final = 10
#: Most ways through the alternatives of a card's hands, all hands together.
MOST_ALTERNATIVES: Final = 2000


@dataclass(frozen=True, eq=False)
class HandTargets(ArrayValue):
    """Targets of one hand before hands are put together.

    Attributes
    ----------
    codes
        One row per target, one number per group in the card's order, 0 where there is none:
        ``(kind + 1) * 16 + size * 2 + (1 if jokers may stand there)``, int16.
    impossible
        Rows that the tile set cannot supply, in the same form.
    """

    codes: NDArray[np.int16]
    impossible: NDArray[np.int16]


def compile_card(card: Card, *, limit: int = MOST_TARGETS) -> CompiledCard:
    """Compile a card to arrays of targets.

    Targets that the tile set cannot supply are left out. Targets with the same groups (and
    both open or both concealed) are kept once, under the first hand that has them;
    ``handread.card.describe_card`` reports both. Choices are counted before they are
    expanded, so that a card which explodes is refused at once.

    Parameters
    ----------
    card
        The card.
    limit
        Most targets.

    Returns
    -------
    CompiledCard
        Targets sorted by hand. A hand all of whose targets are impossible, or stand under
        earlier hands, keeps its place and has none.

    Raises
    ------
    CardError
        If a hand has the wrong number of tiles, no choice of numbers fits its conditions,
        there is no possible target at all, or there are more than `limit`.

    Examples
    --------
    >>> from handread.card import compile_card, parse_card
    >>> card = parse_card('''
    ... name = "Card of one hand"
    ... [[family]]
    ... name = "Kongs"
    ... [[family.hand]]
    ... name = "Twin kongs"
    ... tiles = "kong n one suit, kong n other suit, sextet flowers"
    ... ''')
    >>> compile_card(card).n_targets
    27
    """
    rules = card.rules.compiled()
    hands: list[Hand] = []
    rows: list[NDArray[np.int16]] = []
    taken: set[tuple[bool, bytes]] = set()
    total = 0
    for family, line, targets in expand_card(card, limit=limit):
        codes = targets.codes
        found = [(line.concealed, key) for key in keys(codes)]
        new = np.array([key not in taken for key in found], dtype=np.bool_)
        taken.update(found)
        rows.append(codes[new])
        words = format_hand(line.pattern)
        hands.append(Hand(line.name, family, words, line.concealed, line.points))
        total += int(new.sum())
        if total > limit:
            raise _too_many(card, line, f"brings the card to {total:,} targets", limit)
    if total == 0:
        raise CardError("no hand has a target that the tile set can supply", place=card.source)
    families = tuple(family.name for family in card.families)
    return _compiled(card.name, families, tuple(hands), rows, rules)


def expand_card(card: Card, *, limit: int) -> list[tuple[int, CardHand, HandTargets]]:
    """Targets of every hand on its own: index of the family, the hand, its targets.

    Raises
    ------
    CardError
        As ``compile_card``.
    """
    lines = [(index, hand) for index, part in enumerate(card.families) for hand in part.hands]
    budget = Budget(limit * CHOICES_PER_TARGET, MOST_ALTERNATIVES)
    ways: list[tuple[Plan, ...]] = []
    largest = (0, lines[0][1])
    for _, line in lines:
        found = plans(line.pattern, budget)
        if found is None:
            culprit = line if budget.choices >= largest[0] else largest[1]
            raise _too_many(card, culprit, "leaves too many choices open", limit)
        _check_size(card, line, found[0])
        largest = max(largest, (budget.choices - found[1].choices, line), key=lambda pair: pair[0])
        budget = found[1]
        ways.append(found[0])
    rules = card.rules.compiled()
    return [
        (index, line, _hand_targets(card, line, found, rules))
        for (index, line), found in zip(lines, ways, strict=True)
    ]


def _too_many(card: Card, line: CardHand, what: str, limit: int) -> CardError:
    """The error that refuses a card which explodes at the hand `line`."""
    return CardError(
        f"{what}; at most {limit:,} targets are allowed on a card. Give its numbers ranges "
        "(where n from 1 to 3), or say fewer times any or either",
        place=place_of(card, line),
    )


def place_of(card: Card, line: CardHand) -> str:
    """File, line and name of a hand, for errors."""
    where = f", line {line.line}" if line.line else ""
    return f"{card.source}{where}, hand {line.name!r}"


def _check_size(card: Card, line: CardHand, found: Sequence[Plan]) -> None:
    wanted = card.rules.hand_size
    for number, plan in enumerate(found, start=1):
        sizes = [group.size for group in plan.groups]
        if sum(sizes) != wanted:
            way = f" (alternative {number})" if len(found) > 1 else ""
            raise CardError(
                f"asks for {sum(sizes)} tiles{way}: {' + '.join(map(str, sizes))}; "
                f"accepted: {wanted}, the hand size of this card",
                place=place_of(card, line),
            )


def _hand_targets(card: Card, line: CardHand, found: Sequence[Plan], rules: Rules) -> HandTargets:
    width = max(len(plan.groups) for plan in found)
    parts = []
    for plan in found:
        kinds = expand(plan).astype(np.int16)
        codes = np.zeros((len(kinds), width), dtype=np.int16)
        codes[:, : len(plan.groups)] = (kinds + 1) * 16
        codes[:, : len(plan.groups)] += np.array([_low_bits(g) for g in plan.groups], np.int16)
        parts.append(codes)
    codes = np.concatenate(parts)
    if len(codes) == 0:
        raise CardError(
            "no choice of its numbers keeps the conditions, stays on the tiles 1 to 9 and "
            "leaves the tiles of every block different; accepted: wider ranges after where",
            place=place_of(card, line),
        )
    codes = np.unique(codes, axis=0)
    _, first = np.unique(np.sort(codes, axis=1), axis=0, return_index=True)
    codes = codes[np.sort(first)]
    possible = can_be_had(codes, rules)
    return HandTargets(codes[possible], codes[~possible])


def _low_bits(group: Group) -> int:
    return group.size * 2 + int(group.size > 2 and not group.barred)


def keys(codes: NDArray[np.int16]) -> list[bytes]:
    """Content of each coded target, whatever the order of its groups."""
    ordered = -np.sort(-codes, axis=1)
    return [row.tobytes().rstrip(b"\0") for row in ordered.astype(">i2")]


def pack(
    kind: NDArray[np.int8], size: NDArray[np.uint8], joker: NDArray[np.bool_]
) -> NDArray[np.int16]:
    """The codes of ``HandTargets`` for groups; the inverse of ``split``."""
    return (kind.astype(np.int16) + 1) * 16 + size.astype(np.int16) * 2 + joker


def split(
    codes: NDArray[np.int16],
) -> tuple[NDArray[np.int8], NDArray[np.uint8], NDArray[np.bool_]]:
    """Kind, size and whether jokers may stand, of each group of coded targets."""
    kind = (codes // 16 - 1).astype(np.int8)
    return kind, (codes // 2 % 8).astype(np.uint8), (codes % 2).astype(np.bool_)


def count_tiles(kind: NDArray[np.int8], size: NDArray[np.uint8]) -> NDArray[np.uint8]:
    """Copies of each kind in each target, shape (n_targets, 36)."""
    demand = np.zeros((len(kind), N_KINDS + 1), dtype=np.uint8)  # one column for "no group"
    rows = np.arange(len(kind))
    for place in range(kind.shape[1]):
        demand[rows, kind[:, place]] += size[:, place]
    return demand[:, :N_KINDS]


def can_be_had(codes: NDArray[np.int16], rules: Rules) -> NDArray[np.bool_]:
    """Whether the tile set can supply each coded target, shape (n_targets,).

    Copies outside joker groups must exist; what the set lacks for the rest must be covered
    by jokers inside groups that take them, and there must be enough jokers for all of it.
    """
    kind, size, joker = split(codes)
    demand = count_tiles(kind, size).astype(np.int16)
    bare = count_tiles(kind, np.where(joker, 0, size).astype(np.uint8)).astype(np.int16)
    copies = rules.copies.astype(np.int16)
    jokers = np.maximum(demand - copies, 0).sum(axis=1)
    possible: NDArray[np.bool_] = (bare <= copies).all(axis=1) & (jokers <= copies[JOKER])
    return possible


def _compiled(
    name: str,
    families: tuple[str, ...],
    hands: tuple[Hand, ...],
    rows: Sequence[NDArray[np.int16]],
    rules: Rules,
) -> CompiledCard:
    width = max(part.shape[1] for part in rows)
    codes = np.zeros((sum(map(len, rows)), width), dtype=np.int16)
    hand_of = np.repeat(np.arange(len(rows), dtype=np.int32), [len(part) for part in rows])
    start = 0
    for part in rows:
        codes[start : start + len(part), : part.shape[1]] = part
        start += len(part)
    kind, size, joker = split(codes)
    said = {
        "format": 1, "name": name, "families": families, "hands": [asdict(hand) for hand in hands],
        "copies": rules.copies.tolist(), "hand_size": rules.hand_size,
        "claimable": list(rules.claimable),
    }  # fmt: skip
    digest = hashlib.sha256(json.dumps(said, sort_keys=True).encode())
    digest.update(hand_of.astype(">i4").tobytes())
    digest.update(codes.astype(">i2").tobytes())
    return CompiledCard(
        name, digest.hexdigest()[:16], families, hands, hand_of, kind, size, joker,
        count_tiles(kind, size), rules,
    )  # fmt: skip
