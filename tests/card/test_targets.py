"""Targets of a hand against slow enumeration."""

from __future__ import annotations

from itertools import permutations, product

import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from handread.card import (
    Card,
    CardError,
    CardHand,
    ClubRules,
    Family,
    compile_card,
    parse_card,
    parse_hand,
)
from tests.card.drawn import even_patterns
from tests.card.slow import Target, compiled_targets, group, slow_targets

SUITS = ("bam", "crak", "dot")
WINDS = ("east", "south", "west", "north")
DRAGONS = {"bam": "green", "crak": "red", "dot": "white"}


def one_hand(pattern, rules=None, name="hand") -> Card:
    return Card("card", (Family("family", (CardHand(name, pattern),)),), rules or ClubRules())


@settings(max_examples=60)
@given(even_patterns(), st.integers(0, 10))
def test_random_hands_equal_slow_enumeration(pattern, jokers):
    sizes = {sum(part.size for part in way.groups) for way in pattern.ways()}
    assert len(sizes) == 1
    assume(2 <= max(sizes) <= 20)
    expected = slow_targets(pattern, jokers)
    card = one_hand(pattern, ClubRules(jokers=jokers, hand_size=max(sizes)))
    if not expected:
        with pytest.raises(CardError, match=r"no choice of its numbers|no hand has a target"):
            compile_card(card)
        return
    found = compiled_targets(compile_card(card))
    assert len(found) == len(set(found))
    assert set(found) == expected


# A card that uses every structural feature. Each hand stands beside its targets, found by
# loops written for that hand alone.


def target(*groups: tuple[str, int, bool]) -> Target:
    return tuple(sorted(groups))


def tile(number: int, suit: str) -> str:
    return "white" if number == 0 else f"{number} {suit}"


def run_in_three_suits():
    for (a, b, c), n in product(permutations(SUITS), range(1, 6)):
        yield target(
            group(1, tile(n, a)), group(2, tile(n + 1, b)), group(3, tile(n + 2, c)),
            group(4, tile(n + 3, b)), group(4, tile(n + 4, a)),
        )  # fmt: skip


def steps_of_three():
    for a, n in product(SUITS, (1, 2, 3)):
        yield target(group(5, tile(n, a)), group(4, tile(n + 3, a)), group(5, tile(n + 6, a)))


def one_number_and_own_dragons():
    for a, n in product(SUITS, range(1, 10)):  # the first two suits are alike
        b, c = (suit for suit in SUITS if suit != a)
        yield target(
            group(4, tile(n, b)), group(4, tile(n, c)), group(2, tile(n, a)),
            group(4, DRAGONS[a]),
        )  # fmt: skip


def opposite_dragons():
    for a, n in product(SUITS, (2, 4, 6, 8)):
        for first, second in permutations([d for s, d in DRAGONS.items() if s != a]):
            yield target(
                group(4, tile(n, a)), group(4, first), group(3, second), group(3, DRAGONS[a])
            )


def any_wind_and_dragon():
    for wind, dragon in product(WINDS, DRAGONS.values()):
        yield target(group(4, wind), group(4, dragon), group(6, "flower"))


def winds_apart():
    for a, b, c, d in permutations(WINDS):
        yield target(group(5, a), group(4, b), group(3, c), group(2, d))


def dragons_apart():
    for a, b, c in permutations(DRAGONS.values()):
        yield target(group(6, a), group(5, b), group(3, c))


def white_beside_any_suit():
    for (a, b), n in product(permutations(SUITS, 2), range(4)):
        for m in {n, 2 * n}:
            if (a, n) != (b, m):
                yield target(
                    group(4, tile(n, a)), group(4, tile(n + 1, a)), group(3, tile(m, b)),
                    group(3, "white"),
                )  # fmt: skip


