"""What each rule of thumb is worth: its strength as said and as fitted, and the bits it made.

``known`` lists the rules with what the simulated players owe to constants, ``parts`` takes
readings apart so that each rule has a path share of its own and can be left out, ``tables`` makes
the tables.
"""

from handread.study.rules.known import RULES
from handread.study.rules.parts import PARTS, by_rule, minding, part_names, without_part
from handread.study.rules.rule import ORIGINS, Rule, verdict
from handread.study.rules.tables import (
    bits_by_part,
    gains_of_parts,
    spreads_of,
    strength_table,
    words_of,
)

__all__ = [
    "ORIGINS", "PARTS", "RULES", "Rule", "bits_by_part", "by_rule", "gains_of_parts", "minding",
    "part_names", "spreads_of", "strength_table", "verdict", "without_part", "words_of",
]  # fmt: skip
