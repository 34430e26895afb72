"""A card file to start from."""

from __future__ import annotations

from typing import Final

_TEMPLATE: Final = '''\
# A card. Lines that begin with # are remarks; change or delete them at will.
# Check the file as often as you want with:  handread card THIS_FILE

name = "Card of our club"

[rules]
jokers = 8
flowers = 8
hand_size = 14
claimable = ["pung", "kong", "quint", "sextet"]

# A family is a heading, and its hands follow it. Write [[family]] again for
# the next one.

[[family]]
name = "First family"

# A hand is a name and its groups, separated by commas. A group is a size and
# a tile:
#   sizes    single, pair, pung, kong, quint, sextet
#   tiles    5 bam      3 crak      east      red      white      flower

[[family.hand]]
name = "Plain hand"
tiles = "pair of east, kong of 2 bam, kong of 3 crak, kong of red"
points = 25

# When the player chooses the number, write a letter: n, n + 1, n + 2, 10 - n.
# When the player chooses the suit, write: in one suit, in the other suit, in
# the third suit. Those are always different suits, and n is the same number
# throughout the hand.

[[family.hand]]
name = "Chosen numbers"
tiles = """
pair of flower, kong of n in one suit, kong of n + 1 in one suit,
kong of n in the other suit"""
points = 25

# Other tiles that the player chooses:
#   one wind, the other wind, the third wind, the last wind
#   one dragon, the other dragon, the third dragon
#                           (always different winds, always different dragons)
#   any wind, any dragon, 5 in any suit
#                           (each one chosen freely)
#   the dragon of one suit                  the dragon that matches the suit
#   the opposite dragon of one suit         one that does not match it
#   the other opposite dragon of one suit   the second that does not
# White is zero, beside any suit: 0 in one suit.

[[family.hand]]
name = "Matching dragons"
tiles = """
kong of n in one suit, pung of the dragon of one suit,
kong of n in the other suit, pung of the dragon of the other suit"""
points = 30

# Conditions on the numbers come after where:
#   n from 1 to 7       n from 2 to 8 by 2      n from 1 to 9 but not 5 or 6
#   n is odd            n is 2 or 4 or 8        n is not 5
#   m is above n        m is n + 3              m is at most 10 - n
#   0 is white          a number that comes to 0 is the white dragon

[[family.hand]]
name = "Numbers that make ten"
tiles = """
quint of n in one suit, kong of 10 - n in one suit,
quint of n in the other suit where n is not 5"""
points = 40

# Different tiles side by side are a block; no joker may stand there. The words
# all winds and all dragons are short for the whole set.
# A hand that may not be exposed:    concealed = true
# A hand that takes no jokers:       jokers = false
# A group that takes no jokers:      sextet of flower without jokers

[[family]]
name = "Second family"

[[family.hand]]
name = "Blocks and pairs"
tiles = """
block of (all winds), block of (n, n + 1, n + 2 in one suit, red),
pair of n in the other suit, pair of n + 1 in the other suit,
pair of n + 2 in the other suit"""
concealed = true
points = 50

# Two ways to build one part of a hand: either ... or ...; brackets when a way
# has several groups.

[[family.hand]]
name = "Two ways"
tiles = """
sextet of flower, kong of n in one suit,
either kong of n + 1 in one suit or (pair of east, pair of west)"""
points = 30
'''


def card_template() -> str:
    """A commented card file to start from; it can be compiled as it is.

    >>> from handread.card import compile_card, parse_card
    >>> len(compile_card(parse_card(card_template())).hands)
    6
    """
    return _TEMPLATE