def blocks_of_different_tiles():
    for a, n, m in product(SUITS, range(1, 9), range(1, 10)):
        if m not in (n, n + 1):
            for wind in WINDS[1:]:
                yield target(
                    group(1, tile(n, a)), group(1, tile(n + 1, a)), group(1, tile(m, a)),
                    group(1, "east"), group(1, wind), group(4, tile(m, a)), group(5, "flower"),
                )  # fmt: skip


def ranges_and_relations():
    for (a, b), n, m in product(permutations(SUITS, 2), range(1, 10), range(1, 10)):
        if n in (1, 3, 7, 9) and n + m in (9, 10, 11) and m > n and m % 2 == 0:
            yield target(
                group(4, tile(n, a)), group(4, tile(10 - n, b)), group(3, tile(m, a)),
                group(3, tile(m - n, b)),
            )  # fmt: skip


def alternatives():
    for a, n in product(SUITS, range(1, 10)):
        for b in SUITS:
            if b != a:
                yield target(group(6, "flower"), group(4, tile(n, a)), group(4, tile(n, b)))
        yield target(group(6, "flower"), group(4, tile(n, a)), group(2, "red"), group(2, "north"))
        if n <= 7:
            yield target(
                group(6, "flower"), group(4, tile(n, a)), group(1, tile(n + 1, a)),
                group(1, tile(n + 2, a)), group(2, "red"),
            )  # fmt: skip


def barred_groups():
    for a, n in product(SUITS, range(1, 10)):
        for x in range(1, 10):
            if x != n:
                yield target(
                    group(4, tile(n, a), False), group(5, "flower", False), group(5, tile(x, a))
                )
        # x the same number: four of the nine are barred, so the other five are all jokers
        yield target(group(4, tile(n, a), False), group(5, "flower", False), group(5, tile(n, a)))


def named_tiles():
    yield target(group(4, "2 bam"), group(4, "9 dot"), group(3, "green"), group(3, "south"))


def free_suits():
    for a, b in product(SUITS, SUITS):
        yield target(group(6, tile(3, a)), group(6, tile(7, b)), group(2, "white"))


STRESS = {
    "single n one suit, pair n+1 other suit, pung n+2 third suit, kong n+3 other suit, "
    "kong n+4 one suit": run_in_three_suits,
    "quint n one suit, kong n+3 one suit, quint n+6 one suit": steps_of_three,
    "kong n one suit, kong n other suit, pair n third suit, kong dragon of third suit":
        one_number_and_own_dragons,
    "kong n one suit, kong opposite dragon of one suit, pung other opposite dragon of one suit, "
    "pung own dragon of one suit where n is even": opposite_dragons,
    "kong any wind, kong any dragon, sextet flowers": any_wind_and_dragon,
    "quint one wind, kong other wind, pung third wind, pair last wind": winds_apart,
    "sextet one dragon, quint other dragon, pung third dragon": dragons_apart,
    "kong n one suit, kong n+1 one suit, pung m other suit, pung 0 one suit "
    "where n from 0 to 3, m is n or 2 times n, 0 is white": white_beside_any_suit,
    "block of (n, n+1, m one suit, east, one wind), kong m one suit, quint flowers":
        blocks_of_different_tiles,
    "kong n one suit, kong 10-n other suit, pung m one suit, pung m-n other suit where "
    "n from 1 to 9 by 2 but not 5, n+m is 9 or 10 or 11, m is above n, m is even":
        ranges_and_relations,
    "sextet flowers, kong n one suit, either kong n other suit or (pair red, pair north) or "
    "(block of (n+1, n+2 in one suit), pair red)": alternatives,
    "kong n one suit without jokers, quint flowers without jokers, quint x one suit":
        barred_groups,
    "kong 2 bam, kong 9 dot, pung green, pung south": named_tiles,
    "sextet 3 any suit, sextet 7 any suit, pair white": free_suits,
}  # fmt: skip


