"""From one hand to its targets: every choice of suits, numbers, winds and dragons, as arrays."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import permutations

import numpy as np
from numpy.typing import NDArray

from handread.card.conditions import evaluate, number_choices
from handread.card.notation import (
    DRAGON_VARIABLES,
    SUIT_VARIABLES,
    WIND_VARIABLES,
    DragonTile,
    Group,
    NamedTile,
    NumberTile,
    Pattern,
    SuitDragon,
    Tile,
    Way,
    WindTile,
)
from handread.tiles import FIRST_DRAGON, FIRST_WIND, SUITS, WHITE
from handread.values import ArrayValue


@dataclass(frozen=True, eq=False)
class Factor(ArrayValue):
    """Choices that are made together: `options` has one row per choice, one column per name."""

    names: tuple[str, ...]
    options: NDArray[np.int16]


@dataclass(frozen=True, eq=False)
class Plan(ArrayValue):
    """One way through a hand's alternatives, with the choices that it leaves open."""

    way: Way
    factors: tuple[Factor, ...]

    @property
    def groups(self) -> tuple[Group, ...]:
        """The groups of this way."""
        return self.way.groups

    @property
    def n_choices(self) -> int:
        """Number of choices; targets can be fewer, since choices may come to the same tiles."""
        count = 1
        for factor in self.factors:
            count *= len(factor.options)
        return count


@dataclass(frozen=True)
class Budget:
    """What may still be spent on a card: choices looked at, ways through alternatives."""

    choices: int
    alternatives: int


def plans(pattern: Pattern, budget: Budget) -> tuple[tuple[Plan, ...], Budget] | None:
    """Ways through a hand with their open choices, counted before anything is expanded.

    Parameters
    ----------
    pattern
        The hand.
    budget
        What may be spent.

    Returns
    -------
    tuple of Plan, and what is left of the budget; or None
        None if the budget does not suffice.
    """
    choices = budget.choices
    alternatives = budget.alternatives - pattern.n_ways
    if alternatives < 0:
        return None
    found: list[Plan] = []
    for way in pattern.ways():
        numbers = [part.tile.number for part in way.groups if isinstance(part.tile, NumberTile)]
        chosen = number_choices(numbers, pattern.where, choices)
        if chosen is None:
            return None
        factor = Factor(chosen.letters, chosen.values)
        plan = Plan(way, (factor, *_tile_factors(way.groups)))
        choices -= max(plan.n_choices, chosen.looked_at)
        if choices < 0:
            return None
        found.append(plan)
    return tuple(found), Budget(choices, alternatives)


def _tile_factors(groups: Sequence[Group]) -> list[Factor]:
    tiles = [group.tile for group in groups]
    suits = {tile.suit for tile in tiles if isinstance(tile, NumberTile | SuitDragon)}
    winds = {tile.which for tile in tiles if isinstance(tile, WindTile)}
    dragons = {tile.which for tile in tiles if isinstance(tile, DragonTile)}
    factors = [
        _different("suit", SUIT_VARIABLES, suits, range(3)),
        _different("wind", WIND_VARIABLES, winds, range(FIRST_WIND, FIRST_WIND + 4)),
        _different("dragon", DRAGON_VARIABLES, dragons, range(FIRST_DRAGON, FIRST_DRAGON + 3)),
    ]
    for suit in sorted(
        {t.suit for t in tiles if isinstance(t, SuitDragon) and t.relation != "own"}
    ):
        factors.append(Factor((f"opposite {suit}",), np.array([[1], [2]], dtype=np.int16)))
    for place, tile in enumerate(tiles):
        if isinstance(tile, NumberTile) and tile.suit == "any":
            factors.append(_free(place, range(3)))
        elif isinstance(tile, WindTile) and tile.which == "any":
            factors.append(_free(place, range(FIRST_WIND, FIRST_WIND + 4)))
        elif isinstance(tile, DragonTile) and tile.which == "any":
            factors.append(_free(place, range(FIRST_DRAGON, FIRST_DRAGON + 3)))
    return [factor for factor in factors if factor.names]


def _different(what: str, words: Sequence[str], used: set[str], values: range) -> Factor:
    names = [word for word in words if word in used]
    rows = list(permutations(values, len(names)))
    options = np.array(rows, dtype=np.int16).reshape(len(rows), len(names))
    return Factor(tuple(f"{what} {name}" for name in names), options)


def _free(place: int, values: range) -> Factor:
    return Factor((f"free {place}",), np.array(values, dtype=np.int16)[:, None])


def expand(plan: Plan) -> NDArray[np.int8]:
    """Kind of each group under every choice that keeps blocks different, (n_kept, n_groups)."""
    size = plan.n_choices
    known: dict[str, NDArray[np.int16]] = {}
    stride = size
    index = np.arange(size)
    for factor in plan.factors:
        if len(factor.options) == 0:
            return np.zeros((0, len(plan.groups)), dtype=np.int8)
        stride //= len(factor.options)
        rows = factor.options[index // stride % len(factor.options)]
        known |= {name: rows[:, column] for column, name in enumerate(factor.names)}
    kinds = np.empty((size, len(plan.groups)), dtype=np.int8)
    for place, group in enumerate(plan.groups):
        kinds[:, place] = _kinds(group.tile, place, known, size)
    different = np.ones(size, dtype=np.bool_)
    for start, stop in plan.way.blocks:
        ordered = np.sort(kinds[:, start:stop], axis=1)
        different &= (ordered[:, 1:] != ordered[:, :-1]).all(axis=1)
    return kinds[different]


def _kinds(
    tile: Tile, place: int, known: dict[str, NDArray[np.int16]], size: int
) -> NDArray[np.int64]:
    match tile:
        case NamedTile(kind):
            return np.full(size, kind)
        case NumberTile(number, suit):
            value = evaluate(number, known, size)
            suits = _suits(suit, place, known, size)
            return np.where(value == 0, WHITE, suits * 9 + value - 1)
        case WindTile(which) | DragonTile(which):
            noun = "wind" if isinstance(tile, WindTile) else "dragon"
            name = f"free {place}" if which == "any" else f"{noun} {which}"
            return known[name].astype(np.int64)
        case SuitDragon(relation, suit):
            step = np.zeros(size, dtype=np.int64)
            if relation != "own":
                chosen = known[f"opposite {suit}"].astype(np.int64)
                step = chosen if relation == "opposite" else 3 - chosen
            return FIRST_DRAGON + (_suits(suit, place, known, size) + step) % 3


def _suits(
    suit: str, place: int, known: dict[str, NDArray[np.int16]], size: int
) -> NDArray[np.int64]:
    if suit in SUITS:
        return np.full(size, SUITS.index(suit))
    name = f"free {place}" if suit == "any" else f"suit {suit}"
    return known[name].astype(np.int64)
