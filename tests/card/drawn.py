"""Hypothesis strategies for cards and their parts."""

from __future__ import annotations

import string

from hypothesis import strategies as st

from handread.card import Card, CardHand, ClubRules, Family
from handread.card.notation import (
    RELATIONS,
    Block,
    Compare,
    DragonTile,
    Either,
    Group,
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

LETTERS = "kmn"
SUITS = st.sampled_from(["bam", "crak", "dot", "one", "other", "third", "any"])


@st.composite
def numbers(draw: st.DrawFn, largest: int = 12) -> Number:
    names = draw(st.lists(st.sampled_from(LETTERS), unique=True, max_size=2))
    factors = st.integers(-3, 3).filter(bool)
    return Number(
        draw(st.integers(-largest, largest)), tuple((name, draw(factors)) for name in sorted(names))
    )


def tile_numbers() -> st.SearchStrategy[Number]:
    plain = st.integers(0, 9).map(Number)
    near = st.builds(
        lambda name, factor, plus: Number(plus if factor > 0 else 10 - plus, ((name, factor),)),
        st.sampled_from(LETTERS), st.sampled_from([1, 1, 1, -1, 2]), st.integers(0, 4),
    )  # fmt: skip
    both = st.just(Number(0, (("m", 1), ("n", 1))))
    return st.one_of(plain, near, near, both)


def tiles() -> st.SearchStrategy:
    return st.one_of(
        st.builds(NumberTile, tile_numbers(), SUITS),
        st.builds(NamedTile, st.integers(27, 34)),
        st.builds(WindTile, st.sampled_from(["one", "other", "third", "last", "any"])),
        st.builds(DragonTile, st.sampled_from(["one", "other", "third", "any"])),
        st.builds(
            SuitDragon,
            st.sampled_from(["own", "opposite", "other opposite"]),
            SUITS.filter(lambda suit: suit != "any"),
        ),
    )


@st.composite
def groups(draw: st.DrawFn, size: int = 0) -> Group:
    size = size or draw(st.integers(1, 6))
    return Group(size, draw(tiles()), size > 2 and draw(st.booleans()))


def blocks() -> st.SearchStrategy[Block]:
    different = st.lists(tiles(), min_size=1, max_size=4, unique=True)
    return different.map(lambda found: Block(tuple(found)))


def branches() -> st.SearchStrategy:
    return st.lists(st.one_of(groups(), blocks()), min_size=1, max_size=2).map(tuple)


def eithers() -> st.SearchStrategy[Either]:
    return st.lists(branches(), min_size=2, max_size=3).map(lambda found: Either(tuple(found)))


def conditions(letters: str = LETTERS) -> st.SearchStrategy:
    said = numbers().filter(lambda number: set(number.variables) <= set(letters))
    small = st.integers(0, 12)
    name = st.sampled_from(letters) if letters else st.nothing()
    return st.one_of(
        st.builds(
            Range, name, small, small, st.integers(1, 3), st.lists(small, max_size=2).map(tuple)
        ),
        st.builds(
            Compare,
            said,
            st.sampled_from(RELATIONS),
            st.lists(said, min_size=1, max_size=3).map(tuple),
        ),
        st.builds(Parity, said, st.booleans()),
        st.just(ZeroIsWhite()),
    )


def letters_on(parts) -> str:
    found: set[str] = set()
    for part in parts:
        for branch in part.branches if isinstance(part, Either) else [[part]]:
            for piece in branch:
                for tile in piece.tiles if isinstance(piece, Block) else [piece.tile]:
                    if isinstance(tile, NumberTile):
                        found.update(tile.number.variables)
    return "".join(sorted(found))


@st.composite
def patterns(draw: st.DrawFn, most: int = 5) -> Pattern:
    parts = draw(
        st.lists(st.one_of(groups(), groups(), blocks(), eithers()), min_size=1, max_size=most)
    )
    letters = letters_on(parts)
    where = draw(st.lists(conditions(letters), max_size=3))
    return Pattern(tuple(parts), tuple(where))


@st.composite
def even_patterns(draw: st.DrawFn) -> Pattern:
    """Hands of four parts at most whose alternatives have the same number of tiles."""
    parts: list[Group | Block | Either] = []
    for _ in range(draw(st.integers(1, 3))):
        size = draw(st.integers(1, 5))
        group = groups(size)
        pair = st.tuples(group, group).map(lambda two: Either(((two[0],), (two[1],))))
        parts.append(draw(st.one_of(group, group, pair)))
    if draw(st.booleans()):
        parts.append(draw(blocks().filter(lambda block: len(block.tiles) < 4)))
    letters = letters_on(parts)
    return Pattern(tuple(parts), tuple(draw(st.lists(conditions(letters), max_size=2))))


NAMES = st.text(string.ascii_letters + "äé'\"\\ []#=", min_size=1, max_size=20).map(
    lambda text: " ".join(text.split())
).filter(bool)  # fmt: skip


@st.composite
def cards(draw: st.DrawFn) -> Card:
    family_names = draw(st.lists(NAMES, min_size=1, max_size=3, unique=True))
    hand_names = iter(draw(st.lists(NAMES, min_size=6, max_size=6, unique=True)))
    notes = st.one_of(st.just(""), NAMES)
    families = []
    for name in family_names:
        hands = tuple(
            CardHand(
                next(hand_names), draw(patterns(3)), draw(st.booleans()),
                draw(st.integers(0, 500)), draw(notes),
            )
            for _ in range(draw(st.integers(1, 2)))
        )  # fmt: skip
        families.append(Family(name, hands, draw(notes)))
    sizes = st.lists(st.integers(2, 6), min_size=1, max_size=5, unique=True)
    rules = ClubRules(
        draw(st.integers(0, 12)), draw(st.integers(0, 12)), draw(st.integers(2, 20)),
        tuple(sorted(draw(sizes))),
    )  # fmt: skip
    return Card(draw(NAMES), tuple(families), rules, draw(notes))