def stress_card() -> Card:
    lines = ['name = "Stress card"', "[rules]", "jokers = 10", "flowers = 8", "hand_size = 14"]
    lines += ['claimable = ["kong", "quint"]', "[[family]]", 'name = "All"']
    for number, words in enumerate(STRESS):
        lines += ["[[family.hand]]", f'name = "hand {number}"', f'tiles = "{words}"']
        lines += [f"concealed = {'true' if number % 2 else 'false'}", f"points = {number}"]
    return parse_card("\n".join(lines))


@pytest.mark.parametrize("number", range(len(STRESS)))
def test_stress_hands_equal_loops_written_for_them(number):
    card = stress_card()
    hand = card.families[0].hands[number]
    expected = set(list(STRESS.values())[number]())
    found = compiled_targets(compile_card(one_hand(hand.pattern, card.rules)))
    assert len(found) == len(expected)
    assert set(found) == expected


def test_stress_card_as_a_whole():
    card = compile_card(stress_card())
    seen: set[tuple[bool, Target]] = set()
    for number, loops in enumerate(STRESS.values()):
        new = {(bool(number % 2), found) for found in loops()} - seen
        assert {(bool(number % 2), t) for t in compiled_targets(card, number)} == new
        seen |= new
    assert card.n_targets == len(seen)
    assert [hand.points for hand in card.hands] == list(range(len(STRESS)))
    assert card.rules.claimable == (4, 5)
    assert int(card.rules.copies[35]) == 10
    assert (card.demand.sum(axis=1) == 14).all()
    sizes = card.group_size.astype(int)
    assert (sizes.sum(axis=1) == 14).all()
    assert ((card.group_kind == -1) == (sizes == 0)).all()
    assert not card.group_joker[sizes < 3].any()


@pytest.mark.parametrize("size", range(1, 7))
def test_flower_groups_of_every_size(size):
    rest = {1: "pung 1 bam, quint 2 bam, quint 3 bam", 2: "kong 1 bam, kong 2 bam, kong 3 bam"}
    rest |= {3: "pung 1 bam, kong 2 bam, kong 3 bam", 4: "quint 1 bam, quint 2 bam"}
    rest |= {5: "kong 1 bam, quint 2 bam", 6: "kong 1 bam, kong 2 bam"}
    name = ("single", "pair", "pung", "kong", "quint", "sextet")[size - 1]
    card = compile_card(one_hand(parse_hand(f"{name} of flowers, {rest[size]}")))
    assert card.demand[0, 34] == size
    assert card.group_joker[0, 0] == (size >= 3)


@pytest.mark.parametrize(
    ("where", "numbers"),
    [
        ("n from 2 to 7", "234567"),
        ("n from 1 to 9 by 3", "147"),
        ("n from 2 to 9 by 2 but not 4 or 6", "28"),
        ("n from 1 to 6, n from 4 to 9", "456"),
        ("n from 0 to 40 by 5", "5"),
        ("n is 2 or 4 or 40", "24"),
        ("n is not 5", "12346789"),
        ("n is not 1 or 3 or 5", "246789"),
        ("n is above 6", "789"),
        ("n is below 3", "12"),
        ("n is at least 7", "789"),
        ("n is at most 2", "12"),
        ("n is above 8 or 5", "6789"),
        ("n is below 2 or 4", "123"),
        ("n is odd", "13579"),
        ("n + 1 is odd", "2468"),
        ("n is even, n is not 4", "268"),
        ("2 times n is n + 3", "3"),
        ("10 - n is below n", "6789"),
        ("3 times n is at most 10 + n", "12345"),
        ("0 is white", "0123456789"),
        ("0 is white, n from 0 to 1", "01"),
        ("n from 0 to 1", "1"),
    ],
)
def test_conditions_leave_the_numbers_that_they_say(where, numbers):
    hand = parse_hand(f"kong n bam, sextet flower, kong red where {where}")
    found = {dict((size, name) for name, size, _ in t if name != "red").get(4)
             for t in compiled_targets(compile_card(one_hand(hand)))}  # fmt: skip
    assert found == {tile(int(number), "bam") for number in numbers}
