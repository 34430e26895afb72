"""Every target of a hand by plain loops over words: an oracle for the compiler.

Nothing here is shared with ``handread.card`` but the parsed hand: tiles are words, choices
are dictionaries, conditions are looked at one choice at a time, and the tile set is dealt
out tile by tile.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator
from itertools import permutations, product

from handread.card.notation import (
    Block,
    Compare,
    DragonTile,
    Either,
    NamedTile,
    Number,
    NumberTile,
    Parity,
    Pattern,
    Range,
    SuitDragon,
    WindTile,
    ZeroIsWhite,
)

WINDS = ["east", "south", "west", "north"]
DRAGON_OF = {"bam": "green", "crak": "red", "dot": "white"}
NAMES = [*WINDS, *DRAGON_OF.values(), "flower"]

#: A target: its groups as (tile, size, jokers may stand), in alphabetical order.
Target = tuple[tuple[str, int, bool], ...]


def slow_targets(pattern: Pattern, jokers: int = 8, flowers: int = 8) -> set[Target]:
    """Targets of one hand that the tile set can supply."""
    found = set()
    for way in ways(pattern.groups):
        for groups in concrete(way, pattern):
            target = tuple(sorted(groups))
            if can_be_dealt(target, jokers, flowers):
                found.add(target)
    return found


def ways(parts):
    """Each choice of branches, as a list of groups and blocks."""
    if not parts:
        return [[]]
    first, rest = parts[0], ways(parts[1:])
    branches = first.branches if isinstance(first, Either) else [[first]]
    return [[*branch, *tail] for branch in branches for tail in rest]


def concrete(way, pattern: Pattern) -> Iterator[list[tuple[str, int, bool]]]:
    tiles = []
    for part in way:
        tiles += part.tiles if isinstance(part, Block) else [part.tile]
    letters = sorted({x for t in tiles if isinstance(t, NumberTile) for x in t.number.variables})
    zero = ZeroIsWhite() in pattern.where
    lists = [values_of(letter, pattern, zero) for letter in letters]
    choices = [dict(zip(letters, values, strict=True)) for values in product(*lists)]
    choices = [c for c in choices if all(keeps(condition, c) for condition in pattern.where)]
    for suits, winds, dragons in product(
        permutations(DRAGON_OF), permutations(WINDS), permutations(DRAGON_OF.values())
    ):
        names = (
            dict(zip(("one", "other", "third"), suits, strict=True)),
            dict(zip(("one", "other", "third", "last"), winds, strict=True)),
            dict(zip(("one", "other", "third"), dragons, strict=True)),
        )
        if needed(tiles, names):
            for numbers in choices:
                yield from filled(way, numbers, names, zero)


def needed(tiles, names) -> bool:
    """Look at one order only of the words that no tile says."""
    for kinds, which in zip((NumberTile | SuitDragon, WindTile, DragonTile), names, strict=True):
        said = {getattr(t, "suit", getattr(t, "which", "")) for t in tiles if isinstance(t, kinds)}
        free = [value for word, value in which.items() if word not in said]
        if free != sorted(free):
            return False
    return True


def values_of(letter, pattern, zero):
    ranges = [c for c in pattern.where if isinstance(c, Range) and c.variable == letter]
    allowed = [n for n in range(100) if ranges or (0 if zero else 1) <= n <= 9]
    for c in ranges:
        allowed = [n for n in allowed if c.low <= n <= c.high and (n - c.low) % c.step == 0]
        allowed = [n for n in allowed if n not in c.without]
    return allowed


def value(number: Number, numbers: dict[str, int]) -> int | None:
    if any(name not in numbers for name in number.variables):
        return None
    return number.constant + sum(factor * numbers[name] for name, factor in number.terms)


def keeps(condition, numbers) -> bool:
    if isinstance(condition, Parity):
        left = value(condition.left, numbers)
        return left is None or left % 2 == condition.odd
    if not isinstance(condition, Compare):
        return True
    left, rights = value(condition.left, numbers), [value(r, numbers) for r in condition.right]
    if left is None or None in rights:
        return True  # a letter of another branch
    match condition.relation:
        case "is":
            return left in rights
        case "is not":
            return left not in rights
        case "is above":
            return any(left > right for right in rights)
        case "is below":
            return any(left < right for right in rights)
        case "is at least":
            return any(left >= right for right in rights)
        case "is at most":
            return any(left <= right for right in rights)
    raise AssertionError(condition.relation)


def filled(way, numbers, names, zero):
    """The groups of a way; every tile that says any, and every opposite dragon, chosen too."""
    options = []
    opposites = sorted({t.suit for t in tiles_of(way) if isinstance(t, SuitDragon)})
    for turn in product((0, 1), repeat=len(opposites)):
        turned = dict(zip(opposites, turn, strict=True))
        options = []
        for part in way:
            tiles = part.tiles if isinstance(part, Block) else [part.tile]
            options.append(list(product(*(words(t, numbers, names, turned, zero) for t in tiles))))
        for chosen in product(*options):
            groups = []
            for part, tiles in zip(way, chosen, strict=True):
                if isinstance(part, Block):
                    if len(set(tiles)) < len(tiles):
                        break
                    groups += [(tile, 1, False) for tile in tiles]
                else:
                    groups.append((tiles[0], part.size, part.size >= 3 and not part.barred))
            else:
                yield groups


def tiles_of(way):
    for part in way:
        yield from part.tiles if isinstance(part, Block) else [part.tile]


def words(tile, numbers, names, turned, zero) -> list[str]:
    suits, winds, dragons = names
    match tile:
        case NamedTile(kind):
            return [NAMES[kind - 27]]
        case WindTile(which):
            return WINDS if which == "any" else [winds[which]]
        case DragonTile(which):
            return list(DRAGON_OF.values()) if which == "any" else [dragons[which]]
        case SuitDragon(relation, suit):
            suit_word = suits.get(suit, suit)
            others = [d for s, d in DRAGON_OF.items() if s != suit_word]
            if relation == "own":
                return [DRAGON_OF[suit_word]]
            return [others[turned[suit] ^ (relation == "other opposite")]]
        case NumberTile(number, suit):
            n = value(number, numbers)
            if n == 0 and (zero or not number.terms):
                return ["white"]
            if not 1 <= n <= 9:
                return []
            return [f"{n} {s}" for s in (DRAGON_OF if suit == "any" else [suits.get(suit, suit)])]
    raise AssertionError(tile)


def can_be_dealt(target: Target, jokers: int, flowers: int) -> bool:
    """Deal the tiles out, bare groups first; a joker for each tile that has run out."""
    left = Counter({"flower": flowers})
    for tile, size, may_joke in sorted(target, key=lambda group: group[2]):
        for _ in range(size):
            if left.setdefault(tile, 4) > 0:
                left[tile] -= 1
            elif may_joke and jokers > 0:
                jokers -= 1
            else:
                return False
    return True


def compiled_targets(card, hand: int = 0) -> list[Target]:
    """Targets of one hand of a compiled card, in the oracle's form."""
    from handread.tiles import KINDS

    found = []
    for target in (card.hand_of == hand).nonzero()[0]:
        groups = zip(
            card.group_kind[target], card.group_size[target], card.group_joker[target], strict=True
        )
        words = [(KINDS[kind], int(size), bool(joker)) for kind, size, joker in groups if size]
        found.append(tuple(sorted(words)))
    return found


def group(size: int, tile: str, jokers: bool | None = None) -> tuple[str, int, bool]:
    """One group, jokers where the size allows them unless said otherwise."""
    return tile, size, size >= 3 if jokers is None else jokers
